package zone

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// roughField is a field of lobes, some of them islands, joined by necks down to
// a millimetre, with holes, slivers and edges along those of pixels, cut into
// divisions.
func roughField(t *testing.T, r *rand.Rand, size, pixel float64) []Ground {
	t.Helper()
	must := func(s plane.Shape, err error) plane.Shape {
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	inset := 0.02 * size
	at := func() (float64, float64) {
		return west + inset + r.Float64()*(size-2*inset), north - inset - r.Float64()*(size-2*inset)
	}
	clamp := func(p orb.Point) orb.Point {
		return orb.Point{min(max(p[0], west), west+size), min(max(p[1], north-size), north)}
	}
	star := func(x, y, radius float64) plane.Shape {
		var ring orb.Ring
		n := 3 + r.IntN(40)
		rough := 0.6 * r.Float64()
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			d := radius * (1 - rough*r.Float64())
			ring = append(ring, clamp(orb.Point{x + d*math.Cos(a), y + d*math.Sin(a)}))
		}
		s, _, err := plane.New(orb.MultiPolygon{{append(ring, ring[0])}})
		if err != nil {
			return nil // under a square metre
		}
		return s
	}
	strip := func(x, y, u, v, width float64) plane.Shape {
		l := math.Hypot(u-x, v-y)
		dx, dy := (u-x)/l*width/2, (v-y)/l*width/2
		return plane.Shape{{{{x - dy, y + dx}, {x + dy, y - dx}, {u + dy, v - dx}, {u - dy, v + dx}, {x - dy, y + dx}}}}.Canonical()
	}
	whole := star(west+size/2, north-size/2, size/2)
	if r.IntN(3) == 0 || whole.Empty() {
		k := math.Floor(size / pixel / 4)
		whole = box(k*pixel, pixel, size-pixel, size-k*pixel)
	}
	for range r.IntN(4) {
		x, y := at()
		whole = must(plane.Union(whole, star(x, y, size/5)))
	}
	if r.IntN(2) == 0 {
		x, y := at()
		u, v := at()
		whole = must(plane.Union(whole, strip(x, y, u, v, [...]float64{0.001, 0.05, 0.4, 2}[r.IntN(4)]*pixel)))
	}
	for range r.IntN(4) {
		x, y := at()
		hole := star(x, y, []float64{0.3 * pixel, size / 12}[r.IntN(2)])
		if r.IntN(3) == 0 {
			u, v := at()
			hole = strip(x, y, u, v, 0.01*pixel)
		}
		whole = must(plane.Subtract(whole, hole))
	}
	var ground []Ground
	for i := range r.IntN(4) {
		x, y := at()
		cutter := star(x, y, size/2.5)
		if r.IntN(3) == 0 {
			u, v := at()
			cutter = strip(x, y, u, v, 1.3*pixel)
		}
		ground = append(ground, Ground{fmt.Sprint("part ", i), must(plane.Intersect(whole, cutter))})
		whole = must(plane.Subtract(whole, cutter))
	}
	return append(ground, Ground{"rest", whole})
}

// zoneCase makes classes on a rough field, and choices.
func zoneCase(t *testing.T, seed uint64) (raster.Geometry, []int32, []Ground, []int32, Options) {
	r := rand.New(rand.NewPCG(seed, 11))
	n := 6 + r.IntN(40)
	pixel := [...]float64{1, 2.5, 5, 10, 1 / 3.}[r.IntN(5)]
	g := &raster.Grid{Geometry: raster.Geometry{West: west, North: north, Pixel: pixel, Width: n, Height: n, EPSG: 32632}, Data: make([]float32, n*n)}
	ground := roughField(t, r, float64(n)*pixel, pixel)
	values(r, g)
	class := Classify(g, []float64{5.3, 5.7, 6.1, 6.6})
	var opt Options
	if seed%2 == 1 {
		opt.Smooth = 1 + r.IntN(4)
	}
	if seed%3 == 1 {
		opt.Smallest = 30 * r.Float64() * pixel * pixel
	}
	if seed%5 == 1 {
		opt.LeastWidth = 5 * r.Float64() * pixel
	}
	return g.Geometry, class, ground, divide(g, ground), opt
}

