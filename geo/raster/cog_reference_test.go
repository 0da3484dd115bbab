//go:build reference

package raster

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

type gdalBand struct {
	Block                  []int
	Type                   string
	Description, Unit      string
	NoDataValue            float64
	Min, Max, Mean, StdDev float64
	Overviews              []struct{ Size []int }
	Metadata               map[string]map[string]string
}

type gdalFile struct {
	Size         []int
	GeoTransform []float64
	Metadata     map[string]map[string]string
	STAC         struct {
		EPSG int `json:"proj:epsg"`
	}
	Bands []gdalBand
}

func gdalInfo(t *testing.T, args ...string) gdalFile {
	t.Helper()
	var f gdalFile
	if err := json.Unmarshal(tool(t, "", "gdalinfo", append([]string{"-json"}, args...)...), &f); err != nil {
		t.Fatal(err)
	}
	return f
}

// wantStats compares statistics that GDAL has worked out: it sums in another
// order.
func wantStats(t *testing.T, got gdalBand, b Band) {
	t.Helper()
	s := b.Stats()
	for name, want := range map[string]float64{"MINIMUM": s.Min, "MAXIMUM": s.Max, "MEAN": s.Mean, "STDDEV": s.StdDev, "VALID_PERCENT": 100 * float64(s.Count) / float64(len(b.Data))} {
		text, there := got.Metadata[""]["STATISTICS_"+name]
		if s.Count == 0 && name != "VALID_PERCENT" {
			if there {
				t.Errorf("%s of no values: %s", name, text)
			}
			continue
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		tolerance := 1e-12 * math.Abs(want)
		if name == "VALID_PERCENT" {
			tolerance = 1e-3 * want // GDAL writes four digits
		}
		near(t, name, v, want, tolerance)
	}
}

func TestReferenceGDALReadsWhatWeWrite(t *testing.T) {
	for _, g := range []*Grid{wavy(613, 517), withError(613, 517)} {
		info := gdalInfo(t, written(t, g))
		if !reflect.DeepEqual(info.Size, []int{613, 517}) || !reflect.DeepEqual(info.GeoTransform, []float64{g.West, 2.5, 0, g.North, 0, -2.5}) {
			t.Errorf("size %v, place %v", info.Size, info.GeoTransform)
		}
		if info.STAC.EPSG != 32615 {
			t.Errorf("EPSG code %d", info.STAC.EPSG)
		}
		meta := info.Metadata[""]
		if meta["AREA_OR_POINT"] != "Area" {
			t.Errorf("AREA_OR_POINT=%s", meta["AREA_OR_POINT"])
		}
		delete(meta, "AREA_OR_POINT")
		if !reflect.DeepEqual(meta, g.Meta) {
			t.Errorf("metadata %q, want %q", meta, g.Meta)
		}
		if s := info.Metadata["IMAGE_STRUCTURE"]; s["COMPRESSION"] != "DEFLATE" || s["PREDICTOR"] != "3" || s["LAYOUT"] != "COG" || s["INTERLEAVE"] != "BAND" {
			t.Errorf("structure %v", s)
		}
		if len(info.Bands) != g.bandCount() {
			t.Fatalf("%d bands", len(info.Bands))
		}
		for i, b := range info.Bands {
			want := g.band(i)
			if b.Type != "Float32" || b.NoDataValue != -9999 || !reflect.DeepEqual(b.Block, []int{320, 272}) || len(b.Overviews) != 1 {
				t.Errorf("band %+v", b)
			}
			if b.Description != want.Name || b.Unit != want.Unit {
				t.Errorf("band %d: %q, %q, want %q, %q", i, b.Description, b.Unit, want.Name, want.Unit)
			}
			wantStats(t, b, want)
		}
	}
}

// The statistics are those that GDAL itself finds in the pixels: asked to look
// at the pixels of our file, and in a copy that has lost what we say about them.
func TestReferenceGDALFindsTheSameStatistics(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {61, 47}, {1613, 517}} {
		g := withError(size[0], size[1])
		g.More = g.More[:1] // GDAL complains about bands without values
		name := written(t, g)
		out := tool(t, "", "/usr/bin/python3", "-c", `
import sys
from osgeo import gdal
gdal.UseExceptions()
ds = gdal.Open(sys.argv[1])
for i in range(ds.RasterCount):
    print(*map(repr, ds.GetRasterBand(i + 1).ComputeStatistics(False)))`, name)
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		if len(lines) != 2 {
			t.Fatalf("GDAL says: %s", out)
		}
		copied := filepath.Join(t.TempDir(), "copy.tif")
		tool(t, "", "/usr/bin/python3", "-c", `
import sys
from osgeo import gdal
gdal.UseExceptions()
source = gdal.Open(sys.argv[1])
ds = gdal.GetDriverByName("GTiff").Create(sys.argv[2], source.RasterXSize, source.RasterYSize, source.RasterCount, gdal.GDT_Float32)
for i in range(source.RasterCount):
    band = ds.GetRasterBand(i + 1)
    band.SetNoDataValue(-9999)
    band.WriteArray(source.GetRasterBand(i + 1).ReadAsArray())`, name, copied)
		for _, b := range gdalInfo(t, copied).Bands {
			if b.Metadata[""] != nil {
				t.Fatalf("the copy says %v", b.Metadata)
			}
		}
		bands := gdalInfo(t, "-stats", copied).Bands
		for i, line := range lines {
			var low, high, mean, dev float64
			if _, err := fmt.Sscan(line, &low, &high, &mean, &dev); err != nil {
				t.Fatal(err)
			}
			s := g.band(i).Stats()
			near(t, "minimum", low, s.Min, 0)
			near(t, "maximum", high, s.Max, 0)
			near(t, "mean", mean, s.Mean, 1e-12*math.Abs(s.Mean))
			near(t, "standard deviation", dev, s.StdDev, 1e-9*s.StdDev)
			wantStats(t, bands[i], g.band(i))
		}
	}
}

