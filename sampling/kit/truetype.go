package kit

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"
)

// checkTrueType looks at what the writer of PDFs takes for granted of a font:
// it trusts every offset, and prints where it should fail.
func checkTrueType(data []byte) error {
	if len(data) < 12 {
		return errors.New("it is too short")
	}
	switch kind := binary.BigEndian.Uint32(data); kind {
	case 0x00010000, 0x74727565:
	case 0x4F54544F:
		return errors.New("it is an OpenType font with PostScript outlines")
	case 0x74746366:
		return errors.New("it is a collection of fonts")
	default:
		return errors.New("it is not a TrueType font")
	}
	tables := map[string][]byte{}
	n := int(binary.BigEndian.Uint16(data[4:]))
	if len(data) < 12+16*n {
		return errors.New("its list of tables is cut off")
	}
	for i := range n {
		entry := data[12+16*i:]
		from, size := uint64(binary.BigEndian.Uint32(entry[8:])), uint64(binary.BigEndian.Uint32(entry[12:]))
		name := string(entry[:4])
		if from+size > uint64(len(data)) {
			return fmt.Errorf("its table %q reaches beyond its end", name)
		}
		tables[name] = data[from : from+size]
	}
	for _, t := range []struct {
		name  string
		least int
	}{{"head", 54}, {"hhea", 36}, {"hmtx", 4}, {"maxp", 6}, {"name", 6}, {"post", 32}, {"cmap", 4}, {"loca", 4}, {"glyf", 1}} {
		if len(tables[t.name]) < t.least {
			return fmt.Errorf("it has no whole table %q", t.name)
		}
	}
	if binary.BigEndian.Uint16(tables["name"]) != 0 {
		return errors.New("its table of names is of a new kind")
	}
	if binary.BigEndian.Uint16(tables["head"][52:]) != 0 || binary.BigEndian.Uint16(tables["head"][50:]) > 1 {
		return errors.New("its outlines are of an unknown kind")
	}
	glyphs, metrics := int(binary.BigEndian.Uint16(tables["maxp"][4:])), int(binary.BigEndian.Uint16(tables["hhea"][34:]))
	if binary.BigEndian.Uint16(tables["hhea"][32:]) != 0 || metrics < 1 || metrics > glyphs || len(tables["hmtx"]) < 4*metrics+2*(glyphs-metrics) {
		return errors.New("its widths are cut off")
	}
	if offset := 2 << binary.BigEndian.Uint16(tables["head"][50:]); len(tables["loca"]) < offset*(glyphs+1) {
		return errors.New("its list of outlines is cut off")
	}
	if os2 := tables["OS/2"]; os2 != nil {
		if len(os2) < 78 {
			return errors.New(`it has no whole table "OS/2"`)
		}
		if kind := binary.BigEndian.Uint16(os2[8:]); kind == 2 || kind&0x300 != 0 {
			return errors.New("its maker does not let it be embedded")
		}
	}
	return checkCharacters(tables["cmap"])
}

// checkCharacters looks for the table of characters that the writer of PDFs
// takes, of format 4.
func checkCharacters(cmap []byte) error {
	n := int(binary.BigEndian.Uint16(cmap[2:]))
	if len(cmap) < 4+8*n {
		return errors.New("its table of characters is cut off")
	}
	for i := range n {
		entry := cmap[4+8*i:]
		platform, encoding, at := binary.BigEndian.Uint16(entry), binary.BigEndian.Uint16(entry[2:]), uint64(binary.BigEndian.Uint32(entry[4:]))
		if at+16 > uint64(len(cmap)) {
			return errors.New("its table of characters is cut off")
		}
		if (platform == 3 && encoding == 1 || platform == 0) && binary.BigEndian.Uint16(cmap[at:]) == 4 {
			return nil
		}
	}
	return errors.New("it has no table of Unicode characters of format 4")
}

// tried makes a page with the font, so that one that is broken inside is known
// before it spoils a document.
func (f *face) tried() (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = errors.New("it is broken inside")
		}
	}()
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.AddUTF8FontFromBytes(f.family, "", f.data)
	pdf.AddPage()
	pdf.SetFont(f.family, "", 10)
	for r, a := range f.advances {
		if a >= 0 {
			pdf.Text(10, 10, string(r))
		}
	}
	return pdf.Output(io.Discard)
}
