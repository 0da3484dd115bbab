package crs

import "math"

// datum is a geodetic datum with its tie to WGS 84.
type datum struct {
	base      int // EPSG code of its geographic system
	name      string
	full      string // name of the datum itself
	gcs, esri string // names of the geographic system and the datum in a .prj file; empty where none is registered
	ellipsoid string // name in a .prj file
	e         Ellipsoid
	shift     *helmert // nil: taken as WGS 84
	accuracy  float64  // metres
	operation int      // EPSG code of the transformation; 0 where there is none
}

// helmert is a seven-parameter transformation to WGS 84, rotations by the
// position vector convention (EPSG method 9606): metres, radians, plain factor.
type helmert struct {
	t, r [3]float64
	s    float64
}

// toWGS84 carries a geodetic longitude and latitude in radians over, at the
// height of the ellipsoid.
func (d *datum) toWGS84(lam, phi float64) (float64, float64) {
	h := d.shift
	if h == nil {
		return lam, phi
	}
	v := geocentric(d.e, lam, phi)
	m := 1 + h.s
	return geodetic(WGS84(), [3]float64{
		h.t[0] + m*(v[0]-h.r[2]*v[1]+h.r[1]*v[2]),
		h.t[1] + m*(h.r[2]*v[0]+v[1]-h.r[0]*v[2]),
		h.t[2] + m*(-h.r[1]*v[0]+h.r[0]*v[1]+v[2]),
	})
}

// fromWGS84 is the inverse of toWGS84. It is found by correction, because the
// published parameters run one way and the height between the two ellipsoids
// is dropped: so there and back is the same place.
func (d *datum) fromWGS84(lam, phi float64) (float64, float64) {
	if d.shift == nil {
		return lam, phi
	}
	l, p := lam, phi
	for range 8 {
		gl, gp := d.toWGS84(l, p)
		dl, dp := math.Remainder(lam-gl, 2*math.Pi), phi-gp
		l += dl
		p = math.Max(-math.Pi/2, math.Min(math.Pi/2, p+dp))
		if math.Abs(dl) < 1e-15 && math.Abs(dp) < 1e-15 {
			break
		}
	}
	return l, p
}

func geocentric(e Ellipsoid, lam, phi float64) [3]float64 {
	sp, cp := math.Sincos(phi)
	sl, cl := math.Sincos(lam)
	n := e.A / math.Sqrt(1-e.E2()*sp*sp)
	return [3]float64{n * cp * cl, n * cp * sl, n * (1 - e.E2()) * sp}
}

// geodetic uses B. R. Bowring's formula (Survey Review 23, 1976,
// doi:10.1179/sre.1976.23.181.323), which near the ellipsoid is exact to
// the last digits, once more through itself.
func geodetic(e Ellipsoid, v [3]float64) (lam, phi float64) {
	p := math.Hypot(v[0], v[1])
	b := e.A * (1 - e.F)
	ep2 := e.E2() / (1 - e.E2())
	tanBeta := v[2] * e.A / (p * b)
	for range 2 {
		s, c := math.Sincos(math.Atan(tanBeta))
		phi = math.Atan2(v[2]+ep2*b*s*s*s, p-e.E2()*e.A*c*c*c)
		tanBeta = (1 - e.F) * math.Tan(phi)
	}
	return math.Atan2(v[1], v[0]), phi
}
