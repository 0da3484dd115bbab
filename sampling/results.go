package sampling

import (
	"encoding/json"
	"fmt"
	"strings"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// Analyte is a column of results: what was measured, in which unit and by which
// method, the latter two empty where the lab did not say.
type Analyte struct {
	Name   string `json:"name"`
	Column string `json:"column,omitempty"` // header in the lab's file, where it differs from the name
	Unit   string `json:"unit,omitempty"`
	Method string `json:"method,omitempty"`
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
	Depth               string
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

// Feature writes a composite for results.geojson.
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
		p = append(p, vector.Property{Name: f.Analyte, Value: f.Value})
		add(f.Analyte+censoredSuffix, f.Censored)
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
	r.Analytes = head.Analytes
	var err error
	if r.Fields, err = ReadFields(l); err != nil {
		return nil, err
	}
	for i := range l.Features {
		rec := record{l, &l.Features[i]}
		if rec.text("kind") != KindUnit {
			continue
		}
		c := Composite{
			ID: rec.text("id"), Field: rec.text("field"), Management: rec.text("management"), Problem: rec.text("problem"),
			Depth: rec.text("depth"), Shape: rec.f.Shape, At: geo.LonLat{rec.number("lon"), rec.number("lat")},
		}
		if x, ok := rec.float("x"); ok {
			c.Native = &Native{X: x, Y: rec.number("y"), CRS: rec.text("crs")}
		}
		for _, a := range r.Analytes {
			if v, ok := rec.float(a.Name); ok {
				c.Figures = append(c.Figures, Figure{a.Name, v, rec.text(a.Name + censoredSuffix)})
			}
		}
		r.Composites = append(r.Composites, c)
	}
	return r, nil
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
