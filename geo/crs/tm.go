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

func newTransverseMercator(e Ellipsoid, p params) transverseMercator {
	n := e.F / (2 - e.F)
	n2 := n * n
	n3, n4, n5, n6 := n2*n, n2*n2, n2*n2*n, n2*n2*n2
	t := transverseMercator{
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
	zeta, _ := t.rectify(t.sphere(0, p.lat0*degree))
	t.xi0 = real(zeta)
	return t
}

// sphere is the Gauss-Schreiber projection: real part north, imaginary east.
func (t transverseMercator) sphere(lam, phi float64) complex128 {
	taup := t.e.conformalTan(math.Tan(phi))
	s, c := math.Sincos(lam)
	return complex(math.Atan2(taup, c), math.Asinh(s/math.Hypot(taup, c)))
}

// rectify adds the series, and returns its derivative with it.
func (t transverseMercator) rectify(z complex128) (zeta, slope complex128) {
	zeta, slope = z, 1
	for j, a := range t.alpha {
		m := complex(2*float64(j+1), 0)
		zeta += complex(a, 0) * cmplx.Sin(m*z)
		slope += m * complex(a, 0) * cmplx.Cos(m*z)
	}
	return zeta, slope
}

func (t transverseMercator) forward(lam, phi float64) (x, y float64, ok bool) {
	if math.Abs(lam) > tmReach {
		return 0, 0, false
	}
	zeta, _ := t.rectify(t.sphere(lam, phi))
	return t.radius * imag(zeta), t.radius * (real(zeta) - t.xi0), true
}

func (t transverseMercator) inverse(x, y float64) (lam, phi float64, ok bool) {
	zeta := complex(y/t.radius+t.xi0, x/t.radius)
	if math.Abs(imag(zeta)) > 1 || math.Abs(real(zeta)) > 2 { // past the reach, or the pole
		return 0, 0, false
	}
	z := zeta
	for j, b := range t.beta {
		z -= complex(b, 0) * cmplx.Sin(complex(2*float64(j+1), 0)*zeta)
	}
	s, c := math.Sincos(real(z))
	sh := math.Sinh(imag(z))
	lam = math.Atan2(sh, c)
	phi = math.Atan(t.e.geodeticTan(s / math.Hypot(sh, c)))
	return lam, phi, math.Abs(lam) <= tmReach*(1+1e-12)
}

func (t transverseMercator) scale(lam, phi float64) float64 {
	_, slope := t.rectify(t.sphere(lam, phi))
	tau := math.Tan(phi)
	s := math.Sin(phi)
	first := math.Sqrt(1-t.e.E2()*s*s) * math.Hypot(1, tau) / math.Hypot(t.e.conformalTan(tau), math.Cos(lam))
	return t.radius / t.e.A * first * cmplx.Abs(slope)
}
