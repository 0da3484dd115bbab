package sampling

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
)

const (
	equalWithin  = 1e-4      // share by which the area of a stratum may be off, aimed at
	equalAtLeast = 5e-3      // and put up with
	movesAtMost  = 25        // of the centres
	stepsAtMost  = 60        // of the weights, to even the areas out once
	triesAtMost  = 40        // of the length of one step
	movesWork    = 200_000   // cells worked out after which the centres rest
	workAtMost   = 3_000_000 // cells worked out in all; half a minute or so
)

// diagram is a power diagram on ground: cell k holds the places whose squared
// distance to centre k less weight k is least.
//
// The areas of the cells on the ground are the gradient of a concave function
// of the weights (Aurenhammer, Hoffmann and Aronov 1998), and they change with
// them by edge length over twice the distance between centres. So the weights
// that even the areas out are found by Newton's method, each step shortened
// until no cell is lost (Kitagawa, Merigot and Thibert 2019, Journal of the
// European Mathematical Society 21:2603-2651, doi:10.4171/JEMS/889, from
// memory).
type diagram struct {
	origin  geo.XY      // of the coordinates below, in the frame of the field
	ground  plane.Shape // about the origin, for the sake of the digits
	edges   plane.Edges // of the ground
	bound   orb.Bound   // holds the ground with room to spare
	inside  *plane.Locator
	target  float64 // area of a cell, m²
	centers []geo.XY
	weights []float64 // m²
	faint   float64   // density of ground that is not the field's, against 1
	apart   bool      // whether the faintest density ever did not lead to the end
	work    int       // cells worked out so far
	near    [][]int32 // for each centre the others, nearest first

	a, b []corner // room for clipping
}

// corner is a vertex of a polygon in the making and the side that begins there:
// the number of what it was cut by, or -1.
type corner struct {
	at   geo.XY
	side int32
}

// cell is what there is to know of one cell.
type cell struct {
	corners []corner // of the whole convex cell, counter-clockwise; sides name neighbours
	area    float64  // on the ground, m²
	mass    float64  // the same with ground that is not the field's, at its density
	middle  geo.XY   // of that ground
	spread  float64  // of squared distance to the middle over that ground, m⁴
	shared  []float64
	// shared is, for each of corners, the length of the side on the ground, and
	// off it at its density.
}

// newDiagram makes one of the centres and weights that places on the ground
// gave.
func newDiagram(ground plane.Shape, rough *clusters) *diagram {
	d := &diagram{
		origin: geo.XY(ground.Bound().Center()), target: rough.target,
		weights: rough.weights, centers: make([]geo.XY, len(rough.centers)),
	}
	for _, polygon := range ground {
		q := make(orb.Polygon, len(polygon))
		for i, ring := range polygon {
			q[i] = make(orb.Ring, len(ring))
			for k, p := range ring {
				q[i][k] = orb.Point{p[0] - d.origin[0], p[1] - d.origin[1]}
			}
		}
		d.ground = append(d.ground, q)
	}
	d.bound = d.ground.Bound().Pad(10)
	d.edges.AddShape(d.ground)
	d.inside = plane.NewLocator(d.ground)
	for k, p := range rough.centers {
		d.centers[k] = geo.XY{p[0] - d.origin[0], p[1] - d.origin[1]}
	}
	d.rank()
	return d
}

// meanSquare is the mean squared distance to the middle of its cell over the
// ground, in square metres.
func (d *diagram) meanSquare() float64 {
	var sum float64
	for _, c := range d.cells() {
		sum += c.spread
	}
	return sum / d.ground.Area()
}

// rank sorts the neighbours of every centre by distance.
func (d *diagram) rank() {
	d.near = make([][]int32, len(d.centers))
	away := make([]float64, len(d.centers))
	for k, p := range d.centers {
		list := make([]int32, 0, len(d.centers)-1)
		for j, q := range d.centers {
			away[j] = squared(p, q)
			if j != k {
				list = append(list, int32(j))
			}
		}
		slices.SortFunc(list, func(i, j int32) int { return cmp.Or(cmp.Compare(away[i], away[j]), cmp.Compare(i, j)) })
		d.near[k] = list
	}
}

// settle moves the centres to the middles of their cells, the areas kept about
// even, until they rest, and then evens the areas out.
func (d *diagram) settle() error {
	const roughly = 0.02
	cells, off := d.even(roughly)
	// Centres must not move by cells far from their size, or two of them end in
	// one place.
	for range movesAtMost {
		if off > 0.3 || d.work > movesWork {
			break
		}
		var moved float64
		for k := range cells {
			moved = max(moved, squared(cells[k].middle, d.centers[k]))
			d.centers[k] = cells[k].middle
		}
		d.rank()
		// A few steps do mostly.
		if cells, off = d.solve(d.cells(), roughly, 3); off > 0.3 || d.apart && off > roughly {
			cells, off = d.even(roughly)
		}
		if moved < 1e-4*d.target {
			break
		}
	}
	if _, off := d.even(equalWithin); off > equalAtLeast {
		return fmt.Errorf("ground of this form cannot be split into %d strata of equal area (one would be off by %.1f %%); take another number of samples, or plan parts that lie apart as fields of their own", len(d.centers), 100*off)
	}
	return nil
}

