package sampling

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// Analyte is a column of results: what was measured, in which unit and by which
// method, the latter two empty where the lab did not say.
type Analyte struct {
	Name   string `json:"name"`
	Of     string `json:"of,omitempty"`     // what it is a figure of, where the name says more: P for "P Bray-1" beside "P Olsen"
	Column string `json:"column,omitempty"` // header in the lab's file, where it differs from the name
	Unit   string `json:"unit,omitempty"`
	Method string `json:"method,omitempty"`
	// Mixed says why its figures are no one set, of two methods or in two
	// units; empty when they are. No surface or mean is made of such.
	Mixed string `json:"mixed,omitempty"`
}

// Figure is the lab's value of one analyte for one composite.
type Figure struct {
	Analyte  string
	Value    float64
	Censored string // "<" or ">": Value stands for a figure beyond the lab's limit
}

// Composite is one sample with its results: of a plan's unit, or a point that
// brought its own coordinates.
type Composite struct {
	ID, Field           string
	Management, Problem string
	ComparisonOf        string // of healthy ground beside a problem area, its name
	CompareWith         string // of a problem area: id of the sample to compare it with
	Depth               string
	Unit, Composite     int             // number of the sampling unit, and of the composite in it, from 1; 0 of a point
	Shape               crs.LonLatShape // of the sampling unit; empty for a point
	At                  geo.LonLat
	Native              *Native // of a point: its coordinates as they came
	Figures             []Figure
	Notes               []string
}

// Native are coordinates in the system in which results came. They are kept
// because degrees in a file are rounded to 11 mm.
type Native struct {
	X, Y float64
	CRS  string // as crs.FromText takes it
}

// Feature writes a composite for results.geojson. An analyte with the name of a
// property that the file has anyway is written under another (see column).
func (c Composite) Feature() vector.OutFeature {
	p := []vector.Property{
		{Name: "kind", Value: KindUnit},
		{Name: "id", Value: c.ID},
		{Name: "field", Value: c.Field},
	}
	add := func(name, value string) {
		if value != "" {
			p = append(p, vector.Property{Name: name, Value: value})
		}
	}
	add("management", c.Management)
	add("problem", c.Problem)
	if c.Unit > 0 {
		p = append(p, vector.Property{Name: "unit", Value: c.Unit}, vector.Property{Name: "composite", Value: c.Composite})
	}
	add("comparison_of", c.ComparisonOf)
	add("compare_with", c.CompareWith)
	add("depth", c.Depth)
	p = append(p, vector.Property{Name: "lon", Value: c.At.Lon()}, vector.Property{Name: "lat", Value: c.At.Lat()})
	if c.Native != nil {
		p = append(p, vector.Property{Name: "x", Value: c.Native.X}, vector.Property{Name: "y", Value: c.Native.Y})
		add("crs", c.Native.CRS)
	}
	if len(c.Figures) == 0 {
		add("status", "missing")
	} else {
		add("status", "answered")
	}
	for _, f := range c.Figures {
		p = append(p, vector.Property{Name: column(f.Analyte), Value: f.Value})
		add(column(f.Analyte)+censoredSuffix, f.Censored)
	}
	add("notes", strings.Join(c.Notes, "; "))
	out := vector.OutFeature{Shape: c.Shape, Properties: p}
	if len(c.Shape) == 0 {
		at := c.At
		out.Point = &at
	}
	return out
}

const censoredSuffix = "_censored"

// reserved are the properties of a composite that are no analytes.
var reserved = []string{"kind", "id", "field", "management", "problem", "unit", "composite", "comparison_of", "compare_with", "depth", "lon", "lat", "x", "y", "crs", "status", "notes"}

// column returns the property that an analyte is written under: its name, or
// that with "analyte " before it where the name is taken.
func column(analyte string) string {
	if slices.Contains(reserved, analyte) || strings.HasSuffix(analyte, censoredSuffix) || strings.HasPrefix(analyte, "analyte ") {
		return "analyte " + analyte
	}
	return analyte
}

// Results are a results file, read.
type Results struct {
	Fields     []*geo.Field
	Analytes   []Analyte
	Composites []Composite
}

