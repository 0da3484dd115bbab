package plane

import (
	"slices"
	"testing"
)

func TestHull(t *testing.T) {
	for name, c := range map[string]struct{ points, want []XY }{
		"none":              {nil, nil},
		"one":               {[]XY{{5, 5}}, []XY{{5, 5}}},
		"one place":         {[]XY{{5, 5}, {5, 5}, {5, 5}}, []XY{{5, 5}}},
		"two":               {[]XY{{9, 1}, {0, 0}, {9, 1}}, []XY{{0, 0}, {9, 1}}},
		"on one line":       {[]XY{{5e5 + 2, 4e6 + 6}, {5e5, 4e6}, {5e5 + 1, 4e6 + 3}, {5e5 + 3, 4e6 + 9}}, []XY{{5e5, 4e6}, {5e5 + 3, 4e6 + 9}}},
		"upright":           {[]XY{{1, 5}, {1, 0}, {1, 9}}, []XY{{1, 0}, {1, 9}}},
		"square with sides": {[]XY{{0, 0}, {5, 0}, {10, 0}, {10, 5}, {10, 10}, {5, 10}, {0, 10}, {0, 5}, {5, 5}}, []XY{{0, 0}, {10, 0}, {10, 10}, {0, 10}}},
	} {
		before := slices.Clone(c.points)
		if got := Hull(c.points); !slices.Equal(got, c.want) || !slices.Equal(c.points, before) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
	// No point lies to the right of a side, and all corners are points.
	rnd := random(70)
	for range 200 {
		var points []XY
		for range 3 + rnd.IntN(100) {
			points = append(points, XY{5e5 + float64(rnd.IntN(20)), 4e6 + float64(rnd.IntN(20))})
		}
		h := Hull(points)
		for i, a := range h {
			b := h[(i+1)%len(h)]
			if !slices.Contains(points, a) || len(h) > 2 && Orient(a, b, h[(i+2)%len(h)]) <= 0 {
				t.Fatalf("%v is no corner of %v", a, points)
			}
			for _, p := range points {
				if Orient(a, b, p) < 0 {
					t.Fatalf("%v lies outside %v %v", p, a, b)
				}
			}
		}
	}
}
