package crs

import "math"

// lambertAzimuthal is the Lambert azimuthal equal-area projection, oblique,
// equatorial or polar: Snyder 1987 (see authalicQ), eq. 24-13 to 24-31; EPSG
// method 9820.
type lambertAzimuthal struct {
	e            Ellipsoid
	pole         float64 // 1 or -1 in the polar case
	qp, rq, d    float64
	sinB0, cosB0 float64
}

func newLambertAzimuthal(e Ellipsoid, p params) lambertAzimuthal {
	phi0 := p.lat0 * degree
	l := lambertAzimuthal{e: e, qp: e.authalicQ(math.Pi / 2)}
	if 90-math.Abs(p.lat0) < 1e-9 {
		l.pole = math.Copysign(1, p.lat0)
		return l
	}
	l.rq = e.A * math.Sqrt(l.qp/2)
	l.sinB0 = e.authalicQ(phi0) / l.qp
	l.cosB0 = math.Sqrt(1 - l.sinB0*l.sinB0)
	l.d = e.A * e.parallel(phi0) / (l.rq * l.cosB0)
	return l
}

func (l lambertAzimuthal) forward(lam, phi float64) (x, y float64, ok bool) {
	q := l.e.authalicQ(phi)
	s, c := math.Sincos(lam)
	if l.pole != 0 {
		rho := l.e.A * math.Sqrt(math.Max(0, l.qp-l.pole*q))
		return rho * s, -l.pole * rho * c, true
	}
	sinB := q / l.qp
	cosB := math.Sqrt(math.Max(0, 1-sinB*sinB))
	w := 1 + l.sinB0*sinB + l.cosB0*cosB*c
	if w < 1e-6 { // the antipode is a circle
		return 0, 0, false
	}
	b := l.rq * math.Sqrt(2/w)
	return b * l.d * cosB * s, b / l.d * (l.cosB0*sinB - l.sinB0*cosB*c), true
}

func (l lambertAzimuthal) inverse(x, y float64) (lam, phi float64, ok bool) {
	if l.pole != 0 {
		rho := math.Hypot(x, y) / l.e.A
		phi, ok = l.e.fromAuthalicQ(l.pole * (l.qp - rho*rho))
		return math.Atan2(x, -l.pole*y), phi, ok
	}
	x, y = x/l.d, y*l.d
	rho := math.Hypot(x, y)
	if rho == 0 {
		phi, ok = l.e.fromAuthalicQ(l.qp * l.sinB0)
		return 0, phi, ok
	}
	half := rho / (2 * l.rq)
	if !(half < 1) {
		return 0, 0, false
	}
	s, c := math.Sincos(2 * math.Asin(half))
	phi, ok = l.e.fromAuthalicQ(l.qp * (c*l.sinB0 + y*s*l.cosB0/rho))
	return math.Atan2(x*s, rho*l.cosB0*c-y*l.sinB0*s), phi, ok
}

// obliqueStereographic is the double stereographic projection of IOGP Guidance
// Note 7-2, method 9809: a conformal sphere, then a plane. It is not the
// "Stereographic" of some programs, which differs by metres.
type obliqueStereographic struct {
	e            Ellipsoid
	n, shift     float64 // isometric latitude on the sphere = n psi + shift
	r, k         float64
	sinX0, cosX0 float64
}

func newObliqueStereographic(e Ellipsoid, p params) obliqueStereographic {
	phi0 := p.lat0 * degree
	e2 := e.E2()
	s, c := math.Sincos(phi0)
	o := obliqueStereographic{e: e, k: p.k}
	o.r = math.Sqrt(e.M(p.lat0) * e.N(p.lat0))
	o.n = math.Sqrt(1 + e2*c*c*c*c/(1-e2))
	// The sphere's latitude of origin has a sine of sin(phi0)/n (the guidance
	// note's constant c is chosen so).
	o.sinX0 = s / o.n
	o.cosX0 = math.Sqrt(1 - o.sinX0*o.sinX0)
	o.shift = math.Atanh(o.sinX0) - o.n*e.isometric(phi0)
	return o
}

