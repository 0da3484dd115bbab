package crs

import (
	"fmt"
	"math"
	"strings"
)

// FromWKT returns the system that a WKT text describes: ESRI's WKT1 of .prj
// files, WKT1 of OGC and GDAL, or WKT2 (ISO 19162). Of a compound system the
// horizontal part is taken. A TOWGS84 or a bound transformation in the text is
// not used: the datum is known by name, or refused. Ellipsoid, parameters and
// units are those of the text, by their numbers. Texts of more than 1 MiB or
// 32 levels of brackets are refused.
func FromWKT(text string) (*System, error) {
	root, err := parseWKT(text)
	if err != nil {
		return nil, err
	}
	for range wktMaxDepth {
		switch root.text {
		case "PROJCS", "PROJCRS", "PROJECTEDCRS":
			s, err := readProjected(root)
			return s, inSystem(root, err)
		case "GEOGCS", "GEOGCRS", "GEOGRAPHICCRS", "GEODCRS", "GEODETICCRS":
			s, err := readGeographic(root)
			return s, inSystem(root, err)
		case "COMPD_CS", "COMPOUNDCRS", "BOUNDCRS", "SOURCECRS":
			next, ok := root.child("SOURCECRS", "PROJCS", "PROJCRS", "PROJECTEDCRS", "GEOGCS", "GEOGCRS", "GEOGRAPHICCRS",
				"GEODCRS", "GEODETICCRS", "BOUNDCRS")
			if !ok {
				return nil, fmt.Errorf("WKT text: %s has no horizontal part that is known here", root.text)
			}
			root = next
		default:
			return nil, fmt.Errorf("WKT text: %s is not a horizontal coordinate system: %s", clip(root.text), reproject)
		}
	}
	return nil, fmt.Errorf("WKT text: no coordinate system in it")
}

func inSystem(n node, err error) error {
	if err == nil {
		return nil
	}
	name, nerr := n.name()
	if nerr != nil {
		name = n.text
	}
	return fmt.Errorf("coordinate system %q: %w", clip(name), err)
}

func readGeographic(n node) (*System, error) {
	g, err := readBase(n)
	if err != nil {
		return nil, err
	}
	if onAuxiliarySphere(n) {
		return nil, datumError(auxiliarySphere)
	}
	if err := checkAxes(n, "east", "north"); err != nil {
		return nil, err
	}
	g.epsg = recognise(g.datum, geographic, g.unit, params{}, n.code())
	return g, nil
}

// readBase reads a geographic system, or the base of a projected one.
func readBase(n node) (*System, error) {
	s := &System{par: params{k: 1}}
	var err error
	if s.name, err = n.name(); err != nil {
		return nil, err
	}
	if cs, ok := n.child("CS"); ok && len(cs.kids) > 0 && strings.EqualFold(cs.kids[0].text, "cartesian") {
		return nil, fmt.Errorf("geocentric coordinates are not a horizontal coordinate system")
	}
	d, ok := n.child("DATUM", "GEODETICDATUM", "TRF", "ENSEMBLE")
	if !ok {
		return nil, fmt.Errorf("no datum in it")
	}
	if err := s.readDatum(d); err != nil {
		return nil, err
	}
	if pm, ok := n.child("PRIMEM", "PRIMEMERIDIAN"); ok {
		v, err := pm.number(1)
		if err != nil {
			return nil, err
		}
		if v != 0 {
			name, _ := pm.name()
			return nil, fmt.Errorf("prime meridian %q (%g) is not Greenwich: %s", clip(name), v, reproject)
		}
	}
	s.unit = unit{"degree", degree}
	if u, ok, err := systemUnit(n, "ANGLEUNIT"); err != nil {
		return nil, err
	} else if ok {
		s.unit = u
	}
	if !(s.unit.factor > 1e-9 && s.unit.factor <= 1.0001) {
		return nil, fmt.Errorf("angular unit %q of %g radians is not plausible", clip(s.unit.name), s.unit.factor)
	}
	return s, nil
}

