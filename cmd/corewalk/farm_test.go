package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"corewalk/geo/crs"
	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// manyFields writes n invented fields of about 6 ha, some with a pond and all with
// an outline of their own, and returns the path of a job for them.
func manyFields(t *testing.T, dir string, n int) string {
	t.Helper()
	r := rand.New(rand.NewPCG(4, uint64(n)))
	var fields, ponds []string
	polygon := func(name string, corners [][2]float64) string {
		var points []string
		for _, c := range append(corners, corners[0]) {
			points = append(points, fmt.Sprintf("[%.7f,%.7f]", c[0], c[1]))
		}
		return fmt.Sprintf(`{"type":"Feature","properties":{"name":%q},"geometry":{"type":"Polygon","coordinates":[[%s]]}}`, name, strings.Join(points, ","))
	}
	for i := range n {
		x, y := 10+0.005*float64(i%20), 48+0.004*float64(i/20)
		jag := func() float64 { return 0.0006 * r.Float64() }
		fields = append(fields, polygon(fmt.Sprintf("Field %d", i+1), [][2]float64{
			{x + jag(), y + jag()}, {x + 0.0035 - jag(), y + jag()}, {x + 0.0035 - jag(), y + 0.0025 - jag()}, {x + 0.0015, y + 0.0025 - jag()/2}, {x + jag(), y + 0.0025 - jag()},
		}))
		if i%3 == 0 {
			ponds = append(ponds, polygon("pond", [][2]float64{{x + 0.0012, y + 0.001}, {x + 0.0016, y + 0.001}, {x + 0.0014, y + 0.0014}}))
		}
	}
	collect := func(features []string) string {
		return `{"type":"FeatureCollection","features":[` + "\n" + strings.Join(features, ",\n") + "\n]}\n"
	}
	write(t, filepath.Join(dir, "fields.geojson"), collect(fields))
	write(t, filepath.Join(dir, "ponds.geojson"), collect(ponds))
	return write(t, filepath.Join(dir, "job.yaml"), `farm: Many Acres (invented)
boundary: {file: fields.geojson, name: name}
exclude: [{file: ponds.geojson, setback: 5m}]
plan: {design: grid, cell: 1ha, cores: 6, setback: 8m, seed: 11, depth: 0-20cm}
`)
}

// A farm field by field has the samples and cores of the farm in one piece.
func TestFarmRunIsTheRun(t *testing.T) {
	dir := t.TempDir()
	const n = 25
	job := manyFields(t, dir, n)
	mustCall(t, "run", job)
	whole := planned(t, filepath.Join(dir, "out"))
	data, err := os.ReadFile(job)
	if err != nil {
		t.Fatal(err)
	}
	write(t, job, string(data)+"out: one by one\n")
	said := mustCall(t, "farm", "run", job, "--lab-cost", "12", "--hour-cost", "40")
	out := filepath.Join(dir, "one by one")
	s, err := readSummary(filepath.Join(out, "farm.json"))
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Records) != n || s.Totals.Done != n || s.Totals.Samples != len(whole) || !strings.Contains(said, fmt.Sprintf("%d samples", len(whole))) {
		t.Fatalf("%d fields, totals %+v, said %q; the farm in one piece has %d samples", len(s.Records), s.Totals, said, len(whole))
	}
	var all []sampling.PlannedUnit
	var walk, seconds float64
	for i, r := range s.Records {
		if r.Place != i+1 || r.Field != fmt.Sprintf("Field %d", i+1) || r.Folder != fmt.Sprintf("fields/Field-%d", i+1) {
			t.Fatalf("record %d is of %+v", i, r)
		}
		units := planned(t, filepath.Join(out, r.Folder))
		if r.Units != len(units) || r.Samples != len(units) || r.Cores != 6*len(units) {
			t.Errorf("%s: said %d units and %d cores, the plan has %d units", r.Field, r.Units, r.Cores, len(units))
		}
		all = append(all, units...)
		walk += r.WalkM
		seconds += r.Seconds
	}
	for i := range min(len(all), len(whole)) {
		if a, b := all[i].Point, whole[i].Point; a == nil || b == nil || *a != *b {
			t.Fatalf("sample %s has the point %v, in one piece %v", all[i].ID, a, b)
		}
		all[i].Point, whole[i].Point = nil, nil
		if want, got := fmt.Sprint(whole[i]), fmt.Sprint(all[i]); want != got {
			t.Fatalf("sample %d is %s, in one piece %s", i, got, want)
		}
	}
	if decimals(walk, 1) != s.Totals.WalkM || *s.Totals.Cost != decimals(12*float64(len(whole))+40*s.Totals.Seconds/3600, 2) || decimals(seconds, 1) != s.Totals.Seconds {
		t.Errorf("totals %+v, cost %v", s.Totals, *s.Totals.Cost)
	}
	table, err := os.ReadFile(filepath.Join(out, "farm.csv"))
	if err != nil || strings.Count(string(table), "\n") != n+1 || !strings.Contains(string(table), "\n7,Field 7,fields/Field-7,done,EPSG:32632,") {
		t.Errorf("farm.csv: %v\n%s", err, table)
	}
}

