package kit

// crowd is what stands on a map, in squares of paper, so that very many things
// can be kept off each other.
type crowd struct {
	on      Rect
	columns int
	cells   [][]Rect
}

const crowdCell = 3.0 // millimetres

func newCrowd(on Rect) *crowd {
	c := &crowd{on: on, columns: int(on.Width/crowdCell) + 1}
	c.cells = make([][]Rect, c.columns*(int(on.Height/crowdCell)+1))
	return c
}

// each calls do with every cell that a rectangle lies in; what lies beyond the
// paper counts to the cells at its edge.
func (c *crowd) each(r Rect, do func(i int) bool) bool {
	rows := len(c.cells) / c.columns
	cell := func(v float64, n int) int { return max(0, min(n-1, int(v/crowdCell))) }
	x1, x2 := cell(r.X-c.on.X, c.columns), cell(r.Right()-c.on.X, c.columns)
	y1, y2 := cell(r.Y-c.on.Y, rows), cell(r.Bottom()-c.on.Y, rows)
	for y := y1; y <= y2; y++ {
		for x := x1; x <= x2; x++ {
			if !do(y*c.columns + x) {
				return false
			}
		}
	}
	return true
}

func (c *crowd) add(r Rect) {
	if !finite(r.X, r.Y, r.Width, r.Height) {
		return
	}
	c.each(r, func(i int) bool {
		c.cells[i] = append(c.cells[i], r)
		return true
	})
}

// free tells whether a rectangle overlaps nothing that was added.
func (c *crowd) free(r Rect) bool {
	return finite(r.X, r.Y, r.Width, r.Height) && c.each(r, func(i int) bool {
		for _, s := range c.cells[i] {
			if s.Overlaps(r) {
				return false
			}
		}
		return true
	})
}
