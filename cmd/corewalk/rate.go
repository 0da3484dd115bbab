package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/raster"
	"corewalk/geo/vector"
	"corewalk/interp/rate"
	"corewalk/sampling"
)

const (
	ratesFile      = "rates.geojson"
	rateTotalsFile = "rates.json"
	rateTableFile  = "rates.csv"
	taskFile       = "taskdata.zip"

	prescriptionFolder = "prescriptions"
)

// rateDecimals are those of degrees in all files with rates: a task file can hold
// no more, and all of them are to have the same ground.
const rateDecimals = 9

// rateSummary is what rates.json holds and --json prints.
type rateSummary struct {
	Format   int            `json:"format"`
	Program  string         `json:"program"`
	Tables   []tableRecord  `json:"tables"`
	Products []string       `json:"products"`
	Rates    []rateRecord   `json:"rates"`
	Cautions []string       `json:"cautions"`
	Notices  []string       `json:"notices"`
	Inputs   []inputHash    `json:"inputs"`
	Params   rateParameters `json:"parameters"`
	Files    []string       `json:"files,omitempty"`

	rated []*rated
	unit  string
}

// tableRecord says which recommendation rates come from.
type tableRecord struct {
	Name     string `json:"name"`
	Of       string `json:"of,omitempty"`
	Region   string `json:"region"`
	Source   string `json:"source"`
	Verified string `json:"verified"`
	Note     string `json:"note,omitempty"`
}

// rateRecord sums up what is spread of one product on one field, or of what the
// table counts where there is no product. Money is in Currency.
type rateRecord struct {
	Field       string         `json:"field"`
	Product     string         `json:"product,omitempty"`
	Of          string         `json:"of,omitempty"`
	Tables      []string       `json:"tables"`
	Basis       string         `json:"basis"`
	Grounds     int            `json:"grounds"`
	AreaHa      float64        `json:"area_ha"`    // that has a rate
	NoRateHa    float64        `json:"no_rate_ha"` // that has none
	Kilograms   float64        `json:"kg"`
	Cost        *float64       `json:"cost,omitempty"`
	Currency    string         `json:"currency,omitempty"`
	Uniform     *float64       `json:"uniform_kg_per_ha,omitempty"` // the one rate from the mean of the field; none where it differs by crop
	UniformKg   *float64       `json:"uniform_kg,omitempty"`
	UniformCost *float64       `json:"uniform_cost,omitempty"`
	OverKg      *float64       `json:"over_kg,omitempty"` // that the one rate puts where less is asked for
	UnderKg     *float64       `json:"under_kg,omitempty"`
	OverHa      *float64       `json:"over_ha,omitempty"` // where it is more than a twentieth too much
	UnderHa     *float64       `json:"under_ha,omitempty"`
	TaskKg      *float64       `json:"task_grid_kg,omitempty"` // of a task file with a grid, whose cells are not quite the zones
	Classes     map[string]int `json:"classes,omitempty"`      // grounds by class, of tables without rates
}

// fieldRates is what came of one field.
type fieldRates struct {
	rated   []*rated
	records []rateRecord
	lines   []byte // features
	rows    [][]string
	files   []outFile
	tasks   fieldTasks
	crops   []bool
	notices []string
}

