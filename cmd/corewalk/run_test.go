package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

// call runs the program and returns what it printed and its status.
func call(t *testing.T, args ...string) (stdout, stderr string, status int) {
	t.Helper()
	var out, errs bytes.Buffer
	status = run(args, strings.NewReader(""), &out, &errs)
	return out.String(), errs.String(), status
}

func mustCall(t *testing.T, args ...string) string {
	t.Helper()
	stdout, stderr, status := call(t, args...)
	if status != exitDone {
		t.Fatalf("corewalk %s: status %d: %s", strings.Join(args, " "), status, stderr)
	}
	return stdout
}

func write(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// tree reads every file below dir.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		out[filepath.ToSlash(name)] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func sameTrees(t *testing.T, a, b map[string]string) {
	t.Helper()
	for name, data := range a {
		if other, ok := b[name]; !ok || other != data {
			t.Errorf("%s differs or is missing", name)
		}
	}
	if len(a) != len(b) {
		t.Errorf("%d files, and %d", len(a), len(b))
	}
}

// field is a plain field of about 40 ha with a second one beside it.
const twoFields = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"NAME":"North"},"geometry":{"type":"Polygon","coordinates":[[[10.0,48.0],[10.008,48.0],[10.008,48.006],[10.0,48.006],[10.0,48.0]]]}},
{"type":"Feature","properties":{"NAME":"South"},"geometry":{"type":"Polygon","coordinates":[[[10.0,47.99],[10.006,47.99],[10.006,47.995],[10.0,47.99]]]}}]}`

func TestDemo(t *testing.T) {
	dir := t.TempDir()
	stdout := mustCall(t, "demo", filepath.Join(dir, "a"))
	for _, want := range []string{"nothing in it is real", "59 samples", "wrote ", "report.html", "Against the invented truth"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the demonstration does not say %q", want)
		}
	}
	files := tree(t, filepath.Join(dir, "a"))
	for _, want := range []string{
		"fields.shp", "fields.prj", "wet.geojson", "crops.geojson", "sick.geojson", "lab.csv", "job.yaml", "season/plan.geojson",
		"season/waypoints.gpx", "season/waypoints.geojson", "season/manifest.csv", "season/results.geojson", "season/join.json", "season/means.csv", "season/comparisons.csv",
		"season/surfaces.json", "season/surfaces/Home-Ground_pH.tif", "season/residuals.csv", "season/zones.geojson", "season/patches.geojson", "season/report.html",
		"season/kit/waypoints.gpx", "season/kit/fieldsheet.pdf", "season/kit/labels.pdf", "season/kit/labsheet.pdf", "season/kit/labsheet.csv", "season/kit/labsheet.xlsx",
		"season/pictures/Home-Ground_pH.svg", "season/zones/Home-Ground.shp",
		"season/rates.geojson", "season/rates.csv", "season/rates.json", "season/taskdata.zip", "season/prescriptions/Home-Ground-TSP.shp", "season/prescriptions/Home-Ground-TSP.shp.xml",
	} {
		if files[want] == "" {
			t.Errorf("%s is missing or empty", want)
		}
		if !strings.HasPrefix(want, "season/surfaces/") && !strings.Contains(stdout, filepath.Join(dir, "a", filepath.FromSlash(want))) {
			t.Errorf("the demonstration does not say that it wrote %s", want)
		}
	}
	demoProblemArea(t, filepath.Join(dir, "a", "season"), stdout, files["season/report.html"])
	// The surfaces must know more of the truth than the plain mean does.
	_, judged, _ := strings.Cut(stdout, "Against the invented truth")
	n := 0
	for _, line := range strings.Split(judged, "\n") {
		var name string
		var surface, mean float64
		if _, err := fmt.Sscanf(line, "  %s surface %f, plain mean of each field %f", &name, &surface, &mean); err != nil {
			continue
		}
		n++
		if surface > 0.7*mean {
			t.Errorf("%s surface is off by %v, the plain mean by %v", name, surface, mean)
		}
	}
	if n != 3 {
		t.Errorf("%d analytes are judged, want 3", n)
	}
}

// demoProblemArea holds the problem area against everything else that is sampled
// in its field: they share no ground, and both results stand side by side.
func demoProblemArea(t *testing.T, season, stdout, page string) {
	t.Helper()
	l, err := vector.Read(filepath.Join(season, planFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	fields, err := sampling.ReadFields(l)
	if err != nil {
		t.Fatal(err)
	}
	units := planned(t, season)
	problems := 0
	for _, u := range units {
		if u.Problem == "" {
			continue
		}
		problems++
		f := fields[slices.IndexFunc(fields, func(f *geo.Field) bool { return f.Name == u.Field })]
		sick, _, err := f.Frame.Shape(u.Shape)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(units, func(v sampling.PlannedUnit) bool { return v.ID == u.CompareWith && v.ComparisonOf == u.Problem }) {
			t.Errorf("problem area %s is compared with %q", u.Problem, u.CompareWith)
		}
		for _, v := range units {
			if v.Field != u.Field || v.ID == u.ID {
				continue
			}
			other, _, err := f.Frame.Shape(v.Shape)
			if err != nil {
				t.Fatal(err)
			}
			common, err := plane.Intersect(sick, other)
			if err != nil {
				t.Fatal(err)
			}
			if !common.Empty() {
				t.Errorf("samples %s and %s share %.3f m²", u.ID, v.ID, common.Area())
			}
		}
	}
	if problems != 1 {
		t.Errorf("%d problem areas", problems)
	}
	for _, want := range []string{"problem area yellow knoll, pH: 5.", "difference -0."} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the demonstration does not say %q", want)
		}
	}
	if !strings.Contains(page, "Problem areas and the ground beside them") || !strings.Contains(page, "yellow knoll</th><td>pH</td>") {
		t.Error("the page does not set the problem area beside healthy ground")
	}
}

// TestSameBytes runs the same job with one and with two processors.
func TestSameBytes(t *testing.T) {
	dir := t.TempDir()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	mustCall(t, "demo", filepath.Join(dir, "one"))
	runtime.GOMAXPROCS(2)
	mustCall(t, "demo", filepath.Join(dir, "two"))
	one := tree(t, filepath.Join(dir, "one"))
	sameTrees(t, one, tree(t, filepath.Join(dir, "two")))
	// And once more over what is there: nothing changes, so nothing is refused.
	mustCall(t, "run", filepath.Join(dir, "one", "job.yaml"))
	sameTrees(t, one, tree(t, filepath.Join(dir, "one")))
}

// TestStepsAreTheRun does the demonstration's job by its single commands.
func TestStepsAreTheRun(t *testing.T) {
	dir := t.TempDir()
	farm, out := filepath.Join(dir, "farm"), filepath.Join(dir, "steps")
	mustCall(t, "demo", farm)
	in := func(name string) string { return filepath.Join(farm, name) }
	to := func(name string) string { return filepath.Join(out, name) }
	mustCall(t, "plan", "--boundary", in("fields.shp"), "--name", "NAME", "--exclude", in("wet.geojson")+"@15m",
		"--management", in("crops.geojson"), "--management-name", "crop", "--problems", in("sick.geojson"), "--problems-name", "id",
		"--design", "grid", "--cell", "2.5ac", "--cores", "12", "--spacing", "5m", "--setback", "10m", "--depth", "0-8in", "--seed", "7", "--out", out)
	mustCall(t, "kit", "--plan", to("plan.geojson"), "--tests", "pH, buffer pH, P, K, OM, CEC", "--farm", "Larkspur Bottom (invented)", "--units", "us", "--out", to(kitFolder))
	mustCall(t, "join", "--plan", to("plan.geojson"), "--results", in("lab.csv"), "--out", out)
	mustCall(t, "surface", "--results", to("results.geojson"), "--analytes", "pH,buffer pH,P,K", "--pixel", "5m", "--method", "auto",
		"--power", "auto", "--near", "auto", "--formats", "tif,svg", "--units", "us", "--out", out)
	mustCall(t, "zone", "--results", to("results.geojson"), "--surfaces", to("surfaces.json"),
		"--classes", "pH: 5.5, 6.0, 6.5, 7.0", "--classes", "P: table ohio-corn-soybean",
		"--patch", "pH < 6.0", "--patch", "P < 20", "--patch", "K < 120", "--smallest", "0.25ac", "--least-width", "12m", "--smooth", "--shapefiles", "--pictures", "svg", "--units", "us", "--out", out)
	mustCall(t, "rate", "--results", to("results.geojson"), "--surfaces", to("surfaces.json"), "--zones", to("zones.geojson"),
		"--use", "iowa-2002-lime", "--use", "tri-state-2020-p", "--use", "tri-state-2020-k",
		"--crop", "corn, 180 bu/ac, pH 6.5", "--crop", "alfalfa: alfalfa, 6 ton/ac, pH 6.9",
		"--product", "quarry lime (invented): CCE 92, mesh 4/8/60 100/90/55, moisture 2, rule iowa, 26 USD/ton, least 500 lb/ac, step 100 lb/ac",
		"--product", "TSP: 0-46-0, 620 USD/ton, least 60 lb/ac, step 5 lb/ac", "--product", "potash: 0-0-60, 480 USD/ton, least 60 lb/ac, step 5 lb/ac",
		"--farm", "Larkspur Bottom (invented)", "--units", "us", "--out", out)
	whole := tree(t, filepath.Join(farm, "season"))
	delete(whole, "report.html")
	sameTrees(t, whole, tree(t, out))
}

func TestPlanningOnly(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "f.geojson"), twoFields)
	job := write(t, filepath.Join(dir, "job.yaml"), `
