package interp

import (
	"cmp"
	"math/rand/v2"
	"slices"
)

// Structure is a test of whether figures lie in a pattern that a surface can
// use. The figures of each division are dealt out anew among its places, and
// every place is predicted from the others as before. P is the share of deals,
// the true one among them, that are predicted at least as well as the true
// one: under figures that have nothing to do with their places it is below
// any level no more often than that (a permutation test; Manly 2006,
// Randomization, Bootstrap and Monte Carlo Methods in Biology, chapter 1, from
// memory). The deals are always the same ones.
type Structure struct {
	P     float64 `json:"p"`
	Deals int     `json:"deals"` // that were tried
}

// Level is the share that Structure.P must not exceed for a surface to be
// supported.
const Level = 0.025

const (
	mostDeals   = 499
	fewestDeals = 39
	// dealsBudget bounds the work of a test, in weights.
	dealsBudget = 400_000_000
)

// structure tests settings that were given or, if there are several, chosen
// among: the best of them is then taken anew for each deal, so that having had
// a choice does not count as evidence. A deal after which P can only be above
// the level is the last.
func structure(divisions []division, settings []leftOut) Structure {
	values := centred(divisions)
	weights := 0
	for _, s := range settings {
		weights += s.size()
	}
	deals := min(max(dealsBudget/max(weights, 1), fewestDeals), mostDeals)
	var sums []float64
	best := func() float64 {
		least := inf
		for _, s := range settings {
			sums = slices.Grow(sums[:0], len(s.settings))[:len(s.settings)]
			s.sse(values, sums)
			least = min(least, slices.Min(sums))
		}
		return least
	}
	truth := best()
	// Equal sums in another order may differ by rounding.
	truth += 1e-12 * truth
	r := rand.New(rand.NewPCG(20, 6))
	out := Structure{Deals: deals}
	as := 1
	for i := range deals {
		for _, v := range values {
			r.Shuffle(len(v), func(a, b int) { v[a], v[b] = v[b], v[a] })
		}
		if best() <= truth {
			as++
		}
		if float64(as) > Level*float64(deals+1) {
			out.Deals = i + 1
			break
		}
	}
	out.P = float64(as) / float64(out.Deals+1)
	return out
}

// centred returns the figures of each division less its first: equal figures
// then give residuals of exactly nothing.
func centred(divisions []division) [][]float64 {
	out := make([][]float64, len(divisions))
	for i := range divisions {
		for _, v := range divisions[i].value {
			out[i] = append(out[i], v-divisions[i].value[0])
		}
	}
	return out
}

// leftOut predicts every place from the others for settings of one power.
// Predictions by inverse distance are linear in the figures, so that new
// figures at the same places cost one pass over the weights; and a
// neighbourhood is the begin of any wider one, so that one pass serves all.
type leftOut struct {
	settings  []IDW
	divisions []leftOutDivision
}

type leftOutDivision struct {
	end    []int32 // of the weights of each place
	rungs  []rung  // len(settings) to a place, the narrower first
	of     []int32 // the place that a weight belongs to
	weight []float64
}

// rung is where the neighbourhood of a setting ends.
type rung struct {
	end     int32 // in the weights
	setting int32
	weights float64 // sum of those up to there
}

// neighbours are the other places of a division, for each place by distance.
type neighbours struct {
	of      []int32
	squared []float64
}

// newLeftOut works out the weights under settings of one power. near holds the
// neighbours of each place of each division.
func newLeftOut(divisions []division, near [][]neighbours, settings []IDW) leftOut {
	out := leftOut{settings: settings, divisions: make([]leftOutDivision, len(divisions))}
	for i := range divisions {
		d := &out.divisions[i]
		for _, n := range near[i] {
			start := len(d.weight)
			first := len(d.rungs)
			for k, idw := range settings {
				d.rungs = append(d.rungs, rung{end: int32(start + idw.count(n.squared)), setting: int32(k)})
			}
			rungs := d.rungs[first:]
			slices.SortFunc(rungs, func(a, b rung) int { return cmp.Or(cmp.Compare(a.end, b.end), cmp.Compare(a.setting, b.setting)) })
			weight := slices.Clone(n.squared[:int(rungs[len(rungs)-1].end)-start])
			settings[0].weights(weight)
			sum, next := 0.0, 0
			for k := start; ; k++ {
				for next < len(rungs) && int(rungs[next].end) == k {
					rungs[next].weights = sum
					next++
				}
				if next == len(rungs) {
					break
				}
				d.of, d.weight = append(d.of, n.of[k-start]), append(d.weight, weight[k-start])
				sum += weight[k-start]
			}
			d.end = append(d.end, int32(len(d.weight)))
		}
	}
	return out
}

// count is the number of neighbours that count, by their squared distances in
// ascending order.
func (m IDW) count(squared []float64) int {
	limit := inf
	if m.Near > 0 && m.Near <= len(squared) {
		limit = squared[m.Near-1] * (1 + tie)
	}
	if m.Radius > 0 {
		limit = min(limit, m.Radius*m.Radius*(1+tie))
	}
	n, _ := slices.BinarySearchFunc(squared, limit, func(q, limit float64) int {
		if q <= limit {
			return -1
		}
		return 1
	})
	return n
}

func (l leftOut) size() int {
	n := 0
	for _, d := range l.divisions {
		n += len(d.weight)
	}
	return n
}

// sse adds the squared residuals for the given figures to out, one sum to a
// setting. Places without a neighbour are left out.
func (l leftOut) sse(values [][]float64, out []float64) {
	clear(out)
	for i := range l.divisions {
		d, v := &l.divisions[i], values[i]
		j := int32(0)
		for k := range d.end {
			var sum float64
			for _, r := range d.rungs[k*len(l.settings):][:len(l.settings)] {
				for ; j < r.end; j++ {
					sum += float64(d.weight[j] * v[d.of[j]])
				}
				if r.weights > 0 {
					left := v[k] - sum/r.weights
					out[r.setting] += float64(left * left)
				}
			}
		}
	}
}