// rateStep works out the rates of every field. surfacesPath and zonesPath may be
// empty where they are not needed.
func rateStep(resultsPath, surfacesPath, zonesPath string, p rateParameters, out *outputs) (rateSummary, error) {
	s := rateSummary{
		Format: 1, Program: "corewalk " + version, Products: slices.Clip(p.Products), Rates: []rateRecord{}, Cautions: []string{}, Notices: []string{},
		Params: p, unit: p.unit(),
	}
	w, err := openRates(resultsPath, surfacesPath, zonesPath, p)
	if err != nil {
		return s, err
	}
	defer w.close()
	for _, scheme := range w.schemes {
		for _, t := range scheme.Tables {
			s.Tables = append(s.Tables, tableRecord{t.Name, t.Out.Of, t.Region, t.Source.String(), t.Verified, t.Note})
		}
	}
	head, err := newHeader(p, w.inputs)
	if err != nil {
		return s, err
	}
	s.Inputs = head.Inputs
	out.inputs = append(out.inputs, w.inputs...)
	defer out.discard()
	w.out = out
	w.cautions = s.cautions(w.schemes)
	s.Cautions = w.cautions
	rows := [][]string{rateColumns}
	used := make([]bool, len(p.crops))
	tasks := newTaskFile(p, s)
	refused := ""
	answered := false
	file, err := out.stage(ratesFile, func(to io.Writer) error {
		stream, err := vector.NewStream(to, []vector.Member{{Name: "corewalk", Value: head}, {Name: "tables", Value: s.Tables}, {Name: "cautions", Value: s.Cautions}})
		if err != nil {
			return err
		}
		err = inOrder(len(w.results.fields), w.field, func(_ int, f fieldRates) error {
			stream.Write(f.lines)
			rows = append(rows, f.rows...)
			s.Rates = append(s.Rates, f.records...)
			s.Notices = append(s.Notices, f.notices...)
			for i, u := range f.crops {
				used[i] = used[i] || u
			}
			for _, x := range f.rated {
				for _, g := range x.grounds {
					for _, a := range g.advice.Answers {
						if a.Refused == nil {
							answered = true
						} else if refused == "" {
							refused = fmt.Sprintf("field %s, %s: %s", x.field.Name, g.id, a.Refused.Error())
						}
					}
				}
			}
			out.take(f.files...)
			tasks.add(f.tasks)
			if p.keep {
				s.rated = append(s.rated, f.rated...)
			}
			return nil
		})
		return errors.Join(err, stream.Close())
	})
	if err != nil {
		return s, trimPrefix(err, ratesFile)
	}
	for i, u := range used {
		if !u {
			return s, fmt.Errorf("crop %q: there is no field or management unit of that name", p.Crops[i])
		}
	}
	if !answered {
		if refused == "" {
			return s, fmt.Errorf("%s has no ground to rate", resultsPath)
		}
		return s, fmt.Errorf("there is no rate anywhere; %s", refused)
	}
	out.take(file)
	if err := out.add(rateTableFile, func(to io.Writer) error { return csv.NewWriter(to).WriteAll(rows) }); err != nil {
		return s, err
	}
	if p.Task != "no" && len(tasks.file.Tasks) > 0 {
		notices, err := tasks.write(out)
		if err != nil {
			return s, err
		}
		s.Notices = append(s.Notices, notices...)
	}
	s.Notices = append(s.Notices, leftovers(out)...)
	if err := out.add(rateTotalsFile, func(to io.Writer) error {
		e := json.NewEncoder(to)
		e.SetIndent("", " ")
		return e.Encode(s)
	}); err != nil {
		return s, err
	}
	s.Files = out.names()
	return s, out.commit()
}

// leftovers names prescriptions of an earlier run that this one does not write
// over: a dressing too many is spread by such.
func leftovers(out *outputs) []string {
	written := map[string]bool{}
	for _, f := range out.files {
		written[filepath.Clean(f.name)] = true
	}
	var old []string
	entries, _ := os.ReadDir(filepath.Join(out.dir, prescriptionFolder)) // none where it is not there
	for _, e := range entries {
		if name := filepath.Join(prescriptionFolder, e.Name()); filepath.Ext(name) == ".shp" && !written[name] {
			old = append(old, name)
		}
	}
	if _, err := os.Stat(filepath.Join(out.dir, taskFile)); err == nil && !written[taskFile] {
		old = append(old, taskFile)
	}
	if len(old) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s in %s are of an earlier run and NOT of these rates: take them away before somebody spreads by them", strings.Join(old, ", "), out.dir)}
}

// cautions are those of all tables, whatever they answer.
func (s *rateSummary) cautions(schemes []rate.Scheme) []string {
	out := []string{}
	for _, x := range schemes {
		for i := range x.Tables {
			for _, c := range x.Tables[i].Cautions() {
				if !slices.Contains(out, c) {
					out = append(out, c)
				}
			}
		}
	}
	return out
}

