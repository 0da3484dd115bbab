package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/geo/vector"
)

// faulty has a fault of every kind that a polygon file can have.
const faulty = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"bow"},"geometry":{"type":"Polygon","coordinates":[[[10,48],[10.004,48.003],[10.004,48],[10,48.0031],[10,48]]]}},
{"type":"Feature","properties":{"name":"spike"},"geometry":{"type":"Polygon","coordinates":[[[10.01,48],[10.014,48],[10.014,48.003],[10.012,48.003],[10.012,48.006],[10.012,48.003],[10.01,48.003],[10.01,48.003],[10.01,48]]]}},
{"type":"Feature","properties":{"name":"open"},"geometry":{"type":"Polygon","coordinates":[[[10.02,48],[10.02,48.003],[10.024,48.003],[10.024,48]],[[10.03,48],[10.031,48],[10.031,48.001],[10.03,48]]]}},
{"type":"Feature","properties":{"name":"over"},"geometry":{"type":"Polygon","coordinates":[[[10.022,48],[10.026,48],[10.026,48.003],[10.022,48.003],[10.022,48]]]}},
{"type":"Feature","properties":{"name":"tiny"},"geometry":{"type":"MultiPolygon","coordinates":[[[[10.04,48],[10.044,48],[10.044,48.003],[10.04,48]]],[[[10.05,48],[10.050001,48],[10.050001,48.000001],[10.05,48]]]]}},
{"type":"Feature","properties":{"name":"whole"},"geometry":{"type":"Polygon","coordinates":[[[10.06,48],[10.064,48],[10.064,48.003],[10.06,48.003],[10.06,48]]]}}]}`

func check(t *testing.T, status int, args ...string) []checkedFile {
	t.Helper()
	stdout, stderr, got := call(t, append([]string{"check", "--json"}, args...)...)
	if got != status {
		t.Fatalf("status %d, want %d: %s", got, status, stderr)
	}
	var out struct{ Files []checkedFile }
	if err := json.Unmarshal([]byte(stdout), &out); err != nil {
		t.Fatal(err)
	}
	return out.Files
}

func TestCheckFindsEveryFault(t *testing.T) {
	dir := t.TempDir()
	file := write(t, filepath.Join(dir, "faulty.geojson"), faulty)
	c := check(t, exitDone, file)[0]
	if c.System.EPSG != 4326 || c.System.From != "GeoJSON (RFC 7946)" || len(c.Features) != 6 || c.Columns[0].Name != "name" {
		t.Errorf("%+v", c)
	}
	found := map[string]bool{}
	for _, f := range c.Findings {
		found[fmt.Sprintf("%s: %s", f.Name, f.Problem)] = true
		if f.Outcome != geo.Mended || f.Text == "" || f.Done == "" {
			t.Errorf("%+v", f)
		}
		if f.Problem == "crossing" && f.Name == "bow" && (f.At == nil || f.Changed == nil || f.At.Lon() < 10.0019 || f.At.Lon() > 10.0021) {
			t.Errorf("the crossing of the bow is told as %+v", f)
		}
	}
	for _, want := range []string{
		"bow: crossing", "spike: spike", "spike: doubled point", "open: unclosed ring", "open: winding", "open: hole outside",
		"over: overlap", "tiny: no area", "tiny: sliver",
	} {
		if !found[want] {
			t.Errorf("%q is not found; found: %v", want, found)
		}
	}
	for f := range found {
		if strings.HasPrefix(f, "whole") {
			t.Errorf("a sound feature has a fault: %s", f)
		}
	}
	stdout := mustCall(t, "check", file)
	for _, want := range []string{"true area", "ha", "ac", "perimeter", "MENDED: feature 1 (bow) at 10.00", "even-odd"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the terminal does not say %q", want)
		}
	}
}

func TestCheckMends(t *testing.T) {
	dir := t.TempDir()
	file := write(t, filepath.Join(dir, "faulty.geojson"), faulty)
	before := check(t, exitDone, file)[0]
	for _, name := range []string{"mended.geojson", "mended.shp"} {
		to := filepath.Join(dir, name)
		mustCall(t, "check", file, "--mend", to)
		after := check(t, exitDone, to)[0]
		if len(after.Findings) > 0 {
			t.Errorf("%s: %+v", name, after.Findings)
		}
		for i, f := range after.Features {
			want := before.Features[i]
			if f.Name != want.Name || f.AreaM2 < want.AreaM2*(1-1e-6)-0.1 || f.AreaM2 > want.AreaM2*(1+1e-6)+0.1 {
				t.Errorf("%s: %s has %.3f m², was to have %.3f", name, f.Name, f.AreaM2, want.AreaM2)
			}
		}
		if _, stderr, status := call(t, "check", to, "--mend", to, "--force"); status != exitFailed || !strings.Contains(stderr, "input") {
			t.Errorf("%s was mended onto itself: %s", name, stderr)
		}
	}
}

func TestCheckRefuses(t *testing.T) {
	dir := t.TempDir()
	square := func(w, s float64) string {
		return fmt.Sprintf(`{"type":"Polygon","coordinates":[[[%g,%g],[%g,%g],[%g,%g],[%g,%g]]]}`, w, s, w+1, s, w+1, s+1, w, s)
	}
	copyShp := func(stem, prj string) string {
		for _, ext := range []string{".shp", ".shx", ".dbf"} {
			data, err := os.ReadFile("../../testdata/vector/utm" + ext)
			if err != nil {
				t.Fatal(err)
			}
			write(t, filepath.Join(dir, stem+ext), string(data))
		}
		if prj != "" {
			write(t, filepath.Join(dir, stem+".prj"), prj)
		}
		return filepath.Join(dir, stem+".shp")
	}
	const nad27 = `GEOGCS["NAD27",DATUM["North_American_Datum_1927",SPHEROID["Clarke 1866",6378206.4,294.978698213898]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]`
	const paris = `GEOGCS["NTF (Paris)",DATUM["Nouvelle_Triangulation_Francaise_Paris",SPHEROID["Clarke 1880 (IGN)",6378249.2,293.466021293627]],PRIMEM["Paris",2.33722917],UNIT["grad",0.01570796326794897]]`
	for _, c := range []struct {
		name string
		args []string
		want []string
	}{
		{"swapped", []string{write(t, filepath.Join(dir, "swap.geojson"), square(42, -93.5))}, []string{"swap.geojson", "swapped"}},
		{"projected without a system", []string{write(t, filepath.Join(dir, "metres.geojson"), square(500000, 4649776))}, []string{"projected", "--crs"}},
		{"no .prj", []string{copyShp("bare", "")}, []string{"bare.shp", ".prj", "--crs"}},
		{"NAD27", []string{copyShp("old", nad27)}, []string{"NAD27", "ogr2ogr"}},
		{"not Greenwich", []string{copyShp("paris", paris)}, []string{"Paris", "ogr2ogr"}},
		{"unknown code", []string{"--crs", "EPSG:999999", copyShp("code", "")}, []string{"999999"}},
		{"degrees under metres", []string{"--crs", "EPSG:32632", write(t, filepath.Join(dir, "far.geojson"), square(7e6, 1e7))}, []string{"far.geojson"}},
		{"not there", []string{filepath.Join(dir, "gone.shp")}, []string{"gone.shp", "not there"}},
		{"no ground", []string{write(t, filepath.Join(dir, "line.geojson"), `{"type":"Polygon","coordinates":[[[10,48],[10.0001,48],[10.0002,48],[10,48]]]}`)}, []string{"REFUSED", "feature 1"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			stdout, _, status := call(t, append([]string{"check"}, c.args...)...)
			if status != exitFailed || !strings.Contains(stdout, "REFUSED") {
				t.Errorf("status %d: %s", status, stdout)
			}
			for _, w := range c.want {
				if !strings.Contains(stdout, w) {
					t.Errorf("%q is not in: %s", w, stdout)
				}
			}
		})
	}
}

func TestCheckFilesApart(t *testing.T) {
	dir := t.TempDir()
	at := func(name string, lon, lat float64) string {
		return write(t, filepath.Join(dir, name), fmt.Sprintf(`{"type":"Polygon","coordinates":[[[%g,%g],[%g,%g],[%g,%g],[%g,%g]]]}`,
			lon, lat, lon+0.01, lat, lon+0.01, lat+0.01, lon, lat))
	}
	a, b, c := at("a.geojson", 10, 48), at("b.geojson", 48, 10), at("c.geojson", -90, 40)
	if out := mustCall(t, "check", a, b); !strings.Contains(out, "swapped") {
		t.Errorf("swapped files are not told: %s", out)
	}
	if out := mustCall(t, "check", a, c); !strings.Contains(out, "far apart") {
		t.Errorf("files far apart are not told: %s", out)
	}
	if out := mustCall(t, "check", a, a); strings.Contains(out, "NOTE") {
		t.Errorf("%s", out)
	}
}

// damaged changes random bytes of real files and checks them: status 0 or 1
// each time, and never a panic.
func damaged(t *testing.T, n int) {
	t.Helper()
	files, err := filepath.Glob("../../testdata/vector/*")
	if err != nil {
		t.Fatal(err)
	}
	files = slices.DeleteFunc(files, func(f string) bool {
		return !slices.Contains([]string{".shp", ".geojson", ".zip"}, strings.ToLower(filepath.Ext(f)))
	})
	if len(files) < 8 {
		t.Fatalf("only %d files to damage", len(files))
	}
	r := rand.New(rand.NewPCG(1, 2))
	dir := t.TempDir()
	refused := 0
	for i := range n {
		file := files[r.IntN(len(files))]
		parts := partsOf(file)
		hit := r.IntN(len(parts))
		for k, part := range parts {
			data, err := os.ReadFile(part)
			if err != nil {
				t.Fatal(err)
			}
			if k == hit {
				for range 1 + r.IntN(8) {
					data[r.IntN(len(data))] = byte(r.IntN(256))
				}
				if r.IntN(10) == 0 {
					data = data[:r.IntN(len(data))]
				}
			}
			write(t, filepath.Join(dir, filepath.Base(part)), string(data))
		}
		switch _, stderr, status := call(t, "check", filepath.Join(dir, filepath.Base(file))); {
		case status == exitFailed:
			refused++
		case status != exitDone:
			t.Fatalf("damaged file %d (%s): status %d: %s", i, file, status, stderr)
		}
	}
	if refused == 0 || refused == n {
		t.Errorf("%d of %d damaged files were refused; the damage does not test much", refused, n)
	}
	t.Logf("%d damaged files, %d refused", n, refused)
}

func TestCheckDamagedFiles(t *testing.T) { damaged(t, 300) }

// TestMendedKeepsValues writes a mended file and finds every attribute again.
func TestMendedKeepsValues(t *testing.T) {
	dir := t.TempDir()
	to := filepath.Join(dir, "out.geojson")
	mustCall(t, "check", "../../testdata/vector/utm.shp", "--mend", to)
	a, err := vector.Read("../../testdata/vector/utm.shp", vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := vector.Read(to, vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Features) != len(b.Features) {
		t.Fatalf("%d features, were %d", len(b.Features), len(a.Features))
	}
	for i := range a.Features {
		for _, c := range a.Columns {
			x, okX := a.Text(&a.Features[i], c.Name)
			y, okY := b.Text(&b.Features[i], c.Name)
			if x != y || okX != okY {
				t.Errorf("feature %d, %s: %q became %q", i+1, c.Name, x, y)
			}
		}
	}
}
