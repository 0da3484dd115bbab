package interp

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"corewalk/geo/raster"
)

// StandardError names the band of a kriged surface with the kriging standard
// errors, in the unit of the figures.
const StandardError = "standard error"

// Surface kriges at the middle of every pixel of g, with the standard errors as
// the one further band. division gives the division of each pixel, row by row
// from the north-west, -1 for a pixel outside all of them; such a pixel, and one
// of a division without a sample, or without one within the radius, has no
// value in either band. workers is the number of goroutines, 0 for one per
// processor; the bytes are the same for any number. With 1 the caller's is the
// only one.
func (m *KrigingModel) Surface(g raster.Geometry, division []int32, workers int) (*raster.Grid, error) {
	if err := checkRaster(g, division); err != nil {
		return nil, err
	}
	grid := &raster.Grid{Geometry: g, Data: make([]float32, len(division))}
	errs := make([]float32, len(division))
	grid.More = []raster.Band{{Name: StandardError, Data: errs}}
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	rows := func() {
		s := &krigingScratch{}
		for row := int(next.Add(1)) - 1; row < g.Height; row = int(next.Add(1)) - 1 {
			m.row(grid, errs, division, row, s)
		}
	}
	if workers == 1 {
		rows()
		return grid, nil
	}
	var done sync.WaitGroup
	for range min(workers, g.Height) {
		done.Go(rows)
	}
	done.Wait()
	return grid, nil
}

// row fills one row of both bands.
func (m *KrigingModel) row(grid *raster.Grid, errs []float32, division []int32, row int, s *krigingScratch) {
	first := row * grid.Width
	var waiting pixels
	index, d := int32(-1), (*kriged)(nil) // the division at hand: pixels lie in runs
	for col := range grid.Width {
		if at := division[first+col]; at != index {
			waiting.krige(d, grid, errs, s)
			index, d = at, nil
			if i, ok := m.byIndex[int(at)]; ok {
				d = &m.divisions[i]
			}
		}
		pixel := first + col
		grid.Data[pixel], errs[pixel] = raster.NoData, raster.NoData
		if d == nil {
			continue
		}
		x, y := grid.Center(col, row)
		if d.all == nil {
			if v, e, ok := m.neighbours(d, x, y, -1, s); ok {
				grid.Data[pixel], errs[pixel] = figure(v), float32(e)
			}
			continue
		}
		if i := d.datum(x, y); i >= 0 {
			grid.Data[pixel], errs[pixel] = figure(d.value[i]), 0
			continue
		}
		waiting.x[waiting.n], waiting.y[waiting.n], waiting.pixel[waiting.n] = x, y, pixel
		if waiting.n++; waiting.n == len(waiting.x) {
			waiting.krige(d, grid, errs, s)
		}
	}
	waiting.krige(d, grid, errs, s)
}

// figure is a value, by chance that of none a hair off it.
func figure(v float64) float32 {
	f := float32(v)
	if f == raster.NoData {
		return math.Nextafter32(f, 0)
	}
	return f
}

// pixels are up to four of one division: solved together they take little
// longer than one, and each has the same bits as alone.
type pixels struct {
	n     int
	x, y  [4]float64
	pixel [4]int
}

// krige fills the pixels from all places of the division, and forgets them.
func (p *pixels) krige(d *kriged, grid *raster.Grid, errs []float32, s *krigingScratch) {
	if p.n == 0 {
		return
	}
	for k := range s.v {
		s.v[k] = grown(s.v[k], len(d.x))
	}
	for k := range p.n {
		d.all.covariances.Between(s.v[k], p.x[k], p.y[k], d.x, d.y)
		grid.Data[p.pixel[k]] = figure(d.all.value(s.v[k]))
	}
	for k := p.n; k < len(s.v); k++ {
		clear(s.v[k])
	}
	d.all.forward4(&s.v)
	for k := range p.n {
		errs[p.pixel[k]] = float32(d.all.standardError(s.v[k]))
	}
	p.n = 0
}
