package zone

import (
	"cmp"
	"math"
	"slices"

	"corewalk/geo/plane"
)

// maxOpenings bounds how often classes are opened. In practice a few do.
const maxOpenings = 20

// open widens the classes of the pixels to the least width, and returns them as
// a copy.
//
// Each class is opened with a disc of that diameter: a pixel keeps its class if
// the disc, lying in pixels of its class and division alone, can be moved to
// where it covers some of it. Its middle takes the middles, the corners and the
// middles of the sides of pixels. Other pixels take the class of the nearest
// pixel of their division that kept its own (of equally near ones the northern,
// then the western). What the discs cover stays as it is, so that they still fit
// the next time; that is repeated until nothing changes, or 20 times. If
// nothing of a division kept its class, all of it gets the one that it has the
// most pixels of, of equal ones the least.
func (g *Grounds) open(class []int32, width float64) []int32 {
	out := slices.Clone(class)
	least := squares(width / g.frame.Pixel)
	space, reach := g.places(), g.places()
	for range maxOpenings {

		g.distances(space, least, func(px int) int64 {
			if g.division[px] < 0 {
				return -1
			}
			return int64(g.division[px])<<32 | int64(uint32(out[px]))
		})
		for i, d := range space {
			reach[i] = far
			if d >= least {
				reach[i] = 0
			}
		}
		g.spreadDistances(reach, least)
		if !g.reclass(out, func(px int) bool { return g.leastAround(reach, px) < least }) {
			break
		}
	}
	return out
}

// squares is the square of a distance in half pixels that reaches a radius,
// given the diameter in pixels.
func squares(diameter float64) int32 {
	if diameter > 20_000 {
		return far
	}
	return int32(math.Ceil(float64(diameter*diameter) - 1e-9))
}

// reclass gives the pixels that do not keep their class the nearest one of their
// division that is kept. It reports whether that changed any.
func (g *Grounds) reclass(class []int32, keeps func(px int) bool) bool {
	f := &g.frame
	before := slices.Clone(class)
	for d := range g.ground {
		var lost, kept []int
		for px, of := range g.division {
			switch {
			case of != int32(d):
			case keeps(px):
				kept = append(kept, px)
			default:
				lost = append(lost, px)
			}
		}
		if len(lost) == 0 {
			continue
		}
		if len(kept) == 0 {
			most := commonest(before, lost)
			for _, px := range lost {
				class[px] = most
			}
			continue
		}
		rows := nearestRows(f.Width, f.Height, kept)
		for _, px := range lost {
			class[px] = before[nearest(rows, f.Width, px%f.Width, px/f.Width)]
		}
	}
	return !slices.Equal(before, class)
}

// commonest returns the class that most of the pixels have, the least of equal
// ones.
func commonest(class []int32, pixels []int) int32 {
	all := make([]int32, len(pixels))
	for i, px := range pixels {
		all[i] = class[px]
	}
	slices.Sort(all)
	best, most := int32(-1), 0
	for i := 0; i < len(all); {
		n := i
		for n < len(all) && all[n] == all[i] {
			n++
		}
		if n-i > most {
			best, most = all[i], n-i
		}
		i = n
	}
	return best
}

// narrow reports which zones hold no circle of the given diameter, of those
// whose middle is a place that open tries, too.
func (z *zoning) narrow(shapes []plane.Shape, diameter float64) []bool {
	g := z.g
	zone := make([]int64, g.frame.Width*g.frame.Height)
	for i := range zone {
		zone[i] = -1
	}
	for i, c := range g.cells {
		if c.holds {
			zone[c.source] = int64(z.zone[i])
		}
	}
	// Where the outline leaves a little of a pixel, or of the next one too, the
	// circle may be wider than the pixels tell.
	least, most := squares(max(diameter/g.frame.Pixel-2, 0)), squares(diameter/g.frame.Pixel+2)
	space := g.places()
	g.distances(space, most, func(px int) int64 { return zone[px] })
	wide := 2*g.frame.Width + 1
	each := func(f func(n int64, place, space int32)) {
		for i, d := range space {
			if d == 0 || d < least {
				continue
			}
			// All pixels round a place off the lines are of one zone.
			px := min(i/wide/2, g.frame.Height-1)*g.frame.Width + min(i%wide/2, g.frame.Width-1)
			if n := zone[px]; n >= 0 {
				f(n, int32(i), min(d, most))
			}
		}
	}
	// The most promising place first: a wide zone is done with that.
	best := make([]int32, len(shapes))
	widest := make([]int32, len(shapes))
	each(func(n int64, place, space int32) {
		if space > widest[n] {
			best[n], widest[n] = place, space
		}
	})
	out := make([]bool, len(shapes))
	for n, s := range shapes {
		out[n] = s != nil && !(widest[n] > 0 && roomAt(s, g.halfway(best[n]), diameter/2))
	}
	places := make([][]int32, len(shapes))
	each(func(n int64, place, _ int32) {
		if out[n] {
			places[n] = append(places[n], place)
		}
	})
	for n, list := range places {
		slices.SortFunc(list, func(a, b int32) int {
			return cmp.Or(cmp.Compare(min(space[b], most), min(space[a], most)), cmp.Compare(a, b))
		})
		if slices.ContainsFunc(list[:min(len(list), maxPlaces)], func(i int32) bool { return roomAt(shapes[n], g.halfway(i), diameter/2) }) {
			out[n] = false
		}
	}
	return out
}

// maxPlaces bounds the places that are tried in a zone, the widest first.
const maxPlaces = 300

// roomAt reports whether a circle lies in a shape.
func roomAt(s plane.Shape, p plane.XY, radius float64) bool {
	inside := false
	for _, polygon := range s {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				dx, dy := b[0]-a[0], b[1]-a[1]
				px, py := p[0]-a[0], p[1]-a[1]
				if (a[1] <= p[1]) != (b[1] <= p[1]) && (float64(dx*py) > float64(px*dy)) == (dy > 0) {
					inside = !inside
				}
				t := 0.0
				if length := float64(dx*dx) + float64(dy*dy); length > 0 {
					t = min(max((float64(px*dx)+float64(py*dy))/length, 0), 1)
				}
				px -= float64(t * dx)
				py -= float64(t * dy)
				if float64(px*px)+float64(py*py) < float64(radius*radius)*(1-1e-9) {
					return false
				}
			}
		}
	}
	return inside
}
