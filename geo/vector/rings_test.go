package vector

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

// box is a closed square ring, clockwise as a shapefile's shell, about the
// origin moved by (x, y).
func box(x, y, half float64) []orb.Point {
	return []orb.Point{{x - half, y - half}, {x - half, y + half}, {x + half, y + half}, {x + half, y - half}, {x - half, y - half}}
}

func turned(r []orb.Point) []orb.Point {
	r = slices.Clone(r)
	slices.Reverse(r)
	return r
}

func TestGroupRings(t *testing.T) {
	// A: large; B in A; C in B; D beside A; E in D.
	a, b, c, d, e := box(0, 0, 10), box(0, 0, 5), box(0, 0, 2), box(100, 0, 10), box(100, 0, 3)
	ring := turned // a hole where shells turn clockwise
	for _, c := range []struct {
		name  string
		rings [][]orb.Point
		want  string // polygons of ring numbers
		note  string
	}{
		{"one", [][]orb.Point{a}, "[[1]]", ""},
		{"hole", [][]orb.Point{a, ring(b)}, "[[1 2]]", ""},
		{"hole first", [][]orb.Point{ring(b), a}, "[[2 1]]", ""},
		{"island in the hole", [][]orb.Point{c, ring(b), a}, "[[1] [3 2]]", ""},
		{"two with a hole each", [][]orb.Point{a, d, ring(e), ring(b)}, "[[1 4] [2 3]]", ""},
		{"all clockwise", [][]orb.Point{a, b, c, d, e}, "[[1 2] [3] [4 5]]", "all turn the same way"},
		{"all counter-clockwise", [][]orb.Point{ring(a), ring(b), ring(c)}, "[[1 2] [3]]", "all turn the same way"},
		{"one counter-clockwise", [][]orb.Point{ring(a)}, "[[1]]", "taken as outlines"},
		{"two counter-clockwise", [][]orb.Point{ring(a), ring(d)}, "[[1] [2]]", "taken as outlines"},
		{"reversed", [][]orb.Point{ring(a), b, ring(d)}, "[[1 2] [3]]", "turn the wrong way"},
		{"hole of its own", [][]orb.Point{a, ring(b), ring(d)}, "[[1 2] [3]]", "hole outside every outline"},
		{"shell in a shell", [][]orb.Point{a, b, ring(e), d}, "[[1] [2] [4 3]]", ""},
		{"drawn twice", [][]orb.Point{a, a}, "[[1] [2]]", ""},
		{"hole touching at a corner", [][]orb.Point{a, {{-10, -10}, {0, -5}, {-5, 0}, {-10, -10}}}, "[[1 2]]", ""},
		{"hole with all its corners on the shell", [][]orb.Point{a, {{-10, -10}, {10, 0}, {-10, 10}, {-10, -10}}}, "[[1 2]]", ""},
		{"neighbour with a corner on the edge", [][]orb.Point{a, {{10, 0}, {14, 2}, {14, -2}, {10, 0}}}, "[[1] [2]]", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			var rings []rawRing
			for i, r := range c.rings {
				rings = append(rings, rawRing{ring: i + 1, points: r})
			}
			polygons, notes, err := groupRings(rings, ringWork)
			if err != nil {
				t.Fatal(err)
			}
			var got [][]int
			for _, p := range polygons {
				var numbers []int
				for _, r := range p {
					numbers = append(numbers, r.ring)
				}
				got = append(got, numbers)
			}
			if fmt.Sprint(got) != c.want {
				t.Errorf("%v, want %s", got, c.want)
			}
			if text := strings.Join(notes, "|"); c.note == "" && text != "" || !strings.Contains(text, c.note) {
				t.Errorf("notes %q, want %q", text, c.note)
			}
		})
	}
}

// A record that would take hours is refused: thin chevrons whose boxes lie in
// each other though they do not, so that each is held against all others.
func TestGroupRingsBounded(t *testing.T) {
	var rings []rawRing
	for i := range 100 {
		s := float64(i + 1)
		rings = append(rings, rawRing{ring: i + 1, points: []orb.Point{
			{-s, s}, {0, -s / 10}, {s, s}, {s + 0.001, s}, {0, -s/10 - 0.001}, {-s - 0.001, s}, {-s, s}}})
	}
	polygons, _, err := groupRings(rings, 100*100/2*8)
	if err != nil || len(polygons) != 100 {
		t.Errorf("%d polygons, %v", len(polygons), err)
	}
	if _, _, err := groupRings(rings, 20000); err == nil || !strings.Contains(err.Error(), "too many rings") {
		t.Errorf("error %v", err)
	}
}
