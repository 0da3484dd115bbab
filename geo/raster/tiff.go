package raster

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// Numbers of the tags, from TIFF 6.0 (1992), its Technical Note 3, the OGC
// GeoTIFF Standard 1.1 (19-008r4) and, for the last two, the GDAL documentation
// of its GTiff driver.
const (
	tagSubfileType     = 254
	tagWidth           = 256
	tagHeight          = 257
	tagBits            = 258
	tagCompression     = 259
	tagPhotometric     = 262
	tagStripOffsets    = 273
	tagOrientation     = 274
	tagSamples         = 277
	tagRowsPerStrip    = 278
	tagStripByteCounts = 279
	tagPlanar          = 284
	tagPredictor       = 317
	tagTileWidth       = 322
	tagTileHeight      = 323
	tagTileOffsets     = 324
	tagTileByteCounts  = 325
	tagSampleFormat    = 339
	tagPixelScale      = 33550
	tagTiepoint        = 33922
	tagTransformation  = 34264
	tagGeoKeys         = 34735
	tagGDALMetadata    = 42112
	tagGDALNoData      = 42113
)

// Types of tag values.
const (
	typeASCII  = 2
	typeShort  = 3
	typeLong   = 4
	typeDouble = 12
)

const (
	compressionNone       = 1
	compressionDeflate    = 8
	compressionDeflateOld = 32946 // the code in use before 8 was assigned

	predictorNone  = 1
	predictorFloat = 3

	sampleFloat = 3
)

// Keys of the GeoTIFF directory and their values.
const (
	keyModelType  = 1024
	keyRasterType = 1025
	keyProjected  = 3072

	modelProjected = 1
	pixelIsArea    = 1
	pixelIsPoint   = 2
	userDefined    = 32767
)

// field is one tag of an image with its value in little-endian bytes.
type field struct {
	tag, typ uint16
	count    uint32
	data     []byte
}

func shorts(tag uint16, values ...uint16) field {
	f := field{tag: tag, typ: typeShort, count: uint32(len(values))}
	for _, v := range values {
		f.data = binary.LittleEndian.AppendUint16(f.data, v)
	}
	return f
}

func longs(tag uint16, values ...uint32) field {
	f := field{tag: tag, typ: typeLong, count: uint32(len(values))}
	for _, v := range values {
		f.data = binary.LittleEndian.AppendUint32(f.data, v)
	}
	return f
}

func doubles(tag uint16, values ...float64) field {
	f := field{tag: tag, typ: typeDouble, count: uint32(len(values))}
	for _, v := range values {
		f.data = binary.LittleEndian.AppendUint64(f.data, math.Float64bits(v))
	}
	return f
}

func ascii(tag uint16, s string) field {
	return field{tag: tag, typ: typeASCII, count: uint32(len(s) + 1), data: append([]byte(s), 0)}
}

// tiffImage is one image of a TIFF file: its tags in ascending order, with the
// tile offsets and byte counts present but empty, and its compressed tiles row
// by row.
type tiffImage struct {
	fields []field
	tiles  [][]byte
}

// writeTIFF writes the images as one little-endian TIFF. All directories come
// first, in the order given, and then the tiles, those of the last image first:
// a reader that fetches parts over a network finds all it needs at the start,
// and small overviews before the full image.
func writeTIFF(w io.Writer, images []tiffImage) error {
	var size uint64 = 8
	for i := range images {
		images[i].reserve()
		size += images[i].directorySize()
	}
	for i := len(images) - 1; i >= 0; i-- {
		size = images[i].place(size)
	}
	if size > math.MaxUint32 {
		return fmt.Errorf("raster makes a file of %d bytes, above the 4 GiB of a TIFF: use larger pixels", size)
	}

	head := []byte{'I', 'I', 42, 0}
	head = binary.LittleEndian.AppendUint32(head, 8)
	for i := range images {
		head = images[i].appendDirectory(head, i == len(images)-1)
	}
	if _, err := w.Write(head); err != nil {
		return err
	}
	for i := len(images) - 1; i >= 0; i-- {
		for _, tile := range images[i].tiles {
			if _, err := w.Write(tile); err != nil {
				return err
			}
			if len(tile)%2 == 1 {
				if _, err := w.Write([]byte{0}); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// reserve gives the tile tags their length, before the offsets are known.
func (m *tiffImage) reserve() {
	for i, f := range m.fields {
		if f.tag == tagTileOffsets || f.tag == tagTileByteCounts {
			m.fields[i] = longs(f.tag, make([]uint32, len(m.tiles))...)
		}
	}
}

// place fills the tile tags for tiles that start at offset, and returns the
// offset after them. Offsets are even, as TIFF asks.
func (m *tiffImage) place(offset uint64) uint64 {
	var offsets, counts []byte
	for _, tile := range m.tiles {
		offsets = binary.LittleEndian.AppendUint32(offsets, uint32(offset))
		counts = binary.LittleEndian.AppendUint32(counts, uint32(len(tile)))
		offset += even(len(tile))
	}
	for i, f := range m.fields {
		switch f.tag {
		case tagTileOffsets:
			m.fields[i].data = offsets
		case tagTileByteCounts:
			m.fields[i].data = counts
		}
	}
	return offset
}

func even(n int) uint64 { return uint64(n) + uint64(n)%2 }

// directorySize is the number of bytes of the directory and of those values
// that do not fit into it.
func (m *tiffImage) directorySize() uint64 {
	size := uint64(2 + 12*len(m.fields) + 4)
	for _, f := range m.fields {
		if len(f.data) > 4 {
			size += even(len(f.data))
		}
	}
	return size
}

// appendDirectory appends the directory, which starts where b ends, and its
// values.
func (m *tiffImage) appendDirectory(b []byte, last bool) []byte {
	values := len(b) + 2 + 12*len(m.fields) + 4
	next := uint32(0)
	if !last {
		next = uint32(uint64(len(b)) + m.directorySize())
	}
	b = binary.LittleEndian.AppendUint16(b, uint16(len(m.fields)))
	for _, f := range m.fields {
		b = binary.LittleEndian.AppendUint16(b, f.tag)
		b = binary.LittleEndian.AppendUint16(b, f.typ)
		b = binary.LittleEndian.AppendUint32(b, f.count)
		if len(f.data) <= 4 {
			var inline [4]byte
			copy(inline[:], f.data)
			b = append(b, inline[:]...)
			continue
		}
		b = binary.LittleEndian.AppendUint32(b, uint32(values))
		values += int(even(len(f.data)))
	}
	b = binary.LittleEndian.AppendUint32(b, next)
	for _, f := range m.fields {
		if len(f.data) > 4 {
			b = append(b, f.data...)
			if len(f.data)%2 == 1 {
				b = append(b, 0)
			}
		}
	}
	return b
}