// openedRates is what rates are worked out from.
type openedRates struct {
	rateParameters
	results      *openedResults
	schemes      []rate.Scheme
	surfaces     map[surfaceKey]surfaceRecord
	surfacesPath string
	zones        *openedZones // nil where there are none
	inputs       []string
	slugs        []string // of fields
	out          *outputs
	cautions     []string
}

func openRates(resultsPath, surfacesPath, zonesPath string, p rateParameters) (*openedRates, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	all, err := readTables(p.own)
	if err != nil {
		return nil, err
	}
	var tables []rate.Table
	for _, name := range p.Use {
		t, err := rate.Find(all, name)
		if err != nil {
			return nil, err
		}
		tables = append(tables, t)
	}
	var materials []rate.Material
	for _, x := range p.products {
		materials = append(materials, x.Material)
	}
	w := &openedRates{rateParameters: p, surfaces: map[surfaceKey]surfaceRecord{}, surfacesPath: surfacesPath}
	if w.schemes, err = rate.Schemes(tables, materials); err != nil {
		return nil, err
	}
	w.inputs = append([]string{resultsPath}, p.own...)
	if surfacesPath != "" {
		index, err := readSurfaces(surfacesPath)
		if err != nil {
			return nil, err
		}
		for _, x := range index.Surfaces {
			w.surfaces[surfaceKey{x.Field, x.Analyte}] = x
		}
		w.inputs = append(w.inputs, surfacesPath)
	}
	if zonesPath != "" {
		if w.zones, err = openZones(zonesPath); err != nil {
			return nil, err
		}
		w.inputs = append(w.inputs, zonesPath)
	}
	if w.results, err = openResults(resultsPath); err != nil {
		return nil, err
	}
	w.slugs, _ = w.results.slugs()
	return w, nil
}

func (w *openedRates) close() {
	w.results.Close()
	if w.zones != nil {
		w.zones.Close()
	}
}

// makers prepares the work on a field, one for each scheme.
func (w *openedRates) makers(i int) ([]*rateMaker, error) {
	f, of, err := w.results.field(i)
	if err != nil {
		return nil, err
	}
	zones := &zoneMaker{
		zoneParameters: zoneParameters{Within: "ground", Insist: w.Insist}, what: "its figures are those of the", field: f,
		surfaces: w.surfaces, surfacesPath: w.surfacesPath, grounds: map[raster.Geometry]*preparedGround{}, drawn: map[string]*base{},
	}
	drawn, err := w.zones.of(f.Name)
	if err != nil {
		return nil, err
	}
	var out []*rateMaker
	for k := range w.schemes {
		m := &rateMaker{
			rateParameters: w.rateParameters, zones: zones, field: f, of: of, scheme: &w.schemes[k],
			drawn: drawn, crops: make([]bool, len(w.rateParameters.crops)),
		}
		m.inputs, m.sample = inputsOf(m.scheme, w.results.analytes)
		out = append(out, m)
	}
	return out, nil
}

// field works out the rates of one field, and its part of the files.
func (w *openedRates) field(i int) (fieldRates, error) {
	var out fieldRates
	makers, err := w.makers(i)
	if err != nil {
		return out, err
	}
	out.crops = make([]bool, len(w.rateParameters.crops))
	for _, m := range makers {
		x, err := m.make()
		if err != nil {
			return out, fmt.Errorf("field %s: %w", m.field.Name, err)
		}
		out.notices = append(out.notices, append(x.notices, x.refusals()...)...)
		for k, u := range m.crops {
			out.crops[k] = out.crops[k] || u
		}
		out.rated = append(out.rated, x)
		own := len(out.records)
		out.records = append(out.records, x.records(w.rateParameters)...)
		if out.lines, err = x.features(out.lines, w.rateParameters); err != nil {
			return out, err
		}
		out.rows = append(out.rows, x.rows(w.rateParameters)...)
		if len(m.scheme.Materials) == 0 {
			continue // nothing that a spreader could be filled with
		}
		files, err := w.shapefiles(x, w.slugs[i])
		if err != nil {
			return out, fmt.Errorf("field %s: %w", m.field.Name, err)
		}
		out.files = append(out.files, files...)
		if w.Task != "no" {
			notices, err := out.tasks.add(x, w.rateParameters, out.records[own:])
			if err != nil {
				return out, fmt.Errorf("field %s: task file: %w", m.field.Name, err)
			}
			out.notices = append(out.notices, notices...)
		}
	}
	return out, nil
}

