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

// cells works the diagram out.
func (d *diagram) cells() []cell {
	out := make([]cell, len(d.centers))
	d.work += len(out)
	for k := range out {
		out[k].corners = slices.Clone(d.convex(k))
		d.measure(&out[k])
	}
	return out
}

// convex returns cell k cut to the bound; empty when its neighbours leave it
// nothing.
func (d *diagram) convex(k int) []corner {
	lo, hi := d.bound.Min, d.bound.Max
	d.a = append(d.a[:0], corner{geo.XY(lo), -1}, corner{geo.XY{hi[0], lo[1]}, -1}, corner{geo.XY(hi), -1}, corner{geo.XY{lo[0], hi[1]}, -1})
	p := d.centers[k]
	reach := math.Inf(1) // squared, how far the cell goes from its centre
	for _, j := range d.near[k] {
		// Ground is ours where |x-p|² - wp <= |x-q|² - wq, a half plane.
		q := d.centers[j]
		nx, ny := q[0]-p[0], q[1]-p[1]
		apart := nx*nx + ny*ny
		limit := (apart + d.weights[k] - d.weights[j]) / 2
		if limit > 0 && limit*limit >= reach*apart {
			continue
		}
		d.b = clip(d.b[:0], d.a, j, nx, ny, limit+nx*p[0]+ny*p[1])
		d.a, d.b = d.b, d.a
		if len(d.a) < 3 {
			return nil
		}
		reach = 0
		for _, v := range d.a {
			reach = max(reach, squared(v.at, p))
		}
	}
	return d.a
}

// measure works out the part of a cell that lies on the ground. Clipping leaves
// doubled edges where ground falls apart, which carry no area and count in both
// directions, so no overlay is needed.
func (d *diagram) measure(c *cell) {
	n := len(c.corners)
	if n < 3 {
		return
	}
	b := orb.Bound{Min: orb.Point(c.corners[0].at), Max: orb.Point(c.corners[0].at)}
	for _, v := range c.corners {
		b = b.Extend(orb.Point(v.at))
	}
	middle := geo.XY(b.Center())
	whole, sum := moments{about: middle}, moments{about: middle}
	sides := make([]float64, n)
	for i, v := range c.corners {
		w := c.corners[(i+1)%n].at
		whole.add(v.at, w)
		sides[i] = math.Sqrt(squared(v.at, w))
	}
	c.shared = make([]float64, n)
	defer func() {
		sum.fill(c)
		c.mass = c.area + d.faint*(whole.area-c.area)
		for i := range sides {
			c.shared[i] += d.faint * (sides[i] - c.shared[i])
		}
	}()
	if !d.edges.Within(middle, 1e-6+math.Hypot(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])/2) {
		if d.inside.Contains(middle) {
			sum = whole
			copy(c.shared, sides)
		}
		return
	}
	for _, polygon := range d.ground {
		for _, ring := range polygon {
			d.a = near(d.a[:0], ring, b)
			for i := 0; i < n && len(d.a) > 0; i++ {
				p, q := c.corners[i].at, c.corners[(i+1)%n].at
				nx, ny := q[1]-p[1], p[0]-q[0]
				d.b = clip(d.b[:0], d.a, int32(i), nx, ny, nx*p[0]+ny*p[1])
				d.a, d.b = d.b, d.a
			}
			for i, v := range d.a {
				w := d.a[(i+1)%len(d.a)].at
				sum.add(v.at, w)
				if v.side >= 0 && sides[v.side] > 0 {
					p, q := c.corners[v.side].at, c.corners[(int(v.side)+1)%n].at
					c.shared[v.side] += ((w[0]-v.at[0])*(q[0]-p[0]) + (w[1]-v.at[1])*(q[1]-p[1])) / sides[v.side]
				}
			}
		}
	}
}