// whole checks that zones partition the ground: all along its outline, a zone
// has either the outline of its division or another zone of that on the other
// side, vertex by vertex; and what is left of the outlines is the ground.
func whole(t *testing.T, ground []Ground, zones []Zone) {
	t.Helper()
	type edge struct{ from, to orb.Point }
	outside := map[edge]int{}
	for d, gr := range ground {
		open := map[edge]bool{}
		sum := 0.0
		vertices := map[orb.Point]bool{}
		for i, z := range zones {
			if z.Division != d {
				continue
			}
			if len(z.Shape) != 1 {
				t.Fatalf("zone %d has %d polygons", i, len(z.Shape))
			}
			if z.Area != z.Shape.Area() || !(z.Area > 0) {
				t.Errorf("zone %d of %g m2 has a shape of %g", i, z.Area, z.Shape.Area())
			}
			sum += z.Area
			for k, ring := range z.Shape[0] {
				if (plane.SignedArea(ring) > 0) != (k == 0) {
					t.Errorf("zone %d: ring %d turns the wrong way", i, k)
				}
				for j := 1; j < len(ring); j++ {
					e := edge{ring[j-1], ring[j]}
					vertices[e.to] = true
					if back := (edge{e.to, e.from}); open[back] {
						delete(open, back)
					} else if open[e] || e.from == e.to {
						t.Errorf("zone %d: an edge at %v twice, or without length", i, e)
					} else {
						open[e] = true
					}
				}
			}
		}
		area := gr.Shape.Area()
		// Places far from the origin are rounded to a nanometre.
		if math.Abs(sum-area) > 1e-9*max(area, gr.Shape.Perimeter()) {
			t.Errorf("division %d: zones of %.9f m2 on ground of %.9f, relative %g", d, sum, area, math.Abs(sum-area)/area)
		}
		var line plane.Edges
		line.AddShape(gr.Shape)
		for e := range open {
			outside[e] = d
			for _, p := range []orb.Point{e.from, e.to, {(e.from[0] + e.to[0]) / 2, (e.from[1] + e.to[1]) / 2}} {
				if !line.Within(plane.XY(p), 2e-8) {
					t.Errorf("division %d: (%.9f, %.9f) ends a zone, but no ground", d, p[0], p[1])
				}
			}
		}
		for _, polygon := range gr.Shape {
			for _, ring := range polygon {
				for _, p := range ring {
					if !vertices[p] {
						t.Errorf("division %d: the vertex %v of its outline is in no zone", d, p)
					}
				}
			}
		}
	}
	// Divisions with an edge in common have the same vertices on it.
	lines := make([]plane.Edges, len(ground))
	for i := range ground {
		lines[i].AddShape(ground[i].Shape)
	}
	for e, d := range outside {
		if _, ok := outside[edge{e.to, e.from}]; ok {
			continue
		}
		for i := range lines {
			third := plane.XY{e.from[0] + (e.to[0]-e.from[0])/3, e.from[1] + (e.to[1]-e.from[1])/3}
			middle := plane.XY{(e.from[0] + e.to[0]) / 2, (e.from[1] + e.to[1]) / 2}
			if i != d && plane.XY(e.from).Distance(plane.XY(e.to)) > 1e-6 && lines[i].Within(third, 1e-9) && lines[i].Within(middle, 1e-9) {
				t.Errorf("divisions %d and %d: an edge from %v to %v has other vertices on the other side", d, i, e.from, e.to)
			}
		}
	}
}

