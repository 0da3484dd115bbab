package interp

import (
	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// Mask returns for each pixel of g, row by row from the north-west, the index
// of the field's division that its middle lies in, -1 off the ground.
func Mask(f *geo.Field, g raster.Geometry) []int32 {
	out := make([]int32, g.Width*g.Height)
	w := f.NewWhereabouts()
	for row := range g.Height {
		for col := range g.Width {
			x, y := g.Center(col, row)
			out[row*g.Width+col] = int32(w.Division(plane.XY{x, y}))
		}
	}
	return out
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
