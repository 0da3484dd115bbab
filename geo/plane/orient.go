package plane

import (
	"math"
	"math/big"
)

// Orient returns 1 when a, b, c turn to the left, -1 to the right, and 0 when
// they lie on one line; exactly, whatever the coordinates. The error bound of
// the quick way is that of Shewchuk (1997), doi:10.1007/PL00009321.
func Orient(a, b, c XY) int {
	left := (a[0] - c[0]) * (b[1] - c[1])
	right := (a[1] - c[1]) * (b[0] - c[0])
	det := left - right
	if slack := 3.3306690738754716e-16 * (math.Abs(left) + math.Abs(right)); det > slack {
		return 1
	} else if det < -slack {
		return -1
	}
	if a == b || a == c || b == c || (a[0] == b[0] && a[0] == c[0]) || (a[1] == b[1] && a[1] == c[1]) {
		return 0
	}
	var r [6]*big.Rat
	for i, v := range [6]float64{a[0], a[1], b[0], b[1], c[0], c[1]} {
		r[i] = new(big.Rat).SetFloat64(v)
		if r[i] == nil { // not a number: no turn can be told
			return 0
		}
	}
	for i := range 4 {
		r[i].Sub(r[i], r[4+i%2])
	}
	r[0].Mul(r[0], r[3])
	r[1].Mul(r[1], r[2])
	return r[0].Cmp(r[1])
}
