package raster

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// maxInflate is the most bytes that one byte of deflate can stand for: RFC 1951
// codes 258 bytes in two bits at best.
const maxInflate = 1032

// tiffLayout says how the pixels of an image are cut into blocks: tiles, or
// strips as wide as the image.
type tiffLayout struct {
	width, height           int
	blockWidth, blockHeight int
	across, down            int
	bands                   int
	planes                  int // of blocks one after the other: one for all bands, or one for each
	strips                  bool
	offsets, counts         []uint32
	deflate, predicted      bool
}

// layout reads the tags on the form of the pixels and refuses what is not read
// here. It proves that the blocks lie in the file, do not take more of it than
// there is, and that each can fill its pixels.
func (f *tiffFile) layout() (tiffLayout, error) {
	l, err := f.form()
	if err != nil {
		return l, err
	}
	return l, f.blocks(&l)
}

// form reads the size of the image and of its blocks and how values are coded.
func (f *tiffFile) form() (l tiffLayout, err error) {
	get := func(tag uint16, otherwise uint32) int {
		var v uint32
		if err == nil {
			v, err = f.uint(tag, otherwise)
		}
		return int(v)
	}
	l.width, l.height = get(tagWidth, 0), get(tagHeight, 0)
	l.bands = get(tagSamples, 1)
	planar := get(tagPlanar, planarPixels)
	compression, predictor := get(tagCompression, compressionNone), get(tagPredictor, predictorNone)
	orientation := get(tagOrientation, 1)
	l.blockWidth, l.blockHeight = get(tagTileWidth, 0), get(tagTileHeight, 0)
	rows := get(tagRowsPerStrip, math.MaxUint32)
	switch {
	case err != nil:
		return l, err
	case l.width <= 0 || l.height <= 0:
		return l, fmt.Errorf("image of %d columns and %d rows", l.width, l.height)
	case l.bands <= 0 || l.bands > maxBands:
		return l, fmt.Errorf("%d bands", l.bands)
	case l.width > MaxPixels/l.height/l.bands:
		return l, fmt.Errorf("image of %d columns, %d rows and %d bands is above the limit of %d values", l.width, l.height, l.bands, MaxPixels)
	case orientation != 1:
		return l, fmt.Errorf("rows not from the north-west (orientation %d)", orientation)
	}
	switch planar {
	case planarPixels:
		l.planes = 1
	case planarBands:
		l.planes = l.bands
	default:
		return l, fmt.Errorf("planar configuration %d", planar)
	}
	if err := f.float32s(l.bands); err != nil {
		return l, err
	}
	switch compression {
	case compressionNone:
	case compressionDeflate, compressionDeflateOld:
		l.deflate = true
	default:
		return l, fmt.Errorf("compression %d: write the raster with deflate or none", compression)
	}
	switch predictor {
	case predictorNone:
	case predictorFloat:
		l.predicted = l.deflate // TIFF gives it no meaning without compression
		if l.predicted && f.order == binary.BigEndian {
			// Measured: GDAL 3.6.2 on a little-endian machine writes the planes
			// least significant first, which the technical note does not say.
			return l, errors.New("big-endian with predictor 3, where programs differ in the order of the bytes: write the raster little-endian")
		}
	default:
		return l, fmt.Errorf("predictor %d: write the raster with predictor 3 or none", predictor)
	}
	if l.strips = !f.has(tagTileWidth); l.strips {
		l.blockWidth, l.blockHeight = l.width, min(rows, l.height)
	}
	if l.blockWidth <= 0 || l.blockHeight <= 0 || l.blockWidth > MaxPixels/l.blockHeight {
		return l, fmt.Errorf("blocks of %d columns and %d rows", l.blockWidth, l.blockHeight)
	}
	l.across = (l.width-1)/l.blockWidth + 1
	l.down = (l.height-1)/l.blockHeight + 1
	return l, nil
}

// float32s returns an error unless every band is one of float32.
func (f *tiffFile) float32s(bands int) error {
	for _, c := range [2]struct {
		tag  uint16
		want uint32
	}{{tagBits, 32}, {tagSampleFormat, sampleFloat}} {
		values, err := f.uints(c.tag)
		if err != nil {
			return err
		}
		if len(values) != bands {
			return fmt.Errorf("tiff tag %d holds %d values for %d bands", c.tag, len(values), bands)
		}
		for i, v := range values {
			if v != c.want {
				return fmt.Errorf("tiff tag %d of band %d is %d: bands of float32 expected", c.tag, i+1, v)
			}
		}
	}
	return nil
}

