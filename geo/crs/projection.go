package crs

import (
	"fmt"
	"math"
)

// method is a map projection method.
type method string

const (
	geographic  method = ""
	methodTM    method = "tm"
	methodLCC   method = "lcc"
	methodAlber method = "albers"
	methodMerc  method = "merc"
	methodWeb   method = "webmerc"
	methodLAEA  method = "laea"
	methodDbl   method = "stereo"
	methodPolar method = "polar"
)

// params are the parameters of a projection: degrees, metres and a plain
// factor. The forms of a method that differ only in how they are written have
// the same params: a Lambert cone with one standard parallel has lat1 = lat2,
// a polar system with its scale at the pole has lat1 = lat0, and k is 1 where
// the method has none.
type params struct {
	lat0, lon0, lat1, lat2, k, fe, fn float64
}

// projection goes between radians (the longitude from the central meridian)
// and metres without false origin. ok is false outside its domain.
type projection interface {
	forward(lam, phi float64) (x, y float64, ok bool)
	inverse(x, y float64) (lam, phi float64, ok bool)
}

// conformal is a projection whose scale is the same in every direction.
type conformal interface {
	scale(lam, phi float64) float64
}

func newProjection(e Ellipsoid, m method, p params) (projection, error) {
	for _, v := range []float64{p.lat0, p.lat1, p.lat2} {
		if !(math.Abs(v) <= 90) {
			return nil, fmt.Errorf("projection parameter: latitude %g is not within 90 degrees of the equator", v)
		}
	}
	if !(math.Abs(p.lon0) <= 360) {
		return nil, fmt.Errorf("projection parameter: central meridian %g is not a longitude", p.lon0)
	}
	if !(p.k >= 0.1 && p.k <= 10) {
		return nil, fmt.Errorf("projection parameter: scale factor %g is not near 1", p.k)
	}
	if !(math.Abs(p.fe) <= 1e9 && math.Abs(p.fn) <= 1e9) {
		return nil, fmt.Errorf("projection parameter: false origin %g, %g m is too far away", p.fe, p.fn)
	}
	switch m {
	case methodTM:
		return newTransverseMercator(e, p), nil
	case methodLCC:
		if c, ok := newLambertConic(e, p); ok {
			return c, nil
		}
	case methodAlber:
		if c, ok := newAlbersConic(e, p); ok {
			return c, nil
		}
	case methodMerc:
		if math.Abs(p.lat1) < 89 {
			return newMercator(e, p), nil
		}
	case methodWeb:
		return webMercator{a: e.A}, nil
	case methodLAEA:
		return newLambertAzimuthal(e, p), nil
	case methodDbl:
		if math.Abs(p.lat0) < 89.9 {
			return newObliqueStereographic(e, p), nil
		}
	case methodPolar:
		if math.Abs(p.lat0) == 90 && p.lat0*p.lat1 > 0 {
			return newPolarStereographic(e, p), nil
		}
	}
	return nil, fmt.Errorf("projection parameters: latitudes %g, %g, %g do not make a projection of this kind", p.lat0, p.lat1, p.lat2)
}
