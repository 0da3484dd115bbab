package lab

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// limits keep a damaged or hostile file from taking the machine's memory.
type limits struct {
	bytes, rows, columns, cells int
}

// A lab file has some dozen columns and some thousand rows; these leave ample
// room and still bound the table to well under a gigabyte.
var defaultLimits = limits{bytes: 256 << 20, rows: 1_000_000, columns: 10_000, cells: 20_000_000}

// readText reads all of r, at most max bytes, as text and names the encoding.
func readText(r io.Reader, max int) (text, encoding string, err error) {
	var b bytes.Buffer // grows faster than io.ReadAll does
	if _, err := b.ReadFrom(io.LimitReader(r, int64(max)+1)); err != nil {
		return "", "", err
	}
	raw := b.Bytes()
	if len(raw) > max {
		return "", "", fmt.Errorf("is larger than %d bytes: this is no lab file, or it should be split", max)
	}
	if what := notText(raw); what != "" {
		return "", "", fmt.Errorf("is %s: save it as CSV", what)
	}
	text, encoding, err = decode(raw)
	if err != nil {
		return "", "", err
	}
	if strings.IndexByte(text, 0) >= 0 {
		return "", "", errors.New("holds NUL bytes: it is no text file, or UTF-16 without its byte order mark; save it as CSV in UTF-8")
	}
	if strings.TrimSpace(text) == "" {
		return "", "", errors.New("is empty")
	}
	return text, encoding, nil
}

// notText names the kind of a file that is often sent in place of a CSV.
func notText(raw []byte) string {
	switch {
	case bytes.HasPrefix(raw, []byte("PK\x03\x04")):
		return "a zip file or a spreadsheet (xlsx)"
	case bytes.HasPrefix(raw, []byte{0xD0, 0xCF, 0x11, 0xE0}):
		return "an old spreadsheet (xls)"
	case bytes.HasPrefix(raw, []byte("%PDF-")):
		return "a PDF"
	}
	return ""
}

func decode(raw []byte) (text, encoding string, err error) {
	utf16 := func(e unicode.Endianness, name string) (string, string, error) {
		if len(raw)%2 != 0 {
			return "", "", fmt.Errorf("ends in the middle of a character (%s): it was cut short", name)
		}
		out, err := unicode.UTF16(e, unicode.ExpectBOM).NewDecoder().Bytes(raw)
		return string(out), name, err
	}
	switch {
	case bytes.HasPrefix(raw, []byte{0xEF, 0xBB, 0xBF}) && utf8.Valid(raw[3:]):
		return string(raw[3:]), "utf-8", nil
	case bytes.HasPrefix(raw, []byte{0xFF, 0xFE}):
		return utf16(unicode.LittleEndian, "utf-16le")
	case bytes.HasPrefix(raw, []byte{0xFE, 0xFF}):
		return utf16(unicode.BigEndian, "utf-16be")
	case utf8.Valid(raw):
		return string(raw), "utf-8", nil
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(bytes.TrimPrefix(raw, []byte{0xEF, 0xBB, 0xBF}))
	return string(out), "windows-1252", err
}
