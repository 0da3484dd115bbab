package walk

import (
	"corewalk/geo/plane"
)

// Order is a walk through groups of stops.
type Order struct {
	// Groups are the numbers of the groups in the order in which they are
	// walked; those without stops come last, in order of number.
	Groups []int
	// Stops holds for each group, by its own number and not by its turn, the
	// numbers of its stops within it in the order in which they are walked:
	// the walk is groups[g][Stops[g][0]], ... for each g of Groups in turn.
	Stops [][]int
	// Metres is the length of the walk, the way from the start to the first
	// stop included, round obstacles where there are any (as Ground.Distance).
	Metres float64
}

// Shortest puts groups of stops in an order that makes a short open walk from
// start or, with start nil, from whichever stop suits. The stops of one group
// (the cores of a sampling unit) are taken one after another, never mixed with
// those of another. A nil ground has no obstacles. A stop that is at no finite
// place counts as being where the first is that is at one.
//
// The walk is at most as long as that of always going on to the nearest stop
// left, which it begins as. (Among more than 1500 stops nearest is meant as the
// crow flies, and so are legs many times longer than between neighbours, for the
// sake of time; only Metres is then of ways round obstacles throughout.) It is
// then changed while that shortens it: stretches are turned round, up to three in
// a chain (Lin and Kernighan 1973, doi:10.1287/opre.21.2.498), and short ones
// moved elsewhere (Or-opt: Or 1976), stops within their group and groups as
// wholes.
// Last it is disturbed at random in one neighbourhood after another, mended the
// same way, and kept where no longer, or at first a little longer (iterated local search with the double
// bridge: Martin, Otto and Felten 1991); the random numbers are the same every
// time. Sources from memory.
func Shortest(g *Ground, start *plane.XY, groups [][]plane.XY) Order {
	o := Order{Groups: make([]int, 0, len(groups)), Stops: make([][]int, len(groups))}
	t := newTour(g, start, groups)
	if len(t.stops) > t.base {
		t.nearest()
		t.shorten()
		t.disturb()
	}
	seen := make([]bool, len(groups))
	for k, stop := range t.order {
		if k < t.base {
			continue
		}
		group := t.group[stop]
		if !seen[group] {
			seen[group] = true
			o.Groups = append(o.Groups, int(group))
			o.Stops[group] = make([]int, 0, len(groups[group]))
		}
		o.Stops[group] = append(o.Stops[group], int(stop-t.firstOf[group]))
		if k > 0 {
			o.Metres += g.Distance(t.stops[t.order[k-1]], t.stops[stop])
		}
	}
	for group, stops := range groups {
		if len(stops) == 0 {
			o.Groups = append(o.Groups, group)
			o.Stops[group] = []int{}
		}
	}
	return o
}
