package plane

import (
	"slices"

	"github.com/paulmach/orb"
)

// tracer turns borders, which meet only at their ends and evenly at every node,
// into rings. Each link i has two arrows: 2i from its lesser end to the
// greater, 2i+1 back.
type tracer struct {
	links  []link
	nodes  map[node]int32
	out    [][]int32 // arrows leaving each node, counter-clockwise
	place  []int32   // of each arrow in its node's list
	ground []bool    // whether ground lies on the left of each arrow
}

// trace links borders into polygons, and drops rings under the given area.
func trace(links []link, grid lattice, least float64) (Shape, int) {
	t := newTracer(links)
	t.findGround()
	var shells, holes []orb.Ring
	slivers := 0
	for _, nodes := range t.rings() {
		ring := make(orb.Ring, 0, len(nodes)+1)
		for _, n := range nodes {
			ring = append(ring, grid.point(n))
		}
		ring = append(ring, ring[0])
		switch a := SignedArea(ring); {
		case max(a, -a) < least:
			slivers++
		case a > 0:
			shells = append(shells, ring)
		default:
			holes = append(holes, ring)
		}
	}
	return assemble(shells, holes), slivers
}

func newTracer(links []link) *tracer {
	t := &tracer{links: links, nodes: map[node]int32{}, place: make([]int32, 2*len(links)), ground: make([]bool, 2*len(links))}
	for i, l := range links {
		for k, n := range l {
			id, known := t.nodes[n]
			if !known {
				id = int32(len(t.out))
				t.nodes[n] = id
				t.out = append(t.out, nil)
			}
			t.out[id] = append(t.out[id], int32(2*i+k))
		}
	}
	for _, list := range t.out {
		slices.SortFunc(list, func(a, b int32) int { return compareTurns(t.direction(a), t.direction(b)) })
		for k, arrow := range list {
			t.place[arrow] = int32(k)
		}
	}
	return t
}

func (t *tracer) tail(arrow int32) node { return t.links[arrow/2][arrow%2] }

func (t *tracer) direction(arrow int32) node { return t.tail(arrow ^ 1).minus(t.tail(arrow)) }

// compareTurns orders directions counter-clockwise from due south, not
// included, on.
func compareTurns(a, b node) int {
	east := func(d node) bool { return d[0] > 0 || d[0] == 0 && d[1] > 0 }
	switch {
	case east(a) && !east(b):
		return -1
	case east(b) && !east(a):
		return 1
	}
	c := cross(a, b)
	switch {
	case c > 0:
		return -1
	case c < 0:
		return 1
	}
	return 0
}

// findGround tells for every arrow whether ground lies on its left: for one
// link of each connected set by counting the links west of its middle, for the
// others by going on from there, since ground and no ground take turns round a
// node.
func (t *tracer) findGround() {
	order := make([]int32, len(t.links))
	for i := range order {
		order[i] = int32(i)
	}
	levels := newStrips(order, 8, func(i int32) (float64, float64) {
		l := t.links[i]
		return float64(min(l[0][1], l[1][1])), float64(max(l[0][1], l[1][1]))
	})
	known := make([]bool, len(t.out))
	for i, l := range t.links {
		// Every connected set has a link that is not level, as level ones alone
		// enclose nothing.
		if l[0][1] == l[1][1] || known[t.nodes[l[0]]] {
			continue
		}
		up := int32(2 * i)
		if l[0][1] > l[1][1] {
			up++
		}
		// Doubled, the middle is a node too.
		middle := node{l[0][0] + l[1][0], l[0][1] + l[1][1]}
		west := 0
		for _, j := range levels.of(levels.at(float64(middle[1]) / 2)) {
			a, b := t.links[j][0], t.links[j][1]
			if a[1] > b[1] {
				a, b = b, a
			}
			if int(j) != i && 2*a[1] <= middle[1] && middle[1] < 2*b[1] && cross(b.minus(a), middle.minus(node{2 * a[0], 2 * a[1]})) < 0 {
				west++
			}
		}
		t.ground[up], t.ground[up^1] = west%2 == 1, west%2 == 0
		t.spread(up, known)
	}
}

// spread carries what is known of an arrow to all that hang together with it.
func (t *tracer) spread(arrow int32, known []bool) {
	todo := []int32{arrow}
	for len(todo) > 0 {
		from := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		id := t.nodes[t.tail(from)]
		if known[id] {
			continue
		}
		known[id] = true
		for k, other := range t.out[id] {
			left := t.ground[from] == ((k-int(t.place[from]))%2 == 0)
			t.ground[other], t.ground[other^1] = left, !left
			todo = append(todo, other^1)
		}
	}
}

// rings follows the arrows that have ground on their left. Where a path comes
// back to a node it has been at, what lies between is a ring of its own, so that
// outlines which touch themselves fall apart into simple rings.
func (t *tracer) rings() [][]node {
	var out [][]node
	used := make([]bool, len(t.ground))
	at := make([]int32, len(t.out)) // of a node in the path, plus one
	for start := range t.ground {
		var path []int32
		for arrow := int32(start); t.ground[arrow] && !used[arrow]; {
			used[arrow] = true
			path = append(path, arrow)
			at[t.nodes[t.tail(arrow)]] = int32(len(path))
			back := arrow ^ 1
			id := t.nodes[t.tail(back)]
			if k := at[id]; k > 0 {
				var ring []node
				for _, a := range path[k-1:] {
					n := t.tail(a)
					at[t.nodes[n]] = 0
					ring = append(ring, n)
				}
				out = append(out, ring)
				path = path[:k-1]
			}
			// The next one clockwise bounds the same ground.
			list := t.out[id]
			arrow = list[(int(t.place[back])+len(list)-1)%len(list)]
		}
	}
	return out
}

// assemble gives each hole to the smallest shell round it.
func assemble(shells, holes []orb.Ring) Shape {
	out := make(Shape, len(shells))
	for i, ring := range shells {
		out[i] = orb.Polygon{ring}
	}
	around := newNest(shells)
	for _, hole := range holes {
		// Rings touch at corners only, so the middle of an edge is off them.
		middle := XY{(hole[0][0] + hole[1][0]) / 2, (hole[0][1] + hole[1][1]) / 2}
		if i := around.smallest(middle, -1); i >= 0 {
			out[i] = append(out[i], hole)
		}
	}
	return out.Canonical()
}
