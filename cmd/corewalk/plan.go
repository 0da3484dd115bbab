package main

import (
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/kit"
)

// Names of the files that steps hand to each other.
const (
	planFile     = "plan.geojson"
	resultsFile  = "results.geojson"
	surfacesFile = "surfaces.json"
	zonesFile    = "zones.geojson"
)

// source is one file of the map.
type source struct {
	file, name, crs string
	setback         *float64 // nil: that of the boundary
	kind            string   // column with the kind of an exclusion
	setbacks        map[string]float64
}

// bedSource is a file of raised beds.
type bedSource struct {
	source
	width, length, bearing float64
}

// mapFiles are the files that say where the fields are.
type mapFiles struct {
	boundary             source
	exclude              []source
	management, problems *source
	beds                 *bedSource
	setback              float64
}

func (m mapFiles) paths() []string {
	var out []string
	if m.boundary.file != "" {
		out = append(out, m.boundary.file)
	}
	if m.beds != nil {
		out = append(out, m.beds.file)
	}
	for _, e := range m.exclude {
		out = append(out, e.file)
	}
	for _, s := range []*source{m.management, m.problems} {
		if s != nil {
			out = append(out, s.file)
		}
	}
	return out
}

// outlines reads the files and returns what they say of each field, with what
// was noticed on the way.
func (m mapFiles) outlines() ([]geo.Outline, []string, error) {
	var notices []string
	read := func(s source) (geo.Source, error) {
		l, err := readLayer(s.file, s.crs)
		if err != nil {
			return geo.Source{}, err
		}
		notices = append(notices, layerNotices(l)...)
		src := geo.Source{Layer: l, Name: s.name, Setback: m.setback, Kind: s.kind, Setbacks: s.setbacks}
		if s.setback != nil {
			src.Setback = *s.setback
		}
		return src, nil
	}
	sources := geo.Sources{Setback: m.setback}
	var err error
	if m.boundary.file != "" {
		if sources.Boundary, err = read(m.boundary); err != nil {
			return nil, nil, err
		}
	}
	if m.beds != nil {
		s, err := read(m.beds.source)
		if err != nil {
			return nil, nil, err
		}
		sources.Beds = &geo.BedSource{Source: s, Width: m.beds.width, Length: m.beds.length, Bearing: m.beds.bearing}
	}
	for _, e := range m.exclude {
		s, err := read(e)
		if err != nil {
			return nil, nil, err
		}
		sources.Exclude = append(sources.Exclude, s)
	}
	for _, part := range []struct {
		from *source
		to   **geo.Source
	}{{m.management, &sources.Management}, {m.problems, &sources.Problems}} {
		if part.from == nil {
			continue
		}
		s, err := read(*part.from)
		if err != nil {
			return nil, nil, err
		}
		*part.to = &s
	}
	outlines, more, err := sources.Outlines()
	return outlines, append(notices, more...), err
}

// layerNotices says what was noticed in a file.
func layerNotices(l *vector.Layer) []string {
	out := slices.Clone(l.Notices)
	if metres, note := l.CRS.Accuracy(); metres > 0 {
		out = append(out, fmt.Sprintf("%s: %s is tied to WGS 84 within about %g m (%s)", filepath.Base(l.Path), l.CRS.Name(), metres, note))
	}
	return out
}

// readLayer reads a file of the map.
func readLayer(path, system string) (*vector.Layer, error) {
	if system != "" {
		if _, err := crs.FromText(system); err != nil {
			return nil, fmt.Errorf("crs of %s: %w", path, err)
		}
	}
	l, err := vector.Read(path, vector.Options{CRS: system})
	if err != nil {
		return nil, readError(err)
	}
	return l, nil
}

// fields reads the files and maps every field.
func (m mapFiles) fields() ([]*geo.Field, []string, error) {
	outlines, notices, err := m.outlines()
	if err != nil {
		return nil, nil, err
	}
	fields := make([]*geo.Field, len(outlines))
	for i, o := range outlines {
		f, err := geo.Map(o)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: field %s: %w", m.paths()[0], o.Name, err)
		}
		for _, n := range f.Notices {
			notices = append(notices, "field "+f.Name+": "+n)
		}
		fields[i] = f
	}
	return fields, notices, nil
}