// ReadResults reads a results file: the fields, mapped anew, and the composites
// with their figures.
func ReadResults(l *vector.Layer) (*Results, error) {
	r := &Results{}
	var head struct {
		Analytes []Analyte `json:"analytes"`
	}
	if raw, ok := l.Foreign["corewalk"]; ok {
		if err := json.Unmarshal(raw, &head); err != nil {
			return nil, fmt.Errorf("%s: its member corewalk cannot be read: %w", l.Path, err)
		}
	}
	if len(head.Analytes) == 0 {
		return nil, fmt.Errorf("%s names no analytes; is it a results file of corewalk?", l.Path)
	}
	names := map[string]bool{}
	for _, a := range head.Analytes {
		if a.Name == "" || names[a.Name] {
			return nil, fmt.Errorf("%s: its member corewalk names an analyte %q twice, or one without a name", l.Path, a.Name)
		}
		names[a.Name] = true
	}
	r.Analytes = head.Analytes
	var err error
	if r.Fields, err = ReadFields(l); err != nil {
		return nil, err
	}
	table := newTable(l)
	fields := map[string]bool{}
	for _, f := range r.Fields {
		fields[f.Name] = true
	}
	ids := map[string]bool{}
	for i := range l.Features {
		rec := table.record(i)
		if rec.text("kind") != KindUnit {
			continue
		}
		c, err := rec.composite(r.Analytes)
		switch {
		case err != nil:
		case len(c.Shape) > 0 && ids[c.ID]:
			err = fmt.Errorf("its sample id %s stands in the file twice", c.ID)
		case !fields[c.Field]:
			err = fmt.Errorf("the field %q of sample %s is not in the file", c.Field, c.ID)
		}
		if err != nil {
			return nil, rec.wrap(err)
		}
		ids[c.ID] = ids[c.ID] || len(c.Shape) > 0
		r.Composites = append(r.Composites, c)
	}
	return r, nil
}

// composite reads a feature that Composite.Feature wrote.
func (r record) composite(analytes []Analyte) (Composite, error) {
	c := Composite{
		ID: r.text("id"), Field: r.text("field"), Management: r.text("management"), Problem: r.text("problem"),
		ComparisonOf: r.text("comparison_of"), CompareWith: r.text("compare_with"),
		Depth: r.text("depth"), Shape: r.f.Shape, Notes: r.notes(),
	}
	if c.ID == "" {
		return c, fmt.Errorf("the composite has no sample id")
	}
	var lon, lat, x, y bool
	var native Native
	var err error
	if c.Unit, _, err = r.whole("unit"); err != nil {
		return c, err
	}
	if c.Composite, _, err = r.whole("composite"); err != nil {
		return c, err
	}
	for _, n := range []struct {
		column string
		to     *float64
		have   *bool
	}{{"lon", &c.At[0], &lon}, {"lat", &c.At[1], &lat}, {"x", &native.X, &x}, {"y", &native.Y, &y}} {
		if *n.to, *n.have, err = r.number(n.column); err != nil {
			return c, err
		}
	}
	if !lon || !lat || math.Abs(c.At.Lon()) > 180 || math.Abs(c.At.Lat()) > 90 {
		return c, fmt.Errorf("sample %s has no place: its lon and lat are missing or no degrees", c.ID)
	}
	if x != y {
		return c, fmt.Errorf("sample %s has one of x and y without the other", c.ID)
	}
	if x {
		native.CRS = r.text("crs")
		c.Native = &native
	}
	for _, a := range analytes {
		v, ok, err := r.number(column(a.Name))
		if err != nil {
			return c, fmt.Errorf("sample %s: %w", c.ID, err)
		}
		if ok {
			c.Figures = append(c.Figures, Figure{a.Name, v, r.text(column(a.Name) + censoredSuffix)})
		}
	}
	return c, nil
}

// Place returns where a composite lies in a frame: by its own coordinates where
// they are in that very system, else by its degrees.
func (c Composite) Place(f geo.Frame) (geo.XY, error) {
	if c.Native != nil && c.Native.CRS != "" {
		if s, err := crs.FromText(c.Native.CRS); err == nil {
			if own, ok := geo.FrameOn(s); ok && own.Same(f) {
				return geo.XY{c.Native.X, c.Native.Y}, nil
			}
		}
	}
	return f.XY(c.At)
}

// Figure returns the figure of an analyte.
func (c Composite) Figure(analyte string) (Figure, bool) {
	for _, f := range c.Figures {
		if f.Analyte == analyte {
			return f, true
		}
	}
	return Figure{}, false
}
