package zone

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// builder cuts one ground into cells: the pixels that lie in it, and what it
// has of those that its outline passes through.
type builder struct {
	g         *Grounds
	ground    Ground
	index     int32
	crossings []crossing
	order     []int32 // of the crossings
	chords    []chord
	done      []bool // the chord is in a cell
	// The pixels of the frame that the ground reaches, and one round them.
	left, top, right, bottom int // right and bottom not included
	// By pixel of the frame, shared by all grounds and cleared after each.
	touched []bool  // the outline passes through
	open    []bool  // the whole of the east side borders ground, to the west of it
	whole   []int32 // first arrow of a pixel that lies in the ground; -1
	sides   []piece
	cuts    []cutPixel
}

// piece is an arrow along a side of a pixel, or along what crossings leave of
// it; part counts them from the west or south.
type piece struct{ side, part, arrow int32 }

// round is a place on the way round a pixel, and the piece from there to the
// next one.
type round struct{ node, crossing, side, part int32 }

func (b *builder) crossed() error {
	return fmt.Errorf("ground %q: its outline crosses itself; mend it first", b.ground.Name)
}

// build adds the cells of the ground.
func (b *builder) build(division []int32) error {
	f := &b.g.frame
	bound := b.ground.Shape.Bound()
	b.left, b.top = f.cell(orb.Point{bound.Min[0], bound.Max[1]})
	b.right, b.bottom = f.cell(orb.Point{bound.Max[0], bound.Min[1]})
	b.left, b.top, b.right, b.bottom = b.left-1, b.top-1, b.right+2, b.bottom+2
	for _, polygon := range b.ground.Shape {
		for i, ring := range polygon {
			if len(ring) < 4 {
				continue
			}
			if (plane.SignedArea(ring) > 0) != (i == 0) {
				ring = slices.Clone(ring)
				slices.Reverse(ring)
			}
			b.chain(ring, i > 0)
		}
	}
	b.sortCrossings()
	defer b.clear()
	b.done = make([]bool, len(b.chords))
	byPixel := make([]int32, len(b.chords))
	for i := range byPixel {
		byPixel[i] = int32(i)
	}
	slices.SortStableFunc(byPixel, func(i, j int32) int { return cmp.Compare(b.chords[i].px, b.chords[j].px) })
	first := len(b.g.cells)
	for len(byPixel) > 0 {
		n := 1
		for n < len(byPixel) && b.chords[byPixel[n]].px == b.chords[byPixel[0]].px {
			n++
		}
		if err := b.cut(b.chords[byPixel[0]].px, byPixel[:n], division); err != nil {
			return err
		}
		byPixel = byPixel[n:]
	}
	if err := b.fill(division); err != nil {
		return err
	}
	if err := b.pair(); err != nil {
		return err
	}
	for _, c := range b.cuts {
		if err := b.flatten(c); err != nil {
			return err
		}
	}
	b.spread(first, division)
	return nil
}

func (b *builder) clear() {
	for row := b.top; row < b.bottom; row++ {
		from, to := b.px(b.left, row), b.px(b.right, row)
		clear(b.touched[from:to])
		clear(b.open[from:to])
		for px := from; px < to; px++ {
			b.whole[px] = -1
		}
	}
}

// way returns the places round a pixel, from the south-east corner northwards:
// its corners, the crossings, and vertices on its sides.
func (b *builder) way(px int32) []round {
	f := &b.g.frame
	width := int32(f.width)
	col, row := int(px)%f.width, int(px)/f.width
	corners := [4]int32{f.corner(col+1, row+1), f.corner(col+1, row), f.corner(col, row), f.corner(col, row+1)}
	sides := [4]int32{upright(px), level(px - width), upright(px - 1), level(px)}
	var out []round
	for k, side := range sides {
		list := b.on(side)
		back := k == 1 || k == 2
		part, step := int32(0), int32(1)
		if back {
			part, step = int32(len(list)), -1
		}
		out = append(out, round{corners[k], -1, side, part})
		for i := range list {
			id := list[i]
			if back {
				id = list[len(list)-1-i]
			}
			part += step
			c := &b.crossings[id]
			c.place = len(out)
			if c.touches() {
				id = -1
			}
			out = append(out, round{c.node, id, side, part})
		}
	}
	return out
}

// cut makes the cells of a pixel that the outline passes through. Where a chord
// leaves the pixel, the cell goes on round the pixel, with the ground on the
// left, until the next chord comes in.
func (b *builder) cut(px int32, chords, division []int32) error {
	b.touched[px] = true
	g := b.g
	way := b.way(px)
	firstCell, firstArrow := int32(len(g.cells)), int32(len(g.arrows))
	newCell := func() int32 {
		g.cells = append(g.cells, cell{px: px, division: b.index})
		return int32(len(g.cells) - 1)
	}
	var outer []int32 // the first arrow round each cell
	along := func(e int, cell int32) {
		b.side(way[e], cell)
		if e == 0 && way[1].crossing < 0 {
			b.open[px] = true
		}
	}
	var loops []int32
	for _, start := range chords {
		if b.chords[start].first < 0 {
			loops = append(loops, start)
			continue
		}
		if b.done[start] {
			continue
		}
		from, cell := int32(len(g.arrows)), newCell()
		for at := start; !b.done[at]; {
			b.done[at] = true
			c := &b.chords[at]
			g.arrow(b.crossings[c.first].node, cell)
			for _, n := range c.nodes {
				g.arrow(n, cell)
			}
			e := b.crossings[c.last].place
			for {
				along(e, cell)
				if e = (e + 1) % len(way); way[e].crossing >= 0 {
					break
				}
			}
			in := &b.crossings[way[e].crossing]
			if in.to != px || b.done[in.begins] && in.begins != start {
				return b.crossed()
			}
			at = in.begins
		}
		outer = append(outer, g.ring(from))
	}
	// Loops lie within the pixel. If the largest is a hole, the ground is round it.
	area := func(at int32) float64 { return g.doubleArea(b.chords[at].nodes) }
	if len(loops) == len(chords) {
		largest := slices.MaxFunc(loops, func(i, j int32) int { return cmp.Compare(math.Abs(area(i)), math.Abs(area(j))) })
		if b.chords[largest].hole {
			from, cell := int32(len(g.arrows)), newCell()
			for e := range way {
				along(e, cell)
			}
			outer = append(outer, g.ring(from))
		}
	}
	for _, at := range loops {
		if !b.chords[at].hole {
			outer = append(outer, b.loop(at, newCell()))
		}
	}
	for _, at := range loops {
		if b.chords[at].hole {
			k := g.around(outer, g.off(px, b.chords[at].nodes))
			if k < 0 {
				return b.crossed()
			}
			b.loop(at, firstCell+int32(k))
		}
	}
	b.cuts = append(b.cuts, cutPixel{px, firstCell, firstArrow, int32(len(g.cells)), int32(len(g.arrows))})
	if len(outer) > 0 {
		if source := g.frame.source(int(px)); source >= 0 && division[source] == b.index {
			g.cells[firstCell+int32(max(g.around(outer, g.middle(px)), 0))].holds = true
		}
	}
	return nil
}

