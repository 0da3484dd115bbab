package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// plannedField plans a field of six hectares, its corner at a longitude, and joins
// figures that an invented lab has found.
func plannedField(t *testing.T, dir, name string, lon float64, depth string, pH float64) string {
	t.Helper()
	out := filepath.Join(dir, name)
	if err := os.MkdirAll(out, 0o777); err != nil {
		t.Fatal(err)
	}
	a, b := lon, lon+0.004
	boundary := write(t, filepath.Join(dir, name+".geojson"), fmt.Sprintf(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"NAME":"at %g"},"geometry":{"type":"Polygon","coordinates":[[[%g,48],[%g,48],[%g,48.002],[%g,48.002],[%g,48]]]}}]}`, lon, a, b, b, a, a))
	mustCall(t, "plan", "--boundary", boundary, "--name", "NAME", "--cell", "1ha", "--cores", "3", "--depth", depth, "--seed", "7", "--out", out)
	joinInvented(t, out, pH)
	return out
}

func joinInvented(t *testing.T, folder string, pH float64) {
	t.Helper()
	f, err := os.Open(filepath.Join(folder, "manifest.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	table := "id,pH,Mehlich-3 P ppm\n"
	for i, row := range rows[1:] {
		table += fmt.Sprintf("%s,%.1f,%d\n", row[0], pH+0.1*float64(i%5), 20+i)
	}
	table += fmt.Sprintf("%s,%.1f,%d\n", rows[1][0], pH+0.2, 20) // a replicate
	lab := write(t, folder+".csv", table)
	mustCall(t, "join", "--plan", filepath.Join(folder, "plan.geojson"), "--results", lab, "--out", folder, "--force")
}

// Results of another plan, and rates of other results, are refused in one line, and
// the record stays as it was.
func TestSeasonOfOtherFiles(t *testing.T) {
	dir := t.TempDir()
	one := plannedField(t, dir, "one", 10, "0-8in", 6)
	record := filepath.Join(dir, "farm.gpkg")
	mustCall(t, "season", "add", record, one, "--season", "2025")
	before := recordDigest(t, record)
	// The plan is made anew after the lab has answered.
	stale := plannedField(t, dir, "stale", 10, "0-8in", 6)
	mustCall(t, "plan", "--boundary", filepath.Join(dir, "stale.geojson"), "--name", "NAME", "--cell", "1ha", "--cores", "4", "--seed", "8", "--out", stale, "--force")
	// The results say that they are of this plan, and are not.
	other := plannedField(t, dir, "other", 10, "0-8in", 6)
	results := filepath.Join(other, "results.geojson")
	write(t, results, strings.Replace(string(mustRead(t, results)), "BB01T", "BB09Z", 1))
	// Rates that were made before the lab corrected a figure.
	rates := plannedField(t, dir, "rates", 10, "0-8in", 5)
	mustCall(t, "rate", "--results", filepath.Join(rates, "results.geojson"), "--by", "unit", "--use", "tri-state-2020-p", "--crop", "corn, 180 bu/ac", "--product", "TSP: 0-46-0", "--out", rates)
	mustCall(t, "season", "add", filepath.Join(dir, "other.gpkg"), rates, "--season", "2026")
	joinInvented(t, rates, 5.1)
	foreign := filepath.Join(dir, "foreign")
	if err := os.Mkdir(foreign, 0o777); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(foreign, "plan.geojson"), string(mustRead(t, filepath.Join(dir, "one.geojson"))))
	farm := filepath.Join(dir, "farm")
	if err := os.MkdirAll(filepath.Join(farm, "fields"), 0o777); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ folder, want string }{
		{farm, "give the folders of its fields, which lie in " + filepath.Join(farm, "fields")},
		{stale, "results.geojson was made of another plan.geojson than the one beside it"},
		{other, "sample BB09Z, which is not in the plan.geojson beside it"},
		{rates, "rates.geojson was made of another results.geojson than the one beside it"},
		{foreign, "does not say what made it"},
		{filepath.Join(dir, "one.csv"), "is a file; give the folder of a run"},
		{filepath.Join(dir, "nowhere"), "nowhere is not there"},
	} {
		for _, args := range [][]string{{c.folder}, {one, c.folder}} {
			_, said, status := call(t, append([]string{"season", "add", record, "--season", "2026"}, args...)...)
			if status != exitFailed || !strings.Contains(said, c.want) || strings.Count(strings.TrimSpace(said), "\n") > 0 {
				t.Errorf("%q: status %d, %q", args, status, said)
			}
		}
	}
	if recordDigest(t, record) != before {
		t.Error("what was refused left something")
	}
}

func TestSeasonOfSeveralFolders(t *testing.T) {
	dir := t.TempDir()
	one, two := plannedField(t, dir, "one", 10, "0-8in", 6), plannedField(t, dir, "two", 10.005, "0-2in,2-8in", 6)
	record := filepath.Join(dir, "farm.gpkg")
	add := []string{"season", "add", record, one, two, "--season", "2026"}
	if out := mustCall(t, append(add, one+"/")...); !strings.Contains(out, "added 2026, 2 plans: 2 fields, 18 composites, 36 results") {
		t.Errorf("said %q", out)
	}
	first := recordDigest(t, record)
	for _, args := range [][]string{add, {"season", "add", record, two, "--season", "2026"}} {
		if out := mustCall(t, args...); !strings.Contains(out, "it is there already") || recordDigest(t, record) != first {
			t.Errorf("%q said %q", args, out)
		}
	}
	clash := plannedField(t, dir, "clash", 10.01, "0-8in", 6)
	if _, said, status := call(t, "season", "add", record, one, clash, "--season", "2027"); status != exitFailed || !strings.Contains(said, "sample BB01T (and 5 more) is both in "+one+" and in "+clash) || recordDigest(t, record) != first {
		t.Errorf("status %d, %q", status, said)
	}
	if _, said, status := call(t, "season", "remove", record, "2027"); status != exitFailed || !strings.Contains(said, `it has no season "2027"; it has: 2026`) {
		t.Errorf("status %d, %q", status, said)
	}
	if out := mustCall(t, "season", "remove", record, "2026"); !strings.Contains(out, "removed 2026, 2 plans: 2 fields") || !strings.Contains(out, "no season is left") {
		t.Errorf("said %q", out)
	}
	mustCall(t, add...)
	if recordDigest(t, record) != first {
		t.Error("removed and added again, the record is another one")
	}
	if _, said, status := call(t, "season", "remove", filepath.Join(dir, "nowhere.gpkg"), "2026"); status != exitFailed || !strings.Contains(said, "is not there") {
		t.Errorf("status %d, %q", status, said)
	}
}

// Layers are compared with the same layer of another season, and kept apart from a
// season with one depth.
func TestSeasonsOfLayers(t *testing.T) {
	dir := t.TempDir()
	record := filepath.Join(dir, "farm.gpkg")
	for i, depth := range []string{"0-8in", "0-2in,2-8in", "0-2in,2-8in"} {
		year := fmt.Sprint(2024 + i)
		mustCall(t, "season", "add", record, plannedField(t, dir, year, 10, depth, 6+0.2*float64(i)), "--season", year, "--date", year+"-04-01")
	}
	if out := mustCall(t, "season", "show", record, "2026"); !strings.Contains(out, "  pH, 0-2in\n") || !strings.Contains(out, "  pH, 2-8in\n") {
		t.Errorf("said %q", out)
	}
	var s trendSummary
	if err := json.Unmarshal([]byte(mustCall(t, "season", "trend", record, "--json", "--analyte", "pH")), &s); err != nil {
		t.Fatal(err)
	}
	depths := map[string]int{}
	for _, x := range append(s.Fields, s.Units...) {
		depths[x.Analyte+" in "+x.Depth]++
		if len(x.Points) != 2 || x.Points[0].Season != "2025" {
			t.Errorf("%+v", x)
		}
	}
	if len(depths) != 2 || depths["pH in 0-2in"] != 7 || depths["pH in 2-8in"] != 7 {
		t.Errorf("%v", depths)
	}
	said := mustCall(t, "season", "trend", record, "--analyte", "pH")
	for _, want := range []string{"at 10, pH 0-2in, since 2025: ", "at 10, pH 2-8in, since 2025: ", "pH in at 10: depth 0-2in and 0-8in are not compared"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in %q", want, said)
		}
	}
	// What the lab's file says of replicates is that of the layer.
	_, all, err := loadSeasons(record)
	if err != nil {
		t.Fatal(err)
	}
	replicates := 0
	for _, o := range all {
		if o.Replicates == 2 {
			replicates++
		}
	}
	if replicates != 6 {
		t.Errorf("%d figures are of two rows", replicates)
	}
}
