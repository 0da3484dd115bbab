package plane

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// cleanLooks bounds the looks at two edges. Beyond that the general overlay,
// which sorts them, is quicker.
const cleanLooks = 1 << 18

// passage is where edge[0] of one outline and edge[1] of another cross.
type passage struct {
	at     XY
	edge   [2]int32
	along  [2]float64 // distance from the beginning of either edge
	enters bool       // the first outline goes into the ground of the second
	done   bool
}

// intersectClean returns the ground in both of two outlines, to the bit as the
// general overlay does, and false where it can't be sure to: where they touch,
// run along each other or cross too near to a vertex, or parts of one touch.
//
// Where outlines only cross, a ring of the result follows one of them up to the
// next crossing and goes on along the other (Weiler and Atherton 1977,
// doi:10.1145/563858.563896, from memory).
func intersectClean(a, b *outline) (Shape, bool) {
	if a == nil || b == nil {
		return nil, false
	}
	box := orb.Bound{
		Min: orb.Point{max(a.bound.Min[0], b.bound.Min[0]), max(a.bound.Min[1], b.bound.Min[1])},
		Max: orb.Point{min(a.bound.Max[0], b.bound.Max[0]), min(a.bound.Max[1], b.bound.Max[1])},
	}
	nearA, nearB := a.near(box), b.near(box)
	if a.looks(nearA)+b.looks(nearB)+len(nearA)*len(nearB) > cleanLooks || a.partsTouch(nearA) || b.partsTouch(nearB) {
		return nil, false
	}
	crossings, ok := cleanCrossings(a, b, nearA, nearB)
	if !ok {
		return nil, false
	}
	w := weave{outlines: [2]*outline{a, b}, crossings: crossings}
	if !w.sort() {
		return nil, false
	}
	rings := w.rings()
	for side, o := range w.outlines {
		other := w.outlines[1-side]
		for k, r := range o.rings {
			if !w.crossed[side][k] && other.bound.Contains(r.ring[0]) && other.contains(XY(r.ring[0])) {
				rings = append(rings, r.ring)
			}
		}
	}
	var shells, holes []orb.Ring
	for _, ring := range rings {
		switch area := SignedArea(ring); {
		case area >= crumb:
			shells = append(shells, ring)
		case area <= -crumb:
			holes = append(holes, ring)
		}
	}
	return assemble(shells, holes), true
}

// cleanCrossings returns where edges of a and b cross, and false where any two
// meet otherwise.
func cleanCrossings(a, b *outline, nearA, nearB []int32) ([]passage, bool) {
	var out []passage
	for _, i := range nearA {
		e := a.edge(i)
		box := e.bound().Pad(2 * cleanGap)
		length := e.a.Distance(e.b)
		for _, j := range nearB {
			f := b.edge(j)
			if !box.Intersects(f.bound()) {
				continue
			}
			doubt := cleanGap * length
			fa, fb := e.left(f.a), e.left(f.b)
			if fa > doubt && fb > doubt || fa < -doubt && fb < -doubt {
				continue
			}
			span := f.a.Distance(f.b)
			ea, eb := f.left(e.a), f.left(e.b)
			if doubt = cleanGap * span; ea > doubt && eb > doubt || ea < -doubt && eb < -doubt {
				continue
			}
			if e.touches(f) {
				return nil, false
			}
			// Both ends of each are on different sides of the other, or one lies
			// beyond the end of the other and in line with it.
			if (fa > 0) == (fb > 0) || (ea > 0) == (eb > 0) {
				continue
			}
			at := crossingAt(e, f)
			if !e.bound().Contains(orb.Point(at)) || !f.bound().Contains(orb.Point(at)) {
				return nil, false
			}
			out = append(out, passage{
				at: at, edge: [2]int32{i, j}, along: [2]float64{at.Distance(e.a), at.Distance(f.a)}, enters: eb > 0,
			})
		}
	}
	return out, true
}

// weave is two outlines with their crossings.
type weave struct {
	outlines  [2]*outline
	crossings []passage
	order     [2][]int32 // of the crossings along either outline
	turn      [2][]int32 // of each crossing: its place in that
	first     [2][]int32 // of each edge: the place of its first crossing, or -1
	crossed   [2][]bool  // by ring
}