func TestZonesArePartition(t *testing.T) {
	zones, merged, worst := 0, 0, 0.0
	for seed := range uint64(500) {
		g, class, ground, division, opt := zoneCase(t, seed)
		grounds, err := NewGrounds(g, ground, division)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		out, err := grounds.Partition(class, opt)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		whole(t, ground, out.Zones)
		var sum, area float64
		pixels := 0
		small := 0
		for i, z := range out.Zones {
			sum += z.Area
			pixels += len(z.Pixels)
			if _, mended, err := plane.New(orb.MultiPolygon(z.Shape)); err != nil || mended.Crossing {
				t.Errorf("zone %d is not valid: %+v, %v", i, mended, err)
			}
			if z.Area < opt.Smallest {
				small++
			}
		}
		for _, gr := range ground {
			area += gr.Shape.Area()
		}
		worst = max(worst, math.Abs(sum-area)/area)
		inside := 0
		for _, d := range division {
			if d >= 0 {
				inside++
			}
		}
		if pixels != inside || small != out.Small {
			t.Errorf("%d pixels in zones, %d in the ground; %d small zones, said to be %d", pixels, inside, small, out.Small)
		}
		again, err := Partition(g, class, ground, division, opt)
		if err != nil || !reflect.DeepEqual(out, again) {
			t.Errorf("another result the second time (%v)", err)
		}
		zones += len(out.Zones)
		merged += out.Merged
		if t.Failed() {
			t.Fatalf("seed %d, %+v", seed, opt)
		}
	}
	if zones < 20_000 || merged < 5_000 || worst > 1e-9 {
		t.Errorf("only %d zones, %d merged, or areas apart by %g", zones, merged, worst)
	}
	t.Logf("%d zones, %d merged, areas apart by %.2g at most", zones, merged, worst)
}

// latticeGround is tangled ground whose vertices lie at the corners, the middles
// and on the sides of pixels, so that everything meets everything.
func latticeGround(r *rand.Rand, n int, pixel float64) []Ground {
	shape := func() plane.Shape {
		var m orb.MultiPolygon
		for range 1 + r.IntN(3) {
			var ring orb.Ring
			for range 3 + r.IntN(9) {
				p := orb.Point{float64(r.IntN(2*n+1)) * pixel / 2, float64(r.IntN(2*n+1)) * pixel / 2}
				if k := len(ring); k > 0 && r.IntN(3) > 0 { // along pixel edges
					i := r.IntN(2)
					p[i] = ring[k-1][i] - [2]float64{west, north - float64(n)*pixel}[i]
				}
				ring = append(ring, orb.Point{west + p[0], north - float64(n)*pixel + p[1]})
			}
			m = append(m, orb.Polygon{append(ring, ring[0])})
		}
		s, _, err := plane.New(m)
		if err != nil {
			return nil // nothing left of it
		}
		return s
	}
	whole, cutter := shape(), shape()
	part, err := plane.Intersect(whole, cutter)
	if err != nil {
		return nil
	}
	rest, err := plane.Subtract(whole, cutter)
	if err != nil {
		return nil
	}
	return []Ground{{"part", part}, {"rest", rest}}
}

func TestZonesOnLattice(t *testing.T) {
	zones := 0
	for seed := range uint64(1000) {
		r := rand.New(rand.NewPCG(seed, 21))
		n := 3 + r.IntN(6)
		g := &raster.Grid{Geometry: raster.Geometry{West: west, North: north, Pixel: 4, Width: n, Height: n}}
		class := make([]int32, n*n)
		for i := range class {
			class[i] = r.Int32N(3)
		}
		g.Data = make([]float32, n*n)
		ground := latticeGround(r, n, 4)
		z, err := Partition(g.Geometry, class, ground, divide(g, ground), Options{Smooth: r.IntN(3), Smallest: float64(r.IntN(2) * 20)})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		whole(t, ground, z.Zones)
		for i, z := range z.Zones {
			if _, mended, err := plane.New(orb.MultiPolygon(z.Shape)); z.Area > 2 && (err != nil || mended.Crossing) {
				t.Errorf("zone %d is not valid: %+v, %v", i, mended, err)
			}
		}
		zones += len(z.Zones)
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
	if zones < 10_000 {
		t.Errorf("only %d zones", zones)
	}
}
