package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"corewalk/geo/vector"
)

// TestWalked plans a field, walks it with an invented handheld that is 2 m off,
// leaves cores out, marks one far away and one elsewhere, and joins.
func TestWalked(t *testing.T) {
	dir := t.TempDir()
	field := write(t, filepath.Join(dir, "f.geojson"), inventedField)
	mustCall(t, "plan", "--boundary", field, "--cell", "4ha", "--cores", "6", "--spacing", "12m", "--out", dir)
	plan := filepath.Join(dir, planFile)
	units := planned(t, dir)
	point := func(tag, name string, lon, lat float64) string {
		if name != "" {
			name = "<name>" + name + "</name>"
		}
		return fmt.Sprintf(`<%s lat="%.7f" lon="%.7f">%s</%s>`, tag, lat, lon, name, tag) + "\n"
	}
	const east2m = 2.0 / 74_625
	var marks, track string
	var missed []string
	lab := "id,pH\n"
	for i, u := range units {
		lab += fmt.Sprintf("%s,6.%d\n", u.ID, i%10)
		for k, c := range u.Cores {
			lon, lat := c.At.Lon()+east2m, c.At.Lat()
			switch {
			case i == 0: // left out altogether
				missed = append(missed, c.Name)
			case i == 1 && k == 0: // by its name, in the next unit
				marks += point("wpt", strings.ToLower(c.Name)+" ", lon+0.0025, lat)
			case i == 1 && k == 1:
				missed = append(missed, c.Name)
			case i == 2: // a handheld that numbers its own
				marks += point("wpt", fmt.Sprint("WP", k), lon, lat)
			case i == 3: // only a track passes by
				track += point("trkpt", "", lon, lat)
			case i == 4: // came back as they were loaded
				marks += point("wpt", c.Name, c.At.Lon(), c.At.Lat())
			default:
				marks += point("wpt", c.Name, lon, lat)
			}
		}
	}
	marks += point("wpt", "PARKED", 10.004, 47.99)
	walk := write(t, filepath.Join(dir, "walk.gpx"), `<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">`+"\n"+marks+"<trk><trkseg>"+track+"</trkseg></trk></gpx>")
	results := write(t, filepath.Join(dir, "lab.csv"), lab)

	out := filepath.Join(dir, "out")
	var s joinSummary
	if err := json.Unmarshal([]byte(mustCall(t, "join", "--plan", plan, "--results", results, "--walked", walk, "--out", out, "--json")), &s); err != nil {
		t.Fatal(err)
	}
	r := s.Walked
	slices.Sort(missed)
	slices.Sort(r.Missed)
	all := 6 * len(units)
	if r.Cores != all || !slices.Equal(r.Missed, missed) || r.Unmoved != 6 || r.Visited != all-6-len(missed) {
		t.Errorf("%+v, want %v missed", r, missed)
	}
	if r.By["nearness"] != 6 || r.By["track"] != 6 || r.By["name"] != r.Visited-12 {
		t.Errorf("visited by %v", r.By)
	}
	if !slices.Equal(r.Strays, []string{"PARKED"}) || !slices.Contains(r.Outside, units[1].Cores[0].Name) || !slices.Equal(r.Far, []string{units[1].Cores[0].Name}) {
		t.Errorf("strays %v, outside %v, far %v", r.Strays, r.Outside, r.Far)
	}
	joined, err := readResults(filepath.Join(out, resultsFile))
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range joined.Composites {
		want := units[i].At()
		notes := strings.Join(c.Notes, "; ")
		switch i {
		case 0:
			if !strings.Contains(notes, "none of its cores was visited") {
				t.Errorf("notes %q", notes)
			}
		case 1:
			if !strings.Contains(notes, "1 of 6 cores not visited ("+units[1].Cores[1].Name+")") || !strings.Contains(notes, "1 cores taken outside the unit") {
				t.Errorf("notes %q", notes)
			}
			continue // it has moved by what its far core does
		case 4:
		case 3:
			continue // the nearest places of a track
		default:
			want[0] += east2m
		}
		if d, n := metresApart(want, c.At); max(d, -d) > 0.05 || max(n, -n) > 0.05 {
			t.Errorf("composite %d stands %.2f m east and %.2f m north of where it was taken", i, d, n)
		}
	}
	// Alone, before the lab has answered: the same file of cores but for its head.
	alone := filepath.Join(dir, "alone")
	mustCall(t, "join", "--plan", plan, "--walked", walk, "--out", alone)
	a, err := vector.Read(filepath.Join(alone, walkedFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := vector.Read(filepath.Join(out, walkedFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Features) != all+1 || len(b.Features) != all+1 {
		t.Errorf("%d and %d features of %d cores and a waypoint", len(a.Features), len(b.Features), all)
	}
	// Through a job.
	write(t, filepath.Join(dir, "job.yaml"), "boundary: f.geojson\nplan: {cell: 4ha, cores: 6, spacing: 12m}\nresults: {file: lab.csv, walked: walk.gpx}\nout: job\n")
	mustCall(t, "run", filepath.Join(dir, "job.yaml"))
	first, err := os.ReadFile(filepath.Join(out, walkedFile))
	if err != nil {
		t.Fatal(err)
	}
	second, err := os.ReadFile(filepath.Join(dir, "job", walkedFile))
	if err != nil {
		t.Fatal(err)
	}
	if string(first) != string(second) {
		t.Error("the job and the command walk differently")
	}
	for text, want := range map[string]string{
		`<gpx version="1.1"></gpx>`:                                    "neither waypoints nor tracks",
		`<gpx version="1.1">` + point("wpt", "HERE", 7, 50) + `</gpx>`: "is it of this plan?",
		"<kml/>": "gpx",
	} {
		bad := write(t, filepath.Join(dir, "bad.gpx"), text)
		_, stderr, status := call(t, "join", "--plan", plan, "--walked", bad, "--out", filepath.Join(dir, "never"))
		if status != exitFailed || !strings.Contains(stderr, want) {
			t.Errorf("status %d: %s", status, stderr)
		}
	}
}
