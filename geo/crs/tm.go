package crs

import (
	"math"
	"math/cmplx"
)

// transverseMercator is Krueger's series to the sixth order in the third
// flattening: Karney 2011 (see conformalTan), eq. 11-36. Its error is below
// 10 nm within 3900 km of the central meridian.
type transverseMercator struct {
	e           Ellipsoid
	k           float64
	radius      float64 // of the rectifying sphere, times k
	xi0         float64 // of the latitude of origin
	alpha, beta [6]float64
}

// tmReach is how far from the central meridian the series is used, in radians.
const tmReach = 45 * degree

func newTransverseMercator(e Ellipsoid, p params) *transverseMercator {
	n := e.F / (2 - e.F)
	n2 := n * n
	n3, n4, n5, n6 := n2*n, n2*n2, n2*n2*n, n2*n2*n2
	t := &transverseMercator{
		e: e,
		k: p.k,
		alpha: [6]float64{
			n/2 - 2*n2/3 + 5*n3/16 + 41*n4/180 - 127*n5/288 + 7891*n6/37800,
			13*n2/48 - 3*n3/5 + 557*n4/1440 + 281*n5/630 - 1983433*n6/1935360,
			61*n3/240 - 103*n4/140 + 15061*n5/26880 + 167603*n6/181440,
			49561*n4/161280 - 179*n5/168 + 6601661*n6/7257600,
			34729*n5/80640 - 3418889*n6/1995840,
			212378941 * n6 / 319334400,
		},
		beta: [6]float64{
			n/2 - 2*n2/3 + 37*n3/96 - n4/360 - 81*n5/512 + 96199*n6/604800,
			n2/48 + n3/15 - 437*n4/1440 + 46*n5/105 - 1118711*n6/3870720,
			17*n3/480 - 37*n4/840 - 209*n5/4480 + 5569*n6/90720,
			4397*n4/161280 - 11*n5/504 - 830251*n6/7257600,
			4583*n5/161280 - 108847*n6/3991680,
			20648693 * n6 / 638668800,
		},
	}
	t.radius = p.k * e.A / (1 + n) * (1 + n2/4 + n4/64 + n6/256)
	z := t.sphere(0, p.lat0*degree)
	d := series(&t.alpha, z)
	t.xi0 = real(z + d)
	return t
}

// sphere is the Gauss-Schreiber projection: real part north, imaginary east.
func (t *transverseMercator) sphere(lam, phi float64) complex128 {
	taup := t.e.conformalTan(math.Tan(phi))
	s, c := math.Sincos(lam)
	return complex(math.Atan2(taup, c), math.Asinh(s/math.Hypot(taup, c)))
}

// series sums c[j-1] sin(2jz) over j by Clenshaw's recurrence.
func series(c *[6]float64, z complex128) complex128 {
	sin2, cos2 := sinCosDouble(z)
	twice := 2 * cos2
	var b1, b2 complex128
	for j := len(c) - 1; j >= 0; j-- {
		b1, b2 = complex(c[j], 0)+twice*b1-b2, b1
	}
	return b1 * sin2
}

// slope is the derivative of series by z.
func slope(c *[6]float64, z complex128) complex128 {
	_, cos2 := sinCosDouble(z)
	twice := 2 * cos2
	var d1, d2 complex128
	for j := len(c); j > 0; j-- {
		d1, d2 = complex(2*float64(j)*c[j-1], 0)+twice*d1-d2, d1
	}
	return d1*cos2 - d2
}

// sinCosDouble returns the sine and the cosine of 2z.
func sinCosDouble(z complex128) (sin, cos complex128) {
	s, c := math.Sincos(2 * real(z))
	sh, ch := math.Sinh(2*imag(z)), math.Cosh(2*imag(z))
	return complex(s*ch, c*sh), complex(c*ch, -s*sh)
}

func (t *transverseMercator) forward(lam, phi float64) (x, y float64, ok bool) {
	if math.Abs(lam) > tmReach {
		return 0, 0, false
	}
	z := t.sphere(lam, phi)
	d := series(&t.alpha, z)
	zeta := z + d
	return t.radius * imag(zeta), t.radius * (real(zeta) - t.xi0), true
}

func (t *transverseMercator) inverse(x, y float64) (lam, phi float64, ok bool) {
	zeta := complex(y/t.radius+t.xi0, x/t.radius)
	if math.Abs(imag(zeta)) > 1 || math.Abs(real(zeta)) > 2 { // past the reach, or the pole
		return 0, 0, false
	}
	d := series(&t.beta, zeta)
	z := zeta - d
	s, c := math.Sincos(real(z))
	sh := math.Sinh(imag(z))
	lam = math.Atan2(sh, c)
	phi = math.Atan(t.e.geodeticTan(s / math.Hypot(sh, c)))
	return lam, phi, math.Abs(lam) <= tmReach*(1+1e-12)
}

func (t *transverseMercator) scale(lam, phi float64) float64 {
	rise := slope(&t.alpha, t.sphere(lam, phi))
	tau := math.Tan(phi)
	s := math.Sin(phi)
	first := math.Sqrt(1-t.e.E2()*s*s) * math.Hypot(1, tau) / math.Hypot(t.e.conformalTan(tau), math.Cos(lam))
	return t.radius / t.e.A * first * cmplx.Abs(1+rise)
}