func (s *System) readDatum(d node) error {
	name, err := d.name()
	if err != nil {
		return err
	}
	el, ok := d.child("SPHEROID", "ELLIPSOID")
	if !ok {
		return fmt.Errorf("datum %q has no ellipsoid", clip(name))
	}
	a, err := el.number(1)
	if err != nil {
		return err
	}
	rf, err := el.number(2)
	if err != nil {
		return err
	}
	if u, ok := el.child("LENGTHUNIT", "UNIT"); ok {
		f, err := u.number(1)
		if err != nil {
			return err
		}
		a *= f
	}
	key := plainDatum(name)
	if key == auxiliarySphere {
		key = "wgs1984"
		if rf == 0 { // the sphere is part of the old way to write Web Mercator
			rf = 1 / WGS84().F
		}
	}
	if s.datum = loadTable().byName[key]; s.datum == nil {
		return datumError(clip(name))
	}
	// An ellipsoid that is a little off is taken as it stands; one that is not
	// the datum's means that one of the two names is wrong.
	want := s.datum.e
	if !(math.Abs(a-want.A) < 0.01 && math.Abs(rf-1/want.F) < 1e-3) {
		return fmt.Errorf("datum %q with an ellipsoid of %g m and 1/%g, not its own of %g m and 1/%g: %s",
			clip(name), a, rf, want.A, 1/want.F, reproject)
	}
	s.e = Ellipsoid{A: a, F: 1 / rf}
	return nil
}

// auxiliarySphere is the datum under which ESRI's programs once wrote Web
// Mercator: a sphere that is fed with the latitudes of WGS 84. In no other
// system are its latitudes those.
const auxiliarySphere = "wgs1984majorauxiliarysphere"

func readProjected(n node) (*System, error) {
	baseNode, ok := n.child("GEOGCS", "BASEGEOGCRS", "BASEGEODCRS")
	if !ok {
		return nil, fmt.Errorf("no geographic system in it")
	}
	s, err := readBase(baseNode)
	if err != nil {
		return nil, err
	}
	angle := s.unit
	if s.name, err = n.name(); err != nil {
		return nil, err
	}
	u, ok, err := systemUnit(n, "LENGTHUNIT")
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, fmt.Errorf("no unit of length in it")
	}
	if !(u.factor >= 1e-4 && u.factor <= 1e5) {
		return nil, fmt.Errorf("unit %q of %g m is not plausible", clip(u.name), u.factor)
	}
	s.unit = u

	conversion := n
	methodNode, ok := n.child("PROJECTION")
	if !ok {
		if conversion, ok = n.child("CONVERSION"); ok {
			methodNode, ok = conversion.child("METHOD", "PROJECTION")
		}
	}
	if !ok {
		return nil, fmt.Errorf("no projection in it")
	}
	methodName, err := methodNode.name()
	if err != nil {
		return nil, err
	}
	m, ok := wktMethodOf(plain(methodName))
	if !ok {
		return nil, fmt.Errorf("projection %q is not known here: %s", clip(methodName), reproject)
	}
	if m.method == methodMerc && isWebMercator(n, baseNode, s.name) {
		m, _ = wktMethodOf("mercatorauxiliarysphere")
	}
	if onAuxiliarySphere(baseNode) && m.method != methodWeb {
		return nil, datumError(auxiliarySphere)
	}
	given := map[string]bool{}
	for _, k := range conversion.kids {
		if k.group && k.text == "PARAMETER" {
			if err := readParameter(k, &s.par, given, angle, u); err != nil {
				return nil, err
			}
		}
	}
	if err := m.check(&s.par, given); err != nil {
		return nil, fmt.Errorf("projection %q: %w", clip(methodName), err)
	}
	axes := []string{"east", "north"}
	if m.method == methodPolar {
		axes = append(axes, "south")
	}
	if err := checkAxes(n, axes...); err != nil {
		return nil, err
	}
	s.method = m.method
	if s.proj, err = newProjection(s.e, s.method, s.par); err != nil {
		return nil, err
	}
	s.epsg = recognise(s.datum, s.method, u, s.par, n.code())
	return s, nil
}

