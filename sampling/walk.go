package sampling

import (
	"cmp"
	"slices"

	"corewalk/geo"
)

// orderUnits puts units into a short walk that begins in the south-west.
func orderUnits(units []*Unit) {
	if len(units) == 0 {
		return
	}
	slices.SortStableFunc(units, func(a, b *Unit) int {
		p, q := a.middle(), b.middle()
		return cmp.Compare(p[0]+p[1], q[0]+q[1])
	})
	stops := make([]geo.XY, len(units))
	for i, u := range units {
		stops[i] = u.middle()
	}
	reorder(units, openWalk(stops))
}

// orderCores puts the cores of a unit into a short walk that begins with the
// one nearest to from, numbers them, and returns where the walk ends.
func orderCores(cores []Core, from geo.XY) geo.XY {
	if len(cores) == 0 {
		return from
	}
	first := 0
	for i := range cores {
		if cores[i].At.Distance(from) < cores[first].At.Distance(from) {
			first = i
		}
	}
	cores[0], cores[first] = cores[first], cores[0]
	stops := make([]geo.XY, len(cores))
	for i, c := range cores {
		stops[i] = c.At
	}
	reorder(cores, openWalk(stops))
	for i := range cores {
		cores[i].Number = i + 1
	}
	return cores[len(cores)-1].At
}

func reorder[T any](list []T, order []int) {
	out := make([]T, len(list))
	for i, k := range order {
		out[i] = list[k]
	}
	copy(list, out)
}

// openWalk returns an order of the stops that begins with the first: nearest
// neighbour, then stretches reversed (2-opt) while that shortens the way.
func openWalk(stops []geo.XY) []int {
	n := len(stops)
	order := make([]int, 0, n)
	left := make([]int, n)
	for i := range left {
		left[i] = i
	}
	for at := 0; len(left) > 0; {
		best := 0
		for k := range left {
			if stops[left[k]].Distance(stops[at]) < stops[left[best]].Distance(stops[at]) {
				best = k
			}
		}
		at = left[best]
		order = append(order, at)
		left = slices.Delete(left, best, best+1)
	}
	d := func(i, j int) float64 { return stops[order[i]].Distance(stops[order[j]]) }
	// Among very many stops only stretches up to a length are tried, so that the
	// work stays bounded.
	reach := max(50, 4_000_000/max(n, 1))
	for range 50 {
		shorter := false
		for i := 1; i < n-1; i++ {
			for j := i + 1; j < min(n, i+reach); j++ {
				gain := d(i-1, i) - d(i-1, j)
				if j+1 < n {
					gain += d(j, j+1) - d(i, j+1)
				}
				if gain > 1e-6 {
					slices.Reverse(order[i : j+1])
					shorter = true
				}
			}
		}
		if !shorter {
			break
		}
	}
	return order
}
