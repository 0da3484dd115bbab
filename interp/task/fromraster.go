package task

import (
	"cmp"
	"errors"
	"fmt"
	"math"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/raster"
)

// FromRaster makes a grid in degrees of a raster of rates in metres. A pixel of
// value v has the rate v*perUnit in mg/m² (KgPerHa for rates in kg/ha), rounded
// as Setpoint does; raster.NoData and NaN are 0.
//
// Every cell takes the pixel that its middle lies in (one on a side the pixel
// east or south of it), and cells outside the raster have 0. With fine 1, cells
// are as large as can be with no pixel lost: turned as the pixels may be, a cell
// set on the middle of a pixel lies within it, so that every pixel has the middle
// of at least one cell, and Grid.At the middle of a pixel is its rate. With
// pixels within 3 degrees of the frame's meridian, sides are 0.9 to 1 of a
// pixel's. A larger fine makes that many cells of one, along each side.
//
// Mass is that of the cells, which is not quite that of the pixels, as some
// pixels have more cells than others: with fine 1 some tenths of a percent, less
// the smoother the rates and the finer the cells.
//
// It fails for a raster that is empty, too large, in another system than the
// frame or at the rim of the map, and for rates that Setpoint refuses.
func FromRaster(r *raster.Grid, f geo.Frame, perUnit float64, fine int) (*Grid, error) {
	switch {
	case fine < 1 || fine > 100:
		return nil, fmt.Errorf("cells %d times as fine as the pixels: it must be 1 to 100", fine)
	case r == nil || r.Width < 1 || r.Height < 1:
		return nil, errors.New("raster without pixels: nothing to make a grid of")
	case r.Width > MaxCells || r.Height > MaxCells/r.Width:
		return nil, fmt.Errorf("raster of %d by %d pixels: take larger ones; a task file holds %d cells", r.Width, r.Height, MaxCells)
	case len(r.Data) != r.Width*r.Height:
		return nil, fmt.Errorf("raster of %d by %d pixels has %d values", r.Width, r.Height, len(r.Data))
	case r.EPSG != f.EPSG():
		return nil, fmt.Errorf("raster in EPSG:%d, frame in EPSG:%d: they must be the same", r.EPSG, f.EPSG())
	case !(r.Pixel > 0) || math.IsInf(r.Pixel, 0):
		return nil, fmt.Errorf("raster with pixels of %g m", r.Pixel)
	}
	setpoints, err := pixelSetpoints(r, perUnit)
	if err != nil {
		return nil, err
	}
	g, err := cover(r.Geometry, f, fine)
	if err != nil {
		return nil, fmt.Errorf("raster: %w", err)
	}
	g.Values = make([]int32, g.Columns*g.Rows)
	for row := range g.Rows {
		lat := g.South + (float64(row)+0.5)*g.CellNorth
		for col := range g.Columns {
			p, err := f.XY(crs.LonLat{g.West + (float64(col)+0.5)*g.CellEast, lat})
			if err != nil {
				return nil, fmt.Errorf("raster: %w", err)
			}
			x, y := math.Floor((p.X()-r.West)/r.Pixel), math.Floor((r.North-p.Y())/r.Pixel)
			if x >= 0 && x < float64(r.Width) && y >= 0 && y < float64(r.Height) {
				g.Values[row*g.Columns+col] = setpoints[int(y)*r.Width+int(x)]
			}
		}
	}
	return g, nil
}

func pixelSetpoints(r *raster.Grid, perUnit float64) ([]int32, error) {
	out := make([]int32, len(r.Data))
	for i, v := range r.Data {
		if v == raster.NoData || v != v {
			continue
		}
		s, err := Setpoint(float64(v) * perUnit)
		if err != nil {
			return nil, fmt.Errorf("raster, row %d, column %d: %w", i/r.Width+1, i%r.Width+1, err)
		}
		out[i] = s
	}
	return out, nil
}

