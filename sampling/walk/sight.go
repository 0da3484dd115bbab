package walk

import (
	"math"
	"slices"

	"corewalk/geo/plane"
)

// open reports whether the straight line from a to b crosses no interior.
//
// A side of an obstacle that the line crosses squarely shuts it. Any other
// contact (the line ends on an outline, grazes a corner, runs along a side) cuts
// it into stretches; between two contacts it crosses nothing, so that one look
// to both sides of its middle tells of a whole stretch whether it runs in the
// open or along an outline (one side free) or inside (neither).
func (g *Ground) open(a, b plane.XY) bool {
	if g == nil || len(g.edges) == 0 {
		return true
	}
	dx, dy := b[0]-a[0], b[1]-a[1]
	span := math.Hypot(dx, dy)
	if !(span > 0) {
		return !g.buried(a)
	}
	dx, dy = dx/span, dy/span
	var room [32]float64
	contacts := append(room[:0], 0, span)
	shut := false
	line := newLineTest(a, b)
	g.around.search(line.meets, func(first, last int32) bool {
		for i := first; i < last; i++ {
			u, v := g.edges[i].from, g.edges[i].to
			// How far the ends of either lie to the left of the other.
			ux, uy, vx, vy := u[0]-a[0], u[1]-a[1], v[0]-a[0], v[1]-a[1]
			su, sv := dx*uy-dy*ux, dx*vy-dy*vx
			if apart(su, sv) {
				continue
			}
			side := math.Hypot(v[0]-u[0], v[1]-u[1])
			sa, sb := cross(u, v, a)/side, cross(u, v, b)/side
			if apart(sa, sb) {
				continue
			}
			if min(math.Abs(su), math.Abs(sv), math.Abs(sa), math.Abs(sb)) > slack {
				shut = true
				return false
			}
			if math.Abs(su) <= slack {
				contacts = append(contacts, dx*ux+dy*uy)
			}
			if math.Abs(sv) <= slack {
				contacts = append(contacts, dx*vx+dy*vy)
			}
			if (su < 0) != (sv < 0) && (sa < 0) != (sb < 0) {
				contacts = append(contacts, span*sa/(sa-sb))
			}
		}
		return true
	})
	if shut {
		return false
	}
	slices.Sort(contacts)
	for i := 1; i < len(contacts); i++ {
		from, to := max(contacts[i-1], 0), min(contacts[i], span)
		if to-from <= 4*slack && (to-from <= 0 || span > 8*slack) {
			continue // too short to get deeper in
		}
		m := (from + to) / 2
		x, y := a[0]+m*dx, a[1]+m*dy
		if g.inside(plane.XY{x - 2*slack*dy, y + 2*slack*dx}) && g.inside(plane.XY{x + 2*slack*dy, y - 2*slack*dx}) {
			return false
		}
	}
	return true
}

// apart reports whether two ends lie clearly on one side.
func apart(s, t float64) bool { return (s > slack && t > slack) || (s < -slack && t < -slack) }

// lineTest tells which boxes a straight line comes within slack of, by the
// theorem of the separating axis.
type lineTest struct{ mx, my, hx, hy, ax, ay float64 }

func newLineTest(a, b plane.XY) lineTest {
	hx, hy := (b[0]-a[0])/2, (b[1]-a[1])/2
	return lineTest{a[0] + hx, a[1] + hy, hx, hy, math.Abs(hx) + slack, math.Abs(hy) + slack}
}

func (l *lineTest) meets(b *box) bool {
	ex, ey := (b.x1-b.x0)/2, (b.y1-b.y0)/2
	cx, cy := l.mx-b.x0-ex, l.my-b.y0-ey
	return math.Abs(cx) <= ex+l.ax && math.Abs(cy) <= ey+l.ay &&
		math.Abs(l.hx*cy-l.hy*cx) <= (ex+slack)*l.ay+(ey+slack)*l.ax
}
