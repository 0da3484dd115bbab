package zone

import (
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// steps are the four headings along pixel edges, in columns and rows: east,
// north, west, south. Adding one turns left.
var steps = [4][2]int{{1, 0}, {0, -1}, {-1, 0}, {0, 1}}

// outline draws a region as one polygon along its pixel edges, with a vertex at
// every turn and nowhere else. Where the region meets itself at a corner, the
// ring turns to the other pixel. Since the region is connected by edges, the
// ground on the two other sides of such a corner is not; so no ring comes by a
// corner twice, and every ring is simple. Rings may touch at corners.
func (w *window) outline(i int) orb.Polygon {
	name := int32(i + 1)
	has := func(col, row int) bool { return w.label[row*w.width+col] == name }
	var polygon orb.Polygon
	for _, px := range w.regions[i].pixels {
		if w.drawn[px] || w.label[px+w.width] == name {
			continue
		}
		// Along the lower edge to the east, the region is on the left.
		startCol, startRow := px%w.width, px/w.width+1
		col, row, heading := startCol, startRow, 0
		var ring orb.Ring
		for {
			if heading == 0 {
				w.drawn[(row-1)*w.width+col] = true
			}
			col, row = col+steps[heading][0], row+steps[heading][1]
			// The pixels ahead of the corner, to the left and to the right.
			var left, right bool
			switch heading {
			case 0:
				left, right = has(col, row-1), has(col, row)
			case 1:
				left, right = has(col-1, row-1), has(col, row-1)
			case 2:
				left, right = has(col-1, row), has(col-1, row-1)
			case 3:
				left, right = has(col, row), has(col-1, row)
			}
			if right || !left {
				ring = append(ring, w.corner(col, row))
				heading = (heading + 1) % 4
				if right {
					heading = (heading + 2) % 4
				}
			}
			if col == startCol && row == startRow && heading == 0 {
				break
			}
		}
		ring = append(ring, ring[0])
		polygon = append(polygon, ring)
	}
	// The shell is the ring that turns left.
	if shell := slices.IndexFunc(polygon, func(r orb.Ring) bool { return plane.SignedArea(r) > 0 }); shell > 0 {
		polygon[0], polygon[shell] = polygon[shell], polygon[0]
	}
	return polygon
}

// corner returns the upper-left corner of a pixel of the window. The
// conversions keep the compiler from fusing the products, so that every
// processor gives the same bytes.
func (w *window) corner(col, row int) orb.Point {
	return orb.Point{
		w.grid.West + float64(float64(w.left+col)*w.grid.Pixel),
		w.grid.North - float64(float64(w.top+row)*w.grid.Pixel),
	}
}

// inside returns a place well inside a polygon: the middle of its widest piece
// at the height halfway between the two vertices that lie furthest apart in
// height with none between. ok is false for a polygon without extent.
func inside(p orb.Polygon) (x, y float64, ok bool) {
	var heights []float64
	for _, ring := range p {
		for _, v := range ring {
			heights = append(heights, v[1])
		}
	}
	slices.Sort(heights)
	gap := 0.0
	for i := 1; i < len(heights); i++ {
		if g := heights[i] - heights[i-1]; g > gap {
			gap, y = g, heights[i-1]+g/2
		}
	}
	if gap == 0 {
		return 0, 0, false
	}
	var crossings []float64
	for _, ring := range p {
		for i := 1; i < len(ring); i++ {
			if a, b := ring[i-1], ring[i]; (a[1] < y) != (b[1] < y) {
				crossings = append(crossings, a[0]+(b[0]-a[0])*((y-a[1])/(b[1]-a[1])))
			}
		}
	}
	slices.Sort(crossings)
	widest := 0.0
	for i := 1; i < len(crossings); i += 2 {
		if width := crossings[i] - crossings[i-1]; width > widest {
			widest, x, ok = width, crossings[i-1]+width/2, true
		}
	}
	return x, y, ok
}
