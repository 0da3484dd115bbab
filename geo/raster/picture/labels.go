package picture

import (
	"cmp"
	"math"
	"slices"
)

// placer keeps the room on the map that is taken, in small cells, so that its
// cost does not grow with what stands there.
type placer struct {
	area       rect
	cols, rows int
	cells      []uint8
}

const (
	cellSide = 2.0
	occupied = 1 // by letters and signs
	crossed  = 2 // by an outline: figures are better read beside it
)

func newPlacer(area rect) placer {
	p := placer{area: area, cols: int((area.x1-area.x0)/cellSide) + 1, rows: int((area.y1-area.y0)/cellSide) + 1}
	p.cells = make([]uint8, p.cols*p.rows)
	return p
}

// each calls f with every cell that the box touches until it returns false.
func (p *placer) each(r rect, f func(cell *uint8) bool) {
	x0, x1 := int(math.Floor((r.x0-p.area.x0)/cellSide)), int(math.Ceil((r.x1-p.area.x0)/cellSide))
	y0, y1 := int(math.Floor((r.y0-p.area.y0)/cellSide)), int(math.Ceil((r.y1-p.area.y0)/cellSide))
	for y := max(y0, 0); y < min(y1, p.rows); y++ {
		for x := max(x0, 0); x < min(x1, p.cols); x++ {
			if !f(&p.cells[y*p.cols+x]) {
				return
			}
		}
	}
}

func (p *placer) take(r rect, as uint8) {
	p.each(r, func(cell *uint8) bool { *cell |= as; return true })
}

// free reports whether a box lies on the map and off everything of that kind.
func (p *placer) free(r rect, of uint8) bool {
	ok := r.within(p.area)
	if ok {
		p.each(r, func(cell *uint8) bool { ok = *cell&of == 0; return ok })
	}
	return ok
}

// strike notes where the outlines run.
func (p *page) strike() {
	for _, runs := range p.outlines {
		for _, run := range runs {
			for i := range run {
				a, b := run[i], run[(i+1)%len(run)]
				n := int(math.Hypot(b.x-a.x, b.y-a.y)/cellSide) + 1
				for k := range n {
					p.placer.take(around(blend(a, b, float64(k)/float64(n)), 1), crossed)
				}
			}
		}
	}
}

// around is a box of half the given side round a place.
func around(at spot, half float64) rect {
	return rect{at.x - half, at.y - half, at.x + half, at.y + half}
}

// pointRadius shrinks where there are many.
func pointRadius(n int) float64 {
	switch {
	case n <= 150:
		return 4
	case n <= 1000:
		return 2.8
	default:
		return 1.8
	}
}

// points draws points and marks and takes their room.
func (p *page) points() {
	r := pointRadius(len(p.m.Points))
	for _, pt := range p.m.Points {
		at := p.at(pt.At)
		tip := clean(pt.ID)
		if l := clean(pt.Label); l != "" && tip != "" {
			tip += ": " + l
		}
		p.add(disc{at, r, white, ink, 0.4 * r, tip})
		p.placer.take(around(at, 1.2*r), occupied)
	}
	// The large first, so that they hide no small one.
	items := slices.Clone(p.m.Marks.Items)
	slices.SortStableFunc(items, func(a, b Mark) int { return -cmp.Compare(math.Abs(a.Value), math.Abs(b.Value)) })
	most := p.m.Marks.greatest()
	for _, k := range items {
		at := p.at(k.At)
		p.triangle(at, k.Value, most)
		p.placer.take(around(at, p.m.Marks.reach(k.Value, most)), occupied)
	}
}

// greatest returns the greatest magnitude of the marks.
func (m *Marks) greatest() float64 {
	most := 0.0
	for _, k := range m.Items {
		most = max(most, math.Abs(k.Value))
	}
	return most
}

const evenRadius = 3.2

// reach returns the size of the mark for v: from its middle to its tips.
func (m *Marks) reach(v, most float64) float64 {
	if even(v, m.Even) || most == 0 {
		return evenRadius
	}
	return 5 + float64(11*math.Sqrt(math.Abs(v)/most))
}

func even(v, limit float64) bool { return math.Abs(v) <= max(limit, 0) }

// triangle draws the mark for v.
func (p *page) triangle(at spot, v, most float64) {
	r := p.m.Marks.reach(v, most)
	if even(v, p.m.Marks.Even) {
		p.add(disc{at, r, white, ink, 1.4, ""})
		return
	}
	up, fill := -1.0, above
	if v < 0 {
		up, fill = 1, below
	}
	half := r * math.Sqrt(3) / 2
	shape := [][]spot{{{at.x, at.y + float64(up*r)}, {at.x + half, at.y - float64(up*r/2)}, {at.x - half, at.y - float64(up*r/2)}}}
	p.add(
		line{runs: shape, closed: true, width: 3.2, colour: casing},
		area{shape, fill},
		line{runs: shape, closed: true, width: 1.1, colour: ink},
	)
}

// valueSize shrinks a little where there are many.
func valueSize(n int) float64 {
	if n <= 60 {
		return 15
	}
	return 13.5
}

// values writes the values beside their points, where there is room.
func (p *page) values() {
	size := valueSize(len(p.m.Points) + len(p.m.Marks.Items))
	r := pointRadius(len(p.m.Points))
	for _, pt := range p.m.Points {
		text := clean(pt.Label)
		if text == "" {
			text = clean(pt.ID)
		}
		p.value(p.at(pt.At), 1.2*r, text, size)
	}
	most := p.m.Marks.greatest()
	for _, k := range p.m.Marks.Items {
		p.value(p.at(k.At), p.m.Marks.reach(k.Value, most), clean(k.Label), size)
	}
}

// value writes text by a place, at the first side that is free, if it can off the
// outlines.
func (p *page) value(at spot, clear float64, text string, size float64) {
	text = cut(text, 24)
	if text == "" {
		return
	}
	w := p.faces.width(text, size, false)
	half := 0.42 * size // of the height of figures, with a little air
	d := clear + 3.5 + w/2
	v := clear + 1.5 + half
	s := 0.75 * clear
	sides := []spot{
		{d, 0}, {-d, 0}, {0, -v}, {0, v},
		{s + 2 + w/2, -s - half}, {s + 2 + w/2, s + half}, {-s - 2 - w/2, -s - half}, {-s - 2 - w/2, s + half},
	}
	for _, avoid := range []uint8{occupied | crossed, occupied} {
		for _, off := range sides {
			c := spot{at.x + off.x, at.y + off.y}
			b := rect{c.x - w/2 - 1.5, c.y - half, c.x + w/2 + 1.5, c.y + half}
			if !p.placer.free(b, avoid) {
				continue
			}
			p.placer.take(b, occupied)
			p.written = append(p.written, b)
			p.text(words{at: spot{c.x, c.y + float64(0.36*size)}, text: text, size: size, anchor: middle, fill: ink, halo: 4.6})
			return
		}
	}
	p.unread++
}
