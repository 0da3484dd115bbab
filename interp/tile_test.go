package interp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// plainly is inverse distance weighting with nothing done for speed: all
// distances sorted, the nearest taken, the weights by math.Pow.
func plainly(samples []Sample, idw IDW, p plane.XY, division int) (float64, bool) {
	type pair struct{ off, value float64 }
	var pairs []pair
	for _, s := range samples {
		if s.Division == division {
			pairs = append(pairs, pair{math.Hypot(s.At.X()-p.X(), s.At.Y()-p.Y()), s.Value})
		}
	}
	slices.SortFunc(pairs, func(a, b pair) int {
		if a.off < b.off {
			return -1
		}
		return 1
	})
	var sum, weights, n float64
	for i, v := range pairs {
		if idw.Near > 0 && i >= idw.Near && v.off > pairs[idw.Near-1].off*(1+tie/2) || idw.Radius > 0 && v.off > idw.Radius*(1+tie/2) {
			break
		}
		if v.off < samePlace {
			return v.value, true
		}
		w := math.Pow(v.off, -idw.Power)
		sum, weights, n = sum+w*v.value, weights+w, n+1
	}
	return sum / weights, n > 0
}

// arrangements of n places, from (0, 0) on over 160 m or, in a line, more.
var arrangements = map[string]func(r *rand.Rand, n int) []plane.XY{
	"random": func(r *rand.Rand, n int) (at []plane.XY) {
		for range n {
			at = append(at, plane.XY{160 * r.Float64(), 160 * r.Float64()})
		}
		return at
	},
	"clusters": func(r *rand.Rand, n int) (at []plane.XY) {
		for i := range n {
			c := float64(i % 3)
			at = append(at, plane.XY{30 + 50*c + r.NormFloat64(), 20 + 60*c + 3*r.NormFloat64()})
		}
		return at
	},
	// Pixels of 2 m have their middles on the places and half-way between:
	// many are equally far from several.
	"lattice": func(_ *rand.Rand, n int) (at []plane.XY) {
		side := int(math.Ceil(math.Sqrt(float64(n))))
		step := 2 * math.Floor(80/float64(side))
		for i := range n {
			at = append(at, plane.XY{1 + step*float64(i%side), 1 + step*float64(i/side)})
		}
		return at
	},
	"line": func(_ *rand.Rand, n int) (at []plane.XY) {
		for i := range n {
			at = append(at, plane.XY{1 + 2*float64(i), 81})
		}
		return at
	},
}

var settings = []IDW{
	{Power: 2}, {Power: 2, Near: 1}, {Power: 2, Near: 12}, {Power: 2, Near: 1000}, {Power: 1, Near: 4}, {Power: 3}, {Power: 3, Near: 5},
	{Power: 4, Near: 7}, {Power: 0.01}, {Power: 0.3, Near: 6}, {Power: 2.7, Near: 16}, {Power: 20, Near: 3},
	{Power: 2, Radius: 17}, {Power: 2, Near: 4, Radius: 17}, {Power: 1, Near: 12, Radius: 8}, {Power: 2, Near: 3, Radius: 500}, {Power: 2.5, Near: 0, Radius: 40},
}

