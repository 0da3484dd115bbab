package plane

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
)

// Drawer draws places uniformly at random from a shape. The shape is cut into
// trapezoids by level lines through its vertices; a trapezoid is drawn by its
// area and a place in it by the inverse of its distribution, so every draw lands
// and no shape, however thin, makes it loop.
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
//
// A level line sweeps upwards over the edges. A trapezoid is begun where two
// edges become neighbours with ground between them and ends where they cease to
// be, so there are about as many as there are vertices, however jagged the
// outline.
func NewDrawer(s Shape) *Drawer {
	w := newSweep(s)
	for next := 0; len(w.ends) > 0; {
		// The next height at which edges end or begin.
		y := w.edges[w.ends[0]].b[1]
		if next < len(w.edges) {
			y = min(y, w.edges[next].a[1])
		}
		for len(w.ends) > 0 && w.edges[w.ends[0]].b[1] == y {
			w.remove(w.ends[0])
			w.ends = w.ends[1:]
		}
		for next < len(w.edges) && w.edges[next].a[1] == y {
			w.insert(int32(next))
			next++
		}
		w.pair(y)
	}
	return &w.drawer
}

// sweep is the state of NewDrawer.
type sweep struct {
	edges   []edge  // upward, by their lower ends
	ends    []int32 // edges by their upper ends, those past taken away
	active  []int32 // edges that the line crosses, from west to east
	partner []int32 // of each edge: the one on the other side of its ground, or -1
	since   []float64
	touched []int32 // edges whose neighbours may have changed
	drawer  Drawer
}

func newSweep(s Shape) *sweep {
	w := &sweep{}
	s.edges(func(a, b XY) {
		if a[1] > b[1] {
			a, b = b, a
		}
		if a[1] < b[1] {
			w.edges = append(w.edges, edge{a, b})
		}
	})
	slices.SortFunc(w.edges, func(p, q edge) int {
		return cmp.Or(cmp.Compare(p.a[1], q.a[1]), cmp.Compare(p.a[0], q.a[0]), cmp.Compare(p.b[0], q.b[0]), cmp.Compare(p.b[1], q.b[1]))
	})
	w.partner, w.since = make([]int32, len(w.edges)), make([]float64, len(w.edges))
	for i := range w.edges {
		w.ends = append(w.ends, int32(i))
		w.partner[i] = -1
	}
	slices.SortStableFunc(w.ends, func(i, j int32) int { return cmp.Compare(w.edges[i].b[1], w.edges[j].b[1]) })
	return w
}

// compare orders active edges from west to east, where both are halfway up:
// edges that don't cross keep their order, and there it shows best.
func (w *sweep) compare(i, j int32) int {
	p, q := w.edges[i], w.edges[j]
	y := max(p.a[1], q.a[1])/2 + min(p.b[1], q.b[1])/2
	return cmp.Or(cmp.Compare(p.at(y), q.at(y)), cmp.Compare(i, j))
}

// find returns where an edge stands or belongs among the active ones.
func (w *sweep) find(i int32) int {
	k, _ := slices.BinarySearchFunc(w.active, i, w.compare)
	if k < len(w.active) && w.active[k] == i {
		return k
	}
	// Edges that cross, as those of invalid shapes may, have no order.
	if j := slices.Index(w.active, i); j >= 0 {
		return j
	}
	return k
}

func (w *sweep) insert(i int32) {
	w.active = slices.Insert(w.active, w.find(i), i)
	w.touched = append(w.touched, i)
}

func (w *sweep) remove(i int32) {
	k := w.find(i)
	w.active = slices.Delete(w.active, k, k+1)
	w.touched = append(w.touched, i)
}

// pair ends the trapezoids at height y whose sides are no neighbours any more,
// and begins those of new neighbours.
func (w *sweep) pair(y float64) {
	for n := 0; n < len(w.touched); n++ {
		i := w.touched[n]
		if w.edges[i].b[1] <= y {
			w.end(i, y)
			continue
		}
		k := w.find(i) &^ 1
		if k+1 >= len(w.active) {
			w.end(i, y)
			continue
		}
		l, r := w.active[k], w.active[k+1]
		if w.partner[l] == r && w.partner[r] == l && w.since[l] == w.since[r] {
			continue
		}
		w.end(l, y)
		w.end(r, y)
		w.partner[l], w.partner[r] = r, l
		w.since[l], w.since[r] = y, y
	}
	w.touched = w.touched[:0]
}

// end ends the trapezoid that has edge i for a side, if there is one. Its other
// side is looked at in turn.
func (w *sweep) end(i int32, y float64) {
	j := w.partner[i]
	if j < 0 {
		return
	}
	w.partner[i], w.partner[j] = -1, -1
	w.touched = append(w.touched, i, j)
	l, r, y0 := w.edges[i], w.edges[j], w.since[i]
	if y == y0 {
		return
	}
	t := trapezoid{y0, y, l.at(y0), r.at(y0), l.at(y), r.at(y)}
	if t.l0+t.l1 > t.r0+t.r1 {
		t.l0, t.l1, t.r0, t.r1 = t.r0, t.r1, t.l0, t.l1
	}
	if a := t.area(); a > 0 {
		w.drawer.traps = append(w.drawer.traps, t)
		w.drawer.upTo = append(w.drawer.upTo, w.drawer.Area()+a)
	}
}

// at returns the easting of an upward edge at height y.
func (e edge) at(y float64) float64 {
	if y == e.b[1] {
		return e.b[0] // to the last digit, where edges meet
	}
	return e.a[0] + (e.b[0]-e.a[0])*((y-e.a[1])/(e.b[1]-e.a[1]))
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
