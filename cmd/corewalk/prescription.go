package main

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/geo/vector"
	"corewalk/interp/rate"
	"corewalk/interp/task"
)

// spread is one dressing of one product on one piece of ground. Every file with
// rates has the same ones.
type spread struct {
	*ratedGround
	dose         int
	product, of  string
	pass, passes int
	kgPerHa      float64 // NaN where there is no rate
}

// spreads are all of the field: dressing by dressing, so that rate times area
// adds up to the total. Ground that gets none has one dressing of 0.
func (x *rated) spreads() []spread {
	n := max(len(x.balances), 1)
	var out []spread
	for i := range x.grounds {
		g := &x.grounds[i]
		for k := range n {
			s := spread{ratedGround: g, dose: k, pass: 1, passes: 1, kgPerHa: math.NaN()}
			s.product, s.of = x.name(k)
			if k >= len(g.advice.Doses) {
				out = append(out, s)
				continue
			}
			d := g.advice.Doses[k]
			s.passes = max(d.Times, 1)
			s.kgPerHa = 0
			if d.Times > 0 {
				s.kgPerHa = d.Each
			}
			for s.pass = 1; s.pass <= s.passes; s.pass++ {
				out = append(out, s)
			}
		}
	}
	return out
}

// kg is the mass on the ground.
func (s *spread) kg() float64 { return s.kgPerHa * s.area / geo.Hectare }

// needs is what the tables ask for, in words.
func (g *ratedGround) needs() string {
	var out []string
	for _, a := range g.advice.Answers {
		if a.Refused == nil && a.Unit != "" {
			text := fmt.Sprintf("%s %s of %s", plain(decimals(a.Rate, 3)), a.Unit, a.Of)
			if a.Material != 0 && a.Material != 100 {
				text = fmt.Sprintf("%s %s of lime of %s %%", plain(decimals(a.Rate, 3)), a.Unit, plain(a.Material))
			}
			out = append(out, text)
		}
	}
	return strings.Join(out, "; ")
}

// gather joins what the answers say, each thing once.
func (g *ratedGround) gather(say func(rate.Answer) string) string {
	var out []string
	for _, a := range g.advice.Answers {
		if text := say(a); text != "" {
			out = append(out, text)
		}
	}
	return strings.Join(out, "; ")
}

func (g *ratedGround) class() string {
	return g.gather(func(a rate.Answer) string { return a.Class })
}

func (g *ratedGround) reason() string {
	return g.gather(func(a rate.Answer) string { return a.Reason })
}

func (g *ratedGround) refusal() string {
	return g.gather(func(a rate.Answer) string {
		if a.Refused == nil {
			return ""
		}
		return a.Refused.Error()
	})
}

func (x *rated) verified() string {
	var out []string
	for _, t := range x.scheme.Tables {
		out = append(out, t.Name+": "+t.Verified)
	}
	return strings.Join(out, "; ")
}

// inUnit turns kg/ha into the unit of files.
func (p *rateParameters) inUnit(kgPerHa float64) float64 {
	per, _ := rate.KgPerHa(p.unit())
	return kgPerHa / per
}

func known(v float64) any {
	if math.IsNaN(v) {
		return nil
	}
	return v
}

