package report

import (
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// spot is a place on a map.
type spot struct{ x, y float64 }

// outline is a shape on a map: its rings, the closing spots left out.
type outline [][]spot

// finest is the least distance between two spots of a ring: boundaries as
// recorded by a receiver have many more than a map can show.
const finest = 0.3

func (v view) outline(s plane.Shape) outline {
	var out outline
	for _, polygon := range s {
		for _, ring := range polygon {
			if r := v.thin(ring); len(r) > 0 {
				out = append(out, r)
			}
		}
	}
	return out
}

// thin returns the spots of a line that lie apart.
func (v view) thin(points []orb.Point) []spot {
	var out []spot
	for i, p := range points {
		if !finite(p[0]) || !finite(p[1]) {
			continue
		}
		s := spot{v.x(p[0]), v.y(p[1])}
		if n := len(out); n > 0 && math.Hypot(s.x-out[n-1].x, s.y-out[n-1].y) < finest && i < len(points)-1 {
			continue
		}
		out = append(out, s)
	}
	if n := len(out); n > 1 && out[0] == out[n-1] {
		out = out[:n-1]
	}
	return out
}

// path writes the outline for the attribute d of a path.
func (o outline) path() string {
	var b strings.Builder
	for _, ring := range o {
		line(&b, ring)
		b.WriteString("z")
	}
	return b.String()
}

func line(b *strings.Builder, spots []spot) {
	for i, s := range spots {
		switch i {
		case 0:
			b.WriteString("M")
		case 1:
			b.WriteString("L")
		default:
			b.WriteString(" ")
		}
		b.WriteString(coord(s.x))
		b.WriteString(" ")
		b.WriteString(coord(s.y))
	}
}

// dots writes spots as one path of strokes without length, which round ends
// make into dots.
func dots(spots []spot) string {
	var b strings.Builder
	for _, s := range spots {
		b.WriteString("M" + coord(s.x) + " " + coord(s.y) + "h.01")
	}
	return b.String()
}

func (o outline) box() box {
	var b box
	for _, ring := range o {
		for _, s := range ring {
			b.stretch(s.x, s.y)
		}
	}
	return b
}

// inside returns the longest piece of the level line at y that lies inside.
func (o outline) inside(y float64) (x0, x1 float64, ok bool) {
	var crossings []float64
	for _, ring := range o {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			if (a.y > y) != (b.y > y) {
				crossings = append(crossings, a.x+(y-a.y)/(b.y-a.y)*(b.x-a.x))
			}
		}
	}
	slices.Sort(crossings)
	for i := 0; i+1 < len(crossings); i += 2 {
		if crossings[i+1]-crossings[i] > x1-x0 {
			x0, x1, ok = crossings[i], crossings[i+1], true
		}
	}
	return x0, x1, ok
}

// middle returns a spot well inside, for a label. Half the height is preferred;
// another height must offer a fifth more room.
func (o outline) middle() (spot, bool) {
	b := o.box()
	if !b.any {
		return spot{}, false
	}
	best, room := spot{(b.west + b.east) / 2, (b.south + b.north) / 2}, 0.0
	for _, part := range [7]float64{0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8} {
		y := b.south + part*(b.north-b.south)
		if x0, x1, ok := o.inside(y); ok && x1-x0 > 1.2*room {
			best, room = spot{(x0 + x1) / 2, y}, x1-x0
		}
	}
	return best, true
}

// corner returns a spot inside near the upper left, for a label that leaves
// the middle free.
func (o outline) corner(dx, dy float64) (spot, bool) {
	b := o.box()
	if !b.any {
		return spot{}, false
	}
	y := b.south + min(dy, (b.north-b.south)/2)
	x0, x1, ok := o.inside(y)
	if !ok {
		return o.middle()
	}
	return spot{x0 + min(dx, (x1-x0)/2), y}, true
}

// between returns the middle of that part of a line which is farthest from the
// spots taken.
func between(l, taken []spot) spot {
	best, farthest := l[0], math.Inf(-1)
	for i := 1; i < len(l); i++ {
		s := spot{(l[i-1].x + l[i].x) / 2, (l[i-1].y + l[i].y) / 2}
		if d := clearance(s, taken); d > farthest {
			best, farthest = s, d
		}
	}
	return best
}

// clearance returns how far a label at s is from those at the spots taken.
// Distance across counts half, since labels are wide, and beyond 26 no label is
// in the way of another.
func clearance(s spot, taken []spot) float64 {
	nearest := 26.0
	for _, t := range taken {
		nearest = min(nearest, math.Hypot((s.x-t.x)/2, s.y-t.y))
	}
	return nearest
}

// free returns the spot inside, of some that are tried, that is farthest from
// those taken already.
func (o outline) free(taken []spot) (best spot, ok bool) {
	b := o.box()
	farthest := math.Inf(-1)
	for _, down := range [5]float64{0.1, 0.3, 0.5, 0.7, 0.9} {
		x0, x1, inside := o.inside(b.south + down*(b.north-b.south))
		if !inside {
			continue
		}
		for _, across := range [3]float64{0.5, 0.2, 0.8} {
			s := spot{x0 + across*(x1-x0), b.south + down*(b.north-b.south)}
			if d := clearance(s, taken); d > farthest {
				best, farthest, ok = s, d, true
			}
		}
	}
	if !ok {
		return o.middle()
	}
	return best, true
}
