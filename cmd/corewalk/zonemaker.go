package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/geo/vector"
	"corewalk/interp"
	"corewalk/interp/zone"
	"corewalk/sampling"
)

// zoneMaker draws the zones and patches of one field.
type zoneMaker struct {
	zoneParameters
	what         string // done on sampling units where a surface is not supported
	field        *geo.Field
	limits       []zone.Limit
	limited      []sampling.Analyte // those of the limits
	classings    []classing
	surfaces     map[surfaceKey]surfaceRecord
	residuals    map[surfaceKey][]interp.Residual
	surfacesPath string
	out          *outputs
	slug         string // of the field
	analyteSlugs map[string]string

	composites placedComposites
	grounds    map[raster.Geometry]*preparedGround
	drawn      map[string]*base
}

// preparedGround is what all maps of one field on one raster have in common.
type preparedGround struct {
	field *geo.Field
	ground
	zones *zone.Grounds
	scale float64 // true m² to one of the frame
}

// base is what the zones and patches of one analyte are drawn on.
type base struct {
	record surfaceRecord
	on     *preparedGround
	basis  string
	grid   *raster.Grid // with a value wherever a sampling unit has one
	units  []interp.Unit
	blank  int // pixels of the ground without a value
}

// fieldZones is what came of one field.
type fieldZones struct {
	sets       []patchSet
	zoned      []zoneSet
	partitions []partition
	meetings   []meeting
	zones      []byte // features of the zones
	files      []outFile
	notices    []string
}

// forget drops everything but the figures.
func (z *fieldZones) forget() {
	z.zoned = nil
	for i := range z.sets {
		set := &z.sets[i]
		set.rests, set.field = nil, &geo.Field{Name: set.field.Name}
		for k := range set.patches {
			set.patches[k].shape, set.patches[k].division.Shape = nil, nil
		}
	}
}

// zoneSet is a field cut into zones of one analyte.
type zoneSet struct {
	field   *geo.Field
	analyte sampling.Analyte
	classing
	basis string
	zones []zoneRecord
}

type zoneRecord struct {
	id       string
	class    int // from 0; -1 without a value
	division geo.Division
	shape    plane.Shape
	figures
}

// patchSet is what lies beyond one limit in one field.
type patchSet struct {
	field   *geo.Field
	analyte sampling.Analyte
	limit   zone.Limit
	basis   string
	patches []patchRecord
	rest    figures
	rests   []plane.Shape // by division
	dropped int
}

type patchRecord struct {
	id       string
	division geo.Division
	shape    plane.Shape
	samples  []string
	chance   *float64 // that a place in it is beyond the limit
	without  *float64 // mean of the field without it
	figures
}

type figures struct {
	area                  float64 // true m²
	mean, least, greatest float64
	pixels                int
	composites            int
	compositesMean        float64
}

func (m *zoneMaker) make(of []sampling.Composite) (fieldZones, error) {
	var z fieldZones
	m.grounds, m.drawn = map[raster.Geometry]*preparedGround{}, map[string]*base{}
	for i, l := range m.limits {
		b, err := m.base(m.limited[i], of, &z)
		if err != nil {
			return z, fmt.Errorf("limit %s: %w", l, err)
		}
		if b == nil {
			continue
		}
		set, err := m.patches(b, m.limited[i], l)
		if err != nil {
			return z, fmt.Errorf("limit %s: %w", l, err)
		}
		z.sets = append(z.sets, set)
	}
	if err := m.meet(&z); err != nil {
		return z, err
	}
	for _, c := range m.classings {
		b, err := m.base(c.analyte, of, &z)
		if err != nil {
			return z, fmt.Errorf("classes of %s: %w", c.analyte.Name, err)
		}
		if b == nil {
			continue
		}
		if err := m.zones(b, c, &z); err != nil {
			return z, fmt.Errorf("classes of %s: %w", c.analyte.Name, err)
		}
	}
	if m.Shapefiles && len(z.zoned) > 0 {
		files, err := m.shapefile(z.zoned)
		if err != nil {
			return z, err
		}
		z.files = append(z.files, files...)
	}
	return z, nil
}

