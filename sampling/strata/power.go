package strata

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"corewalk/geo/plane"
)

const (
	equalWithin  = 1e-4      // share by which the area of a stratum may be off, aimed at
	equalAtLeast = 5e-3      // and put up with
	wayOff       = 0.3       // with which there is no going on
	movesAtMost  = 60        // of the centres
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
	*land
	target  float64    // area of a cell, m²
	centers []plane.XY // about the origin of the land
	weights []float64  // m²
	faint   float64    // density of ground that is not the field's, against 1
	apart   bool       // whether the faintest density ever did not lead to the end
	work    int        // cells worked out so far
	most    int        // and at most
	near    [][]int32  // for each centre the others, nearest first

	a, b  []corner // room for clipping
	sides []float64
}

// corner is a vertex of a polygon in the making and the side that begins there:
// the number of what it was cut by, or -1.
type corner struct {
	at   plane.XY
	side int32
}

// cell is what there is to know of one cell.
type cell struct {
	corners []corner // of the whole convex cell, counter-clockwise; sides name neighbours
	area    float64  // on the ground, m²
	mass    float64  // the same with ground that is not the field's, at its density
	middle  plane.XY // of that ground
	spread  float64  // of squared distance to the middle over that ground, m⁴
	shared  []float64
	// shared is, for each of corners, the length of the side on the ground, and
	// off it at its density.
}

// newDiagram makes one of centres and weights, which it takes over.
func newDiagram(l *land, centers []plane.XY, weights []float64) *diagram {
	d := &diagram{land: l, target: l.area / float64(len(centers)), centers: centers, weights: weights, most: workAtMost}
	d.rank()
	return d
}

// rank sorts the neighbours of every centre by distance.
func (d *diagram) rank() {
	first := d.near == nil
	if first {
		d.near = make([][]int32, len(d.centers))
	}
	away := make([]float64, len(d.centers))
	for k, p := range d.centers {
		for j, q := range d.centers {
			away[j] = squared(p, q)
		}
		if first {
			for j := range d.centers {
				if j != k {
					d.near[k] = append(d.near[k], int32(j))
				}
			}
			slices.SortFunc(d.near[k], func(i, j int32) int { return cmp.Or(cmp.Compare(away[i], away[j]), cmp.Compare(i, j)) })
			continue
		}
		// The order changes little while the centres move little.
		list := d.near[k]
		for i := 1; i < len(list); i++ {
			v := list[i]
			j := i
			for ; j > 0 && (away[list[j-1]] > away[v] || away[list[j-1]] == away[v] && list[j-1] > v); j-- {
				list[j] = list[j-1]
			}
			list[j] = v
		}
	}
}

// value is the mean squared distance to the centres, in square metres, that the
// diagram would have if its areas were equal, as far as can be told while they
// are not quite: the weights are the price of area, so the first order of the
// error is known.
func (d *diagram) value(cells []cell) float64 {
	var sum float64
	for k, c := range cells {
		sum += c.spread + c.area*squared(c.middle, d.centers[k]) + d.weights[k]*(d.target-c.area)
	}
	return sum / d.area
}

// relax moves the centres to the middles of their cells, the areas kept about
// even, until they rest or have moved so often, and returns the value.
//
// The value has a gradient in the centres, which is twice the area times the
// way from the middle to the centre (de Goes, Breeden, Ostromoukhov and Desbrun
// 2012, ACM Transactions on Graphics 31(6):171, doi:10.1145/2366145.2366190).
// Going straight to the middles is the slow descent of Lloyd; the method of
// Broyden, Fletcher, Goldfarb and Shanno with little memory (Liu et al. 2009, ACM
// Transactions on Graphics 28(4):101, doi:10.1145/1559755.1559758) needs half the
// moves. DOIs are from memory.
//
// The areas are kept even within a share of the target. The moves end when one
// gains less than the share rest of the value, or when thirty more like it would
// not bring it down to the value to beat. The value is infinite when the
// areas are too uneven to tell it.
func (d *diagram) relax(within, rest, beat float64) float64 {
	cells, off := d.even(within)
	value, slope := d.value(cells), d.slope(cells)
	var past memory
	// Centres must not move by cells far from their size, or two of them end in
	// one place.
	for moves := 0; moves < movesAtMost && off <= wayOff && d.work <= min(d.most, movesWork); moves++ {
		step := past.step(slope)
		longest := 0.0
		for _, s := range step {
			longest = max(longest, s[0]*s[0]+s[1]*s[1])
		}
		centers, weights := slices.Clone(d.centers), slices.Clone(d.weights)
		add(d.centers, -min(1, math.Sqrt(0.1*d.target/longest)), step)
		d.rank()
		// A few steps do mostly.
		next, nextOff := d.solve(d.cells(), within, 10)
		if nextOff > wayOff || d.apart && nextOff > within {
			next, nextOff = d.even(within)
		}
		gain := value - d.value(next)
		if nextOff > wayOff || gain < 0 {
			// Not that far, then: afresh, straight to the middles.
			copy(d.centers, centers)
			copy(d.weights, weights)
			d.rank()
			if len(past.moves) == 0 {
				break
			}
			past = memory{}
			continue
		}
		old := slope
		off, value, slope = nextOff, value-gain, d.slope(next)
		past.add(centers, d.centers, old, slope)
		if gain < rest*value || value-30*gain > beat {
			break
		}
	}
	if off > 5*within {
		return math.Inf(1)
	}
	return value
}