// side adds the arrow of a piece of the way round a pixel.
func (b *builder) side(r round, cell int32) {
	b.sides = append(b.sides, piece{r.side, r.part, b.g.arrow(r.node, cell)})
}

// loop adds a ring within a pixel to the outlines of a cell.
func (b *builder) loop(at, cell int32) int32 {
	from := int32(len(b.g.arrows))
	for _, n := range b.chords[at].nodes {
		b.g.arrow(n, cell)
	}
	return b.g.ring(from)
}

// fill makes cells of the pixels that the outline does not pass through and
// that lie in the ground, and compares them with the division map.
func (b *builder) fill(division []int32) error {
	f, g := &b.g.frame, b.g
	for row := b.top; row < b.bottom; row++ {
		for col := b.left + 1; col < b.right; col++ {
			px := b.px(col, row)
			if b.touched[px] {
				continue
			}
			in := b.whole[px-1] >= 0 || b.open[px-1]
			source := f.source(int(px))
			if in && source < 0 || in != (source >= 0 && division[source] == b.index) {
				x, y := f.Center(col-margin, row-margin)
				if source < 0 {
					return fmt.Errorf("ground %q reaches beyond the surface at (%.1f, %.1f): interpolate over all of the field", b.ground.Name, x, y)
				}
				return fmt.Errorf("row %d, column %d of the surface: ground %q and the division map disagree at (%.1f, %.1f)", row-margin, col-margin, b.ground.Name, x, y)
			}
			if !in {
				continue
			}
			id := int32(len(g.cells))
			g.cells = append(g.cells, cell{px: px, division: b.index, holds: true, area: f.Pixel * f.Pixel})
			if b.touched[px+1] && len(b.on(upright(px))) > 0 || b.touched[px+int32(f.width)] && len(b.on(level(px))) > 0 {
				// An outline touches a side from beyond.
				b.open[px] = true
				from := int32(len(g.arrows))
				for _, r := range b.way(px) {
					b.side(r, id)
				}
				g.link(from)
				b.cuts = append(b.cuts, cutPixel{px, id, from, id + 1, int32(len(g.arrows))})
				continue
			}
			b.whole[px] = int32(len(g.arrows))
			for _, corner := range [4]int32{f.corner(col+1, row+1), f.corner(col+1, row), f.corner(col, row), f.corner(col, row+1)} {
				g.arrow(corner, id)
			}
			g.link(b.whole[px])
		}
	}
	return nil
}

// pair finds for every arrow along a side of a pixel the one of the cell across.
func (b *builder) pair() error {
	g := b.g
	width := int32(g.frame.width)
	join := func(p, q int32) { g.arrows[p].twin, g.arrows[q].twin = q, p }
	for row := b.top; row < b.bottom; row++ {
		for col := b.left; col < b.right; col++ {
			px := b.px(col, row)
			at := b.whole[px]
			if at < 0 {
				continue
			}
			if east := b.whole[px+1]; east >= 0 {
				join(at, east+2)
			} else {
				b.sides = append(b.sides, piece{upright(px), 0, at})
			}
			if b.whole[px-1] < 0 {
				b.sides = append(b.sides, piece{upright(px - 1), 0, at + 2})
			}
			if south := b.whole[px+width]; south >= 0 {
				join(at+3, south+1)
			} else {
				b.sides = append(b.sides, piece{level(px), 0, at + 3})
			}
			north := b.whole[px-width]
			if north < 0 {
				b.sides = append(b.sides, piece{level(px - width), 0, at + 1})
			}
			// The corner in the north-west has smooth sides if all round it are whole.
			if north >= 0 && b.whole[px-1] >= 0 && b.whole[px-width-1] >= 0 {
				g.inner[g.arrows[at+2].node] = true
			}
		}
	}
	slices.SortFunc(b.sides, func(p, q piece) int {
		return cmp.Or(cmp.Compare(p.side, q.side), cmp.Compare(p.part, q.part), cmp.Compare(p.arrow, q.arrow))
	})
	for i := 0; i < len(b.sides); i += 2 {
		if i+1 == len(b.sides) || b.sides[i].side != b.sides[i+1].side || b.sides[i].part != b.sides[i+1].part {
			return b.crossed()
		}
		join(b.sides[i].arrow, b.sides[i+1].arrow)
	}
	return nil
}
