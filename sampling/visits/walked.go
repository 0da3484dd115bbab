package visits

import (
	"cmp"

	"github.com/tidwall/rtree"

	"corewalk/geo"
)

// leg is the straight way from one point of a track to the next.
type leg struct{ a, b geo.XY }

// walked finds the nearest place of tracks.
type walked struct {
	tree rtree.RTreeG[leg]
	seen map[leg]bool // a handheld lying still writes the same points for hours
}

func (w *walked) add(tracks []Track) {
	w.seen = make(map[leg]bool)
	for _, track := range tracks {
		for _, segment := range track {
			for i, p := range segment {
				switch {
				case !usable(p):
				case i > 0 && usable(segment[i-1]):
					w.leg(segment[i-1], p)
				default:
					w.leg(p, p)
				}
			}
		}
	}
}

// leg adds the way between two points, in whichever direction it was walked.
func (w *walked) leg(a, b geo.XY) {
	if compare(b, a) < 0 {
		a, b = b, a
	}
	l := leg{a, b}
	if !w.seen[l] {
		w.seen[l] = true
		w.tree.Insert([2]float64{a[0], min(a[1], b[1])}, [2]float64{b[0], max(a[1], b[1])}, l)
	}
}

// nearest returns the place of the tracks nearest to p, that with the lowest
// easting, then northing, where several are equally near.
func (w *walked) nearest(p geo.XY) (at geo.XY, ok bool) {
	var d float64
	w.tree.Nearby(
		func(lower, upper [2]float64, l leg, item bool) float64 {
			if item {
				return distance2(p, l.nearest(p))
			}
			return boxDistance2(p, lower, upper)
		},
		func(_, _ [2]float64, l leg, found float64) bool {
			if ok && found > d {
				return false
			}
			if q := l.nearest(p); !ok || compare(q, at) < 0 {
				at, d, ok = q, found, true
			}
			return true
		})
	return at, ok
}

// nearest returns the place of l nearest to p.
func (l leg) nearest(p geo.XY) geo.XY {
	dx, dy := l.b[0]-l.a[0], l.b[1]-l.a[1]
	along := float64((p[0]-l.a[0])*dx) + float64((p[1]-l.a[1])*dy)
	length2 := float64(dx*dx) + float64(dy*dy)
	switch {
	case !(along > 0):
		return l.a
	case along >= length2:
		return l.b
	}
	t := along / length2
	return geo.XY{l.a[0] + float64(t*dx), l.a[1] + float64(t*dy)}
}

func compare(p, q geo.XY) int { return cmp.Or(cmp.Compare(p[0], q[0]), cmp.Compare(p[1], q[1])) }

// distance2 returns the square of the distance between p and q. The conversions
// keep a processor from fusing the operations, which would make distances differ
// that are the same.
func distance2(p, q geo.XY) float64 {
	dx, dy := p[0]-q[0], p[1]-q[1]
	return float64(dx*dx) + float64(dy*dy)
}

// boxDistance2 returns the square of the distance from p to an upright rectangle.
func boxDistance2(p geo.XY, lower, upper [2]float64) float64 {
	dx := max(lower[0]-p[0], p[0]-upper[0], 0)
	dy := max(lower[1]-p[1], p[1]-upper[1], 0)
	return float64(dx*dx) + float64(dy*dy)
}
