//go:build reference

package vector

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/paulmach/orb"
)

func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
	return string(out)
}

// gdalReads has ogr2ogr turn a file into GeoJSON in the file's own system with
// all digits, and returns it as read from its text, undigested.
func gdalReads(t *testing.T, path string) []struct {
	Properties map[string]any
	Geometry   struct {
		Type        string
		Coordinates any
	}
} {
	t.Helper()
	out := filepath.Join(t.TempDir(), "gdal.geojson")
	run(t, "ogr2ogr", "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=15", out, path)
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		Features []struct {
			Properties map[string]any
			Geometry   struct {
				Type        string
				Coordinates any
			}
		}
	}
	d := json.NewDecoder(bytes.NewReader(b))
	if err := d.Decode(&c); err != nil {
		t.Fatal(err)
	}
	return c.Features
}

// numbersOf lists the numbers in nested lists.
func numbersOf(v any) []float64 {
	switch v := v.(type) {
	case float64:
		return []float64{v}
	case []any:
		var out []float64
		for _, e := range v {
			out = append(out, numbersOf(e)...)
		}
		return out
	}
	return nil
}

// GDAL reads our shapefiles to the numbers that we put in.
func TestReferenceGDALReadsOurShapefile(t *testing.T) {
	fields, features := farm()
	for _, code := range []int{4326, 26915, 3418, 3857} {
		path := filepath.Join(t.TempDir(), "rates.shp")
		sys := system(t, code)
		if err := WriteShapefile(path, sys, fields, features); err != nil {
			t.Fatal(err)
		}
		info := run(t, "ogrinfo", "-ro", "-al", "-so", path)
		for _, want := range []string{"Geometry: Polygon", "Feature Count: 2", "sample_id_: String (4.0)", "sample_i_2: String (5.0)",
			"rate_kg_pe: Real (8.3)", "n: Integer64 (12.0)", "day: Date"} {
			if !strings.Contains(info, want) {
				t.Errorf("EPSG %d: no %q in\n%s", code, want, info)
			}
		}
		for _, bad := range []string{"Warning", "ERROR"} {
			if strings.Contains(info, bad) {
				t.Errorf("EPSG %d: %s", code, info)
			}
		}
		if !strings.Contains(run(t, "gdalsrsinfo", "-o", "epsg", path), fmt.Sprint("EPSG:", code)) {
			t.Errorf("EPSG %d is not recognised: %s", code, run(t, "gdalsrsinfo", "-o", "epsg", path))
		}
		out := run(t, "ogrinfo", "-ro", "-al", "-q", path)
		if !strings.Contains(out, "MULTIPOLYGON") || !strings.Contains(out, "Grün") {
			t.Errorf("EPSG %d: %s", code, out)
		}
		// Back to longitude and latitude by PROJ.
		back := filepath.Join(t.TempDir(), "back.geojson")
		run(t, "ogr2ogr", "-f", "GeoJSON", "-t_srs", "EPSG:4326", "-lco", "COORDINATE_PRECISION=15", back, path)
		l, err := Read(back, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range features {
			if !sameShapes(orb.MultiPolygon(features[i].Shape), orb.MultiPolygon(l.Features[i].Shape), 1e-9) {
				t.Errorf("EPSG %d, feature %d: %v, want %v", code, i+1, l.Features[i].Shape, features[i].Shape)
			}
		}
		p := gdalReads(t, path)[0].Properties
		if p["sample_id_"] != "0012" || p["sample_i_2"] != "Grün" || p["rate_kg_pe"] != 1234.5 || p["n"] != -7.0 || p["day"] != "2024-05-03" || p["ok"] != "T" {
			t.Errorf("EPSG %d: %v", code, p)
		}
	}
}

// GDAL reads our GeoJSON to the very coordinates.
func TestReferenceGDALReadsOurGeoJSON(t *testing.T) {
	_, features := farm()
	path := filepath.Join(t.TempDir(), "a.geojson")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := WriteGeoJSON(f, Collection{Features: features, Members: []Member{{"corewalk", map[string]int{"seed": 1}}}}); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	l, err := Read(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, g := range gdalReads(t, path) {
		var want []float64
		for _, polygon := range l.Features[i].Shape {
			for _, ring := range polygon {
				for _, p := range ring {
					want = append(want, p[0], p[1])
				}
			}
		}
		if fmt.Sprint(numbersOf(g.Geometry.Coordinates)) != fmt.Sprint(want) {
			t.Errorf("feature %d: %v, want %v", i+1, g.Geometry.Coordinates, want)
		}
	}
}

// Files that ogr2ogr writes now, in several systems, read to the same place as
// the GeoJSON that they come from, within 1e-9 degree (0.1 mm).
func TestReferenceOgr2ogrFilesRead(t *testing.T) {
	in := filepath.Join(folder, "fields.geojson")
	want := mustRead(t, "fields.geojson")
	worst := 0.0
	for _, code := range []string{"4326", "26915", "3418", "3857", "32615", "5070", "26975"} {
		for _, kind := range []string{"shp", "geojson"} {
			for _, dim := range []string{"XY", "XYZ", "XYM", "XYZM"} {
				if kind == "geojson" && strings.Contains(dim, "M") {
					continue // GeoJSON has no measures
				}
				path := filepath.Join(t.TempDir(), "a."+kind)
				args := []string{"-t_srs", "EPSG:" + code, "-dim", dim}
				if kind == "shp" {
					args = append(args, "-lco", "ENCODING=UTF-8")
				} else {
					args = append(args, "-lco", "COORDINATE_PRECISION=12")
				}
				run(t, "ogr2ogr", append(args, path, in)...)
				got, err := Read(path, Options{})
				if err != nil {
					t.Errorf("EPSG %s, %s, %s: %v", code, kind, dim, err)
					continue
				}
				for i := range want.Features {
					w, g := orb.MultiPolygon(want.Features[i].Shape), orb.MultiPolygon(got.Features[i].Shape)
					if !sameShapes(w, g, 1e-9) {
						t.Errorf("EPSG %s, %s, %s, feature %d: %v, want %v", code, kind, dim, i+1, g, w)
					}
					for _, p := range g[0][0] {
						nearest := math.Inf(1)
						for _, q := range w[0][0] {
							nearest = min(nearest, max(math.Abs(p[0]-q[0]), math.Abs(p[1]-q[1])))
						}
						worst = max(worst, nearest)
					}
				}
				if name, _ := got.Text(&got.Features[0], "name"); name != "Grünfeld Süd" {
					t.Errorf("EPSG %s, %s: name %q", code, kind, name)
				}
			}
		}
	}
	t.Logf("worst difference %.2g degree", worst)
}

// GDAL decodes a table by its language driver number as we do, but for bytes
// that a code page does not define, which it drops and we mark.
func TestReferenceGDALLanguageDrivers(t *testing.T) {
	var single []byte
	for c := 0xa1; c < 0xff; c++ {
		single = append(single, byte(c))
	}
	compared := 0
	for driver := 1; driver < 256; driver++ {
		enc := drivenPage(byte(driver))
		if enc == nil {
			continue
		}
		sample := single
		switch driver {
		case 0x13, 0x4d, 0x4e, 0x4f, 0x78, 0x79, 0x7a, 0x7b:
			// A sign of two bytes that all four East Asian pages have.
			sample = []byte("\xb0\xa1")
		}
		path := filepath.Join(t.TempDir(), "a.dbf")
		if err := os.WriteFile(path, makeDBF(byte(driver), []dbfColumnSpec{{"P", 'C', len(sample), 0}}, " "+string(sample)), 0o666); err != nil {
			t.Fatal(err)
		}
		_, cell, _ := strings.Cut(run(t, "ogrinfo", "-ro", "-al", "-q", path), "P (String) = ")
		cell, _, _ = strings.Cut(cell, "\n")
		if !utf8.ValidString(cell) || cell == string(sample) {
			// 0x09 is listed as code page 437 but not acted on by GDAL.
			if driver != 0x09 {
				t.Errorf("driver %#x: GDAL does not decode it", driver)
			}
			continue
		}
		if got := strings.ReplaceAll(decoderOf(enc)(sample), "\ufffd", ""); got != cell {
			t.Errorf("driver %#x:\n got %s\nGDAL %s", driver, got, cell)
		}
		compared++
	}
	if compared < 50 {
		t.Errorf("only %d numbers compared", compared)
	}
}