// Whatever the processors, the workers and the shards, the files are the same.
func TestFarmRunSameBytes(t *testing.T) {
	const n = 14
	trees := map[string]map[string]string{}
	for _, x := range []struct {
		name  string
		procs int
		args  [][]string
	}{
		{"one", 1, [][]string{{"--workers", "1"}}},
		{"many", 4, [][]string{{"--workers", "9", "--progress", "yes"}}},
		{"shards", 2, [][]string{{"--shard", "2/3"}, {"--shard", "1/3"}, {"--shard", "3/3"}}},
		{"resumed", 2, [][]string{{"--shard", "2/3"}, {"--resume"}, {"--resume"}}},
	} {
		dir := t.TempDir()
		job := manyFields(t, dir, n)
		before := runtime.GOMAXPROCS(x.procs)
		for _, args := range x.args {
			mustCall(t, slices.Concat([]string{"farm", "run", job, "--lab-cost", "9"}, args)...)
		}
		runtime.GOMAXPROCS(before)
		if x.name == "shards" {
			mustCall(t, "farm", "merge", filepath.Join(dir, "out"))
		}
		files := tree(t, filepath.Join(dir, "out"))
		for name := range files {
			if strings.HasPrefix(name, "farm-") {
				delete(files, name)
			}
		}
		if len(files) != 5*n+2 {
			t.Errorf("%s: %d files", x.name, len(files))
		}
		trees[x.name] = files
	}
	for name, files := range trees {
		t.Log(name)
		sameTrees(t, trees["one"], files)
	}
}

