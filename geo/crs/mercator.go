package crs

import "math"

// mercator is the Mercator projection of EPSG methods 9804 (a scale factor at
// the equator) and 9805 (a standard parallel).
type mercator struct {
	e  Ellipsoid
	ak float64
}

func newMercator(e Ellipsoid, p params) mercator {
	return mercator{e: e, ak: e.A * p.k * e.parallel(p.lat1*degree)}
}

// mercatorReach keeps the poles out, where northings run to infinity.
const mercatorReach = 89.9 * degree

func (m mercator) forward(lam, phi float64) (x, y float64, ok bool) {
	if math.Abs(phi) > mercatorReach {
		return 0, 0, false
	}
	return m.ak * lam, m.ak * m.e.isometric(phi), true
}

func (m mercator) inverse(x, y float64) (lam, phi float64, ok bool) {
	return x / m.ak, m.e.fromIsometric(y / m.ak), true
}

func (m mercator) scale(_, phi float64) float64 {
	return m.ak / (m.e.A * m.e.parallel(phi))
}

// webMercator is EPSG method 1024: the formulas of the sphere, fed with the
// latitudes of the ellipsoid. It is neither conformal nor equal-area.
type webMercator struct {
	a float64
}

func (w webMercator) forward(lam, phi float64) (x, y float64, ok bool) {
	if math.Abs(phi) > mercatorReach {
		return 0, 0, false
	}
	return w.a * lam, w.a * math.Asinh(math.Tan(phi)), true
}

func (w webMercator) inverse(x, y float64) (lam, phi float64, ok bool) {
	return x / w.a, math.Atan(math.Sinh(y / w.a)), true
}
