package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"corewalk/geo/vector"
	"corewalk/sampling"
)

// invented is a field of some 45 ha with a pond and a lane in one file of
// exclusions, a problem area, and raised beds beside it.
const (
	inventedField = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"NAME":"North"},"geometry":{"type":"Polygon","coordinates":[[[10.0,48.0],[10.008,48.0],[10.008,48.006],[10.0,48.006],[10.0,48.0]],[[10.001,48.0045],[10.001,48.005],[10.002,48.005],[10.002,48.0045],[10.001,48.0045]]]}}]}`
	inventedExclusions = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"what":"Waterway"},"geometry":{"type":"Polygon","coordinates":[[[10.003,48.002],[10.0045,48.002],[10.0045,48.0035],[10.003,48.0035],[10.003,48.002]]]}},
{"type":"Feature","properties":{"what":"lane"},"geometry":{"type":"LineString","coordinates":[[10.006,47.999],[10.0062,48.007]]}}]}`
	inventedProblem = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"id":"wet hollow"},"geometry":{"type":"Polygon","coordinates":[[[10.001,48.001],[10.0018,48.001],[10.0018,48.0016],[10.001,48.0016],[10.001,48.001]]]}}]}`
	inventedBeds = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"A1"},"geometry":{"type":"Point","coordinates":[10.02,48.0]}},
{"type":"Feature","properties":{"name":"A2"},"geometry":{"type":"Point","coordinates":[10.0201,48.0]}},
{"type":"Feature","properties":{"name":"B","width":"8ft","length":"20ft","bearing":"45"},"geometry":{"type":"Point","coordinates":[10.0202,48.0]}},
{"type":"Feature","properties":{"name":"C"},"geometry":{"type":"Polygon","coordinates":[[[10.0203,48.0],[10.02033,48.0],[10.02033,48.00003],[10.0203,48.00003],[10.0203,48.0]]]}}]}`
)

