package raster

// Geometry places a raster on the ground: square pixels, north up, row 0 the
// northernmost. Coordinates are metres in the projected system EPSG.
type Geometry struct {
	West, North   float64 // upper-left corner of the upper-left pixel, metres
	Pixel         float64 // side of a pixel, metres
	Width, Height int     // pixels
	EPSG          int     // code of the projected system
}

// Center returns the easting and northing in metres of the middle of the pixel
// in column col (from the west) and row row (from the north).
func (g Geometry) Center(col, row int) (x, y float64) {
	return g.West + (float64(col)+0.5)*g.Pixel, g.North - (float64(row)+0.5)*g.Pixel
}

// NoData marks a pixel without a value. It is exact in float32.
const NoData float32 = -9999

// Grid is a raster of one figure, and of others of the same pixels.
type Grid struct {
	Geometry
	Data []float32 // len = Width*Height, row by row from the north-west; NoData where there is no value
	// Name and Unit of the figure, and further figures of the same pixels.
	Name, Unit string
	More       []Band
	// Meta is written into the file as named items, in the order of the names.
	Meta map[string]string
}

// Band is a figure of the pixels of a grid, such as its standard error.
type Band struct {
	Name, Unit string
	Data       []float32 // as long as the grid's
}

func (g *Grid) bandCount() int { return 1 + len(g.More) }

// band returns figure i; 0 is that of the grid itself.
func (g *Grid) band(i int) Band {
	if i == 0 {
		return Band{Name: g.Name, Unit: g.Unit, Data: g.Data}
	}
	return g.More[i-1]
}
