package interp

import "corewalk/geo/raster"

// Fill gives every pixel of a division without a value that of the nearest one
// of the division that has one, by steps from pixel to pixel; of equally near
// ones the northern, then the western. A division without any value stays so.
func Fill(g *raster.Grid, division []int32) {
	var edge []int
	for i, v := range g.Data {
		if division[i] >= 0 && v != raster.NoData {
			edge = append(edge, i)
		}
	}
	if len(edge) == len(g.Data) {
		return
	}
	for len(edge) > 0 {
		var next []int
		for _, i := range edge {
			col, row := i%g.Width, i/g.Width
			for _, step := range [4][2]int{{0, -1}, {-1, 0}, {1, 0}, {0, 1}} {
				c, r := col+step[0], row+step[1]
				if c < 0 || r < 0 || c >= g.Width || r >= g.Height {
					continue
				}
				if k := r*g.Width + c; division[k] == division[i] && g.Data[k] == raster.NoData {
					g.Data[k] = g.Data[i]
					next = append(next, k)
				}
			}
		}
		edge = next
	}
}
