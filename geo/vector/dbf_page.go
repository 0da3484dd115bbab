package vector

import (
	"fmt"
	"iter"
	"regexp"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/encoding/japanese"
	"golang.org/x/text/encoding/korean"
	"golang.org/x/text/encoding/simplifiedchinese"
	"golang.org/x/text/encoding/traditionalchinese"
)

// codePage finds how the texts of a table are written: as given, by the .cpg
// file, by the language driver number in the table's header, as UTF-8 when they
// are valid UTF-8, else as Windows-1252. note tells of a guess.
func codePage(given, page string, driver byte, texts iter.Seq[[]byte]) (dec func([]byte) string, note string, err error) {
	page = strings.TrimSpace(strings.TrimPrefix(page, "\ufeff"))
	valid, ascii, whole := scanTexts(texts)
	if given != "" {
		enc, utf, ok := namedPage(given)
		switch {
		case !ok:
			return nil, "", fmt.Errorf("encoding %q is not known; one that is, is windows-1252", given)
		case utf && !valid:
			return nil, "", fmt.Errorf("the texts are not in %s", given)
		}
		return decoderOf(enc), "", nil
	}
	if page != "" {
		enc, utf, ok := namedPage(page)
		switch {
		case ok && !utf:
			return decoderOf(enc), "", nil
		case ok && valid:
			return decoderOf(nil), "", nil
		case ok:
			note = "the .cpg file says UTF-8 but the texts are not; read as Windows-1252"
			return decoderOf(charmap.Windows1252), note, nil
		case !ascii:
			note = fmt.Sprintf("the .cpg file names a code page %q that is not known; ", excerpt([]byte(page)))
		}
	}
	if enc := drivenPage(driver); enc != nil {
		if note != "" {
			note += "used the one of the table's header"
		}
		return decoderOf(enc), note, nil
	}
	if valid && (ascii || whole) {
		if note != "" {
			note += "read as UTF-8"
		}
		return decoderOf(nil), note, nil
	}
	if note == "" {
		note = "the code page is not stated; "
	}
	return decoderOf(charmap.Windows1252), note + "read as Windows-1252", nil
}

// scanTexts reports whether all texts are valid UTF-8, a character cut off by
// the end of its column let pass; whether all are plain ASCII; and whether a
// whole character beyond ASCII was seen.
func scanTexts(texts iter.Seq[[]byte]) (valid, ascii, whole bool) {
	valid, ascii = true, true
	for b := range texts {
		if isASCII(b) {
			continue
		}
		ascii = false
		b = trimRune(b)
		valid = valid && utf8.Valid(b)
		whole = whole || !isASCII(b)
	}
	return valid, ascii, whole
}

// trimRune drops the beginning of a UTF-8 character from the end of b.
func trimRune(b []byte) []byte {
	for i := len(b) - 1; i >= 0 && i >= len(b)-3; i-- {
		if utf8.RuneStart(b[i]) {
			if !utf8.FullRune(b[i:]) {
				return b[:i]
			}
			break
		}
	}
	return b
}

func isASCII(b []byte) bool {
	for _, c := range b {
		if c >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// decoderOf decodes with enc, or UTF-8 where enc is nil.
func decoderOf(enc encoding.Encoding) func([]byte) string {
	return func(b []byte) string {
		if enc == nil {
			return strings.ToValidUTF8(string(trimRune(b)), "\ufffd")
		}
		out, err := enc.NewDecoder().Bytes(b)
		if err != nil {
			return strings.ToValidUTF8(string(b), "\ufffd")
		}
		return string(out)
	}
}

var pageNumber = regexp.MustCompile(`(?i)^(?:ansi|oem|cp|windows|ms|ibm)?[ _-]*([0-9]{3,5})$`)

var latinNumber = regexp.MustCompile(`(?i)^iso[ _-]*8859[ _-]*([0-9]{1,2})$`)

// namedPage finds a code page by the names that .cpg files use. utf is true for
// UTF-8, which has no encoding.
func namedPage(name string) (enc encoding.Encoding, utf, ok bool) {
	name = strings.TrimSpace(name)
	if m := latinNumber.FindStringSubmatch(name); m != nil {
		name = "iso-8859-" + m[1]
	} else if m := pageNumber.FindStringSubmatch(name); m != nil {
		switch n := m[1]; {
		case n == "65001":
			return nil, true, true
		case strings.HasPrefix(n, "8859") && len(n) == 5:
			name = "iso-8859-" + n[4:]
		default:
			enc := numberedPage(n)
			return enc, false, enc != nil
		}
	}
	if strings.EqualFold(strings.ReplaceAll(name, "-", ""), "utf8") {
		return nil, true, true
	}
	enc, err := htmlindex.Get(name)
	return enc, false, err == nil
}

func numberedPage(n string) encoding.Encoding {
	switch n {
	case "437":
		return charmap.CodePage437
	case "850":
		return charmap.CodePage850
	case "852":
		return charmap.CodePage852
	case "855":
		return charmap.CodePage855
	case "858":
		return charmap.CodePage858
	case "860":
		return charmap.CodePage860
	case "862":
		return charmap.CodePage862
	case "863":
		return charmap.CodePage863
	case "865":
		return charmap.CodePage865
	case "866":
		return charmap.CodePage866
	case "874":
		return charmap.Windows874
	case "932":
		return japanese.ShiftJIS
	case "936":
		return simplifiedchinese.GBK
	case "949":
		return korean.EUCKR
	case "950":
		return traditionalchinese.Big5
	case "1250":
		return charmap.Windows1250
	case "1251":
		return charmap.Windows1251
	case "1252":
		return charmap.Windows1252
	case "1253":
		return charmap.Windows1253
	case "1254":
		return charmap.Windows1254
	case "1255":
		return charmap.Windows1255
	case "1256":
		return charmap.Windows1256
	case "1257":
		return charmap.Windows1257
	case "1258":
		return charmap.Windows1258
	}
	return nil
}

// drivenPage finds a code page by the language driver number, byte 29 of the
// header. The list is from memory of the one in common use; a reference test
// holds each number against what GDAL 3.6 makes of it. 0x57 is "as the
// machine's", which meant 1252.
func drivenPage(driver byte) encoding.Encoding {
	page := map[byte]string{
		0x01: "437", 0x02: "850", 0x03: "1252", 0x57: "1252", 0x58: "1252", 0x59: "1252",
		0x08: "865", 0x09: "437", 0x0a: "850", 0x0b: "437", 0x0d: "437", 0x0e: "850",
		0x0f: "437", 0x10: "850", 0x11: "437", 0x12: "850", 0x13: "932", 0x14: "850",
		0x15: "437", 0x16: "850", 0x17: "865", 0x18: "437", 0x19: "437", 0x1a: "850",
		0x1b: "437", 0x1c: "863", 0x1d: "850", 0x1f: "852", 0x22: "852", 0x23: "852", 0x24: "860",
		0x25: "850", 0x26: "866", 0x37: "850", 0x40: "852", 0x4d: "936", 0x4e: "949",
		0x4f: "950", 0x50: "874", 0x64: "852", 0x65: "866", 0x66: "865", 0x6c: "863", 0x78: "950",
		0x79: "949", 0x7a: "936", 0x7b: "932", 0x7c: "874", 0x87: "852",
		0xc8: "1250", 0xc9: "1251", 0xca: "1254", 0xcb: "1253", 0xcc: "1257",
	}[driver]
	return numberedPage(page)
}
