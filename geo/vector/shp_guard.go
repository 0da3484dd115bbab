package vector

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/jonas-p/go-shp"
)

// The layout of .shp and .shx files is that of the "ESRI Shapefile Technical
// Description", July 1998.

const (
	shpHeader = 100
	shpMagic  = 9994
)

// plainKind maps the types of records that are read to the plain one, without
// height and measure. hasZ says that a height follows the places.
func plainKind(kind int32) (plain int32, hasZ, ok bool) {
	switch kind {
	case int32(shp.NULL), shp.POINT, shp.POLYLINE, shp.POLYGON, shp.MULTIPOINT:
		return kind, false, true
	case shp.POINTZ, shp.POLYLINEZ, shp.POLYGONZ, shp.MULTIPOINTZ:
		return kind - 10, true, true
	case shp.POINTM, shp.POLYLINEM, shp.POLYGONM, shp.MULTIPOINTM:
		return kind - 20, false, true
	}
	return 0, false, false
}

// record is the place of a record's content in a .shp file, in bytes.
type record struct {
	start, length int
}

// shpRecords proves the header and the frame of every record of a .shp file.
func shpRecords(data []byte, notes *notices) (kind int32, records []record, err error) {
	if len(data) < shpHeader {
		return 0, nil, errors.New("the header is cut short")
	}
	if v := int32(binary.LittleEndian.Uint32(data[28:])); v != 1000 {
		return 0, nil, fmt.Errorf("version %d of the shapefile format is not known", v)
	}
	kind = int32(binary.LittleEndian.Uint32(data[32:]))
	if _, _, ok := plainKind(kind); !ok {
		return 0, nil, fmt.Errorf("records of type %d are not read; only polygons, lines and points are", kind)
	}
	end := 2 * int64(int32(binary.BigEndian.Uint32(data[24:])))
	if end < shpHeader {
		return 0, nil, fmt.Errorf("the header says that the file is %d bytes long", end)
	}
	stated := end
	if end > int64(len(data)) {
		end = int64(len(data))
	} else if end < int64(len(data)) {
		notes.add("", fmt.Sprintf("%d bytes after the end that its header states; not read", int64(len(data))-end))
	}
	for at := int64(shpHeader); at < end; {
		n := len(records) + 1
		if end-at < 12 {
			return 0, nil, fmt.Errorf("record %d is cut short", n)
		}
		length := 2 * int64(int32(binary.BigEndian.Uint32(data[at+4:])))
		if length < 4 {
			return 0, nil, fmt.Errorf("record %d states a length of %d bytes", n, length)
		}
		if length > end-at-8 {
			return 0, nil, fmt.Errorf("record %d is cut short", n)
		}
		records = append(records, record{int(at) + 8, int(length)})
		at += 8 + length
	}
	if stated > end {
		return 0, nil, fmt.Errorf("cut short after record %d: %d bytes of %d", len(records), end, stated)
	}
	return kind, records, nil
}

// checkIndex proves that the .shx file lists just these records.
func checkIndex(index []byte, records []record) error {
	if len(index) < shpHeader || binary.BigEndian.Uint32(index) != shpMagic {
		return errors.New("not the index of a shapefile")
	}
	entries := index[shpHeader:]
	if len(entries)/8 != len(records) {
		return fmt.Errorf("lists %d records, the .shp file holds %d; they are not of one export, or one is cut short",
			len(entries)/8, len(records))
	}
	for i, r := range records {
		start := 2*int64(int32(binary.BigEndian.Uint32(entries[8*i:]))) + 8
		length := 2 * int64(int32(binary.BigEndian.Uint32(entries[8*i+4:])))
		if start != int64(r.start) || length != int64(r.length) {
			return fmt.Errorf("record %d lies elsewhere in the .shp file; they are not of one export", i+1)
		}
	}
	return nil
}

