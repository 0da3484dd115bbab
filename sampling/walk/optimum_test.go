package walk

import (
	"math"
	"math/bits"
	"slices"

	"corewalk/geo/plane"
)

// flat numbers the stops of groups on.
func flat(groups [][]plane.XY) (stops []plane.XY, group []int) {
	for k, g := range groups {
		for _, p := range g {
			stops, group = append(stops, p), append(group, k)
		}
	}
	return stops, group
}

// straight returns the distances between stops in the open, with those from
// start, if there is one, as the last row.
func straight(start *plane.XY, stops []plane.XY) [][]float64 {
	if start != nil {
		stops = append(slices.Clone(stops), *start)
	}
	d := make([][]float64, len(stops))
	for i, p := range stops {
		for _, q := range stops {
			d[i] = append(d[i], p.Distance(q))
		}
	}
	return d
}

// best is the length of the shortest walk that keeps groups together, by the
// dynamic programme over sets of stops of Held and Karp (1962,
// doi:10.1137/0110015), from memory; with a row beyond the stops in d, it begins
// there.
func best(d [][]float64, group []int) float64 {
	n := len(group)
	if n == 0 {
		return 0
	}
	whole := make([]int, slices.Max(group)+1)
	for i, k := range group {
		whole[k] |= 1 << i
	}
	to := make([][]float64, 1<<n) // by set walked and last stop
	for set := range to {
		to[set] = make([]float64, n)
		for i := range to[set] {
			to[set][i] = math.Inf(1)
		}
	}
	for i := range n {
		to[1<<i][i] = 0
		if len(d) > n {
			to[1<<i][i] = d[n][i]
		}
	}
	for set := 1; set < 1<<n; set++ {
		for i := range n {
			if math.IsInf(to[set][i], 1) {
				continue
			}
			next := whole[group[i]] &^ set // where it must go on
			if next == 0 {
				next = (1<<n - 1) &^ set
			}
			for ; next > 0; next &= next - 1 {
				j := bits.TrailingZeros(uint(next))
				to[set|1<<j][j] = min(to[set|1<<j][j], to[set][i]+d[i][j])
			}
		}
	}
	return slices.Min(to[1<<n-1])
}

// nearestFirst is the length of the walk that always goes on to the nearest
// stop left, in the group at hand while it has any; from stop first if there is
// no row beyond the stops.
func nearestFirst(d [][]float64, group []int, first int) float64 {
	n := len(group)
	done := make([]bool, n)
	var sum float64
	now := first
	if len(d) > n {
		now = n
	} else {
		done[now] = true
	}
	for {
		next := -1
		for _, own := range []bool{true, false} {
			for i := range n {
				if next < 0 || own && group[next] == group[min(now, n-1)] || d[now][i] < d[now][next] {
					if !done[i] && (!own || now < n && group[i] == group[now]) && (next < 0 || d[now][i] < d[now][next]) {
						next = i
					}
				}
			}
			if next >= 0 {
				break
			}
		}
		if next < 0 {
			return sum
		}
		sum += d[now][next]
		done[next] = true
		now = next
	}
}

// bound is a length that no walk through all places from the last of them falls
// short of: the shortest tree of Held and Karp (1970, 1971), raised by
// subgradients; doi:10.1287/opre.18.6.1138, doi:10.1007/BF01584070, from memory.
// The length of some walk tells how far to go each time.
// A place weighs w for every leg at it, and a walk has two legs everywhere but
// at its ends; a leg of no length from its end back to the last place makes it
// two there as well. A walk is a tree with that leg, so the shortest tree with
// it, to the place where it weighs least, is no longer.
func bound(d [][]float64, walk float64) float64 {
	n := len(d)
	w := make([]float64, n)
	greatest := 0.0
	pace := 1.0
	s := n - 1
	for range 800 {
		degree := make([]int, n)
		least := make([]float64, n)
		from := make([]int, n)
		in := make([]bool, n)
		var sum float64
		for i := range least {
			least[i], from[i] = d[i][s]+w[i]+w[s], s
		}
		in[s] = true
		for range n - 1 {
			k := -1
			for i := range n {
				if !in[i] && (k < 0 || least[i] < least[k]) {
					k = i
				}
			}
			in[k] = true
			sum += least[k]
			degree[k]++
			degree[from[k]]++
			for i := range n {
				if l := d[i][k] + w[i] + w[k]; !in[i] && l < least[i] {
					least[i], from[i] = l, k
				}
			}
		}
		k := -1 // where the walk ends
		for i := range s {
			if k < 0 || w[i] < w[k] {
				k = i
			}
		}
		sum += w[k] + w[s] // the legs at end
		degree[k]++
		degree[s]++
		for _, v := range w {
			sum -= 2 * v
		}
		greatest = max(greatest, sum)
		off := 0
		for _, k := range degree {
			off += (k - 2) * (k - 2)
		}
		if off == 0 { // the tree is a walk, so that is the shortest
			break
		}
		for i := range n {
			w[i] += pace * (walk - sum) / float64(off) * float64(degree[i]-2)
		}
		pace *= 0.99
	}
	return greatest
}
