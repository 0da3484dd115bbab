package interp

import (
	"fmt"
	"maps"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"corewalk/geo/raster"
)

// Surface interpolates at the middle of every pixel of g. division gives the
// division of each pixel, row by row from the north-west, -1 for a pixel
// outside all of them; such a pixel, and one of a division without a sample,
// or without one within the radius, has no value. workers is the number of
// goroutines, 0 for one per processor; the bytes are the same for any number.
func (m *Model) Surface(g raster.Geometry, division []int32, workers int) (*raster.Grid, error) {
	grids, err := SurfaceAll([]*Model{m}, g, division, workers)
	if err != nil {
		return nil, err
	}
	return grids[0], nil
}

// SurfaceAll returns the surfaces of several models, in their order, bit for
// bit those that each alone gives. Models with the same places and settings
// share the search for neighbours and the weights.
func SurfaceAll(models []*Model, g raster.Geometry, division []int32, workers int) ([]*raster.Grid, error) {
	if err := checkRaster(g, division); err != nil {
		return nil, err
	}
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	grids := make([]*raster.Grid, len(models))
	for i, m := range models {
		if grids[i] != nil {
			continue
		}
		var like []*Model
		var theirs []*raster.Grid
		for j := i; j < len(models); j++ {
			if grids[j] == nil && m.like(models[j]) {
				grids[j] = &raster.Grid{Geometry: g, Data: make([]float32, len(division))}
				like, theirs = append(like, models[j]), append(theirs, grids[j])
			}
		}
		paint(like, theirs, division, workers)
	}
	return grids, nil
}

// like reports whether the models have the same settings and places.
func (m *Model) like(o *Model) bool {
	return m.idw == o.idw && maps.Equal(m.byIndex, o.byIndex) && slices.EqualFunc(m.divisions, o.divisions, func(a, b division) bool {
		return slices.Equal(a.x, b.x) && slices.Equal(a.y, b.y)
	})
}

// paint fills the grids of models that are alike.
func paint(models []*Model, grids []*raster.Grid, division []int32, workers int) {
	var tiles []block
	block{0, 0, grids[0].Width, grids[0].Height}.parts(tileSide, func(tile block) { tiles = append(tiles, tile) })
	var next atomic.Int64
	work := func() {
		b := newBrush(models, grids, division)
		for i := int(next.Add(1)) - 1; i < len(tiles); i = int(next.Add(1)) - 1 {
			b.paint(tiles[i])
		}
	}
	workers = min(workers, len(tiles))
	if workers == 1 {
		work()
		return
	}
	var done sync.WaitGroup
	for range workers {
		done.Go(work)
	}
	done.Wait()
}

// checkRaster refuses a raster that does not fit its divisions, or lies on no
// map.
func checkRaster(g raster.Geometry, division []int32) error {
	if g.Width <= 0 || g.Height <= 0 || g.Width > math.MaxInt/g.Height || len(division) != g.Width*g.Height {
		return fmt.Errorf("surface of %d columns and %d rows: divisions are given for %d pixels", g.Width, g.Height, len(division))
	}
	west, north := g.Center(0, 0)
	east, south := g.Center(g.Width-1, g.Height-1)
	for _, v := range [...]float64{west, north, east, south} {
		if !(g.Pixel > 0 && math.Abs(v) <= farthest) {
			return fmt.Errorf("surface at %g, %g with a pixel of %g m does not lie on the map", g.West, g.North, g.Pixel)
		}
	}
	return nil
}