// features appends the field's part of rates.geojson.
func (x *rated) features(b []byte, p rateParameters) ([]byte, error) {
	for _, s := range x.spreads() {
		kind := kindZone
		if x.basis == onUnits {
			kind = "unit"
		}
		uniform := math.NaN()
		if s.dose < len(s.uniform) {
			uniform = s.uniform[s.dose].Total
		}
		f := vector.OutFeature{Shape: s.shape, Properties: append([]vector.Property{{Name: "kind", Value: kind}, {Name: "id", Value: s.id}}, place(x.field, s.division)...)}
		f.Properties = append(f.Properties,
			vector.Property{Name: "product", Value: s.product}, vector.Property{Name: "of", Value: s.of},
			vector.Property{Name: "rate", Value: known(p.inUnit(s.kgPerHa))}, vector.Property{Name: "rate_unit", Value: p.unit()},
			vector.Property{Name: "pass", Value: s.pass}, vector.Property{Name: "passes", Value: s.passes},
			vector.Property{Name: "kg_per_ha", Value: known(s.kgPerHa)}, vector.Property{Name: "kg", Value: known(s.kg())},
			vector.Property{Name: "area_ha", Value: s.area / geo.Hectare}, vector.Property{Name: "area_ac", Value: s.area / geo.Acre},
			vector.Property{Name: "uniform_kg_per_ha", Value: known(uniform)},
			vector.Property{Name: "crop", Value: cropText(s.Conditions)}, vector.Property{Name: "needs", Value: s.needs()},
			vector.Property{Name: "class", Value: s.class()}, vector.Property{Name: "reason", Value: s.reason()}, vector.Property{Name: "refused", Value: s.refusal()},
			vector.Property{Name: "basis", Value: x.basis}, vector.Property{Name: "verified", Value: x.verified()},
		)
		var err error
		if b, err = vector.AppendFeature(b, &f, rateDecimals); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// rateColumns are those of rates.csv. The settings of the spreader are left for
// whoever fills it.
var rateColumns = []string{
	"field", "zone", "part", "crop", "product", "of", "pass", "passes", "rate", "rate_unit", "area_ha", "area_ac", "mass_kg", "mass_lb",
	"needs", "class", "reason", "refused", "verified", "spreader_setting", "spread_on", "spread_by", "advice",
}

// shortAdvice stands in every row of a table, where there is no room for all
// cautions.
const shortAdvice = "Advice only: check with local recommendations and a certified or licensed adviser; nutrient rules, setbacks, slopes and frozen ground first; wear eye, skin and lung protection; no substitute for a nutrient management plan that the law asks for."

func (x *rated) rows(p rateParameters) [][]string {
	number := func(v float64, n int) string {
		if math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'f', n, 64)
	}
	const kgPerPound = rate.KgPerShortTon / 2000
	var out [][]string
	for _, s := range x.spreads() {
		out = append(out, []string{
			x.field.Name, s.id, s.division.Name, cropText(s.Conditions), s.product, s.of, strconv.Itoa(s.pass), strconv.Itoa(s.passes),
			number(p.inUnit(s.kgPerHa), 3), p.unit(), number(s.area/geo.Hectare, 4), number(s.area/geo.Acre, 3), number(s.kg(), 1), number(s.kg()/kgPerPound, 1),
			s.needs(), s.class(), s.reason(), s.refusal(), x.verified(), "", "", "", shortAdvice,
		})
	}
	return out
}

var prescriptionColumns = []vector.Column{
	{Name: "ZONE", Type: vector.Text}, {Name: "RATE", Type: vector.Float}, {Name: "UNIT", Type: vector.Text}, {Name: "PRODUCT", Type: vector.Text},
	{Name: "FIELD", Type: vector.Text}, {Name: "PASS", Type: vector.Int}, {Name: "PASSES", Type: vector.Int}, {Name: "KG_HA", Type: vector.Float},
	{Name: "AREA_HA", Type: vector.Float}, {Name: "MASS_KG", Type: vector.Float}, {Name: "TABLE", Type: vector.Text}, {Name: "VERIFIED", Type: vector.Text}, {Name: "ADVICE", Type: vector.Text},
}

// shapefiles writes one for each product and dressing, in degrees on WGS 84 as
// terminals take them, with the cautions beside it.
func (w *openedRates) shapefiles(x *rated, slugOfField string) ([]outFile, error) {
	wgs, err := crs.FromEPSG(4326)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, m := range x.scheme.Materials {
		names = append(names, m.Name)
	}
	stems := slugs(names)
	most := make([]int, len(names)) // dressings
	byPass := map[[2]int][]vector.OutFeature{}
	var tables []string
	for _, t := range x.scheme.Tables {
		tables = append(tables, t.Name)
	}
	for _, s := range x.spreads() {
		if s.dose >= len(names) {
			continue
		}
		most[s.dose] = max(most[s.dose], s.passes)
		key := [2]int{s.dose, s.pass}
		byPass[key] = append(byPass[key], vector.OutFeature{Shape: s.shape, Properties: []vector.Property{
			{Name: "ZONE", Value: s.id}, {Name: "RATE", Value: known(w.inUnit(s.kgPerHa))}, {Name: "UNIT", Value: w.unit()}, {Name: "PRODUCT", Value: s.product},
			{Name: "FIELD", Value: x.field.Name}, {Name: "PASS", Value: s.pass}, {Name: "PASSES", Value: s.passes}, {Name: "KG_HA", Value: known(s.kgPerHa)},
			{Name: "AREA_HA", Value: s.area / geo.Hectare}, {Name: "MASS_KG", Value: known(s.kg())}, {Name: "TABLE", Value: strings.Join(tables, ", ")}, {Name: "VERIFIED", Value: x.verified()}, {Name: "ADVICE", Value: shortAdvice},
		}})
	}
	var out []outFile
	for k, name := range names {
		for pass := 1; pass <= most[k]; pass++ {
			stem := filepath.Join(prescriptionFolder, slugOfField+"-"+stems[k])
			if pass > 1 {
				stem += "-" + strconv.Itoa(pass)
			}
			files, err := w.out.stageShapefile(stem, func(path string) error {
				return vector.WriteShapefile(path, wgs, prescriptionColumns, byPass[[2]int{k, pass}])
			})
			if err != nil {
				return nil, err
			}
			about, err := w.out.stage(stem+".shp.xml", func(to io.Writer) error {
				return x.about(to, fmt.Sprintf("%s, %s, dressing %d", x.field.Name, name, pass), w.unit(), w.cautions)
			})
			if err != nil {
				return nil, err
			}
			out = append(append(out, files...), about)
		}
	}
	return out, nil
}

// about writes the metadata of a shapefile, by the Content Standard for Digital
// Geospatial Metadata (FGDC-STD-001-1998): what it is, where its rates come from,
// and the cautions as constraints of use.
func (x *rated) about(to io.Writer, title, unit string, cautions []string) error {
	var sources []string
	for _, t := range x.scheme.Tables {
		sources = append(sources, fmt.Sprintf("%s: %s (verified: %s)", t.Name, t.Source, t.Verified))
	}
	type identification struct {
		Origin   string `xml:"citation>citeinfo>origin"`
		Title    string `xml:"citation>citeinfo>title"`
		Abstract string `xml:"descript>abstract"`
		Purpose  string `xml:"descript>purpose"`
		Use      string `xml:"useconst"`
	}
	data, err := xml.MarshalIndent(struct {
		XMLName struct{}       `xml:"metadata"`
		ID      identification `xml:"idinfo"`
	}{ID: identification{
		Origin: "corewalk " + version, Title: "Prescription: " + title,
		Abstract: fmt.Sprintf("Rates in %s (RATE) and kg/ha (KG_HA), for %s. Tables: %s.", unit, x.basis, strings.Join(sources, "; ")),
		Purpose:  "To be spread by ground, after it was checked.", Use: strings.Join(cautions, " "),
	}}, "", " ")
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(to, "%s%s\n", xml.Header, data)
	return err
}

// fieldTasks are the tasks of one field, whose products and field are counted
// from 0 in themselves.
type fieldTasks struct {
	field    task.Field
	products []task.Product
	tasks    []task.Task
}

// mostTaskZones is how many polygons a task is given; more, and it is given a
// grid. Terminals know them by codes of a byte, some of which are taken.
const mostTaskZones = 250

// add adds the tasks of a scheme: one for each product and dressing.
func (f *fieldTasks) add(x *rated, p rateParameters, records []rateRecord) ([]string, error) {
	if f.field.Name == "" {
		boundary, err := x.field.Frame.LonLatVertices(x.field.Boundary)
		if err != nil {
			return nil, err
		}
		f.field = task.Field{Name: x.field.Name, Boundary: boundary.Rounded(rateDecimals), Area: x.field.Frame.Area(x.field.Boundary)}
	}
	var notices []string
	unit := taskUnits[p.unit()]
	for k, m := range x.scheme.Materials {
		if k >= len(x.balances) {
			break // every table refuses everywhere
		}
		f.products = append(f.products, task.Product{Name: m.Name, Density: m.Density})
		var zones [][]task.Zone // by dressing
		for _, s := range x.spreads() {
			if s.dose != k || math.IsNaN(s.kgPerHa) || s.kgPerHa == 0 {
				continue // that is what the task has outside of its zones
			}
			for len(zones) < s.pass {
				zones = append(zones, nil)
			}
			zones[s.pass-1] = append(zones[s.pass-1], task.Zone{Name: s.id, Rate: s.kgPerHa * task.KgPerHa, Shape: s.shape})
		}
		for i, z := range zones {
			t := task.Task{Name: x.field.Name + " " + m.Name, Product: len(f.products) - 1, Unit: unit}
			if i > 0 {
				t.Name = fmt.Sprintf("%d: %s", i+1, t.Name) // in front, as long names are cut
			}
			polygons := 0
			for _, part := range z {
				polygons += len(part.Shape)
			}
			asGrid := p.Task == "grid"
			if !asGrid && polygons > mostTaskZones {
				asGrid = true
				notices = append(notices, fmt.Sprintf("field %s: the task of %s has %d zones, more than terminals take, so it is a grid", x.field.Name, m.Name, polygons))
			}
			if asGrid {
				r, err := x.burn(z)
				if err != nil {
					return nil, err
				}
				if t.Grid, err = task.FromRaster(r, x.field.Frame, task.KgPerHa, 1); err != nil {
					return nil, err
				}
				mass := t.Grid.Mass()
				if records[k].TaskKg != nil {
					mass += *records[k].TaskKg
				}
				records[k].TaskKg = &mass
			} else {
				t.Zones = z
			}
			f.tasks = append(f.tasks, t)
		}
	}
	return notices, nil
}

// burnPixel is that of rasters of rates where the field has no surfaces, in
// metres.
const burnPixel = 5.0

// burn makes a raster of zones, in kg/ha: each pixel has the rate of the zone that
// its middle lies in.
func (x *rated) burn(zones []task.Zone) (*raster.Grid, error) {
	geometry := x.geometry
	if geometry == nil {
		g, err := raster.Cover(x.field.Bound(), burnPixel, x.field.Frame.EPSG())
		if err != nil {
			return nil, err
		}
		geometry = &g
	}
	out := &raster.Grid{Geometry: *geometry, Data: make([]float32, geometry.Width*geometry.Height)}
	for i := range out.Data {
		out.Data[i] = raster.NoData
	}
	for _, z := range zones {
		shape, _, err := x.field.Frame.Shape(z.Shape)
		if err != nil {
			return nil, err
		}
		at, bound := plane.NewLocator(shape), shape.Bound()
		for i := range out.Data {
			px, py := out.Center(i%out.Width, i/out.Width)
			if p := (geo.XY{px, py}); bound.Contains([2]float64(p)) && at.Contains(p) {
				out.Data[i] = float32(z.Rate / task.KgPerHa)
			}
		}
	}
	return out, nil
}

// farmTasks is the task file to be.
type farmTasks struct{ file task.File }

func newTaskFile(p rateParameters, s rateSummary) *farmTasks {
	t := &farmTasks{}
	t.file.Farm, t.file.Version = p.Farm, version
	for _, x := range s.Tables {
		t.file.Notes = append(t.file.Notes, fmt.Sprintf("Table %s: %s (verified: %s)", x.Name, x.Source, x.Verified))
	}
	t.file.Notes = append(t.file.Notes, s.Cautions...)
	return t
}

func (t *farmTasks) add(f fieldTasks) {
	if len(f.tasks) == 0 {
		return
	}
	t.file.Fields = append(t.file.Fields, f.field)
	at := make([]int, len(f.products))
	for i, p := range f.products {
		at[i] = -1
		for k, known := range t.file.Products {
			if known.Name == p.Name {
				at[i] = k
			}
		}
		if at[i] < 0 {
			at[i] = len(t.file.Products)
			t.file.Products = append(t.file.Products, p)
		}
	}
	for _, x := range f.tasks {
		x.Field, x.Product = len(t.file.Fields)-1, at[x.Product]
		t.file.Tasks = append(t.file.Tasks, x)
	}
}

// write stages the task file.
func (t *farmTasks) write(out *outputs) ([]string, error) {
	f, err := out.stage(taskFile, func(to io.Writer) error { return task.Write(to, &t.file) })
	if err != nil {
		return nil, err
	}
	out.take(f)
	return t.file.Notices(), nil
}
