package interp

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"corewalk/geo/raster"
)

// Surface interpolates at the middle of every pixel of g. division gives the
// division of each pixel, row by row from the north-west, -1 for a pixel
// outside all of them; such a pixel, and one of a division without a sample,
// or without one within the radius, has no value. workers is the number of goroutines, 0 for one per processor;
// the bytes are the same for any number.
func (m *Model) Surface(g raster.Geometry, division []int32, workers int) (*raster.Grid, error) {
	if g.Width <= 0 || g.Height <= 0 || g.Width > math.MaxInt/g.Height || len(division) != g.Width*g.Height {
		return nil, fmt.Errorf("surface of %d columns and %d rows: divisions are given for %d pixels", g.Width, g.Height, len(division))
	}
	west, north := g.Center(0, 0)
	east, south := g.Center(g.Width-1, g.Height-1)
	for _, v := range [...]float64{west, north, east, south} {
		if !(g.Pixel > 0 && math.Abs(v) <= farthest) {
			return nil, fmt.Errorf("surface at %g, %g with a pixel of %g m does not lie on the map", g.West, g.North, g.Pixel)
		}
	}
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	most := 0
	for i := range m.divisions {
		most = max(most, len(m.divisions[i].x))
	}
	grid := &raster.Grid{Geometry: g, Data: make([]float32, len(division))}
	var next atomic.Int64
	var done sync.WaitGroup
	for range min(workers, g.Height) {
		done.Go(func() {
			s := m.idw.scratch(most)
			for row := int(next.Add(1)) - 1; row < g.Height; row = int(next.Add(1)) - 1 {
				m.row(grid, division, row, s)
			}
		})
	}
	done.Wait()
	return grid, nil
}

// row fills one row of the grid.
func (m *Model) row(grid *raster.Grid, division []int32, row int, s *scratch) {
	first := row * grid.Width
	index, found := int32(-1), -1 // the division at hand: pixels lie in runs
	for col := range grid.Width {
		if d := division[first+col]; d != index {
			index, found = d, -1
			if i, ok := m.byIndex[int(d)]; ok {
				found = i
			}
		}
		v := raster.NoData
		if found >= 0 {
			x, y := grid.Center(col, row)
			if at, ok := m.idw.at(&m.divisions[found], x, y, -1, s); ok {
				if v = float32(at); v == raster.NoData {
					v = math.Nextafter32(v, 0) // a value, by chance that of none
				}
			}
		}
		grid.Data[first+col] = v
	}
}