// even changes the weights until no area is off by more than the given share of
// the target, and returns the cells with the largest share that was left.
//
// Parts of a field that lie apart do not feel each other: no edge between their
// cells is on the ground. So the ground between is counted at a density, at
// first too faint to matter. Where that does not lead to the end, a density that
// does is brought down little by little.
func (d *diagram) even(within float64) ([]cell, float64) {
	const faintest = 1e-7
	d.faint = faintest
	if cells, off := d.solve(d.cells(), within, stepsAtMost); off <= within {
		return cells, off
	}
	d.apart = true
	// Without weights, every cell holds at least its own centre.
	clear(d.weights)
	for d.faint = 0.2; ; d.faint = max(d.faint/5, faintest) {
		cells, off := d.solve(d.cells(), within, stepsAtMost)
		if d.faint == faintest {
			return cells, off
		}
	}
}

// off returns the largest share of the target by which an area is off.
func (d *diagram) off(cells []cell) (worst float64) {
	for _, c := range cells {
		worst = max(worst, math.Abs(c.area-d.target)/d.target)
	}
	return worst
}

// solve is even for one density, in at most so many steps.
func (d *diagram) solve(cells []cell, within float64, steps int) ([]cell, float64) {
	least := math.Inf(1)
	for _, c := range cells {
		least = min(least, c.mass)
	}
	for range steps {
		if d.off(cells) <= within || d.work > workAtMost {
			break
		}
		lack, worst := lacks(cells)
		if worst <= within/10 {
			break
		}
		next := d.search(cells, lack, d.newton(cells, lack), min(0.1*d.target, least/2))
		if next == nil {
			break
		}
		cells = next
	}
	return cells, d.off(cells)
}

// lacks returns what each cell lacks of the mean mass, and the largest share of
// it that one does.
func lacks(cells []cell) (lack []float64, worst float64) {
	var mean float64
	for _, c := range cells {
		mean += c.mass / float64(len(cells))
	}
	lack = make([]float64, len(cells))
	for k, c := range cells {
		lack[k] = mean - c.mass
		worst = max(worst, math.Abs(lack[k])/mean)
	}
	return lack, worst
}

// search goes along a step as far as the masses gain by it and none falls under
// the least. It leaves the weights there and returns the cells; nil when there
// is no gain, and the weights as they were.
func (d *diagram) search(cells []cell, lack, step []float64, least float64) []cell {
	slope := func(lack []float64) (sum float64) {
		for k, l := range lack {
			sum += l * step[k]
		}
		return sum
	}
	before := slices.Clone(d.weights)
	first := slope(lack)
	if !(first > 0) {
		return nil
	}
	low, high := 0.0, math.Inf(1)
	var kept []cell
	for t, tries := 1.0, 0; tries < triesAtMost; tries++ {
		for k := range d.weights {
			d.weights[k] = before[k] + t*step[k]
		}
		next := d.cells()
		lack, _ := lacks(next)
		s := slope(lack)
		if s < -0.5*first || slices.ContainsFunc(next, func(c cell) bool { return c.mass < least }) {
			high = t
		} else {
			kept, low = next, t
			if s <= 0.5*first {
				break
			}
		}
		if high-low < 1e-3*high {
			break
		}
		if math.IsInf(high, 1) {
			t *= 3
		} else {
			t = (low + high) / 2
		}
	}
	for k := range d.weights {
		d.weights[k] = before[k] + low*step[k]
	}
	return kept
}

// newton returns the change of weights that evens the areas out as long as the
// edges keep their lengths, by the method of conjugate gradients.
func (d *diagram) newton(cells []cell, lack []float64) []float64 {
	n := len(cells)
	type link struct {
		to     int32
		weight float64
	}
	links := make([][]link, n)
	own := make([]float64, n)
	for k, c := range cells {
		for i, v := range c.corners {
			if v.side < 0 {
				continue
			}
			w := max(c.shared[i], 0) / (2 * d.centers[k].Distance(d.centers[v.side]))
			// Both cells measure the edge; each gives half.
			links[k] = append(links[k], link{v.side, w / 2})
			links[v.side] = append(links[v.side], link{int32(k), w / 2})
			own[k] += w / 2
			own[v.side] += w / 2
		}
	}
	x, r, z, p, q := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	copy(r, lack)
	dot := func(a, b []float64) (sum float64) {
		for k := range a {
			sum += a[k] * b[k]
		}
		return sum
	}
	center := func(a []float64) {
		var sum float64
		for _, v := range a {
			sum += v
		}
		for k := range a {
			a[k] -= sum / float64(n)
		}
	}
	center(r)
	least := 1e-20 * dot(r, r)
	rz := 0.0
	for range 4*n + 20 {
		for k := range z {
			z[k] = r[k] / max(own[k], 1e-12)
		}
		next := dot(r, z)
		for k := range p {
			if rz > 0 {
				p[k] = z[k] + next/rz*p[k]
			} else {
				p[k] = z[k]
			}
		}
		rz = next
		for k := range q {
			q[k] = own[k] * p[k]
			for _, l := range links[k] {
				q[k] -= l.weight * p[l.to]
			}
		}
		curve := dot(p, q)
		if curve <= 0 {
			break
		}
		for k := range x {
			x[k] += rz / curve * p[k]
			r[k] -= rz / curve * q[k]
		}
		if dot(r, r) <= least {
			break
		}
	}
	center(x)
	return x
}
