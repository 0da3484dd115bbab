package zone

import (
	"fmt"
	"math"
	"slices"

	"corewalk/geo/raster"
)

// Classify puts the values of a surface, row by row from the north-west, into
// the classes between ascending limits: class 0 is below the first limit, class
// i from limits[i-1] up to, and without, limits[i], and the last one from the
// last limit on. Pixels without a value have class -1. Limits count in the
// precision of the surface, so that a value of 5.9 equals a limit of 5.9.
func Classify(g *raster.Grid, limits []float64) []int32 {
	single := make([]float32, len(limits))
	for i, l := range limits {
		single[i] = float32(l)
	}
	out := make([]int32, len(g.Data))
	for i, v := range g.Data {
		switch {
		case v == raster.NoData || v != v:
			out[i] = -1
		case len(single) <= 16:
			for _, l := range single {
				if v < l {
					break
				}
				out[i]++
			}
		default:
			at, found := slices.BinarySearch(single, v)
			for found && at < len(single) && single[at] == v {
				at++
			}
			out[i] = int32(at)
		}
	}
	return out
}

// Quantiles returns the limits that divide the values of the pixels of a ground
// into n classes of equally many pixels, as far as equal values allow: the
// quantiles 1/n, 2/n, ... of type 7 (Hyndman and Fan 1996, doi:10.2307/2684934).
// Equal limits are given once, and those not above the least value not at all,
// since no pixel lies below them. division is the map of the pixels, and index
// the ground; -1 stands for all of the ground. Without values there are no limits.
func Quantiles(g *raster.Grid, division []int32, index, n int) ([]float64, error) {
	switch {
	case len(division) != len(g.Data):
		return nil, fmt.Errorf("surface of %d pixels: divisions are given for %d", len(g.Data), len(division))
	case n < 1:
		return nil, fmt.Errorf("%d classes: give at least 1", n)
	}
	var values []float32
	for i, v := range g.Data {
		if d := division[i]; d >= 0 && (index < 0 || int(d) == index) && v != raster.NoData && v == v {
			values = append(values, v)
		}
	}
	slices.Sort(values)
	var limits []float64
	for k := 1; k < n && len(values) > 0; k++ {
		at := float64(len(values)-1) * (float64(k) / float64(n))
		low := int(math.Floor(at))
		l := float64(values[low])
		if low+1 < len(values) {
			l += float64((at - float64(low)) * (float64(values[low+1]) - l))
		}
		// As Classify sees it.
		if single := float32(l); single > values[0] && (len(limits) == 0 || single > float32(limits[len(limits)-1])) {
			limits = append(limits, l)
		}
	}
	return limits, nil
}
