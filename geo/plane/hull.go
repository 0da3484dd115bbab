package plane

import (
	"slices"

	"github.com/paulmach/orb"
)

// Hull returns the corners of the smallest convex ring round the points,
// counter-clockwise from the lowest-leftmost, each once and the first not again
// at the end; corners on a straight side are left out. Points on one line give
// its two ends, points at one place that place, and no points nothing. The
// points must be finite. It is the chain of Andrew (1979),
// doi:10.1016/0020-0190(79)90072-3.
func Hull(points []XY) []XY {
	sorted := slices.Clone(points)
	slices.SortFunc(sorted, func(p, q XY) int { return comparePoints(orb.Point(p), orb.Point(q)) })
	sorted = slices.Compact(sorted)
	if len(sorted) < 3 {
		return sorted
	}
	var out []XY
	for range 2 {
		// The lower chain from west to east, then the upper one back.
		base := len(out)
		for _, p := range sorted {
			for len(out) > base+1 && Orient(out[len(out)-2], out[len(out)-1], p) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, p)
		}
		out = out[:len(out)-1] // the other chain begins there
		slices.Reverse(sorted)
	}
	return out
}
