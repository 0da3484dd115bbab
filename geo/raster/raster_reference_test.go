//go:build reference

package raster

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
)

func tool(t *testing.T, stdin, name string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Stdin = strings.NewReader(stdin)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %v: %v: %s", name, args, err, stderr.String())
	}
	if stderr.Len() > 0 {
		t.Errorf("%s %v complains: %s", name, args, stderr.String())
	}
	return out
}

func written(t *testing.T, g *Grid) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "grid.tif")
	if err := os.WriteFile(name, encode(t, g), 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

func TestReferenceGDALReadsWhatWeWrite(t *testing.T) {
	g := wavy(613, 517)
	name := written(t, g)
	var info struct {
		Size         []int
		GeoTransform []float64
		Metadata     map[string]map[string]string
		STAC         struct {
			EPSG int `json:"proj:epsg"`
		}
		Bands []struct {
			Block                  []int
			Type                   string
			NoDataValue            float64
			Min, Max, Mean, StdDev float64
			Metadata               map[string]map[string]string
		}
	}
	if err := json.Unmarshal(tool(t, "", "gdalinfo", "-json", name), &info); err != nil {
		t.Fatal(err)
	}
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
	if s := info.Metadata["IMAGE_STRUCTURE"]; s["COMPRESSION"] != "DEFLATE" || s["PREDICTOR"] != "3" {
		t.Errorf("structure %v", s)
	}
	if len(info.Bands) != 1 {
		t.Fatalf("%d bands", len(info.Bands))
	}
	b := info.Bands[0]
	if b.Type != "Float32" || b.NoDataValue != -9999 || !reflect.DeepEqual(b.Block, []int{256, 256}) {
		t.Errorf("band %+v", b)
	}
	s := g.Stats()
	for name, want := range map[string]float64{"MINIMUM": s.Min, "MAXIMUM": s.Max, "MEAN": s.Mean, "STDDEV": s.StdDev, "VALID_PERCENT": 100 * float64(s.Count) / float64(len(g.Data))} {
		got, err := strconv.ParseFloat(b.Metadata[""]["STATISTICS_"+name], 64)
		if err != nil || got != want {
			t.Errorf("%s: got %v, %v, want %v", name, got, err, want)
		}
	}
}

// The statistics are those that GDAL itself finds in the pixels.
func TestReferenceGDALFindsTheSameStatistics(t *testing.T) {
	g := wavy(613, 517)
	out := tool(t, "", "/usr/bin/python3", "-c", `
import sys
from osgeo import gdal
gdal.UseExceptions()
ds = gdal.Open(sys.argv[1])
print(*map(repr, ds.GetRasterBand(1).ComputeStatistics(False)))`, written(t, g))
	var low, high, mean, dev float64
	if _, err := fmt.Sscan(string(out), &low, &high, &mean, &dev); err != nil {
		t.Fatal(err)
	}
	s := g.Stats()
	near(t, "minimum", low, s.Min, 0)
	near(t, "maximum", high, s.Max, 0)
	near(t, "mean", mean, s.Mean, 1e-12*math.Abs(s.Mean))
	near(t, "standard deviation", dev, s.StdDev, 1e-9*s.StdDev)
}

func TestReferenceIsCloudOptimized(t *testing.T) {
	name := written(t, wavy(500, 400)) // above 512 overviews are asked for
	out := tool(t, "", "/usr/bin/python3", "-m", "osgeo_utils.samples.validate_cloud_optimized_geotiff", name)
	if !strings.Contains(string(out), "is a valid cloud optimized GeoTIFF") || strings.Contains(string(out), "warning") {
		t.Errorf("GDAL says: %s", out)
	}
}

func TestReferenceGDALFindsOurValuesInPlace(t *testing.T) {
	g := wavy(613, 517)
	name := written(t, g)
	rng := rand.New(rand.NewPCG(5, 6))
	var points strings.Builder
	var want []float32
	for range 500 {
		x, y := g.West+float64(g.Width)*g.Pixel*rng.Float64(), g.North-float64(g.Height)*g.Pixel*rng.Float64()
		col, row, ok := g.Cell(x, y)
		if !ok {
			t.Fatalf("%v, %v lies outside", x, y)
		}
		fmt.Fprintf(&points, "%v %v\n", x, y)
		want = append(want, g.At(col, row))
	}
	got := strings.Fields(string(tool(t, points.String(), "gdallocationinfo", "-valonly", "-geoloc", name)))
	if len(got) != len(want) {
		t.Fatalf("%d values for %d points", len(got), len(want))
	}
	for i, s := range got {
		if v, err := strconv.ParseFloat(s, 64); err != nil || float32(v) != want[i] {
			t.Errorf("point %d: got %s, want %v", i, s, want[i])
		}
	}
}

func TestReferenceASCIIGridIsReadByGDAL(t *testing.T) {
	g := wavy(61, 47)
	name := filepath.Join(t.TempDir(), "grid.asc")
	var b bytes.Buffer
	if err := WriteASCII(&b, g); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	back := filepath.Join(t.TempDir(), "back.tif")
	tool(t, "", "gdal_translate", "-q", "-a_srs", "EPSG:32615", name, back)
	compareWithFile(t, g, back)
}

// GDAL reads our file, writes it in each form that is read here, and all values
// come back.
func TestReferenceFilesOfGDALAreRead(t *testing.T) {
	g := wavy(613, 517)
	name := written(t, g)
	for _, options := range [][]string{
		{},
		{"COMPRESS=DEFLATE"},
		{"COMPRESS=DEFLATE", "PREDICTOR=3"},
		{"COMPRESS=DEFLATE", "PREDICTOR=3", "TILED=YES", "BLOCKXSIZE=128", "BLOCKYSIZE=64"},
		{"TILED=YES"},
		{"ENDIANNESS=BIG"},
		{"ENDIANNESS=BIG", "COMPRESS=DEFLATE", "TILED=YES"},
	} {
		args := []string{"-q"}
		for _, o := range options {
			args = append(args, "-co", o)
		}
		back := filepath.Join(t.TempDir(), "back.tif")
		tool(t, "", "gdal_translate", append(args, name, back)...)
		compareWithFile(t, g, back)
	}
	cloud := filepath.Join(t.TempDir(), "cog.tif")
	tool(t, "", "gdal_translate", "-q", "-of", "COG", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=YES", name, cloud)
	compareWithFile(t, g, cloud)
}

func compareWithFile(t *testing.T, g *Grid, name string) {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	got, err := decode(b)
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	if got.Geometry != g.Geometry || !reflect.DeepEqual(got.Data, g.Data) {
		t.Errorf("%s: came back changed: %+v", name, got.Geometry)
	}
	if strings.HasSuffix(name, ".tif") && got.Meta != nil && !reflect.DeepEqual(got.Meta, g.Meta) {
		t.Errorf("%s: metadata %q", name, got.Meta)
	}
}
