package vector

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

const (
	dbfMostColumns  = 255   // of dBASE IV
	dbfMostText     = 254   // bytes
	dbfMostRow      = 65535 // bytes; the header has 16 bits for it
	dbfNameBytes    = 10
	dbfMostDecimals = 15
	dbfMostNumber   = 32 // characters
)

// ShortNames returns a name for each column as a shapefile's table can hold it:
// at most 10 letters, digits and underscores of ASCII, no two alike in any
// letter case. A name that fits stays as it is; of those that would be alike
// the later ones get a number. The same names give the same short names.
func ShortNames(fields []Column) []string {
	out := make([]string, len(fields))
	taken := map[string]bool{}
	take := func(i int, name string) bool {
		key := strings.ToUpper(name)
		if taken[key] {
			return false
		}
		taken[key] = true
		out[i] = name
		return true
	}
	// Names that need no change go first, so that no other takes them.
	for i, f := range fields {
		if f.Name != "" && len(f.Name) <= dbfNameBytes && plainName(f.Name) == f.Name {
			take(i, f.Name)
		}
	}
	for i, f := range fields {
		if out[i] != "" {
			continue
		}
		name := plainName(f.Name)
		if name == "" {
			name = "FIELD"
		}
		for n := 1; !take(i, shorten(name, n)); n++ {
		}
	}
	return out
}

func plainName(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '_' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' {
			return r
		}
		return '_'
	}, s)
}

// shorten cuts name to fit; from the second try on it ends in the try's number.
func shorten(name string, try int) string {
	end := ""
	if try > 1 {
		end = "_" + strconv.Itoa(try)
	}
	return name[:min(len(name), dbfNameBytes-len(end))] + end
}

// dbfColumn is a column laid out: its cells as text, and how wide they are.
type dbfColumn struct {
	kind            byte
	width, decimals int
	cells           []string
}

// tableBytes makes a .dbf file, UTF-8, of one row for each feature.
func tableBytes(fields []Column, features []OutFeature) ([]byte, error) {
	if len(fields) == 0 {
		// A table without columns is read by hardly any program.
		fields = []Column{{Name: "FID", Type: Int}}
		numbered := make([]OutFeature, len(features))
		for i := range numbered {
			numbered[i].Properties = []Property{{"FID", i + 1}}
		}
		features = numbered
	}
	if len(fields) > dbfMostColumns {
		return nil, fmt.Errorf("%d columns; a shapefile holds %d", len(fields), dbfMostColumns)
	}
	columns := make([]dbfColumn, len(fields))
	width := 1
	for i, f := range fields {
		var err error
		if columns[i], err = layOut(f, features); err != nil {
			return nil, err
		}
		width += columns[i].width
	}
	if width > dbfMostRow {
		return nil, fmt.Errorf("a row of the table takes %d bytes; a shapefile holds %d", width, dbfMostRow)
	}
	var out bytes.Buffer
	head := make([]byte, 32)
	head[0] = 3
	// The day of the last change is the same always, so that the same data
	// give the same bytes.
	head[1], head[2], head[3] = 100, 1, 1
	binary.LittleEndian.PutUint32(head[4:], uint32(len(features)))
	binary.LittleEndian.PutUint16(head[8:], uint16(32*len(fields)+33))
	binary.LittleEndian.PutUint16(head[10:], uint16(width))
	out.Write(head)
	for i, name := range ShortNames(fields) {
		d := make([]byte, 32)
		copy(d[:dbfNameBytes], name)
		d[11], d[16], d[17] = columns[i].kind, byte(columns[i].width), byte(columns[i].decimals)
		out.Write(d)
	}
	out.WriteByte('\r')
	for r := range features {
		out.WriteByte(' ')
		for _, c := range columns {
			pad := strings.Repeat(" ", c.width-len(c.cells[r]))
			if c.kind == 'N' {
				out.WriteString(pad + c.cells[r])
			} else {
				out.WriteString(c.cells[r] + pad)
			}
		}
	}
	out.WriteByte(0x1a)
	return out.Bytes(), nil
}

// layOut writes the values of one column as text and finds its width.
func layOut(f Column, features []OutFeature) (dbfColumn, error) {
	c := dbfColumn{cells: make([]string, len(features))}
	values := make([]any, len(features))
	for i := range features {
		for _, p := range features[i].Properties {
			if p.Name == f.Name {
				values[i] = p.Value
			}
		}
	}
	c.kind = map[Type]byte{Text: 'C', Int: 'N', Float: 'N', Bool: 'L', Date: 'D'}[f.Type]
	if f.Type == Float {
		c.decimals = 1
		for _, v := range values {
			if x, ok := toFloat(v); ok && !math.IsNaN(x) && !math.IsInf(x, 0) {
				_, d, _ := strings.Cut(strconv.FormatFloat(x, 'f', -1, 64), ".")
				c.decimals = min(max(c.decimals, len(d)), dbfMostDecimals)
			}
		}
	}
	c.width = 1
	if f.Type == Date {
		c.width = 8
	}
	for i, v := range values {
		if v == nil {
			continue
		}
		s, err := cellText(f.Type, v, c.decimals)
		if err != nil {
			return c, fmt.Errorf("feature %d, column %q: %w", i+1, f.Name, err)
		}
		c.cells[i] = s
		c.width = max(c.width, len(s))
	}
	return c, nil
}

func cellText(t Type, v any, decimals int) (string, error) {
	mismatch := fmt.Errorf("%v is not a %s", v, t)
	switch t {
	case Text:
		s, ok := v.(string)
		if !ok {
			return "", mismatch
		}
		if strings.IndexByte(s, 0) >= 0 {
			return "", errors.New("the text has a NUL byte in it")
		}
		if len(s) > dbfMostText {
			return "", fmt.Errorf("the text takes %d bytes; a shapefile holds %d", len(s), dbfMostText)
		}
		return strings.ToValidUTF8(s, "\ufffd"), nil
	case Bool:
		b, ok := v.(bool)
		if !ok {
			return "", mismatch
		}
		if b {
			return "T", nil
		}
		return "F", nil
	case Date:
		s, ok := v.(string)
		if !ok || len(s) != 10 || s[4] != '-' || s[7] != '-' {
			return "", fmt.Errorf("%v is not a date as 2006-01-02", v)
		}
		return s[:4] + s[5:7] + s[8:], nil
	case Int:
		switch i := v.(type) {
		case int:
			return strconv.Itoa(i), nil
		case int64:
			return strconv.FormatInt(i, 10), nil
		}
		return "", mismatch
	case Float:
		x, ok := toFloat(v)
		if !ok {
			return "", mismatch
		}
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return "", fmt.Errorf("%v is not a number that can be written", x)
		}
		s := strconv.FormatFloat(x, 'f', decimals, 64)
		if len(s) > dbfMostNumber {
			return "", fmt.Errorf("%g takes %d characters; at most %d are written", x, len(s), dbfMostNumber)
		}
		return s, nil
	}
	return "", fmt.Errorf("column of %s", t)
}

func toFloat(v any) (float64, bool) {
	switch x := v.(type) {
	case float64:
		return x, true
	case int:
		return float64(x), true
	case int64:
		return float64(x), true
	}
	return 0, false
}