// refusals tell what has no rate, and why, once for each reason.
func (x *rated) refusals() []string {
	var out []string
	for t, table := range x.scheme.Tables {
		var reasons []string
		n := map[string]int{}
		first := map[string]string{}
		for _, g := range x.grounds {
			if r := g.advice.Answers[t].Refused; r != nil {
				if n[r.What] == 0 {
					reasons, first[r.What] = append(reasons, r.What), g.id
				}
				n[r.What]++
			}
		}
		for _, r := range reasons {
			out = append(out, fmt.Sprintf("field %s: table %s gives no rate for %d of %d (%s%s): %s", x.field.Name, table.Name, n[r], len(x.grounds), first[r], more(n[r]), r))
		}
	}
	if x.refused != "" && len(x.balances) > 0 {
		out = append(out, fmt.Sprintf("field %s: there is no one rate to compare with: %s", x.field.Name, x.refused))
	}
	return out
}

func more(n int) string {
	if n > 1 {
		return " and others"
	}
	return ""
}

// name is what a dose is of: a product, or what the tables count.
func (x *rated) name(k int) (product, of string) {
	var all []string
	for _, t := range x.scheme.Tables {
		all = append(all, t.Out.Of)
	}
	if k < len(x.scheme.Materials) {
		product = x.scheme.Materials[k].Name
	}
	return product, strings.Join(all, " and ")
}

// records sum up the field.
func (x *rated) records(p rateParameters) []rateRecord {
	var tables []string
	for _, t := range x.scheme.Tables {
		tables = append(tables, t.Name)
	}
	base := rateRecord{Field: x.field.Name, Tables: tables, Basis: x.basis, Grounds: len(x.grounds)}
	if x.scheme.Tables[0].Kind == rate.KindSufficiency {
		base.Classes = map[string]int{}
		for _, g := range x.grounds {
			if a := g.advice.Answers[0]; a.Refused == nil {
				base.Classes[a.Class]++
				base.AreaHa += g.area / geo.Hectare
			} else {
				base.NoRateHa += g.area / geo.Hectare
			}
		}
		return []rateRecord{base}
	}
	var out []rateRecord
	for k, b := range x.balances {
		r := base
		r.Product, r.Of = x.name(k)
		r.AreaHa, r.NoRateHa, r.Kilograms = b.Area/geo.Hectare, b.NoRate/geo.Hectare, b.Mass
		price := 0.0
		if r.Product != "" {
			price = x.scheme.Materials[k].PricePerKg
		}
		if price > 0 {
			cost := b.Mass * price
			r.Cost, r.Currency = &cost, p.currency()
		}
		if b.Compared {
			over, under := b.OverArea/geo.Hectare, b.UnderArea/geo.Hectare
			r.UniformKg, r.OverKg, r.UnderKg, r.OverHa, r.UnderHa = &b.Uniform, &b.Over, &b.Under, &over, &under
			if !math.IsNaN(x.uniform[k]) {
				r.Uniform = &x.uniform[k]
			}
			if price > 0 {
				cost := b.Uniform * price
				r.UniformCost = &cost
			}
		}
		out = append(out, r)
	}
	return out
}

func (p *rateParameters) currency() string {
	for _, x := range p.products {
		if x.PricePerKg > 0 {
			return x.currency
		}
	}
	return ""
}

