package visits

import (
	"github.com/tidwall/rtree"

	"corewalk/geo"
)

// nearestPairs matches places a with places b one to one: the nearest pair first,
// then the nearest of what is left, and so on up to the square reach2 of a
// distance. Of equally near pairs the one with the lower index into a is first,
// then the one with the lower index into b.
//
// Two places that are each other's nearest are a pair whatever happens elsewhere,
// so that it suffices to go from place to nearest place until two point at each
// other, as in the nearest-neighbour chains of cluster analysis (F. Murtagh, A
// survey of recent advances in hierarchical clustering algorithms, The Computer
// Journal 26, 1983, doi:10.1093/comjnl/26.4.354). That takes as many searches as
// there are places, however many of them lie within reach of each other.
func nearestPairs(a, b []geo.XY, reach2 float64) [][2]int {
	sides := [2]*side{newSide(a), newSide(b)}
	var pairs [][2]int
	var chain []int // of a, b, a, ... in turn
	for start := range a {
		if sides[0].open[start] {
			chain = append(chain, start)
		}
		for len(chain) > 0 {
			last := len(chain) - 1
			own, other := sides[last%2], sides[1-last%2]
			next, d, ok := other.nearest(own.at[chain[last]])
			switch {
			case !ok || d > reach2:
				own.close(chain[last])
				chain = chain[:last]
			case last > 0 && chain[last-1] == next:
				pair := [2]int{next, chain[last]}
				if last%2 == 0 {
					pair = [2]int{chain[last], next}
				}
				pairs = append(pairs, pair)
				own.close(chain[last])
				other.close(next)
				chain = chain[:last-1]
			default:
				chain = append(chain, next)
			}
		}
	}
	return pairs
}

// side holds the places of one side of a matching.
type side struct {
	at    []geo.XY
	open  []bool
	tree  rtree.RTreeG[int] // of the positions, as indices into ranks
	ranks [][]int           // indices of the places at one position, ascending, the first of them open
	rank  []int             // by place: index into ranks
}

func newSide(at []geo.XY) *side {
	s := &side{at: at, open: make([]bool, len(at)), rank: make([]int, len(at))}
	known := make(map[geo.XY]int, len(at))
	for i, p := range at {
		r, ok := known[p]
		if !ok {
			r = len(s.ranks)
			known[p] = r
			s.ranks = append(s.ranks, nil)
			s.tree.Insert(p, p, r)
		}
		s.ranks[r] = append(s.ranks[r], i)
		s.open[i], s.rank[i] = true, r
	}
	return s
}

// close takes a place out of the matching.
func (s *side) close(i int) {
	s.open[i] = false
	r := s.rank[i]
	for len(s.ranks[r]) > 0 && !s.open[s.ranks[r][0]] {
		s.ranks[r] = s.ranks[r][1:]
	}
	if len(s.ranks[r]) == 0 {
		s.tree.Delete(s.at[i], s.at[i], r)
	}
}

// nearest returns the open place nearest to p, that with the lowest index where
// several are equally near, and the square of its distance.
func (s *side) nearest(p geo.XY) (index int, d float64, ok bool) {
	s.tree.Nearby(
		func(lower, upper [2]float64, _ int, _ bool) float64 { return boxDistance2(p, lower, upper) },
		func(_, _ [2]float64, r int, found float64) bool {
			if ok && found > d {
				return false
			}
			if first := s.ranks[r][0]; !ok || first < index {
				index, d, ok = first, found, true
			}
			return true
		})
	return index, d, ok
}
