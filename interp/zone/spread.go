package zone

import "math"

// spread gives each cell from the given one on the source of its class: its own
// pixel, if the middle of that lies in the ground, or the nearest such pixel.
func (b *builder) spread(first int, division []int32) {
	f, g := &b.g.frame, b.g
	width := b.right - b.left
	// rows holds for each pixel the nearest row in its column with a
	// pixel of the ground, the upper of two; -1 for none.
	rows := make([]int32, width*(b.bottom-b.top))
	own := func(px int) bool {
		source := f.source(px)
		return source >= 0 && division[source] == b.index
	}
	for row := b.top; row < b.bottom; row++ {
		for col := b.left; col < b.right; col++ {
			at := (row-b.top)*width + col - b.left
			switch {
			case own(int(b.px(col, row))):
				rows[at] = int32(row)
			case row > b.top:
				rows[at] = rows[at-width]
			default:
				rows[at] = -1
			}
		}
	}
	for at := len(rows) - 1 - width; at >= 0; at-- {
		row, below := int32(b.top+at/width), rows[at+width]
		// Only a source below is news; one above was carried down already.
		if below > row && (rows[at] < 0 || below-row < row-rows[at]) {
			rows[at] = below
		}
	}
	for i := first; i < len(g.cells); i++ {
		c := &g.cells[i]
		if i > first && g.cells[i-1].px == c.px {
			c.source = g.cells[i-1].source
			continue
		}
		col, row := int(c.px)%f.width-b.left, int(c.px)/f.width-b.top
		c.source = -1
		if px := nearest(rows, width, col, row, b.top); px >= 0 {
			c.source = int32(f.source(int(b.px(b.left+px%width, b.top+px/width))))
		}
	}
}

// nearest returns the pixel nearest to one by the distance of their middles
// that rows knows of, the northern, then the western of equally near ones; -1
// for none.
func nearest(rows []int32, width, col, row, top int) int {
	best, least := -1, math.MaxInt
	look := func(c int) {
		if c < 0 || c >= width || rows[row*width+c] < 0 {
			return
		}
		r := int(rows[row*width+c]) - top
		at := r*width + c
		d := (c-col)*(c-col) + (r-row)*(r-row)
		if d < least || d == least && at < best {
			best, least = at, d
		}
	}
	for k := 0; k < width && k*k <= least; k++ {
		look(col - k)
		look(col + k)
	}
	return best
}
