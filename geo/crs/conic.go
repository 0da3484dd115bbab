package crs

import "math"

// lambertConic is the Lambert conformal conic projection in all its forms: one
// standard parallel (lat1 = lat2), two, and Michigan's (k scales the ellipsoid).
// IOGP Guidance Note 7-2, methods 9801, 9802, 1051, 1102.
type lambertConic struct {
	e               Ellipsoid
	n, factor, rho0 float64
}

func newLambertConic(e Ellipsoid, p params) (lambertConic, bool) {
	phi1, phi2 := p.lat1*degree, p.lat2*degree
	c := lambertConic{e: e, n: math.Sin(phi1)}
	if math.Abs(phi1-phi2) > 1e-10 {
		c.n = math.Log(e.parallel(phi1)/e.parallel(phi2)) / (e.isometric(phi2) - e.isometric(phi1))
	}
	if !(math.Abs(c.n) > 1e-8) || math.Abs(p.lat1) > 89.9 || math.Abs(p.lat2) > 89.9 {
		return c, false // a cylinder or a plane, not a cone
	}
	c.factor = p.k * e.A * e.parallel(phi1) / c.n * math.Exp(c.n*e.isometric(phi1))
	c.rho0 = c.rho(p.lat0 * degree)
	return c, !math.IsInf(c.rho0, 0)
}

// rho is signed as n is.
func (c lambertConic) rho(phi float64) float64 {
	return c.factor * math.Exp(-c.n*c.e.isometric(phi))
}

func (c lambertConic) forward(lam, phi float64) (x, y float64, ok bool) {
	if phi*c.n < 0 && math.Abs(phi) > 89*degree { // runs to infinity at the far pole
		return 0, 0, false
	}
	rho := c.rho(phi)
	s, cos := math.Sincos(c.n * lam)
	return rho * s, c.rho0 - rho*cos, true
}

func (c lambertConic) inverse(x, y float64) (lam, phi float64, ok bool) {
	dy := c.rho0 - y
	rho := math.Hypot(x, dy)
	if c.n < 0 {
		x, dy, rho = -x, -dy, -rho
	}
	if rho == 0 {
		return 0, math.Copysign(math.Pi/2, c.n), true
	}
	return math.Atan2(x, dy) / c.n, c.e.fromIsometric(math.Log(c.factor/rho) / c.n), true
}

func (c lambertConic) scale(_, phi float64) float64 {
	return c.n * c.rho(phi) / (c.e.A * c.e.parallel(phi))
}

// albersConic is the Albers equal-area conic projection, Snyder 1987 (see
// authalicQ), eq. 14-1 to 14-14; EPSG method 9822.
type albersConic struct {
	e          Ellipsoid
	n, c, rho0 float64
}

func newAlbersConic(e Ellipsoid, p params) (albersConic, bool) {
	phi1, phi2 := p.lat1*degree, p.lat2*degree
	m1, q1 := e.parallel(phi1), e.authalicQ(phi1)
	a := albersConic{e: e, n: math.Sin(phi1)}
	if math.Abs(phi1-phi2) > 1e-10 {
		m2, q2 := e.parallel(phi2), e.authalicQ(phi2)
		a.n = (m1*m1 - m2*m2) / (q2 - q1)
	}
	if !(math.Abs(a.n) > 1e-8) {
		return a, false
	}
	a.c = m1*m1 + a.n*q1
	var ok bool
	a.rho0, ok = a.rho(p.lat0 * degree)
	return a, ok
}

// rho is signed as n is.
func (a albersConic) rho(phi float64) (float64, bool) {
	v := a.c - a.n*a.e.authalicQ(phi)
	if v < 0 {
		return 0, v > -1e-12
	}
	return a.e.A * math.Sqrt(v) / a.n, true
}

func (a albersConic) forward(lam, phi float64) (x, y float64, ok bool) {
	rho, ok := a.rho(phi)
	s, c := math.Sincos(a.n * lam)
	return rho * s, a.rho0 - rho*c, ok
}

func (a albersConic) inverse(x, y float64) (lam, phi float64, ok bool) {
	dy := a.rho0 - y
	rho := math.Hypot(x, dy) * a.n / a.e.A
	if a.n < 0 {
		x, dy = -x, -dy
	}
	phi, ok = a.e.fromAuthalicQ((a.c - rho*rho) / a.n)
	return math.Atan2(x, dy) / a.n, phi, ok
}