// sort puts the crossings in order, and reports whether they keep clear of each
// other.
func (w *weave) sort() bool {
	for side, o := range w.outlines {
		order := make([]int32, len(w.crossings))
		for k := range order {
			order[k] = int32(k)
		}
		slices.SortFunc(order, func(i, j int32) int {
			c, d := &w.crossings[i], &w.crossings[j]
			return cmp.Or(cmp.Compare(c.edge[side], d.edge[side]), cmp.Compare(c.along[side], d.along[side]))
		})
		turn, first, crossed := make([]int32, len(order)), make([]int32, len(o.places)), make([]bool, len(o.rings))
		for i := range first {
			first[i] = -1
		}
		for n, k := range order {
			c := &w.crossings[k]
			turn[k] = int32(n)
			crossed[o.ringOf(c.edge[side])] = true
			if first[c.edge[side]] < 0 {
				first[c.edge[side]] = int32(n)
				continue
			}
			before := &w.crossings[order[n-1]]
			if c.along[side]-before.along[side] <= cleanGap || c.enters == before.enters {
				return false
			}
		}
		w.order[side], w.turn[side], w.first[side], w.crossed[side] = order, turn, first, crossed
	}
	return true
}

// rings follows the outlines from crossing to crossing.
func (w *weave) rings() []orb.Ring {
	var out []orb.Ring
	for start := range w.crossings {
		if c := &w.crossings[start]; c.done || !c.enters {
			continue
		}
		var ring orb.Ring
		for k := int32(start); !w.crossings[k].done; {
			c := &w.crossings[k]
			c.done = true
			ring = append(ring, orb.Point(c.at))
			// From where the first enters the second, the first bounds the ground
			// in both.
			side := 1
			if c.enters {
				side = 0
			}
			ring, k = w.follow(ring, side, k)
		}
		out = append(out, append(ring, ring[0]))
	}
	return out
}

// follow goes along one outline from a crossing to the next.
func (w *weave) follow(ring orb.Ring, side int, k int32) (orb.Ring, int32) {
	o, order := w.outlines[side], w.order[side]
	e := w.crossings[k].edge[side]
	if n := int(w.turn[side][k]) + 1; n < len(order) && w.crossings[order[n]].edge[side] == e {
		return ring, order[n]
	}
	for {
		e = o.next[e]
		ring = append(ring, orb.Point(o.places[e]))
		if n := w.first[side][e]; n >= 0 {
			return ring, order[n]
		}
	}
}

// crossingAt returns where two edges that cross do, rounded only once.
func crossingAt(e, f edge) XY {
	dx, dy := minus(e.b[0], e.a[0]), minus(e.b[1], e.a[1])
	fx, fy := minus(f.b[0], f.a[0]), minus(f.b[1], f.a[1])
	ox, oy := minus(f.a[0], e.a[0]), minus(f.a[1], e.a[1])
	share := ox.times(fy).minus(oy.times(fx)).over(dx.times(fy).minus(dy.times(fx)))
	return XY{share.times(dx).plus(double{e.a[0], 0}).high, share.times(dy).plus(double{e.a[1], 0}).high}
}

// double is a number of twice the digits of a float64, the sum of two of which
// the lesser is below the rounding of the greater (Dekker 1971,
// doi:10.1007/BF01397083).
type double struct{ high, low float64 }

// minus is the difference of two numbers, exactly.
func minus(a, b float64) double {
	d := a - b
	c := d - a
	return double{d, (a - (d - c)) - (b + c)}
}

func plus(a, b float64) double { return minus(a, -b) }

func (a double) plus(b double) double {
	s, t := plus(a.high, b.high), plus(a.low, b.low)
	s = plus(s.high, s.low+t.high)
	return plus(s.high, s.low+t.low)
}

func (a double) minus(b double) double { return a.plus(double{-b.high, -b.low}) }

func (a double) times(b double) double {
	p := a.high * b.high
	rest := math.FMA(a.high, b.high, -p)
	return plus(p, rest+(float64(a.high*b.low)+float64(a.low*b.high)))
}

func (a double) over(b double) double {
	q := a.high / b.high
	r := a.minus(b.times(double{q, 0}))
	s := r.high / b.high
	r = r.minus(b.times(double{s, 0}))
	return plus(q, s).plus(double{r.high / b.high, 0})
}