// blocks reads where the blocks of the image lie.
func (f *tiffFile) blocks(l *tiffLayout) (err error) {
	offsets, counts := uint16(tagTileOffsets), uint16(tagTileByteCounts)
	if l.strips {
		offsets, counts = tagStripOffsets, tagStripByteCounts
	}
	if l.offsets, err = f.uints(offsets); err != nil {
		return err
	}
	if l.counts, err = f.uints(counts); err != nil {
		return err
	}
	if n := l.planes * l.across * l.down; len(l.offsets) != n || len(l.counts) != n {
		return fmt.Errorf("%d offsets and %d lengths for %d blocks", len(l.offsets), len(l.counts), n)
	}
	var total uint64
	for i, count := range l.counts {
		offset, count := uint64(l.offsets[i]), uint64(count)
		if count == 0 {
			return fmt.Errorf("block %d is missing: rasters with left out blocks are not read", i)
		}
		if offset > f.size || count > f.size-offset {
			return fmt.Errorf("block %d, %d bytes at %d, lies outside the file of %d bytes: it is cut short or damaged", i, count, offset, f.size)
		}
		need, room := uint64(l.rawSize(i)), count
		if l.deflate {
			room = count * maxInflate
		}
		if need > room {
			return fmt.Errorf("block %d of %d bytes is too short for its pixels", i, count)
		}
		total += count
	}
	if total > f.size {
		return errors.New("blocks overlap")
	}
	return nil
}

// place returns the plane of a block and the column and row of its first pixel.
func (l *tiffLayout) place(block int) (plane, left, top int) {
	each := l.across * l.down
	plane, block = block/each, block%each
	return plane, block % l.across * l.blockWidth, block / l.across * l.blockHeight
}

// rows returns how many rows the block stores: tiles are always whole, the
// last strip may be short.
func (l *tiffLayout) rows(block int) int {
	if !l.strips {
		return l.blockHeight
	}
	_, _, top := l.place(block)
	return min(l.blockHeight, l.height-top)
}

// rowSize is the number of bytes of a row of a block.
func (l *tiffLayout) rowSize() int { return 4 * l.blockWidth * (l.bands / l.planes) }

func (l *tiffLayout) rawSize(block int) int { return l.rowSize() * l.rows(block) }

// pixels reads all blocks into one slice for each band, row by row.
func (f *tiffFile) pixels(l tiffLayout) ([][]float32, error) {
	bands := make([][]float32, l.bands)
	for i := range bands {
		bands[i] = make([]float32, l.width*l.height)
	}
	together := l.bands / l.planes
	row := make([]uint32, l.blockWidth*together)
	raw := make([]byte, l.rawSize(0))
	for i := range l.offsets {
		raw := raw[:l.rawSize(i)]
		if err := f.readBlock(raw, l, i); err != nil {
			return nil, fmt.Errorf("block %d: %w", i, err)
		}
		plane, left, top := l.place(i)
		for y := range min(l.rows(i), l.height-top) {
			f.decodeRow(row, raw[y*l.rowSize():][:l.rowSize()], l)
			for b := range together {
				line := bands[plane+b][(top+y)*l.width+left:][:min(l.blockWidth, l.width-left)]
				for x := range line {
					line[x] = math.Float32frombits(row[x*together+b])
				}
			}
		}
	}
	return bands, nil
}

// decodeRow turns one stored row into float bits. The predictor fixes the order
// of bytes itself; without it they are in that of the file.
func (f *tiffFile) decodeRow(row []uint32, raw []byte, l tiffLayout) {
	if l.predicted {
		unpredict(row, raw, l.bands/l.planes)
		return
	}
	for i := range row {
		row[i] = f.order.Uint32(raw[4*i:])
	}
}

// readBlock fills raw with the uncompressed bytes of a block.
func (f *tiffFile) readBlock(raw []byte, l tiffLayout, i int) error {
	stored, err := f.read(uint64(l.offsets[i]), uint64(l.counts[i]))
	if err != nil {
		return err
	}
	if !l.deflate {
		copy(raw, stored)
		return nil
	}
	z, err := zlib.NewReader(bytes.NewReader(stored))
	if err != nil {
		return err
	}
	if _, err := io.ReadFull(z, raw); err != nil {
		return fmt.Errorf("compressed data: %w", err)
	}
	// The check sum is only looked at when the end is reached.
	switch _, err := io.ReadFull(z, make([]byte, 1)); err {
	case io.EOF:
		return nil
	case nil:
		return errors.New("more data than pixels")
	default:
		return fmt.Errorf("compressed data: %w", err)
	}
}
