package raster

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
)

// WriteASCII writes the grid as an ESRI ASCII grid: a header of six lines with
// the lower-left corner, the pixel side in metres and the no-data value, then
// one line for each row from the north, every value with the digits that give
// the same float32 back. The format holds one figure, which is Data, and neither
// its name and unit nor the system nor Meta. It refuses the same grids
// as [WriteGeoTIFF], but for their Meta.
func WriteASCII(w io.Writer, g *Grid) error {
	if err := g.check(); err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	south := g.North - float64(float64(g.Height)*g.Pixel)
	fmt.Fprintf(out, "ncols %d\nnrows %d\nxllcorner %s\nyllcorner %s\ncellsize %s\nNODATA_value %s\n",
		g.Width, g.Height, number(g.West), number(south), number(g.Pixel), number(float64(NoData)))
	var b []byte
	for i, v := range g.Data {
		b = strconv.AppendFloat(b[:0], float64(v), 'g', -1, 32)
		if (i+1)%g.Width == 0 {
			b = append(b, '\n')
		} else {
			b = append(b, ' ')
		}
		if _, err := out.Write(b); err != nil {
			return fmt.Errorf("writing ascii grid: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("writing ascii grid: %w", err)
	}
	return nil
}