// planned reads the samples of a plan, in degrees.
func planned(t *testing.T, dir string) []sampling.PlannedUnit {
	t.Helper()
	l, err := vector.Read(filepath.Join(dir, planFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	units, err := sampling.ReadUnits(l)
	if err != nil {
		t.Fatal(err)
	}
	return units
}

// metresApart is the distance of two near places, good to a thousandth.
func metresApart(a, b [2]float64) (east, north float64) {
	const lat = 48.003
	return (b[0] - a[0]) * 74_625, (b[1] - a[1]) * 111_200 * lat / lat
}

// Each kind of exclusion keeps its own setback.
func TestSetbacksByKind(t *testing.T) {
	dir := t.TempDir()
	field := write(t, filepath.Join(dir, "f.geojson"), inventedField)
	out := filepath.Join(dir, "exclusions.geojson")
	write(t, out, inventedExclusions)
	mustCall(t, "plan", "--boundary", field, "--exclude", out+"@3m", "--exclude-kind", "what", "--kind-setback", "waterway=40m", "--cell", "1ha", "--cores", "30", "--out", filepath.Join(dir, "flags"))
	write(t, filepath.Join(dir, "job.yaml"), "boundary: f.geojson\nexclude: [{file: exclusions.geojson, setback: 3m, kind: what, setbacks: {Waterway: 40m}}]\nplan: {cell: 1ha, cores: 30}\nout: job\n")
	mustCall(t, "run", filepath.Join(dir, "job.yaml"))
	a, b := tree(t, filepath.Join(dir, "flags")), tree(t, filepath.Join(dir, "job"))
	delete(b, "report.html")
	sameTrees(t, a, b)
	nearPond, nearLane := 1e9, 1e9
	for _, u := range planned(t, filepath.Join(dir, "flags")) {
		for _, c := range u.Cores {
			e, n := metresApart([2]float64{10.003, 48.002}, c.At)
			w, h := 0.0015*74_625, 0.0015*111_200
			dx, dy := max(-e, e-w, 0), max(-n, n-h, 0)
			nearPond = min(nearPond, max(dx, dy))
			along := (c.At.Lat() - 47.999) / 0.008
			off, _ := metresApart([2]float64{10.006 + 0.0002*along, 0}, [2]float64{c.At.Lon(), 0})
			nearLane = min(nearLane, max(off, -off))
		}
	}
	if nearPond < 28 || nearPond > 60 || nearLane < 2.9 || nearLane > 15 {
		t.Errorf("nearest cores %.1f m from the waterway, setback 40; %.1f m from the lane, setback 3", nearPond, nearLane)
	}
	_, stderr, status := call(t, "plan", "--boundary", field, "--exclude", out, "--exclude-kind", "what", "--kind-setback", "ditch=40m", "--out", filepath.Join(dir, "never"))
	if status != exitFailed || !strings.Contains(stderr, `no exclusion of kind "ditch"`) || !strings.Contains(stderr, "lane, waterway") {
		t.Errorf("status %d: %s", status, stderr)
	}
}

func TestBedsFromPoints(t *testing.T) {
	dir := t.TempDir()
	beds := write(t, filepath.Join(dir, "beds.geojson"), inventedBeds)
	out := filepath.Join(dir, "out")
	mustCall(t, "plan", "--beds", beds, "--bed-size", "4ftx10ft", "--design", "units", "--cores", "4", "--spacing", "0.3m", "--out", out)
	write(t, filepath.Join(dir, "job.yaml"), "beds: {file: beds.geojson, size: 4ft x 10ft}\nplan: {design: units, cores: 4, spacing: 0.3m}\nout: job\n")
	mustCall(t, "run", filepath.Join(dir, "job.yaml"))
	job := tree(t, filepath.Join(dir, "job"))
	delete(job, "report.html")
	sameTrees(t, tree(t, out), job)
	units := planned(t, out)
	var names []string
	for _, u := range units {
		names = append(names, u.Management)
	}
	slices.Sort(names)
	if !slices.Equal(names, []string{"A1", "A2", "B", "C"}) {
		t.Errorf("beds %v", names)
	}
	data, err := os.ReadFile(filepath.Join(out, planFile))
	if err != nil {
		t.Fatal(err)
	}
	var plan struct {
		Features []struct {
			Properties map[string]any
		}
	}
	if err := json.Unmarshal(data, &plan); err != nil {
		t.Fatal(err)
	}
	for _, f := range plan.Features {
		if f.Properties["kind"] != "unit" {
			continue
		}
		// 40 and 160 square feet, to the 1 m² and 11 mm of the files.
		want := map[string]float64{"A1": 0.0004, "A2": 0.0004, "B": 0.0015, "C": 0.0007}[f.Properties["management"].(string)]
		if got := f.Properties["area_ha"].(float64); got < want-0.00011 || got > want+0.00011 {
			t.Errorf("bed %v has %v ha, want %v", f.Properties["management"], got, want)
		}
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--beds", beds}, "A1) is a point without a size"},
		{[]string{"--beds", beds, "--bed-size", "4x10"}, "no unit"},
		{[]string{"--bed-size", "4ftx10ft", "--boundary", beds}, "needs --beds"},
	} {
		_, stderr, status := call(t, append([]string{"plan", "--out", filepath.Join(dir, "never")}, c.args...)...)
		if status == exitDone || !strings.Contains(stderr, c.want) {
			t.Errorf("%v: status %d: %s", c.args, status, stderr)
		}
	}
}

// Depth layers become analytes of their own, and nothing mixes them.
func TestLayersThroughARun(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "f.geojson"), inventedField)
	write(t, filepath.Join(dir, "sick.geojson"), inventedProblem)
	const job = `boundary: {file: f.geojson, name: NAME}
problems: {file: sick.geojson, name: id}
plan: {cell: 3ha, cores: 4, depth: [0-2in, 2-8in], composites: 2, start: [10.004, 47.9995]}
%sout: %s
`
	write(t, filepath.Join(dir, "plan.yaml"), fmt.Sprintf(job, "", "out"))
	mustCall(t, "run", filepath.Join(dir, "plan.yaml"))
	lab := "Sample ID,pH,P (ppm)\n"
	for i, u := range planned(t, filepath.Join(dir, "out")) {
		ph, p := 6.5+0.01*float64(i%7), 30+i%5
		if u.Depth == "0-2in" {
			ph--
		}
		if u.Problem != "" {
			ph -= 0.5
		}
		lab += fmt.Sprintf("%s,%.2f,%d\n", u.ID, ph, p)
	}
	write(t, filepath.Join(dir, "lab.csv"), lab)
	write(t, filepath.Join(dir, "all.yaml"), fmt.Sprintf(job, "results: {file: lab.csv}\nsurface: {analytes: [pH], pixel: 10m}\nzone: {patch: [\"pH < 6\"], insist: yes}\n", "done"))
	stdout := mustCall(t, "run", filepath.Join(dir, "all.yaml"))
	for _, want := range []string{
		"North, pH 0-2in: mean 5.5", "North, pH 2-8in: mean 6.5", "problem area wet hollow, pH 0-2in: 5.0", "2 surfaces",
		"North without what is pH 2-8in < 6",
	} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the run does not say %q: %s", want, stdout)
		}
	}
	f, err := os.Open(filepath.Join(dir, "done", "means.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	whole := 0
	for _, row := range rows[1:] {
		// Two composites to a unit: the stratified estimator proper, and each
		// unit a simple random sample.
		method := "simple random sample"
		if row[3] == "" {
			method = "stratified random sample"
			whole++
		}
		if row[15] != method || row[9] == "" {
			t.Errorf("row %q", row)
		}
	}
	if units := len(planned(t, filepath.Join(dir, "done"))) / 4; whole != 4 || len(rows) != 1+4+4*units {
		t.Errorf("%d rows, %d of the field; %d units, two analytes, two layers", len(rows), whole, units)
	}
}

// The walk begins at the gate, which a field takes the nearest of.
func TestStart(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "f.geojson"), inventedField)
	field := filepath.Join(dir, "f.geojson")
	walk := map[string]float64{}
	for name, gates := range map[string][]string{
		"none": nil, "south": {"10.0079,47.9999"}, "far": {"10.0079,47.9809"}, "either": {"10.0079,47.9809", "10.0079,47.9999"},
	} {
		args := []string{"plan", "--boundary", field, "--cell", "3ha", "--cores", "5", "--out", filepath.Join(dir, name), "--json"}
		for _, g := range gates {
			args = append(args, "--start", g)
		}
		var s planSummary
		if err := json.Unmarshal([]byte(mustCall(t, args...)), &s); err != nil {
			t.Fatal(err)
		}
		walk[name] = s.WalkM
		// 4 km/h and a minute a core.
		if want := s.WalkM/4000*60 + float64(s.Cores); s.Minutes < want-0.2 || s.Minutes > want+0.2 {
			t.Errorf("%s: %.1f minutes for %.0f m and %d cores, want %.1f", name, s.Minutes, s.WalkM, s.Cores, want)
		}
		if len(gates) == 0 {
			continue
		}
		first := planned(t, filepath.Join(dir, name))[0].Cores[0]
		if e, n := metresApart([2]float64{10.0079, 47.9999}, first.At); max(e, -e) > 250 || max(n, -n) > 250 {
			t.Errorf("%s: the walk begins %.0f m east and %.0f m north of the gate", name, e, n)
		}
	}
	// The far gate is 2.1 km south of the near one.
	if d := walk["far"] - walk["south"]; d < 2000 || d > 2200 || walk["either"] != walk["south"] || walk["none"] >= walk["south"] {
		t.Errorf("walks %v", walk)
	}
}