func (s *rateSummary) lines(m measure) []string {
	var out []string
	for _, t := range s.Tables {
		out = append(out, fmt.Sprintf("table %s (verified: %s): %s", t.Name, t.Verified, t.Source))
	}
	for _, r := range s.Rates {
		if len(out) > mostLines {
			out = append(out, "  ... and more; all are in "+rateTotalsFile)
			break
		}
		out = append(out, "  "+r.line(m))
	}
	for _, c := range s.Cautions {
		out = append(out, "caution: "+c)
	}
	return out
}

func (r rateRecord) line(m measure) string {
	if r.Classes != nil {
		var parts []string
		for _, c := range slices.Sorted(maps.Keys(r.Classes)) {
			parts = append(parts, fmt.Sprintf("%s %d", c, r.Classes[c]))
		}
		return fmt.Sprintf("%s, %s, by %s: %s", r.Field, strings.Join(r.Tables, " and "), r.Basis, strings.Join(parts, ", "))
	}
	what := r.Product
	if what == "" {
		what = "pure " + r.Of
	}
	line := fmt.Sprintf("%s, by %s: %s of %s on %s", r.Field, r.Basis, m.mass(r.Kilograms), what, m.area(r.AreaHa*geo.Hectare))
	if r.Cost != nil {
		line += ", " + money(*r.Cost, r.Currency)
	}
	if r.UniformKg != nil {
		one := "one rate"
		if r.Uniform == nil {
			one = "one rate to each crop"
		}
		line += fmt.Sprintf("; %s from the mean of the field would take %s", one, m.mass(*r.UniformKg))
		if r.UniformCost != nil {
			line += ", " + money(*r.UniformCost, r.Currency)
		}
		line += fmt.Sprintf(": %s of it where less is asked for, and %s too little where more is", m.mass(*r.OverKg), m.mass(*r.UnderKg))
	}
	if r.NoRateHa > 0 {
		line += fmt.Sprintf("; %s have no rate", m.area(r.NoRateHa*geo.Hectare))
	}
	return line
}

func money(v float64, currency string) string {
	return strings.TrimSpace(fmt.Sprintf("%.0f %s", v, currency))
}

func (m measure) mass(kg float64) string {
	if m.us {
		return fmt.Sprintf("%.2f tons", kg/rate.KgPerShortTon)
	}
	return fmt.Sprintf("%.2f t", kg/1000)
}

// explainRate writes the calculation for a sample, or for a zone.
func explainRate(resultsPath, surfacesPath, zonesPath string, p rateParameters, id string) ([]string, error) {
	w, err := openRates(resultsPath, surfacesPath, zonesPath, p)
	if err != nil {
		return nil, err
	}
	defer w.close()
	var out []string
	found := map[string]bool{} // fields with a zone of that id
	for i := range w.results.fields {
		makers, err := w.makers(i)
		if err != nil {
			return nil, err
		}
		field, name := "", id
		if f, z, ok := strings.Cut(id, "/"); ok {
			field, name = strings.TrimSpace(f), strings.TrimSpace(z)
		}
		for _, m := range makers {
			k := slices.IndexFunc(m.of, func(c sampling.Composite) bool { return strings.EqualFold(c.ID, id) })
			if k >= 0 {
				c := m.of[k]
				conditions, err := m.conditionsOf(divisionOfComposite(c), m.of[k:k+1])
				if err != nil {
					return nil, err
				}
				advice, err := m.scheme.Advise(m.figures(m.of[k:k+1]), conditions)
				if err != nil {
					return nil, err
				}
				if err := refusedBy(advice); err != nil {
					return nil, fmt.Errorf("sample %s: %w", c.ID, err)
				}
				out = append(append(out, fmt.Sprintf("sample %s in %s, %s", c.ID, m.field.Name, m.tables())), m.explained(advice)...)
				continue
			}
			if field != "" && !strings.EqualFold(field, m.field.Name) || m.By == byUnit || m.By == "" && len(m.drawn) == 0 {
				continue
			}
			x, err := m.make()
			if err != nil {
				return nil, fmt.Errorf("field %s: %w", m.field.Name, err)
			}
			for _, g := range x.grounds {
				if strings.EqualFold(g.id, name) {
					if err := refusedBy(g.advice); err != nil {
						return nil, fmt.Errorf("%s in %s: %w", g.id, m.field.Name, err)
					}
					found[m.field.Name] = true
					out = append(append(out, fmt.Sprintf("%s in %s (%s), %s", g.id, m.field.Name, g.from, m.tables())), m.explained(g.advice)...)
				}
			}
		}
	}
	switch {
	case len(found) > 1:
		return nil, fmt.Errorf("there are zones %s in %s; write the field, too, as in \"%s/%s\"", id, strings.Join(slices.Sorted(maps.Keys(found)), " and "), slices.Sorted(maps.Keys(found))[0], id)
	case out == nil:
		return nil, fmt.Errorf("%s has no sample %q, nor is there a zone of that name", resultsPath, id)
	}
	return out, nil
}

