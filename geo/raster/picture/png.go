package picture

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

const (
	leastWidth    = 200
	greatestWidth = 6000
	mostPixels    = 40_000_000
)

// canvas is the picture being painted, and the pixels to a unit of the page.
type canvas struct {
	img   *image.RGBA
	scale float64
	faces *faces
	tile  *vector.Rasterizer
}

// tileSide keeps the rasterizer to whole numbers, which are the same on every
// processor: above 512 pixels it turns to floating point.
const tileSide = 512

func (s *scene) writePNG(out io.Writer, width int) error {
	if width == 0 {
		width = int(math.Ceil(2 * s.width))
	}
	if width < leastWidth || width > greatestWidth {
		return fmt.Errorf("a picture %d pixels wide: choose from %d to %d", width, leastWidth, greatestWidth)
	}
	c := &canvas{scale: float64(width) / s.width, faces: s.faces, tile: vector.NewRasterizer(1, 1)}
	height := int(math.Ceil(s.height * c.scale))
	if height > mostPixels/width {
		return fmt.Errorf("a picture of %d by %d pixels is too large: choose a smaller width", width, height)
	}
	c.img = image.NewRGBA(image.Rect(0, 0, width, height))
	draw.Draw(c.img, c.img.Rect, image.NewUniform(white), image.Point{}, draw.Src)
	for _, it := range s.items {
		it.png(c)
	}
	if err := png.Encode(out, c.img); err != nil {
		return fmt.Errorf("write the picture: %w", err)
	}
	return nil
}

// at turns a place of the page into pixels.
func (c *canvas) at(p spot) spot { return spot{p.x * c.scale, p.y * c.scale} }

func (c *canvas) all(runs [][]spot) [][]spot {
	out := make([][]spot, len(runs))
	for i, r := range runs {
		out[i] = make([]spot, len(r))
		for k, p := range r {
			out[i][k] = c.at(p)
		}
	}
	return out
}

// fill paints closed runs, in pixels.
func (c *canvas) fill(runs [][]spot, colour color.NRGBA) {
	if colour.A > 0 {
		c.tiles(runs, c.img, image.NewUniform(colour))
	}
}

func (c *canvas) tiles(runs [][]spot, dst draw.Image, src image.Image) {
	b := bound(runs).Intersect(dst.Bounds())
	boxes := make([]rect, len(runs))
	for i, run := range runs {
		boxes[i] = boundOf(run)
	}
	for y := b.Min.Y; y < b.Max.Y; y += tileSide {
		for x := b.Min.X; x < b.Max.X; x += tileSide {
			r := image.Rect(x, y, min(x+tileSide, b.Max.X), min(y+tileSide, b.Max.Y))
			c.tile.Reset(r.Dx(), r.Dy())
			tile := rect{float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)}
			for k, run := range runs {
				if !boxes[k].overlaps(tile) {
					continue
				}
				for i, p := range run {
					px, py := float32(p.x-float64(x)), float32(p.y-float64(y))
					if i == 0 {
						c.tile.MoveTo(px, py)
					} else {
						c.tile.LineTo(px, py)
					}
				}
				c.tile.ClosePath()
			}
			c.tile.Draw(dst, r, src, image.Point{})
		}
	}
}

// bound returns the pixels that the runs can touch.
func bound(runs [][]spot) image.Rectangle {
	var all rect
	for i, r := range runs {
		b := boundOf(r)
		if i == 0 {
			all = b
		}
		all = rect{min(all.x0, b.x0), min(all.y0, b.y0), max(all.x1, b.x1), max(all.y1, b.y1)}
	}
	x0, y0, x1, y1 := all.x0, all.y0, all.x1, all.y1
	const most = 1 << 20
	if !(x0 <= x1) || x1-x0 > most || y1-y0 > most || math.Abs(x0) > most || math.Abs(y0) > most {
		return image.Rectangle{}
	}
	return image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1)), int(math.Ceil(y1)))
}

func (a area) png(c *canvas) { c.fill(c.all(a.runs), a.fill) }

func (l line) png(c *canvas) {
	dash := make([]float64, len(l.dash))
	for i, d := range l.dash {
		dash[i] = d * c.scale
	}
	c.fill(stroke(dashed(c.all(l.runs), l.closed, dash), l.closed && len(dash) == 0, l.width*c.scale), l.colour)
}

