package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"corewalk/geo/gpx"
)

// The kit of a plan file is that of the plan.
func TestKitIsThatOfThePlan(t *testing.T) {
	in := season(t)
	to := filepath.Join(in, "kit")
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
