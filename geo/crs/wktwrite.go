package crs

import (
	"strconv"
	"strings"
)

// WKT returns the system as ESRI's WKT1 for a .prj file, on one line. GDAL
// reads it to the same numbers.
func (s *System) WKT() string {
	geog := s.wktGeographic()
	if s.Geographic() {
		return geog
	}
	var b strings.Builder
	b.WriteString("PROJCS[" + wktQuote(wktName(s.name)) + "," + geog)
	name, cols := s.wktMethod()
	b.WriteString(`,PROJECTION["` + name + `"]`)
	add := func(name string, v float64) {
		b.WriteString(`,PARAMETER["` + name + `",` + wktNumber(v) + "]")
	}
	add("False_Easting", s.par.fe/s.unit.factor)
	add("False_Northing", s.par.fn/s.unit.factor)
	add("Central_Meridian", s.par.lon0)
	for _, col := range strings.Fields(cols) {
		switch col {
		case "k":
			add("Scale_Factor", s.par.k)
		case "lat0":
			add("Latitude_Of_Origin", s.par.lat0)
		case "lat1":
			add("Standard_Parallel_1", s.par.lat1)
		case "lat2":
			add("Standard_Parallel_2", s.par.lat2)
		case "sphere":
			add("Auxiliary_Sphere_Type", 0)
		}
	}
	unitName, factor := wktName(s.unit.name), wktNumber(s.unit.factor)
	switch s.unit.name {
	case "metre":
		unitName = "Meter"
	case "foot":
		unitName = "Foot"
	case "US survey foot":
		unitName = "Foot_US"
	}
	b.WriteString(",UNIT[" + wktQuote(unitName) + "," + factor + "]]")
	return b.String()
}

// wktMethod returns ESRI's name of the method and the parameters that go with
// it besides the false origin and the central meridian.
func (s *System) wktMethod() (name, cols string) {
	p := s.par
	switch s.method {
	case methodTM:
		return "Transverse_Mercator", "k lat0"
	case methodLCC:
		switch {
		case p.lat1 == p.lat2 && p.lat1 == p.lat0:
			return "Lambert_Conformal_Conic", "lat1 k lat0"
		case p.k != 1:
			return "Lambert_Conformal_Conic", "lat1 lat2 k lat0"
		}
		return "Lambert_Conformal_Conic", "lat1 lat2 lat0"
	case methodAlber:
		return "Albers", "lat1 lat2 lat0"
	case methodMerc:
		if p.k != 1 {
			return "Mercator_Variant_A", "k"
		}
		return "Mercator", "lat1"
	case methodWeb:
		return "Mercator_Auxiliary_Sphere", "lat1 sphere"
	case methodLAEA:
		return "Lambert_Azimuthal_Equal_Area", "lat0"
	case methodDbl:
		return "Double_Stereographic", "k lat0"
	}
	if p.lat1 == p.lat0 {
		return "Polar_Stereographic_Variant_A", "k lat0"
	}
	if p.lat0 > 0 {
		return "Stereographic_North_Pole", "lat1"
	}
	return "Stereographic_South_Pole", "lat1"
}

func (s *System) wktGeographic() string {
	d := s.datum
	esri := d.esri
	if esri == "" {
		esri = wktName(d.full)
	}
	name := d.gcs
	if name == "" {
		name = "GCS_" + strings.TrimPrefix(esri, "D_")
	}
	u := unit{"Degree", degree}
	if s.Geographic() && s.unit.factor != degree {
		u = s.unit
	}
	return "GEOGCS[" + wktQuote(name) + ",DATUM[" + wktQuote(esri) + ",SPHEROID[" + wktQuote(wktName(d.ellipsoid)) + "," +
		wktNumber(s.e.A) + "," + wktNumber(1/s.e.F) + `]],PRIMEM["Greenwich",0.0],UNIT[` + wktQuote(wktName(u.name)) + "," + wktNumber(u.factor) + "]]"
}

// wktName brings a name into the form that names have in .prj files.
func wktName(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '-':
			if gap && b.Len() > 0 {
				b.WriteByte('_')
			}
			gap = false
			b.WriteRune(r)
		default:
			gap = true
		}
	}
	if b.Len() == 0 {
		return "unnamed"
	}
	return b.String()
}

func wktQuote(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

// wktNumber writes the shortest number that reads back the same, always with a
// point; rounding that only the last digit of a foot shows is taken off.
func wktNumber(v float64) string {
	t := strconv.FormatFloat(v, 'f', -1, 64)
	if r := strconv.FormatFloat(v, 'g', 15, 64); len(r) < len(t)-3 {
		if f, err := strconv.ParseFloat(r, 64); err == nil {
			t = strconv.FormatFloat(f, 'f', -1, 64)
		}
	}
	if !strings.Contains(t, ".") {
		t += ".0"
	}
	return t
}