// TestSurfaceIsAtEveryPixel: the same bits from At, from any number of workers
// and from samples in any order, and what plainly says to rounding.
func TestSurfaceIsAtEveryPixel(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for name, arrange := range arrangements {
		for i, n := range []int{1, 2, 5, 13, 60, 300} {
			east, north := 0.0, 0.0
			if i%2 == 1 {
				east, north = 600000, 5400000
			}
			var samples []Sample
			for i, p := range arrange(r, n) {
				samples = append(samples, Sample{ID: fmt.Sprint(i), At: plane.XY{east + p.X(), north + p.Y()}, Value: 5 + 3*r.Float64(), Division: min(r.IntN(8), 1)})
			}
			mixed := slices.Clone(samples)
			r.Shuffle(n, func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
			g := raster.Geometry{West: east - 20, North: north + 150, Pixel: 2, Width: 70, Height: 75}
			division := stripes(g.Width, g.Height)
			for _, idw := range settings {
				m := model(t, samples, idw)
				surface, err := m.Surface(g, division, 1)
				if err != nil {
					t.Fatal(err)
				}
				for workers, m := range map[int]*Model{2: m, 5: m, 1: model(t, mixed, idw)} {
					again, err := m.Surface(g, division, workers)
					if err != nil || !slices.Equal(again.Data, surface.Data) {
						t.Fatalf("%s of %d, %+v: %d workers give another surface (%v)", name, n, idw, workers, err)
					}
				}
				for i, v := range surface.Data {
					x, y := g.Center(i%g.Width, i/g.Width)
					p := plane.XY{x, y}
					at, ok := m.At(p, int(division[i]))
					if ok != (v != raster.NoData) || ok && float32(at) != v {
						t.Fatalf("%s of %d, %+v, at %v: %v, At gives %v, %v", name, n, idw, p, v, at, ok)
					}
					if i%11 != 0 {
						continue
					}
					if want, found := plainly(samples, idw, p, int(division[i])); found != ok || ok && math.Abs(at-want) > 1e-12*want {
						t.Fatalf("%s of %d, %+v, at %v: %.17g, %v, plainly %.17g, %v", name, n, idw, p, at, ok, want, found)
					}
				}
			}
		}
	}
}

// TestBrushKeepsPlacesInOrder: the order of a sum shows in the last bits of a
// float64 alone, which a raster does not hold.
func TestBrushKeepsPlacesInOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	for round := range 60 {
		samples := invented(40, 100, uint64(round))
		idw := IDW{Power: 2, Near: 1 + r.IntN(20)}
		if round%3 == 0 {
			idw.Radius = 30
		}
		m := model(t, samples, idw)
		d := &m.divisions[0]
		b := newBrush([]*Model{m}, []*raster.Grid{{}}, nil)
		b.begin(0, 0)
		b.near = b.all
		b.restart()
		p := plane.XY{50, 50}
		for range 500 {
			p[0], p[1] = p[0]+r.NormFloat64(), p[1]+r.NormFloat64()
			b.settle(p[0], p[1])
			var want []int32
			q := make([]float64, len(d.x))
			distances(q, d.x, d.y, p[0], p[1])
			sorted := slices.Sorted(slices.Values(q))
			for i, v := range q {
				if v <= idw.limit(sorted[idw.Near-1]) {
					want = append(want, int32(i))
				}
			}
			if !slices.Equal(b.at[:b.count], want) {
				t.Fatalf("%+v at %v: %v, want %v", idw, p, b.at[:b.count], want)
			}
			for i, at := range want {
				if b.x[i] != d.x[at] || b.y[i] != d.y[at] || b.values[0][i] != d.value[at] || b.q[i] != q[at] {
					t.Fatalf("%+v at %v: place %d is not at hand as it is", idw, p, at)
				}
			}
		}
	}
}

// TestInverseSquares: the short way for one figure has the bits of the long one,
// and both are what they say, whatever the distances on the map.
func TestInverseSquares(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 18))
	for round := range 2000 {
		n := r.IntN(30)
		dx2, dy2, v, q := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		var wantTotal, wantSum float64
		for i := range n {
			dx2[i] = math.Pow(10, -6+22.6*r.Float64()) // a millimetre to 2e8 m
			dy2[i] = r.Float64() * dx2[i]
			v[i] = math.Pow(10, 30*r.Float64())
			q[i] = dx2[i] + dy2[i]
			wantTotal += 1 / q[i]
			wantSum += v[i] / q[i]
		}
		total, sum := inverseSquares(dx2, dy2, v)
		if long := reciprocals(q); long != total || product(q, v) != sum {
			t.Fatalf("round %d: %g and %g, the long way %g and %g", round, total, sum, long, product(q, v))
		}
		if math.Abs(total-wantTotal) > 1e-14*wantTotal || math.Abs(sum-wantSum) > 1e-14*wantSum {
			t.Fatalf("round %d: %g and %g, want %g and %g", round, total, sum, wantTotal, wantSum)
		}
	}
	// The ends of what the limits of sample.go let through, where four share a division.
	for _, power := range []float64{1, 2, 3, 4} {
		for _, off := range []float64{samePlace, math.Sqrt2 * 2 * farthest} {
			q := []float64{off * off, off * off, off * off, off * off}
			want := 4 * math.Pow(off, -power)
			if total := (IDW{Power: power}).weights(q); math.Abs(total-want) > 1e-14*want {
				t.Errorf("power %g at %g m: %g, want %g", power, off, total, want)
			}
		}
	}
}

