package picture

import (
	"image"
	"image/color"
	"math"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// ground is what lies under the outlines: the grid or the zones, and the ground
// without a value.
type ground struct {
	img     *image.NRGBA
	at      raster.Geometry // of the image
	lo, hi  float64         // at the ends of the ramp
	beyond  bool            // values lie outside the two
	none    bool            // there is a grid, but no value in it
	missing bool            // there is ground without a value
	colours []color.NRGBA   // of the classes
}

// longestSide is the number of pixels of a grid, on its longer side, beyond
// which blocks of them are drawn as one.
const longestSide = 1000

// shades is the number of colours of a continuous surface. A picture of few
// colours is several times smaller as a file, and nobody can tell more apart.
const shades = 128

func (p *page) prepare() (ground, error) {
	m := p.m
	g := ground{lo: m.Lo, hi: m.Hi, colours: classColours(m.Ramp, len(m.Classes))}
	var boundary, off plane.Shape
	for _, o := range m.Outlines {
		switch o.Kind {
		case Boundary:
			boundary = append(boundary, o.Shape...)
		case Exclusion:
			off = append(off, o.Shape...)
		}
	}
	if m.Grid == nil {
		if len(m.Zones) > 0 && !boundary.Empty() {
			left := boundary.Area() - off.Area()
			for _, z := range m.Zones {
				left -= z.Shape.Area()
			}
			g.missing = left > boundary.Area()/200
		}
		return g, nil
	}
	least, most := m.Grid.Range()
	g.none = !finite(least)
	if !(g.lo < g.hi) || !finite(g.hi-g.lo) {
		g.lo, g.hi = least, most
	}
	g.beyond = least < g.lo || most > g.hi
	grid := m.Grid.Coarser(longestSide)
	grid, g.missing = p.spread(grid, boundary, off)
	g.at = grid.Geometry
	if len(m.Classes) > 0 {
		g.img = g.classes(grid, m.Classes)
	} else {
		g.img = g.shaded(grid, m.Ramp)
	}
	return g, nil
}

// spread lets the pixels at the outlines reach to them, for the picture to be
// cut off there: a pixel whose middle is not on the ground takes the mean of its
// neighbours. missing reports ground without a value. Without a boundary the
// grid stays as it is.
func (p *page) spread(g *raster.Grid, boundary, off plane.Shape) (out *raster.Grid, missing bool) {
	if boundary.Empty() {
		return g, false
	}
	inside, outside := plane.NewLocator(boundary), plane.NewLocator(off)
	out = raster.New(g.Geometry)
	copy(out.Data, g.Data)
	for row := range g.Height {
		for col := range g.Width {
			i := row*g.Width + col
			if hasValue(g.Data[i]) {
				continue
			}
			out.Data[i] = raster.NoData
			x, y := g.Center(col, row)
			at := plane.XY{x, y}
			if inside.Contains(at) && !outside.Contains(at) {
				missing = true
				continue
			}
			sum, n := 0.0, 0
			for r := max(row-1, 0); r <= min(row+1, g.Height-1); r++ {
				for _, f := range g.Data[r*g.Width+max(col-1, 0) : r*g.Width+min(col+2, g.Width)] {
					if hasValue(f) {
						sum += float64(f)
						n++
					}
				}
			}
			if n > 0 {
				out.Data[i] = float32(sum / float64(n))
			}
		}
	}
	// Ground that the grid does not reach, by more than a pixel.
	b := boundary.Bound()
	missing = missing || b.Min[0] < g.West-g.Pixel || b.Max[1] > g.North+g.Pixel ||
		b.Max[0] > g.West+float64(float64(g.Width+1)*g.Pixel) || b.Min[1] < g.North-float64(float64(g.Height+1)*g.Pixel)
	return out, missing
}

// shaded returns the grid in the colours of the ramp.
func (g *ground) shaded(grid *raster.Grid, ramp raster.Ramp) *image.NRGBA {
	stepped := raster.New(grid.Geometry)
	span := g.hi - g.lo
	for i, f := range grid.Data {
		if !hasValue(f) {
			continue
		}
		v := 0.5
		if span > 0 && finite(span) {
			v = min(max((float64(f)-g.lo)/span, 0), 1)
		}
		stepped.Data[i] = float32(math.Round(v*(shades-1)) / (shades - 1))
	}
	return raster.Picture(stepped, ramp, 0, 1/lightest)
}

// classes returns the grid in the colours of the classes.
func (g *ground) classes(grid *raster.Grid, classes []Class) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, grid.Width, grid.Height))
	for i, f := range grid.Data {
		if !hasValue(f) {
			continue
		}
		if k := classOf(float64(f), classes); k >= 0 {
			c := g.colours[k]
			img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = c.R, c.G, c.B, c.A
		}
	}
	return img
}

// classOf returns the class of a value, and -1 where it falls into none.
func classOf(v float64, classes []Class) int {
	for k, c := range classes {
		if c.From < c.To && v >= c.From && (v < c.To || k == len(classes)-1 && v == c.To) {
			return k
		}
	}
	return -1
}

// draw paints the ground: white and hatched where no value was made, then the
// surface, cut off at the boundary.
func (g *ground) draw(p *page) {
	clip := p.runsOf(Boundary)
	if g.missing {
		p.add(line{runs: hatch(clip, hatchDistance, false), width: 1, colour: noGround})
	}
	if g.img != nil && !g.img.Rect.Empty() {
		lo := p.at(plane.XY{g.at.West, g.at.North})
		side := g.at.Pixel * p.scale
		p.add(pixels{
			at:   rect{lo.x, lo.y, lo.x + float64(float64(g.at.Width)*side), lo.y + float64(float64(g.at.Height)*side)},
			img:  g.img,
			clip: clip,
		})
	}
	for i, z := range p.m.Zones {
		p.add(area{p.zones[i], g.colours[z.Class]})
	}
	for i := range p.m.Zones {
		p.add(line{runs: p.zones[i], closed: true, width: 1.1, colour: ink})
	}
}

const hatchDistance = 7.0

// runsOf returns the rings of all outlines of one kind.
func (p *page) runsOf(k Kind) [][]spot {
	var out [][]spot
	for i, o := range p.m.Outlines {
		if o.Kind == k {
			out = append(out, p.outlines[i]...)
		}
	}
	return out
}

// runs returns the rings of a shape on the page, without the vertices that are
// too close to each other to be seen.
func (p *page) runs(s plane.Shape) [][]spot {
	const finest = 0.12
	var out [][]spot
	for _, polygon := range s.Canonical() {
		for _, r := range polygon {
			var run []spot
			for i, xy := range r {
				at := p.at(plane.XY(xy))
				if i == len(r)-1 && len(run) > 1 {
					break // the closing vertex
				}
				if n := len(run); n > 0 && math.Hypot(at.x-run[n-1].x, at.y-run[n-1].y) < finest {
					continue
				}
				run = append(run, at)
			}
			if len(run) > 1 {
				out = append(out, run)
			}
		}
	}
	return out
}