// plainStream proves the content of every record and returns the file again
// with plain records only: go-shp trusts every count, and reads past the end
// of records that have a height but no measure.
func plainStream(data []byte, kind int32, records []record) ([]byte, error) {
	plain, hasZ, _ := plainKind(kind)
	var out bytes.Buffer
	out.Grow(len(data))
	out.Write(data[:shpHeader])
	for i, r := range records {
		body := data[r.start : r.start+r.length]
		have := int32(binary.LittleEndian.Uint32(body))
		if have != kind && have != int32(shp.NULL) {
			return nil, fmt.Errorf("record %d is of type %d in a file of type %d", i+1, have, kind)
		}
		size, err := 4, error(nil)
		if have != int32(shp.NULL) {
			if size, err = plainSize(body, plain, hasZ); err != nil {
				return nil, fmt.Errorf("record %d %w", i+1, err)
			}
		}
		var head [12]byte
		binary.BigEndian.PutUint32(head[0:], uint32(i+1))
		binary.BigEndian.PutUint32(head[4:], uint32(size/2))
		if have != int32(shp.NULL) {
			binary.LittleEndian.PutUint32(head[8:], uint32(plain))
		}
		out.Write(head[:])
		out.Write(body[4:size])
	}
	b := out.Bytes()
	binary.BigEndian.PutUint32(b[24:], uint32(len(b)/2))
	binary.LittleEndian.PutUint32(b[32:], uint32(plain))
	return b, nil
}

// plainSize proves one record's counts against its length and returns how many
// of its bytes the plain record takes, its type included.
func plainSize(body []byte, plain int32, hasZ bool) (int, error) {
	short := errors.New("is too short for what it says it holds")
	count := func(at int) int64 { return int64(int32(binary.LittleEndian.Uint32(body[at:]))) }
	var size, heights int64
	switch plain {
	case shp.POINT:
		size, heights = 20, 8
	case shp.MULTIPOINT:
		if len(body) < 40 {
			return 0, short
		}
		points := count(36)
		if points < 0 {
			return 0, fmt.Errorf("states %d points", points)
		}
		size, heights = 40+16*points, 16+8*points
	default:
		if len(body) < 44 {
			return 0, short
		}
		parts, points := count(36), count(40)
		if parts < 0 || points < 0 || parts > points {
			return 0, fmt.Errorf("states %d parts of %d points", parts, points)
		}
		size, heights = 44+4*parts+16*points, 16+8*points
		if size > int64(len(body)) {
			return 0, short
		}
		if parts == 0 && points > 0 {
			return 0, fmt.Errorf("states %d points in no part", points)
		}
		last := int64(-1)
		for i := range parts {
			at := count(44 + 4*int(i))
			if i == 0 && at != 0 || at <= last || at >= points {
				return 0, fmt.Errorf("has part %d begin at point %d of %d", i+1, at+1, points)
			}
			last = at
		}
	}
	if hasZ {
		if size+heights > int64(len(body)) {
			return 0, short
		}
	}
	if size > int64(len(body)) {
		return 0, short
	}
	return int(size), nil
}

// shapes runs go-shp over a stream that plainStream has made.
func shapes(plain []byte, count int) ([]shp.Shape, error) {
	// go-shp wants a table; this one has no columns and rows without end.
	table := make([]byte, 33)
	binary.LittleEndian.PutUint16(table[8:], 33)
	binary.LittleEndian.PutUint16(table[10:], 1)
	table[32] = '\r'
	r := shp.SequentialReaderFromExt(
		io.NopCloser(bytes.NewReader(plain)),
		io.NopCloser(io.MultiReader(bytes.NewReader(table), blanks{})))
	out := make([]shp.Shape, 0, count)
	for len(out) < count && r.Next() {
		_, s := r.Shape()
		out = append(out, s)
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	if len(out) != count {
		return nil, fmt.Errorf("record %d could not be read", len(out)+1)
	}
	return out, nil
}

type blanks struct{}

func (blanks) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	return len(p), nil
}
