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
	"corewalk/interp/zone"
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
	crops  []bool // that were used

	geometry *raster.Geometry // of the field's surfaces
	split    bool
	notices  []string
	bases    map[string]*base
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
	m.bases = map[string]*base{}
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
	if m.Depth != nil {
		c.Sample = layerInches(*m.Depth)
	}
	for i, x := range of {
		if x.Depth == "" {
			continue
		}
		own, err := sampling.ParseDepth(x.Depth)
		if err != nil {
			return c, fmt.Errorf("sample %s: %w", x.ID, err)
		}
		if l := layerInches(own); i == 0 || c.Sample == (rate.Layer{}) || l == c.Sample {
			c.Sample = l
		} else {
			return c, fmt.Errorf("samples %s and %s are of different depths; take rates by unit", of[0].ID, x.ID)
		}
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
		out.grounds = append(out.grounds, g)
	}
	return nil
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

// bySurface rates every pixel, and cuts the field into zones of like rates.
func (m *rateMaker) bySurface(out *rated) error {
	if err := m.rasters(); err != nil {
		return err
	}
	bases := map[string]*base{}
	for _, name := range m.names() {
		b, err := m.base(name)
		if err != nil {
			return err
		}
		bases[name] = b
	}
	on := bases[m.names()[0]].on
	conditions := make([]rate.Conditions, len(on.field.Divisions))
	for d := range conditions {
		var err error
		if conditions[d], err = m.conditionsOf(on.field.Divisions[d], m.of); err != nil {
			return err
		}
	}
	at := func(i int) rate.Figures {
		f := rate.Figures{}
		for name, b := range bases {
			if v := b.grid.Data[i]; v != raster.NoData {
				f[name] = rate.Figure{Value: float64(v), Unit: m.inputs[name].Unit, Method: m.inputs[name].Method}
			}
		}
		return f
	}
	rates := make([]*raster.Grid, len(m.scheme.Tables)) // kg/ha of what the table counts
	for t := range rates {
		rates[t] = &raster.Grid{Geometry: on.geometry, Data: slices.Repeat([]float32{raster.NoData}, len(on.division))}
	}
	for i, d := range on.division {
		if d < 0 {
			continue
		}
		answers, err := m.scheme.Answers(at(i), conditions[d])
		if err != nil {
			return err
		}
		for t, a := range answers {
			if a.Refused == nil {
				rates[t].Data[i] = float32(a.KgPerHa)
			}
		}
	}
	// Classes of all tables together: pixels of one code are alike in all of them.
	code := make([]int32, len(on.division))
	for _, g := range rates {
		for i, c := range zone.Classify(g, rateLimits(g, m.Classes)) {
			code[i] = code[i]*int32(mostClasses+2) + c + 1
		}
	}
	for i, c := range code {
		if c == 0 {
			code[i] = -1 // every table refuses
		}
	}
	result, err := on.zones.Partition(code, zone.Options{Smallest: m.Smallest / on.scale, LeastWidth: m.LeastWidth, Smooth: m.chords()})
	if err != nil {
		return err
	}
	for k, z := range result.Zones {
		g := ratedGround{id: fmt.Sprintf("rate-%d", k+1), division: on.field.Divisions[z.Division], Conditions: conditions[z.Division]}
		g.division.Shape = nil
		answers, err := m.meanAnswers(z, on, rates, at, g.Conditions)
		if err != nil {
			return err
		}
		if g.advice, err = m.scheme.Meet(answers); err != nil {
			return err
		}
		g.from = fmt.Sprintf("%d pixels of %s m, each rated by itself", len(z.Pixels), plain(on.geometry.Pixel))
		if err := m.settle(&g, z.Shape); err != nil {
			return err
		}
		out.grounds = append(out.grounds, g)
	}
	return nil
}

// meanAnswers are what tables say for a zone: the means of their rates for its
// pixels, with the calculation for one that is near to the mean.
func (m *rateMaker) meanAnswers(z zone.Zone, on *preparedGround, rates []*raster.Grid, at func(int) rate.Figures, c rate.Conditions) ([]rate.Answer, error) {
	pixels := z.Pixels
	if len(pixels) == 0 {
		pixels = []int32{nearestPixel(on, z)}
	}
	out := make([]rate.Answer, len(rates))
	for t, g := range rates {
		f := z.Figures(g)
		typical := pixels[0]
		for _, i := range pixels {
			if g.Data[i] != raster.NoData && (g.Data[typical] == raster.NoData || math.Abs(float64(g.Data[i])-f.Mean) < math.Abs(float64(g.Data[typical])-f.Mean)) {
				typical = i
			}
		}
		answers, err := m.scheme.Answers(at(int(typical)), c)
		if err != nil {
			return nil, err
		}
		a := answers[t]
		if per, ok := rate.KgPerHa(a.Unit); ok && a.Refused == nil && f.Pixels > 0 {
			if a.Material > 0 {
				per *= a.Material / 100
			}
			a.Steps = append(a.Steps, rate.Step{Text: "so reckoned for the pixel nearest to the mean of its zone", Result: a.Rate, Unit: a.Unit})
			a.KgPerHa, a.Rate = f.Mean, f.Mean/per
			a.Steps = append(a.Steps,
				rate.Step{Text: fmt.Sprintf("mean of the rates of %d pixels, %s to %s", f.Pixels, plain(decimals(f.Least/per, 3)), plain(decimals(f.Greatest/per, 3))), Result: a.Rate, Unit: a.Unit},
				rate.Step{Text: "in kg/ha", Result: a.KgPerHa, Unit: "kg/ha of " + a.Of})
			if f.Mean > 0 {
				a.Reason = ""
			}
		}
		out[t] = a
	}
	return out, nil
}

