package kit

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

func stops(units, cores int) []Stop {
	var out []Stop
	for u := range units {
		for c := range cores {
			out = append(out, Stop{
				Name: fmt.Sprintf("BB%03d%02d", u+1, c+1), Field: fmt.Sprintf("Field %d", u/10), Unit: u%10 + 1, Number: c + 1, Of: cores,
				IDs: []string{fmt.Sprintf("BB%03dX", u+1)},
			})
			out[len(out)-1].At[0] = float64(len(out)) / 1e4
		}
	}
	return out
}

// 2,300 cores in units of 12 part into files of at most 500, between units.
func TestWaypointsPartBetweenUnits(t *testing.T) {
	all := stops(192, 12)[:2300]
	documents, err := Waypoints(all, Handheld{Limit: 500}, "corewalk")
	if err != nil || len(documents) != 5 {
		t.Fatal(len(documents), err)
	}
	n := 0
	for i, d := range documents {
		if len(d.Waypoints) > 500 || i < 4 && len(d.Waypoints) != 492 {
			t.Errorf("file %d has %d waypoints", i+1, len(d.Waypoints))
		}
		inRoutes := 0
		for _, r := range d.Routes {
			for _, w := range r.Waypoints {
				if w != d.Waypoints[inRoutes] {
					t.Fatalf("file %d: the routes do not go in the order of the waypoints", i+1)
				}
				inRoutes++
			}
		}
		if inRoutes != len(d.Waypoints) {
			t.Errorf("file %d: %d in routes of %d", i+1, inRoutes, len(d.Waypoints))
		}
		for _, w := range d.Waypoints {
			if w.Name != all[n].Name {
				t.Fatalf("waypoint %d is %s, want %s", n, w.Name, all[n].Name)
			}
			n++
		}
		if err := gpx.Write(&bytes.Buffer{}, d); err != nil {
			t.Error(err)
		}
	}
	if n != 2300 {
		t.Errorf("%d waypoints", n)
	}
	// A unit larger than a file, and files of one.
	for _, limit := range []int{5, 1, 12, 13} {
		documents, err := Waypoints(all[:36], Handheld{Limit: limit}, "corewalk")
		if err != nil {
			t.Fatal(err)
		}
		n = 0
		for _, d := range documents {
			if n += len(d.Waypoints); len(d.Waypoints) > limit || len(d.Waypoints) == 0 {
				t.Errorf("limit %d: a file of %d", limit, len(d.Waypoints))
			}
		}
		if n != 36 {
			t.Errorf("limit %d: %d waypoints", limit, n)
		}
	}
}

func TestNamesKeepTheLimit(t *testing.T) {
	all := stops(500, 12)
	for _, c := range []struct {
		h     Handheld
		first string
		fails string
	}{
		{Handheld{NameLimit: 10}, "BB00101", ""},
		{Handheld{NameLimit: 6}, "0001", ""},
		{Handheld{NameLimit: 4}, "0001", ""},
		{Handheld{NameLimit: 3}, "", "allow 4"},
		{Handheld{Long: true, NameLimit: 10}, "BB001X-01", ""},
		{Handheld{Long: true, NameLimit: 8}, "", "take short names"},
	} {
		documents, err := Waypoints(all, c.h, "corewalk")
		if c.fails != "" {
			if err == nil || !strings.Contains(err.Error(), c.fails) {
				t.Errorf("%+v: %v", c.h, err)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		names := map[string]bool{}
		for i, w := range documents[0].Waypoints {
			if names[w.Name] || len(w.Name) > c.h.NameLimit {
				t.Fatalf("%+v: name %q", c.h, w.Name)
			}
			names[w.Name] = true
			if !c.h.Long && w.Name != all[i].Name && !strings.HasPrefix(w.Comment, all[i].Name+": ") {
				t.Fatalf("%+v: comment %q", c.h, w.Comment)
			}
		}
		if got := documents[0].Waypoints[0].Name; got != c.first {
			t.Errorf("%+v: first name %s, want %s", c.h, got, c.first)
		}
	}
}

// A plan gives the same stops as its file.
func TestStopsOfAPlanFile(t *testing.T) {
	p := oddPlan(t)
	features, err := p.Features()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := vector.WriteGeoJSON(&b, vector.Collection{Features: features}); err != nil {
		t.Fatal(err)
	}
	l, err := vector.Parse("plan.geojson", b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	units, err := sampling.ReadUnits(l)
	if err != nil {
		t.Fatal(err)
	}
	want, got := Stops(p), PlannedStops(units)
	if len(want) != len(got) {
		t.Fatalf("%d stops, the file has %d", len(want), len(got))
	}
	for i := range want {
		if !reflect.DeepEqual(want[i], got[i]) {
			t.Fatalf("stop %d: %+v, the file has %+v", i, want[i], got[i])
		}
	}
}