// base reads the surface of an analyte, and falls back to the sampling units
// where it is not supported; nil where there is no surface.
func (m *zoneMaker) base(a sampling.Analyte, of []sampling.Composite, z *fieldZones) (*base, error) {
	if b, ok := m.drawn[a.Name]; ok {
		return b, nil
	}
	record, ok := m.surfaces[surfaceKey{m.field.Name, a.Name}]
	if !ok {
		m.drawn[a.Name] = nil
		z.notices = append(z.notices, fmt.Sprintf("field %s: there is no surface of %s, so no zones and patches of it are drawn", m.field.Name, a.Name))
		return nil, nil
	}
	grid, err := readGrid(m.surfacesPath, record)
	if err != nil {
		return nil, err
	}
	if grid.EPSG != m.field.Frame.EPSG() {
		return nil, fmt.Errorf("%s is in EPSG:%d, the field in EPSG:%d; make the surfaces from these results", record.File, grid.EPSG, m.field.Frame.EPSG())
	}
	b := &base{record: record, basis: onSurface, grid: grid}
	if b.on, err = m.prepare(grid.Geometry, record.Split, of); err != nil {
		return nil, fmt.Errorf("%s: %w", record.File, err)
	}
	b.units = m.composites.with(a.Name)
	shaped := slices.ContainsFunc(b.units, func(u interp.Unit) bool { return !u.Shape.Empty() })
	unsupported := !record.Supported && !m.Insist
	if unsupported {
		b.basis = onUnits
		z.notices = append(z.notices, fmt.Sprintf("field %s: the surface of %s is not supported, so %s %s; --insist takes the surface all the same", m.field.Name, a.Name, m.what, onUnits))
		b.grid = interp.Steps(b.on.geometry, b.on.division, b.units)
	} else if shaped && b.holes() > 0 {
		// Ground too far from the composites still has its sampling unit's figure.
		steps := interp.Steps(b.on.geometry, b.on.division, b.units)
		for i, v := range b.grid.Data {
			if v == raster.NoData {
				b.grid.Data[i] = steps.Data[i]
			}
		}
	}
	if shaped {
		interp.Fill(b.grid, b.on.division)
	}
	if b.blank = b.holes(); b.blank > 0 {
		pixel := b.grid.Pixel * b.grid.Pixel * b.on.scale
		z.notices = append(z.notices, fmt.Sprintf("field %s: %.2f ha of the ground have no value of %s: they lie too far from the composites", m.field.Name, float64(b.blank)*pixel/geo.Hectare, a.Name))
	}
	m.drawn[a.Name] = b
	return b, nil
}

// holes counts the pixels of the ground without a value.
func (b *base) holes() int {
	n := 0
	for i, d := range b.on.division {
		if d >= 0 && b.grid.Data[i] == raster.NoData {
			n++
		}
	}
	return n
}

// prepare maps the ground on the raster, once for all analytes.
func (m *zoneMaker) prepare(g raster.Geometry, split bool, of []sampling.Composite) (*preparedGround, error) {
	if p, ok := m.grounds[g]; ok {
		return p, nil
	}
	f := pieces(m.field, split)
	if m.Within == "sampleable" {
		var err error
		if f, err = onlySampleable(f); err != nil {
			return nil, err
		}
	}
	p := &preparedGround{field: f, ground: ground{f, g, interp.Mask(f, g)}, scale: planarPerTrue(f)}
	var parts []zone.Ground
	for _, d := range f.Divisions {
		parts = append(parts, zone.Ground{Name: d.Name, Shape: d.Shape})
	}
	var err error
	if p.zones, err = zone.NewGrounds(g, parts, p.division); err != nil {
		return nil, err
	}
	if m.composites, err = placed(f, of); err != nil {
		return nil, err
	}
	m.grounds[g] = p
	return p, nil
}

