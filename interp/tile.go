package interp

import (
	"math"
	"slices"

	"corewalk/geo/raster"
)

// The pixels are done in tiles, and those in blocks. Wherever in a block a
// pixel lies, the places that count there are among a few candidates: with c
// the middle of the block, h the distance from it to a corner, and D that from
// c to its k-th nearest place, the k nearest of the pixel lie within D+h of it,
// and so within D+2h of c. A tile takes its candidates from all places of a
// division, a block from those of its tile.
//
// Where the k nearest are the same at all corners of a block, they are so at
// every pixel of it: the difference of the squared distances of two places is
// linear, so that the ground where one set of places is nearest is convex (a
// cell of the Voronoi diagram of order k: Shamos & Hoey 1975,
// doi:10.1109/SFCS.1975.8). Elsewhere each pixel finds its own.
const (
	tileSide  = 64 // pixels
	blockSide = 8
)

// block is a rectangle of pixels, right and bottom not included.
type block struct{ left, top, right, bottom int }

// parts calls f with the squares of the given side that make up b, cut off at
// its right and bottom.
func (b block) parts(side int, f func(block)) {
	for top := b.top; top < b.bottom; top += side {
		for left := b.left; left < b.right; left += side {
			f(block{left, top, min(left+side, b.right), min(top+side, b.bottom)})
		}
	}
}

// part is what lies in a tile of one division.
type part struct {
	index int32
	block block
}

// candidates are places of a division by easting, then northing, and which
// ones of its places they are.
type candidates struct {
	x, y []float64
	at   []int32
}

func (c *candidates) clear() { c.x, c.y, c.at = c.x[:0], c.y[:0], c.at[:0] }

func (c *candidates) add(x, y float64, at int32) {
	c.x, c.y, c.at = append(c.x, x), append(c.y, y), append(c.at, at)
}

// brush is the working memory of one goroutine that paints tiles.
type brush struct {
	idw    IDW
	heavy  float64  // see IDW.heaviest
	models []*Model // with the same settings and places
	grids  []*raster.Grid
	mask   []int32
	found  []part

	index      int32       // the division at hand,
	divisions  []*division // its figures by model,
	k          int         // how many of its places count,
	every      bool        // all of them, however far
	all        candidates  // its places
	tile, near candidates  // those of the tile and of the block

	// The places that count, then the other candidates of the block.
	candidates
	count int
	// Figures of those that count, and their range, by model.
	values         [][]float64
	least, largest []float64

	q, heap  []float64
	dx2, dy2 []float64 // squared distances east of the columns of a block, count for each, and north of a row
}

func newBrush(models []*Model, grids []*raster.Grid, mask []int32) *brush {
	n := 0
	for _, d := range models[0].divisions {
		n = max(n, len(d.x))
	}
	b := &brush{
		idw: models[0].idw, heavy: models[0].idw.heaviest(),
		models: models, grids: grids, mask: mask, divisions: make([]*division, len(models)),
		least: make([]float64, len(models)), largest: make([]float64, len(models)),
	}
	for _, s := range []*[]float64{&b.x, &b.y, &b.q, &b.heap, &b.dy2} {
		*s = make([]float64, n)
	}
	b.dx2 = make([]float64, blockSide*n)
	b.values = make([][]float64, len(models))
	for i := range models {
		b.values[i] = make([]float64, n)
	}
	return b
}

// paint fills a tile of the grids.
func (b *brush) paint(tile block) {
	b.look(tile)
	for _, p := range b.found {
		i, ok := b.models[0].byIndex[int(p.index)]
		if !ok {
			continue
		}
		b.begin(p.index, i)
		if !b.every {
			b.reach(&b.tile, b.all, p.block)
		}
		p.block.parts(blockSide, func(part block) {
			if !b.ground(part) {
				return
			}
			if !b.every {
				b.reach(&b.near, b.tile, part)
				b.restart()
			}
			if b.every || b.same(part) {
				b.pixels(part)
			} else {
				b.singly(part)
			}
		})
	}
}

// look finds the divisions in a tile, and marks all of it as without a value.
func (b *brush) look(tile block) {
	b.found = b.found[:0]
	width := b.grids[0].Width
	at := -1
	for row := tile.top; row < tile.bottom; row++ {
		for _, g := range b.grids {
			line := g.Data[row*width+tile.left : row*width+tile.right]
			for i := range line {
				line[i] = raster.NoData
			}
		}
		for i, d := range b.mask[row*width+tile.left : row*width+tile.right] {
			if d < 0 {
				continue
			}
			col := tile.left + i
			if at < 0 || b.found[at].index != d {
				at = slices.IndexFunc(b.found, func(p part) bool { return p.index == d })
				if at < 0 {
					at = len(b.found)
					b.found = append(b.found, part{d, block{col, row, col + 1, row + 1}})
				}
			}
			f := &b.found[at].block
			f.left, f.right, f.bottom = min(f.left, col), max(f.right, col+1), row+1
		}
	}
}

