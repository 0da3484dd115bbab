package zone

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// window is the part of the surface that one ground lies in, with a margin of
// a pixel that the ground does not touch. It may stick out of the
// surface. Its pixels are numbered row by row from the north-west.
type window struct {
	grid          *raster.Grid
	left, top     int // column and row of the grid of pixel 0
	width, height int
	touched       []bool // the outline of the ground passes through, or along
	source        []int  // pixel of the grid whose value the pixel has; -1: no ground
	// The following are made by divide.
	label   []int32 // region of the pixel, from 1; 0 for none
	regions []region
	drawn   []bool // the lower edge of the pixel is in an outline
}

// region is a set of pixels beyond the limit, connected by their edges.
type region struct {
	pixels []int // of the window
	cut    bool  // the outline of the ground touches it
}

// reach is how near, in pixels, an outline counts as touching: coordinates in
// metres are rounded to about a millionth of that of a small pixel.
const reach = 1e-6

func newWindow(g *raster.Grid, ground Ground, index int32, division []int32) (*window, error) {
	b := ground.Shape.Bound()
	w := &window{grid: g}
	w.left = int(math.Floor((b.Min[0]-g.West)/g.Pixel-reach)) - 1
	w.top = int(math.Floor((g.North-b.Max[1])/g.Pixel-reach)) - 1
	w.width = int(math.Floor((b.Max[0]-g.West)/g.Pixel+reach)) + 2 - w.left
	w.height = int(math.Floor((g.North-b.Min[1])/g.Pixel+reach)) + 2 - w.top
	w.touched = make([]bool, w.width*w.height)
	for _, polygon := range ground.Shape {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				w.touch(ring[i-1], ring[i])
			}
		}
	}
	w.source = make([]int, len(w.touched))
	for px := range w.source {
		w.source[px] = -1
		if at := w.gridPixel(px); at >= 0 && division[at] == index {
			w.source[px] = at
		}
	}
	if err := w.fits(ground); err != nil {
		return nil, err
	}
	w.spread()
	return w, nil
}

// gridPixel returns the pixel of the grid, -1 where the window sticks out.
func (w *window) gridPixel(px int) int {
	col, row := w.left+px%w.width, w.top+px/w.width
	if col < 0 || row < 0 || col >= w.grid.Width || row >= w.grid.Height {
		return -1
	}
	return row*w.grid.Width + col
}

// cell returns the pixel of the window at a place within the ground.
func (w *window) cell(x, y float64) int {
	u, v := w.pixels(orb.Point{x, y})
	return int(v)*w.width + int(u)
}

// pixels gives a place in pixels from the corner of the window.
func (w *window) pixels(p orb.Point) (u, v float64) {
	return (p[0]-w.grid.West)/w.grid.Pixel - float64(w.left), (w.grid.North-p[1])/w.grid.Pixel - float64(w.top)
}

// touch marks the pixels that an edge of the outline passes through.
func (w *window) touch(a, b orb.Point) {
	u0, v0 := w.pixels(a)
	u1, v1 := w.pixels(b)
	if v0 > v1 {
		u0, v0, u1, v1 = u1, v1, u0, v0
	}
	for row := int(v0 - reach); row <= int(v1+reach); row++ {
		// The piece of the edge in this row.
		s, t := u0, u1
		if v1 > v0 {
			slope := (u1 - u0) / (v1 - v0)
			s = u0 + slope*(max(v0, float64(row)-reach)-v0)
			t = u0 + slope*(min(v1, float64(row+1)+reach)-v0)
		}
		s, t = max(min(s, t), min(u0, u1)), min(max(s, t), max(u0, u1))
		for col := int(s - reach); col <= int(t+reach); col++ {
			w.touched[row*w.width+col] = true
		}
	}
}

// fits compares the division map with the ground: all pixels of a run that the
// outline does not touch lie on the same side of it.
func (w *window) fits(ground Ground) error {
	in := plane.NewLocator(ground.Shape)
	for px := range w.source {
		if w.touched[px] || px%w.width > 0 && !w.touched[px-1] && (w.source[px] < 0) == (w.source[px-1] < 0) {
			continue
		}
		col, row := w.left+px%w.width, w.top+px/w.width
		x, y := w.grid.Center(col, row)
		switch within := in.Contains(plane.XY{x, y}); {
		case within && w.gridPixel(px) < 0:
			return fmt.Errorf("ground %q reaches beyond the surface at (%.1f, %.1f): interpolate over all of the field", ground.Name, x, y)
		case within != (w.source[px] >= 0):
			return fmt.Errorf("row %d, column %d of the surface: ground %q and the division map disagree at (%.1f, %.1f)", row, col, ground.Name, x, y)
		}
	}
	return nil
}