// cover lays a grid without values over a raster.
func cover(r raster.Geometry, f geo.Frame, fine int) (*Grid, error) {
	width, height := float64(r.Width)*r.Pixel, float64(r.Height)*r.Pixel
	middle, err := f.LonLat(geo.XY{r.West + width/2, r.North - height/2})
	if err != nil {
		return nil, err
	}
	east, north, err := perDegree(f, middle)
	if err != nil {
		return nil, err
	}
	// A cell of one metre a side at the middle of the raster, in degrees.
	lon, lat := 1/math.Hypot(east[0], east[1]), 1/math.Hypot(north[0], north[1])
	// most is the longest side of the box in the raster round such a cell.
	most := 0.0
	for i := range 9 {
		p, err := f.LonLat(geo.XY{r.West + float64(i%3)*width/2, r.North - float64(i/3)*height/2})
		if err != nil {
			return nil, err
		}
		east, north, err := perDegree(f, p)
		if err != nil {
			return nil, err
		}
		for axis := range 2 {
			most = max(most, lon*math.Abs(east[axis])+lat*math.Abs(north[axis]))
		}
	}
	// What lies between the nine places differs by the square of the way over the
	// earth's radius, more towards the poles, where meridians draw together.
	way := math.Hypot(width, height) / crs.WGS84().A
	side := max(0.5, 1-100*way*way) * r.Pixel / most / float64(fine)
	g := &Grid{CellNorth: down9(side * lat), CellEast: down9(side * lon)}
	if g.CellNorth < minCell || g.CellEast < minCell {
		return nil, fmt.Errorf("pixels of %g m are too small for a task file", r.Pixel)
	}
	if g.CellNorth > 1 || g.CellEast > 1 {
		return nil, fmt.Errorf("pixels of %g m are too large for a task file, whose cells have at most a degree", r.Pixel)
	}
	return g, g.enclose(r, f)
}

// enclose sets the edges of g so that it covers r.
func (g *Grid) enclose(r raster.Geometry, f geo.Frame) error {
	west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	corner := func(col, row int) error {
		p, err := f.LonLat(geo.XY{r.West + float64(col)*r.Pixel, r.North - float64(row)*r.Pixel})
		west, east = min(west, p.Lon()), max(east, p.Lon())
		south, north = min(south, p.Lat()), max(north, p.Lat())
		return err
	}
	for col := range r.Width + 1 {
		if err := cmp.Or(corner(col, 0), corner(col, r.Height)); err != nil {
			return err
		}
	}
	for row := range r.Height + 1 {
		if err := cmp.Or(corner(0, row), corner(r.Width, row)); err != nil {
			return err
		}
	}
	if east-west > 180 {
		return errors.New("it lies across the 180th meridian, which the grid of a task file can't")
	}
	g.West, g.South = down9(west), down9(south)
	columns, rows := math.Ceil((east-g.West)/g.CellEast), math.Ceil((north-g.South)/g.CellNorth)
	if columns*rows > MaxCells {
		return fmt.Errorf("it needs %.0f by %.0f cells: take larger pixels; a task file holds %d", columns, rows, MaxCells)
	}
	g.Columns, g.Rows = int(columns), int(rows)
	return nil
}

// perDegree returns how far one goes in the frame, in metres per degree of
// longitude and of latitude.
func perDegree(f geo.Frame, p crs.LonLat) (east, north geo.XY, err error) {
	const h = 1e-5
	at := func(lon, lat float64) geo.XY {
		q, e := f.XY(crs.LonLat{p.Lon() + lon, p.Lat() + lat})
		err = cmp.Or(err, e)
		return q
	}
	e1, e0, n1, n0 := at(h, 0), at(-h, 0), at(0, h), at(0, -h)
	east = geo.XY{(e1[0] - e0[0]) / (2 * h), (e1[1] - e0[1]) / (2 * h)}
	north = geo.XY{(n1[0] - n0[0]) / (2 * h), (n1[1] - n0[1]) / (2 * h)}
	return east, north, err
}

// down9 rounds down to nine decimals.
func down9(x float64) float64 { return math.Floor(x*1e9) / 1e9 }
