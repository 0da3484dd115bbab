package crs

// Codes returns every EPSG code of the table.
func Codes() []int {
	t := loadTable()
	var out []int
	for _, d := range t.datums {
		out = append(out, d.base)
	}
	for _, r := range t.rows {
		out = append(out, r.code)
	}
	return out
}

// Base returns the EPSG code of the geographic system on the system's datum.
func (s *System) Base() int { return s.datum.base }

// Shifted reports whether the datum is carried to WGS 84 by a transformation,
// and by which.
func (s *System) Shifted() (operation int, ok bool) {
	return s.datum.operation, s.datum.shift != nil
}

// ForwardOwn and InverseOwn work on degrees on the system's own datum.
func (s *System) ForwardOwn(lon, lat float64) (x, y float64, err error) {
	return s.forwardOwn(lon, lat)
}
func (s *System) InverseOwn(x, y float64) (lon, lat float64, err error) { return s.inverseOwn(x, y) }

// Registered reports whether the datum has a registered name for .prj files.
func (s *System) Registered() bool { return s.datum.esri != "" }

// Parts returns what the system's WKT is put together from: its datum, and its
// projection with its unit but for the central meridian.
func (s *System) Parts() (d, projection any) {
	p := s.par
	p.lon0 = 0
	return s.datum, struct {
		m method
		p params
		u unit
	}{s.method, p, s.unit}
}
