package raster

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"math"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"
)

const (
	// tileSide is the side of a tile in pixels; TIFF asks for multiples of 16.
	tileSide = 256
	// maxTiles bounds the work for rasters so narrow that most of each tile is
	// padding. It leaves room for MaxPixels in any shape wider than a quarter tile.
	maxTiles = 4 * MaxPixels / (tileSide * tileSide)
)

// WriteGeoTIFF writes the grid as a GeoTIFF of one band of float32: tiles of
// 256 by 256, deflate with the floating point predictor, the system as EPSG
// code, pixels as areas, NoData as the no-data value, Meta as metadata items
// that GDAL reads, and the statistics of the pixels that have a value. The
// directory precedes the data, and the same grid gives the same bytes.
//
// A grid without pixels, with more than MaxPixels, with a number of values
// that does not fit its size, with a value that is NaN or infinite, with an
// EPSG code outside 1024 to 32766, or with a metadata item that cannot be
// written is an error, and nothing is written then.
func WriteGeoTIFF(w io.Writer, g *Grid) error {
	if err := g.check(); err != nil {
		return err
	}
	tags, err := geoFields(g)
	if err != nil {
		return err
	}
	full, err := newImage(g.Data, g.Width, g.Height, tags)
	if err != nil {
		return err
	}
	if err := writeTIFF(w, []tiffImage{full}); err != nil {
		return fmt.Errorf("writing geotiff: %w", err)
	}
	return nil
}

// geoFields returns the tags that only the full image carries.
func geoFields(g *Grid) ([]field, error) {
	metadata, err := gdalMetadata(g)
	if err != nil {
		return nil, err
	}
	return []field{
		doubles(tagPixelScale, g.Pixel, g.Pixel, 0),
		doubles(tagTiepoint, 0, 0, 0, g.West, g.North, 0),
		shorts(tagGeoKeys,
			1, 1, 0, 3, // version 1, revision 1.0, three keys, each: id, place, count, value
			keyModelType, 0, 1, modelProjected,
			keyRasterType, 0, 1, pixelIsArea,
			keyProjected, 0, 1, uint16(g.EPSG)),
		ascii(tagGDALMetadata, metadata),
	}, nil
}

// newImage compresses values into an image with the tags that every image of
// the file has, and the further ones given.
func newImage(data []float32, width, height int, further []field) (tiffImage, error) {
	tiles, err := encodeTiles(data, width, height)
	if err != nil {
		return tiffImage{}, err
	}
	fields := append([]field{
		longs(tagSubfileType, 0),
		longs(tagWidth, uint32(width)),
		longs(tagHeight, uint32(height)),
		shorts(tagBits, 32),
		shorts(tagCompression, compressionDeflate),
		shorts(tagPhotometric, 1), // low values are dark
		shorts(tagSamples, 1),
		shorts(tagPlanar, 1),
		shorts(tagPredictor, predictorFloat),
		shorts(tagTileWidth, tileSide),
		shorts(tagTileHeight, tileSide),
		longs(tagTileOffsets),
		longs(tagTileByteCounts),
		shorts(tagSampleFormat, sampleFloat),
		ascii(tagGDALNoData, strconv.FormatFloat(float64(NoData), 'f', -1, 32)),
	}, further...)
	slices.SortFunc(fields, func(a, b field) int { return int(a.tag) - int(b.tag) })
	return tiffImage{fields: fields, tiles: tiles}, nil
}

