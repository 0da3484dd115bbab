package sampling

import (
	"cmp"
	"math"
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
// neighbour, then stretches turned round (2-opt) and short ones moved elsewhere
// (Or 1976) while that shortens the way.
func openWalk(stops []geo.XY) []int {
	w := walk{stops, nearestFirst(stops)}
	// Among very many stops only stretches up to a length are tried, so that the
	// work stays bounded.
	reach := max(50, 1_000_000/max(len(stops), 1))
	for range 50 {
		turned := w.turn(reach)
		if moved := w.move(reach); !turned && !moved {
			break
		}
	}
	return w.order
}

// nearestFirst walks always on to the nearest stop that is left.
func nearestFirst(stops []geo.XY) []int {
	order := make([]int, 0, len(stops))
	left := make([]int, len(stops))
	for i := range left {
		left[i] = i
	}
	for at := 0; len(left) > 0; {
		best := 0
		for k := range left {
			if squared(stops[left[k]], stops[at]) < squared(stops[left[best]], stops[at]) {
				best = k
			}
		}
		at = left[best]
		order = append(order, at)
		left = slices.Delete(left, best, best+1)
	}
	return order
}

// walk is an order of stops, the first of which stays.
type walk struct {
	stops []geo.XY
	order []int
}

// worth is the least gain in metres for which a walk is changed.
const worth = 1e-6

// d is the way between two places in the order, 0 beyond its end.
func (w walk) d(i, j int) float64 {
	if max(i, j) >= len(w.order) {
		return 0
	}
	return math.Sqrt(squared(w.stops[w.order[i]], w.stops[w.order[j]]))
}

// turn turns stretches round where that shortens the way.
func (w walk) turn(reach int) (shorter bool) {
	n := len(w.order)
	for i := 1; i < n-1; i++ {
		before := w.d(i-1, i)
		for j := i + 1; j < min(n, i+reach); j++ {
			if before+w.d(j, j+1)-w.d(i-1, j)-w.d(i, j+1) > worth {
				slices.Reverse(w.order[i : j+1])
				before = w.d(i-1, i)
				shorter = true
			}
		}
	}
	return shorter
}

// move puts stretches of up to three stops elsewhere where that shortens the
// way.
func (w walk) move(reach int) (shorter bool) {
	n := len(w.order)
	for length := 1; length <= 3; length++ {
		for i := 1; i+length <= n; i++ {
			last := i + length - 1
			saved := w.d(i-1, i) + w.d(last, last+1)
			if last+1 < n {
				saved -= w.d(i-1, last+1)
			}
			if saved <= worth {
				continue
			}
			for j := max(0, i-reach); j < min(n, i+reach); j++ {
				if j >= i-1 && j <= last {
					continue
				}
				straight := w.d(j, i) + w.d(last, j+1) - w.d(j, j+1)
				round := w.d(j, last) + w.d(i, j+1) - w.d(j, j+1)
				if saved-min(straight, round) <= worth {
					continue
				}
				if round < straight {
					slices.Reverse(w.order[i : last+1])
				}
				if j < i {
					rotate(w.order[j+1:last+1], i-j-1)
				} else {
					rotate(w.order[i:j+1], length)
				}
				shorter = true
				break
			}
		}
	}
	return shorter
}

// rotate brings the first k of a list to its end.
func rotate(list []int, k int) {
	slices.Reverse(list[:k])
	slices.Reverse(list[k:])
	slices.Reverse(list)
}