// sphere returns the longitude and the sine and cosine of the latitude on the
// conformal sphere.
func (o obliqueStereographic) sphere(lam, phi float64) (dl, sinX, cosX float64) {
	psi := o.n*o.e.isometric(phi) + o.shift
	return o.n * lam, math.Tanh(psi), 1 / math.Cosh(psi)
}

func (o obliqueStereographic) forward(lam, phi float64) (x, y float64, ok bool) {
	dl, sinX, cosX := o.sphere(lam, phi)
	s, c := math.Sincos(dl)
	b := 1 + sinX*o.sinX0 + cosX*o.cosX0*c
	if b < 1e-6 {
		return 0, 0, false
	}
	f := 2 * o.r * o.k / b
	return f * cosX * s, f * (sinX*o.cosX0 - cosX*o.sinX0*c), true
}

func (o obliqueStereographic) inverse(x, y float64) (lam, phi float64, ok bool) {
	rho := math.Hypot(x, y)
	s, c := math.Sincos(2 * math.Atan2(rho, 2*o.r*o.k))
	sinX := c * o.sinX0
	if rho > 0 {
		sinX += y * s * o.cosX0 / rho
	}
	dl := math.Atan2(x*s, rho*o.cosX0*c-y*o.sinX0*s)
	if !(math.Abs(sinX) < 1) {
		return 0, 0, false
	}
	return dl / o.n, o.e.fromIsometric((math.Atanh(sinX) - o.shift) / o.n), true
}

func (o obliqueStereographic) scale(lam, phi float64) float64 {
	dl, sinX, cosX := o.sphere(lam, phi)
	sphere := o.n * o.r * cosX / (o.e.A * o.e.parallel(phi))
	return o.k * sphere * 2 / (1 + sinX*o.sinX0 + cosX*o.cosX0*math.Cos(dl))
}

// polarStereographic is EPSG methods 9810 (a scale factor at the pole, lat1 at
// the pole) and 9829 (a standard parallel lat1).
type polarStereographic struct {
	e    Ellipsoid
	pole float64 // 1 north, -1 south
	f    float64 // rho = f exp(-psi)
}

func newPolarStereographic(e Ellipsoid, p params) polarStereographic {
	s := polarStereographic{e: e, pole: math.Copysign(1, p.lat0)}
	ecc := math.Sqrt(e.E2())
	if phi1 := math.Abs(p.lat1) * degree; math.Pi/2-phi1 > 1e-10 {
		s.f = p.k * e.A * e.parallel(phi1) * math.Exp(e.isometric(phi1))
	} else {
		s.f = 2 * p.k * e.A / math.Sqrt(1-e.E2()) * math.Exp(-ecc*math.Atanh(ecc))
	}
	return s
}

func (p polarStereographic) forward(lam, phi float64) (x, y float64, ok bool) {
	phi *= p.pole
	if phi < -89*degree {
		return 0, 0, false
	}
	rho := p.f * math.Exp(-p.e.isometric(phi))
	s, c := math.Sincos(lam)
	return rho * s, -p.pole * rho * c, true
}

func (p polarStereographic) inverse(x, y float64) (lam, phi float64, ok bool) {
	rho := math.Hypot(x, y)
	if rho == 0 {
		return 0, p.pole * math.Pi / 2, true
	}
	return math.Atan2(x, -p.pole*y), p.pole * p.e.fromIsometric(math.Log(p.f/rho)), true
}

func (p polarStereographic) scale(_, phi float64) float64 {
	phi *= p.pole
	if math.Pi/2-phi < 1e-9 {
		ecc := math.Sqrt(p.e.E2())
		return p.f * math.Sqrt(1-p.e.E2()) * math.Exp(ecc*math.Atanh(ecc)) / (2 * p.e.A)
	}
	return p.f * math.Exp(-p.e.isometric(phi)) / (p.e.A * p.e.parallel(phi))
}
