package zone

import (
	"fmt"

	"github.com/paulmach/orb"

	"corewalk/geo/raster"
)

// Outline is one connected set of pixels of a class.
type Outline struct {
	Class   int32
	Polygon orb.Polygon // in metres, along the sides of the pixels
}

// Outlines draws the classes of all pixels of a raster, row by row from the
// north-west, whatever ground they lie on; those of class -1 are left out. Pixels
// that share an edge belong together; those that touch at a corner do not. Rings
// have a vertex at every turn and nowhere else; the first goes
// counter-clockwise, and holes clockwise. The outlines stand in the order of
// their first pixels.
//
// Where a set meets itself at a corner, the ring turns to the other pixel. Since
// the set is connected by edges, the ground on the two other sides of such a
// corner is not; so no ring comes by a corner twice.
func Outlines(g raster.Geometry, class []int32) ([]Outline, error) {
	f, err := newFrame(g)
	if err != nil {
		return nil, err
	}
	if len(class) != g.Width*g.Height {
		return nil, fmt.Errorf("surface of %d pixels: classes are given for %d", g.Width*g.Height, len(class))
	}
	t := &outliner{x: f.x[margin:], y: f.y[margin:], width: g.Width + 2}
	first := t.label(class, g.Width, g.Height)
	t.trace(g.Width, g.Height)
	return t.polygons(class, first), nil
}

// outliner draws sets of pixels. Its pixels have a margin of one round the
// raster, which is in no set.
type outliner struct {
	x, y  []float64 // of the lines between pixels
	width int
	set   []int32 // of each pixel, from 1; 0: none
	drawn []bool  // the south side of the pixel is in a ring
	rings []tracedRing
	free  []orb.Point // for rings to come
}

type tracedRing struct {
	set   int32
	shell bool
	ring  orb.Ring
}

// label finds the connected sets and returns the first pixel of each, beginning
// with set 1.
func (t *outliner) label(class []int32, width, height int) []int {
	t.set = make([]int32, t.width*(height+2))
	up := sets{0}
	for row := range height {
		at := (row+1)*t.width + 1
		line := class[row*width : (row+1)*width]
		here, north := t.set[at:at+width], t.set[at-t.width:at-t.width+width]
		var above []int32
		if row > 0 {
			above = class[(row-1)*width : row*width]
		}
		last, set := int32(-1), int32(0)
		for col, c := range line {
			if c < 0 {
				last, set = -1, 0
				continue
			}
			if same := row > 0 && above[col] == c; c != last {
				if same {
					set = north[col]
				} else {
					set = int32(len(up))
					up = append(up, set)
				}
				last = c
			} else if same && north[col] != set {
				set = up.unite(set, north[col])
			}
			here[col] = set
		}
	}
	// Numbers without gaps: the root of a set is its least, and comes first.
	n := int32(0)
	for i, u := range up[1:] {
		if u == int32(i+1) {
			n++
			up[i+1] = n
		} else {
			up[i+1] = up[u]
		}
	}
	first := make([]int, n)
	found := int32(0)
	for row := range height {
		at := (row+1)*t.width + 1
		for col, s := range t.set[at : at+width] {
			s = up[s]
			t.set[at+col] = s
			if s > found {
				found = s
				first[s-1] = row*width + col
			}
		}
	}
	return first
}

// trace follows the rings of all sets, with the set on the left. Headings are
// east, north, west, south; a corner is known by the pixel to its south-east.
func (t *outliner) trace(width, height int) {
	w, set := t.width, t.set
	t.drawn = make([]bool, len(set))
	step := [4]int{1, -w, -1, w}
	left, right := [4]int{-w, -w - 1, -1, 0}, [4]int{0, -w, -w - 1, -1}
	var ring []orb.Point
	for row := range height {
		for px := (row+1)*w + 1; px <= (row+1)*w+width; px++ {
			name := set[px]
			if name == 0 || set[px+w] == name || t.drawn[px] {
				continue
			}
			// Along the south side to the east.
			at, heading := px+w, 0
			x, y := px-(row+1)*w-1, row+1
			area := 0
			ring = ring[:0]
			for {
				from := at
				s, l, r := step[heading], left[heading], right[heading]
				for {
					if heading == 0 {
						t.drawn[at-w] = true
					}
					at += s
					if set[at+r] == name || set[at+l] != name {
						break
					}
				}
				switch heading {
				case 0:
					x += at - from
				case 1:
					n := (from - at) / w
					y -= n
					area += x * n
				case 2:
					x -= from - at
				case 3:
					n := (at - from) / w
					y += n
					area -= x * n
				}
				ring = append(ring, orb.Point{t.x[x], t.y[y]})
				if set[at+r] == name {
					heading = (heading + 3) % 4
				} else {
					heading = (heading + 1) % 4
				}
				// The pixels to the west were looked at before, so that a ring begins
				// with a vertex, and ends where it is drawn already.
				if heading == 0 && t.drawn[at-w] {
					break
				}
			}
			t.rings = append(t.rings, tracedRing{name, area > 0, t.keep(ring)})
		}
	}
}

// keep closes a ring, and copies it out of the way.
func (t *outliner) keep(ring []orb.Point) orb.Ring {
	n := len(ring) + 1
	if n > len(t.free) {
		t.free = make([]orb.Point, max(n, 1<<14))
	}
	out := t.free[:n:n]
	t.free = t.free[n:]
	copy(out, ring)
	out[n-1] = ring[0]
	return out
}

// polygons gives the rings to their sets.
func (t *outliner) polygons(class []int32, first []int) []Outline {
	start := make([]int, len(first)+1)
	for i := range t.rings {
		start[t.rings[i].set]++
	}
	for i := range first {
		start[i+1] += start[i]
	}
	all := make(orb.Polygon, len(t.rings))
	next := make([]int, len(first))
	for i := range t.rings {
		r := &t.rings[i]
		at := start[r.set-1]
		if !r.shell {
			next[r.set-1]++
			at += next[r.set-1]
		}
		all[at] = r.ring
	}
	out := make([]Outline, len(first))
	for i, px := range first {
		out[i] = Outline{class[px], all[start[i]:start[i+1]:start[i+1]]}
	}
	return out
}
