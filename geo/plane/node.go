package plane

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"github.com/paulmach/orb"
)

// Mending works in whole numbers, where every question has an exact answer:
// vertices are rounded to a lattice at most latticeSize steps wide, so that
// products of two differences fit 64 bits.
const (
	latticeSize = 1 << 28
	maxRounds   = 50
	// maxCrossings bounds memory: a tangle of this many has no meaning.
	maxCrossings = 2_000_000
)

// node is a place on the lattice, in steps from its origin.
type node [2]int64

func compareNodes(a, b node) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) }

// link is a straight line between two nodes, the lesser one first.
type link [2]node

func newLink(a, b node) link {
	if compareNodes(a, b) > 0 {
		a, b = b, a
	}
	return link{a, b}
}

func compareLinks(a, b link) int { return cmp.Or(compareNodes(a[0], b[0]), compareNodes(a[1], b[1])) }

func cross(a, b node) int64 { return a[0]*b[1] - a[1]*b[0] }

func (a node) minus(b node) node { return node{a[0] - b[0], a[1] - b[1]} }

// lattice is where a node lies in metres.
type lattice struct {
	origin orb.Point
	step   float64
}

func (l lattice) node(p XY) node {
	return node{int64(math.Round((p[0] - l.origin[0]) / l.step)), int64(math.Round((p[1] - l.origin[1]) / l.step))}
}

func (l lattice) point(n node) orb.Point {
	return orb.Point{l.origin[0] + float64(n[0])*l.step, l.origin[1] + float64(n[1])*l.step}
}

// finest returns the step for mending s: 2^-20 m, or as much more as its extent
// asks for.
func finest(s Shape) float64 {
	b := s.Bound()
	step := 1.0 / (1 << 20)
	for max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])/step > latticeSize-4 {
		step *= 2
	}
	return step
}

// evenOdd returns the ground inside an odd number of the rings of s, on a
// lattice of the given step, and the places where rings meet. Parts and holes
// under the given area are dropped and counted in the report.
//
// A line between two neighbouring nodes borders that ground exactly when an odd
// number of rings run along it, since crossing it flips the count: so lines
// that lie on each other are taken away two by two, and what is left are the
// borders.
func evenOdd(s Shape, step, least float64, report *Repaired) (Shape, error) {
	b := s.Bound()
	grid := lattice{orb.Point{math.Floor(b.Min[0]/step) * step, math.Floor(b.Min[1]/step) * step}, step}
	if !(max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1]) < step*latticeSize) {
		return nil, fmt.Errorf("it spans %.0f by %.0f, too wide to be mended", b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])
	}
	var links []link
	s.edges(func(a, b XY) {
		if p, q := grid.node(a), grid.node(b); p != q {
			links = append(links, newLink(p, q))
		}
	})
	budget := maxLooks
	for round := 0; ; round++ {
		left, along := cancel(links)
		next, m, err := split(left, &budget)
		if err != nil {
			return nil, err
		}
		if round == 0 {
			report.note(grid, m, along)
		}
		if links = next; !m.any() {
			break
		}
		if round == maxRounds {
			return nil, errTooTangled
		}
	}
	out, slivers := trace(links, grid, least)
	report.Slivers = slivers
	return out, nil
}

// meets are the nodes where links meet other than at the ends of both.
type meets struct{ crossings, touches []node }

func (m meets) any() bool { return len(m.crossings)+len(m.touches) > 0 }

// note keeps where rings meet: for one place, that of a crossing rather than of
// a touch, and of either rather than where they run along each other.
func (r *Repaired) note(grid lattice, m meets, along []node) {
	for _, n := range m.crossings {
		r.Crossings = append(r.Crossings, XY(grid.point(n)))
	}
	for _, list := range [][]node{m.crossings, m.touches, along} {
		if len(list) > 0 {
			r.At = XY(grid.point(slices.MinFunc(list, compareNodes)))
			return
		}
	}
}

// cancel sorts the links and takes away two of each kind as long as there are
// two. It returns those left, and the lesser ends of those gone.
func cancel(links []link) (left []link, gone []node) {
	slices.SortFunc(links, compareLinks)
	left = links[:0]
	for _, l := range links {
		if n := len(left); n > 0 && left[n-1] == l {
			left = left[:n-1]
			gone = append(gone, l[0])
			continue
		}
		left = append(left, l)
	}
	return left, gone
}

// cut is a node at which a link is to be cut.
type cut struct {
	link int32
	at   node
}

