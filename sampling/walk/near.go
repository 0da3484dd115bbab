package walk

import (
	"cmp"
	"math"
	"slices"

	"corewalk/geo/plane"
)

// cloud is a set of places from which the nearest are found, and which can be
// taken out one by one.
type cloud struct {
	index
	places []plane.XY
	ids    []int32 // of places, as the index holds them
	above  []int32 // of each node of the index, -1 for the first
	left   []int32 // of each node, the places under it not taken out
	leaf   []int32 // of each place
	gone   []bool  // by place
}

func newCloud(places []plane.XY) *cloud {
	c := &cloud{places: places, ids: make([]int32, len(places)), leaf: make([]int32, len(places)), gone: make([]bool, len(places))}
	for i := range c.ids {
		c.ids[i] = int32(i)
	}
	c.index = newIndex(c.ids, func(i *int32) box { return boxOf(places[*i], places[*i]) })
	c.above, c.left = make([]int32, len(c.nodes)), make([]int32, len(c.nodes))
	c.above[0] = -1
	c.restore()
	for k, n := range c.nodes {
		if n.more > 0 {
			c.above[k+1], c.above[n.more] = int32(k), int32(k)
			continue
		}
		for _, i := range c.ids[n.first:n.last] {
			c.leaf[i] = int32(k)
		}
	}
	return c
}

// restore puts all places back.
func (c *cloud) restore() {
	clear(c.gone)
	for k, n := range c.nodes {
		c.left[k] = n.last - n.first
	}
}

func (c *cloud) remove(i int32) {
	c.gone[i] = true
	for k := c.leaf[i]; k >= 0; k = c.above[k] {
		c.left[k]--
	}
}

// offSquared is the square of the distance of a place from a box.
func (b *box) offSquared(p plane.XY) float64 {
	dx, dy := max(b.x0-p[0], p[0]-b.x1, 0), max(b.y0-p[1], p[1]-b.y1, 0)
	return dx*dx + dy*dy
}

// visit shows the places left, nearer boxes first. show returns the square of
// the distance from which on nothing more is wanted.
func (c *cloud) visit(p plane.XY, show func(i int32) float64) {
	limit := math.Inf(1)
	type entry struct {
		node int32
		off  float64
	}
	var stack [64]entry
	depth := 1
	for depth > 0 {
		depth--
		at := stack[depth]
		if c.left[at.node] == 0 || at.off >= limit {
			continue
		}
		n := &c.nodes[at.node]
		if n.more == 0 {
			for _, i := range c.ids[n.first:n.last] {
				if !c.gone[i] {
					limit = show(i)
				}
			}
			continue
		}
		near, far := entry{at.node + 1, c.nodes[at.node+1].offSquared(p)}, entry{n.more, c.nodes[n.more].offSquared(p)}
		if far.off < near.off {
			near, far = far, near
		}
		stack[depth], stack[depth+1] = far, near
		depth += 2
	}
}

// nextTo returns the place left that is nearest to p, and -1 when none is left.
func (c *cloud) nextTo(p plane.XY) int32 {
	best, least := int32(-1), math.Inf(1)
	c.visit(p, func(i int32) float64 {
		dx, dy := c.places[i][0]-p[0], c.places[i][1]-p[1]
		if d := dx*dx + dy*dy; best < 0 || d < least {
			best, least = i, d
		}
		return least
	})
	return best
}

const (
	nearOwn   = 8   // neighbours in the same group
	nearOther = 7   // neighbours in other groups
	nearTries = 300 // places looked at for them, where there are many
)

// neighbour is a place some way off: the distance in metres or, while looking
// for it, its square.
type neighbour struct {
	off float64
	id  int32
}

func nearer(a, b neighbour) int { return cmp.Or(cmp.Compare(a.off, b.off), cmp.Compare(a.id, b.id)) }

// nearest is a list of at most most neighbours, the nearest first.
type nearest struct {
	list []neighbour
	most int
}

func (l *nearest) add(n neighbour) {
	if l.most == 0 || l.limit() < n.off {
		return
	}
	if len(l.list) == l.most {
		l.list = l.list[:l.most-1]
	}
	k, _ := slices.BinarySearchFunc(l.list, n, nearer)
	l.list = slices.Insert(l.list, k, n)
}

// limit is from where on a neighbour does not get in.
func (l *nearest) limit() float64 {
	if len(l.list) < l.most {
		return math.Inf(1)
	}
	if l.most == 0 {
		return 0
	}
	return l.list[l.most-1].off
}

// neighbours returns for every place some of those nearest to it, in its own
// group and in others, by distance.
func neighbours(c *cloud, group []int32, groups int) [][]neighbour {
	places := c.places
	size := make([]int, groups)
	for _, k := range group {
		size[k]++
	}
	mostTries := nearTries
	if len(places) <= tableStops {
		mostTries = len(places)
	}
	out := make([][]neighbour, len(places))
	ownRoom, otherRoom := make([]neighbour, 0, nearOwn+nearOther), make([]neighbour, 0, nearOther)
	for i, p := range places {
		mine := size[group[i]]
		own := nearest{ownRoom, min(nearOwn, mine-1)}
		other := nearest{otherRoom, min(nearOther, len(places)-mine)}
		tries := 0
		c.visit(p, func(k int32) float64 {
			if int(k) != i {
				dx, dy := places[k][0]-p[0], places[k][1]-p[1]
				n := neighbour{dx*dx + dy*dy, k}
				if group[k] == group[i] {
					own.add(n)
				} else {
					other.add(n)
				}
			}
			if tries++; tries >= mostTries {
				return 0
			}
			return max(own.limit(), other.limit())
		})
		for _, n := range other.list {
			k, _ := slices.BinarySearchFunc(own.list, n, nearer)
			own.list = slices.Insert(own.list, k, n)
		}
		out[i] = slices.Clone(own.list)
		for k := range out[i] {
			out[i][k].off = math.Sqrt(out[i][k].off)
		}
	}
	return out
}
