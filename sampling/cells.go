package sampling

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
)

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
