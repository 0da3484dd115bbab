package raster

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// ReadGeoTIFF reads a GeoTIFF of size bytes that [WriteGeoTIFF] wrote, and
// other plain ones of the same kind: one band of float32, tiles or strips,
// deflate or no compression, no predictor or (little-endian only) the floating
// point one, square pixels, north up, in a projected system that has an EPSG code. The first
// image is read, and overviews are passed over.
//
// Pixels that hold the no-data value of the file, or NaN, become NoData; -9999
// counts as no data whatever the file says. Meta holds the metadata items of
// GDAL that are not about a band, and is nil when there are none.
//
// Anything else is an error, as are more than MaxPixels, an infinite value and
// parts of the file that overlap or are missing. No more memory is taken than
// the compressed data in the file can fill.
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
	if g.Meta, err = f.meta(); err != nil {
		return nil, err
	}
	noData, err := f.noData()
	if err != nil {
		return nil, err
	}
	if g.Data, err = f.pixels(l); err != nil {
		return nil, err
	}
	for i, v := range g.Data {
		switch {
		case v != v || v == noData:
			g.Data[i] = NoData
		case v-v != 0:
			return nil, fmt.Errorf("value %g at column %d, row %d", v, i%g.Width, i/g.Width)
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

// meta returns the items of the file as a whole from the XML of GDAL.
func (f *tiffFile) meta() (map[string]string, error) {
	s, err := f.text(tagGDALMetadata)
	if err != nil || s == "" {
		return nil, err
	}
	var doc struct {
		XMLName xml.Name `xml:"GDALMetadata"`
		Items   []struct {
			Name   string  `xml:"name,attr"`
			Sample *string `xml:"sample,attr"`
			Role   *string `xml:"role,attr"`
			Domain *string `xml:"domain,attr"`
			Value  string  `xml:",chardata"`
		} `xml:"Item"`
	}
	if err := xml.Unmarshal([]byte(s), &doc); err != nil {
		return nil, fmt.Errorf("metadata of tag %d: %w", tagGDALMetadata, err)
	}
	var meta map[string]string
	for _, item := range doc.Items {
		if item.Sample != nil || item.Role != nil || item.Domain != nil {
			continue
		}
		item.Value = unescape(item.Value)
		if err := checkItem(item.Name, item.Value); err != nil {
			return nil, err
		}
		if _, twice := meta[item.Name]; twice {
			return nil, fmt.Errorf("metadata item %q is there twice", item.Name)
		}
		if meta == nil {
			meta = map[string]string{}
		}
		meta[item.Name] = item.Value
	}
	return meta, nil
}