func TestReferenceIsCloudOptimized(t *testing.T) {
	for _, size := range [][2]int{
		{1, 1}, {30, 40}, {255, 257}, {256, 256}, {257, 255}, {511, 512}, {512, 513}, {513, 700}, {4000, 3000},
		{1, 20000}, {20000, 1}, {3, 513}, {9000, 17},
	} {
		for _, g := range []*Grid{wavy(size[0], size[1]), withError(size[0], size[1])} {
			name := written(t, g)
			out := string(tool(t, "", "/usr/bin/python3", "-m", "osgeo_utils.samples.validate_cloud_optimized_geotiff", "--full-check=yes", name))
			if !strings.Contains(out, "is a valid cloud optimized GeoTIFF") || strings.Contains(out, "warning") {
				t.Errorf("%v, %d bands: GDAL says: %s", size, g.bandCount(), out)
			}
		}
	}
}

// All values of all bands come out of GDAL bit by bit.
func TestReferenceGDALReadsOurBits(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {160, 160}, {513, 700}, {3, 1500}} {
		g := withError(size[0], size[1])
		var want []byte
		for i := range g.bandCount() {
			for _, v := range g.band(i).Data {
				want = binary.LittleEndian.AppendUint32(want, math.Float32bits(v))
			}
		}
		if got := pixelsByGDAL(t, written(t, g), 0); !bytes.Equal(got, want) {
			t.Errorf("%v: %d bytes, or other ones than the %d written", size, len(got), len(want))
		}
	}
}

// pixelsByGDAL returns the float32 values of all bands of an overview, or of
// the image itself for 0.
func pixelsByGDAL(t *testing.T, name string, overview int) []byte {
	t.Helper()
	return tool(t, "", "/usr/bin/python3", "-c", `
import sys
from osgeo import gdal
gdal.UseExceptions()
ds, k = gdal.Open(sys.argv[1]), int(sys.argv[2])
for i in range(ds.RasterCount):
    band = ds.GetRasterBand(i + 1)
    if k:
        band = band.GetOverview(k - 1)
    sys.stdout.buffer.write(band.ReadAsArray().astype("<f4").tobytes())`, name, strconv.Itoa(overview))
}

// Where all sizes are even, the overviews are those of gdaladdo -r average. For
// odd ones it weighs up to three columns or rows by their part in a pixel that
// is a little less than two of them wide, so those are not compared.
func TestReferenceOverviewsAreThoseOfGDAL(t *testing.T) {
	g := withError(2048, 1200)
	rng := rand.New(rand.NewPCG(7, 8))
	for i := range g.Data {
		if rng.IntN(4) == 0 {
			g.Data[i] = NoData
		}
	}
	name, plain := written(t, g), filepath.Join(t.TempDir(), "plain.tif")
	tool(t, "", "gdal_translate", "-q", name, plain)
	tool(t, "", "gdaladdo", "-q", "-r", "average", plain, "2", "4")
	if ours := gdalInfo(t, name).Bands[0].Overviews; len(ours) != 2 {
		t.Fatalf("overviews %v", ours)
	}
	for k := 1; k <= 2; k++ {
		ours, theirs := pixelsByGDAL(t, name, k), pixelsByGDAL(t, plain, k)
		if len(ours) != len(theirs) || len(ours) != 3*4*2048*1200>>(2*k) {
			t.Fatalf("overview %d: %d and %d bytes", k, len(ours), len(theirs))
		}
		for i := 0; i < len(ours); i += 4 {
			a, b := math.Float32frombits(binary.LittleEndian.Uint32(ours[i:])), math.Float32frombits(binary.LittleEndian.Uint32(theirs[i:]))
			if !(math.Abs(float64(a-b)) <= 1e-6*math.Abs(float64(b))) {
				t.Fatalf("overview %d, value %d: %v, GDAL has %v", k, i/4, a, b)
			}
		}
	}
}
