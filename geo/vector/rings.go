package vector

import (
	"cmp"
	"errors"
	"slices"

	"github.com/paulmach/orb"
)

// ringWork is the budget of comparisons to spend on the rings of one record. A field
// cut out of a raster, with ten thousand holes in a shell of a hundred
// thousand vertices, stays below half of it.
const ringWork = 2e9

// groupRings sorts the closed rings of a shapefile record into polygons, each
// with its shell first.
//
// By the format, shells turn clockwise and holes the other way, and nothing
// says which hole belongs to which shell: it is the smallest that contains it.
// Files exist with all rings turned alike or all the wrong way; where the way
// they lie in each other shows that, it decides (a ring inside an odd number
// of rings is a hole). Polygons come in the order of their shells. When budget
// comparisons do not suffice it is an error.
func groupRings(rings []rawRing, budget float64) ([][]rawRing, []string, error) {
	if len(rings) == 0 {
		return nil, nil, nil
	}
	n, err := nest(rings, budget)
	if err != nil {
		return nil, nil, err
	}
	var note []string
	hole := make([]bool, len(rings))
	agree, reversed, nested := true, true, false
	for i := range rings {
		odd := n.depth[i]%2 == 1
		nested = nested || odd
		agree = agree && n.area[i] != 0 && (n.area[i] > 0) == odd
		reversed = reversed && n.area[i] != 0 && (n.area[i] < 0) == odd
		hole[i] = odd
	}
	alike := !slices.ContainsFunc(n.area, func(a float64) bool { return (a > 0) != (n.area[0] > 0) })
	switch {
	case agree:
	case reversed && !nested:
		note = append(note, "rings turn counter-clockwise, as holes do; taken as outlines")
	case reversed:
		note = append(note, "rings turn the wrong way; outlines and holes told by which lies in which")
	case alike:
		if nested {
			note = append(note, "rings all turn the same way; outlines and holes told by which lies in which")
		}
	default:
		for i := range rings {
			hole[i] = n.area[i] > 0
		}
	}

	polygon := make([]int, len(rings))
	var out [][]rawRing
	for i, r := range rings {
		if hole[i] && n.shell(i, hole) < 0 {
			note = append(note, "hole outside every outline; taken as an outline")
			hole[i] = false
		}
		if !hole[i] {
			polygon[i] = len(out)
			out = append(out, []rawRing{r})
		}
	}
	for i, r := range rings {
		if hole[i] {
			k := polygon[n.shell(i, hole)]
			out[k] = append(out[k], r)
		}
	}
	return out, note, nil
}

// nesting tells how rings lie in each other.
type nesting struct {
	area   []float64 // positive where a ring turns counter-clockwise
	parent []int     // the smallest ring around each, or -1
	depth  []int     // how many rings lie around each
}

// shell returns the smallest ring around ring i that is no hole, or -1.
func (n *nesting) shell(i int, hole []bool) int {
	for i = n.parent[i]; i >= 0 && hole[i]; {
		i = n.parent[i]
	}
	return i
}

func nest(rings []rawRing, budget float64) (*nesting, error) {
	n := &nesting{
		area:   make([]float64, len(rings)),
		parent: make([]int, len(rings)),
		depth:  make([]int, len(rings)),
	}
	boxes := make([]orb.Bound, len(rings))
	bySize := make([]int, len(rings)) // the largest first
	for i, r := range rings {
		n.area[i] = ringArea(r.points)
		boxes[i] = orb.Ring(r.points).Bound()
		bySize[i] = i
	}
	slices.SortStableFunc(bySize, func(a, b int) int {
		return cmp.Compare(abs(n.area[b]), abs(n.area[a]))
	})
	for at, i := range bySize {
		n.parent[i] = -1
		for k := at - 1; k >= 0; k-- {
			j := bySize[k]
			budget--
			if !covers(boxes[j], boxes[i]) {
				continue
			}
			if liesIn(rings[i].points, rings[j].points, &budget) {
				n.parent[i] = j
				n.depth[i] = n.depth[j] + 1
				break
			}
			if budget < 0 {
				break
			}
		}
		if budget < 0 {
			return nil, errors.New("too many rings in one record to sort out; split it into several features")
		}
	}
	return n, nil
}

func covers(a, b orb.Bound) bool {
	return a.Min[0] <= b.Min[0] && a.Min[1] <= b.Min[1] && a.Max[0] >= b.Max[0] && a.Max[1] >= b.Max[1]
}

func abs(x float64) float64 { return max(x, -x) }

// ringArea is the signed area of a closed ring in its own unit, positive where
// it turns counter-clockwise. It is taken about the first vertex, so that
// digits are not lost to large coordinates.
func ringArea(pts []orb.Point) float64 {
	sum := 0.0
	for i := 1; i < len(pts); i++ {
		ax, ay := pts[i-1][0]-pts[0][0], pts[i-1][1]-pts[0][1]
		bx, by := pts[i][0]-pts[0][0], pts[i][1]-pts[0][1]
		sum += ax*by - bx*ay
	}
	return sum / 2
}

// liesIn reports whether ring a lies inside ring b, given that the rings do not
// cross. The first vertex of a, or failing that middle of an edge, that is not
// on b decides. Where all are on it the smaller lies in the larger, and a ring
// drawn twice does not lie in itself. The comparisons are taken off budget;
// when it is used up the answer means nothing.
func liesIn(a, b []orb.Point, budget *float64) bool {
	for _, p := range a[1:] {
		*budget -= float64(len(b))
		if side := sideOf(p, b); side != 0 || *budget < 0 {
			return side > 0
		}
	}
	for i := 1; i < len(a); i++ {
		mid := orb.Point{(a[i-1][0] + a[i][0]) / 2, (a[i-1][1] + a[i][1]) / 2}
		*budget -= float64(len(b))
		if side := sideOf(mid, b); side != 0 || *budget < 0 {
			return side > 0
		}
	}
	return abs(ringArea(a)) < abs(ringArea(b))
}

// sideOf is 1 where p lies inside the ring, -1 outside and 0 on it.
func sideOf(p orb.Point, ring []orb.Point) int {
	in := -1
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		if (a[1] > p[1]) == (b[1] > p[1]) {
			if a[1] == p[1] && b[1] == p[1] && min(a[0], b[0]) <= p[0] && p[0] <= max(a[0], b[0]) || b == p || a == p {
				return 0
			}
			continue
		}
		cross := (b[0]-a[0])*(p[1]-a[1]) - (p[0]-a[0])*(b[1]-a[1])
		if cross == 0 {
			return 0
		}
		if (cross > 0) == (b[1] > a[1]) {
			in = -in
		}
	}
	return in
}
