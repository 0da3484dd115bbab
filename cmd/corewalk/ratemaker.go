package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/interp"
	"corewalk/interp/rate"
	"corewalk/sampling"
)

// rateMaker works out the rates of one field by one scheme.
type rateMaker struct {
	rateParameters
	zones  *zoneMaker // of the same field: what surfaces and units say
	field  *geo.Field
	of     []sampling.Composite
	scheme *rate.Scheme
	// inputs are the analytes of the results that the scheme's tables need, by
	// the tables' names of them.
	inputs map[string]sampling.Analyte
	sample rate.Layer // of the inputs, where they name theirs
	drawn  []drawnZone
	zoned  bool   // there is a file of zones
	crops  []bool // that were used

	geometry *raster.Geometry // of the field's surfaces
	split    bool
	notices  []string
	bases    map[string]*base
	over     []float64 // m² by table, see beyond
}

// drawnZone is a zone of a file of zones.
type drawnZone struct {
	id, analyte string
	division    geo.Division // without its shape
	shape       crs.LonLatShape
}

// ratedGround is a piece of ground with its rates.
type ratedGround struct {
	id       string
	division geo.Division // without its shape
	shape    crs.LonLatShape
	area     float64 // true m²
	figures  rate.Figures
	from     string // what the figures are, for a person
	rate.Conditions
	advice  rate.Advice
	uniform []rate.Dose // nil where there is none
}

// rated is what came of one field and scheme.
type rated struct {
	field    *geo.Field
	scheme   *rate.Scheme
	basis    string
	grounds  []ratedGround
	balances []rate.Balance   // by dose
	uniform  []float64        // kg/ha by dose; NaN where there is none or it differs by crop
	refused  string           // why there is no one rate
	geometry *raster.Geometry // of the surfaces; nil where none were needed
	notices  []string
}

// inputsOf finds the analytes that a scheme needs. Of an analyte in several
// layers it takes the one from the surface that is nearest to the tables', of
// one by several methods the one that a table takes.
func inputsOf(s *rate.Scheme, all []sampling.Analyte) (map[string]sampling.Analyte, rate.Layer) {
	want := 0.0
	for _, t := range s.Tables {
		if want == 0 {
			want = t.Depth.Inches
		}
	}
	type candidate struct {
		sampling.Analyte
		base  string
		layer rate.Layer
	}
	var list []candidate
	var layer rate.Layer
	for _, a := range all {
		c := candidate{Analyte: a, base: a.Of}
		if c.base == "" {
			c.base = a.Name
		}
		for _, name := range []string{a.Name, c.base} {
			if before, depth, ok := cutLast(name, " "); ok {
				if d, err := sampling.ParseDepth(depth); err == nil {
					c.layer = layerInches(d)
					if name == c.base {
						c.base = before
					}
				}
			}
		}
		if a.Mixed != "" || !needs(s, c.base) {
			continue
		}
		list = append(list, c)
		if l := c.layer; l.To > 0 && l.From == 0 && (layer.To == 0 || math.Abs(l.To-want) < math.Abs(layer.To-want)) {
			layer = l
		}
	}
	out := map[string]sampling.Analyte{}
	fits := map[string]bool{}
	for _, c := range list {
		if c.layer != (rate.Layer{}) && c.layer != layer {
			continue
		}
		fit := takes(s, c.base, c.Method)
		if _, known := out[c.base]; !known || fit && !fits[c.base] {
			out[c.base], fits[c.base] = c.Analyte, fit
		}
	}
	return out, layer
}

func needs(s *rate.Scheme, analyte string) bool {
	return slices.ContainsFunc(s.Tables, func(t rate.Table) bool {
		return slices.ContainsFunc(t.Inputs, func(i rate.Input) bool { return i.Analyte == analyte })
	})
}

func takes(s *rate.Scheme, analyte, method string) bool {
	return slices.ContainsFunc(s.Tables, func(t rate.Table) bool {
		return slices.ContainsFunc(t.Inputs, func(i rate.Input) bool {
			return i.Analyte == analyte && (len(i.Methods) == 0 || slices.ContainsFunc(i.Methods, func(m string) bool { return strings.EqualFold(m, method) }))
		})
	})
}

