package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"corewalk/geo/raster"
	"corewalk/geo/vector"
)

// zonedSeason runs the invented farm and returns its folder of outputs.
func zonedSeason(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "farm")
	mustCall(t, "demo", dir)
	return filepath.Join(dir, "season")
}

func summary(t *testing.T, to any, args ...string) {
	t.Helper()
	if err := json.Unmarshal([]byte(mustCall(t, append(args, "--json")...)), to); err != nil {
		t.Fatal(err)
	}
}

// The areas of zones sum to that of the ground, whatever is merged or smoothed.
func TestZonesCoverTheGround(t *testing.T) {
	in := zonedSeason(t)
	for _, more := range [][]string{
		nil, {"--smooth"}, {"--smallest", "2ac"}, {"--least-width", "30m", "--smooth", "--smallest", "1ac"}, {"--insist"}, {"--within", "sampleable"},
	} {
		var s zoneSummary
		args := append([]string{"zone", "--results", filepath.Join(in, "results.geojson"), "--surfaces", filepath.Join(in, "surfaces.json"),
			"--classes", "pH: 5.9, 6.2, 6.6", "--classes", "K: quantiles 3", "--out", filepath.Join(in, "z"), "--force"}, more...)
		summary(t, &s, args...)
		if len(s.Partitions) != 6 {
			t.Fatalf("%v: %d partitions", more, len(s.Partitions))
		}
		for _, p := range s.Partitions {
			if !(math.Abs(p.Sum/p.Ground-1) < 1e-9) {
				t.Errorf("%v, %s, %s: zones have %.6f m2, the ground %.6f m2", more, p.Field, p.Analyte, p.Sum, p.Ground)
			}
			ha := 0.0
			for _, c := range p.Classes {
				if ha += c.AreaHa; c.Class < 1 {
					t.Errorf("%v, %s, %s: ground without a value, though every sampling unit has a figure", more, p.Field, p.Analyte)
				}
			}
			if math.Abs(ha*1e4-p.Ground) > 5 {
				t.Errorf("%v, %s, %s: classes have %g ha, the ground %g m2", more, p.Field, p.Analyte, ha, p.Ground)
			}
		}
	}
}

// Patches go back in at the top.
func TestPatchesAreProblemAreas(t *testing.T) {
	in := zonedSeason(t)
	out := filepath.Join(in, "next")
	var s zoneSummary
	summary(t, &s, "zone", "--results", filepath.Join(in, "results.geojson"), "--surfaces", filepath.Join(in, "surfaces.json"),
		"--patch", "pH < 6.3", "--patch", "P < 30", "--smallest", "0.25ac", "--out", out)
	if len(s.Meetings) != 1 || s.Meetings[0].Patches != [2]string{"pH-low-1", "P-low-1"} || !(s.Meetings[0].AreaHa > 1) {
		t.Errorf("meetings: %+v", s.Meetings)
	}
	for _, p := range s.Patches {
		switch {
		case p.Without == nil || (p.Limit == "pH < 6.3" || p.Limit == "P < 30") && !(*p.Without > *p.Mean):
			t.Errorf("%s: mean %v, without it %v", p.ID, p.Mean, p.Without)
		case p.Basis == onSurface && (p.Chance == nil || !(*p.Chance > 0.4 && *p.Chance <= 1)):
			t.Errorf("%s: chance %v", p.ID, p.Chance)
		case p.Basis == onUnits && (p.Chance != nil || p.Composites == 0):
			t.Errorf("%s: drawn on sampling units with %d composites and chance %v", p.ID, p.Composites, p.Chance)
		}
	}
	// P-low-1 is left with what pH-low-1 does not have of it.
	mustCall(t, "plan", "--boundary", filepath.Join(in, "..", "fields.shp"), "--name", "NAME",
		"--problems", filepath.Join(out, patchesFile), "--problems-name", "id", "--out", out)
	plan, err := os.ReadFile(filepath.Join(out, planFile))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range s.Patches {
		if !strings.Contains(string(plan), `"kind":"unit"`) || !strings.Contains(string(plan), `"problem":"`+p.ID+`"`) {
			t.Errorf("no sampling unit is made of patch %s", p.ID)
		}
	}
}