// spread gives the touched pixels whose middle is outside the ground the
// source of the nearest one whose middle is inside.
func (w *window) spread() {
	// rows holds for each pixel the nearest row with a source in its column,
	// the upper of two; -1 for none.
	rows := make([]int32, len(w.source))
	own := make([]bool, len(w.source))
	for px, s := range w.source {
		own[px] = s >= 0
		rows[px] = -1
		if own[px] {
			rows[px] = int32(px / w.width)
		} else if px >= w.width {
			rows[px] = rows[px-w.width]
		}
	}
	for px := len(rows) - 1 - w.width; px >= 0; px-- {
		row, below := int32(px/w.width), rows[px+w.width]
		// Only a source below is news; one above was carried down already.
		if below > row && (rows[px] < 0 || below-row < row-rows[px]) {
			rows[px] = below
		}
	}
	for px, touched := range w.touched {
		if touched && !own[px] {
			w.source[px] = w.nearest(rows, px)
		}
	}
}

// nearest returns the source of the nearest pixel that has one of its own, the
// northern, then the western of equally near ones; -1 for none.
func (w *window) nearest(rows []int32, px int) int {
	col, row := px%w.width, px/w.width
	best, least := -1, math.MaxInt
	look := func(c int) {
		if c < 0 || c >= w.width || rows[row*w.width+c] < 0 {
			return
		}
		r := int(rows[row*w.width+c])
		at := r*w.width + c
		d := (c-col)*(c-col) + (r-row)*(r-row)
		if d < least || d == least && at < best {
			best, least = at, d
		}
	}
	for k := 0; k < w.width && k*k <= least; k++ {
		look(col - k)
		look(col + k)
	}
	if best < 0 {
		return -1
	}
	return w.gridPixel(best)
}

// valued reports whether any pixel of the ground has a value.
func (w *window) valued() bool {
	return slices.ContainsFunc(w.source, func(s int) bool { return s >= 0 && w.grid.Data[s] != raster.NoData })
}

// divide finds the regions beyond the limit.
func (w *window) divide(l Limit) {
	beyond := make([]bool, len(w.source))
	for px, s := range w.source {
		beyond[px] = s >= 0 && w.grid.Data[s] != raster.NoData && l.Beyond(float64(w.grid.Data[s]))
	}
	w.label, w.drawn = make([]int32, len(w.source)), make([]bool, len(w.source))
	for px := range beyond {
		if !beyond[px] || w.label[px] > 0 {
			continue
		}
		name := int32(len(w.regions) + 1)
		w.label[px] = name
		r := region{pixels: []int{px}}
		for i := 0; i < len(r.pixels); i++ {
			at := r.pixels[i]
			r.cut = r.cut || w.touched[at]
			// The margin keeps the four within the window.
			for _, next := range [...]int{at - w.width, at - 1, at + 1, at + w.width} {
				if beyond[next] && w.label[next] == 0 {
					w.label[next] = name
					r.pixels = append(r.pixels, next)
				}
			}
		}
		slices.Sort(r.pixels)
		w.regions = append(w.regions, r)
	}
}

// own returns the pixels of the grid for those pixels of the window whose
// middle is in the ground.
func (w *window) own(pixels []int) []int {
	var out []int
	for _, px := range pixels {
		if at := w.gridPixel(px); at >= 0 && at == w.source[px] {
			out = append(out, at)
		}
	}
	return out
}

// middles returns the pixels of the grid that are of the region and have their
// middle in the shape.
func (w *window) middles(s plane.Shape, region int32) []int {
	in := plane.NewLocator(s)
	b := s.Bound()
	u0, v0 := w.pixels(orb.Point{b.Min[0], b.Max[1]})
	u1, v1 := w.pixels(orb.Point{b.Max[0], b.Min[1]})
	var pixels []int
	for row := int(v0); row <= int(v1); row++ {
		for col := int(u0); col <= int(u1); col++ {
			px := row*w.width + col
			if x, y := w.grid.Center(w.left+col, w.top+row); w.label[px] == region && in.Contains(plane.XY{x, y}) {
				pixels = append(pixels, px)
			}
		}
	}
	return w.own(pixels)
}