// planSummary is what --json prints.
type planSummary struct {
	Plan    string         `json:"plan"`
	Seed    uint64         `json:"seed"`
	Fields  []fieldSummary `json:"fields"`
	Samples int            `json:"samples"`
	Cores   int            `json:"cores"`
	WalkM   float64        `json:"walk_m"`
	Minutes float64        `json:"walk_and_core_min"`
	Notices []string       `json:"notices"`
	Files   []string       `json:"files"`
}

type fieldSummary struct {
	Name         string  `json:"name"`
	CRS          string  `json:"crs"`
	AreaHa       float64 `json:"area_ha"`
	SampleableHa float64 `json:"sampleable_ha"`
	Units        int     `json:"units"`
	Samples      int     `json:"samples"`
	Cores        int     `json:"cores"`
	WalkM        float64 `json:"walk_m"`
	Minutes      float64 `json:"walk_and_core_min"`

	area, sampleable, seconds float64
}

// planStep plans the fields and writes the plan and the field kit.
func planStep(m mapFiles, p sampling.Params, out *outputs) (planSummary, error) {
	fields, notices, err := m.fields()
	if err != nil {
		return planSummary{}, err
	}
	plan, err := sampling.Make(fields, p)
	if err != nil {
		return planSummary{}, err
	}
	head, err := newHeader(parametersOf(p), m.paths())
	if err != nil {
		return planSummary{}, err
	}
	return writePlan(plan, head, notices, m.paths(), out)
}

// writePlan writes a plan and its field kit.
func writePlan(plan *sampling.Plan, head header, notices, inputs []string, out *outputs) (planSummary, error) {
	features, err := plan.Features()
	if err != nil {
		return planSummary{}, err
	}
	head.Seed = &plan.Seed
	members := []vector.Member{{Name: "corewalk", Value: head}}
	out.inputs = append(out.inputs, inputs...)
	if err := out.addGeoJSON(planFile, vector.Collection{Features: features, Members: members}); err != nil {
		return planSummary{}, err
	}
	if err := addWaypoints(out, kit.Stops(plan), kit.Handheld{}); err != nil {
		return planSummary{}, err
	}
	if err := out.addGeoJSON("waypoints.geojson", vector.Collection{Features: kit.WaypointFeatures(plan), Members: members}); err != nil {
		return planSummary{}, err
	}
	if err := out.add("manifest.csv", func(w io.Writer) error { return kit.Manifest(w, plan) }); err != nil {
		return planSummary{}, err
	}
	s := summarize(plan, notices)
	s.Files = out.names()
	return s, out.commit()
}

func summarize(plan *sampling.Plan, notices []string) planSummary {
	s := planSummary{Plan: planFile, Seed: plan.Seed, Notices: slices.Clone(notices)}
	for _, fp := range plan.Fields {
		f := fieldSummary{
			Name: fp.Field.Name, CRS: fmt.Sprintf("EPSG:%d", fp.Field.Frame.EPSG()),
			Units: len(fp.Units), Samples: fp.Samples(), Cores: fp.Cores(),
			WalkM: decimals(fp.Walk, 1), Minutes: decimals(fp.Time/60, 1), seconds: fp.Time,
			area: fp.Field.Frame.Area(fp.Field.Boundary), sampleable: fp.Field.Frame.Area(fp.Field.Sampleable),
		}
		f.AreaHa, f.SampleableHa = f.area/geo.Hectare, f.sampleable/geo.Hectare
		for _, n := range fp.Notes {
			s.Notices = append(s.Notices, "field "+f.Name+": "+n)
		}
		for _, u := range fp.Units {
			for _, n := range u.Notes {
				s.Notices = append(s.Notices, fmt.Sprintf("field %s, unit %d (%s): %s", f.Name, u.Number, u.ID(), n))
			}
		}
		s.Samples += f.Samples
		s.Cores += f.Cores
		s.WalkM += f.WalkM
		s.Minutes += f.Minutes
		s.Fields = append(s.Fields, f)
	}
	s.WalkM, s.Minutes = decimals(s.WalkM, 1), decimals(s.Minutes, 1)
	if s.Notices == nil {
		s.Notices = []string{}
	}
	return s
}

// lines says the summary for a person.
func (s planSummary) lines(m measure) []string {
	out := []string{fmt.Sprintf("%d samples, %d cores in %d fields; seed %d", s.Samples, s.Cores, len(s.Fields), s.Seed)}
	for _, f := range s.Fields {
		units := fmt.Sprintf("%d units", f.Units)
		if f.Samples != f.Units {
			units += fmt.Sprintf(", %d samples", f.Samples)
		}
		out = append(out, fmt.Sprintf("  %s: %s, %s of it sampleable, %s, %d cores, walk of %s, %s with the cores",
			f.Name, m.area(f.area), m.area(f.sampleable), units, f.Cores, m.distance(f.WalkM), hours(f.seconds)))
	}
	return out
}

