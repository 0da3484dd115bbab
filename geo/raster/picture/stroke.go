package picture

import (
	"math"
	"slices"
)

// stroke returns the outline of a line of the given width along the runs: one
// block for each straight piece, and a disc where two meet at an angle. All turn
// the same way, so that together they fill without gaps.
func stroke(runs [][]spot, closed bool, width float64) [][]spot {
	half := width / 2
	corners := 8 + 2*int(half)
	var out [][]spot
	for _, run := range runs {
		n := len(run)
		if closed && n > 1 && run[0] == run[n-1] {
			n--
		}
		pieces := n - 1
		if closed && n > 2 {
			pieces = n
		}
		var first, before spot // directions
		for i := range max(pieces, 0) {
			a, b := run[i], run[(i+1)%n]
			length := math.Hypot(b.x-a.x, b.y-a.y)
			if length < 1e-6 {
				continue
			}
			along := spot{(b.x - a.x) / length, (b.y - a.y) / length}
			sx, sy := half*along.y, half*along.x
			out = append(out, []spot{{a.x + sx, a.y - sy}, {b.x + sx, b.y - sy}, {b.x - sx, b.y + sy}, {a.x - sx, a.y + sy}})
			if before == (spot{}) {
				first = along
			} else if bends(before, along) {
				out = append(out, ring(a, half, corners))
			}
			before = along
		}
		if closed && n > 2 && bends(before, first) {
			out = append(out, ring(run[0], half, corners))
		}
	}
	return out
}

// bends reports whether the gap between two pieces of a line would show.
func bends(a, b spot) bool {
	return float64(a.x*b.x)+float64(a.y*b.y) < 0.985 // ten degrees
}

// dashed cuts the runs into the drawn parts of a pattern. A pattern that is
// empty leaves them whole.
func dashed(runs [][]spot, closed bool, dash []float64) [][]spot {
	if len(dash) == 0 {
		return runs
	}
	var out [][]spot
	for _, run := range runs {
		if closed && len(run) > 2 {
			run = append(slices.Clip(run), run[0])
		}
		k, left := 0, dash[0]
		var part []spot
		for i := 0; i+1 < len(run); i++ {
			a, b := run[i], run[i+1]
			length := math.Hypot(b.x-a.x, b.y-a.y)
			done := 0.0
			for length-done > left {
				done += left
				at := blend(a, b, done/length)
				if k%2 == 0 {
					if len(part) == 0 {
						part = append(part, a)
					}
					out = append(out, append(part, at))
				}
				part = []spot{at}
				k = (k + 1) % len(dash)
				left = dash[k]
			}
			left -= length - done
			if len(part) == 0 {
				part = append(part, a)
			}
			part = append(part, b)
		}
		if k%2 == 0 && len(part) > 1 {
			out = append(out, part)
		}
	}
	return out
}

// hatch returns lines at 45 degrees across closed runs, by the even-odd rule,
// rising to the right or falling, at the given distance from each other.
func hatch(runs [][]spot, distance float64, rising bool) [][]spot {
	sign := -1.0
	if rising {
		sign = 1
	}
	step := distance * math.Sqrt2 // along the x axis
	// On a line x + sign*y is the same; its places are told by x.
	across := make(map[int][]float64)
	var order []int
	for _, run := range runs {
		for i := range run {
			a, b := run[i], run[(i+1)%len(run)]
			u, v := a.x+float64(sign*a.y), b.x+float64(sign*b.y)
			if u > v {
				a, b, u, v = b, a, v, u
			}
			if !finite(u) || !finite(v) || v-u > 1e5 {
				continue
			}
			for k := int(math.Ceil(u / step)); float64(float64(k)*step) < v; k++ {
				if across[k] == nil {
					order = append(order, k)
				}
				across[k] = append(across[k], a.x+float64((float64(float64(k)*step)-u)/(v-u)*(b.x-a.x)))
			}
		}
	}
	slices.Sort(order)
	var out [][]spot
	for _, k := range order {
		xs := across[k]
		slices.Sort(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			c := float64(float64(k) * step)
			out = append(out, []spot{{xs[i], sign * (c - xs[i])}, {xs[i+1], sign * (c - xs[i+1])}})
		}
	}
	return out
}
