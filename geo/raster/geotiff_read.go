package raster

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// ReadGeoTIFF reads a GeoTIFF of size bytes that [WriteGeoTIFF] wrote, and
// other plain ones of the same kind: bands of float32, pixel by pixel or one
// after the other, tiles or strips, deflate or no compression, no predictor or
// (little-endian only) the floating point one, square pixels, north up, in a
// projected system that has an EPSG code. The first image is read, and
// overviews are passed over.
//
// Pixels that hold the no-data value of the file, or NaN, become NoData; -9999
// counts as no data whatever the file says. More is nil when there is one band.
// Names and units are those that GDAL shows, and empty where it shows none.
// Meta holds the metadata items of GDAL that are not about a band, and is nil
// when there are none.
//
// Anything else is an error, as are more than MaxPixels values in all bands, an
// infinite value and parts of the file that overlap or are missing. No more
// memory is taken than the compressed data in the file can fill.
func ReadGeoTIFF(r io.ReaderAt, size int64) (*Grid, error) {
	f, err := openTIFF(r, size)
	if err != nil {
		return nil, fmt.Errorf("geotiff: %w", err)
	}
	g, err := f.grid()
	if err != nil {
		return nil, fmt.Errorf("geotiff: %w", err)
	}
	return g, nil
}

func (f *tiffFile) grid() (*Grid, error) {
	l, err := f.layout()
	if err != nil {
		return nil, err
	}
	g := &Grid{Geometry: Geometry{Width: l.width, Height: l.height}}
	if err := f.place(&g.Geometry); err != nil {
		return nil, err
	}
	if err := g.Geometry.check(); err != nil {
		return nil, err
	}
	g.More = make([]Band, l.bands-1)
	if l.bands == 1 {
		g.More = nil
	}
	if err := f.metadata(g); err != nil {
		return nil, err
	}
	noData, err := f.noData()
	if err != nil {
		return nil, err
	}
	bands, err := f.pixels(l)
	if err != nil {
		return nil, err
	}
	for b, data := range bands {
		for i, v := range data {
			switch {
			case v != v || v == noData:
				data[i] = NoData
			case v-v != 0:
				return nil, fmt.Errorf("value %g at column %d, row %d of band %d", v, i%g.Width, i/g.Width, b+1)
			}
		}
		if b == 0 {
			g.Data = data
		} else {
			g.More[b-1].Data = data
		}
	}
	return g, nil
}

// place reads where the raster lies: tags of the OGC GeoTIFF Standard 1.1
// (19-008r4), sections on ModelPixelScale, ModelTiepoint and raster space.
func (f *tiffFile) place(g *Geometry) error {
	scale, err := f.doubles(tagPixelScale)
	if err != nil {
		return err
	}
	tie, err := f.doubles(tagTiepoint)
	if err != nil {
		return err
	}
	if f.has(tagTransformation) || len(scale) < 2 || len(tie) != 6 {
		return fmt.Errorf("no plain georeference (a pixel size and one corner): warp the raster north up in a projected system")
	}
	if !(math.Abs(scale[0]-scale[1]) <= 1e-9*scale[0]) {
		return fmt.Errorf("pixels of %g by %g m: resample the raster to square ones", scale[0], scale[1])
	}
	g.Pixel = scale[0]
	epsg, point, err := f.geoKeys()
	if err != nil {
		return err
	}
	g.EPSG = epsg
	// A tie point names the corner of pixel i, j, or its middle where the
	// raster is said to hold points.
	i, j := tie[0], tie[1]
	if point {
		i, j = i+0.5, j+0.5
	}
	g.West = tie[3] - float64(i*g.Pixel)
	g.North = tie[4] + float64(j*g.Pixel)
	return nil
}

// geoKeys returns the code of the projected system, and whether the pixels
// stand for points.
func (f *tiffFile) geoKeys() (epsg int, point bool, err error) {
	keys, err := f.uints(tagGeoKeys)
	if err != nil {
		return 0, false, err
	}
	if len(keys) < 4 || uint64(len(keys)) < 4+4*uint64(keys[3]) {
		return 0, false, fmt.Errorf("no coordinate system: write the raster with the EPSG code of a projected one")
	}
	for k := range int(keys[3]) {
		key := keys[4+4*k:][:4]
		if key[1] != 0 { // the value stands elsewhere; the ones sought never do
			continue
		}
		switch key[0] {
		case keyModelType:
			if key[3] != modelProjected {
				return 0, false, fmt.Errorf("coordinate system is not a projected one: warp the raster to UTM or the like")
			}
		case keyRasterType:
			point = key[3] == pixelIsPoint
		case keyProjected:
			epsg = int(key[3])
		}
	}
	if epsg == 0 || epsg == userDefined {
		return 0, false, fmt.Errorf("projected system without an EPSG code: write the raster with one, such as that of the UTM zone")
	}
	return epsg, point, nil
}

// noData returns the value that marks no data in the file, or NoData when it
// names none.
func (f *tiffFile) noData() (float32, error) {
	s, err := f.text(tagGDALNoData)
	if err != nil || strings.TrimSpace(s) == "" {
		return NoData, err
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		return 0, fmt.Errorf("no-data value %.40q is not a number", s)
	}
	return float32(v), nil
}
