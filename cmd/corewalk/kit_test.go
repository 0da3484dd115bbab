package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"corewalk/geo/gpx"
)

// The kit of a plan file is that of the plan.
func TestKitIsThatOfThePlan(t *testing.T) {
	in := zonedSeason(t)
	to := filepath.Join(in, "again")
	mustCall(t, "kit", "--plan", filepath.Join(in, planFile), "--out", to)
	if !bytes.Equal(mustRead(t, filepath.Join(in, "waypoints.gpx")), mustRead(t, filepath.Join(to, "waypoints.gpx"))) {
		t.Error("the waypoints differ")
	}
	mustCall(t, "kit", "--plan", filepath.Join(in, planFile), "--out", to, "--limit", "300", "--names", "long", "--name-limit", "12")
	n := 0
	for i := range 3 {
		d, err := gpx.Read(bytes.NewReader(mustRead(t, filepath.Join(to, fmt.Sprintf("waypoints-%d.gpx", i+1)))))
		if err != nil {
			t.Fatal(err)
		}
		if n += len(d.Waypoints); len(d.Waypoints) > 300 || len(d.Routes) == 0 {
			t.Errorf("file %d has %d waypoints and %d routes", i+1, len(d.Waypoints), len(d.Routes))
		}
		if w := d.Waypoints[0]; !strings.Contains(w.Name, "-") || !strings.HasPrefix(w.Comment, strings.SplitN(w.Name, "-", 2)[0]) {
			t.Errorf("waypoint %+v", w)
		}
	}
	if n != 708 {
		t.Errorf("%d waypoints", n)
	}
	for _, c := range []struct {
		args   []string
		want   string
		status int
	}{
		{[]string{"--names", "odd"}, "short or long", exitUsage},
		{[]string{"--limit", "0"}, "from 1 up", exitUsage},
		{[]string{"--labels", "9x99"}, "9x99 are out of range", exitUsage},
		{[]string{"--labels", "many"}, "columns x rows", exitUsage},
		{[]string{"--labels", "4x15"}, "at least 40 x 20 mm", exitUsage},
		{[]string{"--start-at", "0"}, "labels 1 to 10", exitUsage},
		{[]string{"--start-at", "11"}, "start-at 11 is none of them", exitUsage},
		{[]string{"--label-margins", "4in"}, "narrower margins", exitUsage},
		{[]string{"--label-margins", "1in,2in"}, "2 margins", exitUsage},
		{[]string{"--label-margins", "10"}, "has no unit", exitUsage},
		{[]string{"--label-gap", "1mm,1mm,1mm"}, "3 gaps", exitUsage},
		{[]string{"--label-gap", "1mm,x"}, "is not a length", exitUsage},
		{[]string{"--paper", "a5"}, "letter or a4", exitUsage},
		{[]string{"--date", "25.11.2026"}, "year-month-day", exitUsage},
		{[]string{"--font", filepath.Join(in, planFile)}, "cannot be used as a font", exitFailed},
		{[]string{"--font", filepath.Join(in, "none.ttf")}, "is not there", exitFailed},
		{[]string{"--name-limit", "2"}, "allow 3", exitFailed},
		{[]string{"--plan", filepath.Join(in, resultsFile)}, "", exitFailed},
		{[]string{"--plan", filepath.Join(in, "none")}, "is not there", exitFailed},
	} {
		_, stderr, status := call(t, append([]string{"kit", "--plan", filepath.Join(in, planFile), "--out", filepath.Join(in, "k2")}, c.args...)...)
		if status != c.status || !strings.Contains(stderr, c.want) {
			t.Errorf("%v: status %d: %s", c.args, status, stderr)
		}
	}
}

// A job has a kit, too.
func TestKitOfAJob(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "farm")
	mustCall(t, "demo", dir)
	head := "boundary: {file: fields.shp, name: NAME}\nplan: {design: units, cores: 12, depth: 0-8in, seed: 7}\nout: two\n"
	job := write(t, filepath.Join(dir, "two.yaml"), head+"kit: {limit: 20, name-limit: 3}\n")
	mustCall(t, "run", job)
	d, err := gpx.Read(bytes.NewReader(mustRead(t, filepath.Join(dir, "two", kitFolder, "waypoints-2.gpx"))))
	if err != nil || len(d.Waypoints) != 12 || d.Waypoints[0].Name != "13" {
		t.Errorf("%d waypoints, %v", len(d.Waypoints), err)
	}
	for text, want := range map[string]string{
		head + "kit: {colour: red}\n":                    "colour",
		"kit:\nresults: {points: lab.csv, x: a, y: b}\n": "needs a plan",
	} {
		_, stderr, status := call(t, "run", write(t, filepath.Join(dir, "bad.yaml"), text))
		if status != exitFailed || !strings.Contains(stderr, want) {
			t.Errorf("%q: status %d: %s", text, status, stderr)
		}
	}
}