func TestClassesRefused(t *testing.T) {
	in := zonedSeason(t)
	for _, c := range []struct {
		classes, want string
		status        int
	}{
		{"pH", "colon", exitUsage},
		{"pH:", "there are none", exitUsage},
		{"pH: 6, 5", "ascend", exitUsage},
		{"pH: 6, six", "plain number", exitUsage},
		{"pH: quantiles 1", "from 2 to 9", exitUsage},
		{"pH: 1,2,3,4,5,6,7,8,9", "more than 9 classes", exitUsage},
		{"pH: table", "no table of classes for pH", exitFailed},
		{"P: table nebraska-p-olsen", "wrong for another", exitFailed},
		{"P: table nebraska-p-mehlich", "name one of: corn", exitFailed},
		{"P: table nebraska-p-mehlich for hops", "not for hops", exitFailed},
		{"P: table", "name one", exitFailed},
		{"P: table atlantis", "atlantis", exitFailed},
		{"U: 1", "no analyte", exitFailed},
	} {
		_, stderr, status := call(t, "zone", "--results", filepath.Join(in, "results.geojson"), "--surfaces", filepath.Join(in, "surfaces.json"),
			"--classes", c.classes, "--out", filepath.Join(in, "z"))
		if status != c.status || !strings.Contains(stderr, c.want) || strings.Count(strings.TrimSpace(stderr), "\n") > 1 {
			t.Errorf("%q: status %d: %s", c.classes, status, stderr)
		}
		if _, err := os.Stat(filepath.Join(in, "z")); err == nil {
			t.Errorf("%q: something was written", c.classes)
		}
	}
}

// A table of one's own.
func TestOwnTable(t *testing.T) {
	in := zonedSeason(t)
	table := write(t, filepath.Join(in, "own.yaml"), "- {name: ours, kind: sufficiency, region: here, soil: any, inputs: [{analyte: pH, unit: pH, min: 3, max: 10}], by: pH, depth: {others: unstated},\n"+
		"   formula: {classes: {names: [lime, leave], sets: [{limits: [6.4]}]}}, source: {author: us, title: our trials, place: here}, verified: seen}\n")
	var s zoneSummary
	summary(t, &s, "zone", "--results", filepath.Join(in, "results.geojson"), "--surfaces", filepath.Join(in, "surfaces.json"),
		"--classes", "pH: table", "--tables", table, "--out", filepath.Join(in, "z"))
	if p := s.Partitions[0]; !strings.Contains(p.Source, "our trials") || p.Classes[0].Name != "lime (below 6.4)" {
		t.Errorf("%+v", p)
	}
}

// Composites in a corner of the field say nothing of the rest.
func TestFarGroundHasNoValue(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "f.geojson"), twoFields)
	rows := "id,lon,lat,pH\n"
	for i, p := range []string{"10.001,48.001,6.0", "10.002,48.001,6.2", "10.003,48.001,6.4", "10.001,48.002,6.1", "10.002,48.002,6.3", "10.003,48.002,6.6"} {
		rows += string(rune('a'+i)) + "," + p + "\n"
	}
	write(t, filepath.Join(dir, "soil.csv"), rows)
	at := func(name string) string { return filepath.Join(dir, "o", name) }
	mustCall(t, "join", "--points", filepath.Join(dir, "soil.csv"), "--x", "lon", "--y", "lat", "--points-crs", "EPSG:4326", "--boundary", filepath.Join(dir, "f.geojson"), "--name", "NAME", "--out", at(""))
	masked := map[bool]float64{}
	for _, whole := range []bool{false, true} {
		args := []string{"surface", "--results", at("results.geojson"), "--out", at(""), "--force"}
		if whole {
			args = append(args, "--extrapolate")
		}
		var s surfaceSummary
		summary(t, &s, args...)
		if len(s.Surfaces) != 1 {
			t.Fatalf("%d surfaces", len(s.Surfaces))
		}
		masked[whole] = s.Surfaces[0].Masked
		var z zoneSummary
		summary(t, &z, "zone", "--results", at("results.geojson"), "--surfaces", at("surfaces.json"), "--classes", "pH: 6.2", "--insist", "--out", at("z"), "--force")
		first := z.Partitions[0].Classes[0]
		if (first.Class == 0) == whole {
			t.Errorf("extrapolated %t: the first class is %+v", whole, first)
		}
		if p := z.Partitions[0]; !(math.Abs(p.Sum/p.Ground-1) < 1e-9) {
			t.Errorf("extrapolated %t: zones have %g m2, the ground %g m2", whole, p.Sum, p.Ground)
		}
	}
	if !(masked[false] > 0.6 && masked[false] < 0.95) || masked[true] != 0 {
		t.Errorf("masked shares: %v", masked)
	}
}