func TestAgainCommand(t *testing.T) {
	dir := t.TempDir()
	field := write(t, filepath.Join(dir, "f.geojson"), inventedField)
	old := filepath.Join(dir, "old")
	mustCall(t, "plan", "--boundary", field, "--cell", "2ha", "--cores", "5", "--seed", "4", "--out", old)
	from := filepath.Join(old, planFile)
	mustCall(t, "plan", "--again", from, "--out", filepath.Join(dir, "same"))
	mustCall(t, "plan", "--again", from, "--spots", "fresh", "--cores", "7", "--out", filepath.Join(dir, "fresh"))
	write(t, filepath.Join(dir, "job.yaml"), "plan: {again: old/plan.geojson, spots: fresh, cores: 7}\nout: job\n")
	mustCall(t, "run", filepath.Join(dir, "job.yaml"))
	a, b := tree(t, filepath.Join(dir, "fresh")), tree(t, filepath.Join(dir, "job"))
	delete(b, "report.html")
	sameTrees(t, a, b)

	units := func(name string) map[string]sampling.PlannedUnit {
		out := map[string]sampling.PlannedUnit{}
		for _, u := range planned(t, filepath.Join(dir, name)) {
			out[u.ID] = u
		}
		return out
	}
	was, same, fresh := units("old"), units("same"), units("fresh")
	if len(was) != len(same) || len(was) != len(fresh) {
		t.Fatalf("%d, %d and %d samples", len(was), len(same), len(fresh))
	}
	for id, u := range was {
		if len(fresh[id].Cores) != 7 || fresh[id].Unit != u.Unit {
			t.Errorf("sample %s comes back fresh as %+v", id, fresh[id])
		}
		for _, c := range u.Cores {
			if !slices.ContainsFunc(same[id].Cores, func(x sampling.PlannedCore) bool { return x.At == c.At && x.Name == c.Name }) {
				t.Errorf("core %s has moved", c.Name)
			}
		}
	}
	var head struct {
		Corewalk struct {
			Parent struct {
				File, SHA256, Spots string
				Seed                uint64
			}
		}
	}
	data, err := os.ReadFile(filepath.Join(dir, "fresh", planFile))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &head); err != nil {
		t.Fatal(err)
	}
	hashes, err := hashInputs([]string{from})
	if err != nil {
		t.Fatal(err)
	}
	if p := head.Corewalk.Parent; p.File != planFile || p.SHA256 != hashes[0].SHA256 || p.Seed != 4 || p.Spots != "fresh" {
		t.Errorf("parent %+v", p)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--again", from, "--cell", "1ha"}, "cell is settled by the earlier plan"},
		{[]string{"--again", from, "--cores", "9"}, "cores is settled by the earlier plan"},
		{[]string{"--again", from, "--boundary", field}, "--boundary goes with a new plan"},
		{[]string{"--again", field}, "no member corewalk"},
		{[]string{"--boundary", field, "--spots", "fresh"}, "goes with --again"},
		{[]string{"--again", filepath.Join(dir, "gone.geojson")}, "gone.geojson"},
	} {
		_, stderr, status := call(t, append([]string{"plan", "--out", filepath.Join(dir, "never")}, c.args...)...)
		if status == exitDone || !strings.Contains(stderr, c.want) {
			t.Errorf("%v: status %d: %s", c.args, status, stderr)
		}
	}
}

