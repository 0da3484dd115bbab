package raster

import "math"

// New returns a grid of the given geometry with NoData everywhere. A geometry
// without pixels, or with more than MaxPixels, gives a grid without values,
// which the writers refuse.
func New(geometry Geometry) *Grid {
	g := &Grid{Geometry: geometry}
	if geometry.Width <= 0 || geometry.Height <= 0 || geometry.Width > MaxPixels/geometry.Height {
		return g
	}
	g.Data = make([]float32, geometry.Width*geometry.Height)
	for i := range g.Data {
		g.Data[i] = NoData
	}
	return g
}

// At returns the value of the pixel in column col from the west and row row
// from the north, and NoData outside the grid.
func (g *Grid) At(col, row int) float32 {
	if col < 0 || col >= g.Width || row < 0 || row >= g.Height || row*g.Width+col >= len(g.Data) {
		return NoData
	}
	return g.Data[row*g.Width+col]
}

// Stats sums up the pixels that have a value, in the unit of the grid. All but
// Count are 0 when there are none.
type Stats struct {
	Count    int // pixels with a value
	Min, Max float64
	Mean     float64
	StdDev   float64 // of the pixels themselves: divided by Count, not Count-1
}

// Stats returns the summary of Data, without the pixels that hold NoData.
func (g *Grid) Stats() Stats { return g.band(0).Stats() }

// Stats returns the summary of the pixels that do not hold NoData.
func (b Band) Stats() Stats {
	var s Stats
	sum := 0.0
	for _, f := range b.Data {
		if f == NoData {
			continue
		}
		v := float64(f)
		if s.Count == 0 {
			s.Min, s.Max = v, v
		}
		s.Count++
		s.Min, s.Max = min(s.Min, v), max(s.Max, v)
		sum += v
	}
	if s.Count == 0 {
		return s
	}
	n := float64(s.Count)
	s.Mean = sum / n
	squares := 0.0
	for _, f := range b.Data {
		if f != NoData {
			d := float64(f) - s.Mean
			squares += float64(d * d) // the conversion bars a fused step, which would round otherwise
		}
	}
	s.StdDev = math.Sqrt(squares / n)
	return s
}
