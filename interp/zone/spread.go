package zone

import "math"

// spread gives each cell from the given one on the source of its class: its own
// pixel, if the middle of that lies in the ground, or the nearest such pixel.
func (b *builder) spread(first int, division []int32) {
	f, g := &b.g.frame, b.g
	width := b.right - b.left
	own := make([]int, 0, width*(b.bottom-b.top))
	for row := b.top; row < b.bottom; row++ {
		for col := b.left; col < b.right; col++ {
			if source := f.source(int(b.px(col, row))); source >= 0 && division[source] == b.index {
				own = append(own, (row-b.top)*width+col-b.left)
			}
		}
	}
	rows := nearestRows(width, b.bottom-b.top, own)
	for i := first; i < len(g.cells); i++ {
		c := &g.cells[i]
		if i > first && g.cells[i-1].px == c.px {
			c.source = g.cells[i-1].source
			continue
		}
		col, row := int(c.px)%f.width-b.left, int(c.px)/f.width-b.top
		c.source = -1
		if px := nearest(rows, width, col, row); px >= 0 {
			c.source = int32(f.source(int(b.px(b.left+px%width, b.top+px/width))))
		}
	}
}

// nearestRows returns for each pixel the nearest row in its column with one of
// the given pixels, the upper of two; -1 for none.
func nearestRows(width, height int, pixels []int) []int32 {
	rows := make([]int32, width*height)
	for at := range rows {
		rows[at] = -1
	}
	for _, at := range pixels {
		rows[at] = int32(at / width)
	}
	for at := width; at < len(rows); at++ {
		if rows[at] < 0 {
			rows[at] = rows[at-width]
		}
	}
	for at := len(rows) - 1 - width; at >= 0; at-- {
		row, below := int32(at/width), rows[at+width]
		// Only one below is news; one above was carried down already.
		if below > row && (rows[at] < 0 || below-row < row-rows[at]) {
			rows[at] = below
		}
	}
	return rows
}

// nearest returns the pixel nearest to one by the distance of their middles
// that rows knows of, the northern, then the western of equally near ones; -1
// for none.
func nearest(rows []int32, width, col, row int) int {
	best, least := -1, math.MaxInt
	look := func(c int) {
		if c < 0 || c >= width || rows[row*width+c] < 0 {
			return
		}
		r := int(rows[row*width+c])
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