// begin turns to a division: the i-th of the models, index in the mask.
func (b *brush) begin(index int32, i int) {
	b.index = index
	for m, model := range b.models {
		b.divisions[m] = &model.divisions[i]
	}
	d := b.divisions[0]
	n := len(d.x)
	b.k = b.idw.Near
	if b.k == 0 || b.k > n {
		b.k = n
	}
	b.all.x, b.all.y, b.all.at = d.x, d.y, b.all.at[:0]
	for at := range d.x {
		b.all.at = append(b.all.at, int32(at))
	}
	b.every = b.k == n && b.idw.Radius == 0
	if b.every {
		b.take(b.all.at)
		b.x, b.y = append(b.x[:0], d.x...), append(b.y[:0], d.y...)
	}
}

// take makes the given places those that count. Where they lie is for the
// caller.
func (b *brush) take(places []int32) {
	b.count = len(places)
	for m, d := range b.divisions {
		v := b.values[m][:0]
		least, largest := math.Inf(1), math.Inf(-1)
		for _, at := range places {
			v = append(v, d.value[at])
			least, largest = min(least, d.value[at]), max(largest, d.value[at])
		}
		b.values[m], b.least[m], b.largest[m] = v, least, largest
	}
}

// ground reports whether the division at hand has a pixel in the block.
func (b *brush) ground(part block) bool {
	width := b.grids[0].Width
	for row := part.top; row < part.bottom; row++ {
		if slices.Contains(b.mask[row*width+part.left:row*width+part.right], b.index) {
			return true
		}
	}
	return false
}

// reach puts into out those of the places that count at some pixel of the
// block, and few others.
func (b *brush) reach(out *candidates, from candidates, part block) {
	west, north := b.grids[0].Center(part.left, part.top)
	east, south := b.grids[0].Center(part.right-1, part.bottom-1)
	h := math.Hypot(east-west, north-south) / 2
	q := b.q[:len(from.x)]
	distances(q, from.x, from.y, west+(east-west)/2, south+(north-south)/2)
	reach := math.Inf(1)
	if b.k <= len(q) {
		reach = math.Sqrt(kth(q, b.k, b.heap)) + 2*h
	}
	if b.idw.Radius > 0 {
		reach = min(reach, b.idw.Radius+h)
	}
	// More than a tie and all rounding.
	reach += 1e-6*reach + 1e-6
	reach *= reach
	out.clear()
	for i, v := range q {
		if v <= reach {
			out.add(from.x[i], from.y[i], from.at[i])
		}
	}
}

// restart takes up the candidates of a block, of which none counts as yet.
func (b *brush) restart() {
	b.count = 0
	b.candidates = candidates{append(b.x[:0], b.near.x...), append(b.y[:0], b.near.y...), append(b.at[:0], b.near.at...)}
}

// singly paints a block pixel by pixel, each but a step from the one before.
func (b *brush) singly(part block) {
	g := b.grids[0]
	for row := part.top; row < part.bottom; row++ {
		for i := part.left; i < part.right; i++ {
			col := i
			if (row-part.top)%2 == 1 {
				col = part.left + part.right - 1 - i
			}
			if at := row*g.Width + col; b.mask[at] == b.index {
				x, y := g.Center(col, row)
				b.settle(x, y)
				if b.count > 0 {
					b.pixel(at, x, y)
				}
			}
		}
	}
}

// same makes the places that count at the block's first corner those that
// count, and reports whether they do in all of the block.
func (b *brush) same(part block) bool {
	west, north := b.grids[0].Center(part.left, part.top)
	east, south := b.grids[0].Center(part.right-1, part.bottom-1)
	b.settle(west, north)
	if b.count != b.k {
		return false
	}
	return b.clear(west, north) && b.clear(east, south) && b.clear(east, north) && b.clear(west, south)
}

// clear reports whether the places that count do so at (x, y), by more than
// the rounding of distances and of pixels' middles.
func (b *brush) clear(x, y float64) bool {
	n := b.count
	distances(b.q[:n], b.x[:n], b.y[:n], x, y)
	last := most(b.q[:n])
	last += 1e-6*last + 1e-8
	if b.idw.Radius > 0 && last > b.idw.Radius*b.idw.Radius {
		return false
	}
	return b.beyond(x, y, last)
}

// beyond reports whether the candidates that do not count are farther from
// (x, y) than the root of limit.
func (b *brush) beyond(x, y, limit float64) bool {
	xs := b.x[b.count:]
	ys := b.y[b.count:][:len(xs)]
	for i := range xs {
		if squared(xs[i]-x, ys[i]-y) <= limit {
			return false
		}
	}
	return true
}

