package interp

import (
	"math"
	"slices"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// Reach returns the divisions of the pixels with those taken off the ground
// (-1) that lie further than half a cell beyond the convex hull of the
// composites of their division: what is drawn there would be guessed from one
// side. A cell is the mean ground of the division's sampling units or, for
// composites without shapes, the square that a lattice of as many places over
// the same hull would have to each (Pick 1899: a hull of area A with n places,
// b of them on its outline, has cells of A/(n - b/2 - 1)); with all places on
// one line, the square on their mean distance to the nearest one. Where a
// division has fewer than three composites, the pixels in their sampling units
// stay as well.
func Reach(g raster.Geometry, division []int32, units []Unit) []int32 {
	out := make([]int32, len(division))
	for i := range out {
		out[i] = -1
	}
	byDivision := map[int32][]Unit{}
	for _, u := range units {
		byDivision[int32(u.Division)] = append(byDivision[int32(u.Division)], u)
	}
	for d, units := range byDivision {
		hull, beyond := reach(units)
		var inside []*plane.Locator
		if len(units) < 3 {
			for _, u := range units {
				if !u.Shape.Empty() {
					inside = append(inside, plane.NewLocator(u.Shape))
				}
			}
		}
		for row := range g.Height {
			_, y := g.Center(0, row)
			west, east := span(hull, beyond, y)
			for col := range g.Width {
				i := row*g.Width + col
				if division[i] != d {
					continue
				}
				x, y := g.Center(col, row)
				if west <= x && x <= east || slices.ContainsFunc(inside, func(l *plane.Locator) bool { return l.Contains(plane.XY{x, y}) }) {
					out[i] = d
				}
			}
		}
	}
	return out
}

// reach returns the convex hull of the composites of one division and half the
// side of a cell.
func reach(units []Unit) ([]plane.XY, float64) {
	var places []plane.XY
	var ground float64
	shaped := map[int]bool{}
	for _, u := range units {
		places = append(places, u.At)
		if !u.Shape.Empty() && !shaped[u.Number] {
			ground += u.Shape.Area()
			shaped[u.Number] = true
		}
	}
	hull := plane.Hull(places)
	if len(shaped) > 0 {
		return hull, math.Sqrt(ground/float64(len(shaped))) / 2
	}
	slices.SortFunc(places, func(a, b plane.XY) int { return slices.Compare(a[:], b[:]) })
	places = slices.Compact(places)
	var ring []plane.XY
	if ring = append(ring, hull...); len(hull) > 2 {
		ring = append(ring, hull[0])
	}
	area, outline := 0.0, 0
	for i := 1; i < len(ring); i++ {
		area += ((ring[i-1][0]-hull[0][0])*(ring[i][1]-hull[0][1]) - (ring[i][0]-hull[0][0])*(ring[i-1][1]-hull[0][1])) / 2
	}
	for _, p := range places {
		for i := 1; i < len(ring); i++ {
			if offLine(ring[i-1], ring[i], p) < samePlace {
				outline++
				break
			}
		}
	}
	if cells := float64(len(places)) - float64(outline)/2 - 1; area > 0 && cells > 0.25 {
		return hull, math.Sqrt(area/cells) / 2
	}
	var sum float64
	for i, p := range places {
		nearest := inf
		for k, q := range places {
			if i != k {
				nearest = min(nearest, p.Distance(q))
			}
		}
		if len(places) > 1 {
			sum += nearest
		}
	}
	return hull, sum / float64(len(places)) / 2
}

// offLine is the distance of p from the line from a to b.
func offLine(a, b, p plane.XY) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := ((p[0]-a[0])*dx + (p[1]-a[1])*dy) / (dx*dx + dy*dy)
	t = min(max(t, 0), 1)
	return p.Distance(plane.XY{a[0] + t*dx, a[1] + t*dy})
}

// span returns the least and the greatest easting at the given northing that
// is no further than beyond from a convex hull; the first is above the second
// where there is none. The ground within a distance of a convex shape is convex.
func span(hull []plane.XY, beyond, y float64) (west, east float64) {
	west, east = inf, -inf
	beyond *= 1 + 1e-9 // places exactly at the distance are within it
	for i, p := range hull {
		if up := math.Abs(y - p[1]); up <= beyond {
			half := math.Sqrt(beyond*beyond - up*up)
			west, east = min(west, p[0]-half), max(east, p[0]+half)
		}
		q := hull[(i+1)%len(hull)]
		long := p.Distance(q)
		if long == 0 {
			continue
		}
		// The side, moved outwards.
		nx, ny := beyond*(q[1]-p[1])/long, -beyond*(q[0]-p[0])/long
		y0, y1 := p[1]+ny, q[1]+ny
		if (y0 <= y) != (y1 <= y) {
			x := p[0] + nx + (q[0]-p[0])*(y-y0)/(y1-y0)
			west, east = min(west, x), max(east, x)
		}
	}
	return west, east
}