// One bad field does not stop the others, and is done once it is mended.
func TestFarmBadField(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 9)
	good, err := os.ReadFile(filepath.Join(dir, "fields.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	// Field 4 becomes a strip that is all setback.
	lines := strings.Split(string(good), "\n")
	lines[4] = `{"type":"Feature","properties":{"name":"Field 4"},"geometry":{"type":"Polygon","coordinates":[[[10.015,48],[10.018,48],[10.018,48.0001],[10.015,48.0001],[10.015,48]]]}},`
	write(t, filepath.Join(dir, "fields.geojson"), strings.Join(lines, "\n"))
	stdout, said, status := call(t, "farm", "run", job)
	if status != exitFailed || !strings.Contains(stdout, "8 of 9 fields done") || !strings.Contains(said, "note: field Field 4 failed: ") || !strings.Contains(said, "corewalk: 1 of 9 fields failed; mend what ") {
		t.Errorf("status %d, %q, %q", status, stdout, said)
	}
	out := filepath.Join(dir, "out")
	s, err := readSummary(filepath.Join(out, "farm.json"))
	if err != nil || s.Totals.Failed != 1 || s.Records[3].Status != fieldFailed || s.Records[3].Reason == "" || s.Records[4].Status != fieldDone {
		t.Errorf("%v: %+v", err, s)
	}
	if _, err := os.Stat(filepath.Join(out, "fields", "Field-4")); err == nil {
		t.Error("the bad field has a folder")
	}
	was := modified(t, filepath.Join(out, "fields"))
	write(t, filepath.Join(dir, "fields.geojson"), string(good))
	if out := mustCall(t, "farm", "run", job, "--resume"); !strings.Contains(out, "9 of 9 fields done") {
		t.Errorf("said %q", out)
	}
	for name, at := range modified(t, filepath.Join(out, "fields")) {
		if old, ok := was[name]; ok && !old.Equal(at) {
			t.Errorf("%s was written anew", name)
		}
	}
	other := t.TempDir()
	mustCall(t, "farm", "run", manyFields(t, other, 9))
	sameTrees(t, tree(t, filepath.Join(other, "out")), tree(t, out))
}

// modified tells when the files below a folder were written.
func modified(t *testing.T, dir string) map[string]time.Time {
	t.Helper()
	out := map[string]time.Time{}
	for name := range tree(t, dir) {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		out[name] = info.ModTime()
	}
	return out
}

// What a later run does with what an earlier one left, and somebody changed.
func TestFarmResume(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 6)
	out := filepath.Join(dir, "out")
	at := func(name string) string { return filepath.Join(out, "fields", filepath.FromSlash(name)) }
	mustCall(t, "farm", "run", job)
	want := tree(t, out)
	check := func(what string) {
		t.Helper()
		t.Log(what)
		sameTrees(t, want, tree(t, out))
	}
	refused := func(reason string, args ...string) {
		t.Helper()
		if _, said, status := call(t, append([]string{"farm", "run", job}, args...)...); status != exitFailed || !strings.Contains(said, reason) {
			t.Errorf("%v: status %d, %q", args, status, said)
		}
	}
	mustCall(t, "farm", "run", job)
	check("once more without --resume")

	// A file that is missing, one that was half written, one that was changed.
	os.Remove(at("Field-1/manifest.csv"))
	os.Remove(at("Field-2/done.json"))
	os.RemoveAll(at("Field-3"))
	if err := os.MkdirAll(at(".corewalk-Field-5/surfaces"), 0o777); err != nil {
		t.Fatal(err)
	}
	write(t, at(".corewalk-Field-5/plan.geojson"), "half")
	mustCall(t, "farm", "run", job, "--resume")
	check("after files were lost")

	write(t, at("Field-4/manifest.csv"), "sample_id,taken\nBF01X,yes\n")
	refused("manifest.csv was changed since it was written; give --force", "--resume")
	if data, err := os.ReadFile(at("Field-4/manifest.csv")); err != nil || !strings.Contains(string(data), "BF01X,yes") {
		t.Errorf("what somebody wrote is gone: %v, %q", err, data)
	}
	refused("manifest.csv exists and would change; give --force")
	write(t, at("Field-4/notes.txt"), "gate is locked")
	mustCall(t, "farm", "run", job, "--resume", "--force")
	want["fields/Field-4/notes.txt"] = "gate is locked"
	check("with --force")

	// Pages are made where they are missing.
	other := filepath.Join(dir, "pages")
	data, err := os.ReadFile(job)
	if err != nil {
		t.Fatal(err)
	}
	withPages := write(t, filepath.Join(dir, "pages.yaml"), string(data)+"out: pages\n")
	mustCall(t, "farm", "run", withPages)
	mustCall(t, "farm", "run", withPages, "--resume", "--pages")
	if pages, err := filepath.Glob(filepath.Join(other, "fields", "*", reportFile)); err != nil || len(pages) != 6 {
		t.Errorf("%d pages, %v", len(pages), err)
	}

	// Other parameters are not taken for the same.
	write(t, job, strings.Replace(string(data), "seed: 11", "seed: 12", 1))
	refused("manifest.csv exists and would change; give --force", "--resume")
	write(t, job, "# the same in other words\n"+string(data))
	mustCall(t, "farm", "run", job, "--resume")
	check("with a comment in the job")

	// What a run wrote and does not write any more goes, if it is as it was.
	write(t, job, string(data)+"kit: {tests: [pH]}\n")
	mustCall(t, "farm", "run", job, "--resume")
	if len(tree(t, at("Field-6/kit"))) != 6 {
		t.Errorf("the kit is %v", tree(t, at("Field-6/kit")))
	}
	write(t, at("Field-6/kit/labsheet.csv"), "with remarks")
	write(t, job, string(data))
	refused("fieldsheet.pdf was written by an earlier run and is not written any more; give --force to take it away", "--resume")
	mustCall(t, "farm", "run", job, "--resume", "--force")
	want["fields/Field-6/kit/labsheet.csv"] = "with remarks"
	check("without the kit")

	// A field is done anew when what the map says of it changes, and no other.
	fields, err := os.ReadFile(filepath.Join(dir, "fields.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	moved := strings.Replace(string(fields), `"name":"Field 2"`, `"name":"Field Two"`, 1)
	write(t, filepath.Join(dir, "fields.geojson"), moved)
	was := modified(t, filepath.Join(out, "fields"))
	mustCall(t, "farm", "run", job, "--resume")
	for name, when := range modified(t, filepath.Join(out, "fields")) {
		if old, ok := was[name]; ok != !strings.HasPrefix(name, "Field-Two/") || ok && !old.Equal(when) {
			t.Errorf("%s: there before: %v", name, ok)
		}
	}
}

// A list of files that is not what a run writes is not followed out of the folder.
func TestFarmForeignList(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 1)
	mustCall(t, "farm", "run", job)
	field := filepath.Join(dir, "out", "fields", "Field-1")
	good, err := os.ReadFile(filepath.Join(field, doneFile))
	if err != nil {
		t.Fatal(err)
	}
	precious := write(t, filepath.Join(dir, "out", "precious"), "mine")
	f, err := ownFileAt(filepath.Dir(precious), "precious")
	if err != nil {
		t.Fatal(err)
	}
	for _, list := range []string{
		strings.Replace(string(good), `"files": [`, fmt.Sprintf(`"files": [{"file": "../../precious", "bytes": %d, "sha256": %q},`, f.Bytes, f.SHA256), 1),
		strings.Replace(string(good), `"files": [`, fmt.Sprintf(`"files": [{"file": %q, "bytes": %d, "sha256": %q},`, precious, f.Bytes, f.SHA256), 1),
		"{}", "", "[1]", "\x00",
	} {
		write(t, filepath.Join(field, doneFile), list)
		if _, said, status := call(t, "farm", "run", job, "--resume", "--force"); status != exitFailed || !strings.Contains(said, "is not what a farm run writes") {
			t.Errorf("%q: status %d, %q", list[:min(20, len(list))], status, said)
		}
		if _, err := os.Stat(precious); err != nil {
			t.Error(err)
		}
	}
}

// A kill while the files of a field are being replaced leaves no mixture that is
// taken for finished work.
func TestFarmHalfReplaced(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 1)
	mustCall(t, "farm", "run", job)
	field := filepath.Join(dir, "out", "fields", "Field-1")
	old, err := readDone(field)
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(job)
	if err != nil {
		t.Fatal(err)
	}
	other := t.TempDir()
	newJob := strings.Replace(string(data), "seed: 11", "seed: 12", 1)
	manyFields(t, other, 1)
	mustCall(t, "farm", "run", write(t, filepath.Join(other, "job.yaml"), newJob))
	want := tree(t, filepath.Join(other, "out"))
	now, err := readDone(filepath.Join(other, "out", "fields", "Field-1"))
	if err != nil {
		t.Fatal(err)
	}
	// As it stands after two of the renames.
	now.Key, now.Files = "", append(now.Files, old.Files...)
	if err := now.write(field); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"plan.geojson", "manifest.csv"} {
		write(t, filepath.Join(field, name), want["fields/Field-1/"+name])
	}
	write(t, job, newJob)
	mustCall(t, "farm", "run", job, "--resume")
	sameTrees(t, want, tree(t, filepath.Join(dir, "out")))
}

