package picture

import (
	"errors"
	"fmt"
	"math"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// The most that a picture can hold. Far beyond what one can tell apart on it.
const (
	mostClasses  = 26
	mostPoints   = 200_000
	mostVertices = 1_000_000
	// mostCrossings is the length of all outlines and zones, in longer sides of
	// the map. Lines of so many would be a black map, and take minutes.
	mostCrossings = 2000
	// farthest is a coordinate in metres that no projected system reaches.
	farthest = 1e8
)

// Check tells why the map cannot be drawn: a grid whose values do not fit its
// size, a place that is not finite or further than 100 000 km off, a zone
// without a class, an outline of no kind, more than 26 classes, 200 000 points or
// a million vertices, outlines of more than 2000 times the length of the map, a
// mark without a finite value, or nothing that has a place.
func (m *Map) Check() error {
	_, err := m.extent()
	return err
}

// extent checks the map and returns the ground that it must show.
func (m *Map) extent() (box, error) {
	var b box
	if len(m.Classes) > mostClasses {
		return b, fmt.Errorf("%d classes in a map: at most %d can be told apart by their letters", len(m.Classes), mostClasses)
	}
	if n := len(m.Points) + len(m.Marks.Items); n > mostPoints {
		return b, fmt.Errorf("%d points in a map: at most %d can be drawn", n, mostPoints)
	}
	if err := checkGrid(m.Grid); err != nil {
		return b, err
	}
	vertices := 0
	for i, z := range m.Zones {
		if z.Class < 0 || z.Class >= len(m.Classes) {
			return b, fmt.Errorf("zone %d of the map is of class %d, but there are %d classes, counted from 0", i+1, z.Class, len(m.Classes))
		}
		vertices += z.Shape.Vertices()
		if err := b.stretchShape(z.Shape, "zone", i); err != nil {
			return b, err
		}
	}
	for i, o := range m.Outlines {
		if o.Kind < Boundary || o.Kind > Patch {
			return b, fmt.Errorf("outline %d of the map is of kind %d, which there is not", i+1, o.Kind)
		}
		vertices += o.Shape.Vertices()
		if err := b.stretchShape(o.Shape, "outline", i); err != nil {
			return b, err
		}
	}
	if vertices > mostVertices {
		return b, fmt.Errorf("%d vertices in a map: at most %d can be drawn: simplify the outlines", vertices, mostVertices)
	}
	for i, p := range m.Points {
		if !b.stretch(p.At[0], p.At[1]) {
			return b, fmt.Errorf("point %d (%.40q) of the map has no place in metres: %v %v", i+1, p.ID, p.At[0], p.At[1])
		}
	}
	for i, k := range m.Marks.Items {
		if !b.stretch(k.At[0], k.At[1]) {
			return b, fmt.Errorf("mark %d of the map has no place in metres: %v %v", i+1, k.At[0], k.At[1])
		}
		if !finite(k.Value) {
			return b, fmt.Errorf("mark %d of the map has no finite value", i+1)
		}
	}
	if m.Grid != nil {
		b.stretchGrid(m.Grid)
	}
	if !b.any {
		return b, errors.New("nothing in the map has a place: give it a grid, outlines, zones or points")
	}
	// A single place is shown with ten metres round it.
	if b.east-b.west < 1e-3 && b.north-b.south < 1e-3 {
		b.west, b.east, b.south, b.north = b.west-10, b.east+10, b.south-10, b.north+10
	}
	length := 0.0
	for _, z := range m.Zones {
		length += z.Shape.Perimeter()
	}
	for _, o := range m.Outlines {
		length += o.Shape.Perimeter()
	}
	if side := max(b.east-b.west, b.north-b.south); length > mostCrossings*side {
		return b, fmt.Errorf("the outlines and zones are %.0f times as long as the map: at most %d can be drawn: simplify them", length/side, mostCrossings)
	}
	return b, nil
}

func checkGrid(g *raster.Grid) error {
	switch {
	case g == nil:
		return nil
	case g.Width <= 0 || g.Height <= 0 || g.Width > raster.MaxPixels/g.Height || len(g.Data) != g.Width*g.Height:
		return fmt.Errorf("the grid of the map has %d values for %d by %d pixels", len(g.Data), g.Width, g.Height)
	case !(g.Pixel > 0) || !near(g.West) || !near(g.North) ||
		!near(g.West+float64(g.Width)*g.Pixel) || !near(g.North-float64(g.Height)*g.Pixel):
		return fmt.Errorf("the grid of the map has no place in metres: corner %v %v, pixel %v", g.West, g.North, g.Pixel)
	}
	return nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// near reports whether v is a coordinate in metres.
func near(v float64) bool { return math.Abs(v) <= farthest }

// hasValue reports whether a pixel has a value.
func hasValue(f float32) bool { return f != raster.NoData && finite(float64(f)) }

// box is an upright rectangle of ground, empty until it has been stretched.
type box struct {
	west, south, east, north float64
	any                      bool
}

// stretch takes a place in, and reports false for one that is none.
func (b *box) stretch(x, y float64) bool {
	if !near(x) || !near(y) {
		return false
	}
	if !b.any {
		*b = box{x, y, x, y, true}
		return true
	}
	b.west, b.east = min(b.west, x), max(b.east, x)
	b.south, b.north = min(b.south, y), max(b.north, y)
	return true
}

func (b *box) stretchShape(s plane.Shape, what string, i int) error {
	for _, polygon := range s {
		for _, ring := range polygon {
			for _, p := range ring {
				if !b.stretch(p[0], p[1]) {
					return fmt.Errorf("%s %d of the map has a vertex without a place in metres: %v %v", what, i+1, p[0], p[1])
				}
			}
		}
	}
	return nil
}

// stretchGrid takes in the pixels that have values, or the whole grid where none
// has and nothing else has a place.
func (b *box) stretchGrid(g *raster.Grid) {
	west, east, top, bottom := g.Width, -1, g.Height, -1
	for row := range g.Height {
		for col, f := range g.Data[row*g.Width : (row+1)*g.Width] {
			if hasValue(f) {
				west, east = min(west, col), max(east, col)
				top, bottom = min(top, row), max(bottom, row)
			}
		}
	}
	if east < 0 {
		if b.any {
			return
		}
		west, east, top, bottom = 0, g.Width-1, 0, g.Height-1
	}
	b.stretch(g.West+float64(float64(west)*g.Pixel), g.North-float64(float64(top)*g.Pixel))
	b.stretch(g.West+float64(float64(east+1)*g.Pixel), g.North-float64(float64(bottom+1)*g.Pixel))
}