// explained is the explanation of an advice, with what is spread in the unit of
// files before the cautions.
func (m *rateMaker) explained(a rate.Advice) []string {
	out := a.Explain()
	cautions := slices.IndexFunc(out, func(s string) bool { return strings.HasPrefix(s, "caution: ") })
	if cautions < 0 {
		cautions = len(out)
	}
	per, _ := rate.KgPerHa(m.unit())
	x := rated{scheme: m.scheme}
	for k, d := range a.Doses {
		name, of := x.name(k)
		if name == "" {
			name = "pure " + of
		}
		line := fmt.Sprintf("spread of %s: none", name)
		if d.Times > 0 {
			times := "in one dressing"
			if d.Times > 1 {
				times = fmt.Sprintf("in each of %d dressings", d.Times)
			}
			line = fmt.Sprintf("spread of %s, %s: %s / %s = %s %s", name, times, plain(d.Each), plain(tenDigits(per)), plain(tenDigits(d.Each/per)), m.unit())
		}
		out = slices.Insert(out, cautions, line)
		cautions++
	}
	return out
}

func tenDigits(v float64) float64 {
	out, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 10, 64), 64)
	if err != nil {
		return v
	}
	return out
}

// refusedBy is the refusal of the first table, where all refuse.
func refusedBy(a rate.Advice) error {
	for _, x := range a.Answers {
		if x.Refused == nil {
			return nil
		}
	}
	return a.Answers[0].Refused
}

// listedTable is a table as --json lists it.
type listedTable struct {
	tableRecord
	Kind    string   `json:"kind"`
	Crops   []string `json:"crops"`
	Needs   []string `json:"needs"`
	DepthIn float64  `json:"depth_in,omitempty"` // none where the source does not state it
}

func tableListing(tables []rate.Table) []listedTable {
	out := []listedTable{}
	for _, t := range tables {
		x := listedTable{
			tableRecord: tableRecord{t.Name, t.Out.Of, t.Region, t.Source.String(), t.Verified, t.Note},
			Kind:        t.Kind, Crops: []string{}, Needs: needsOf(t), DepthIn: t.Depth.Inches,
		}
		for _, c := range t.Crops {
			x.Crops = append(x.Crops, c.Name)
		}
		out = append(out, x)
	}
	return out
}

func needsOf(t rate.Table) []string {
	needs := []string{}
	for _, i := range t.Inputs {
		text := i.Analyte
		if len(i.Methods) > 0 {
			text += " (" + strings.Join(i.Methods, " or ") + ")"
		}
		needs = append(needs, text)
	}
	return needs
}

// listTables lists tables for a person.
func listTables(tables []rate.Table) []string {
	rows := [][]string{{"TABLE", "KIND", "REGION", "NEEDS", "DEPTH", "VERIFIED", "SOURCE"}}
	for _, t := range tables {
		depth := "not stated"
		if t.Depth.Inches > 0 {
			depth = plain(t.Depth.Inches) + " in"
		}
		rows = append(rows, []string{t.Name, t.Kind, t.Region, strings.Join(needsOf(t), ", "), depth, t.Verified, t.Source.String()})
	}
	return columns(rows, false)
}

