package zone

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// Ground is a division of the field (a management unit or problem area),
// without its exclusions.
type Ground struct {
	Name  string
	Shape plane.Shape
}

// Options are the choices of Patches.
type Options struct {
	Smallest float64 // m2: smaller patches are dropped; 0 keeps all
}

// Figures sums up the pixels of a part of the surface, each counted alike.
type Figures struct {
	Pixels                int
	Mean, Least, Greatest float64 // 0 without a pixel
}

// Patch is one connected part of one division beyond the limit.
type Patch struct {
	Number   int // from 1, the largest first; of equal ones the western, then the northern
	Limit    Limit
	Shape    plane.Shape // one polygon, along pixel edges and the outline of the ground
	Division int         // index of the ground
	Area     float64     // m2 in the plane
	// Figures are of the pixels whose middle lies in the patch or, where it is
	// too narrow to hold one, of a pixel whose value it has.
	Figures
}

// Rest is the ground outside the patches that were kept.
type Rest struct {
	Area  float64 // m2 in the plane
	Blank float64 // m2 of it in divisions where no pixel has a value
	Figures
}

// Result is what Patches found.
type Result struct {
	Patches     []Patch
	Rest        Rest
	Dropped     int     // patches smaller than Options.Smallest
	DroppedArea float64 // m2; this ground is part of the rest
}

// Patches draws the parts of the ground where the surface g is beyond the
// limit. division gives for each pixel, row by row from the north-west, the
// index of the ground that its middle lies in, -1 for none.
//
// Pixels of one division that share an edge belong together; those that touch
// at a corner do not. A pixel whose middle lies outside a division takes, for
// what the division has of its square, the value of the nearest pixel of that
// division, by the distance of the middles (of equally near ones the northern,
// then the western). Pixels without a value are never beyond the limit. The
// outline of a patch follows the pixel edges and, where the ground ends, the
// outline of the ground, so that the patches of a division and what remains of
// it partition its shape. Parts under 1 cm2 are rounding and go to the rest.
//
// A surface without values, and no ground, give no patches. Values that are
// not finite, a division map that does not fit the ground, and ground that
// reaches a pixel or more beyond the surface are errors.
func Patches(g *raster.Grid, ground []Ground, division []int32, l Limit, opt Options) (Result, error) {
	if err := check(g, ground, division, l, opt); err != nil {
		return Result{}, err
	}
	l = l.single()
	var out Result
	kept := make([]bool, len(g.Data)) // pixels of the patches
	for i, gr := range ground {
		if gr.Shape.Empty() {
			continue
		}
		area := gr.Shape.Area()
		out.Rest.Area += area
		w, err := newWindow(g, gr, int32(i), division)
		if err != nil {
			return Result{}, err
		}
		if !w.valued() {
			out.Rest.Blank += area
			continue
		}
		parts, err := w.parts(gr.Shape, l)
		if err != nil {
			return Result{}, fmt.Errorf("ground %q: patches of %s: %w", gr.Name, l, err)
		}
		for _, p := range parts {
			a := p.shape.Area()
			if a < opt.Smallest {
				out.Dropped++
				out.DroppedArea += a
				continue
			}
			for _, px := range p.pixels {
				kept[px] = kept[px] || p.held
			}
			out.Patches = append(out.Patches, Patch{Limit: l, Shape: p.shape, Division: i, Area: a, Figures: figures(g, p.pixels)})
			out.Rest.Area -= a
		}
	}
	out.Rest.Area = max(out.Rest.Area, 0)
	rank(out.Patches)
	var rest []int
	for px, d := range division {
		if d >= 0 && !kept[px] && g.Data[px] != raster.NoData {
			rest = append(rest, px)
		}
	}
	out.Rest.Figures = figures(g, rest)
	return out, nil
}

// rank orders and numbers the patches. Areas count as equal to the square decimetre, and
// places to the millimetre, since equal ones differ by rounding.
func rank(patches []Patch) {
	type key struct{ area, west, north float64 }
	of := func(p Patch) key {
		b := p.Shape.Bound()
		return key{math.Round(p.Area * 100), math.Round(b.Min[0] * 1000), math.Round(b.Max[1] * 1000)}
	}
	slices.SortStableFunc(patches, func(p, q Patch) int {
		a, b := of(p), of(q)
		return cmp.Or(cmp.Compare(b.area, a.area), cmp.Compare(a.west, b.west), cmp.Compare(b.north, a.north))
	})
	for i := range patches {
		patches[i].Number = i + 1
	}
}

