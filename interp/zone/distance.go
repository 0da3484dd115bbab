package zone

import (
	"math"

	"corewalk/geo/plane"
)

// Distances are measured on the middles, the corners and the middles of the
// sides of pixels, row by row from the north-west: a lattice of half pixels,
// with two more places than twice the pixels. Of all places on the sides of a
// pixel, one of that lattice is nearest to any other place of it; so its
// distances are exact. They are squares, in half pixels.

// far is farther than any distance.
const far = math.MaxInt32 / 2

// halfway returns where a place of the lattice lies.
func (g *Grounds) halfway(i int32) plane.XY {
	wide := int32(2*g.frame.Width + 1)
	half := g.frame.Pixel / 2
	return plane.XY{g.frame.West + float64(float64(i%wide)*half), g.frame.North - float64(float64(i/wide)*half)}
}

// distances puts into out the distance of each place to the nearest line between
// pixels of another kind, if it is less than most, and no less than that
// otherwise. Beyond the raster all is of the kind -1.
func (g *Grounds) distances(out []int32, most int32, kind func(px int) int64) {
	w, h := g.frame.Width, g.frame.Height
	wide := 2*w + 1
	for i := range out {
		out[i] = far
	}
	mark := func(i, step int) { out[i], out[i+step], out[i+2*step] = 0, 0, 0 }
	above, row := make([]int64, w), make([]int64, w)
	for i := range above {
		above[i] = -1
	}
	for r := range h + 1 {
		left := int64(-1)
		for c := range w {
			k := int64(-1)
			if r < h {
				k = kind(r*w + c)
			}
			row[c] = k
			at := 2*r*wide + 2*c
			if k != above[c] {
				mark(at, 1)
			}
			if k != left && r < h {
				mark(at, wide)
			}
			left = k
		}
		if left != -1 && r < h {
			mark(2*r*wide+2*w, wide)
		}
		above, row = row, above
	}
	g.spreadDistances(out, most)
}

// places returns room for a figure of each place.
func (g *Grounds) places() []int32 { return make([]int32, (2*g.frame.Width+1)*(2*g.frame.Height+1)) }

// spreadDistances makes of places with 0, and far elsewhere, the distance to the
// nearest 0, as distances does: down the columns, then along the rows, each of which is the lower
// envelope of parabolas (Felzenszwalb and Huttenlocher 2012,
// doi:10.4086/toc.2012.v008a019).
func (g *Grounds) spreadDistances(d []int32, most int32) {
	wide, high := 2*g.frame.Width+1, 2*g.frame.Height+1
	for i := wide; i < len(d); i++ {
		d[i] = min(d[i], d[i-wide]+1)
	}
	for i := len(d) - wide - 1; i >= 0; i-- {
		d[i] = min(d[i], d[i+wide]+1)
	}
	apex, from, of := make([]int32, wide), make([]int32, wide), make([]int64, wide)
	for r := range high {
		row := d[r*wide : (r+1)*wide]
		n := 0
		for x, v := range row {
			f := int64(v) * int64(v)
			if f >= int64(most) {
				row[x] = far
				continue
			}
			start := int32(0)
			for ; n > 0; n-- {
				// The first place at which the new one is nearer than the last.
				p := int64(apex[n-1])
				s := f + int64(x)*int64(x) - of[n-1] - p*p
				if apart := int64(x) - p; apart == 1 { // by far the most frequent
					s = s>>1 + 1
				} else {
					s = floorDiv(s, 2*apart) + 1
				}
				if s > int64(from[n-1]) {
					start = int32(min(s, int64(wide)))
					break
				}
			}
			if start < int32(wide) {
				apex[n], from[n], of[n] = int32(x), start, f
				n++
			}
		}
		for k := range n {
			end := int32(wide)
			if k+1 < n {
				end = from[k+1]
			}
			for x := from[k]; x < end; x++ {
				dx := int64(x - apex[k])
				row[x] = int32(min(dx*dx+of[k], far))
			}
		}
	}
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// leastAround returns the least distance of the nine places of a pixel.
func (g *Grounds) leastAround(d []int32, px int) int32 {
	wide := 2*g.frame.Width + 1
	at := px/g.frame.Width*2*wide + px%g.frame.Width*2
	least := int32(far)
	for range 3 {
		least = min(least, d[at], d[at+1], d[at+2])
		at += wide
	}
	return least
}
