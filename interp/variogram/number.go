package variogram

import "math"

// exponential is e^-x for x of 0 or more, within 2e-16 of it. math.Exp has other
// last bits on other processors, and a surface must not.
func exponential(x float64) float64 {
	if !(x < 700) {
		return 0 // below 1e-304
	}
	// x = k ln 2 + r with r within ln(2)/2; ln 2 in two parts, the first with
	// few enough bits for k times it to be exact.
	const high, low = 0x1.62e42feep-1, 0x1.a39ef35793c76p-33
	k := math.Floor(float64(x*(1/math.Ln2)) + 0.5)
	r := (x - float64(k*high)) - float64(k*low)
	// The Taylor series up to r^13/13!, even and odd terms apart: the rest is
	// below 1e-17.
	q := float64(r * r)
	even := 1 + float64(q*(1./2+float64(q*(1./24+float64(q*(1./720+float64(q*(1./40320+float64(q*(1./3628800+float64(q*(1./479001600))))))))))))
	odd := 1 + float64(q*(1./6+float64(q*(1./120+float64(q*(1./5040+float64(q*(1./362880+float64(q*(1./39916800+float64(q*(1./6227020800))))))))))))
	v := even - float64(r*odd)
	return v * math.Float64frombits(uint64(1023-int64(k))<<52)
}

// direction is the unit vector towards an azimuth in degrees, exact for the
// quarters of the compass.
func direction(azimuth float64) (east, north float64) {
	a := math.Mod(azimuth, 360)
	if a < 0 {
		a += 360
	}
	quarter := math.Floor(a/90 + 0.5)
	r := (a - 90*quarter) * (math.Pi / 180) // within 45 degrees
	s, c, term := 0.0, 0.0, 1.0
	for k := 0; k < 22; k += 2 {
		c += term
		term = term * r / float64(k+1)
		s += term
		term = -term * r / float64(k+2)
	}
	switch int(quarter) % 4 {
	case 0:
		return s, c
	case 1:
		return c, -s
	case 2:
		return -s, -c
	}
	return -c, s
}