// isWebMercator tells whether what is called Mercator is Web Mercator: GDAL's
// WKT1 says so only in an extension, and other writers in the name or code.
// Taken for the true Mercator it is off by kilometres.
func isWebMercator(n, base node, name string) bool {
	if ext, ok := n.child("EXTENSION"); ok && len(ext.kids) > 1 {
		t := ext.kids[1].text
		if strings.Contains(t, "+proj=merc") && strings.Contains(t, "+a=6378137") && strings.Contains(t, "+b=6378137") {
			return true
		}
	}
	switch n.code() {
	case 3857, 3785, 900913:
		return true
	}
	p := plain(name)
	return onAuxiliarySphere(base) || strings.Contains(p, "pseudomercator") || strings.Contains(p, "webmercator")
}

func onAuxiliarySphere(base node) bool {
	d, _ := base.child("DATUM")
	name, err := d.name()
	return err == nil && plainDatum(name) == auxiliarySphere
}

func readParameter(k node, p *params, given map[string]bool, angle, length unit) error {
	name, err := k.name()
	if err != nil {
		return err
	}
	v, err := k.number(1)
	if err != nil {
		return fmt.Errorf("parameter %q: %w", clip(name), err)
	}
	col := wktParam(plain(name))
	if col == "" {
		if v == 0 {
			return nil
		}
		return fmt.Errorf("parameter %q (%g) is not known here: %s", clip(name), v, reproject)
	}
	if given[col] {
		return fmt.Errorf("parameter %q: %s is given twice", clip(name), columnName(col))
	}
	given[col] = true
	u := unit{"", 1}
	switch col {
	case "k":
	case "fe", "fn":
		u = length
	default:
		u = angle
	}
	if own, ok := k.child("ANGLEUNIT", "LENGTHUNIT", "SCALEUNIT", "UNIT"); ok {
		if u, err = readUnit(own); err != nil {
			return err
		}
	}
	if col == "k" || col == "fe" || col == "fn" {
		v *= u.factor
	} else if u.factor != degree {
		v *= u.factor / degree
	}
	*p.field(col) = v
	return nil
}

// systemUnit returns the unit of a system: its own element, or that of its
// first two axes.
func systemUnit(n node, key string) (u unit, ok bool, err error) {
	if own, ok := n.child(key, "UNIT"); ok {
		u, err := readUnit(own)
		return u, true, err
	}
	axes := 0
	for _, k := range n.kids {
		if !k.group || k.text != "AXIS" || axes == 2 {
			continue
		}
		own, has := k.child(key, "UNIT")
		if !has {
			continue
		}
		axes++
		v, err := readUnit(own)
		if err != nil {
			return u, false, err
		}
		if ok && v.factor != u.factor {
			return u, false, fmt.Errorf("its axes have different units, %q and %q", clip(u.name), clip(v.name))
		}
		u, ok = v, true
	}
	return u, ok, nil
}

// readUnit goes by the factor. Writers cut the well-known ones to 15 digits or
// fewer; those are brought back to the full value, and to one name.
func readUnit(n node) (unit, error) {
	name, err := n.name()
	if err != nil {
		return unit{}, err
	}
	f, err := n.number(1)
	if err != nil {
		return unit{}, fmt.Errorf("unit %q: %w", clip(name), err)
	}
	for _, u := range []unit{{"metre", 1}, {"foot", 0.3048}, {"US survey foot", surveyFoot}, {"degree", degree}} {
		if math.Abs(f-u.factor) <= 1e-9*u.factor {
			if u.factor == 1 && !strings.HasPrefix(strings.ToLower(name), "met") {
				u.name = name
			}
			return u, nil
		}
	}
	return unit{name, f}, nil
}

// checkAxes refuses systems that count to the west or south. Which axis stands
// first does not matter.
func checkAxes(n node, allowed ...string) error {
	count := 0
	for _, k := range n.kids {
		if !k.group || k.text != "AXIS" || len(k.kids) < 2 {
			continue
		}
		if count++; count > 2 {
			break
		}
		way := k.kids[1].text
		ok := false
		for _, a := range allowed {
			ok = ok || strings.EqualFold(way, a)
		}
		if !ok {
			return fmt.Errorf("an axis that points %s is not supported: %s", strings.ToLower(clip(way)), reproject)
		}
	}
	return nil
}
