package raster

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"
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
	tagExtraSamples    = 338
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

	planarPixels = 1 // the bands of a pixel lie together
	planarBands  = 2 // the bands lie one after the other

	subfileReduced = 1
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
// tile offsets and byte counts present but empty, and its blocks in the order
// of the file.
type tiffImage struct {
	fields []field
	blocks [][]byte
}

// add puts tags in their places.
func (m *tiffImage) add(fields ...field) {
	m.fields = append(m.fields, fields...)
	slices.SortFunc(m.fields, func(a, b field) int { return int(a.tag) - int(b.tag) })
}

// structure stands between the header of the file and the first directory. GDAL
// and others take from it that the blocks have leaders and trailers, and trust
// them until a program that does not know of them edits the file: it then
// overwrites NO with YES. Source: documentation of GDAL's COG driver, on the
// header ghost area.
const (
	structureItems = "LAYOUT=IFDS_BEFORE_DATA\n" +
		"BLOCK_ORDER=ROW_MAJOR\n" +
		"BLOCK_LEADER=SIZE_AS_UINT4\n" +
		"BLOCK_TRAILER=LAST_4_BYTES_REPEATED\n" +
		"KNOWN_INCOMPATIBLE_EDITION=NO\n " // room for YES
	structure = "GDAL_STRUCTURAL_METADATA_SIZE=000140 bytes\n" + structureItems + "\x00" // to an even length
)

// writeTIFF writes the images as one little-endian TIFF. All directories come
// first, in the order given, and then the blocks, those of the last image first.
func writeTIFF(w io.Writer, images []tiffImage) error {
	first := 8 + len(structure)
	size := uint64(first)
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
	head = binary.LittleEndian.AppendUint32(head, uint32(first))
	head = append(head, structure...)
	for i := range images {
		head = images[i].appendDirectory(head, i == len(images)-1)
	}
	if _, err := w.Write(head); err != nil {
		return err
	}
	for i := len(images) - 1; i >= 0; i-- {
		for _, block := range images[i].blocks {
			if _, err := w.Write(block); err != nil {
				return err
			}
		}
	}
	return nil
}

// reserve gives the tile tags their length, before the offsets are known.
func (m *tiffImage) reserve() {
	for i, f := range m.fields {
		if f.tag == tagTileOffsets || f.tag == tagTileByteCounts {
			m.fields[i] = longs(f.tag, make([]uint32, len(m.blocks))...)
		}
	}
}

// place fills the tile tags for blocks that start at offset, and returns the
// offset after them.
func (m *tiffImage) place(offset uint64) uint64 {
	var offsets, counts []byte
	for _, block := range m.blocks {
		offsets = binary.LittleEndian.AppendUint32(offsets, uint32(offset+blockLeader))
		counts = binary.LittleEndian.AppendUint32(counts, uint32(len(block)-blockLeader-blockTrailer))
		offset += uint64(len(block))
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