func TestAdvise(t *testing.T) {
	dir := t.TempDir()
	field := write(t, filepath.Join(dir, "f.geojson"), inventedField)
	base := []string{"plan", "--boundary", field, "--out", filepath.Join(dir, "never")}
	stdout := mustCall(t, append(base, "--advise", "--lab-cost", "10", "--cv", "30%", "--error", "10%")...)
	// 38 is the smallest n of Student's t; the normal quantile would give 35.
	for _, want := range []string{"Nothing is written", "For ±10% it takes 38 cores", "finite population", "lab cost", "0.40 ha"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the advice does not say %q: %s", want, stdout)
		}
	}
	var a advice
	if err := json.Unmarshal([]byte(mustCall(t, append(base, "--advise", "--budget", "300", "--lab-cost", "10", "--hour-cost", "0", "--json")...)), &a); err != nil {
		t.Fatal(err)
	}
	if a.Chosen == nil || a.Chosen.LabCost > 300 || a.Chosen.LabCost < 250 || a.Chosen.WalkM < 100 {
		t.Errorf("chosen %+v", a.Chosen)
	}
	for _, o := range a.Options {
		if o.LabCost != 10*float64(o.Samples) || o.Holes != o.Samples*o.Cores || o.HalfWidth <= 0 {
			t.Errorf("option %+v", o)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "never")); err == nil {
		t.Error("advice has written something")
	}
	// Without --advise the plan is made.
	out := filepath.Join(dir, "out")
	mustCall(t, "plan", "--boundary", field, "--budget", "300", "--lab-cost", "10", "--out", out)
	if n := len(planned(t, out)); n != a.Chosen.Samples {
		t.Errorf("%d samples planned, %d advised", n, a.Chosen.Samples)
	}
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--budget", "300"}, "needs --lab-cost"},
		{[]string{"--budget", "300", "--lab-cost", "10", "--cell", "1ha"}, "leave --cell"},
		{[]string{"--budget", "5", "--lab-cost", "10"}, "which cost 10.00"},
		{[]string{"--advise", "--cv", "0"}, "above zero"},
		{[]string{"--advise", "--confidence", "5%"}, "confidence"},
	} {
		_, stderr, status := call(t, append(slices.Clone(base), c.args...)...)
		if status == exitDone || !strings.Contains(stderr, c.want) {
			t.Errorf("%v: status %d: %s", c.args, status, stderr)
		}
	}
}

// What is refused says why, and what would work.
func TestRefusedPlansSayWhatWouldWork(t *testing.T) {
	dir := t.TempDir()
	field := write(t, filepath.Join(dir, "f.geojson"), inventedField)
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{"--cell", "60ha"}, []string{"larger than the field", "take a cell of up to 39"}},
		{[]string{"--cores", "100", "--spacing", "60m"}, []string{"no unit has room for 100 cores 60 m apart", "take a spacing of up to", "at most"}},
		{[]string{"--setback", "300m"}, []string{"eats the whole field", "take less than"}},
		{[]string{"--exclude", field}, []string{"cover the whole field", "nothing is left to sample"}},
		{[]string{"--start", "48.0,10.0"}, []string{"more than 5 km from every field", "longitude,latitude"}},
		{[]string{"--depth", "0-8in,2-4in"}, []string{"overlap or are not in order", "0-2in,2-8in"}},
		{[]string{"--at", "point", "--design", "strata"}, []string{"need cells", "take design grid"}},
		{[]string{"--unaligned", "--at", "cell"}, []string{"take them at point"}},
		{[]string{"--samples", "400", "--design", "strata"}, []string{"400 strata are more than can be formed (300)", "take fewer"}},
	} {
		_, stderr, status := call(t, append([]string{"plan", "--boundary", field, "--out", filepath.Join(dir, "never")}, c.args...)...)
		if status != exitFailed {
			t.Errorf("%v: status %d: %s", c.args, status, stderr)
		}
		for _, w := range c.want {
			if !strings.Contains(stderr, w) {
				t.Errorf("%v: %q is not in: %s", c.args, w, stderr)
			}
		}
	}
}
