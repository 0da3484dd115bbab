package plane

import (
	"github.com/paulmach/orb"
)

const (
	// cleanGap is how far, in metres, two outlines must keep from each other's
	// vertices to cross cleanly: far above the rounding of coordinates, so that
	// which side a vertex lies on is beyond doubt.
	cleanGap = 1e-6
	// cleanReach bounds the coordinates for which it is.
	cleanReach = 2e7
)

// outline is a shape as one list of edges: edge i runs from place i to the next
// of it, with ground on its left.
type outline struct {
	places []XY
	next   []int32
	rings  []outlineRing
	bound  orb.Bound
}

type outlineRing struct {
	first, end int32 // of its places
	ring       orb.Ring
}

// newOutline returns nil for what does not turn as shapes of this package do,
// and for coordinates far beyond those of any frame.
func newOutline(s Shape) *outline {
	n := s.Vertices()
	o := &outline{places: make([]XY, 0, n), next: make([]int32, 0, n), bound: s.Bound()}
	if b := o.bound; !(b.Min[0] > -cleanReach && b.Min[1] > -cleanReach && b.Max[0] < cleanReach && b.Max[1] < cleanReach) {
		return nil
	}
	for _, polygon := range s {
		for i, ring := range polygon {
			first, last := int32(len(o.places)), len(ring)-1
			if last < 3 || ring[0] != ring[last] || (SignedArea(ring) > 0) != (i == 0) {
				return nil
			}
			for k, p := range ring[1:] {
				if p == ring[k] || p[0] != p[0] || p[1] != p[1] {
					return nil
				}
				o.places, o.next = append(o.places, XY(ring[k])), append(o.next, first+int32(k)+1)
			}
			o.next[len(o.next)-1] = first
			o.rings = append(o.rings, outlineRing{first, int32(len(o.places)), ring})
		}
	}
	return o
}

func (o *outline) edge(i int32) edge { return edge{o.places[i], o.places[o.next[i]]} }

// ringOf returns which ring an edge is of.
func (o *outline) ringOf(i int32) int {
	k := 0
	for i >= o.rings[k].end {
		k++
	}
	return k
}

// near returns the edges that come near a box.
func (o *outline) near(b orb.Bound) []int32 {
	b = b.Pad(2 * cleanGap)
	var out []int32
	for i := range o.places {
		if e := o.edge(int32(i)); e.bound().Intersects(b) {
			out = append(out, int32(i))
		}
	}
	return out
}

// looks is what partsTouch costs.
func (o *outline) looks(near []int32) int {
	if len(o.rings) == 1 {
		return 0
	}
	return len(near) * len(near)
}

// partsTouch reports whether two rings touch at any of the given edges.
func (o *outline) partsTouch(near []int32) bool {
	if len(o.rings) == 1 {
		return false
	}
	for n, i := range near {
		e, r := o.edge(i), o.ringOf(i)
		box := e.bound().Pad(cleanGap)
		for _, j := range near[n+1:] {
			if f := o.edge(j); j >= o.rings[r].end && box.Intersects(f.bound()) && e.touches(f) {
				return true
			}
		}
	}
	return false
}

// contains reports whether a place that is clear of the outline lies inside.
func (o *outline) contains(p XY) bool {
	inside := false
	for i := range o.places {
		e := o.edge(int32(i))
		if up := e.a[1] <= p[1]; up != (e.b[1] <= p[1]) && up == (e.left(p) > 0) {
			inside = !inside
		}
	}
	return inside
}

// left is above zero when p lies left of the edge: twice the area of the
// triangle between them.
func (e edge) left(p XY) float64 {
	return (e.b[0]-e.a[0])*(p[1]-e.a[1]) - (p[0]-e.a[0])*(e.b[1]-e.a[1])
}

// touches reports whether an end of either edge comes within the gap of the other.
func (e edge) touches(f edge) bool {
	return segmentDistance(e.a, f.a, f.b) <= cleanGap || segmentDistance(e.b, f.a, f.b) <= cleanGap ||
		segmentDistance(f.a, e.a, e.b) <= cleanGap || segmentDistance(f.b, e.a, e.b) <= cleanGap
}