// split cuts the links where they cross, at the lattice place nearest to the
// crossing, and where one passes through the square of half a step round the
// end of another. That moves them, so that it has to be repeated until nothing
// changes; then links meet only at their ends. This is snap rounding (Hobby
// 1999, doi:10.1016/S0925-7721(99)00021-8), iterated as in Halperin and Packer
// (2002, doi:10.1016/S0925-7721(01)00069-6).
func split(links []link, budget *int) ([]link, meets, error) {
	boxes := make([]orb.Bound, len(links))
	for i, l := range links {
		boxes[i] = orb.Bound{
			Min: orb.Point{float64(l[0][0]), float64(min(l[0][1], l[1][1]))},
			Max: orb.Point{float64(l[1][0]), float64(max(l[0][1], l[1][1]))},
		}
	}
	var cuts []cut
	var m meets
	err := pairs(boxes, budget, func(i, j int32) bool {
		p, q := links[i], links[j]
		for _, end := range p {
			if q.near(end) {
				cuts, m.touches = append(cuts, cut{j, end}), append(m.touches, end)
			}
		}
		for _, end := range q {
			if p.near(end) {
				cuts, m.touches = append(cuts, cut{i, end}), append(m.touches, end)
			}
		}
		if c, ok := p.crosses(q); ok {
			m.crossings = append(m.crossings, c)
			if c != p[0] && c != p[1] {
				cuts = append(cuts, cut{i, c})
			}
			if c != q[0] && c != q[1] {
				cuts = append(cuts, cut{j, c})
			}
		}
		return len(cuts) < maxCrossings
	})
	switch {
	case err != nil:
		return nil, m, err
	case len(cuts) >= maxCrossings:
		return nil, m, fmt.Errorf("its rings cross each other at more than %d places; redraw it", maxCrossings/2)
	case len(cuts) == 0:
		return links, m, nil
	}
	slices.SortFunc(cuts, func(a, b cut) int {
		l := links[a.link]
		along := l[1].minus(l[0])
		dot := func(n node) int64 { d := n.minus(l[0]); return d[0]*along[0] + d[1]*along[1] }
		return cmp.Or(cmp.Compare(a.link, b.link), cmp.Compare(dot(a.at), dot(b.at)), compareNodes(a.at, b.at))
	})
	out := make([]link, 0, len(links)+len(cuts))
	for i, l := range links {
		from := l[0]
		for len(cuts) > 0 && cuts[0].link == int32(i) {
			if to := cuts[0].at; to != from {
				out = append(out, newLink(from, to))
				from = to
			}
			cuts = cuts[1:]
		}
		if from != l[1] {
			out = append(out, newLink(from, l[1]))
		}
	}
	slices.SortFunc(m.crossings, compareNodes)
	m.crossings = slices.Compact(m.crossings)
	return out, m, nil
}

// near reports whether l passes through the inside of the unit square round n,
// which is not one of its ends.
func (l link) near(n node) bool {
	if n == l[0] || n == l[1] || n[0] < l[0][0] || n[0] > l[1][0] || n[1] < min(l[0][1], l[1][1]) || n[1] > max(l[0][1], l[1][1]) {
		return false
	}
	d := l[1].minus(l[0])
	return abs(2*cross(d, n.minus(l[0]))) < abs(d[0])+abs(d[1])
}

// crosses returns the node nearest to where l and m go through each other, and
// false where they don't.
func (l link) crosses(m link) (node, bool) {
	d, e := l[1].minus(l[0]), m[1].minus(m[0])
	if !opposite(cross(d, m[0].minus(l[0])), cross(d, m[1].minus(l[0]))) ||
		!opposite(cross(e, l[0].minus(m[0])), cross(e, l[1].minus(m[0]))) {
		return node{}, false
	}
	above, below := cross(m[0].minus(l[0]), e), cross(d, e)
	return node{l[0][0] + share(d[0], above, below), l[0][1] + share(d[1], above, below)}, true
}

func opposite(a, b int64) bool { return a < 0 && b > 0 || a > 0 && b < 0 }

// share returns v·above/below, rounded to the nearest whole number; the
// fraction lies between 0 and 1.
func share(v, above, below int64) int64 {
	a, b := uint64(abs(above)), uint64(abs(below))
	high, low := bits.Mul64(uint64(abs(v)), a)
	q, rest := bits.Div64(high, low, b)
	if rest >= b-rest {
		q++
	}
	if v < 0 {
		return -int64(q)
	}
	return int64(q)
}

func abs(v int64) int64 { return max(v, -v) }