// A farm is come back to, field by field: the same ids, and fresh spots in the same
// units.
func TestFarmAgain(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 5)
	mustCall(t, "farm", "run", job)
	// A field that failed is missing from the earlier run.
	if err := os.RemoveAll(filepath.Join(dir, "out", "fields", "Field-2")); err != nil {
		t.Fatal(err)
	}
	again := write(t, filepath.Join(dir, "again.yaml"), "plan: {again: out, spots: fresh, seed: 5, start: [10.001, 48.001]}\nout: second\n")
	if said := mustCall(t, "farm", "run", again); !strings.Contains(said, "4 of 4 fields done") {
		t.Errorf("said %q", said)
	}
	for _, name := range []string{"Field-1", "Field-3", "Field-4", "Field-5"} {
		old, fresh := planned(t, filepath.Join(dir, "out", "fields", name)), planned(t, filepath.Join(dir, "second", "fields", name))
		ids := map[string]bool{}
		for _, u := range old {
			ids[u.ID] = true
		}
		same := 0
		for _, u := range fresh {
			if !ids[u.ID] {
				t.Errorf("%s: sample %s is new", name, u.ID)
			}
			for _, v := range old {
				if u.ID == v.ID && slices.Equal(u.Cores, v.Cores) {
					same++
				}
			}
		}
		if len(old) != len(fresh) || same > 0 {
			t.Errorf("%s: %d units and %d; %d with the same spots", name, len(old), len(fresh), same)
		}
	}
	// The plans that are come back to are never written over.
	before := tree(t, filepath.Join(dir, "out"))
	into := write(t, filepath.Join(dir, "into.yaml"), "plan: {again: out, spots: fresh, seed: 5}\nout: ./second/../out\n")
	if _, said, status := call(t, "farm", "run", into, "--force"); status != exitFailed || !strings.Contains(said, "is the folder that is written to, too") || strings.Count(said, "\n") != 1 {
		t.Errorf("status %d, %q", status, said)
	}
	sameTrees(t, before, tree(t, filepath.Join(dir, "out")))
	// Two shards, merged, are the one run; and results find their fields.
	want := tree(t, filepath.Join(dir, "second"))
	if err := os.RemoveAll(filepath.Join(dir, "second")); err != nil {
		t.Fatal(err)
	}
	mustCall(t, "farm", "run", again, "--shard", "1/2")
	mustCall(t, "farm", "run", again, "--shard", "2/2")
	mustCall(t, "farm", "merge", filepath.Join(dir, "second"))
	for _, name := range []string{"farm-1-of-2", "farm-2-of-2"} {
		for _, ext := range []string{".json", ".csv"} {
			os.Remove(filepath.Join(dir, "second", name+ext))
		}
	}
	sameTrees(t, want, tree(t, filepath.Join(dir, "second")))
	units := planned(t, filepath.Join(dir, "second", "fields", "Field-5"))
	write(t, filepath.Join(dir, "lab.csv"), "Sample ID,pH\n"+units[0].ID+",6.1\nBC017,5.0\n")
	data, err := os.ReadFile(again)
	if err != nil {
		t.Fatal(err)
	}
	write(t, again, string(data)+"results: lab.csv\n")
	mustCall(t, "farm", "run", again)
	s, err := readSummary(filepath.Join(dir, "second", "farm.json"))
	if err != nil || s.Records[3].Rows != 1 || s.Records[3].Answered != 1 || len(s.Left) != 1 {
		t.Errorf("%v: %+v", err, s)
	}
	if _, err := os.Stat(filepath.Join(dir, "second", "fields", "Field-5", reportFile)); err != nil {
		t.Error(err)
	}
}

