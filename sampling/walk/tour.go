package walk

import (
	"math"
	"slices"

	"corewalk/geo/plane"
)

// tour is an order of stops in which those of a group stand together. The
// start, if given, is a stop as well: the last by number, in a group of its own,
// and first in the order, where it stays.
type tour struct {
	distances
	group   []int32 // by stop
	firstOf []int32 // by group: the number of its first stop, those of a group being numbered on
	size    []int32 // by group
	base    int     // from where on the order may be changed

	order []int32
	legs  []float64 // by place in the order: the way to it from the place before, 0 at both ends
	at    []int32   // by stop: its place in the order
	from  []int32   // by group: the place in the order where it begins

	worth float64       // the least gain in metres for which the walk is changed
	near  [][]neighbour // by stop; as the crow flies where there is no table
	reach int           // the longest stretch that is turned round

	own      *cloud // of the stops of ownGroup, while the order is first filled
	ownGroup int32

	dirty   []int32 // stops to be looked at, first in first out
	isDirty []bool
	turned  [][2]int32 // what was turned round since the last mark
}

func newTour(g *Ground, start *plane.XY, groups [][]plane.XY) *tour {
	t := &tour{}
	var stops []plane.XY
	for k, group := range groups {
		t.firstOf = append(t.firstOf, int32(len(stops)))
		t.size = append(t.size, int32(len(group)))
		for _, p := range group {
			stops, t.group = append(stops, p), append(t.group, int32(k))
		}
	}
	if start != nil {
		t.firstOf, t.size = append(t.firstOf, int32(len(stops))), append(t.size, 1)
		stops, t.group = append(stops, *start), append(t.group, int32(len(groups)))
		t.base = 1
	}
	t.distances = newDistances(g, stops)
	n := len(stops)
	// Far above the rounding of sums of distances, or changes could go in circles.
	t.worth = max(1e-7, 1e-12*settleDown(stops))
	t.order, t.at, t.from = make([]int32, 0, n), make([]int32, n), make([]int32, len(t.size))
	t.isDirty = make([]bool, n)
	// Turning costs as much as the stretch is long; in a long walk it is only
	// done to stretches that do not make it slow as the square of the stops.
	t.reach = max(1000, 25_000_000/max(n, 1))
	return t
}

// settleDown puts stops that are at no finite place where the first is that is
// at one, and returns how far apart the stops are.
func settleDown(stops []plane.XY) float64 {
	const far = 1e100 // the square of it is finite
	finite := func(p plane.XY) bool { return math.Abs(p[0]) < far && math.Abs(p[1]) < far }
	var home plane.XY
	if k := slices.IndexFunc(stops, finite); k >= 0 {
		home = stops[k]
	}
	b := boxOf(home, home)
	for i, p := range stops {
		if !finite(p) {
			stops[i] = home
		}
		b = b.with(boxOf(stops[i], stops[i]))
	}
	return math.Hypot(b.x1-b.x0, b.y1-b.y0)
}

// nearest fills the order by going always on to the nearest stop left, until
// a group is done within it. Without a start it begins in the south-west.
func (t *tour) nearest() {
	n := len(t.stops)
	var now int32
	if t.base == 1 {
		now = int32(n - 1)
	} else {
		b := boxOf(t.stops[0], t.stops[0])
		for _, p := range t.stops {
			b = b.with(boxOf(p, p))
		}
		off := func(p plane.XY) float64 { return (p[0] - b.x0) + (p[1] - b.y0) }
		for i, p := range t.stops {
			if off(p) < off(t.stops[now]) {
				now = int32(i)
			}
		}
	}
	all := newCloud(t.stops)
	next := t.nextByLooking
	if n > tableStops {
		next = func(now int32, gone []bool) int32 { return t.nextByCloud(all, now, gone) }
	}
	gone := make([]bool, n)
	for {
		gone[now] = true
		t.order = append(t.order, now)
		if len(t.order) == n {
			break
		}
		now = next(now, gone)
	}
	t.legs = make([]float64, n+1)
	for k, s := range t.order {
		t.at[s] = int32(k)
		if k > 0 {
			t.legs[k] = t.d(t.order[k-1], s)
		}
		if t.edge(k) {
			t.from[t.group[s]] = int32(k)
		}
	}
	all.restore()
	t.near = neighbours(all, t.group, len(t.size))
	for _, near := range t.near {
		if len(near) > 0 {
			t.far += farLegs * near[len(near)-1].off / float64(n)
		}
	}
	if t.table != nil {
		for i, near := range t.near {
			for k := range near {
				near[k].off = t.d(int32(i), near[k].id)
			}
			slices.SortFunc(near, nearer)
		}
	}
}

