package raster

import "math"

// maxTileSide is the largest side of a tile in pixels; TIFF asks for multiples
// of 16. It is that of GDAL's COG driver, whose validator asks for overviews
// above it (measured: 256 gives files 1% smaller in the same time).
const maxTileSide = 512

// level is a raster at one resolution of a file, cut into tiles.
type level struct {
	width, height         int
	tileWidth, tileHeight int
	across, down          int
	reduced               bool // an overview
	bands                 [][]float32
	// blocks are the compressed tiles as the file holds them: all of the first
	// band row by row, then those of the next.
	blocks [][]byte
}

// newLevel cuts a raster into tiles. Those of one raster are alike, and as
// small as their number allows: padding costs time and space (measured for 160
// by 160 pixels: a third of the time and 3% of the size against a tile of 256).
func newLevel(bands [][]float32, width, height int) level {
	l := level{width: width, height: height, bands: bands}
	l.across, l.tileWidth = tiling(width)
	l.down, l.tileHeight = tiling(height)
	l.blocks = make([][]byte, len(bands)*l.across*l.down)
	return l
}

// tiling returns how many tiles cover n pixels, and their side.
func tiling(n int) (count, side int) {
	count = (n-1)/maxTileSide + 1
	side = (n-1)/count + 1
	return count, (side + 15) / 16 * 16
}

// pyramid returns the grid and its overviews, the largest first.
func pyramid(g *Grid) []level {
	bands := [][]float32{g.Data}
	for _, b := range g.More {
		bands = append(bands, b.Data)
	}
	levels := []level{newLevel(bands, g.Width, g.Height)}
	for width, height := g.Width, g.Height; width > maxTileSide || height > maxTileSide; {
		smaller := make([][]float32, len(bands))
		for i, b := range bands {
			smaller[i] = halve(b, width, height)
		}
		bands, width, height = smaller, (width+1)/2, (height+1)/2
		l := newLevel(bands, width, height)
		l.reduced = true
		levels = append(levels, l)
	}
	return levels
}

// halve returns the means of the values of each 2 by 2 pixels.
func halve(data []float32, width, height int) []float32 {
	half := make([]float32, 0, (width+1)/2*((height+1)/2))
	for y := 0; y < height; y += 2 {
		north := data[y*width:][:width]
		south := data[min(y+1, height-1)*width:][:width]
		for x := 0; x < width; x += 2 {
			sum, n := 0.0, 0
			add := func(v float32) {
				if v != NoData {
					sum += float64(v)
					n++
				}
			}
			east := x+1 < width
			add(north[x])
			if east {
				add(north[x+1])
			}
			if y+1 < height {
				add(south[x])
				if east {
					add(south[x+1])
				}
			}
			half = append(half, mean(sum, n))
		}
	}
	return half
}

// mean returns NoData only where there is no value.
func mean(sum float64, n int) float32 {
	if n == 0 {
		return NoData
	}
	m := float32(sum / float64(n))
	if m == NoData {
		return math.Nextafter32(m, 0)
	}
	return m
}