// report prints a summary: as JSON, or the lines with the files.
func (a *app) report(v any, lines, notices, files []string) error {
	for _, n := range notices {
		fmt.Fprintf(a.stderr, "note: %s\n", strings.Join(strings.Fields(n), " "))
	}
	if a.json {
		e := json.NewEncoder(a.stdout)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(v)
	}
	for _, l := range lines {
		fmt.Fprintln(a.stdout, l)
	}
	for i, f := range files {
		if i == mostLines {
			fmt.Fprintf(a.stdout, "wrote %d more files beside them\n", len(files)-i)
			break
		}
		fmt.Fprintf(a.stdout, "wrote %s\n", f)
	}
	return nil
}

// mapFlags are the flags that name the files of the map.
type mapFlags struct {
	boundary, name, crs        string
	exclude                    []string
	management, managementName string
	problems, problemsName     string
	setback                    lengthValue
	excludeSetback             lengthValue
	excludeKind                string
	kindSetbacks               []string
	beds, bedsName             string
	bedSize                    sizeValue
	bedBearing                 bearingValue
}

func (f *mapFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.boundary, "boundary", "", "`FILE` of the field boundaries: .geojson, .shp, or a .zip with one of them")
	c.Flags().StringVar(&f.name, "name", "", "`COLUMN` of the boundary file that names the fields")
	c.Flags().StringVar(&f.crs, "crs", "", "coordinate `SYSTEM` of the boundary file, overriding its own, as in EPSG:26915")
	c.Flags().StringArrayVar(&f.exclude, "exclude", nil, "`FILE` of exclusions (polygons, lines or points); FILE@15m sets their setback; may be repeated")
	c.Flags().Var(&f.excludeSetback, "exclude-setback", "setback from exclusions without one of their own, where it differs from --setback")
	c.Flags().StringVar(&f.excludeKind, "exclude-kind", "", "`COLUMN` of the exclusion files that tells kinds apart (waterway, lane ...)")
	c.Flags().StringArrayVar(&f.kindSetbacks, "kind-setback", nil, "`KIND=LENGTH`, setback of one kind of exclusion, as in waterway=30m; may be repeated")
	c.Flags().StringVar(&f.beds, "beds", "", "`FILE` of raised beds, polygons or points with a size: each is a unit, and the ground between is not sampled; needs no --boundary")
	c.Flags().StringVar(&f.bedsName, "beds-name", "", "`COLUMN` that names the beds")
	c.Flags().Var(&f.bedSize, "bed-size", "width x length of beds that are points and have no columns width and length, as 4ftx8ft")
	c.Flags().Var(&f.bedBearing, "bed-bearing", "bearing of their length, degrees from true north")
	c.Flags().StringVar(&f.management, "management", "", "`FILE` of management units, never mixed in one composite")
	c.Flags().StringVar(&f.managementName, "management-name", "", "`COLUMN` that names the management units")
	c.Flags().StringVar(&f.problems, "problems", "", "`FILE` of problem areas, each a sample of its own")
	c.Flags().StringVar(&f.problemsName, "problems-name", "", "`COLUMN` that names the problem areas")
	c.Flags().Var(&f.setback, "setback", "no core nearer than this to the boundary, nor to an exclusion without a setback of its own")
}

