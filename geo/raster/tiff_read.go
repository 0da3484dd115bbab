package raster

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// tiffFile reads the first directory of a TIFF. Every length is held against
// the size of the file before memory is taken for it.
type tiffFile struct {
	r       io.ReaderAt
	size    uint64
	order   binary.ByteOrder
	entries map[uint16]tiffEntry
}

type tiffEntry struct {
	typ   uint16
	count uint64
	inner []byte // the four bytes that hold the value or its offset
}

func openTIFF(r io.ReaderAt, size int64) (*tiffFile, error) {
	if size < 8 {
		return nil, fmt.Errorf("not a tiff: only %d bytes", max(size, 0))
	}
	f := &tiffFile{r: r, size: uint64(size), entries: map[uint16]tiffEntry{}}
	head, err := f.read(0, 8)
	if err != nil {
		return nil, err
	}
	switch string(head[:2]) {
	case "II":
		f.order = binary.LittleEndian
	case "MM":
		f.order = binary.BigEndian
	default:
		return nil, errors.New("not a tiff: it does not start with II or MM")
	}
	switch f.order.Uint16(head[2:]) {
	case 42:
	case 43:
		return nil, errors.New("a BigTIFF, which is not read here: convert it to a plain TIFF below 4 GiB")
	default:
		return nil, errors.New("not a tiff: the number 42 is not in its header")
	}
	return f, f.readDirectory(uint64(f.order.Uint32(head[4:])))
}

func (f *tiffFile) readDirectory(offset uint64) error {
	head, err := f.read(offset, 2)
	if err != nil {
		return fmt.Errorf("tiff directory: %w", err)
	}
	n := int(f.order.Uint16(head))
	b, err := f.read(offset+2, uint64(12*n))
	if err != nil {
		return fmt.Errorf("tiff directory of %d tags: %w", n, err)
	}
	for ; len(b) > 0; b = b[12:] {
		tag := f.order.Uint16(b)
		if _, twice := f.entries[tag]; twice {
			return fmt.Errorf("tiff tag %d is there twice", tag)
		}
		f.entries[tag] = tiffEntry{typ: f.order.Uint16(b[2:]), count: uint64(f.order.Uint32(b[4:])), inner: b[8:12:12]}
	}
	return nil
}

// read returns n bytes from offset.
func (f *tiffFile) read(offset, n uint64) ([]byte, error) {
	if offset > f.size || n > f.size-offset {
		return nil, fmt.Errorf("%d bytes at %d lie outside the file of %d bytes: it is cut short or damaged", n, offset, f.size)
	}
	b := make([]byte, n)
	if got, err := f.r.ReadAt(b, int64(offset)); got < len(b) {
		return nil, fmt.Errorf("reading %d bytes at %d: %w", n, offset, err)
	}
	return b, nil
}

func (f *tiffFile) has(tag uint16) bool {
	_, ok := f.entries[tag]
	return ok
}

// value returns the bytes of a tag whose values take width bytes each.
func (f *tiffFile) value(tag uint16, width uint64) ([]byte, error) {
	e := f.entries[tag]
	n := e.count * width
	if n <= 4 {
		return e.inner[:n], nil
	}
	b, err := f.read(uint64(f.order.Uint32(e.inner)), n)
	if err != nil {
		return nil, fmt.Errorf("tiff tag %d: %w", tag, err)
	}
	return b, nil
}

// uints returns the whole numbers of a tag, and nothing for one that is not
// there.
func (f *tiffFile) uints(tag uint16) ([]uint32, error) {
	e, ok := f.entries[tag]
	if !ok {
		return nil, nil
	}
	var width uint64
	switch e.typ {
	case typeShort:
		width = 2
	case typeLong:
		width = 4
	default:
		return nil, fmt.Errorf("tiff tag %d is of type %d: whole numbers expected", tag, e.typ)
	}
	b, err := f.value(tag, width)
	if err != nil {
		return nil, err
	}
	values := make([]uint32, e.count)
	for i := range values {
		if width == 2 {
			values[i] = uint32(f.order.Uint16(b[2*i:]))
		} else {
			values[i] = f.order.Uint32(b[4*i:])
		}
	}
	return values, nil
}

// uint returns the one number of a tag, and otherwise where it is not there.
func (f *tiffFile) uint(tag uint16, otherwise uint32) (uint32, error) {
	if !f.has(tag) {
		return otherwise, nil
	}
	values, err := f.uints(tag)
	if err != nil {
		return 0, err
	}
	if len(values) != 1 {
		return 0, fmt.Errorf("tiff tag %d holds %d values: one expected", tag, len(values))
	}
	return values[0], nil
}

func (f *tiffFile) doubles(tag uint16) ([]float64, error) {
	e, ok := f.entries[tag]
	if !ok {
		return nil, nil
	}
	if e.typ != typeDouble {
		return nil, fmt.Errorf("tiff tag %d is of type %d: numbers of 8 bytes expected", tag, e.typ)
	}
	b, err := f.value(tag, 8)
	if err != nil {
		return nil, err
	}
	values := make([]float64, e.count)
	for i := range values {
		values[i] = math.Float64frombits(f.order.Uint64(b[8*i:]))
	}
	return values, nil
}

// text returns the text of a tag without its closing NUL.
func (f *tiffFile) text(tag uint16) (string, error) {
	e, ok := f.entries[tag]
	if !ok {
		return "", nil
	}
	if e.typ != typeASCII {
		return "", fmt.Errorf("tiff tag %d is of type %d: text expected", tag, e.typ)
	}
	b, err := f.value(tag, 1)
	if err != nil {
		return "", err
	}
	for len(b) > 0 && b[len(b)-1] == 0 {
		b = b[:len(b)-1]
	}
	return string(b), nil
}
