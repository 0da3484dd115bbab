package crs

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
)

//go:embed datums.csv
var datumsCSV string

//go:embed epsg.csv
var epsgCSV string

// row is one projected system of epsg.csv.
type row struct {
	code   int
	name   string
	datum  *datum
	method method
	unit   unit
	par    params
}

// table is what the two files hold.
type table struct {
	datums []*datum
	byBase map[int]*datum
	byName map[string]*datum // by plain(name)
	rows   []row
	byCode map[int]int // index into rows
}

// The units that systems of the table have.
const surveyFoot = 1200.0 / 3937

func tableUnit(s string) unit {
	switch s {
	case "ftUS":
		return unit{"US survey foot", surveyFoot}
	case "ft":
		return unit{"foot", 0.3048}
	}
	return unit{"metre", 1}
}

// loadTable reads the embedded files once. They are part of the program, so a
// fault in them is a fault of the build and panics; a test reads them.
var loadTable = sync.OnceValue(func() *table {
	t := &table{byBase: map[int]*datum{}, byName: map[string]*datum{}, byCode: map[int]int{}}
	for _, f := range records("datums.csv", datumsCSV) {
		d := &datum{
			base: f.integer("base"), name: f.text("name"), full: f.text("datum"), gcs: f.text("gcs"), esri: f.text("esri"), ellipsoid: f.text("ellipsoid"),
			e: Ellipsoid{A: f.number("a", 0), F: 1 / f.number("rf", 0)}, accuracy: f.number("accuracy", 0),
		}
		if f.text("dx") != "" {
			const arcsec = degree / 3600
			d.shift = &helmert{
				t: [3]float64{f.number("dx", 0), f.number("dy", 0), f.number("dz", 0)},
				r: [3]float64{f.number("rx", 0) * arcsec, f.number("ry", 0) * arcsec, f.number("rz", 0) * arcsec},
				s: f.number("ds", 0) * 1e-6,
			}
		}
		if f.text("operation") != "" {
			d.operation = f.integer("operation")
		}
		t.datums = append(t.datums, d)
		t.byBase[d.base] = d
		for _, a := range strings.Split(f.text("aliases"), "|") {
			if k := plainDatum(a); t.byName[k] == nil {
				t.byName[k] = d
			}
		}
	}
	for _, f := range records("epsg.csv", epsgCSV) {
		r := row{
			code: f.integer("code"), name: f.text("name"), datum: t.byBase[f.integer("base")],
			method: method(f.text("method")), unit: tableUnit(f.text("unit")),
			par: params{
				lat0: f.number("lat0", 0), lon0: f.number("lon0", 0), lat1: f.number("lat1", 0), lat2: f.number("lat2", 0),
				k: f.number("k", 1), fe: f.number("fe", 0), fn: f.number("fn", 0),
			},
		}
		t.byCode[r.code] = len(t.rows)
		t.rows = append(t.rows, r)
	}
	return t
})

// record is one line of an embedded file, by column name.
type record struct {
	file   string
	fields map[string]string
}

func records(file, text string) []record {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		panic("crs: " + file + ": " + err.Error())
	}
	out := make([]record, 0, len(lines)-1)
	for _, line := range lines[1:] {
		f := make(map[string]string, len(line))
		for i, v := range line {
			f[lines[0][i]] = v
		}
		out = append(out, record{file, f})
	}
	return out
}

func (r record) text(col string) string { return r.fields[col] }

func (r record) number(col string, empty float64) float64 {
	s := r.fields[col]
	if s == "" {
		return empty
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic(fmt.Sprintf("crs: %s: %v: %s: %v", r.file, r.fields, col, err))
	}
	return v
}

func (r record) integer(col string) int {
	v := r.number(col, math.NaN())
	if v != math.Trunc(v) {
		panic(fmt.Sprintf("crs: %s: %v: %s is not a whole number", r.file, r.fields, col))
	}
	return int(v)
}

// FromEPSG returns the system with an EPSG code. Codes that are not in the
// table are errors: those on a datum that needs a shift grid, and those whose
// projection method is not done here.
func FromEPSG(code int) (*System, error) {
	t := loadTable()
	if d := t.byBase[code]; d != nil {
		return &System{name: d.name, epsg: code, datum: d, e: d.e, unit: unit{"degree", degree}, par: params{k: 1}}, nil
	}
	i, ok := t.byCode[code]
	if !ok {
		if name := shiftGridDatum(code); name != "" {
			return nil, fmt.Errorf("EPSG:%d: %w", code, datumError(name))
		}
		return nil, fmt.Errorf("EPSG:%d is not a coordinate system that is known here: %s", code, reproject)
	}
	r := t.rows[i]
	p, err := newProjection(r.datum.e, r.method, r.par)
	if err != nil {
		return nil, fmt.Errorf("EPSG:%d: %w", code, err)
	}
	return &System{name: r.name, epsg: code, datum: r.datum, e: r.datum.e, unit: r.unit, method: r.method, par: r.par, proj: p}, nil
}

const reproject = "re-project the file to WGS 84 first, for example with ogr2ogr -t_srs EPSG:4326"

func datumError(name string) error {
	return fmt.Errorf("datum %q cannot be tied to WGS 84 here (it may need a shift grid): %s", name, reproject)
}

// shiftGridDatum names the datum of the codes that are most met on one that
// needs a shift grid.
func shiftGridDatum(code int) string {
	switch {
	case code == 4267, code >= 26701 && code <= 26799, code >= 32001 && code <= 32099:
		return "NAD27"
	case code == 4230, code >= 23028 && code <= 23038:
		return "ED50"
	}
	return ""
}

// recognise returns the code of the table's first system with these numbers,
// claimed before any other, and 0 if there is none. Tolerances are those of
// the digits that programs write: 0.1 mm.
func recognise(d *datum, m method, u unit, p params, claimed int) int {
	t := loadTable()
	if m == geographic {
		if u.factor == degree {
			return d.base
		}
		return 0
	}
	same := func(r row) bool {
		return r.datum == d && r.method == m && math.Abs(r.unit.factor-u.factor) < 1e-12*u.factor && r.par.near(p)
	}
	if i, ok := t.byCode[claimed]; ok && same(t.rows[i]) {
		return claimed
	}
	for _, r := range t.rows {
		if same(r) {
			return r.code
		}
	}
	return 0
}

func (p params) near(q params) bool {
	within := func(a, b, eps float64) bool { return math.Abs(a-b) <= eps }
	parallels := func(a, b float64) bool { return within(p.lat1, a, 1e-9) && within(p.lat2, b, 1e-9) }
	return within(p.lat0, q.lat0, 1e-9) && within(math.Remainder(p.lon0-q.lon0, 360), 0, 1e-9) &&
		(parallels(q.lat1, q.lat2) || parallels(q.lat2, q.lat1)) &&
		within(p.k, q.k, 1e-9) && within(p.fe, q.fe, 1e-4) && within(p.fn, q.fn, 1e-4)
}

// plain strips a name down to its small letters and digits, so that spaces,
// underscores, brackets and accents do not matter.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		}
		return -1
	}, s)
}

// plainDatum is plain without the prefix that names in .prj files have.
func plainDatum(s string) string { return plain(strings.TrimPrefix(s, "D_")) }
