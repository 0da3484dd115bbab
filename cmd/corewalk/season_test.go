package main

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"corewalk/sampling/season"
)

// seasonFolder is the folder of the invented farm's run.
func seasonFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	mustCall(t, "demo", dir)
	return filepath.Join(dir, "season")
}

func recordDigest(t *testing.T, path string) string {
	t.Helper()
	r, err := season.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	d, err := r.Digest(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestSeasonCommands(t *testing.T) {
	folder := seasonFolder(t)
	dir := t.TempDir()
	record := filepath.Join(dir, "years", "farm.gpkg")
	add := []string{"season", "add", record, folder, "--season", "2026  spring", "--date", "2026-04-17", "--lab", "Brook Lab"}
	if out := mustCall(t, add...); !strings.Contains(out, "added 2026 spring, 2026-04-17, lab Brook Lab: 3 fields, 59 composites, 346 results") {
		t.Errorf("said %q", out)
	}
	first := recordDigest(t, record)
	if out := mustCall(t, add...); !strings.Contains(out, "it is there already") || recordDigest(t, record) != first {
		t.Errorf("said %q", out)
	}
	if left, err := os.ReadDir(filepath.Dir(record)); err != nil || len(left) != 1 {
		t.Errorf("beside the record: %v, %v", left, err)
	}
	out := mustCall(t, "season", "show", record, "2026 spring")
	for _, want := range []string{"Home Ground, Long Slip, Tinker's Piece", "59 samples, 708 cores, 88 rates", "P, mg/kg, Mehlich-3", "CEC, meq/100 g"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in %q", want, out)
		}
	}
	var all []seasonRecord
	if err := json.Unmarshal([]byte(mustCall(t, "season", "list", record, "--json")), &all); err != nil || len(all) != 1 || all[0].Cores != 708 || all[0].Lab != "Brook Lab" || !strings.HasPrefix(all[0].Program, "corewalk ") {
		t.Errorf("%+v, %v", all, err)
	}
	// Export, import, export: the same files, the same record.
	one, two, again := filepath.Join(dir, "one"), filepath.Join(dir, "two"), filepath.Join(dir, "again.gpkg")
	mustCall(t, "season", "export", record, "--out", one)
	mustCall(t, "season", "import", one, again)
	mustCall(t, "season", "export", again, "--out", two)
	sameFolders(t, one, two)
	if recordDigest(t, again) != first {
		t.Error("the record that was imported is another one")
	}
	// Another season under the name is refused, and replaces when that is asked for.
	if err := os.Remove(filepath.Join(folder, "rates.geojson")); err != nil {
		t.Fatal(err)
	}
	if _, said, status := call(t, add...); status != exitFailed || !strings.Contains(said, "another season") {
		t.Errorf("status %d, %q", status, said)
	}
	mustCall(t, append(add, "--replace")...)
	if out := mustCall(t, "season", "show", record, "2026 spring"); !strings.Contains(out, "0 rates") {
		t.Errorf("after it was replaced: %q", out)
	}
}

func sameFolders(t *testing.T, a, b string) {
	t.Helper()
	names := func(dir string) []string {
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, e := range entries {
			out = append(out, e.Name())
		}
		return out
	}
	if x, y := names(a), names(b); !slices.Equal(x, y) || len(x) == 0 {
		t.Fatalf("%v and %v", x, y)
	}
	for _, name := range names(a) {
		x, err := os.ReadFile(filepath.Join(a, name))
		if err != nil {
			t.Fatal(err)
		}
		y, err := os.ReadFile(filepath.Join(b, name))
		if err != nil {
			t.Fatal(err)
		}
		if string(x) != string(y) {
			t.Errorf("%s differs", name)
		}
	}
}

func TestSeasonRefusals(t *testing.T) {
	dir := t.TempDir()
	table := write(t, filepath.Join(dir, "lab.csv"), strings.Repeat("id,pH\n", 60))
	record := filepath.Join(dir, "farm.gpkg")
	for _, c := range []struct {
		args   []string
		status int
		want   string
	}{
		{[]string{"season"}, exitUsage, "add, list, show"},
		{[]string{"season", "add", record, dir}, exitUsage, "--season is needed"},
		{[]string{"season", "add", record, dir, "--season", "a", "--date", "17.4.2026"}, exitUsage, "write it as 2026-04-17"},
		{[]string{"season", "add", record, dir, "--season", "a"}, exitFailed, "no plan.geojson and no results.geojson"},
		{[]string{"season", "list", record}, exitFailed, "is not there"},
		{[]string{"season", "list", table}, exitFailed, "is not a GeoPackage"},
		{[]string{"season", "list", dir}, exitFailed, "is a folder; give the file of a record"},
		{[]string{"season", "add", dir, seasonFolder(t), "--season", "a"}, exitFailed, "is a folder; give the file of a record"},
		{[]string{"season", "add", record}, exitUsage, "one folder of a run or more"},
		{[]string{"season", "import", table, record}, exitFailed, "is a file; give the folder"},
		{[]string{"season", "import", dir, record}, exitFailed, "has no record.json"},
	} {
		if _, said, status := call(t, c.args...); status != c.status || !strings.Contains(said, c.want) || strings.Count(strings.TrimSpace(said), "\n") > 1 {
			t.Errorf("%q: status %d, %q", c.args, status, said)
		}
	}
	if _, err := os.Stat(record); err == nil {
		t.Error("a refused season made a record")
	}
	release, err := holdLock(record)
	if err != nil {
		t.Fatal(err)
	}
	defer release()
	if _, said, status := call(t, "season", "add", record, seasonFolder(t), "--season", "a"); status != exitFailed || !strings.Contains(said, "is being written by") {
		t.Errorf("two at once: status %d, %q", status, said)
	}
}

// The page of a job that names a record says what changed since then.
func TestSeasonsOnThePage(t *testing.T) {
	folder := seasonFolder(t)
	farm := filepath.Dir(folder)
	record := filepath.Join(farm, "farm.gpkg")
	mustCall(t, "season", "add", record, folder, "--season", "2025", "--date", "2025-04-17", "--lab", "Brook")
	data, err := os.ReadFile(filepath.Join(farm, "job.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	again := func(line string) (string, string, int) {
		write(t, filepath.Join(farm, "again.yaml"), strings.Replace(string(data), "out: season", line+"\nout: second", 1))
		return call(t, "run", filepath.Join(farm, "again.yaml"), "--force")
	}
	if _, said, status := again(`season: {record: farm.gpkg, name: "2026", date: 2026-04-12, lab: Hill}`); status != exitDone {
		t.Fatal(said)
	}
	page, err := os.ReadFile(filepath.Join(farm, "second", reportFile))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"2 seasons are held together: 2025, 2026.", "the lab changed", ">2025</th>"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, c := range []struct{ line, want string }{
		{"season: {record: farm.gpkg}", "needs the record and a name"},
		{"season: {record: nowhere.gpkg, name: a}", "is not there"},
		{"season: {record: farm.gpkg, name: a, date: 1.2.2026}", "write it as 2026-04-17"},
		{"season: {record: farm.gpkg, name: a, date: 2020-01-01}", "which is later than"},
		{"season: {recrod: farm.gpkg, name: a}", "recrod"},
	} {
		if _, said, status := again(c.line); status != exitFailed || !strings.Contains(said, c.want) {
			t.Errorf("%s: status %d, %q", c.line, status, said)
		}
	}
}

// kills is how often a program is killed: COREWALK_KILLS says otherwise.
func kills(t *testing.T) int {
	t.Helper()
	text := os.Getenv("COREWALK_KILLS")
	if text == "" {
		return 25
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// A program that is killed at any moment leaves the record whole, with the season
// or without it, and adding it once more ends as if nothing had been.
func TestSeasonAddIsKilled(t *testing.T) {
	folder := seasonFolder(t)
	dir := t.TempDir()
	base, whole := filepath.Join(dir, "base.gpkg"), filepath.Join(dir, "whole.gpkg")
	mustCall(t, "season", "add", base, folder, "--season", "2025")
	data, err := os.ReadFile(base)
	if err != nil {
		t.Fatal(err)
	}
	write(t, whole, string(data))
	start := time.Now()
	if out, err := program("season", "add", whole, folder, "--season", "2026").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	usual := time.Since(start)
	without, with := recordDigest(t, base), recordDigest(t, whole)
	random := rand.New(rand.NewPCG(9, 9))
	path := filepath.Join(dir, "killed.gpkg")
	before, after, journals := 0, 0, 0
	for range kills(t) {
		write(t, path, string(data))
		c := program("season", "add", path, folder, "--season", "2026")
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration((0.3 + random.Float64()) * float64(usual)))
		c.Process.Kill()
		c.Wait()
		if _, err := os.Stat(path + "-journal"); err == nil {
			journals++
		}
		if said := integrity(t, path); said != "ok" {
			t.Fatalf("after a kill the record is %q", said)
		}
		switch recordDigest(t, path) {
		case without:
			before++
		case with:
			after++
		default:
			t.Fatal("after a kill there is half a season")
		}
		mustCall(t, "season", "add", path, folder, "--season", "2026")
		if recordDigest(t, path) != with {
			t.Fatal("added once more, the record is another one")
		}
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("killed before the season was in: %d times, %d of them in the middle of a transaction; after: %d", before, journals, after)
}
