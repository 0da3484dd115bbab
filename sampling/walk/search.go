package walk

import (
	"math"
	"slices"

	"corewalk/geo/plane"
	"github.com/paulmach/orb"
)

// patience is how many corners a search may reach before it is made sure that
// the ends are not shut in.
const patience = 50

// round finds the shortest way where the straight line is shut.
//
// A way of length l stays inside the ellipse with the ends as foci and l as its
// long axis. So only the corners in an ellipse are looked at, and that is
// widened until a way fits in: then no shorter one can lie outside.
func (g *Ground) round(a, b plane.XY) (way plane.Line, clear bool) {
	straight := plane.Line{orb.Point(a), orb.Point(b)}
	d := a.Distance(b)
	if g.buried(a) || g.buried(b) || math.IsNaN(d) || math.IsInf(d, 0) {
		return straight, false
	}
	extent := g.around.nodes[0].with(boxOf(a, b))
	everywhere := 2*math.Hypot(extent.x1-extent.x0, extent.y1-extent.y0) + 1
	shut := func(reach float64) bool {
		return !g.escapes(a, b, reach) || !g.escapes(b, a, reach)
	}
	sure := false // that neither end is shut in within reach of it
	for reach := 1.2*d + 10*slack; ; {
		s := newSearch(g, a, b, g.within(a, b, reach), false)
		reached := 0
		for s.next() >= 0 && (sure || reached < patience) {
			reached++
		}
		if s.last == goal {
			if s.length <= reach {
				return s.way(), true
			}
			sure, reach = true, s.length*(1+1e-12)
			continue
		}
		if !sure && (s.last != none || reach > 2*d) && shut(reach) {
			return straight, false
		}
		if s.last != none {
			sure = true // and once more, patiently
			continue
		}
		if reach > everywhere {
			return straight, false
		}
		sure, reach = false, 2*reach
	}
}

// within returns the corners through which a way of at most the given length
// can lead, in a fixed order.
func (g *Ground) within(a, b plane.XY, length float64) []int32 {
	d := a.Distance(b)
	long, short := length/2, math.Sqrt(max(length*length-d*d, 0))/2
	c, s := 1.0, 0.0
	if d > 0 {
		c, s = (b[0]-a[0])/d, (b[1]-a[1])/d
	}
	mx, my := (a[0]+b[0])/2, (a[1]+b[1])/2
	hx, hy := math.Hypot(long*c, short*s)+slack, math.Hypot(long*s, short*c)+slack
	bound := box{mx - hx, my - hy, mx + hx, my + hy}
	var out []int32
	g.places.search(func(b *box) bool { return b.meets(bound) }, func(first, last int32) bool {
		for _, i := range g.byPlace[first:last] {
			c := &g.corners[i]
			if distance(c.at, a)+distance(c.at, b) <= length+slack && g.serves(c, a, b) {
				out = append(out, i)
			}
		}
		return true
	})
	slices.Sort(out)
	return out
}

// Nodes of a search that are no corner.
const (
	begin = -1
	goal  = -2
	none  = -3
)

// search goes from corner to corner by the A* method (Hart, Nilsson and Raphael
// 1968, doi:10.1109/TSSC.1968.300136) with the straight line to the goal as the
// bound. Whether one corner sees another is found out only when the leg between
// them comes up, since most never do.
type search struct {
	g        *Ground
	from, to plane.XY
	any      bool    // any way will do: the goal if it is seen, else what is far off from
	nodes    []int32 // corners that may be used
	done     []bool  // by place in nodes
	parent   []int32
	legs     legHeap

	last   int32   // what next returned
	length float64 // of the way to last
	end    int32   // the node before the goal
}

// leg is a straight line that may be shut, between two nodes.
type leg struct {
	key, length float64 // what it is ranked by; the way to its end
	from, to    int32
}