// Results of the whole farm go to their fields.
func TestFarmResults(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, "demo", dir)
	data, err := os.ReadFile(filepath.Join(dir, "job.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	job := write(t, filepath.Join(dir, "farm.yaml"), strings.Replace(string(data), "out: season", "out: farm", 1))
	said := mustCall(t, "farm", "run", job)
	out := filepath.Join(dir, "farm")
	s, err := readSummary(filepath.Join(out, "farm.json"))
	if err != nil {
		t.Fatal(err)
	}
	if s.Totals.Done != 3 || s.Totals.Answered != 58 || len(s.Left) != 3 || !strings.Contains(said, "quarry lime (invented): ") {
		t.Errorf("said %q; %+v, %d rows of no field", said, s.Totals, len(s.Left))
	}
	if r := s.Left[0]; r.ID != "B0B5J" || !slices.Equal(r.Nearest, []string{"BB05J"}) {
		t.Errorf("of no field: %+v", r)
	}
	// The same figures, patches and masses as in one piece.
	whole := mustResults(t, filepath.Join(dir, "season"))
	var apart []sampling.Composite
	for _, r := range s.Records {
		apart = append(apart, mustResults(t, filepath.Join(out, r.Folder))...)
		for _, name := range []string{"report.html", "surfaces.json", "zones.geojson", "rates.geojson", "kit/labels.pdf"} {
			if _, err := os.Stat(filepath.Join(out, r.Folder, name)); err != nil {
				t.Error(err)
			}
		}
	}
	if a, b := fmt.Sprint(whole), fmt.Sprint(apart); a != b {
		t.Errorf("results differ:\n%s\n%s", a, b)
	}
	var rates rateSummary
	mustJSON(t, filepath.Join(dir, "season", "rates.json"), &rates)
	for _, p := range s.Totals.Products {
		kg := 0.0
		for _, r := range rates.Rates {
			if r.Product == p.Product {
				kg += r.Kilograms
			}
		}
		if kg != p.Kilograms || kg == 0 {
			t.Errorf("%s: %g kg, in one piece %g", p.Product, p.Kilograms, kg)
		}
	}
	// More of the lab's rows for one field leave the others alone.
	was := modified(t, filepath.Join(out, "fields"))
	table, err := os.ReadFile(filepath.Join(dir, "lab.csv"))
	if err != nil {
		t.Fatal(err)
	}
	id := apart[len(apart)-1].ID
	more := ""
	for _, line := range strings.Split(string(table), "\n") {
		if strings.Contains(line, ";"+id+";") {
			more = line + "\n"
		}
	}
	write(t, filepath.Join(dir, "lab.csv"), string(table)+more)
	mustCall(t, "farm", "run", job, "--resume", "--force")
	for name, at := range modified(t, filepath.Join(out, "fields")) {
		if last := strings.HasPrefix(name, "Tinker-s-Piece/"); !last && !was[name].Equal(at) || name == "Tinker-s-Piece/join.json" && was[name].Equal(at) {
			t.Errorf("%s: written anew: %v", name, !was[name].Equal(at))
		}
	}
	// A crop of ground that the farm has not.
	write(t, job, strings.Replace(string(data), "alfalfa: alfalfa", "clover: alfalfa", 1))
	if _, said, status := call(t, "farm", "run", job); status != exitFailed || !strings.Contains(said, "no field or management unit of that name") || strings.Count(said, "\n") != 1 {
		t.Errorf("status %d, %q", status, said)
	}
}

// What a handheld brings back from the whole farm goes to its fields.
func TestFarmWalked(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, "demo", dir)
	// Every core is taken some metres off, but for the last ones; one waypoint has
	// lost its name, one is far from everything.
	f, err := os.Open(filepath.Join(dir, "season", "waypoints.gpx"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d, err := gpx.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	d.Routes = nil
	d.Waypoints = slices.DeleteFunc(d.Waypoints, func(w gpx.Waypoint) bool { return strings.HasSuffix(w.Name, "12") })
	for i := range d.Waypoints {
		d.Waypoints[i].At[1] += 2e-5
	}
	d.Waypoints[40].Name = "lunch"
	d.Waypoints[50].Name, d.Waypoints[50].At = "home", crs.LonLat{-90, 40}
	var text strings.Builder
	if err := gpx.Write(&text, d); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "handheld.gpx"), text.String())
	job := `boundary: {file: fields.shp, name: NAME}
exclude: [{file: wet.geojson, setback: 15m}]
management: {file: crops.geojson, name: crop}
problems: {file: sick.geojson, name: id}
plan: {design: grid, cell: 2.5ac, cores: 12, spacing: 5m, setback: 10m, depth: 0-8in, seed: 7}
results: {file: lab.csv, walked: handheld.gpx}
`
	mustCall(t, "run", write(t, filepath.Join(dir, "one.yaml"), job+"out: one\n"))
	mustCall(t, "farm", "run", write(t, filepath.Join(dir, "farm.yaml"), job+"out: farm\n"))
	s, err := readSummary(filepath.Join(dir, "farm", "farm.json"))
	if err != nil || len(s.Strays) != 1 || s.Strays[0] != "home" {
		t.Fatalf("%v, strays %v", err, s.Strays)
	}
	cores := func(dir string) []string {
		l, err := vector.Read(filepath.Join(dir, walkedFile), vector.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for i := range l.Features {
			x := &l.Features[i]
			if kind, _ := l.Text(x, "kind"); kind != sampling.KindCore {
				continue
			}
			name, _ := l.Text(x, "name")
			status, _ := l.Text(x, "status")
			out = append(out, fmt.Sprint(name, " ", status, " ", x.Points))
		}
		return out
	}
	whole, apart := cores(filepath.Join(dir, "one")), []string{}
	for _, r := range s.Records {
		apart = append(apart, cores(filepath.Join(dir, "farm", r.Folder))...)
	}
	if len(whole) != 708 || !slices.Equal(whole, apart) {
		t.Errorf("%d cores, in one piece %d", len(apart), len(whole))
		for i := range min(len(whole), len(apart)) {
			if whole[i] != apart[i] {
				t.Fatalf("%s, in one piece %s", apart[i], whole[i])
			}
		}
	}
	if a, b := fmt.Sprint(mustResults(t, filepath.Join(dir, "one"))[:34]), fmt.Sprint(mustResults(t, filepath.Join(dir, "farm", s.Records[0].Folder))); a != b {
		t.Errorf("results of the first field differ:\n%s\n%s", a, b)
	}
}

// A field that gets no rates is listed, and has all that comes before them.
func TestFarmWithoutRates(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, "demo", dir)
	table, err := os.ReadFile(filepath.Join(dir, "lab.csv"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(table), "\n")
	for i, line := range lines {
		if cells := strings.Split(line, ";"); len(cells) > 6 && strings.HasPrefix(cells[1], "BD") {
			cells[5] = "" // the K of the third field
			lines[i] = strings.Join(cells, ";")
		}
	}
	write(t, filepath.Join(dir, "lab.csv"), strings.Join(lines, "\n"))
	job := write(t, filepath.Join(dir, "farm.yaml"), `boundary: {file: fields.shp, name: NAME}
exclude: [{file: wet.geojson, setback: 15m}]
management: {file: crops.geojson, name: crop}
problems: {file: sick.geojson, name: id}
plan: {design: grid, cell: 2.5ac, cores: 12, spacing: 5m, setback: 10m, depth: 0-8in, seed: 7}
results: {file: lab.csv}
rate: {use: tri-state-2020-k, crop: "corn, 180 bu/ac", by: unit}
out: farm
`)
	for _, args := range [][]string{nil, {"--resume"}} {
		stdout, said, status := call(t, append([]string{"farm", "run", job}, args...)...)
		if status != exitFailed || !strings.Contains(stdout, "2 of 3 fields done") || !strings.Contains(said, "field Tinker's Piece failed: ") || !strings.Contains(said, "K by Mehlich-3") {
			t.Errorf("status %d, %q, %q", status, stdout, said)
		}
		s, err := readSummary(filepath.Join(dir, "farm", "farm.json"))
		if err != nil || s.Records[2].Status != fieldFailed || s.Records[2].Answered == 0 || strings.Contains(s.Records[2].Reason, leftover) {
			t.Errorf("%v: %+v", err, s.Records[2])
		}
	}
	for _, name := range []string{resultsFile, reportFile, doneFile} {
		if _, err := os.Stat(filepath.Join(dir, "farm", "fields", "Tinker-s-Piece", name)); err != nil {
			t.Error(err)
		}
	}
}

func mustResults(t *testing.T, dir string) []sampling.Composite {
	t.Helper()
	layer, err := vector.Read(filepath.Join(dir, resultsFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := sampling.ReadResults(layer)
	if err != nil {
		t.Fatal(err)
	}
	return r.Composites
}

func mustJSON(t *testing.T, path string, v any) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(data, v)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// What is wrong with a farm run as a whole is said in one line, and nothing of
// what is there changes.
func TestFarmRefused(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 3)
	data, err := os.ReadFile(job)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "out")
	mustCall(t, "farm", "run", job)
	want := tree(t, out)
	other := func(name, text string) string { return write(t, filepath.Join(dir, name), text) }
	file := write(t, filepath.Join(dir, "file"), "in the way")
	other("empty.csv", "Sample ID,pH\n")
	points := other("points.yaml", "boundary: fields.geojson\nresults: {points: x.csv, x: A, y: B, crs: \"EPSG:32632\"}\n")
	for _, x := range []struct {
		status int
		says   string
		args   []string
	}{
		{exitUsage, "run or merge", []string{"farm"}},
		{exitUsage, "one job file", []string{"farm", "run"}},
		{exitUsage, "is not a shard; write it as 3/16", []string{"farm", "run", job, "--shard", "4/3"}},
		{exitUsage, "is not a shard", []string{"farm", "run", job, "--shard", "0/3"}},
		{exitUsage, "is not a shard", []string{"farm", "run", job, "--shard", "three"}},
		{exitUsage, "workers are out of range", []string{"farm", "run", job, "--workers", "0"}},
		{exitUsage, "progress", []string{"farm", "run", job, "--progress", "loud"}},
		{exitUsage, "not below zero", []string{"farm", "run", job, "--lab-cost", "-1"}},
		{exitFailed, "is not there", []string{"farm", "run", filepath.Join(dir, "none.yaml")}},
		{exitFailed, "plan: is missing", []string{"farm", "run", points}},
		{exitFailed, "is not the output folder of an earlier farm run", []string{"farm", "run", other("again.yaml", "plan: {again: out/fields/Field-1/plan.geojson, spots: fresh, seed: 3}\n")}},
		{exitFailed, "is not the output folder of an earlier farm run", []string{"farm", "run", other("again.yaml", "plan: {again: gone}\n")}},
		{exitFailed, "w.gpx is not there", []string{"farm", "run", other("walked.yaml", string(data)+"results: {file: empty.csv, walked: w.gpx}\n")}},
		{exitFailed, "gone.geojson is not there; check the name", []string{"farm", "run", other("gone.yaml", strings.Replace(string(data), "fields.geojson", "gone.geojson", 1)), "--resume"}},
		{exitFailed, "lab.csv is not there", []string{"farm", "run", other("nolab.yaml", string(data)+"results: {file: lab.csv}\n"), "--resume"}},
		{exitFailed, "cannot write " + file, []string{"farm", "run", other("inway.yaml", string(data)+"out: file\n")}},
		{exitFailed, "cannot write " + filepath.Join(file, "deeper"), []string{"farm", "run", other("inway2.yaml", string(data)+"out: file/deeper\n"), "--shard", "1/2"}},
		{exitUsage, "the folders of the shards", []string{"farm", "merge"}},
		{exitFailed, "holds no summary of a shard", []string{"farm", "merge", out}},
		{exitFailed, "is not there", []string{"farm", "merge", filepath.Join(dir, "nowhere")}},
	} {
		_, said, status := call(t, x.args...)
		lines := 1
		if x.status == exitUsage {
			lines = 2
		}
		if status != x.status || !strings.Contains(said, x.says) || strings.Count(said, "\n") != lines {
			t.Errorf("%v: status %d, %q", x.args[1:], status, said)
		}
	}
	sameTrees(t, want, tree(t, out))
	// An input in the place of an output.
	write(t, filepath.Join(out, "fields", "Field-2", "manifest.csv"), string(data)+"out: ../..\n")
	if _, said, status := call(t, "farm", "run", filepath.Join(out, "fields", "Field-2", "manifest.csv"), "--force"); status != exitFailed || !strings.Contains(said, "is not there") {
		t.Errorf("status %d, %q", status, said)
	}
	write(t, filepath.Join(out, "fields", "Field-2", "manifest.csv"), strings.ReplaceAll(string(data), "file: ", "file: ../../../")+"out: ../..\n")
	if _, said, status := call(t, "farm", "run", filepath.Join(out, "fields", "Field-2", "manifest.csv"), "--force"); status != exitFailed || !strings.Contains(said, "manifest.csv is an input and would be overwritten") {
		t.Errorf("status %d, %q", status, said)
	}
}

func TestFarmMergeRefuses(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 4)
	out := filepath.Join(dir, "out")
	shardOf := func(text string, more ...string) {
		mustCall(t, append([]string{"farm", "run", job, "--shard", text}, more...)...)
	}
	refused := func(reason string, folders ...string) {
		t.Helper()
		if _, said, status := call(t, append([]string{"farm", "merge"}, folders...)...); status != exitFailed || !strings.Contains(said, reason) || strings.Count(said, "\n") != 1 {
			t.Errorf("%v: status %d, %q, want %q", folders, status, said, reason)
		}
	}
	shardOf("1/2")
	refused("of 2 shards 1 are missing: 2", out)
	shardOf("2/2", "--lab-cost", "3")
	refused("different jobs, inputs, prices", out)
	shardOf("2/2")
	mustCall(t, "farm", "merge", out)
	copyTo := filepath.Join(dir, "copy")
	part, err := os.ReadFile(filepath.Join(out, "farm-1-of-2.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(copyTo, 0o777); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(copyTo, "farm-1-of-2.json"), string(part))
	refused("are the same shard", out, copyTo)
	write(t, filepath.Join(copyTo, "farm-2-of-2.json"), string(part))
	refused("is not the summary of the shard that it is named for", copyTo)
	write(t, filepath.Join(copyTo, "farm-2-of-2.json"), "{}")
	refused("is not the summary of a farm run", copyTo)
	shardOf("1/3")
	refused("merge those of one run", out)
	// A summary that somebody has changed is not written over.
	os.Remove(filepath.Join(out, "farm-1-of-3.json"))
	write(t, filepath.Join(out, "farm.csv"), "my remarks")
	refused("farm.csv exists and would change; give --force", out)
}

// Shards of one cut go side by side; nothing else does.
func TestFarmLocks(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 4)
	out := filepath.Join(dir, "out")
	refused := func(args ...string) {
		t.Helper()
		if _, said, status := call(t, append([]string{"farm", "run", job}, args...)...); status != exitFailed || !strings.Contains(said, "is being written by ") || strings.Count(said, "\n") != 1 {
			t.Errorf("%v: status %d, %q", args, status, said)
		}
	}
	letGo, err := keepShard(out, shard{1, 2})
	if err != nil {
		t.Fatal(err)
	}
	mustCall(t, "farm", "run", job, "--shard", "2/2")
	refused("--shard", "1/2")
	refused("--shard", "1/3")
	refused()
	if _, said, status := call(t, "run", job); status != exitFailed || !strings.Contains(said, "is being written by ") {
		t.Errorf("status %d, %q", status, said)
	}
	letGo()
	if letGo, err = keepFolder(out); err != nil {
		t.Fatal(err)
	}
	refused()
	refused("--shard", "1/2")
	if _, said, status := call(t, "run", job); status != exitFailed || !strings.Contains(said, "is being written by ") {
		t.Errorf("status %d, %q", status, said)
	}
	letGo()
	mustCall(t, "farm", "run", job, "--shard", "1/2")
	mustCall(t, "run", job)
	left, err := filepath.Glob(filepath.Join(out, ".*"))
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// A farm run that is killed at any moment and then resumed has the bytes of one
// that was left alone.
func TestFarmIsKilled(t *testing.T) {
	dir := t.TempDir()
	const n = 40
	job := manyFields(t, dir, n)
	start := time.Now()
	if out, err := program("farm", "run", job).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	usual := time.Since(start)
	out := filepath.Join(dir, "out")
	want := tree(t, out)
	random := rand.New(rand.NewPCG(6, 6))
	between, halves := 0, 0
	for k := range kills(t) {
		if err := os.RemoveAll(out); err != nil {
			t.Fatal(err)
		}
		// Every other time in two stages: the second is killed, too.
		for range 1 + k%2 {
			c := program("farm", "run", job, "--resume")
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			time.Sleep(time.Duration((0.1 + random.Float64()) * float64(usual)))
			c.Process.Kill()
			c.Wait()
		}
		finished, _ := filepath.Glob(filepath.Join(out, fieldsFolder, "Field-*", doneFile))
		if len(finished) > 0 && len(finished) < n {
			between++
		}
		if at, _ := filepath.Glob(filepath.Join(out, fieldsFolder, leftover+"*")); len(at) > 0 {
			halves++
		}
		for _, path := range finished {
			d, err := readDone(filepath.Dir(path))
			if err != nil {
				t.Fatal(err)
			}
			if whole, err := d.whole(filepath.Dir(path)); !whole || err != nil {
				t.Fatalf("%s is said to be done and is not whole: %v", path, err)
			}
		}
		mustCall(t, "farm", "run", job, "--resume")
		got := tree(t, out)
		sameTrees(t, want, got)
		if t.Failed() {
			t.Fatalf("after kill %d the files are not the same: %d and %d", k+1, len(want), len(got))
		}
	}
	t.Logf("%d kills: %d with some of the fields done, %d in the middle of a field", kills(t), between, halves)
}

// Told to stop, a run finishes the fields at work, says how to go on, and does.
func TestFarmIsInterrupted(t *testing.T) {
	dir := t.TempDir()
	job := manyFields(t, dir, 60)
	c := program("farm", "run", job, "--workers", "1")
	errs, err := c.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "out")
	for {
		if some, _ := filepath.Glob(filepath.Join(out, fieldsFolder, "Field-*", doneFile)); len(some) > 2 {
			break
		}
		time.Sleep(time.Millisecond)
	}
	if err := c.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	said, err := io.ReadAll(errs)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(); err == nil || c.ProcessState.ExitCode() != exitFailed || !strings.Contains(string(said), "of 60 fields are done; go on with --resume") {
		t.Errorf("%v: %s", err, said)
	}
	if left, _ := filepath.Glob(filepath.Join(out, ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if left, _ := filepath.Glob(filepath.Join(out, fieldsFolder, ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if out := mustCall(t, "farm", "run", job, "--resume"); !strings.Contains(out, "60 of 60 fields done") {
		t.Errorf("said %q", out)
	}
}

// Where a file system cannot be synced as a whole, files are synced one by one.
func TestSyncBelow(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "kit"), 0o777); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "kit", "a"), "x")
	if err := syncBelow(dir); err != nil {
		t.Error(err)
	}
	if err := syncBelow(filepath.Join(dir, "none")); err == nil {
		t.Error("a folder that is not there was synced")
	}
}

func TestProgress(t *testing.T) {
	var said strings.Builder
	p := &progress{to: &said, sameLine: true}
	p.begin(40)
	p.done, p.failed = 9, 1
	if got := p.line(2 * time.Second); got != "9 of 40 fields, 4.5 a second, 7s left, 1 failed" {
		t.Errorf("said %q", got)
	}
	p.did(false)
	p.end()
	if !strings.HasPrefix(said.String(), "\r10 of 40 fields, ") || !strings.HasSuffix(said.String(), " \r") {
		t.Errorf("said %q", said.String())
	}
	quiet := &progress{}
	quiet.begin(2)
	quiet.did(true)
	quiet.end()
	if quiet.failed != 1 {
		t.Error("what failed is not counted")
	}
}

func TestSlugsOfOneName(t *testing.T) {
	got := slugs([]string{"A", "a", "A 2", "a", "畑", "田", "a-2", "A"})
	seen := map[string]bool{}
	for _, s := range got {
		if key := strings.ToLower(s); seen[key] {
			t.Errorf("%s comes twice in %v", s, got)
		} else {
			seen[key] = true
		}
	}
	if got[0] != "A" || got[1] != "a-2" || got[4] != "field" || got[5] != "field-2" {
		t.Errorf("%v", got)
	}
	long := strings.Repeat("A long name ", 40)
	if got := slugs([]string{long, long}); len(got[0]) > longestSlug || got[1] != got[0]+"-2" {
		t.Errorf("%v", got)
	}
	many := slices.Repeat([]string{"畑"}, 20_000)
	if got := slugs(many); got[19_999] != "field-"+strconv.Itoa(20_000) {
		t.Errorf("the last is %s", got[19_999])
	}
}
