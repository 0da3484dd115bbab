package lab

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Format is how a table was written.
type Format string

// The formats.
const (
	FormatText     Format = "delimited text"
	FormatWorkbook Format = "xlsx"
	FormatModus    Format = "modus 1"
)

// Options say what a file can't, or says wrongly. The zero value leaves all to
// the file.
type Options struct {
	// Sheet names the sheet of a workbook, or gives its number from 1. "" is the
	// first that isn't hidden.
	Sheet string
	// Map says what columns hold, by the name or the header of the column
	// without regard to case, else by its letter. It goes before what the header
	// suggests. In a long table the columns are those of the file; RoleName and
	// RoleValue make a table long.
	Map map[string]Mapping
}

// Read reads a file of one of the kinds known here and tells the kind by its
// content: an .xlsx workbook, a Modus 1 result in XML, or delimited text (see
// ReadTable). Name stands for the file in messages. An error says what makes the
// file unreadable as a whole, or which of the options doesn't fit it.
func Read(r io.Reader, name string, o Options) (*Table, error) {
	t, err := read(r, name, o, defaultLimits)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return t, nil
}

func read(r io.Reader, name string, o Options, lim limits) (*Table, error) {
	raw, err := io.ReadAll(io.LimitReader(r, int64(lim.bytes)+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > lim.bytes {
		return nil, fmt.Errorf("is larger than %d bytes: this is no lab file, or it should be split", lim.bytes)
	}
	switch {
	case bytes.HasPrefix(raw, []byte("PK\x03\x04")):
		return readWorkbook(raw, name, o, lim)
	case bytes.HasPrefix(raw, []byte{0xD0, 0xCF, 0x11, 0xE0}):
		// An encrypted .xlsx is wrapped in a file of this kind, in which this
		// stream's name stands in UTF-16.
		if bytes.Contains(raw, []byte("E\x00n\x00c\x00r\x00y\x00p\x00t\x00e\x00d\x00P\x00a\x00c\x00k\x00a\x00g\x00e\x00")) {
			return nil, errors.New("is protected by a password: save it without one")
		}
		return nil, errors.New("is an old spreadsheet (xls): save it as .xlsx or CSV")
	}
	text, encoding, err := readText(bytes.NewReader(raw), lim.bytes)
	if err != nil {
		return nil, err
	}
	switch root := xmlRoot(text); strings.ToLower(root) {
	case "":
	case "modusresult":
		return readModus(text, encoding, name, o, lim)
	case "modussubmit":
		return nil, errors.New("is a Modus order to a lab, which has no results")
	case "html":
		return nil, errors.New("is a web page (HTML), whatever its name: save it as .xlsx or CSV")
	case "workbook":
		return nil, errors.New("is an XML spreadsheet of an old kind: save it as .xlsx or CSV")
	default:
		return nil, fmt.Errorf("is XML with the root element %s; the only XML read here is a ModusResult", show(root))
	}
	if o.Sheet != "" {
		return nil, fmt.Errorf("is text and has no sheets: there is no sheet %s", show(o.Sheet))
	}
	return textTable(text, encoding, name, o, lim)
}

// Notices says, one statement a line, what a person should know of how the table
// was read: the notes, then the marked cells. Of sample ids that are whole
// numbers there may be one in every row; they share a line.
func (t *Table) Notices() []string {
	lines := append([]string{}, shorten(t.Notes)...)
	var cells []string
	first, last, whole := 0, 0, 0
	for _, m := range t.Marks {
		if m.whole {
			if whole++; whole == 1 {
				first = m.Row
			}
			last = m.Row
			continue
		}
		cells = append(cells, fmt.Sprintf("row %d, %s: %s %s", m.Row, show(m.Column), show(m.Text), m.Reason))
	}
	const lost = ": zeros in front of an id, or an id such as 1E5, would have been lost"
	switch {
	case whole == 1:
		lines = append(lines, fmt.Sprintf("the sample id in row %d is a number in the sheet", first)+lost)
	case whole > 1:
		lines = append(lines, fmt.Sprintf("%d sample ids in rows %d to %d are numbers in the sheet", whole, first, last)+lost)
	}
	return append(lines, shorten(cells)...)
}