// slope returns the way from the middle of each cell to its centre.
func (d *diagram) slope(cells []cell) []plane.XY {
	out := make([]plane.XY, len(cells))
	for k, c := range cells {
		if c.area > 0 {
			out[k] = plane.XY{d.centers[k][0] - c.middle[0], d.centers[k][1] - c.middle[1]}
		}
	}
	return out
}

// memory is what is known of the second derivatives of the value from the last
// moves of the centres and the changes of its gradient with them.
type memory struct{ moves, changes [][]plane.XY }

const memoryLength = 6

func (m *memory) add(before, after, old, slope []plane.XY) {
	move, change := make([]plane.XY, len(after)), make([]plane.XY, len(after))
	for k := range after {
		move[k] = plane.XY{after[k][0] - before[k][0], after[k][1] - before[k][1]}
		change[k] = plane.XY{slope[k][0] - old[k][0], slope[k][1] - old[k][1]}
	}
	// Without curvature along the move it teaches nothing.
	if !(dot(move, change) > 1e-3*dot(move, move)) {
		return
	}
	if len(m.moves) == memoryLength {
		m.moves, m.changes = m.moves[1:], m.changes[1:]
	}
	m.moves, m.changes = append(m.moves, move), append(m.changes, change)
}

// step returns the gradient times the inverse of the second derivatives
// (Nocedal 1980, Mathematics of Computation 35:773-782).
func (m *memory) step(slope []plane.XY) []plane.XY {
	q := slices.Clone(slope)
	last := len(m.moves) - 1
	if last < 0 {
		return q
	}
	alpha := make([]float64, len(m.moves))
	for i := last; i >= 0; i-- {
		alpha[i] = dot(m.moves[i], q) / dot(m.moves[i], m.changes[i])
		add(q, -alpha[i], m.changes[i])
	}
	scale := dot(m.moves[last], m.changes[last]) / dot(m.changes[last], m.changes[last])
	for k := range q {
		q[k][0] *= scale
		q[k][1] *= scale
	}
	for i := range m.moves {
		beta := dot(m.changes[i], q) / dot(m.moves[i], m.changes[i])
		add(q, alpha[i]-beta, m.moves[i])
	}
	return q
}

func dot(a, b []plane.XY) (sum float64) {
	for k := range a {
		sum += a[k][0]*b[k][0] + a[k][1]*b[k][1]
	}
	return sum
}

// add adds t times b to a.
func add(a []plane.XY, t float64, b []plane.XY) {
	for k := range a {
		a[k][0] += t * b[k][0]
		a[k][1] += t * b[k][1]
	}
}

// settle evens the areas out for good.
func (d *diagram) settle() error {
	d.relax(1e-3, 1e-5, math.Inf(1))
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
		if d.off(cells) <= within || d.work > d.most {
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
	product := func(a, b []float64) (sum float64) {
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
	least := 1e-20 * product(r, r)
	rz := 0.0
	for range 4*n + 20 {
		for k := range z {
			z[k] = r[k] / max(own[k], 1e-12)
		}
		next := product(r, z)
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
		curve := product(p, q)
		if curve <= 0 {
			break
		}
		for k := range x {
			x[k] += rz / curve * p[k]
			r[k] -= rz / curve * q[k]
		}
		if product(r, r) <= least {
			break
		}
	}
	center(x)
	return x
}