// onlySampleable is the field with its divisions cut to the ground that cores
// may come from.
func onlySampleable(f *geo.Field) (*geo.Field, error) {
	out := *f
	out.Ground, out.Divisions = f.Sampleable, slices.Clone(f.Divisions)
	for i, d := range out.Divisions {
		shape, err := plane.Intersect(d.Shape, f.Sampleable)
		if err != nil {
			return nil, err
		}
		out.Divisions[i].Shape = shape
	}
	return &out, nil
}

// planarPerTrue is the true area in square metres per square metre of the
// frame.
func planarPerTrue(f *geo.Field) float64 {
	if f.Ground.Empty() {
		return 1
	}
	return f.Frame.Area(f.Ground) / f.Ground.Area()
}

// zones cuts the field into zones of one analyte.
func (m *zoneMaker) zones(b *base, c classing, z *fieldZones) error {
	limits := c.limits
	if c.quantiles > 0 {
		var err error
		if limits, err = zone.Quantiles(b.grid, b.on.division, -1, c.quantiles); err != nil {
			return err
		}
		limits = rounded(limits)
	}
	result, err := b.on.zones.Partition(zone.Classify(b.grid, limits), zone.Options{
		Smallest: m.Smallest / b.on.scale, LeastWidth: m.LeastWidth, Smooth: chords(m.Smooth),
	})
	if err != nil {
		return err
	}
	set := zoneSet{field: m.field, analyte: c.analyte, classing: c, basis: b.basis}
	set.limits = limits
	p := partition{
		Field: m.field.Name, Analyte: c.analyte.Name, Limits: limits, Source: c.source, Basis: b.basis,
		Ground: b.on.field.Ground.Area() * b.on.scale, Merged: result.Merged,
	}
	if p.Limits == nil {
		p.Limits = []float64{}
	}
	taken := make([]bool, len(b.units))
	for i, x := range result.Zones {
		r := zoneRecord{
			id: fmt.Sprintf("%s-%d", slug(c.analyte.Name), i+1), class: int(x.Class), division: b.on.field.Divisions[x.Division], shape: x.Shape,
			figures: figuresOf(x.Figures(b.grid), x.Area*b.on.scale),
		}
		if _, err := b.inside(&r.figures, x.Shape, x.Division, taken); err != nil {
			return err
		}
		set.zones = append(set.zones, r)
		p.Sum += r.area
		k := slices.IndexFunc(p.Classes, func(s classSummary) bool { return s.Class == r.class+1 })
		if k < 0 {
			k = len(p.Classes)
			p.Classes = append(p.Classes, classSummary{Class: r.class + 1, Name: className(limits, c.names, r.class)})
		}
		p.Classes[k].Zones++
		p.Classes[k].AreaHa += r.area / geo.Hectare
	}
	slices.SortFunc(p.Classes, func(a, b classSummary) int { return a.Class - b.Class })
	for i := range p.Classes {
		ha := p.Classes[i].AreaHa
		p.Classes[i].AreaHa, p.Classes[i].AreaAc = decimals(ha, 4), decimals(ha*geo.Hectare/geo.Acre, 3)
	}
	if z.zones, err = set.features(z.zones); err != nil {
		return err
	}
	files, err := m.pictures(b, set)
	if err != nil {
		return err
	}
	z.files = append(z.files, files...)
	if m.keep || m.Shapefiles {
		z.zoned = append(z.zoned, set)
	}
	z.partitions = append(z.partitions, p)
	return nil
}

// rounded takes limits to four digits that count, where that keeps them apart.
func rounded(limits []float64) []float64 {
	out := make([]float64, len(limits))
	for i, l := range limits {
		v, err := strconv.ParseFloat(strconv.FormatFloat(l, 'g', 4, 64), 64)
		if err != nil || i > 0 && v <= out[i-1] {
			return limits
		}
		out[i] = v
	}
	return out
}