// nearestPixel finds the pixel of a zone that is too narrow to hold the middle of
// one.
func nearestPixel(on *preparedGround, z zone.Zone) int32 {
	middle := geo.XY(z.Shape.Bound().Center())
	best, off := int32(0), math.Inf(1)
	for i, d := range on.division {
		x, y := on.geometry.Center(i%on.geometry.Width, i/on.geometry.Width)
		if o := middle.Distance(geo.XY{x, y}); int(d) == z.Division && o < off {
			best, off = int32(i), o
		}
	}
	return best
}

// rateLimits are those between classes of rates: none at all, and equal steps up
// to the highest.
func rateLimits(g *raster.Grid, classes int) []float64 {
	most := 0.0
	for _, v := range g.Data {
		if v != raster.NoData {
			most = max(most, float64(v))
		}
	}
	if most == 0 {
		return nil
	}
	limits := []float64{0.005} // what is rounded to 0 kg/ha is none
	for k := 1; k < classes; k++ {
		if l := most * float64(k) / float64(classes); l > limits[len(limits)-1] {
			limits = append(limits, l)
		}
	}
	return limits
}

// compare works out one rate for the whole field, from its mean, and sums up.
func (m *rateMaker) compare(out *rated) error {
	n := 0
	for _, g := range out.grounds {
		n = max(n, len(g.advice.Doses))
	}
	out.balances = make([]rate.Balance, n)
	out.uniform = make([]float64, n)
	means, err := m.means(out)
	if err != nil {
		return err
	}
	one := map[rate.Conditions][]rate.Dose{}
	for i := range out.grounds {
		g := &out.grounds[i]
		doses, known := one[g.Conditions]
		if !known {
			advice, err := m.scheme.Advise(means, g.Conditions)
			if err != nil {
				return err
			}
			for _, a := range advice.Answers {
				if a.Refused != nil && out.refused == "" {
					out.refused = a.Refused.Error()
				}
			}
			doses = advice.Doses
			one[g.Conditions] = doses
		}
		g.uniform = doses
		for k := range n {
			var dose, uniform *rate.Dose
			if len(g.advice.Doses) == n {
				dose = &g.advice.Doses[k]
			}
			if len(doses) == n {
				uniform = &doses[k]
			}
			out.balances[k].Add(g.area, dose, uniform)
			switch {
			case uniform == nil:
				out.uniform[k] = math.NaN()
			case i == 0:
				out.uniform[k] = uniform.Total
			case out.uniform[k] != uniform.Total:
				out.uniform[k] = math.NaN()
			}
		}
	}
	return nil
}

// means are the figures of the field as a whole, without its problem areas, which
// are sampled apart so that they do not spoil them.
func (m *rateMaker) means(out *rated) (rate.Figures, error) {
	f := rate.Figures{}
	if len(m.bases) == 0 {
		healthy := func(g ratedGround) bool { return g.division.Kind != geo.Problem }
		all := !slices.ContainsFunc(out.grounds, healthy)
		for name, a := range m.inputs {
			var sum, area float64
			for _, g := range out.grounds {
				if x, ok := g.figures[name]; ok && (all || healthy(g)) {
					sum, area = sum+x.Value*g.area, area+g.area
				}
			}
			if area > 0 {
				f[name] = rate.Figure{Value: sum / area, Unit: a.Unit, Method: a.Method}
			}
		}
		return f, nil
	}
	for _, name := range m.names() {
		b, err := m.base(name)
		if err != nil {
			return nil, err
		}
		healthy := func(i int) bool {
			d := b.on.division[i]
			return d >= 0 && b.on.field.Divisions[d].Kind != geo.Problem
		}
		all := true
		for i := range b.grid.Data {
			all = all && !healthy(i)
		}
		var sum, n float64
		for i, v := range b.grid.Data {
			if v != raster.NoData && b.on.division[i] >= 0 && (all || healthy(i)) {
				sum, n = sum+float64(v), n+1
			}
		}
		if n > 0 {
			f[name] = rate.Figure{Value: sum / n, Unit: m.inputs[name].Unit, Method: m.inputs[name].Method}
		}
	}
	return f, nil
}

func (p *rateParameters) chords() int {
	if p.Smooth {
		return smoothChords
	}
	return 0
}
