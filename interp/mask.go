package interp

import (
	"math"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// Mask returns for each pixel of g, row by row from the north-west, the index
// of the field's division that its middle lies in, -1 off the ground: what
// geo.Whereabouts says there.
func Mask(f *geo.Field, g raster.Geometry) []int32 {
	out := make([]int32, g.Width*g.Height)
	for i := range out {
		out[i] = -1
	}
	s := scan{g: g, marks: make([]uint8, len(out))}
	for i, d := range f.Divisions {
		s.shape(d.Shape)
		s.fill(out, int32(i))
	}
	var w *geo.Whereabouts // few fields have such a pixel
	for i, d := range out {
		if d == unsure {
			if w == nil {
				w = f.NewWhereabouts()
			}
			x, y := g.Center(i%g.Width, i/g.Width)
			out[i] = int32(w.Division(plane.XY{x, y}))
		}
	}
	return out
}

// unsure marks in a mask pixels whose middle lies on an edge or all but.
const unsure int32 = -2

// scan fills shapes into masks row by row, by the even-odd rule.
type scan struct {
	g raster.Geometry
	// marks of the pixels: crossed where an edge runs between the middle of the
	// pixel and that of the one west of it, doubtful where one touches it.
	marks                    []uint8
	left, top, right, bottom int // of what is marked, right and bottom not included
}

const (
	crossed  = 1
	doubtful = 2
)

// shape marks the edges of s.
func (s *scan) shape(shape plane.Shape) {
	s.left, s.top, s.right, s.bottom = s.g.Width, s.g.Height, 0, 0
	for _, polygon := range shape {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				s.edge(ring[i-1], ring[i])
			}
		}
	}
}

// edge marks where the edge from a to b crosses the rows.
func (s *scan) edge(a, b [2]float64) {
	if a[1] > b[1] {
		a, b = b, a
	}
	// A row more at either end, against rounding.
	first := s.clamp((s.g.North-b[1])/s.g.Pixel-1.5, s.g.Height)
	last := s.clamp((s.g.North-a[1])/s.g.Pixel+1.5, s.g.Height)
	for row := first; row < last; row++ {
		_, y := s.g.Center(0, row)
		if y < a[1] || y > b[1] {
			continue
		}
		west, east := min(a[0], b[0]), max(a[0], b[0])
		if a[1] < b[1] {
			west = a[0] + (b[0]-a[0])*((y-a[1])/(b[1]-a[1]))
			east = west
		}
		// More than all rounding of places on the map.
		const slack = 1e-6
		from, to := s.column(west-slack), s.column(east+slack)
		for col := from; col < to; col++ {
			s.marks[row*s.g.Width+col] |= doubtful
		}
		s.left, s.right = min(s.left, from), max(s.right, to)
		if y < b[1] && to < s.g.Width {
			s.marks[row*s.g.Width+to] ^= crossed
			s.right = max(s.right, to+1)
		}
		s.top, s.bottom = min(s.top, row), max(s.bottom, row+1)
	}
}

// column is the first whose middle lies at x or east of it, at most Width.
func (s *scan) column(x float64) int {
	return s.clamp(math.Ceil((x-s.g.West)/s.g.Pixel-0.5), s.g.Width)
}

// clamp brings a column or row into 0 to n; what is not a number is 0.
func (s *scan) clamp(v float64, n int) int {
	if !(v > 0) {
		return 0
	}
	return int(min(v, float64(n)))
}

// fill gives the pixels of the marked shape their index in out, unless an
// earlier one has them, and clears the marks.
func (s *scan) fill(out []int32, index int32) {
	for row := s.top; row < s.bottom; row++ {
		marks := s.marks[row*s.g.Width+s.left : row*s.g.Width+s.right]
		pixels := out[row*s.g.Width+s.left:]
		var inside uint8
		for i, m := range marks {
			inside ^= m & crossed
			marks[i] = 0
			switch {
			case pixels[i] != -1:
			case m&doubtful != 0:
				pixels[i] = unsure
			case inside != 0:
				pixels[i] = index
			}
		}
	}
}

// Unit is a sampling unit with the figure of its composite. A composite that
// brought its own coordinates has no Shape.
type Unit struct {
	Sample
	Shape plane.Shape
	// Number of the sampling unit, 0 when there is none. Composites of one
	// number share its ground.
	Number int
}

// Steps is the surface without interpolation: each pixel has the figure of the
// unit that its middle lies in or, where the units have no shapes, of the
// nearest composite of its division. Several composites of one unit give their
// mean. It is what is left to draw on where a surface is not supported. A pixel
// in no unit has no value.
func Steps(g raster.Geometry, division []int32, units []Unit) *raster.Grid {
	inside := make([]*plane.Locator, len(units))
	values := unitMeans(units)
	shaped := false
	for i, u := range units {
		if !u.Shape.Empty() {
			inside[i] = plane.NewLocator(u.Shape)
			shaped = true
		}
	}
	grid := raster.New(g)
	for i, d := range division {
		if d < 0 {
			continue
		}
		x, y := grid.Center(i%grid.Width, i/grid.Width)
		p := plane.XY{x, y}
		nearest := -1.0
		for k, u := range units {
			if int32(u.Division) != d {
				continue
			}
			if shaped {
				if inside[k] != nil && inside[k].Contains(p) {
					grid.Data[i] = float32(values[k])
					break
				}
				continue
			}
			if off := u.At.Distance(p); nearest < 0 || off < nearest {
				nearest, grid.Data[i] = off, float32(u.Value)
			}
		}
	}
	return grid
}

// unitMeans returns for each composite the mean of those that share its ground.
func unitMeans(units []Unit) []float64 {
	type sum struct{ value, n float64 }
	sums := map[int]sum{}
	for _, u := range units {
		s := sums[u.Number]
		sums[u.Number] = sum{s.value + u.Value, s.n + 1}
	}
	out := make([]float64, len(units))
	for i, u := range units {
		out[i] = u.Value
		if s := sums[u.Number]; u.Number > 0 {
			out[i] = s.value / s.n
		}
	}
	return out
}