func (d disc) png(c *canvas) {
	at, r, half := c.at(d.at), d.r*c.scale, d.width*c.scale/2
	corners := 12 + int(r)
	c.fill([][]spot{ring(at, r, corners)}, d.fill)
	if half > 0 {
		inner := ring(at, max(r-half, 0), corners)
		for i, k := 0, len(inner)-1; i < k; i, k = i+1, k-1 {
			inner[i], inner[k] = inner[k], inner[i]
		}
		c.fill([][]spot{ring(at, r+half, corners), inner}, d.edge)
	}
}

func (t words) png(c *canvas) {
	glyphs, width, _ := c.faces.letters(t.text, t.bold)
	at, size := c.at(t.at), t.size*c.scale
	switch t.anchor {
	case middle:
		at.x -= float64(width * size / 2)
	case right:
		at.x -= float64(width * size)
	}
	face := c.faces.font(t.bold)
	var buf sfnt.Buffer
	var runs [][]spot
	for _, g := range glyphs {
		runs = outline(runs, face, &buf, g.index, spot{at.x + float64(g.x*size), at.y}, size)
	}
	if t.halo > 0 {
		c.fill(stroke(runs, true, t.halo*c.scale), casing)
		c.fill(runs, casing)
	}
	c.fill(runs, t.fill)
}

// outline appends the curves of a glyph, as short straight lines.
func outline(runs [][]spot, face *sfnt.Font, buf *sfnt.Buffer, g sfnt.GlyphIndex, at spot, size float64) [][]spot {
	em := fixed.I(int(face.UnitsPerEm()))
	segments, err := face.LoadGlyph(buf, g, em, nil)
	if err != nil {
		return runs
	}
	place := func(p fixed.Point26_6) spot {
		return spot{at.x + float64(float64(p.X)/float64(em)*size), at.y + float64(float64(p.Y)/float64(em)*size)}
	}
	const steps = 5
	var run []spot
	for _, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if len(run) > 0 {
				runs = append(runs, run)
			}
			run = []spot{place(s.Args[0])}
		case sfnt.SegmentOpLineTo:
			run = append(run, place(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			a, b, d := run[len(run)-1], place(s.Args[0]), place(s.Args[1])
			for i := 1; i <= steps; i++ {
				t := float64(i) / steps
				run = append(run, blend(blend(a, b, t), blend(b, d, t), t))
			}
		}
	}
	if len(run) > 0 {
		runs = append(runs, run)
	}
	return runs
}

// blend returns the place t of the way from a to b.
func blend(a, b spot, t float64) spot {
	return spot{a.x + float64(t*(b.x-a.x)), a.y + float64(t*(b.y-a.y))}
}

func (p pixels) png(c *canvas) {
	lo, hi := c.at(spot{p.at.x0, p.at.y0}), c.at(spot{p.at.x1, p.at.y1})
	w, h := p.img.Rect.Dx(), p.img.Rect.Dy()
	into := image.Rect(int(math.Round(lo.x)), int(math.Round(lo.y)), int(math.Round(hi.x)), int(math.Round(hi.y))).Intersect(c.img.Rect)
	if into.Empty() || w == 0 || h == 0 {
		return
	}
	stretched := image.NewNRGBA(into)
	for y := into.Min.Y; y < into.Max.Y; y++ {
		row := min(max(int((float64(y)+0.5-lo.y)/(hi.y-lo.y)*float64(h)), 0), h-1)
		for x := into.Min.X; x < into.Max.X; x++ {
			col := min(max(int((float64(x)+0.5-lo.x)/(hi.x-lo.x)*float64(w)), 0), w-1)
			copy(stretched.Pix[stretched.PixOffset(x, y):][:4], p.img.Pix[p.img.PixOffset(col, row):][:4])
		}
	}
	if len(p.clip) == 0 {
		draw.Draw(c.img, into, stretched, into.Min, draw.Over)
		return
	}
	mask := image.NewAlpha(into)
	c.tiles(c.all(p.clip), mask, image.Opaque)
	draw.DrawMask(c.img, into, stretched, into.Min, mask, into.Min, draw.Over)
}