func (f *mapFlags) files(c *cobra.Command) (mapFiles, error) {
	m := mapFiles{boundary: source{file: f.boundary, name: f.name, crs: f.crs}, setback: float64(f.setback)}
	if f.boundary == "" && f.beds == "" {
		return m, usageError{fmt.Errorf("--boundary is missing; name the file with the field boundaries")}
	}
	setbacks, err := kindSetbacks(f.kindSetbacks)
	if err != nil {
		return m, usageError{err}
	}
	switch {
	case len(setbacks) > 0 && f.excludeKind == "":
		return m, usageError{fmt.Errorf("--kind-setback needs --exclude-kind, the column that tells the kinds apart")}
	case f.excludeKind != "" && len(f.exclude) == 0:
		return m, usageError{fmt.Errorf("--exclude-kind needs an --exclude file")}
	case f.beds != "" && f.management != "":
		return m, usageError{fmt.Errorf("--beds and --management cannot be taken together; beds are management units themselves")}
	case f.beds == "" && (f.bedsName != "" || f.bedSize != sizeValue{} || c.Flags().Changed("bed-bearing")):
		return m, usageError{fmt.Errorf("a size, bearing or name of beds needs --beds")}
	}
	for _, e := range f.exclude {
		path, setback, given := splitSetback(e)
		s := source{file: path, kind: f.excludeKind, setbacks: setbacks}
		switch {
		case given:
			s.setback = &setback
		case c.Flags().Changed("exclude-setback"):
			v := float64(f.excludeSetback)
			s.setback = &v
		}
		m.exclude = append(m.exclude, s)
	}
	if f.beds != "" {
		m.beds = &bedSource{source{file: f.beds, name: f.bedsName}, f.bedSize.width, f.bedSize.length, float64(f.bedBearing)}
	}
	if f.management != "" {
		m.management = &source{file: f.management, name: f.managementName}
	}
	if f.problems != "" {
		m.problems = &source{file: f.problems, name: f.problemsName}
	}
	return m, nil
}

// outFlags are where a step writes.
type outFlags struct {
	dir   string
	force bool
}

func (f *outFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.dir, "out", ".", "`FOLDER` for the files that are written")
	c.Flags().BoolVar(&f.force, "force", false, "overwrite files that are there already (never an input)")
}

func (f *outFlags) outputs(inputs ...string) *outputs {
	return &outputs{dir: f.dir, force: f.force, inputs: slices.Clone(inputs)}
}

func (a *app) planCommand() *cobra.Command {
	var files mapFlags
	var to outFlags
	choices := settingFlags[sampling.Params]{params: defaultParams()}
	var advice adviceFlags
	var again againFlags
	units := unitsValue("metric")
	c := &cobra.Command{
		Use:   "plan --boundary FILE [flags]",
		Short: "Split fields into sampling units and place cores at random in each",
		Long: `Splits every field of the boundary file into sampling units, places the cores
of each composite at random, and puts everything into walking order. Lengths and
areas are written with their unit: 30ft, 10m, 2.5ac, 1ha. Writes plan.geojson,
waypoints.gpx, waypoints.geojson and manifest.csv.

  grid     cells of the asked area, laid along the field's longest side; a
           clipped cell joins the neighbour with which it shares the longest edge
  strata   compact strata of equal area, as many as --samples says to a field
  units    one composite for each management unit, raised bed or the whole field;
           with --at strata it has one core in each of as many compact strata

Management units and problem areas are never mixed in one composite. A problem
area is cut out of all other units with a buffer, and compared with a band of
healthy ground beside it.

--advise writes nothing: it prints what cell sizes and numbers of cores cost and
buy. --budget takes the densest design that it pays for. --again keeps the units
and sample ids of an earlier plan, with the same spots or fresh ones.`,
		Example: `  corewalk plan --boundary fields.shp --name NAME --exclude wet.geojson@15m \
    --design grid --cell 2.5ac --cores 15 --setback 10m --depth 0-8in --seed 7 --out plan2026
  corewalk plan --boundary fields.shp --advise --lab-cost 12 --cv 30% --error 10%
  corewalk plan --again plan2026/plan.geojson --spots fresh --seed 8 --out plan2029`,
		Args: exactly(0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			m := measure{units == "us"}
			if again.plan != "" {
				if err := again.only(c, choices.given); err != nil {
					return err
				}
				s, _, err := againStep(again, choices, to.outputs())
				if err != nil {
					return err
				}
				return a.report(s, s.lines(m), s.Notices, s.Files)
			}
			if c.Flags().Changed("spots") {
				return usageError{fmt.Errorf("--spots goes with --again")}
			}
			f, err := files.files(c)
			if err != nil {
				return err
			}
			p := completed(choices.params, string(units))
			p.Setback = float64(files.setback)
			if advice.wanted() {
				done, chosen, err := a.advise(f, p, advice, choices.given, m)
				if err != nil || done {
					return err
				}
				p = chosen
			}
			s, err := planStep(f, p, to.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.lines(m), s.Notices, s.Files)
		},
	}
	files.add(c)
	choices.add(c, planSettings())
	advice.add(c)
	again.add(c)
	c.Flags().Var(&units, "units", "units of the summary")
	to.add(c)
	return c
}