// TestRadiusLeavesHoles: no figure beyond the radius of all samples, and one
// within it.
func TestRadiusLeavesHoles(t *testing.T) {
	m := model(t, line(10, 4, 50, 8), IDW{Power: 2, Near: 5, Radius: 10})
	g := raster.Geometry{West: -0.5, North: 0.5, Pixel: 1, Width: 70, Height: 1}
	surface, err := m.Surface(g, make([]int32, g.Width), 1)
	if err != nil {
		t.Fatal(err)
	}
	for col, v := range surface.Data {
		want := raster.NoData
		switch {
		case col <= 20:
			want = 4
		case col >= 40 && col <= 60:
			want = 8
		}
		if v != want {
			t.Errorf("at %d: %v, want %v", col, v, want)
		}
	}
}

// TestTurned: a field moved and turned has the same figures. Not to the last
// digits, as its places are rounded to a nanometre, and not where the choice of
// the nearest hangs on that.
func TestTurned(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	for round := range 40 {
		sin, cos := math.Sincos(2 * math.Pi * r.Float64())
		turned := func(p plane.XY) plane.XY {
			return plane.XY{512000 + cos*p.X() - sin*p.Y(), 5400000 + sin*p.X() + cos*p.Y()}
		}
		samples := invented(10+r.IntN(60), 300, uint64(round))
		other := slices.Clone(samples)
		for i := range other {
			other[i].At = turned(other[i].At)
		}
		idw := IDW{Power: powers[round%len(powers)], Near: r.IntN(15)}
		a, b := model(t, samples, idw), model(t, other, idw)
		compared := 0
		for range 200 {
			p := plane.XY{300 * r.Float64(), 300 * r.Float64()}
			u, _ := a.At(p, 0)
			v, _ := b.At(turned(p), 0)
			if within := slices.ContainsFunc(samples, func(s Sample) bool { return s.At.Distance(p) < 0.1 }); within {
				continue // the nearer, the more a nanometre counts
			}
			compared++
			if math.Abs(u-v) > 2e-7*u {
				t.Errorf("%+v at %v: %.12g, turned %.12g", idw, p, u, v)
			}
		}
		if compared < 150 {
			t.Errorf("only %d compared", compared)
		}
	}
}

// TestSurfaceAll: several analytes at once give the bits that each alone gives,
// whether they were sampled at the same places or not.
func TestSurfaceAll(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	places := arrangements["lattice"](r, 49)
	analyte := func(places []plane.XY) []Sample {
		var samples []Sample
		for i, p := range places {
			samples = append(samples, Sample{ID: fmt.Sprint(i), At: p, Value: 100 * r.Float64(), Division: i % 2})
		}
		return samples
	}
	models := []*Model{}
	for _, idw := range []IDW{{Power: 2, Near: 6}, {Power: 3}, {Power: 2, Near: 6}, {Power: 2, Near: 6, Radius: 15}, {Power: 2.2, Near: 6}} {
		models = append(models, model(t, analyte(places), idw), model(t, analyte(places[:40]), idw), model(t, analyte(places), idw))
	}
	g := raster.Geometry{North: 160, Pixel: 2, Width: 80, Height: 80}
	division := stripes(g.Width, g.Height)
	for _, workers := range []int{1, 3} {
		all, err := SurfaceAll(models, g, division, workers)
		if err != nil {
			t.Fatal(err)
		}
		for i, m := range models {
			alone, err := m.Surface(g, division, 1)
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(all[i].Data, alone.Data) {
				t.Errorf("model %d of %d differs", i, len(models))
			}
		}
	}
	if grids, err := SurfaceAll(nil, g, division, 1); err != nil || len(grids) != 0 {
		t.Errorf("no models: %v, %v", grids, err)
	}
}
