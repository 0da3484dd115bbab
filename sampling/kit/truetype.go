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
	if err := checkOutlines(tables["glyf"], tables["loca"], glyphs, binary.BigEndian.Uint16(tables["head"][50:]) == 1); err != nil {
		return err
	}
	return checkCharacters(tables["cmap"])
}

// mostParts is how many outlines a character may be put together from, those
// that these are made of counted as well; a few are usual.
const mostParts = 1000

// checkOutlines follows characters that are made of others: in a circle, the
// writer of PDFs would never come to an end.
func checkOutlines(glyf, loca []byte, glyphs int, long bool) error {
	place := func(i int) int {
		if long {
			return int(binary.BigEndian.Uint32(loca[4*i:]))
		}
		return 2 * int(binary.BigEndian.Uint16(loca[2*i:]))
	}
	parts := make([][]int, glyphs)
	for i := range glyphs {
		from, to := place(i), place(i+1)
		if from > to || to > len(glyf) {
			return errors.New("its list of outlines leads astray")
		}
		var ok bool
		if parts[i], ok = components(glyf[from:to]); !ok {
			return fmt.Errorf("its outline %d is cut off", i)
		}
	}
	const open = -1
	count := make([]int, glyphs) // of a whole outline; 0: not yet looked at
	var follow func(i, depth int) error
	follow = func(i, depth int) error {
		if i >= glyphs || count[i] == open || depth > 32 {
			return fmt.Errorf("its outline %d is put together from itself or from nothing", i)
		}
		if count[i] > 0 {
			return nil
		}
		count[i] = open
		sum := 1
		for _, k := range parts[i] {
			if err := follow(k, depth+1); err != nil {
				return err
			}
			if sum += count[k]; sum > mostParts {
				return fmt.Errorf("its outline %d has more than %d parts", i, mostParts)
			}
		}
		count[i] = sum
		return nil
	}
	for i := range glyphs {
		if err := follow(i, 0); err != nil {
			return err
		}
	}
	return nil
}

// components returns the outlines that one is put together from, and false
// where the list is cut off.
func components(outline []byte) ([]int, bool) {
	if len(outline) == 0 {
		return nil, true
	}
	if len(outline) < 10 {
		return nil, false
	}
	if int16(binary.BigEndian.Uint16(outline)) >= 0 {
		return nil, true
	}
	var out []int
	for at := 10; ; {
		if at+4 > len(outline) {
			return nil, false
		}
		flags := binary.BigEndian.Uint16(outline[at:])
		out = append(out, int(binary.BigEndian.Uint16(outline[at+2:])))
		at += 6
		if flags&0x01 != 0 { // places in words
			at += 2
		}
		switch {
		case flags&0x08 != 0: // one scale
			at += 2
		case flags&0x40 != 0: // one each way
			at += 4
		case flags&0x80 != 0: // a matrix
			at += 8
		}
		if flags&0x20 == 0 { // no more of them
			return out, at <= len(outline)
		}
	}
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
			return checkSegments(cmap[at:])
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

// checkSegments sees to it that the segments of a table of format 4 follow each
// other, so that no more characters come out of it than there are.
func checkSegments(table []byte) error {
	n := int(binary.BigEndian.Uint16(table[6:])) / 2
	if len(table) < 16+8*n {
		return errors.New("its table of characters is cut off")
	}
	last := -1
	for i := range n {
		end, start := int(binary.BigEndian.Uint16(table[14+2*i:])), int(binary.BigEndian.Uint16(table[16+2*n+2*i:]))
		if start <= last || end < start {
			return errors.New("its table of characters is out of order")
		}
		last = end
	}
	return nil
}