func chords(smooth bool) int {
	if smooth {
		return smoothChords
	}
	return 0
}

func figuresOf(x zone.Figures, area float64) figures {
	return figures{area: area, mean: x.Mean, least: x.Least, greatest: x.Greatest, pixels: x.Pixels}
}

// inside adds the composites of a shape of a division, each once: those that
// stand in it or, where it is drawn on sampling units, whose unit lies in it for
// the most part.
func (b *base) inside(f *figures, shape plane.Shape, division int, taken []bool) (ids []string, err error) {
	at := plane.NewLocator(shape)
	for i, u := range b.units {
		if taken[i] || u.Division != division {
			continue
		}
		in := false
		if b.basis == onUnits && !u.Shape.Empty() {
			if u.Shape.Bound().Intersects(shape.Bound()) {
				shared, err := plane.Intersect(u.Shape, shape)
				if err != nil {
					return nil, err
				}
				in = shared.Area() > u.Shape.Area()/2
			}
		} else {
			in = at.Contains(u.At)
		}
		if in {
			taken[i] = true
			ids = append(ids, u.ID)
			f.composites++
			f.compositesMean += u.Value
		}
	}
	if f.composites > 0 {
		f.compositesMean /= float64(f.composites)
	}
	return ids, nil
}

// shapefile writes the zones of the field in its own system.
func (m *zoneMaker) shapefile(sets []zoneSet) ([]outFile, error) {
	columns := []vector.Column{
		{Name: "ZONE", Type: vector.Text}, {Name: "ANALYTE", Type: vector.Text}, {Name: "CLASS", Type: vector.Int}, {Name: "CLASS_NAME", Type: vector.Text},
		{Name: "DIVISION", Type: vector.Text}, {Name: "BASIS", Type: vector.Text}, {Name: "AREA_HA", Type: vector.Float}, {Name: "MEAN", Type: vector.Float},
		{Name: "UNIT", Type: vector.Text}, {Name: "COMPOSITES", Type: vector.Int},
	}
	var features []vector.OutFeature
	for _, set := range sets {
		for _, r := range set.zones {
			ll, err := m.field.Frame.LonLatVertices(r.shape)
			if err != nil {
				return nil, err
			}
			mean := any(nil)
			if r.pixels > 0 {
				mean = r.mean
			}
			features = append(features, vector.OutFeature{Shape: ll, Properties: []vector.Property{
				{Name: "ZONE", Value: r.id}, {Name: "ANALYTE", Value: set.analyte.Name}, {Name: "CLASS", Value: r.class + 1},
				{Name: "CLASS_NAME", Value: className(set.limits, set.names, r.class)}, {Name: "DIVISION", Value: r.division.Name},
				{Name: "BASIS", Value: set.basis}, {Name: "AREA_HA", Value: r.area / geo.Hectare}, {Name: "MEAN", Value: mean},
				{Name: "UNIT", Value: set.analyte.Unit}, {Name: "COMPOSITES", Value: r.composites},
			}})
		}
	}
	system, err := crs.FromEPSG(m.field.Frame.EPSG())
	if err != nil {
		return nil, err
	}
	return m.out.stageShapefile(filepath.Join("zones", m.slug), func(path string) error {
		return vector.WriteShapefile(path, system, columns, features)
	})
}

// stageShapefile stages the files of a shapefile.
func (o *outputs) stageShapefile(stem string, write func(path string) error) ([]outFile, error) {
	own, err := o.stagingFolder()
	if err != nil {
		return nil, cannotWrite(filepath.Join(o.dir, stem+".shp"), err)
	}
	path := filepath.Join(own, "zones.shp")
	if err := write(path); err != nil {
		return nil, err
	}
	var out []outFile
	for _, ext := range []string{".shp", ".shx", ".dbf", ".prj", ".cpg"} {
		out = append(out, outFile{name: stem + ext, staged: strings.TrimSuffix(path, ".shp") + ext})
	}
	return out, nil
}