func (a *app) rateCommand() *cobra.Command {
	var results, surfaces, zones, explain string
	choices := settingFlags[rateParameters]{params: *defaultRate()}
	var list bool
	units := unitsValue("metric")
	var to outFlags
	c := &cobra.Command{
		Use:   "rate --results results.geojson --use TABLE --product PRODUCT [flags]",
		Short: "Work out lime and nutrient rates, by zone, for the spreader",
		Long: `Works out rates of lime and nutrients by published recommendation tables, turns
them into products, and compares them with one rate from the mean of each field.
--tables lists the tables: what each is for, the method and depth that it belongs
to, where it comes from, and whether its figures were seen in print. A table
refuses results by another method, outside of its range, or from another depth
without a rule for it. --explain prints one calculation, to be followed with a
pocket calculator.

Rates are for zones (--zones, from the means of the surfaces in them), for
surfaces (pixel by pixel, then put into classes) or for sampling units. Where a
surface is not supported by its cross-validation, the figures of the sampling
units are taken.

Writes rates.geojson, rates.csv (for a hand spreader, its settings left blank) and
rates.json (totals); and for products, by field, product and dressing, a shapefile
in prescriptions/, and all of them in taskdata.zip, an ISO 11783-10 task file.
Without a product, rates are of pure calcium carbonate, P2O5 or K2O.

Rates are advice: check them with your local recommendations and a certified
adviser; nutrient rules and setbacks of the place come first.`,
		Example: `  corewalk rate --tables
  corewalk rate --results out/results.geojson --use iowa-2002-lime --target-ph 6.5 --explain BB03N
  corewalk rate --results out/results.geojson --surfaces out/surfaces.json --zones out/zones.geojson \
    --use iowa-2002-lime --target-ph 6.5 --units us --out out \
    --product "quarry lime: CCE 92, mesh 4/8/60 100/90/55, moisture 2, rule iowa, 24 USD/ton, step 100 lb/ac"
  corewalk rate --results out/results.geojson --use tri-state-2020-p --crop "corn, 180 bu/ac" --product "TSP: 0-46-0, 620 USD/ton"`,
		Args: exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			p := choices.params
			if list {
				tables, err := readTables(p.own)
				if err != nil {
					return err
				}
				if a.json {
					return a.report(tableListing(tables), nil, nil, nil)
				}
				return a.report(nil, listTables(tables), nil, nil)
			}
			switch {
			case results == "" || len(p.Use) == 0:
				return usageError{errors.New("--results and --use are needed; --tables lists what can be used")}
			case p.By == byZone && (zones == "" || surfaces == ""):
				return usageError{errors.New("rates by zone need --zones and --surfaces")}
			case p.By == bySurface && surfaces == "":
				return usageError{errors.New("rates by surface need --surfaces")}
			case zones != "" && surfaces == "":
				return usageError{errors.New("--zones needs --surfaces, whose means they take")}
			}
			p.us = units == "us"
			if explain != "" {
				lines, err := explainRate(results, surfaces, zones, p, explain)
				if err != nil {
					return err
				}
				return a.report(map[string]any{"explanation": lines}, lines, nil, nil)
			}
			s, err := rateStep(results, surfaces, zones, p, to.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.lines(measure{p.us}), s.Notices, s.Files)
		},
	}
	c.Flags().StringVar(&results, "results", "", "`FILE` results.geojson")
	c.Flags().StringVar(&surfaces, "surfaces", "", "`FILE` surfaces.json, with the files that it names beside it")
	c.Flags().StringVar(&zones, "zones", "", "`FILE` zones.geojson")
	c.Flags().BoolVar(&list, "tables", false, "list the tables")
	c.Flags().StringVar(&explain, "explain", "", "print the calculation for one sample or zone, by its `ID` (or FIELD/ID)")
	choices.add(c, rateSettings())
	c.Flags().StringVar(&choices.params.Farm, "farm", "", "`NAME` of the farm, in the task file")
	c.Flags().Var(&units, "units", "units of the summary, and of rates in files")
	to.add(c)
	return c
}
