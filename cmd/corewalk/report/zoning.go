package report

import (
	"fmt"
	"math"
	"strconv"

	"corewalk/geo/raster"
)

// zoningPage is the part of the page on the zones of one analyte.
type zoningPage struct {
	Map     *zoneMap
	Classes []classRow
	Said    []string
	Warning string // what must not be overlooked
	Names   bool   // some class has one
}

// classRow is a class in the table, and in the key of the map.
type classRow struct {
	Mark, Name, Limits, Zones, Area, Share, Mean string
	Colour                                       string // empty: no value
}

// zoneMap is the map of zones.
type zoneMap struct {
	chart
	Areas   []zoneArea
	Labels  []label
	Classes []classRow // the key
}

type zoneArea struct{ Path, Colour, Text string }

func (p *page) zoning(id string, s *site, f *Field, a *Analyte, ramp raster.Ramp) *zoningPage {
	z := a.Zoning
	if z == nil || len(z.Zones) == 0 {
		return nil
	}
	out := &zoningPage{}
	fig := figuresOf(a)
	for i, c := range z.Classes {
		row := classRow{
			Mark: strconv.Itoa(i + 1), Name: c.Name, Limits: c.Limits, Zones: strconv.Itoa(c.Zones), Area: dash, Share: dash, Mean: fig.figure(c.Mean),
			Colour: classColour(ramp, i, len(z.Classes)),
		}
		if c.Zones > 0 {
			row.Area, row.Share = p.area(c.Area), share(c.Area, z.Ground)
		}
		out.Names = out.Names || c.Name != ""
		out.Classes = append(out.Classes, row)
	}
	blank, area := 0, 0.0
	for _, x := range z.Zones {
		if x.Class < 0 || x.Class >= len(z.Classes) {
			blank++
			area += x.Area
		}
	}
	if blank > 0 {
		out.Classes = append(out.Classes, classRow{
			Mark: dash, Name: "no value", Limits: "too far from the composites", Zones: strconv.Itoa(blank), Area: p.area(area), Share: share(area, z.Ground), Mean: dash,
		})
	}
	out.Said = p.zoningInWords(z)
	switch {
	case a.Basis == "surface" && a.Supported:
		out.Said = append(out.Said, "They were drawn on the surface: the lines between them are estimates.")
	case a.Basis == "surface":
		out.Warning = "The surface is NOT supported. The zones were drawn on it all the same, as asked for: do not go by them."
	case !a.Supported && !a.unmapped():
		out.Warning = "The surface is NOT supported. The zones go by the sampling units instead, each by its own composite."
	default:
		out.Said = append(out.Said, "They go by the sampling units, each by its own composite.")
	}
	if a.Basis == "surface" && a.Masked > 0 && anyShape(f.Units) {
		out.Said = append(out.Said, "Ground too far from the composites for the surface goes by its sampling unit.")
	}
	if z.Source != "" {
		out.Said = append(out.Said, z.Source)
	}
	if s != nil {
		out.Map = p.zoneMap(id, s, f, a, out.Classes)
	}
	return out
}

// zoningInWords says that the zones cover the ground, and what was merged.
func (p *page) zoningInWords(z *Zoning) []string {
	zones := plural(len(z.Zones), "zone covers", "zones cover")
	var out []string
	if math.Abs(z.Sum-z.Ground) <= 1e-4*z.Ground {
		out = append(out, fmt.Sprintf("%s the ground without gap or overlap: together %s, as much as the ground has.", zones, p.areaInWords(z.Sum)))
	} else {
		out = append(out, fmt.Sprintf("The zones have %s together, and the ground has %s: they do not cover it exactly.", p.areaInWords(z.Sum), p.areaInWords(z.Ground)))
	}
	if z.Merged > 0 {
		out = append(out, plural(z.Merged, "piece that was too small or too narrow has", "pieces that were too small or too narrow have")+" joined a neighbour.")
	}
	return out
}

func share(area, of float64) string {
	if !(of > 0) || !finite(area) {
		return dash
	}
	return percent(area / of)
}

func classColour(ramp raster.Ramp, i, n int) string {
	if n < 2 {
		return hex(ramp.At(0.5))
	}
	return hex(ramp.At(float64(i) / float64(n-1)))
}

// zoneMap draws the zones, each in the colour of its class and with its number.
func (p *page) zoneMap(id string, s *site, f *Field, a *Analyte, classes []classRow) *zoneMap {
	m := &zoneMap{chart: s.view.chart(id+"-zones", s.Field)}
	if !a.Supported && !a.unmapped() {
		m.shout(s.view, unsupportedBanner)
	}
	used := map[int]bool{}
	for _, z := range a.Zoning.Zones {
		o := s.view.outline(z.Shape)
		if len(o) == 0 {
			continue
		}
		class := z.Class
		if class < 0 || class >= len(a.Zoning.Classes) {
			class = len(a.Zoning.Classes) // the row without a value
		}
		used[class] = true
		m.Areas = append(m.Areas, zoneArea{o.path(), classes[class].Colour, spoken(classes[class].Name, classes[class].Limits, p.area(z.Area))})
		at, ok := o.middle()
		if x0, x1, inside := o.inside(at.y); ok && inside && x1-x0 >= 9 {
			m.Labels = append(m.Labels, label{X: coord(at.x), Y: coord(at.y), Text: classes[class].Mark, Class: "class"})
		}
	}
	for i, c := range classes {
		if used[i] {
			m.Classes = append(m.Classes, c)
		}
	}
	m.Title = "Zones of " + a.label() + " in " + f.Name
	m.Desc = fmt.Sprintf("Map, north up: %s of %s, each with the number of its class. The table beside it lists the classes.",
		plural(len(a.Zoning.Zones), "zone", "zones"), f.Name)
	s.addZones("Zones", "zones of "+a.label(), "zone of "+a.label(), m)
	return m
}