// A ditch across the field keeps its sides apart where that is asked for.
func TestSplitByExclusions(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "f.geojson"), `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"NAME":"North"},"geometry":{"type":"Polygon","coordinates":[[[10.0,48.0],[10.008,48.0],[10.008,48.006],[10.0,48.006],[10.0,48.0]]]}}]}`)
	write(t, filepath.Join(dir, "ditch.geojson"), `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[10.0039,47.999],[10.0041,47.999],[10.0041,48.007],[10.0039,48.007],[10.0039,47.999]]]}}]}`)
	rows := "id,lon,lat,pH\n"
	for i := range 24 {
		lon, lat := 10.0006+0.0013*float64(i%6), 48.0008+0.0014*float64(i/6)
		v := 5.0
		if i%6 >= 3 {
			v = 7
		}
		b, err := json.Marshal([]float64{lon, lat, v + 0.01*float64(i%4)})
		if err != nil {
			t.Fatal(err)
		}
		rows += "s" + string(rune('a'+i)) + "," + strings.Trim(string(b), "[]") + "\n"
	}
	write(t, filepath.Join(dir, "soil.csv"), rows)
	at := func(name string) string { return filepath.Join(dir, "o", name) }
	mustCall(t, "join", "--points", filepath.Join(dir, "soil.csv"), "--x", "lon", "--y", "lat", "--points-crs", "EPSG:4326",
		"--boundary", filepath.Join(dir, "f.geojson"), "--exclude", filepath.Join(dir, "ditch.geojson"), "--out", at(""))
	between := map[bool]int{}
	for _, split := range []bool{false, true} {
		args := []string{"surface", "--results", at("results.geojson"), "--out", at(""), "--force", "--near", "all"}
		if split {
			args = append(args, "--split-by-exclusions")
		}
		mustCall(t, args...)
		index, err := readSurfaces(at("surfaces.json"))
		if err != nil {
			t.Fatal(err)
		}
		grid, err := readGrid(at("surfaces.json"), index.Surfaces[0])
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range grid.Data {
			if v != raster.NoData && v > 5.1 && v < 6.9 {
				between[split]++
			}
		}
		mustCall(t, "zone", "--results", at("results.geojson"), "--surfaces", at("surfaces.json"), "--classes", "pH: 6", "--insist", "--out", at("z"), "--force")
		if _, err := vector.Read(at("z/zones.geojson"), vector.Options{}); err != nil {
			t.Error(err)
		}
	}
	if between[false] < 500 || between[true] != 0 {
		t.Errorf("pixels between the two sides: %v", between)
	}
}

func TestFormats(t *testing.T) {
	in := zonedSeason(t)
	mustCall(t, "surface", "--results", filepath.Join(in, "results.geojson"), "--analytes", "OM", "--formats", "tif,asc,png", "--pixel", "20m", "--out", filepath.Join(in, "f"))
	files := tree(t, filepath.Join(in, "f"))
	for name, begins := range map[string]string{
		"surfaces/Long-Slip_OM.tif": "II*\x00", "surfaces/Long-Slip_OM.asc": "ncols ", "pictures/Long-Slip_OM.png": "\x89PNG",
		"pictures/Long-Slip_OM_residuals.png": "\x89PNG", "pictures/Long-Slip_OM_predicted.png": "\x89PNG",
	} {
		if !strings.HasPrefix(files[name], begins) {
			t.Errorf("%s begins with %.8q", name, files[name])
		}
	}
	if _, stderr, status := call(t, "surface", "--results", filepath.Join(in, "results.geojson"), "--formats", "bmp"); status != exitUsage || !strings.Contains(stderr, "bmp") {
		t.Errorf("status %d: %s", status, stderr)
	}
}
