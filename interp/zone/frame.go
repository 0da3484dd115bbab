package zone

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"corewalk/geo/raster"
)

// margin is how many pixels a frame has round the raster: ground may reach up
// to one beyond it, and another keeps all neighbours within the frame.
const margin = 2

// frame is the raster with a margin. Its pixels and their corners are numbered
// row by row from the north-west.
//
// A place belongs to the pixel whose west and north edge it may lie on. That
// amounts to moving all lines between pixels to the west and north by less than
// anything that can be written: then no vertex lies on one, and none of the
// special cases arises that outlines along pixel edges would otherwise make.
type frame struct {
	raster.Geometry
	width, height int       // pixels
	x, y          []float64 // of the lines between pixels, from the west, from the north
}

func newFrame(g raster.Geometry) (frame, error) {
	if !(g.Width > 0 && g.Height > 0 && g.Width < 1<<27/g.Height && g.Pixel > 0) {
		return frame{}, fmt.Errorf("surface of %d columns and %d rows of %g m: it is empty or too large", g.Width, g.Height, g.Pixel)
	}
	f := frame{Geometry: g, width: g.Width + 2*margin, height: g.Height + 2*margin}
	f.x, f.y = make([]float64, f.width+1), make([]float64, f.height+1)
	// The conversions keep the compiler from fusing the products, so that every
	// processor gives the same bytes.
	for c := range f.x {
		f.x[c] = g.West + float64(float64(c-margin)*g.Pixel)
		if c > 0 && !(f.x[c] > f.x[c-1] && f.x[c] < math.MaxFloat64) {
			return frame{}, fmt.Errorf("surface at %g, %g with a pixel of %g m does not lie on the map", g.West, g.North, g.Pixel)
		}
	}
	for r := range f.y {
		f.y[r] = g.North - float64(float64(r-margin)*g.Pixel)
		if r > 0 && !(f.y[r] < f.y[r-1] && f.y[r] > -math.MaxFloat64) {
			return frame{}, fmt.Errorf("surface at %g, %g with a pixel of %g m does not lie on the map", g.West, g.North, g.Pixel)
		}
	}
	return f, nil
}

// holds reports whether a place lies less than a pixel beyond the raster.
func (f *frame) holds(p orb.Point) bool {
	return p[0] > f.x[margin-1] && p[0] < f.x[f.width-margin+1] && p[1] < f.y[margin-1] && p[1] > f.y[f.height-margin+1]
}

// cell returns column and row of a place that the frame holds.
func (f *frame) cell(p orb.Point) (col, row int) {
	col = min(max(int((p[0]-f.West)/f.Pixel)+margin, 0), f.width-1)
	for p[0] < f.x[col] {
		col--
	}
	for p[0] >= f.x[col+1] {
		col++
	}
	row = min(max(int((f.North-p[1])/f.Pixel)+margin, 0), f.height-1)
	for p[1] > f.y[row] {
		row--
	}
	for p[1] <= f.y[row+1] {
		row++
	}
	return col, row
}

// corners is the number of corners; nodes with lesser numbers are corners.
func (f *frame) corners() int { return (f.width + 1) * (f.height + 1) }

// corner returns the node at the north-west corner of a pixel.
func (f *frame) corner(col, row int) int32 { return int32(row*(f.width+1) + col) }

// at returns where a corner lies.
func (f *frame) at(corner int32) orb.Point {
	return orb.Point{f.x[int(corner)%(f.width+1)], f.y[int(corner)/(f.width+1)]}
}

// source returns the pixel of the raster, -1 in the margin.
func (f *frame) source(px int) int {
	col, row := px%f.width-margin, px/f.width-margin
	if col < 0 || row < 0 || col >= f.Width || row >= f.Height {
		return -1
	}
	return row*f.Width + col
}
