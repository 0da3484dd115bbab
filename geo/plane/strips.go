package plane

import (
	"cmp"
	"errors"
	"slices"

	"github.com/paulmach/orb"
)

// strips sorts items into level strips by the heights they span, so that those
// near a height are found without looking at the rest. An item stands in every
// strip it reaches into; there are so few strips that this takes little memory,
// however long the items are.
type strips struct {
	low, height float64
	start       []int32 // of each strip in item, and the end
	item        []int32
}

const maxStrips = 1 << 16

// newStrips sorts the items of order, which keep that order within a strip. All
// in all they stand in strips about room times more often than they are many.
func newStrips(order []int32, room float64, span func(i int32) (low, high float64)) strips {
	if len(order) == 0 {
		return strips{height: 1, start: []int32{0, 0}}
	}
	low, high := span(order[0])
	var sum float64
	for _, i := range order {
		lo, hi := span(i)
		low, high = min(low, lo), max(high, hi)
		sum += hi - lo
	}
	n := min(len(order)/2+1, maxStrips)
	if sum > 0 {
		n = max(1, min(n, int(room*float64(len(order))*(high-low)/sum)))
	}
	s := strips{low: low, height: max(high-low, 1e-9) / float64(n), start: make([]int32, n+1)}
	for _, i := range order {
		lo, hi := span(i)
		for k := s.at(lo); k <= s.at(hi); k++ {
			s.start[k+1]++
		}
	}
	for k := range n {
		s.start[k+1] += s.start[k]
	}
	s.item = make([]int32, s.start[n])
	fill := slices.Clone(s.start)
	for _, i := range order {
		lo, hi := span(i)
		for k := s.at(lo); k <= s.at(hi); k++ {
			s.item[fill[k]] = i
			fill[k]++
		}
	}
	return s
}

// at returns the strip of a height; the first or last beyond the ends.
func (s *strips) at(y float64) int {
	k := (y - s.low) / s.height
	if !(k > 0) { // nor a number
		return 0
	}
	return int(min(k, float64(len(s.start)-2)))
}

// of returns the items that reach into a strip.
func (s *strips) of(k int) []int32 { return s.item[s.start[k]:s.start[k+1]] }

// errTooTangled ends work that would take minutes.
var errTooTangled = errors.New("its rings are too tangled or too rough to be checked; simplify or redraw it")

// pairs calls f with every two boxes that share a place, once, until f returns
// false. It takes one off the budget for each look at two boxes.
func pairs(boxes []orb.Bound, budget *int, f func(i, j int32) bool) error {
	order := make([]int32, len(boxes))
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(i, j int32) int {
		return cmp.Or(cmp.Compare(boxes[i].Min[0], boxes[j].Min[0]), cmp.Compare(i, j))
	})
	s := newStrips(order, 3, func(i int32) (float64, float64) { return boxes[i].Min[1], boxes[i].Max[1] })
	for k := range len(s.start) - 1 {
		list := s.of(k)
		for n, i := range list {
			b := &boxes[i]
			for _, j := range list[n+1:] {
				c := &boxes[j]
				if c.Min[0] > b.Max[0] {
					break
				}
				*budget--
				if c.Min[1] > b.Max[1] || c.Max[1] < b.Min[1] {
					continue
				}
				// Two that meet in several strips are dealt with in the first.
				if s.at(max(b.Min[1], c.Min[1])) == k && !f(i, j) {
					return nil
				}
			}
			if *budget < 0 {
				return errTooTangled
			}
		}
	}
	return nil
}