func newSearch(g *Ground, from, to plane.XY, nodes []int32, any bool) *search {
	s := &search{g: g, from: from, to: to, any: any, nodes: nodes, done: make([]bool, len(nodes)), parent: make([]int32, len(nodes))}
	s.expand(begin)
	return s
}

func (s *search) place(node int32) plane.XY {
	switch node {
	case begin:
		return s.from
	case goal:
		return s.to
	}
	return s.g.corners[s.nodes[node]].at
}

// next goes on to the next node that can be reached, goal among them, or none.
func (s *search) next() int32 {
	for {
		l, ok := s.legs.pop()
		if !ok {
			s.last = none
			return none
		}
		if l.to != goal && s.done[l.to] || !s.g.open(s.place(l.from), s.place(l.to)) {
			continue
		}
		s.last, s.length = l.to, l.length
		if l.to == goal {
			s.end = l.from
			return goal
		}
		s.done[l.to], s.parent[l.to] = true, l.from
		s.expand(l.to)
		return l.to
	}
}

// expand adds the legs from a node that a shortest way can take: they pass by
// the obstacle at either end, and bend round it.
func (s *search) expand(node int32) {
	at := s.place(node)
	var here *corner
	bend := 0 // the side on which the obstacle lies of a walker who comes
	var came plane.XY
	if node != begin {
		here = &s.g.corners[s.nodes[node]]
		if came = s.place(s.parent[node]); !s.any {
			d := distance(came, at)
			before, after := -here.side(here.before, here.toBefore, came, d), -here.side(here.after, here.toAfter, came, d)
			bend = max(-1, min(1, before+after))
		}
	}
	try := func(to int32, p plane.XY, there *corner) {
		d := distance(at, p)
		if here != nil {
			if !here.passes(p, d) {
				return
			}
			if bend != 0 && bend*sign(cross(came, at, p), max(d, distance(came, at))) < 0 {
				return
			}
		}
		if there != nil && !there.passes(at, d) {
			return
		}
		l := leg{length: s.length + d, from: node, to: to}
		switch {
		case !s.any:
			l.key = l.length + distance(p, s.to)
		case to == goal:
			l.key = math.Inf(-1)
		default:
			l.key = -max(math.Abs(p[0]-s.from[0]), math.Abs(p[1]-s.from[1]))
		}
		s.legs.push(l)
	}
	tryAll := func(first, last int) {
		for k := first; k < last; k++ {
			if !s.done[k] {
				c := &s.g.corners[s.nodes[k]]
				try(int32(k), c.at, c)
			}
		}
	}
	if here == nil || here.bay >= 0 {
		tryAll(0, len(s.nodes))
	} else {
		// From a hull's corner to another of the same hull that is not next to
		// it, the obstacle itself is in the way, being in one piece.
		first, _ := slices.BinarySearch(s.nodes, here.first)
		last, _ := slices.BinarySearch(s.nodes, here.last)
		tryAll(0, first)
		tryAll(last, len(s.nodes))
		me, n := s.nodes[node], here.last-here.first
		for _, step := range [2]int32{1, n - 1} {
			if k, ok := slices.BinarySearch(s.nodes, here.first+(me-here.first+step)%n); ok {
				tryAll(k, k+1)
			}
		}
	}
	try(goal, s.to, nil)
}

// distance is quicker than one that minds overflow.
func distance(p, q plane.XY) float64 {
	dx, dy := p[0]-q[0], p[1]-q[1]
	return math.Sqrt(float64(dx*dx) + float64(dy*dy))
}

func (s *search) way() plane.Line {
	way := plane.Line{orb.Point(s.to)}
	for n := s.end; n != begin; n = s.parent[n] {
		// Corners of two obstacles at one place are one bend.
		if p := orb.Point(s.place(n)); p != way[len(way)-1] {
			way = append(way, p)
		}
	}
	if len(way) == 1 || way[len(way)-1] != orb.Point(s.from) {
		way = append(way, orb.Point(s.from))
	}
	slices.Reverse(way)
	return way
}
