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

// Figures sums up the pixels of a part of the surface, each counted alike.
type Figures struct {
	Pixels                int
	Mean, Least, Greatest float64 // 0 without a pixel
}

// Patch is one connected part of one division beyond the limit.
type Patch struct {
	Number   int // from 1, the largest first; of equal ones the western, then the northern
	Limit    Limit
	Shape    plane.Shape // one polygon
	Division int         // index of the ground
	Area     float64     // m2 in the plane
	// Cells are the pixels of the raster whose middle lies in the patch or, where
	// it is too narrow to hold one, the pixel whose value it has. Figures are of
	// them.
	Cells []int32
	Figures
}

// Rest is the ground outside the patches that were kept.
type Rest struct {
	Area  float64 // m2 in the plane
	Blank float64 // m2 of it in divisions where no pixel has a value
	// Shapes has for each ground what belongs to the rest.
	Shapes []plane.Shape
	Figures
}

// Result is what Patches found.
type Result struct {
	Patches     []Patch
	Rest        Rest
	Dropped     int     // patches smaller than Options.Smallest
	DroppedArea float64 // m2; this ground is part of the rest
}

// Patches is NewGrounds and Grounds.Patches in one.
func Patches(g *raster.Grid, ground []Ground, division []int32, l Limit, opt Options) (Result, error) {
	if g == nil {
		return Result{}, errors.New("no surface given")
	}
	grounds, err := NewGrounds(g.Geometry, ground, division)
	if err != nil {
		return Result{}, err
	}
	return grounds.Patches(g, l, opt)
}

// Patches draws the parts of the ground where the surface g is beyond the
// limit, and the rest: the two classes that Partition makes zones of. Pixels
// without a value are never beyond the limit. Patches smaller than
// Options.Smallest go to the rest; the rest itself may be as small as it is.
// A limit counts in the precision of the surface, so that 5.9 equals one of 5.9.
//
// A surface without values, and no ground, give no patches. Values that are
// not finite are errors.
func (g *Grounds) Patches(surface *raster.Grid, l Limit, opt Options) (Result, error) {
	if err := g.check(surface, l, opt); err != nil {
		return Result{}, err
	}
	l = l.single()
	class := make([]int32, len(surface.Data))
	for px, v := range surface.Data {
		if v != raster.NoData && l.Beyond(float64(v)) {
			class[px] = beyond
		}
	}
	if opt.LeastWidth > 0 {
		class = g.open(class, opt.LeastWidth)
	}
	var out Result
	z := g.zoned(g.classes(class))
	smallest := opt.Smallest
	opt.Smallest = 0
	var merged Zones
	shapes := z.settle(opt, &merged)
	small := z.those(func(i int) bool { return z.class[i] == beyond && shapes[i].Area() < smallest })
	for _, i := range small {
		out.Dropped++
		out.DroppedArea += shapes[i].Area()
	}
	if len(small) > 0 {
		z.give(small)
		shapes = z.draw(opt.Smooth)
	}
	out.Rest.Shapes = make([]plane.Shape, len(g.ground))
	var rest []int32
	pixels := z.pixels()
	for i, shape := range shapes {
		if shape == nil {
			continue
		}
		first := g.cells[z.first[i]]
		zone := Zone{Division: int(first.division), Shape: shape, Pixels: pixels[i], near: first.source}
		if z.class[i] == beyond {
			out.Patches = append(out.Patches, Patch{Limit: l, Shape: shape, Division: zone.Division, Area: shape.Area(), Cells: zone.counted(), Figures: zone.Figures(surface)})
			continue
		}
		out.Rest.Area += shape.Area()
		out.Rest.Shapes[zone.Division] = append(out.Rest.Shapes[zone.Division], shape...)
		rest = append(rest, zone.Pixels...)
	}
	out.Rest.Blank = g.blank(surface)
	rank(out.Patches)
	out.Rest.Figures = figures(surface, rest)
	return out, nil
}

// beyond is the class of pixels beyond the limit; that of the others is 0.
const beyond = 1

// give puts patches to the rest.
func (z *zoning) give(patches []int32) {
	for _, i := range patches {
		z.class[i] = 0
	}
	class := make([]int32, len(z.zone))
	for i, zone := range z.zone {
		class[i] = z.class[zone]
	}
	*z = *z.g.zoned(class)
}

// blank returns the area of the divisions without a value.
func (g *Grounds) blank(surface *raster.Grid) float64 {
	valued := make([]bool, len(g.ground))
	area := make([]float64, len(g.ground))
	for i := range g.cells {
		c := &g.cells[i]
		area[c.division] += c.area
		if c.source >= 0 && surface.Data[c.source] != raster.NoData {
			valued[c.division] = true
		}
	}
	var sum float64
	for i, a := range area {
		if !valued[i] {
			sum += a
		}
	}
	return sum
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

// figures sums up the pixels that have a value.
func figures(g *raster.Grid, pixels []int32) Figures {
	f := Figures{Least: math.Inf(1), Greatest: math.Inf(-1)}
	for _, px := range pixels {
		if g.Data[px] == raster.NoData {
			continue
		}
		v := float64(g.Data[px])
		f.Pixels++
		f.Mean += v
		f.Least, f.Greatest = min(f.Least, v), max(f.Greatest, v)
	}
	if f.Pixels == 0 {
		return Figures{}
	}
	// Rounding must not carry the mean of equal figures out of their range.
	f.Mean = min(max(f.Mean/float64(f.Pixels), f.Least), f.Greatest)
	return f
}

func (g *Grounds) check(surface *raster.Grid, l Limit, opt Options) error {
	f := &g.frame
	switch {
	case surface == nil:
		return errors.New("no surface given")
	case surface.Geometry != f.Geometry:
		return errors.New("the surface lies elsewhere than the ground was prepared for")
	case len(surface.Data) != f.Width*f.Height:
		return fmt.Errorf("surface of %d columns and %d rows with %d values is not whole", f.Width, f.Height, len(surface.Data))
	}
	for i, v := range surface.Data {
		if v-v != 0 { // NaN for NaN and for both infinities
			return fmt.Errorf("row %d, column %d of the surface: %g is not a value", i/f.Width, i%f.Width, v)
		}
	}
	if err := opt.validate(); err != nil {
		return err
	}
	return l.validate()
}