boundary: f.geojson
plan: {design: strata, samples: 5, cores: 10, setback: 8m, depth: 0-20cm}
zone: {patch: pH < 6}
out: o
`)
	mustCall(t, "run", job)
	files := tree(t, filepath.Join(dir, "o"))
	if len(files) != 5 || files["plan.geojson"] == "" || files["report.html"] == "" {
		t.Errorf("planning alone wrote %d files", len(files))
	}
}

// TestAwkwardLab has every kind of row that the join must account for.
func TestAwkwardLab(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "f.geojson"), twoFields)
	out := filepath.Join(dir, "o")
	mustCall(t, "plan", "--boundary", filepath.Join(dir, "f.geojson"), "--cell", "5ha", "--cores", "5", "--out", out)
	layer, err := vector.Read(filepath.Join(out, planFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	units, err := sampling.ReadUnits(layer)
	if err != nil {
		t.Fatal(err)
	}
	if len(units) < 8 {
		t.Fatalf("%d units; the test needs 8", len(units))
	}
	id := func(i int) string { return units[i].ID }
	slip := id(1)[:2] + "99" + id(1)[4:]
	rows := []string{
		"Sample ID,pH,P ppm",
		id(0) + ",6.1,20",   // row 2
		slip + ",6.2,21",    // row 3: misspelt
		id(2) + ",6.3,22",   // row 4
		id(2) + ",6.5,24",   // row 5: a duplicate
		id(3) + ",,25",      // row 6: a blank figure
		id(4) + ",6.4,<0.5", // row 7: below the limit
		id(5) + ",6.6,lots", // row 8: text among numbers
		"ELSEWHERE,7,70",    // row 9: in no plan
		",,",                // row 10: a blank row
		id(6) + ",6.7,26",   // row 11
	}
	lab1 := write(t, filepath.Join(dir, "lab.csv"), strings.Join(rows, "\n")+"\n")
	stdout := mustCall(t, "join", "--plan", filepath.Join(out, planFile), "--results", lab1, "--out", out)
	r, err := readReckoning(filepath.Join(out, "join.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Check(); err != nil {
		t.Fatal(err)
	}
	fates := map[int]lab.Fate{}
	for _, row := range r.Rows {
		fates[row.Row] = row.Fate
	}
	want := map[int]lab.Fate{2: lab.Joined, 3: lab.Unmatched, 4: lab.Joined, 5: lab.Replicate, 6: lab.Joined, 7: lab.Joined, 8: lab.Joined, 9: lab.Unmatched, 10: lab.Refused, 11: lab.Joined}
	for row, fate := range want {
		if fates[row] != fate {
			t.Errorf("row %d is %q, want %q", row, fates[row], fate)
		}
	}
	if len(fates) != len(want) {
		t.Errorf("%d rows are accounted for, want %d", len(fates), len(want))
	}
	for _, row := range []string{"row 3", "row 5", "row 6", "row 7", "row 8", "row 9", "row 10"} {
		if !strings.Contains(stdout, row+":") && !strings.Contains(stdout, row+",") {
			t.Errorf("the terminal does not name %s", row)
		}
	}
	results, err := readResults(filepath.Join(out, resultsFile))
	if err != nil {
		t.Fatal(err)
	}
	figure := func(i int, analyte string) (sampling.Figure, bool) {
		for _, c := range results.Composites {
			if c.ID == id(i) {
				return c.Figure(analyte)
			}
		}
		t.Fatalf("sample %s is not in the results", id(i))
		return sampling.Figure{}, false
	}
	if f, _ := figure(2, "pH"); f.Value != 6.4 {
		t.Errorf("replicates 6.3 and 6.5 give %v", f.Value)
	}
	if f, _ := figure(4, "P"); f.Value != 0.25 || f.Censored != "<" {
		t.Errorf("<0.5 gives %+v", f)
	}
	if _, ok := figure(5, "P"); ok {
		t.Error("a text became a figure")
	}
	if _, ok := figure(1, "pH"); ok {
		t.Error("a misspelt id was taken for the nearest one")
	}
	if len(results.Composites) != len(units) {
		t.Errorf("%d composites in the results, %d in the plan", len(results.Composites), len(units))
	}
}

// TestRefused calls the program wrongly, or with bad input. Each time there is
// one line that says what is wrong, and no file is written.
func TestRefused(t *testing.T) {
	dir := t.TempDir()
	f := write(t, filepath.Join(dir, "f.geojson"), twoFields)
	broken := write(t, filepath.Join(dir, "broken.geojson"), twoFields[:200])
	job := func(name, text string) string { return write(t, filepath.Join(dir, name), text) }
	out := filepath.Join(dir, "never")
	for _, c := range []struct {
		name   string
		args   []string
		status int
		want   []string
	}{
		{"no such command", []string{"walk"}, exitUsage, []string{`"walk"`}},
		{"no such flag", []string{"plan", "--colour", "red"}, exitUsage, []string{"--colour"}},
		{"no boundary", []string{"plan"}, exitUsage, []string{"--boundary"}},
		{"area without unit", []string{"plan", "--boundary", f, "--cell", "5"}, exitUsage, []string{"no unit", "2.5ac"}},
		{"length without unit", []string{"plan", "--boundary", f, "--setback", "5"}, exitUsage, []string{"no unit", "10m"}},
		{"wrong unit", []string{"plan", "--boundary", f, "--cell", "5m"}, exitUsage, []string{`"m"`, "area"}},
		{"negative", []string{"plan", "--boundary", f, "--setback", "-5m"}, exitUsage, []string{"below zero"}},
		{"no such design", []string{"plan", "--boundary", f, "--design", "spiral"}, exitUsage, []string{"spiral", "strata"}},
		{"depth upside down", []string{"plan", "--boundary", f, "--depth", "8-0in"}, exitUsage, []string{"8-0in"}},
		{"no cores", []string{"plan", "--boundary", f, "--cores", "0"}, exitUsage, []string{"from 1 up"}},
		{"file missing", []string{"plan", "--boundary", filepath.Join(dir, "gone.shp")}, exitFailed, []string{"gone.shp"}},
		{"file broken", []string{"plan", "--boundary", broken}, exitFailed, []string{"broken.geojson"}},
		{"no such column", []string{"plan", "--boundary", f, "--name", "FELD"}, exitFailed, []string{"FELD", "NAME"}},
		{"setback eats the field", []string{"plan", "--boundary", f, "--setback", "2km"}, exitFailed, []string{"North", "setback"}},
		{"cell larger than the field", []string{"plan", "--boundary", f, "--cell", "2000ha"}, exitFailed, []string{"cell", "larger"}},
		{"covered by exclusions", []string{"plan", "--boundary", f, "--exclude", f}, exitFailed, []string{"exclusions", "North"}},
		{"no such system", []string{"plan", "--boundary", f, "--crs", "EPSG:1"}, exitFailed, []string{"EPSG:1"}},
		{"join of nothing", []string{"join", "--plan", f}, exitUsage, []string{"--results"}},
		{"a plan that is none", []string{"join", "--plan", f, "--results", f}, exitFailed, []string{"f.geojson", "kind"}},
		{"results that are none", []string{"surface", "--results", f}, exitFailed, []string{"f.geojson"}},
		{"surfaces that are none", []string{"zone", "--results", f, "--surfaces", f, "--patch", "pH<6"}, exitFailed, []string{"f.geojson"}},
		{"a limit that is none", []string{"zone", "--results", f, "--surfaces", f, "--patch", "sour"}, exitUsage, []string{"sour"}},
		{"power zero", []string{"surface", "--results", f, "--power", "0"}, exitUsage, []string{"power"}},
		{"near nought", []string{"surface", "--results", f, "--near", "0"}, exitUsage, []string{"near"}},
		{"two jobs", []string{"run", "a", "b"}, exitUsage, []string{"one job"}},
		{"job missing", []string{"run", filepath.Join(dir, "gone.yaml")}, exitFailed, []string{"gone.yaml"}},
		{"job empty", []string{"run", job("empty.yaml", "")}, exitFailed, []string{"empty"}},
		{"job not YAML", []string{"run", job("not.yaml", "a: [1")}, exitFailed, []string{"not.yaml", "line 1"}},
		{"key misspelt", []string{"run", job("j1.yaml", "farm: x\nboundry: {file: f.geojson}\n")}, exitFailed, []string{"line 2", "boundry", `"boundary"`}},
		{"inner key misspelt", []string{"run", job("j2.yaml", "boundary: {file: f.geojson}\nplan:\n  design: grid\n  setbak: 5m\n")}, exitFailed, []string{"line 4", "setbak", `"setback"`}},
		{"key twice", []string{"run", job("j3.yaml", "farm: x\nfarm: y\n")}, exitFailed, []string{"j3.yaml", "2"}},
		{"value wrong", []string{"run", job("j4.yaml", "boundary: f.geojson\nplan: {cell: 2.5}\n")}, exitFailed, []string{"line 2", "plan.cell", "no unit"}},
		{"results without plan", []string{"run", job("j5.yaml", "boundary: f.geojson\nresults: {file: lab.csv}\n")}, exitFailed, []string{"results", "plan"}},
		{"nothing to do", []string{"run", job("j6.yaml", "boundary: f.geojson\n")}, exitFailed, []string{"nothing to do"}},
		{"limit wrong", []string{"run", job("j7.yaml", "boundary: f.geojson\nplan: {cell: 1ha}\nzone: {patch: [sour]}\n")}, exitFailed, []string{"line 3", "sour"}},
		{"a list where one value is due", []string{"run", job("j8.yaml", "boundary: f.geojson\nplan: {cell: [1ha]}\n")}, exitFailed, []string{"plan.cell"}},
		{"points without a system", []string{"run", job("j9.yaml", "boundary: f.geojson\nresults: {points: p.csv, x: a, y: b}\n")}, exitFailed, []string{"p.csv", "crs"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			args := c.args
			if args[0] == "plan" || args[0] == "join" || args[0] == "surface" || args[0] == "zone" {
				args = append(args, "--out", out)
			}
			stdout, stderr, status := call(t, args...)
			if status != c.status {
				t.Errorf("status %d, want %d", status, c.status)
			}
			message, _, _ := strings.Cut(strings.TrimPrefix(stderr, "corewalk: "), "\n")
			for _, w := range c.want {
				if !strings.Contains(message, w) {
					t.Errorf("%q is not in: %s", w, message)
				}
			}
			if stdout != "" {
				t.Errorf("something is on standard output: %s", stdout)
			}
			if lines := strings.Count(strings.TrimSpace(stderr), "\n") + 1; status == exitFailed && lines != 1 {
				t.Errorf("%d lines: %s", lines, stderr)
			}
			if _, err := os.Stat(out); err == nil {
				t.Error("something was written")
			}
		})
	}
}

// TestNothingIsOverwritten: an input never, another file only by --force.
func TestNothingIsOverwritten(t *testing.T) {
	dir := t.TempDir()
	f := write(t, filepath.Join(dir, "plan.geojson"), twoFields)
	if _, stderr, status := call(t, "plan", "--boundary", f, "--cell", "2ha", "--out", dir, "--force"); status != exitFailed || !strings.Contains(stderr, "input") {
		t.Errorf("status %d: %s", status, stderr)
	}
	if files := tree(t, dir); len(files) != 1 || files["plan.geojson"] != twoFields {
		t.Error("the input was touched, or something stands beside it")
	}
	out := filepath.Join(dir, "o")
	mustCall(t, "plan", "--boundary", f, "--cell", "2ha", "--out", out)
	before := tree(t, out)
	if _, stderr, status := call(t, "plan", "--boundary", f, "--cell", "3ha", "--out", out); status != exitFailed || !strings.Contains(stderr, "--force") {
		t.Errorf("status %d: %s", status, stderr)
	}
	sameTrees(t, before, tree(t, out))
	mustCall(t, "plan", "--boundary", f, "--cell", "3ha", "--out", out, "--force")
	if tree(t, out)["plan.geojson"] == before["plan.geojson"] {
		t.Error("--force did not overwrite")
	}
}

// TestWrittenToAFile leads the output where no folder can be.
func TestWrittenToAFile(t *testing.T) {
	dir := t.TempDir()
	f := write(t, filepath.Join(dir, "f.geojson"), twoFields)
	blocked := write(t, filepath.Join(dir, "file"), "x")
	if _, stderr, status := call(t, "plan", "--boundary", f, "--cell", "2ha", "--out", blocked); status != exitFailed || !strings.Contains(stderr, "file") {
		t.Errorf("status %d: %s", status, stderr)
	}
}

func TestJSON(t *testing.T) {
	dir := t.TempDir()
	f := write(t, filepath.Join(dir, "f.geojson"), twoFields)
	var s planSummary
	if err := json.Unmarshal([]byte(mustCall(t, "plan", "--boundary", f, "--cell", "2ha", "--json", "--out", filepath.Join(dir, "o"))), &s); err != nil {
		t.Fatal(err)
	}
	if s.Samples == 0 || s.Cores != s.Samples*defaultCores || len(s.Fields) != 2 || s.Seed != defaultSeed || len(s.Files) != 4 {
		t.Errorf("%+v", s)
	}
}

// TestPoints maps results that bring their own coordinates, from a table and
// from a GeoJSON file, with and without a boundary.
func TestPoints(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "f.geojson"), twoFields)
	table := "east,north,pH,zinc\n"
	geojson := `{"type":"FeatureCollection","features":[`
	for i := range 30 {
		lon, lat := 10.0005+0.0012*float64(i%6), 48.0005+0.001*float64(i/6)
		table += plain(lon) + "," + plain(lat) + "," + plain(6+0.1*float64(i%6)) + "," + plain(40+float64(i)) + "\n"
		if i > 0 {
			geojson += ","
		}
		geojson += `{"type":"Feature","properties":{"pH":` + plain(6+0.1*float64(i%6)) + `},"geometry":{"type":"Point","coordinates":[` + plain(lon) + "," + plain(lat) + `]}}`
	}
	table += "12.0,48.0,7,1\n" // row 32: in no field
	write(t, filepath.Join(dir, "pond.geojson"), `{"type":"Polygon","coordinates":[[[10.0055,48.0038],[10.0079,48.0038],[10.0079,48.006],[10.0055,48.006],[10.0055,48.0038]]]}`)
	table += "10.001,,7,1\n" // row 33: no coordinate
	write(t, filepath.Join(dir, "soil.csv"), table)
	write(t, filepath.Join(dir, "soil.geojson"), geojson+"]}")
	job := write(t, filepath.Join(dir, "a.yaml"), `
boundary: {file: f.geojson, name: NAME}
results: {points: soil.csv, x: EAST, y: north, crs: "EPSG:4326"}
surface: {analytes: [pH, Zinc], near: all}
zone: {patch: ["pH < 6.15", "zinc >= 60"]}
out: a
`)
	mustCall(t, "run", job)
	r, err := readReckoning(filepath.Join(dir, "a", "join.json"))
	if err != nil {
		t.Fatal(err)
	}
	if c := r.Counts; c.Joined != 30 || c.Unmatched != 1 || c.Refused != 1 || r.Check() != nil {
		t.Errorf("%+v, %v", c, r.Check())
	}
	index, err := readSurfaces(filepath.Join(dir, "a", surfacesFile))
	if err != nil {
		t.Fatal(err)
	}
	if len(index.Surfaces) != 2 || index.Surfaces[0].CRS != "EPSG:32632" || !index.Surfaces[0].Supported {
		t.Errorf("%+v", index.Surfaces)
	}
	zones, err := vector.Read(filepath.Join(dir, "a", zonesFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(zones.Features) < 4 {
		t.Errorf("%d zones and patches", len(zones.Features))
	}
	// The pond covers the last of the points.
	job = write(t, filepath.Join(dir, "c.yaml"), "boundary: f.geojson\nexclude: pond.geojson\nresults: {points: soil.csv, x: east, y: north, crs: EPSG:4326}\nout: c\n")
	if stdout := mustCall(t, "run", job); !strings.Contains(stdout, "lies in an exclusion of field North") || !strings.Contains(stdout, "lies in no field (12.0") {
		t.Errorf("%s", stdout)
	}
	job = write(t, filepath.Join(dir, "b.yaml"), "farm: Hull\nresults: {points: soil.geojson}\nsurface:\nout: b\n")
	if stdout := mustCall(t, "run", job); !strings.Contains(stdout, "Hull, pH: 30 composites") {
		t.Errorf("%s", stdout)
	}
}

// The page of a field of 65 ha with surfaces of six analytes keeps under 2 MB,
// and all of them can be read off.
func TestPageStaysSmall(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	const lon, lat = 9.97, 52.2
	east, north := 806/(111320*math.Cos(lat*math.Pi/180)), 806/111240.0
	put("field.geojson", fmt.Sprintf(`{"type":"Feature","properties":{"name":"Sixty-five"},"geometry":{"type":"Polygon","coordinates":[[[%[1]v,%[2]v],[%[3]v,%[2]v],[%[3]v,%[4]v],[%[1]v,%[4]v],[%[1]v,%[2]v]]]}}`, lon, lat, lon+east, lat+north))
	plan := "boundary: {file: field.geojson}\nplan: {design: grid, cell: 1ha, cores: 12, setback: 5m, depth: 0-20cm, seed: 4}\nout: season\n"
	mustCall(t, "run", put("plan.yaml", plan))
	units, err := vector.Read(filepath.Join(dir, "season", planFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	samples, err := sampling.ReadUnits(units)
	if err != nil {
		t.Fatal(err)
	}
	var lab strings.Builder
	lab.WriteString("Sample ID,pH,Buffer pH,P (mg/kg),K (mg/kg),Mg (mg/kg),OM (%)\n")
	for _, u := range samples {
		x, y := (u.At().Lon()-lon)/east, (u.At().Lat()-lat)/north
		w := math.Sin(5*x) * math.Cos(4*y)
		fmt.Fprintf(&lab, "%s,%.2f,%.2f,%.0f,%.0f,%.0f,%.1f\n", u.ID, 6.2+0.7*w, 6.7+0.2*w, 30+20*w, 160+70*math.Cos(4*x), 140+50*math.Sin(6*y), 3+w)
	}
	put("lab.csv", lab.String())
	zones := "results: {file: lab.csv}\nsurface: {pixel: 5m}\nzone: {classes: [\"pH: 5.5, 6, 6.5\"], patch: [\"pH < 5.8\", \"P < 15\"]}\n"
	mustCall(t, "run", put("job.yaml", plan+zones), "--force")
	page, err := os.ReadFile(filepath.Join(dir, "season", reportFile))
	if err != nil {
		t.Fatal(err)
	}
	if len(page) >= 2_000_000 {
		t.Errorf("the page has %d bytes", len(page))
	}
	if n := strings.Count(string(page), `"grid":{`); n != 6 {
		t.Errorf("%d of 6 surfaces can be read off", n)
	}
	t.Logf("%d samples, %d bytes", len(samples), len(page))
}
