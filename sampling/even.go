package sampling

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// evenCells cuts ground into cells of exactly one area, as many as full cells
// of the lattice come nearest to. Rows of the lattice are moved until each has
// the area of a whole number of cells, and within a row the lines across are,
// too. All edges keep the bearing of the lattice.
func evenCells(ground plane.Shape, l lattice, offset func(i, j int) (a, b float64)) ([]piece, error) {
	n := max(1, int(math.Round(ground.Area()/(l.side*l.side))))
	low, high := l.span(ground)
	// The ground in the coordinates of the lattice, where lines are level.
	level := make(plane.Shape, len(ground))
	for k, polygon := range ground {
		level[k] = make(orb.Polygon, len(polygon))
		for r, ring := range polygon {
			level[k][r] = make(orb.Ring, len(ring))
			for q, p := range ring {
				i, j := l.at(geo.XY(p))
				level[k][r][q] = orb.Point{i - low[0], j - low[1]}
			}
		}
	}
	height := high[1] - low[1]
	rows := min(n, max(1, int(math.Round(height))))
	// As many cells to a row as its share of the ground comes nearest to.
	sizes := make([]float64, rows)
	for r := range sizes {
		sizes[r] = below(level, 1, height*float64(r+1)/float64(rows)) - below(level, 1, height*float64(r)/float64(rows))
	}
	counts := slices.DeleteFunc(shares(sizes, n), func(k int) bool { return k == 0 })
	whole := below(level, 1, math.Inf(1))
	lines := []float64{0} // between rows
	crossings := make([][]float64, len(counts))
	done := 0
	for r, k := range counts {
		done += k
		next := height
		if done < n {
			next = levelAt(level, 1, whole*float64(done)/float64(n), height)
		}
		row := between(level, lines[r], next)
		width := high[0] - low[0]
		area := below(row, 0, math.Inf(1))
		crossings[r] = []float64{0}
		for c := 1; c < k; c++ {
			crossings[r] = append(crossings[r], levelAt(row, 0, area*float64(c)/float64(k), width))
		}
		crossings[r] = append(crossings[r], width)
		lines = append(lines, next)
	}
	clip := plane.NewClipper(ground)
	var cells []piece
	at := func(i, j float64) orb.Point { return orb.Point(l.corner(low[0]+i, low[1]+j)) }
	// The outermost lines stand off the ground, whose outline ends it.
	const room = 0.01
	for r := range counts {
		bottom, top := lines[r], lines[r+1]
		if r == 0 {
			bottom -= room
		}
		if r == len(counts)-1 {
			top += room
		}
		for c := 0; c+1 < len(crossings[r]); c++ {
			left, right := crossings[r][c], crossings[r][c+1]
			if c == 0 {
				left -= room
			}
			if c+2 == len(crossings[r]) {
				right += room
			}
			// Corners of the rows above and below stand in the edge, so that
			// neighbours share them to the bit.
			ring := orb.Ring{at(left, bottom)}
			if r > 0 {
				for _, x := range crossings[r-1] {
					if x > left && x < right {
						ring = append(ring, at(x, bottom))
					}
				}
			}
			ring = append(ring, at(right, bottom), at(right, top))
			if r+1 < len(crossings) {
				for _, x := range slices.Backward(crossings[r+1]) {
					if x > left && x < right {
						ring = append(ring, at(x, top))
					}
				}
			}
			ring = append(ring, at(left, top), ring[0])
			shape, err := clip.Intersect(plane.Shape{{ring}})
			if err != nil {
				return nil, err
			}
			if shape.Empty() {
				continue
			}
			a, b := offset(c, r)
			point := geo.XY(at(left+a*(right-left), bottom+b*(top-bottom)))
			cells = append(cells, piece{shape: shape, point: &point})
		}
	}
	return cells, nil
}

// between is the part of level ground from one line to another. It may have
// doubled edges, which carry no area.
func between(s plane.Shape, low, high float64) plane.Shape {
	var out plane.Shape
	for _, polygon := range s {
		var q orb.Polygon
		for _, ring := range polygon {
			q = append(q, half(half(ring, 1, high, 1), 1, low, -1))
		}
		out = append(out, q)
	}
	return out
}

// half is the part of a ring on one side of a line across an axis: below it
// with a sign of 1, above it with -1 (Sutherland and Hodgman 1974). Where the
// ring falls apart the pieces are joined by doubled edges along the line.
func half(ring orb.Ring, axis int, at, sign float64) orb.Ring {
	var out orb.Ring
	for i := 1; i < len(ring); i++ {
		p, q := ring[i-1], ring[i]
		a, b := sign*(p[axis]-at), sign*(q[axis]-at)
		if a <= 0 {
			out = append(out, p)
		}
		if a < 0 && b > 0 || a > 0 && b < 0 {
			t := a / (a - b)
			x := orb.Point{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1])}
			x[axis] = at
			out = append(out, x)
		}
	}
	if len(out) > 0 {
		out = append(out, out[0])
	}
	return out
}

// below is the area of level ground up to a line across an axis.
func below(s plane.Shape, axis int, at float64) (sum float64) {
	for _, polygon := range s {
		for _, ring := range polygon {
			sum += plane.SignedArea(half(ring, axis, at, 1))
		}
	}
	return sum
}

// levelAt is the line across an axis that has so much area below it.
func levelAt(s plane.Shape, axis int, area, high float64) float64 {
	low := 0.0
	for range 60 {
		middle := (low + high) / 2
		if below(s, axis, middle) < area {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}
