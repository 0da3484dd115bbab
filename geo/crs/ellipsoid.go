package crs

import "math"

const degree = math.Pi / 180

// Ellipsoid is an ellipsoid of revolution: A is its equatorial radius in
// metres, F its flattening (0 for a sphere).
type Ellipsoid struct {
	A, F float64
}

// WGS84 returns the ellipsoid of WGS 84 (EPSG ellipsoid 7030).
func WGS84() Ellipsoid { return Ellipsoid{A: 6378137, F: 1 / 298.257223563} }

// E2 returns the square of the first eccentricity.
func (e Ellipsoid) E2() float64 { return e.F * (2 - e.F) }

// M returns the radius of curvature in the meridian, in metres, at a geodetic
// latitude in degrees: a north-south metre is 1/M radians of latitude.
func (e Ellipsoid) M(lat float64) float64 {
	s := math.Sin(lat * degree)
	w := 1 - e.E2()*s*s
	return e.A * (1 - e.E2()) / (w * math.Sqrt(w))
}

// N returns the radius of curvature in the prime vertical, in metres, at a
// geodetic latitude in degrees: an east-west metre is 1/(N cos(lat)) radians
// of longitude.
func (e Ellipsoid) N(lat float64) float64 {
	s := math.Sin(lat * degree)
	return e.A / math.Sqrt(1-e.E2()*s*s)
}

// The latitudes below are in radians.

// parallel returns the radius of the parallel as a fraction of A.
func (e Ellipsoid) parallel(phi float64) float64 {
	s, c := math.Sincos(phi)
	return c / math.Sqrt(1-e.E2()*s*s)
}

// conformalTan returns the tangent of the conformal latitude for the tangent
// of a geodetic one. C. F. F. Karney, Transverse Mercator with an accuracy of a
// few nanometers, J. Geodesy 85 (2011), doi:10.1007/s00190-011-0445-3, eq. 7-9.
func (e Ellipsoid) conformalTan(tau float64) float64 {
	ecc := math.Sqrt(e.E2())
	r := math.Hypot(1, tau)
	sigma := math.Sinh(ecc * math.Atanh(ecc*tau/r))
	return tau*math.Hypot(1, sigma) - sigma*r
}

// geodeticTan is the inverse of conformalTan, by Newton's method (Karney 2011,
// eq. 19-21). Two steps reach full precision on the Earth; five is a bound.
func (e Ellipsoid) geodeticTan(taup float64) float64 {
	e2 := e.E2()
	tau := taup / (1 - e2)
	if math.Abs(taup) > 1e8 { // within a millimetre of a pole: the limit of the ratio
		ecc := math.Sqrt(e2)
		return taup * math.Exp(ecc*math.Atanh(ecc))
	}
	for range 5 {
		t := e.conformalTan(tau)
		d := (taup - t) / math.Hypot(1, t) * (1 + (1-e2)*tau*tau) / ((1 - e2) * math.Hypot(1, tau))
		before := tau
		tau += d
		if tau == before || math.Abs(d) < 1e-16*math.Max(1, math.Abs(tau)) {
			break // as all that follow would be the same
		}
	}
	return tau
}

// isometric returns the isometric latitude.
func (e Ellipsoid) isometric(phi float64) float64 {
	return math.Asinh(e.conformalTan(math.Tan(phi)))
}

// fromIsometric returns the geodetic latitude for an isometric one.
func (e Ellipsoid) fromIsometric(psi float64) float64 {
	return math.Atan(e.geodeticTan(math.Sinh(psi)))
}

// authalicQ returns q, which is proportional to the area between the equator
// and a parallel. J. P. Snyder, Map Projections: A Working Manual, USGS
// Professional Paper 1395 (1987), doi:10.3133/pp1395, eq. 3-12.
func (e Ellipsoid) authalicQ(phi float64) float64 {
	s := math.Sin(phi)
	e2 := e.E2()
	if e2 == 0 {
		return 2 * s
	}
	ecc := math.Sqrt(e2)
	return (1 - e2) * (s/(1-e2*s*s) + math.Atanh(ecc*s)/ecc)
}

// fromAuthalicQ is the inverse of authalicQ, by Newton's method in the sine of
// the latitude, where q is nearly a straight line, up to the pole and all.
func (e Ellipsoid) fromAuthalicQ(q float64) (phi float64, ok bool) {
	qp := e.authalicQ(math.Pi / 2)
	if !(math.Abs(q) <= qp*(1+1e-12)) {
		return 0, false
	}
	e2 := e.E2()
	ecc := math.Sqrt(e2)
	s := q / qp
	for range 10 {
		w := 1 - e2*s*s
		v := 2 * s
		if e2 != 0 {
			v = (1 - e2) * (s/w + math.Atanh(ecc*s)/ecc)
		}
		d := (q - v) * w * w / (2 * (1 - e2))
		s = math.Max(-1, math.Min(1, s+d))
		if math.Abs(d) < 1e-16 {
			break
		}
	}
	return math.Asin(s), true
}
