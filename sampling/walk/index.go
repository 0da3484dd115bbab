package walk

import (
	"cmp"
	"math/bits"
	"slices"

	"corewalk/geo/plane"
)

// box is an upright rectangle in metres.
type box struct{ x0, y0, x1, y1 float64 }

func boxOf(a, b plane.XY) box {
	return box{min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])}
}

func (b box) with(c box) box {
	return box{min(b.x0, c.x0), min(b.y0, c.y0), max(b.x1, c.x1), max(b.y1, c.y1)}
}

func (b *box) meets(c box) bool {
	return b.x0 <= c.x1 && c.x0 <= b.x1 && b.y0 <= c.y1 && c.y0 <= b.y1
}

// index is a tree of boxes over a fixed list. Unlike an R-tree that is asked by
// box, it is asked by any test, so that a long slanting line opens only the
// boxes it runs through and not all that lie in its bound.
type index struct{ nodes []indexNode }

// indexNode has its lesser half right behind it, and its greater half at more;
// more is 0 for a leaf, which holds the items from first up to last.
type indexNode struct {
	box
	more, first, last int32
}

const leafSize = 4

// newIndex puts items in the order in which the tree holds them.
func newIndex[T any](items []T, bound func(*T) box) index {
	var ix index
	if len(items) == 0 {
		return ix
	}
	middles := make([]middle, len(items))
	for i := range items {
		b := bound(&items[i])
		middles[i] = middle{[2]float64{b.x0/2 + b.x1/2, b.y0/2 + b.y1/2}, int32(i)}
	}
	ix.nodes = make([]indexNode, 0, 2*len(items)/leafSize+1)
	ix.grow(middles, 0)
	before := slices.Clone(items)
	for k, m := range middles {
		items[k] = before[m.item]
	}
	// Boxes from the leaves up: what is below a node stands behind it.
	for k := len(ix.nodes) - 1; k >= 0; k-- {
		n := &ix.nodes[k]
		if n.more > 0 {
			n.box = ix.nodes[k+1].with(ix.nodes[n.more].box)
			continue
		}
		n.box = bound(&items[n.first])
		for i := range items[n.first+1 : n.last] {
			n.box = n.with(bound(&items[int(n.first)+1+i]))
		}
	}
	return ix
}

// middle is that of an item's box.
type middle struct {
	at   [2]float64
	item int32
}

func (ix *index) grow(m []middle, first int32) {
	at := len(ix.nodes)
	ix.nodes = append(ix.nodes, indexNode{first: first, last: first + int32(len(m))})
	if len(m) <= leafSize {
		return
	}
	lo, hi := m[0].at, m[0].at
	for i := range m {
		for k, v := range m[i].at {
			lo[k], hi[k] = min(lo[k], v), max(hi[k], v)
		}
	}
	axis := 0
	if hi[1]-lo[1] > hi[0]-lo[0] {
		axis = 1
	}
	half := len(m) / 2
	split(m, half, axis)
	ix.grow(m[:half], first)
	ix.nodes[at].more = int32(len(ix.nodes))
	ix.grow(m[half:], first+int32(half))
}

// split brings the k least along an axis to the front, by Hoare's quickselect
// (1961, doi:10.1145/366622.366647). Items at one place go by number.
func split(m []middle, k, axis int) {
	compare := func(a, b middle) int { return cmp.Or(cmp.Compare(a.at[axis], b.at[axis]), cmp.Compare(a.item, b.item)) }
	less := func(a, b *middle) bool {
		return a.at[axis] < b.at[axis] || (a.at[axis] == b.at[axis] && a.item < b.item)
	}
	for patience := 4 * bits.Len(uint(len(m))); len(m) > 16 && patience > 0; patience-- {
		a, b, c := m[0], m[len(m)/2], m[len(m)-1]
		pivot := median(a, b, c, less)
		i, j := 0, len(m)-1
		for i <= j {
			for less(&m[i], &pivot) {
				i++
			}
			for less(&pivot, &m[j]) {
				j--
			}
			if i <= j {
				m[i], m[j] = m[j], m[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			m = m[:j+1]
		case k >= i:
			m, k = m[i:], k-i
		default:
			return
		}
	}
	slices.SortFunc(m, compare) // few, or in an order that quickselect is slow on
}

// median returns the second of three.
func median(a, b, c middle, less func(a, b *middle) bool) middle {
	if less(&b, &a) {
		a, b = b, a
	}
	if less(&c, &a) {
		return a
	}
	if less(&c, &b) {
		return c
	}
	return b
}

// search visits the leaves whose boxes pass the test, until visit says no.
func (ix *index) search(test func(*box) bool, visit func(first, last int32) bool) {
	if len(ix.nodes) == 0 {
		return
	}
	var stack [64]int32 // halving 2^31 items goes no deeper
	depth := 1
	for depth > 0 {
		depth--
		at := stack[depth]
		n := &ix.nodes[at]
		if !test(&n.box) {
			continue
		}
		if n.more == 0 {
			if !visit(n.first, n.last) {
				return
			}
			continue
		}
		stack[depth], stack[depth+1] = n.more, at+1
		depth += 2
	}
}
