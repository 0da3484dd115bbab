package walk

import (
	"math/rand/v2"
	"slices"
)

// Rounds are a bargain: a field of 12 units of 10 cores takes 2 ms, and ten times
// the rounds would make its walk half a percent shorter. Where stops are few, a
// detour weighs more and a round costs less.
const (
	leastRounds   = 40
	fewRounds     = 300 // for hardly any stops, three fewer for each
	roundsPerStop = 0.3
	mostRounds    = 2_000
	stopWindow    = 30  // within how many stops of a group the walk is disturbed
	groupWindow   = 8   // and within how many groups
	heat          = 0.3 // how much longer it may get at first, in legs
)

// disturb exchanges two neighbouring stretches at random and mends the walk
// about them, over and over. It takes that back if the walk got longer by more
// than a bound that sinks to nothing, since what is a little worse often leads
// to what is better; the best walk is kept.
func (t *tour) disturb() {
	n := len(t.order) - t.base
	if n < 3 {
		return
	}
	r := rand.New(rand.NewPCG(1958, 1976))
	var leg float64
	for _, l := range t.legs {
		leg += l / float64(n)
	}
	best := slices.Clone(t.order)
	var longer, least float64 // than at first: the walk now, and the best
	rounds := min(mostRounds, max(leastRounds, fewRounds-3*n)+int(roundsPerStop*float64(n)))
	for round := range rounds {
		t.turned = t.turned[:0]
		at := t.base + r.IntN(n)
		change := t.kick(r, at)
		if near := t.near[t.order[at]]; r.IntN(2) == 0 {
			// Also near by, as where groups change places other stops in them
			// should come first and last.
			at = max(t.base, int(t.at[near[r.IntN(len(near))].id]))
			change += t.kick(r, at)
		}
		change -= t.settle()
		allowed := heat * leg * (1 - float64(round)/float64(rounds)) * r.Float64()
		switch {
		case longer+change < least-t.worth:
			longer += change
			least = longer
			best = append(best[:0], t.order...)
		case longer+change > least+allowed && change > 0:
			t.undo(0)
		default:
			longer += change
		}
	}
	if longer > least {
		copy(t.order, best)
	}
}

// kick exchanges two neighbouring stretches about a place in the order and
// returns how much longer that makes the walk.
func (t *tour) kick(r *rand.Rand, at int) float64 {
	i, j, k, ok := t.pick(r, at)
	if !ok {
		return 0
	}
	before := t.legs[i] + t.legs[j] + t.legs[k]
	t.swap(i, j, k, false, false)
	return t.legs[i] + t.legs[i+k-j] + t.legs[k] - before
}

// pick chooses two neighbouring stretches about a place, i up to j and j up to
// k: by equal chance of stops in a group or of whole groups.
func (t *tour) pick(r *rand.Rand, at int) (i, j, k int, ok bool) {
	first, last := t.ends(at)
	if r.IntN(2) == 0 && last > first {
		lo := max(first, min(at-r.IntN(stopWindow), last-1))
		hi := min(last+1, lo+stopWindow)
		i, j, k = three(r, lo, hi)
		return i, j, k, true
	}
	// The edges between groups within the window.
	var edges [groupWindow + 1]int
	for range r.IntN(groupWindow / 2) {
		if first <= t.base {
			break
		}
		first, _ = t.ends(first - 1)
	}
	n := 1
	for edges[0] = first; n <= groupWindow && edges[n-1] < len(t.order); n++ {
		_, end := t.ends(edges[n-1])
		edges[n] = end + 1
	}
	if n < 3 {
		return 0, 0, 0, false
	}
	i, j, k = three(r, 0, n-1)
	return edges[i], edges[j], edges[k], true
}

// three draws three different numbers from lo to hi in order.
func three(r *rand.Rand, lo, hi int) (i, j, k int) {
	n := hi - lo + 1
	i, j, k = r.IntN(n), r.IntN(n-1), r.IntN(n-2)
	// The second is drawn from what the first left, the third from what both.
	if j >= i {
		j++
	}
	if k >= min(i, j) {
		k++
	}
	if k >= max(i, j) {
		k++
	}
	lesser, greater := min(i, j, k), max(i, j, k)
	return lo + lesser, lo + i + j + k - lesser - greater, lo + greater
}