func figures(g *raster.Grid, pixels []int) Figures {
	if len(pixels) == 0 {
		return Figures{}
	}
	f := Figures{Pixels: len(pixels), Least: math.Inf(1), Greatest: math.Inf(-1)}
	for _, px := range pixels {
		v := float64(g.Data[px])
		f.Mean += v
		f.Least, f.Greatest = min(f.Least, v), max(f.Greatest, v)
	}
	// Rounding must not carry the mean of equal figures out of their range.
	f.Mean = min(max(f.Mean/float64(len(pixels)), f.Least), f.Greatest)
	return f
}

func check(g *raster.Grid, ground []Ground, division []int32, l Limit, opt Options) error {
	if g == nil {
		return errors.New("no surface given")
	}
	if g.Width <= 0 || g.Height <= 0 || g.Width > math.MaxInt/g.Height || len(g.Data) != g.Width*g.Height || !(g.Pixel > 0) {
		return fmt.Errorf("surface of %d columns and %d rows of %g m with %d values is not whole", g.Width, g.Height, g.Pixel, len(g.Data))
	}
	if len(division) != len(g.Data) {
		return fmt.Errorf("surface of %d pixels: divisions are given for %d", len(g.Data), len(division))
	}
	for i, d := range division {
		if d < -1 || int(d) >= len(ground) {
			return fmt.Errorf("row %d, column %d of the surface: there is no division %d", i/g.Width, i%g.Width, d)
		}
		if v := g.Data[i]; v-v != 0 { // NaN for NaN and for both infinities
			return fmt.Errorf("row %d, column %d of the surface: %g is not a value", i/g.Width, i%g.Width, v)
		}
	}
	if !(opt.Smallest >= 0) || math.IsInf(opt.Smallest, 0) {
		return fmt.Errorf("smallest patch of %g m2: give an area of 0 or more", opt.Smallest)
	}
	for _, gr := range ground {
		if gr.Shape.Empty() {
			continue
		}
		b := gr.Shape.Bound()
		east, south := g.West+float64(g.Width)*g.Pixel, g.North-float64(g.Height)*g.Pixel
		if !(b.Min[0] > g.West-g.Pixel && b.Max[0] < east+g.Pixel && b.Min[1] > south-g.Pixel && b.Max[1] < g.North+g.Pixel) {
			return fmt.Errorf("ground %q from (%.1f, %.1f) to (%.1f, %.1f) reaches beyond the surface: interpolate over all of the field", gr.Name, b.Min[0], b.Min[1], b.Max[0], b.Max[1])
		}
	}
	return l.validate()
}

// part is a patch to be: a connected part of the ground beyond the limit.
type part struct {
	shape  plane.Shape // one polygon
	pixels []int       // of the grid: those whose middle lies in it, or the one it was drawn from
	held   bool        // the middles lie in it
}

// parts returns the connected parts of the window's ground beyond the limit.
func (w *window) parts(ground plane.Shape, l Limit) ([]part, error) {
	w.divide(l)
	var parts []part
	var cut plane.Shape
	for i, r := range w.regions {
		if outline := w.outline(i); r.cut {
			cut = append(cut, outline)
		} else {
			parts = append(parts, part{plane.Shape{outline}, w.own(r.pixels), true})
		}
	}
	// One overlay for all: its cost is in the vertices of the ground.
	clipped, err := plane.Intersect(cut, ground)
	if err != nil {
		return nil, err
	}
	for _, polygon := range clipped {
		x, y, ok := inside(polygon)
		if !ok {
			continue
		}
		px := w.cell(x, y)
		region := w.label[px]
		if region == 0 {
			continue
		}
		p := part{shape: plane.Shape{polygon}}
		p.pixels = w.middles(p.shape, region)
		p.held = len(p.pixels) > 0
		if !p.held {
			p.pixels = []int{w.source[px]}
		}
		parts = append(parts, p)
	}
	return parts, nil
}