// pageCount counts the pages of a PDF.
func pageCount(data []byte) int { return len(regexp.MustCompile(`/Type /Page\b`).FindAll(data, -1)) }

// The sheets of the invented farm.
func TestKitOnPaper(t *testing.T) {
	in := zonedSeason(t)
	kit := filepath.Join(in, kitFolder)
	read := func(name string) []byte { return mustRead(t, filepath.Join(kit, name)) }
	for name, want := range map[string]int{"fieldsheet.pdf": 4, "labels.pdf": 6, "labsheet.pdf": 3} {
		data := read(name)
		if got := pageCount(data); !bytes.HasPrefix(data, []byte("%PDF-")) || got != want {
			t.Errorf("%s has %d pages, want %d", name, got, want)
		}
		// The job is in US units.
		if box := "[0 0 612.00 792.00]"; name != "labsheet.pdf" && !bytes.Contains(data, []byte(box)) {
			t.Errorf("%s is not on letter paper", name)
		}
	}
	rows := strings.Split(strings.TrimSpace(string(read("labsheet.csv"))), "\n")
	if len(rows) != 60 || !strings.HasSuffix(rows[1], `,corn,,"pH, buffer pH, P, K, OM, CEC"`) && !strings.HasSuffix(rows[1], `,alfalfa,,"pH, buffer pH, P, K, OM, CEC"`) {
		t.Errorf("%d rows, the first %q", len(rows), rows[1])
	}
	stdout := mustCall(t, "kit", "--plan", filepath.Join(in, planFile), "--out", filepath.Join(in, "more"), "--labels", "3x10", "--start-at", "3",
		"--label-margins", "12mm, 5mm, 12mm, 5mm", "--label-gap", "3mm,0", "--date", "2026-11-25", "--crop", "oats", "--farm", "Hill", "--json")
	var s kitSummary
	if err := json.Unmarshal([]byte(stdout), &s); err != nil || s.LabelSheets != 3 || s.Samples != 59 || s.Fields != 3 || len(s.Notices) != 0 || len(s.Files) != 6 {
		t.Errorf("summary %+v, %v", s, err)
	}
	if sum := sha256.Sum256(mustRead(t, filepath.Join(in, planFile))); s.Plan != fmt.Sprintf("%X", sum[:4]) {
		t.Errorf("plan %s", s.Plan)
	}
	data := mustRead(t, filepath.Join(in, "more", "labels.pdf"))
	if got := pageCount(data); got != 3 || !bytes.Contains(data, []byte("[0 0 595.28 841.89]")) {
		t.Errorf("%d pages of labels, or not on A4", got)
	}
	for i, row := range strings.Split(strings.TrimSpace(string(mustRead(t, filepath.Join(in, "more", "labsheet.csv")))), "\n")[1:] {
		if !strings.HasSuffix(row, ",oats,2026-11-25,") {
			t.Errorf("row %d: %q", i+1, row)
		}
	}
}

// A job that names a kit wrongly fails before anything is planned.
func TestKitOfAJobRefuses(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "farm")
	mustCall(t, "demo", dir)
	head := "boundary: {file: fields.shp, name: NAME}\nplan: {design: units, seed: 7}\nout: two\n"
	for text, want := range map[string]string{
		"kit: {labels: 9x99}":                    "9x99 are out of range",
		"kit: {start-at: 99}":                    "start-at 99",
		"kit: {label-margins: [1in, 1in]}":       "2 margins",
		"kit: {label-margins: [7in, 0, 7in, 0]}": "narrower margins",
		"kit: {paper: foolscap}":                 "letter or a4",
		"kit: {tests: {a: b}}":                   "tests",
	} {
		_, stderr, status := call(t, "run", write(t, filepath.Join(dir, "bad.yaml"), head+text+"\n"))
		if status != exitFailed || !strings.Contains(stderr, want) {
			t.Errorf("%q: status %d: %s", text, status, stderr)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "two")); err == nil {
		t.Error("something was planned")
	}
}

// What no font at hand has is told, with what to do.
func TestKitTellsOfCharacters(t *testing.T) {
	in := zonedSeason(t)
	p := defaultKit()
	p.farm, p.systemFontFolders = "Farm \U0001F331", nil
	s, err := kitStep(filepath.Join(in, planFile), p, &outputs{dir: filepath.Join(in, "k3")})
	if err != nil || len(s.Notices) != 1 || !strings.Contains(s.Notices[0], "(U+1F331) of the farm's name; give --font FILE") {
		t.Errorf("notices %q, %v", s.Notices, err)
	}
}
