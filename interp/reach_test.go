package interp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// With composites on a lattice, the cell is the lattice's, and what is left is
// within half a cell of the hull.
func TestReachOfLattice(t *testing.T) {
	var units []Unit
	for i := range 30 {
		units = append(units, Unit{Sample: Sample{ID: fmt.Sprint(i), At: plane.XY{50 + 100*float64(i%6), 50 + 100*float64(i/6)}}})
	}
	if _, half := reach(units); math.Abs(half-50) > 1e-9 {
		t.Errorf("half a cell is %g m", half)
	}
	g := raster.Geometry{West: -100, North: 700, Pixel: 10, Width: 80, Height: 80}
	division := make([]int32, 6400)
	for i, d := range Reach(g, division, units) {
		x, y := g.Center(i%80, i/80)
		dx, dy := max(50-x, x-550, 0), max(50-y, y-450, 0)
		if want := math.Hypot(dx, dy) <= 50; want != (d == 0) {
			t.Fatalf("(%g, %g) is in division %d, but %.1f m from the hull", x, y, d, math.Hypot(dx, dy))
		}
	}
}

// Against the distance from the hull, pixel by pixel.
func TestReachIsADistance(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 12))
	for round := range 60 {
		var units []Unit
		n := 1 + r.IntN(12)
		angle := 2 * math.Pi * r.Float64()
		for i := range n {
			at := plane.XY{300 * r.Float64(), 300 * r.Float64()}
			if round%4 == 0 { // all on one line
				at = plane.XY{150 + 150*math.Cos(angle)*float64(i)/float64(n), 150 + 150*math.Sin(angle)*float64(i)/float64(n)}
			}
			units = append(units, Unit{Sample: Sample{ID: fmt.Sprint(i), At: at, Division: 1}})
		}
		hull, half := reach(units)
		g := raster.Geometry{West: -200, North: 500, Pixel: 7, Width: 100, Height: 100}
		division := make([]int32, 10000)
		for i := range division {
			division[i] = int32(i % 2)
		}
		for i, d := range Reach(g, division, units) {
			x, y := g.Center(i%100, i/100)
			p, off, in := plane.XY{x, y}, inf, len(hull) > 2
			for k, a := range hull {
				b := hull[(k+1)%len(hull)]
				if a == b {
					off = min(off, p.Distance(a))
					continue
				}
				off = min(off, offLine(a, b, p))
				in = in && (b[0]-a[0])*(p[1]-a[1])-(b[1]-a[1])*(p[0]-a[0]) >= 0
			}
			if math.Abs(off-half) < 1e-6 && !in {
				continue
			}
			if want := (in || off <= half) && i%2 == 1; want != (d == 1) {
				t.Fatalf("round %d: %v with half a cell of %g m: (%g, %g), %g m off, is in division %d", round, hull, half, x, y, off, d)
			}
		}
	}
}

// The composite of a problem area stands for all of it.
func TestReachOfOneComposite(t *testing.T) {
	square := plane.Shape{{{{0, 0}, {100, 0}, {100, 20}, {0, 20}, {0, 0}}}}
	units := []Unit{{Sample: Sample{ID: "a", At: plane.XY{10, 10}}, Shape: square, Number: 1}}
	g := raster.Geometry{West: 0, North: 20, Pixel: 10, Width: 10, Height: 2}
	for i, d := range Reach(g, make([]int32, 20), units) {
		if d != 0 {
			t.Errorf("pixel %d is off the ground", i)
		}
	}
}