// near appends to out the corners of a ring without those that only lead round
// a bound on one side of it, which changes nothing inside.
func near(out []corner, ring orb.Ring, b orb.Bound) []corner {
	beyond := func(p orb.Point) (code uint8) {
		if p[0] < b.Min[0] {
			code = 1
		} else if p[0] > b.Max[0] {
			code = 2
		}
		if p[1] < b.Min[1] {
			code |= 4
		} else if p[1] > b.Max[1] {
			code |= 8
		}
		return code
	}
	var last, before uint8
	for _, p := range ring[:len(ring)-1] {
		code := beyond(p)
		if last&before&code != 0 {
			out[len(out)-1], last = corner{geo.XY(p), -1}, code
			continue
		}
		out = append(out, corner{geo.XY(p), -1})
		before, last = last, code
	}
	return out
}

// moments are those of area about a place, gathered edge by edge.
type moments struct {
	about      geo.XY
	area, x, y float64
	square     float64
}

func (m *moments) add(p, q geo.XY) {
	ax, ay, bx, by := p[0]-m.about[0], p[1]-m.about[1], q[0]-m.about[0], q[1]-m.about[1]
	cross := ax*by - bx*ay
	m.area += cross / 2
	m.x += (ax + bx) * cross / 6
	m.y += (ay + by) * cross / 6
	m.square += (ax*ax + ax*bx + bx*bx + ay*ay + ay*by + by*by) * cross / 12
}

// fill sets what a cell has of area. Less than 1 cm² is rounding.
func (m *moments) fill(c *cell) {
	if m.area < 1e-4 {
		return
	}
	x, y := m.x/m.area, m.y/m.area
	c.area = m.area
	c.middle = geo.XY{m.about[0] + x, m.about[1] + y}
	c.spread = m.square - m.area*(x*x+y*y)
}

// clip appends to out the part of a polygon where nx x + ny y is at most limit
// (Sutherland and Hodgman 1974), the new side numbered.
func clip(out, polygon []corner, side int32, nx, ny, limit float64) []corner {
	if len(polygon) == 0 {
		return out
	}
	last := polygon[len(polygon)-1]
	b := nx*last.at[0] + ny*last.at[1] - limit
	for _, q := range polygon {
		// From p at a to q at b.
		p, a := last, b
		b = nx*q.at[0] + ny*q.at[1] - limit
		if (a < 0 && b > 0) || (a > 0 && b < 0) {
			t := a / (a - b)
			x := corner{geo.XY{p.at[0] + t*(q.at[0]-p.at[0]), p.at[1] + t*(q.at[1]-p.at[1])}, p.side}
			if a < 0 {
				x.side = side
			}
			out = append(out, x)
		} else if a == 0 && b > 0 && len(out) > 0 {
			out[len(out)-1].side = side
		}
		if b <= 0 {
			out = append(out, q)
		}
		last = q
	}
	return out
}

// shapes cuts the ground along the diagram. Corners that cells share are made
// the very same, so that neighbours leave no crack between them.
func (d *diagram) shapes(ground plane.Shape) ([]plane.Shape, error) {
	known := map[[2]int64][]geo.XY{}
	weld := func(p geo.XY) geo.XY {
		const within = 1e-6
		i, j := int64(math.Floor(p[0]/within)), int64(math.Floor(p[1]/within))
		for di := int64(-1); di <= 1; di++ {
			for dj := int64(-1); dj <= 1; dj++ {
				for _, q := range known[[2]int64{i + di, j + dj}] {
					if q.Distance(p) < within {
						return q
					}
				}
			}
		}
		known[[2]int64{i, j}] = append(known[[2]int64{i, j}], p)
		return p
	}
	clip := newClipper(ground)
	var out []plane.Shape
	for k := range d.centers {
		var ring orb.Ring
		for _, v := range d.convex(k) {
			p := weld(v.at)
			q := orb.Point{p[0] + d.origin[0], p[1] + d.origin[1]}
			if len(ring) == 0 || ring[len(ring)-1] != q {
				ring = append(ring, q)
			}
		}
		if len(ring) > 1 && ring[0] == ring[len(ring)-1] {
			ring = ring[:len(ring)-1]
		}
		if len(ring) < 3 {
			return nil, fmt.Errorf("%d strata are too many for ground of this form; take fewer samples", len(d.centers))
		}
		s, err := clip.intersect(plane.Shape{{append(ring, ring[0])}}.Canonical())
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}
