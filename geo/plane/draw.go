package plane

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
)

// Drawer draws places uniformly at random from a shape. The shape is cut into
// trapezoids at the height of every vertex; a trapezoid is drawn by its area
// and a place in it by the inverse of its distribution, so every draw lands and
// no shape, however thin, makes it loop.
type Drawer struct {
	traps []trapezoid
	upTo  []float64 // running sum of the areas
}

// trapezoid lies between the heights y0 and y1, its sides from l0 to l1 and
// from r0 to r1.
type trapezoid struct{ y0, y1, l0, r0, l1, r1 float64 }

func (t trapezoid) area() float64 { return (t.y1 - t.y0) * ((t.r0 - t.l0) + (t.r1 - t.l1)) / 2 }

// NewDrawer prepares s. Rings may lie in any order and turn either way: the
// even-odd rule decides what is inside.
func NewDrawer(s Shape) *Drawer {
	var edges []edge // each upward
	var heights []float64
	s.edges(func(a, b XY) {
		heights = append(heights, a[1])
		switch {
		case a[1] < b[1]:
			edges = append(edges, edge{a, b})
		case a[1] > b[1]:
			edges = append(edges, edge{b, a})
		}
	})
	slices.Sort(heights)
	heights = slices.Compact(heights)
	slices.SortFunc(edges, func(p, q edge) int {
		return cmp.Or(cmp.Compare(p.a[1], q.a[1]), cmp.Compare(p.a[0], q.a[0]), cmp.Compare(p.b[0], q.b[0]), cmp.Compare(p.b[1], q.b[1]))
	})

	d := &Drawer{}
	var active []edge
	next, sum := 0, 0.0
	for i := 1; i < len(heights); i++ {
		y0, y1 := heights[i-1], heights[i]
		active = slices.DeleteFunc(active, func(e edge) bool { return e.b[1] <= y0 })
		for ; next < len(edges) && edges[next].a[1] <= y0; next++ {
			active = append(active, edges[next])
		}
		mid := (y0 + y1) / 2
		slices.SortStableFunc(active, func(p, q edge) int { return cmp.Compare(p.at(mid), q.at(mid)) })
		for k := 0; k+1 < len(active); k += 2 {
			l, r := active[k], active[k+1]
			t := trapezoid{y0, y1, l.at(y0), r.at(y0), l.at(y1), r.at(y1)}
			if a := t.area(); a > 0 {
				sum += a
				d.traps = append(d.traps, t)
				d.upTo = append(d.upTo, sum)
			}
		}
	}
	return d
}

// at returns the easting of an upward edge at height y.
func (e edge) at(y float64) float64 {
	return e.a[0] + (e.b[0]-e.a[0])*(y-e.a[1])/(e.b[1]-e.a[1])
}

// Area returns the area drawn from, in square metres.
func (d *Drawer) Area() float64 {
	if len(d.upTo) == 0 {
		return 0
	}
	return d.upTo[len(d.upTo)-1]
}

// Draw returns a place, and false when the shape has no area. It takes exactly
// three numbers from r.
func (d *Drawer) Draw(r *rand.Rand) (XY, bool) {
	u, v, w := r.Float64(), r.Float64(), r.Float64()
	if len(d.traps) == 0 {
		return XY{}, false
	}
	u *= d.Area()
	t := d.traps[min(sort.Search(len(d.upTo), func(i int) bool { return d.upTo[i] > u }), len(d.traps)-1)]
	// The width runs from w0 at the foot to w1 at the top, so the share of the
	// area below height h is (w0 h + (w1-w0) h²/2) / ((w0+w1)/2); solved for h
	// in the form that does not lose digits when the sides are parallel.
	w0, w1 := t.r0-t.l0, t.r1-t.l1
	h := v
	if s := w0 + math.Sqrt(w0*w0+v*(w1*w1-w0*w0)); s > 0 {
		h = v * (w0 + w1) / s
	}
	l := t.l0 + h*(t.l1-t.l0)
	return XY{l + w*(w0+h*(w1-w0)), t.y0 + h*(t.y1-t.y0)}, true
}
