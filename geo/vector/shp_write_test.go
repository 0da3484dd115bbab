package vector

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/jonas-p/go-shp"
	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

func system(t testing.TB, code int) *crs.System {
	t.Helper()
	s, err := crs.FromEPSG(code)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// farm is a small layer with every kind of column.
func farm() ([]Column, []OutFeature) {
	outer := orb.Ring{{-93.65, 42.02}, {-93.644, 42.02}, {-93.644, 42.025}, {-93.65, 42.025}, {-93.65, 42.02}}
	hole := orb.Ring{{-93.648, 42.022}, {-93.647, 42.022}, {-93.647, 42.0225}, {-93.648, 42.0225}, {-93.648, 42.022}}
	other := orb.Ring{{-93.64, 42.02}, {-93.637, 42.02}, {-93.637, 42.024}, {-93.64, 42.02}}
	fields := []Column{{"sample_id_long", Text}, {"sample_id_longer", Text}, {"rate_kg_per_ha", Float}, {"n", Int}, {"ok", Bool}, {"day", Date}}
	return fields, []OutFeature{
		{Shape: crs.LonLatShape{{outer, hole}, {other}}, Properties: []Property{
			{"sample_id_long", "0012"}, {"sample_id_longer", "Grün"}, {"rate_kg_per_ha", 1234.5}, {"n", -7}, {"ok", true}, {"day", "2024-05-03"}, {"not written", 1}}},
		{Shape: crs.LonLatShape{{turned(other)}}, Properties: []Property{
			{"sample_id_long", "7"}, {"rate_kg_per_ha", 0.125}, {"n", int64(123456789012)}, {"ok", false}}},
	}
}

func TestWriteShapefileReadsBack(t *testing.T) {
	fields, features := farm()
	for _, code := range []int{4326, 26915, 3418, 3857} {
		dir := t.TempDir()
		path := filepath.Join(dir, "rates.shp")
		if err := WriteShapefile(path, system(t, code), fields, features); err != nil {
			t.Fatal(err)
		}
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, e := range entries {
			names = append(names, e.Name())
		}
		if fmt.Sprint(names) != "[rates.cpg rates.dbf rates.prj rates.shp rates.shx]" {
			t.Errorf("files %v", names)
		}
		l, err := Read(path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Notices) > 0 || l.CRS.EPSG() != code {
			t.Errorf("EPSG %d, notices %v", l.CRS.EPSG(), l.Notices)
		}
		if want := "[{sample_id_ text} {sample_i_2 text} {rate_kg_pe number} {n whole number} {ok yes or no} {day date}]"; fmt.Sprint(l.Columns) != want {
			t.Errorf("columns %v, want %s", l.Columns, want)
		}
		want := [][]any{
			{"0012", "Grün", 1234.5, int64(-7), true, "2024-05-03"},
			{"7", nil, 0.125, int64(123456789012), false, nil},
		}
		for i := range want {
			if !slices.Equal(l.Features[i].Values, want[i]) {
				t.Errorf("feature %d: %#v, want %#v", i+1, l.Features[i].Values, want[i])
			}
			if !sameShapes(orb.MultiPolygon(features[i].Shape), orb.MultiPolygon(l.Features[i].Shape), 1e-9) {
				t.Errorf("feature %d: %v, want %v", i+1, l.Features[i].Shape, features[i].Shape)
			}
			for _, polygon := range l.Features[i].Shape {
				for k, ring := range polygon {
					if (ringArea(ring) < 0) != (k == 0) {
						t.Errorf("feature %d, ring %d turns the wrong way", i+1, k+1)
					}
				}
			}
		}
	}
}

func TestWriteShapefileKinds(t *testing.T) {
	p := crs.LonLat{-93, 42}
	for _, c := range []struct {
		name string
		f    []OutFeature
		kind byte
	}{
		{"none", nil, shp.POLYGON},
		{"point", []OutFeature{{Point: &p}, {Point: &p}}, shp.POINT},
		{"points", []OutFeature{{Points: []crs.LonLat{p, p, {-93, 43}}}}, shp.MULTIPOINT},
		{"line", []OutFeature{{Line: crs.LonLatLine{orb.Point(p), {-93, 43}}}}, shp.POLYLINE},
	} {
		path := filepath.Join(t.TempDir(), "a.SHP")
		if err := WriteShapefile(path, system(t, 4326), nil, c.f); err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		l, err := Read(path, Options{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Features) != len(c.f) || b[32] != c.kind || len(l.Columns) != 1 {
			t.Errorf("%s: %d features of type %d, columns %v", c.name, len(l.Features), b[32], l.Columns)
		}
		for i, f := range l.Features {
			var line crs.LonLatLine
			if len(f.Lines) > 0 {
				line = f.Lines[0]
			}
			var pts []crs.LonLat
			if c.f[i].Point != nil {
				pts = []crs.LonLat{*c.f[i].Point}
			} else {
				pts = c.f[i].Points
			}
			if fmt.Sprint(line, f.Points) != fmt.Sprint(c.f[i].Line, pts) {
				t.Errorf("%s: %v %v", c.name, line, f.Points)
			}
		}
	}
}

func TestWriteShapefileRefused(t *testing.T) {
	p := crs.LonLat{-93, 42}
	column := func(k Type, v any) ([]Column, []OutFeature) {
		return []Column{{"p", k}}, []OutFeature{{Point: &p, Properties: []Property{{"p", v}}}}
	}
	both := func(c []Column, f []OutFeature) func() ([]Column, []OutFeature) {
		return func() ([]Column, []OutFeature) { return c, f }
	}
	many := make([]Column, 256)
	wide := make([]Column, 255)
	wideFeature := OutFeature{Point: &p}
	for i := range many {
		many[i].Name = fmt.Sprint("c", i)
	}
	for i := range wide {
		wide[i].Name = fmt.Sprint("c", i)
		wideFeature.Properties = append(wideFeature.Properties, Property{wide[i].Name, strings.Repeat("x", 254)})
	}
	wide = append(wide, Column{Name: "last"})[:255]
	for _, c := range []struct {
		name, want string
		make       func() ([]Column, []OutFeature)
	}{
		{"no geometry", "feature 1: no geometry", both(nil, []OutFeature{{}})},
		{"no geometry later", "feature 2: no geometry", both(nil, []OutFeature{{Point: &p}, {}})},
		{"mixed", "feature 2 has another kind of geometry", both(nil, []OutFeature{{Point: &p}, {Points: []crs.LonLat{p}}})},
		{"two at once", "feature 1: more than one geometry", both(nil, []OutFeature{{Point: &p, Points: []crs.LonLat{p}}})},
		{"flat shape", "feature 1: no geometry", both(nil, []OutFeature{{Shape: crs.LonLatShape{{{{-93, 42}, {-92, 42}, {-93, 42}}}}}})},
		{"NaN coordinate", "feature 1: vertex 1", both(nil, []OutFeature{{Point: &crs.LonLat{math.NaN(), 0}}})},
		{"short line", "feature 1: the line has fewer", both(nil, []OutFeature{{Line: crs.LonLatLine{{-93, 42}, {-93, 42}}}})},
		{"long text", `feature 1, column "p": the text takes 255 bytes`, func() ([]Column, []OutFeature) { return column(Text, strings.Repeat("x", 255)) }},
		{"NUL", "NUL byte", func() ([]Column, []OutFeature) { return column(Text, "a\x00b") }},
		{"number as text", "12 is not a text", func() ([]Column, []OutFeature) { return column(Text, 12) }},
		{"broken whole number", "1.5 is not a whole number", func() ([]Column, []OutFeature) { return column(Int, 1.5) }},
		{"text as number", "x is not a number", func() ([]Column, []OutFeature) { return column(Float, "x") }},
		{"NaN", "NaN is not a number that", func() ([]Column, []OutFeature) { return column(Float, math.NaN()) }},
		{"infinite", "+Inf is not a number that", func() ([]Column, []OutFeature) { return column(Float, math.Inf(1)) }},
		{"wide number", "at most 32 are written", func() ([]Column, []OutFeature) { return column(Float, 1e40) }},
		{"date", "2024-5-3 is not a date", func() ([]Column, []OutFeature) { return column(Date, "2024-5-3") }},
		{"text as bool", "yes is not a yes or no", func() ([]Column, []OutFeature) { return column(Bool, "yes") }},
		{"many columns", "256 columns; a shapefile holds 255", both(many, nil)},
	} {
		dir := t.TempDir()
		fields, features := c.make()
		err := WriteShapefile(filepath.Join(dir, "a.shp"), system(t, 26915), fields, features)
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "a.shp: ") {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
		if left, _ := os.ReadDir(dir); len(left) != 0 {
			t.Errorf("%s: left %v", c.name, left)
		}
	}
	if err := WriteShapefile(filepath.Join(t.TempDir(), "a"), system(t, 26915), nil, nil); err == nil {
		t.Error("a name without .shp was taken")
	}
	// A row as wide as the format allows is written.
	path := filepath.Join(t.TempDir(), "wide.shp")
	if err := WriteShapefile(path, system(t, 4326), wide, []OutFeature{wideFeature}); err != nil {
		t.Fatal(err)
	}
	if l, err := Read(path, Options{}); err != nil || l.Features[0].Values[254] != strings.Repeat("x", 254) {
		t.Errorf("wide row: %v", err)
	}
}

// An earlier layer's files go, and others' stay.
func TestWriteShapefileStale(t *testing.T) {
	dir := t.TempDir()
	stale := []string{"a.qix", "a.SBN", "a.sbx", "a.qpj", "a.shp.xml", "a.DBF", "a.shp.aux.xml"}
	others := []string{"ab.qix", "a.txt", "a.geojson", "b.dbf", "A.dbf"}
	for _, name := range append(append([]string{"a.dbf", "a.prj"}, stale...), others...) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("old"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	p := crs.LonLat{-93, 42}
	if err := WriteShapefile(filepath.Join(dir, "a.shp"), system(t, 4326), nil, []OutFeature{{Point: &p}}); err != nil {
		t.Fatal(err)
	}
	for _, name := range stale {
		if _, err := os.Stat(filepath.Join(dir, name)); !os.IsNotExist(err) {
			t.Errorf("%s is still there: %v", name, err)
		}
	}
	for _, name := range others {
		if b, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(b) != "old" {
			t.Errorf("%s: %q %v", name, b, err)
		}
	}
	if _, err := Read(filepath.Join(dir, "a.shp"), Options{}); err != nil {
		t.Error(err)
	}
}

// go-shp is silent about a full disk; reading back is not.
func TestCheckWritten(t *testing.T) {
	records := []shp.Shape{&shp.Point{X: 1, Y: 2}, &shp.Point{X: 3, Y: 4}}
	stem := filepath.Join(t.TempDir(), "a")
	if err := writeGeometry(stem, shp.POINT, records); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{".shp", ".shx"} {
		whole, err := os.ReadFile(stem + part)
		if err != nil {
			t.Fatal(err)
		}
		try := func(b []byte) error {
			if err := os.WriteFile(stem+part, b, 0o666); err != nil {
				t.Fatal(err)
			}
			return checkWritten(stem, shp.POINT, records)
		}
		for n := range whole {
			if try(whole[:n]) == nil {
				t.Errorf("%s cut to %d bytes passes", part, n)
			}
		}
		for n := 100; n < len(whole); n++ {
			if part == ".shp" && (n < 104 || n >= 128 && n < 132) {
				continue // record numbers, which nothing goes by
			}
			wrong := bytes.Clone(whole)
			wrong[n] ^= 0x40
			if try(wrong) == nil {
				t.Errorf("%s with byte %d changed passes", part, n)
			}
		}
		if err := try(whole); err != nil {
			t.Error(err)
		}
	}
	if err := os.Remove(stem + ".shp"); err != nil {
		t.Fatal(err)
	}
	if checkWritten(stem, shp.POINT, records) == nil {
		t.Error("a missing file passes")
	}
}

func TestShortNames(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"id name", "id name"},
		{"sample_id_1 sample_id_2 sample_id_", "sample_i_2 sample_i_3 sample_id_"},
		{"pH PH Ph", "pH PH_2 Ph_3"},
		{"P(mg/kg) größe", "P_mg_kg_ gr__e"},
		{"abcdefghijk abcdefghijl abcdefghijm", "abcdefghij abcdefgh_2 abcdefgh_3"},
	} {
		var fields []Column
		for _, name := range strings.Fields(c.in) {
			fields = append(fields, Column{Name: name})
		}
		if got := strings.Join(ShortNames(fields), " "); got != c.want {
			t.Errorf("%s: %s, want %s", c.in, got, c.want)
		}
	}
	if got := fmt.Sprint(ShortNames([]Column{{}, {}})); got != "[FIELD FIELD_2]" {
		t.Error(got)
	}
	same := make([]Column, 255)
	for i := range same {
		same[i].Name = "a name that is long"
	}
	seen := map[string]bool{}
	for _, name := range ShortNames(same) {
		if seen[name] || len(name) > 10 {
			t.Errorf("%q", name)
		}
		seen[name] = true
	}
}

func TestWriteShapefileNumbers(t *testing.T) {
	p := crs.LonLat{-93, 42}
	var features []OutFeature
	values := []float64{0, 1.0 / 3, -12345.678, 1e-9, 6.79, 100}
	for _, v := range values {
		features = append(features, OutFeature{Point: &p, Properties: []Property{{"v", v}}})
	}
	path := filepath.Join(t.TempDir(), "a.shp")
	if err := WriteShapefile(path, system(t, 4326), []Column{{"v", Float}}, features); err != nil {
		t.Fatal(err)
	}
	l, err := Read(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range l.Features {
		// Fifteen decimals, and a number that is whole may come back as such.
		got, ok := toFloat(f.Values[0])
		if !ok || math.Abs(got-values[i]) > 0.5e-15 {
			t.Errorf("%v, want %v", f.Values[0], values[i])
		}
	}
}

// The same features give the same bytes in every file.
func TestWriteShapefileDeterministic(t *testing.T) {
	fields, features := farm()
	dirs := []string{t.TempDir(), t.TempDir()}
	for _, dir := range dirs {
		if err := WriteShapefile(filepath.Join(dir, "a.shp"), system(t, 26915), fields, features); err != nil {
			t.Fatal(err)
		}
	}
	for _, part := range []string{".shp", ".shx", ".dbf", ".prj", ".cpg"} {
		a, errA := os.ReadFile(filepath.Join(dirs[0], "a"+part))
		b, errB := os.ReadFile(filepath.Join(dirs[1], "a"+part))
		if errA != nil || errB != nil || !bytes.Equal(a, b) {
			t.Errorf("%s differs (%v, %v)", part, errA, errB)
		}
	}
}
