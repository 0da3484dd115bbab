package strata

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// land is the ground of a diagram, made ready for measuring.
type land struct {
	origin plane.XY    // of the coordinates below, in the frame of the field
	ground plane.Shape // about the origin, for the sake of the digits
	area   float64     // m²
	edges  plane.Edges // of the ground
	bound  orb.Bound   // holds the ground with room to spare
	inside *plane.Locator
	bounds [][]orb.Bound // of the stretches of each ring
}

func newLand(ground plane.Shape) *land {
	l := &land{origin: plane.XY(ground.Bound().Center())}
	for _, polygon := range ground {
		q := make(orb.Polygon, len(polygon))
		for i, ring := range polygon {
			q[i] = make(orb.Ring, len(ring))
			for k, p := range ring {
				q[i][k] = orb.Point{p[0] - l.origin[0], p[1] - l.origin[1]}
			}
		}
		l.ground = append(l.ground, q)
	}
	l.prepare()
	return l
}

// coarse returns the land with outlines simplified, for a search that need not
// follow every bend: vertices nearer to the last than 4 % of the side of a
// stratum are left out, or than a tenth of the width of the ground where that is
// less, and with them holes and parts smaller than that.
func (l *land) coarse(side float64) *land {
	within := min(0.04*side, 0.1*2*l.area/l.ground.Perimeter())
	c := &land{origin: l.origin}
	for _, polygon := range l.ground {
		var kept orb.Polygon
		for i, ring := range polygon {
			if ring = thin(ring, within); len(ring) >= 4 {
				kept = append(kept, ring)
			} else if i == 0 {
				break
			}
		}
		if len(kept) > 0 {
			c.ground = append(c.ground, kept)
		}
	}
	if c.ground.Vertices() == l.ground.Vertices() || c.ground.Empty() {
		return l
	}
	c.prepare()
	return c
}

// thin leaves out of a ring the vertices nearer than d to the last one kept.
func thin(ring orb.Ring, d float64) orb.Ring {
	kept := orb.Ring{ring[0]}
	for _, p := range ring[1 : len(ring)-1] {
		if squared(plane.XY(p), plane.XY(kept[len(kept)-1])) >= d*d {
			kept = append(kept, p)
		}
	}
	return append(kept, ring[0])
}

func (l *land) prepare() {
	l.area = l.ground.Area()
	l.bound = l.ground.Bound().Pad(10)
	l.edges.AddShape(l.ground)
	l.inside = plane.NewLocator(l.ground)
	for _, polygon := range l.ground {
		for _, ring := range polygon {
			l.bounds = append(l.bounds, stretches(ring))
		}
	}
}

// cells works the diagram out.
func (d *diagram) cells() []cell {
	n := len(d.centers)
	d.work += n
	out := make([]cell, n)
	// One piece of memory for all: the collector has less to do.
	corners := make([]corner, 0, 8*n)
	for k := range out {
		first := len(corners)
		corners = append(corners, d.convex(k)...)
		out[k].corners = corners[first:len(corners):len(corners)]
	}
	shared := make([]float64, len(corners))
	for k := range out {
		m := len(out[k].corners)
		out[k].shared, shared = shared[:m:m], shared[m:]
		d.measure(&out[k])
	}
	return out
}

// convex returns cell k cut to the bound; empty when its neighbours leave it
// nothing.
func (d *diagram) convex(k int) []corner {
	lo, hi := d.bound.Min, d.bound.Max
	d.a = append(d.a[:0], corner{plane.XY(lo), -1}, corner{plane.XY{hi[0], lo[1]}, -1}, corner{plane.XY(hi), -1}, corner{plane.XY{lo[0], hi[1]}, -1})
	p := d.centers[k]
	reach := math.Inf(1) // squared, how far the cell goes from its centre
	room := d.weights[k] - slices.Max(d.weights)
	for _, j := range d.near[k] {
		// Ground is ours where |x-p|² - wp <= |x-q|² - wq, a half plane.
		q := d.centers[j]
		nx, ny := q[0]-p[0], q[1]-p[1]
		apart := nx*nx + ny*ny
		// Not even the greatest weight brings a side as near as this, or any after.
		if apart+room > 0 && (apart+room)*(apart+room) >= 4*reach*apart && apart >= 2*reach-room {
			break
		}
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
	middle := plane.XY(b.Center())
	whole, sum := moments{about: middle}, moments{about: middle}
	d.sides = slices.Grow(d.sides[:0], n)[:n]
	sides := d.sides
	for i, v := range c.corners {
		w := c.corners[(i+1)%n].at
		whole.add(v.at, w)
		sides[i] = math.Sqrt(squared(v.at, w))
	}
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
	rings := d.bounds
	for _, polygon := range d.ground {
		for _, ring := range polygon {
			d.a = near(d.a[:0], ring, rings[0], b)
			rings = rings[1:]
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

// stretchLength is the number of vertices of a ring that are passed over at once
// where none of them is near.
const stretchLength = 16

// stretches returns the bounds of the vertices of a ring, so many at a time.
func stretches(ring orb.Ring) []orb.Bound {
	var out []orb.Bound
	for i := 0; i < len(ring)-1; i += stretchLength {
		out = append(out, orb.MultiPoint(ring[i:min(i+stretchLength, len(ring)-1)]).Bound())
	}
	return out
}

// beyond tells on which sides of the bound b all that lies from lo to hi is.
func beyond(b orb.Bound, lo, hi orb.Point) (sides uint8) {
	if hi[0] < b.Min[0] {
		sides = 1
	} else if lo[0] > b.Max[0] {
		sides = 2
	}
	if hi[1] < b.Min[1] {
		sides |= 4
	} else if lo[1] > b.Max[1] {
		sides |= 8
	}
	return sides
}

// near appends to out the corners of a ring without those that only lead round
// a bound on one side of it, which changes nothing inside.
func near(out []corner, ring orb.Ring, bounds []orb.Bound, b orb.Bound) []corner {
	var last, before uint8
	for i, part := range bounds {
		stretch := ring[i*stretchLength : min((i+1)*stretchLength, len(ring)-1)]
		if last&before&beyond(b, part.Min, part.Max) != 0 {
			stretch = stretch[len(stretch)-1:]
		}
		for _, p := range stretch {
			sides := beyond(b, p, p)
			if last&before&sides != 0 {
				out[len(out)-1], last = corner{plane.XY(p), -1}, sides
				continue
			}
			out = append(out, corner{plane.XY(p), -1})
			before, last = last, sides
		}
	}
	return out
}

// moments are those of area about a place, gathered edge by edge.
type moments struct {
	about      plane.XY
	area, x, y float64
	square     float64
}

func (m *moments) add(p, q plane.XY) {
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
	c.middle = plane.XY{m.about[0] + x, m.about[1] + y}
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
			x := corner{plane.XY{p.at[0] + t*(q.at[0]-p.at[0]), p.at[1] + t*(q.at[1]-p.at[1])}, p.side}
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
	known := map[[2]int64][]plane.XY{}
	weld := func(p plane.XY) plane.XY {
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
	clip := plane.NewClipper(ground)
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
		s, err := clip.Intersect(plane.Shape{{append(ring, ring[0])}}.Canonical())
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}