// settle finds the places that count at (x, y), and leaves their squared
// distances in q. Most often they are those of the pixel before, or one has
// given way to another.
func (b *brush) settle(x, y float64) {
	n := b.count
	in, out := b.q[:n], b.q[n:len(b.x)]
	distances(in, b.x, b.y, x, y)
	distances(out, b.x[n:], b.y[n:], x, y)
	for swaps := 0; n <= b.k; swaps++ {
		last, next := most(in), least(out)
		limit := math.Inf(1)
		if n == b.k {
			limit = last
		}
		limit = b.idw.limit(limit)
		if last <= limit && next > limit {
			if swaps > 0 {
				b.take(b.at[:n])
			}
			return
		}
		if swaps == 3 || n != b.k || next >= last {
			break
		}
		b.swap(slices.Index(in, last), n+slices.Index(out, next))
	}
	b.choose(x, y)
}

// swap puts the j-th candidate, which does not count, for the i-th, which does.
func (b *brush) swap(i, j int) {
	b.exchange(i, j)
	for ; i > 0 && b.at[i-1] > b.at[i]; i-- {
		b.exchange(i, i-1)
	}
	for ; i+1 < b.count && b.at[i+1] < b.at[i]; i++ {
		b.exchange(i, i+1)
	}
}

func (b *brush) exchange(i, j int) {
	b.x[i], b.x[j] = b.x[j], b.x[i]
	b.y[i], b.y[j] = b.y[j], b.y[i]
	b.at[i], b.at[j] = b.at[j], b.at[i]
	b.q[i], b.q[j] = b.q[j], b.q[i]
}

// choose finds the places that count at (x, y) from all candidates.
func (b *brush) choose(x, y float64) {
	q := b.q[:len(b.near.x)]
	distances(q, b.near.x, b.near.y, x, y)
	limit := math.Inf(1)
	if b.k <= len(q) {
		limit = kth(q, b.k, b.heap)
	}
	limit = b.idw.limit(limit)
	c := candidates{b.x[:0], b.y[:0], b.at[:0]}
	for i, v := range q {
		if v <= limit {
			c.add(b.near.x[i], b.near.y[i], b.near.at[i])
		}
	}
	b.take(c.at)
	for i, v := range q {
		if v > limit {
			c.add(b.near.x[i], b.near.y[i], b.near.at[i])
		}
	}
	b.candidates = c
	distances(b.q[:b.count], c.x, c.y, x, y)
}

// pixels paints the pixels of a block, with the places that count.
func (b *brush) pixels(part block) {
	n := b.count
	if n == 0 {
		return
	}
	g := b.grids[0]
	xs, ys := b.x[:n], b.y[:n]
	for col := part.left; col < part.right; col++ {
		x, _ := g.Center(col, 0)
		dx2 := b.dx2[(col-part.left)*n:][:n]
		for i := range dx2 {
			dx2[i] = squared(xs[i]-x, 0)
		}
	}
	q, dy2 := b.q[:n], b.dy2[:n]
	alone := b.idw.Power == 2 && len(b.models) == 1 // the usual case
	for row := part.top; row < part.bottom; row++ {
		_, y := g.Center(0, row)
		for i := range dy2 {
			dy2[i] = squared(0, ys[i]-y)
		}
		first := row*g.Width + part.left
		for col, d := range b.mask[first : first+part.right-part.left] {
			if d != b.index {
				continue
			}
			dx2 := b.dx2[col*n:][:n]
			if alone {
				if total, sum := inverseSquares(dx2, dy2, b.values[0]); total < b.heavy {
					b.set(0, first+col, sum/total)
					continue
				}
			}
			for i := range q {
				q[i] = dx2[i] + dy2[i]
			}
			x, _ := g.Center(part.left+col, row)
			b.pixel(first+col, x, y)
		}
	}
}

// pixel gives the pixel at (x, y) of all grids its figure, from the squared
// distances of the places that count in q, which it spoils.
func (b *brush) pixel(at int, x, y float64) {
	q := b.q[:b.count]
	total := b.idw.weights(q)
	if !(total < b.heavy) {
		distances(q, b.x, b.y, x, y)
		if nearest := least(q); nearest < samePlace*samePlace {
			for m := range b.grids {
				b.set(m, at, onPlace(q, b.values[m], nearest))
			}
			return
		}
		b.idw.weights(q)
	}
	for m := range b.grids {
		b.set(m, at, product(q, b.values[m])/total)
	}
}

// set gives a pixel of the m-th grid its figure, within the range of those that
// count.
func (b *brush) set(m, at int, value float64) {
	v := float32(min(max(value, b.least[m]), b.largest[m]))
	if v == raster.NoData {
		v = math.Nextafter32(v, 0) // a value, by chance that of none
	}
	b.grids[m].Data[at] = v
}
