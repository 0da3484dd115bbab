package plane

import (
	"github.com/paulmach/orb"
)

// ringEdge is an edge that knows its ring and the edge after it.
type ringEdge struct {
	edge
	ring, next int32
}

// valid reports whether tidied polygons are a valid shape already. The error
// means that it could not be found out in bounded time.
//
// Rings that are clear of each other, as nearly all are, need nothing but a
// look at how they are nested. Only when different rings touch at single places
// is the slower general check of simplefeatures asked.
func valid(s Shape) (bool, error) {
	var rings []orb.Ring
	var edges []ringEdge
	var owner []int // of each ring: its polygon
	var isShell []bool
	for i, polygon := range s {
		for j, ring := range polygon {
			first := int32(len(edges))
			for k := 1; k < len(ring); k++ {
				edges = append(edges, ringEdge{edge{XY(ring[k-1]), XY(ring[k])}, int32(len(rings)), int32(len(edges) + 1)})
			}
			edges[len(edges)-1].next = first
			if SignedArea(ring) == 0 {
				return false, nil
			}
			rings, owner, isShell = append(rings, ring), append(owner, i), append(isShell, j == 0)
		}
	}
	budget := maxLooks
	worst := clear
	err := pairs(boxesOf(edges), &budget, func(i, j int32) bool {
		c := meet(edges, i, j)
		if c == touching && edges[i].ring == edges[j].ring {
			c = crossing
		}
		worst = max(worst, c)
		return worst != crossing
	})
	if err != nil || worst == crossing {
		return false, err
	}
	if worst == touching {
		return validTouching(s), nil
	}
	around := newNest(rings)
	for i, ring := range rings {
		outer := around.smallest(XY(ring[0]), int32(i))
		switch {
		case isShell[i] && outer >= 0 && isShell[outer]:
			return false, nil
		case !isShell[i] && (outer < 0 || !isShell[outer] || owner[outer] != owner[i]):
			return false, nil
		}
	}
	return true, nil
}

func boxesOf(edges []ringEdge) []orb.Bound {
	boxes := make([]orb.Bound, len(edges))
	for i, e := range edges {
		boxes[i] = e.bound()
	}
	return boxes
}

func (e edge) bound() orb.Bound {
	return orb.Bound{
		Min: orb.Point{min(e.a[0], e.b[0]), min(e.a[1], e.b[1])},
		Max: orb.Point{max(e.a[0], e.b[0]), max(e.a[1], e.b[1])},
	}
}

// How two edges meet.
type meeting int

const (
	clear    meeting = iota // nowhere, or where one follows the other
	touching                // at a place that is an end of at least one
	crossing                // through each other or along each other
)

// meet tells how two edges whose boxes meet do so.
func meet(edges []ringEdge, i, j int32) meeting {
	p, q := edges[i].edge, edges[j].edge
	if edges[j].next == i {
		p, q, i, j = q, p, j, i
	}
	pa := Orient(q.a, q.b, p.a)
	if edges[i].next == j {
		// They share p.b = q.a, and meet elsewhere only when q turns back on p.
		if pa == 0 && (p.b[0]-p.a[0])*(q.b[0]-q.a[0])+(p.b[1]-p.a[1])*(q.b[1]-q.a[1]) < 0 {
			return crossing
		}
		return clear
	}
	pb := Orient(q.a, q.b, p.b)
	if pa*pb > 0 {
		return clear
	}
	qa, qb := Orient(p.a, p.b, q.a), Orient(p.a, p.b, q.b)
	switch {
	case qa*qb > 0:
		return clear
	case pa*pb < 0 && qa*qb < 0:
		return crossing
	case pa == 0 && pb == 0:
		// On one line: their boxes share a place, or a stretch.
		b, c := p.bound(), q.bound()
		if min(b.Max[0], c.Max[0]) > max(b.Min[0], c.Min[0]) || min(b.Max[1], c.Max[1]) > max(b.Min[1], c.Min[1]) {
			return crossing
		}
	}
	return touching
}

// validTouching asks simplefeatures, unless that would take too long, which is
// for each hole as long as its shell.
func validTouching(s Shape) (ok bool) {
	work := 0
	for _, polygon := range s {
		work += (len(polygon) + len(s)) * len(polygon[0])
	}
	if work > 20_000_000 {
		return false
	}
	// It panics on what it takes to be impossible.
	defer func() {
		if recover() != nil {
			ok = false
		}
	}()
	return toGeom(s).Validate() == nil
}

// nest finds which rings lie round a place.
type nest struct {
	edges  []ringEdge
	areas  []float64
	strips strips
}

func newNest(rings []orb.Ring) *nest {
	n := &nest{}
	for i, ring := range rings {
		for k := 1; k < len(ring); k++ {
			n.edges = append(n.edges, ringEdge{edge{XY(ring[k-1]), XY(ring[k])}, int32(i), 0})
		}
		a := SignedArea(ring)
		n.areas = append(n.areas, max(a, -a))
	}
	order := make([]int32, len(n.edges))
	for i := range order {
		order[i] = int32(i)
	}
	n.strips = newStrips(order, 8, func(i int32) (float64, float64) {
		e := n.edges[i]
		return min(e.a[1], e.b[1]), max(e.a[1], e.b[1])
	})
	return n
}

// smallest returns the smallest ring round p other than the given one, and -1
// when there is none. p must not lie on a ring, but may lie on the given one.
func (n *nest) smallest(p XY, but int32) int32 {
	odd := map[int32]bool{}
	for _, i := range n.strips.of(n.strips.at(p[1])) {
		e := n.edges[i]
		a, b := e.a, e.b
		if a[1] > b[1] {
			a, b = b, a
		}
		if e.ring != but && a[1] <= p[1] && p[1] < b[1] && Orient(a, b, p) < 0 {
			if odd[e.ring] {
				delete(odd, e.ring)
			} else {
				odd[e.ring] = true
			}
		}
	}
	best := int32(-1)
	for ring := range odd {
		if best < 0 || n.areas[ring] < n.areas[best] || n.areas[ring] == n.areas[best] && ring < best {
			best = ring
		}
	}
	return best
}