// names are those of the inputs, in the order of the tables; what a table goes
// by comes before what else it needs.
func (m *rateMaker) names() []string {
	var out []string
	add := func(name string) {
		if _, ok := m.inputs[name]; ok && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	for _, t := range m.scheme.Tables {
		add(t.By)
		for _, i := range t.Inputs {
			add(i.Analyte)
		}
	}
	return out
}

// make works out the rates of the field.
func (m *rateMaker) make() (*rated, error) {
	out := &rated{field: m.field, scheme: m.scheme}
	m.bases, m.over = map[string]*base{}, make([]float64, len(m.scheme.Tables))
	by, zones := m.By, m.zonesToTake()
	switch {
	case by == byZone && len(zones) == 0:
		return nil, fmt.Errorf("there are no zones of an analyte that %s needs; draw some, say whose with zones-of, or take rates by unit", m.tables())
	case by == "" && len(zones) > 0:
		by = byZone
	case by == "" && len(m.zones.surfaces) > 0 && !slices.ContainsFunc(m.of, func(c sampling.Composite) bool { return len(c.Shape) > 0 }):
		by = bySurface // points have no ground of their own
	case by == "":
		by = byUnit
		if m.zoned && len(m.drawn) == 0 {
			m.notices = append(m.notices, fmt.Sprintf("field %s has no zones in the file of zones, so its rates are those of the %s", m.field.Name, onUnits))
		}
	}
	var err error
	switch by {
	case byZone:
		out.basis = "zones of " + zones[0].analyte
		err = m.byZones(out, zones)
	case bySurface:
		out.basis = "surface, pixel by pixel"
		err = m.bySurface(out)
	default:
		out.basis = "sampling units"
		err = m.byUnits(out)
	}
	if err != nil {
		return nil, err
	}
	if err := m.compare(out); err != nil {
		return nil, err
	}
	out.notices, out.geometry = m.notices, m.geometry
	return out, nil
}

func (m *rateMaker) tables() string {
	var names []string
	for _, t := range m.scheme.Tables {
		names = append(names, t.Name)
	}
	return strings.Join(names, " and ")
}

// zonesToTake are those of the analyte asked for, or of the first input that has
// zones.
func (m *rateMaker) zonesToTake() []drawnZone {
	of := func(analyte string) []drawnZone {
		var out []drawnZone
		for _, z := range m.drawn {
			if strings.EqualFold(z.analyte, analyte) {
				out = append(out, z)
			}
		}
		return out
	}
	if m.ZonesOf != "" {
		return of(m.ZonesOf)
	}
	for _, name := range m.names() {
		if z := of(m.inputs[name].Name); len(z) > 0 {
			return z
		}
	}
	return nil
}

// byUnits rates every sampling unit by its own figures.
func (m *rateMaker) byUnits(out *rated) error {
	var numbers []int
	groups := map[int][]sampling.Composite{}
	for _, c := range m.of {
		if len(c.Shape) == 0 {
			continue
		}
		if groups[c.Unit] == nil {
			numbers = append(numbers, c.Unit)
		}
		groups[c.Unit] = append(groups[c.Unit], c)
	}
	if len(numbers) == 0 && len(m.of) > 0 {
		return fmt.Errorf("its results are points without sampling units, so that there is no ground to spread on; take rates by zone or by surface")
	}
	for _, n := range numbers {
		of := groups[n]
		g := ratedGround{id: of[0].ID, division: divisionOfComposite(of[0]), from: "composite " + of[0].ID}
		for _, c := range of[1:] {
			if c.Depth == of[0].Depth {
				g.from += ", " + c.ID
			}
		}
		if strings.Contains(g.from, ",") {
			g.from = "means of the composites" + strings.TrimPrefix(g.from, "composite")
		}
		g.figures = m.figures(of)
		var err error
		if g.Conditions, err = m.conditionsOf(g.division, of); err != nil {
			return err
		}
		if g.advice, err = m.scheme.Advise(g.figures, g.Conditions); err != nil {
			return err
		}
		shape, _, err := m.field.Frame.Shape(of[0].Shape)
		if err != nil {
			return fmt.Errorf("sample %s: %w", of[0].ID, err)
		}
		if err := m.settle(&g, shape); err != nil {
			return err
		}
		out.grounds = append(out.grounds, g)
	}
	return nil
}

func divisionOfComposite(c sampling.Composite) geo.Division {
	if c.Problem != "" {
		return geo.Division{Kind: geo.Problem, Name: c.Problem}
	}
	return geo.Division{Kind: geo.Management, Name: c.Management}
}

// settle gives a ground its outline, rounded as every file with rates has it, and
// the area of that, so that masses are the same whichever file they are taken from.
func (m *rateMaker) settle(g *ratedGround, shape plane.Shape) error {
	degrees, err := m.field.Frame.LonLatVertices(shape)
	if err != nil {
		return err
	}
	g.shape = degrees.Rounded(rateDecimals)
	back, _, err := m.field.Frame.Shape(g.shape)
	if err != nil {
		return err
	}
	g.area = m.field.Frame.GeodesicArea(back)
	return nil
}

// figures are those of some composites by the tables' names; of several, their
// mean.
func (m *rateMaker) figures(of []sampling.Composite) rate.Figures {
	out := rate.Figures{}
	for name, a := range m.inputs {
		var sum float64
		n, censored := 0, ""
		for _, c := range of {
			if f, ok := c.Figure(a.Name); ok {
				sum, n, censored = sum+f.Value, n+1, f.Censored
			}
		}
		if n == 0 {
			continue
		}
		if n > 1 {
			censored = ""
		}
		out[name] = rate.Figure{Value: sum / float64(n), Unit: a.Unit, Method: a.Method, Censored: censored}
	}
	return out
}

// conditionsOf are those of a part of the field, with the depth of samples taken
// in it.
func (m *rateMaker) conditionsOf(d geo.Division, of []sampling.Composite) (rate.Conditions, error) {
	c := m.conditions(m.field.Name, d, m.crops)
	c.Sample = m.sample
	if c.Sample != (rate.Layer{}) {
		return c, nil
	}
	first := ""
	for _, x := range of {
		if x.Depth == "" {
			continue
		}
		own, err := sampling.ParseDepth(x.Depth)
		if err != nil {
			return c, fmt.Errorf("sample %s: %w", x.ID, err)
		}
		if l := layerInches(own); first != "" && l != c.Sample {
			return c, fmt.Errorf("samples %s and %s are of different depths; take rates by unit", first, x.ID)
		} else if first == "" {
			first, c.Sample = x.ID, l
		}
	}
	if first == "" && m.Depth != nil {
		c.Sample = layerInches(*m.Depth)
	}
	return c, nil
}

// base is the raster of an input: its surface, or where that is not supported or
// was not made, the figures of the sampling units.
func (m *rateMaker) base(name string) (*base, error) {
	if b, ok := m.bases[name]; ok {
		return b, nil
	}
	a := m.inputs[name]
	var z fieldZones
	var b *base
	if _, ok := m.zones.surfaces[surfaceKey{m.field.Name, a.Name}]; ok {
		var err error
		if b, err = m.zones.base(a, m.of, &z); err != nil {
			return nil, err
		}
		if b.on.geometry != *m.geometry || b.record.Split != m.split {
			return nil, fmt.Errorf("the surfaces of the field differ in their pixels; make them in one go")
		}
	} else {
		on, err := m.zones.prepare(*m.geometry, m.split, m.of)
		if err != nil {
			return nil, err
		}
		b = &base{on: on, basis: onUnits, units: m.zones.composites.with(a.Name)}
		b.grid = interp.Steps(on.geometry, on.division, b.units)
		interp.Fill(b.grid, on.division)
		z.notices = append(z.notices, fmt.Sprintf("field %s: there is no surface of %s, so its figures are those of the %s", m.field.Name, a.Name, onUnits))
	}
	m.notices = append(m.notices, z.notices...)
	m.bases[name] = b
	return b, nil
}

// rasters finds the field's raster.
func (m *rateMaker) rasters() error {
	for _, name := range m.names() {
		if r, ok := m.zones.surfaces[surfaceKey{m.field.Name, m.inputs[name].Name}]; ok {
			grid, err := readGrid(m.zones.surfacesPath, r)
			if err != nil {
				return err
			}
			m.geometry, m.split = &grid.Geometry, r.Split
			return nil
		}
	}
	return fmt.Errorf("there is no surface of an analyte that %s needs; make one, or take rates by unit", m.tables())
}

// byZones rates zones by the means of their pixels.
func (m *rateMaker) byZones(out *rated, zones []drawnZone) error {
	if err := m.rasters(); err != nil {
		return err
	}
	for _, z := range zones {
		shape, _, err := m.field.Frame.Shape(z.shape)
		if err != nil {
			return fmt.Errorf("zone %s: %w", z.id, err)
		}
		g := ratedGround{id: z.id, division: z.division, figures: rate.Figures{}}
		at := plane.NewLocator(shape)
		n := 0
		for _, name := range m.names() {
			b, err := m.base(name)
			if err != nil {
				return err
			}
			mean, pixels := b.mean(func(i int, p geo.XY) bool { return at.Contains(p) }, shape)
			if pixels == 0 {
				continue
			}
			n = max(n, pixels)
			g.figures[name] = rate.Figure{Value: mean, Unit: m.inputs[name].Unit, Method: m.inputs[name].Method}
		}
		g.from = fmt.Sprintf("means of %d pixels of %s m", n, plain(m.geometry.Pixel))
		if g.Conditions, err = m.conditionsOf(g.division, m.of); err != nil {
			return err
		}
		if g.advice, err = m.scheme.Advise(g.figures, g.Conditions); err != nil {
			return err
		}
		if err := m.settle(&g, shape); err != nil {
			return err
		}
		if err := m.beyond(&g, func(_ int, p geo.XY) bool { return at.Contains(p) }, shape); err != nil {
			return err
		}
		out.grounds = append(out.grounds, g)
	}
	m.sayBeyond()
	return m.covered(out)
}

// covered holds the zones against the ground: those of another field, or drawn
// over each other, would spread twice.
func (m *rateMaker) covered(out *rated) error {
	sum := 0.0
	for _, g := range out.grounds {
		sum += g.area
	}
	ground := m.field.Frame.GeodesicArea(m.field.Ground)
	switch {
	case sum > ground*1.001:
		return fmt.Errorf("its %s have %.2f ha and its ground has %.2f: they lie over each other or outside of it; draw them anew from these results", out.basis, sum/geo.Hectare, ground/geo.Hectare)
	case sum < ground*0.999:
		m.notices = append(m.notices, fmt.Sprintf("field %s: %.2f ha of its ground lie in no zone, and get nothing", m.field.Name, (ground-sum)/geo.Hectare))
	}
	return nil
}

// beyond adds up the ground above a table's limit, over which none is to be
// spread, that gets some by the mean of its zone.
func (m *rateMaker) beyond(g *ratedGround, in func(i int, p geo.XY) bool, shape plane.Shape) error {
	for t, table := range m.scheme.Tables {
		a := g.advice.Answers[t]
		if table.NoneAbove == 0 || a.Refused != nil || a.KgPerHa == 0 {
			continue
		}
		b, err := m.base(table.By)
		if err != nil {
			return err
		}
		limit := table.NoneAbove
		for _, i := range table.Inputs {
			if i.Analyte == table.By && i.MgPerKg > 0 {
				limit *= i.MgPerKg
			}
		}
		bound := shape.Bound()
		for i, v := range b.grid.Data {
			x, y := b.grid.Center(i%b.grid.Width, i/b.grid.Width)
			if p := (geo.XY{x, y}); v != raster.NoData && float64(v) > limit && bound.Contains([2]float64(p)) && in(i, p) {
				m.over[t] += b.grid.Pixel * b.grid.Pixel * b.on.scale
			}
		}
	}
	return nil
}

func (m *rateMaker) sayBeyond() {
	for t, table := range m.scheme.Tables {
		if area := m.over[t]; area > 0 {
			m.notices = append(m.notices, fmt.Sprintf("field %s: %.2f ha are above the limit of table %s, over which no %s is to be spread, and get some by the mean of their zone; cut zones at the limit, or sample them apart", m.field.Name, area/geo.Hectare, table.Name, table.Out.Of))
		}
	}
}

// mean is that of the pixels with a value whose middle lies in a shape; where
// none does, that of the pixel nearest to the middle of the shape's bounds.
func (b *base) mean(in func(i int, p geo.XY) bool, shape plane.Shape) (mean float64, pixels int) {
	g, bound := b.grid, shape.Bound()
	nearest, off := -1, math.Inf(1)
	middle := geo.XY(bound.Center())
	sum := 0.0
	for i, v := range g.Data {
		if v == raster.NoData {
			continue
		}
		x, y := g.Center(i%g.Width, i/g.Width)
		p := geo.XY{x, y}
		if d := p.Distance(middle); d < off {
			nearest, off = i, d
		}
		if bound.Contains([2]float64(p)) && in(i, p) {
			sum, pixels = sum+float64(v), pixels+1
		}
	}
	switch {
	case pixels > 0:
		return sum / float64(pixels), pixels
	case nearest >= 0 && off < 2*g.Pixel:
		return float64(g.Data[nearest]), 1
	}
	return 0, 0
}