// encodeTiles returns the compressed tiles row by row. The tiles are shared out
// among the processors; each has its own place in the result, so that the
// order of the work does not show.
func encodeTiles(data []float32, width, height int) ([][]byte, error) {
	across := (width + tileSide - 1) / tileSide
	down := (height + tileSide - 1) / tileSide
	if across*down > maxTiles {
		return nil, fmt.Errorf("raster of %d columns and %d rows needs %d tiles, above the limit of %d: use larger pixels", width, height, across*down, maxTiles)
	}
	tiles := make([][]byte, across*down)
	errs := make([]error, min(runtime.GOMAXPROCS(0), len(tiles)))
	var wg sync.WaitGroup
	for worker := range errs {
		wg.Go(func() {
			var out bytes.Buffer
			deflate := zlib.NewWriter(&out)
			row := make([]uint32, tileSide)
			raw := make([]byte, 4*tileSide*tileSide)
			for i := worker; i < len(tiles); i += len(errs) {
				fillTile(raw, row, data, width, height, i%across*tileSide, i/across*tileSide)
				out.Reset()
				deflate.Reset(&out)
				if _, err := deflate.Write(raw); err != nil {
					errs[worker] = err
					return
				}
				if err := deflate.Close(); err != nil {
					errs[worker] = err
					return
				}
				tiles[i] = bytes.Clone(out.Bytes())
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("compressing raster: %w", err)
		}
	}
	return tiles, nil
}

// fillTile writes the predicted rows of the tile at left, top to raw. Beyond
// the edge of the raster the last column and row are repeated, which compresses
// best and shows no false edge to a program that looks there.
func fillTile(raw []byte, row []uint32, data []float32, width, height, left, top int) {
	for y := range tileSide {
		line := data[min(top+y, height-1)*width:][:width]
		for x := range row {
			row[x] = math.Float32bits(line[min(left+x, width-1)])
		}
		predict(raw[y*4*tileSide:][:4*tileSide], row)
	}
}

// gdalMetadata returns the content of tag 42112: the items of Meta in the order
// of their names, then the statistics under the names that GDAL gives them. The
// values are escaped twice, because GDAL resolves them twice; with one escape it
// drops all that follows a &.
func gdalMetadata(g *Grid) (string, error) {
	var b strings.Builder
	b.WriteString("<GDALMetadata>\n")
	names := make([]string, 0, len(g.Meta))
	for name := range g.Meta {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if err := checkItem(name, g.Meta[name]); err != nil {
			return "", err
		}
		b.WriteString(`  <Item name="` + escape(name) + `">` + escape(escape(g.Meta[name])) + "</Item>\n")
	}
	s := g.Stats()
	item := func(name string, value float64) {
		fmt.Fprintf(&b, "  <Item name=\"STATISTICS_%s\" sample=\"0\">%s</Item>\n", name, strconv.FormatFloat(value, 'g', -1, 64))
	}
	if s.Count > 0 {
		item("MAXIMUM", s.Max)
		item("MEAN", s.Mean)
		item("MINIMUM", s.Min)
		item("STDDEV", s.StdDev)
	}
	item("VALID_PERCENT", 100*float64(s.Count)/float64(len(g.Data)))
	b.WriteString("</GDALMetadata>\n")
	return b.String(), nil
}

// checkItem refuses what would come back changed. GDAL keeps an item as one
// text name=value, takes the first = or : as the end of the name, and forgets
// items without a value.
func checkItem(name, value string) error {
	if name == "" || strings.ContainsAny(name, "=:") || strings.TrimSpace(name) != name || !plainText(name, "") {
		return fmt.Errorf("metadata name %q of the raster: it must be plain text without equals sign and colon", name)
	}
	if value == "" || strings.TrimSpace(value) != value || !plainText(value, "\n\t") {
		return fmt.Errorf("metadata item %q of the raster is %q: it must be some plain text without space at its ends", name, value)
	}
	return nil
}

// plainText reports whether s is valid UTF-8 without control characters other
// than those allowed, and without the code points that XML cannot hold.
func plainText(s, allowed string) bool {
	for _, r := range s {
		if (r < ' ' || r >= 0x7f && r < 0xa0) && !strings.ContainsRune(allowed, r) || r == 0xfffe || r == 0xffff {
			return false
		}
	}
	return utf8.ValidString(s)
}

// escape and unescape turn text into XML and back. They keep line ends as they
// are and use the entities that GDAL itself writes.
func escape(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(s)
}

func unescape(s string) string {
	return strings.NewReplacer("&amp;", "&", "&lt;", "<", "&gt;", ">", "&quot;", `"`).Replace(s)
}
