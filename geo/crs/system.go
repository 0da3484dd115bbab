package crs

import (
	"fmt"
	"math"
)

// System is a coordinate system: geographic (longitude and latitude on some
// datum) or projected. It never changes once made and is safe for use by many
// goroutines at once.
type System struct {
	name   string
	epsg   int
	datum  *datum
	e      Ellipsoid // of the system itself, as its source gives it
	unit   unit
	method method
	par    params
	proj   projection // nil for a geographic system
}

// unit is a unit of measure: metres, or for a geographic system radians, in one.
type unit struct {
	name   string
	factor float64
}

// Name returns the system's name as its source gives it.
func (s *System) Name() string { return s.name }

// EPSG returns the system's EPSG code, or 0 if it is not known. A code that a
// text claims counts only if the text's numbers are those of the code.
func (s *System) EPSG() int { return s.epsg }

// Geographic reports whether the coordinates are longitude and latitude.
func (s *System) Geographic() bool { return s.proj == nil }

// Unit returns the unit of the coordinates and how many metres it holds. For a
// geographic system that is the unit of angle, mostly "degree", and 0.
func (s *System) Unit() (name string, metres float64) {
	if s.Geographic() {
		return s.unit.name, 0
	}
	return s.unit.name, s.unit.factor
}

// Accuracy returns how well the system's datum is tied to WGS 84, in metres,
// and a note on how; 0 and no note for WGS 84 itself.
func (s *System) Accuracy() (metres float64, note string) {
	d := s.datum
	switch {
	case d.base == 4326:
		return 0, ""
	case d.shift != nil:
		return d.accuracy, fmt.Sprintf("%s carried to WGS 84 by EPSG transformation %d", d.name, d.operation)
	}
	return d.accuracy, d.name + " taken as WGS 84"
}

// Conformal reports whether the projection keeps angles. Web Mercator does not,
// nor does a geographic system.
func (s *System) Conformal() bool {
	_, ok := s.proj.(conformal)
	return ok
}

// Scale returns how many metres in the plane one metre on the ellipsoid at p
// becomes, in any direction. It is NaN for a system that is not conformal and
// for a position outside the projection.
func (s *System) Scale(p LonLat) float64 {
	if _, _, err := s.Forward(p); err != nil {
		return math.NaN()
	}
	return s.scale(p)
}

// ScaleAt is Scale at the system's own coordinates. Coordinates that no position
// on the earth has are an error.
func (s *System) ScaleAt(x, y float64) (float64, error) {
	p, err := s.Inverse(x, y)
	if err != nil {
		return math.NaN(), err
	}
	return s.scale(p), nil
}

func (s *System) scale(p LonLat) float64 {
	c, ok := s.proj.(conformal)
	if !ok {
		return math.NaN()
	}
	lam, phi := s.datum.fromWGS84(p.Lon()*degree, p.Lat()*degree)
	return c.scale(math.Remainder(lam-s.par.lon0*degree, 2*math.Pi), phi)
}

// Forward carries a WGS 84 position to the system's own coordinates, easting or
// longitude first, in the system's own unit. A longitude outside -180 to 180,
// a latitude outside -90 to 90 and a position outside the projection are
// errors.
func (s *System) Forward(p LonLat) (x, y float64, err error) {
	if !(math.Abs(p.Lon()) <= 180 && math.Abs(p.Lat()) <= 90) {
		return 0, 0, fmt.Errorf("longitude %g, latitude %g is not a position on the earth", p.Lon(), p.Lat())
	}
	if s.datum.shift == nil {
		return s.forwardOwn(p.Lon(), p.Lat())
	}
	lam, phi := s.datum.fromWGS84(p.Lon()*degree, p.Lat()*degree)
	return s.forwardOwn(lam/degree, phi/degree)
}

// Inverse carries the system's own coordinates, easting or longitude first, to
// a WGS 84 position. Coordinates that no position on the earth has are errors.
func (s *System) Inverse(x, y float64) (LonLat, error) {
	lon, lat, err := s.inverseOwn(x, y)
	if err != nil || s.datum.shift == nil {
		return LonLat{lon, lat}, err
	}
	lam, phi := s.datum.toWGS84(lon*degree, lat*degree)
	return LonLat{lam / degree, phi / degree}, nil
}

// forwardOwn starts from degrees on the system's own datum.
func (s *System) forwardOwn(lon, lat float64) (x, y float64, err error) {
	if s.proj == nil {
		if s.unit.factor == degree {
			return lon, lat, nil
		}
		return lon * degree / s.unit.factor, lat * degree / s.unit.factor, nil
	}
	x, y, ok := s.proj.forward(math.Remainder(lon-s.par.lon0, 360)*degree, lat*degree)
	if !ok || !finite(x) || !finite(y) {
		return 0, 0, fmt.Errorf("longitude %g, latitude %g lies outside the projection of %s", lon, lat, s.name)
	}
	return (x + s.par.fe) / s.unit.factor, (y + s.par.fn) / s.unit.factor, nil
}

// inverseOwn ends at degrees on the system's own datum. It goes forward again
// to tell a position from what a formula makes of coordinates that have none.
func (s *System) inverseOwn(x, y float64) (lon, lat float64, err error) {
	bad := func() (float64, float64, error) {
		return 0, 0, fmt.Errorf("coordinates %g, %g lie outside %s", x, y, s.name)
	}
	if !finite(x) || !finite(y) {
		return bad()
	}
	if s.proj == nil {
		if s.unit.factor == degree {
			lon, lat = x, y
		} else {
			lon, lat = x*s.unit.factor/degree, y*s.unit.factor/degree
		}
		if math.Abs(lon) > 180 || math.Abs(lat) > 90 {
			return bad()
		}
		return lon, lat, nil
	}
	px, py := x*s.unit.factor-s.par.fe, y*s.unit.factor-s.par.fn
	lam, phi, ok := s.proj.inverse(px, py)
	if !ok || !(math.Abs(lam) <= math.Pi*(1+1e-12) && math.Abs(phi) <= math.Pi/2) {
		return bad()
	}
	const near = 1e-3 // metres
	bx, by, ok := s.proj.forward(lam, phi)
	if !ok || !(math.Abs(bx-px) <= near && math.Abs(by-py) <= near) {
		return bad()
	}
	dlon := math.Max(-180, math.Min(180, lam/degree)) // the seam stays on its own side
	return math.Remainder(s.par.lon0+dlon, 360), phi / degree, nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// UTM returns the system of a UTM zone, 1 to 60, on WGS 84 (EPSG 32601 to
// 32660, in the south 32701 to 32760), and nil for any other number.
func UTM(zone int, south bool) *System {
	if zone < 1 || zone > 60 {
		return nil
	}
	code := 32600 + zone
	if south {
		code += 100
	}
	s, _ := FromEPSG(code) // the table has all of them; a test says so
	return s
}

// UTMZone returns the UTM zone of a position: plain zones of 6 degrees, closed
// in the west and open in the east, without the exceptions around Norway; the
// equator is north. Longitude 180 is in zone 60.
func UTMZone(p LonLat) (zone int, south bool) {
	z := math.Floor((p.Lon()+180)/6) + 1
	if !(z >= 1) {
		z = 1
	}
	return int(math.Min(z, 60)), p.Lat() < 0
}