// nextByLooking looks at all stops; of equals it takes the first.
func (t *tour) nextByLooking(now int32, gone []bool) int32 {
	k := t.group[now]
	best := t.look(now, t.firstOf[k], t.firstOf[k]+t.size[k], gone)
	if best < 0 {
		best = t.look(now, 0, int32(len(t.stops)), gone)
	}
	return best
}

func (t *tour) look(now, first, last int32, gone []bool) int32 {
	best, least := int32(-1), 0.0
	for i := first; i < last; i++ {
		if gone[i] || best >= 0 && t.least(now, i) >= least {
			continue
		}
		if d := t.d(now, i); best < 0 || d < least {
			best, least = i, d
		}
	}
	return best
}

// manyInGroup is from how many stops on a group is worth a cloud of its own.
const manyInGroup = 100

// nextByCloud asks clouds of stops, that of all and one of the group at hand.
func (t *tour) nextByCloud(all *cloud, now int32, gone []bool) int32 {
	k := t.group[now]
	all.remove(now)
	if t.size[k] < manyInGroup {
		if next := t.look(now, t.firstOf[k], t.firstOf[k]+t.size[k], gone); next >= 0 {
			return next
		}
		return all.nextTo(t.stops[now])
	}
	if t.own == nil || t.ownGroup != k {
		t.own, t.ownGroup = newCloud(t.stops[t.firstOf[k]:t.firstOf[k]+t.size[k]]), k
	}
	t.own.remove(now - t.firstOf[k])
	if next := t.own.nextTo(t.stops[now]); next >= 0 {
		return t.firstOf[k] + next
	}
	return all.nextTo(t.stops[now])
}

// stop returns the stop at a place in the order, -1 beyond its ends.
func (t *tour) stop(k int) int32 {
	if k < 0 || k >= len(t.order) {
		return -1
	}
	return t.order[k]
}

// ends returns the places in the order where the group of the stop at k begins
// and ends.
func (t *tour) ends(k int) (first, last int) {
	g := t.group[t.order[k]]
	return int(t.from[g]), int(t.from[g]+t.size[g]) - 1
}

// edge reports whether a stretch can be cut off before place k without parting
// a group.
func (t *tour) edge(k int) bool {
	return k <= 0 || k >= len(t.order) || t.group[t.order[k-1]] != t.group[t.order[k]]
}

// turn turns the stretch from i to j round.
func (t *tour) turn(i, j int) {
	if i < j {
		t.reverse(i, j, t.d(t.stop(i-1), t.order[j]), t.d(t.order[i], t.stop(j+1)))
		t.turned = append(t.turned, [2]int32{int32(i), int32(j)})
	}
}

// reverse turns a stretch round and takes the new legs at its ends as given.
func (t *tour) reverse(i, j int, before, after float64) {
	order := t.order
	for l, r := i, j; l < r; l, r = l+1, r-1 {
		a, b := order[r], order[l]
		order[l], order[r] = a, b
		t.at[a], t.at[b] = int32(l), int32(r)
	}
	legs := t.legs[i+1 : j+1]
	for l, r := 0, len(legs)-1; l < r; l, r = l+1, r-1 {
		legs[l], legs[r] = legs[r], legs[l]
	}
	t.legs[i], t.legs[j+1] = before, after
	if t.group[order[i]] == t.group[order[j]] {
		return
	}
	for k := i; k <= j; k++ {
		if t.edge(k) {
			t.from[t.group[order[k]]] = int32(k)
		}
	}
}

// swap exchanges the neighbouring stretches from i up to j and from j up to k,
// turning either round if asked.
func (t *tour) swap(i, j, k int, turnFirst, turnSecond bool) {
	t.turn(i, k-1)
	m := i + k - j
	if !turnSecond {
		t.turn(i, m-1)
	}
	if !turnFirst {
		t.turn(m, k-1)
	}
	t.mark(i-1, i, m-1, m, k-1, k)
}

// mark puts the stops at some places on the list to be looked at.
func (t *tour) mark(places ...int) {
	for _, k := range places {
		if s := t.stop(k); s >= 0 && !t.isDirty[s] {
			t.isDirty[s] = true
			t.dirty = append(t.dirty, s)
		}
	}
}

// undo takes back what was turned last, down to so many turns.
func (t *tour) undo(to int) {
	for len(t.turned) > to {
		last := len(t.turned) - 1
		t.turn(int(t.turned[last][0]), int(t.turned[last][1]))
		t.turned = t.turned[:last]
	}
}
