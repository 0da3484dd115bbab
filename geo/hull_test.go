package geo

import (
	"math"
	"strings"
	"testing"
)

func TestHullOf(t *testing.T) {
	s := iowa(t)
	at := func(flat ...float64) []XY {
		var out []XY
		for i := 0; i+1 < len(flat); i += 2 {
			out = append(out, XY{s.at[0] + flat[i], s.at[1] + flat[i+1]})
		}
		return out
	}
	var grid []XY
	for i := range 400 {
		grid = append(grid, XY{s.at[0] + float64(i%20)*50, s.at[1] + float64(i/20)*50})
	}
	const circle = 3.1365 // of 64 chords
	for name, c := range map[string]struct {
		points []XY
		area   float64
	}{
		"grid":                {grid, 950*950 + 4*950*25 + circle*625},
		"triangle":            {at(0, 0, 100, 0, 0, 100), 5000 + 50*(200+math.Sqrt2*100) + circle*2500},
		"two":                 {at(0, 0, 100, 0), 100*100 + circle*2500},
		"collinear":           {at(0, 0, 100, 100, 50, 50, 25, 25), 2*math.Hypot(12.5*math.Sqrt2, 0)*100*math.Sqrt2 + circle*312.5},
		"duplicates":          {at(0, 0, 0, 0, 0, 0, 100, 0, 100, 0, 100, 0), 100*100 + circle*2500},
		"many at one corner":  {append(at(0, 0, 100, 0, 0, 100), make0(s, 5000)...), 5000 + 50*(200+math.Sqrt2*100) + circle*2500},
		"a far one by itself": {at(0, 0, 10, 0, 0, 10, 10, 10, 1000, 0), -1},
	} {
		o, err := HullOf("x", s.frame, c.points)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		f := mustMap(t, o)
		if c.area > 0 && !near(f.Boundary.Area(), c.area, 0.002*c.area) {
			t.Errorf("%s: %.1f m², want %.1f", name, f.Boundary.Area(), c.area)
		}
		if !f.Frame.Same(s.frame) || o.Name != "x" {
			t.Errorf("%s: in %s", name, f.Frame.Name())
		}
		for _, p := range c.points {
			if !f.MayCore(p) {
				t.Errorf("%s: %v lies outside", name, p)
			}
		}
	}
	for name, points := range map[string][]XY{"none": nil, "one": at(0, 0), "one place": at(5, 5, 5, 5, 5, 5)} {
		if _, err := HullOf("x", s.frame, points); err == nil || !strings.Contains(err.Error(), "give a boundary") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, v := range []float64{math.NaN(), math.Inf(1)} {
		if _, err := HullOf("x", s.frame, append(at(0, 0, 9, 9), XY{0, v})); err == nil || !strings.Contains(err.Error(), "point 3") {
			t.Errorf("%v", err)
		}
	}
}

func make0(s site, n int) []XY {
	out := make([]XY, n)
	for i := range out {
		out[i] = s.at
	}
	return out
}

func TestMedianGap(t *testing.T) {
	rnd := random(3)
	for range 50 {
		var points []XY
		for range 2 + rnd.IntN(60) {
			points = append(points, XY{float64(rnd.IntN(30)), float64(rnd.IntN(30))})
		}
		var gaps []float64
		seen := map[XY]bool{}
		for _, p := range points {
			least := math.Inf(1)
			for _, q := range points {
				if p != q {
					least = math.Min(least, p.Distance(q))
				}
			}
			if !seen[p] && !math.IsInf(least, 1) {
				gaps = append(gaps, least)
			}
			seen[p] = true
		}
		got, below, above := medianGap(points), 0, 0
		for _, g := range gaps {
			if g < got {
				below++
			}
			if g > got {
				above++
			}
		}
		if below > len(gaps)/2 || above > len(gaps)/2 || len(gaps) > 0 && got == 0 {
			t.Fatalf("%g: %d of %d gaps are less, %d more", got, below, len(gaps), above)
		}
	}
}
