package task

import (
	"math"

	"corewalk/geo/crs"
)

// Grid is a raster of rates in degrees: cells of equal size, north up.
type Grid struct {
	// South and West are the edges of the grid in degrees, written to 1e-9.
	South, West float64
	// CellNorth and CellEast are the sides of a cell in degrees, 1e-8 to 1,
	// written to the last bit.
	CellNorth, CellEast float64
	Columns, Rows       int
	// Values are the setpoints in mg/m², from west to east, row by row from the
	// south. Cells that are not to be treated have 0.
	Values []int32
	// Coded has cells written as codes of treatment zones (type 1), of which
	// there can be 255, instead of as rates (type 2).
	Coded bool
}

// MaxCells is the most cells that the grids of one file have together.
const MaxCells = 1 << 24

// At returns the setpoint in mg/m² of the cell that p lies in, and false
// outside. A side belongs to the cell north or east of it.
func (g *Grid) At(p crs.LonLat) (int32, bool) {
	col, row := math.Floor((p.Lon()-g.West)/g.CellEast), math.Floor((p.Lat()-g.South)/g.CellNorth)
	if !(col >= 0 && col < float64(g.Columns) && row >= 0 && row < float64(g.Rows)) {
		return 0, false
	}
	return g.Values[int(row)*g.Columns+int(col)], true
}

// CellArea returns the true area in m² of a cell in the given row, counted from
// the south: the integral over the WGS 84 ellipsoid between two parallels and
// two meridians (J. P. Snyder, Map projections: a working manual, USGS
// Professional Paper 1395, 1987, radii of curvature 4-18 and 4-20). Taken at
// three places (Gauss-Legendre), it is good to 1e-12 for cells up to a degree.
func (g *Grid) CellArea(row int) float64 {
	wgs := crs.WGS84()
	e2 := wgs.F * (2 - wgs.F)
	const rad = math.Pi / 180
	middle := (g.South + (float64(row)+0.5)*g.CellNorth) * rad
	half := g.CellNorth / 2 * rad
	strip := func(phi float64) float64 {
		s := math.Sin(phi)
		w := 1 - e2*s*s
		return wgs.A * wgs.A * (1 - e2) * math.Cos(phi) / (w * w)
	}
	off := half * math.Sqrt(0.6)
	sum := 8*strip(middle) + 5*(strip(middle-off)+strip(middle+off))
	return g.CellEast * rad * half * sum / 9
}

// Mass returns what the grid asks for in all, in kg: the sum over the cells of
// setpoint times true area.
func (g *Grid) Mass() float64 {
	var sum float64
	for row := range g.Rows {
		var inRow int64 // exact
		for _, v := range g.Values[row*g.Columns : (row+1)*g.Columns] {
			inRow += int64(v)
		}
		sum += float64(inRow) * g.CellArea(row)
	}
	return sum / 1e6
}
