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
	"corewalk/geo/gpx"
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
}

// mapFiles are the files that say where the fields are.
type mapFiles struct {
	boundary             source
	exclude              []source
	management, problems *source
	setback              float64
}

func (m mapFiles) paths() []string {
	out := []string{m.boundary.file}
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
		src := geo.Source{Layer: l, Name: s.name, Setback: m.setback}
		if s.setback != nil {
			src.Setback = *s.setback
		}
		return src, nil
	}
	sources := geo.Sources{Setback: m.setback}
	var err error
	if sources.Boundary, err = read(m.boundary); err != nil {
		return nil, nil, err
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
			return nil, nil, fmt.Errorf("%s: field %s: %w", m.boundary.file, o.Name, err)
		}
		for _, n := range f.Notices {
			notices = append(notices, "field "+f.Name+": "+n)
		}
		fields[i] = f
	}
	return fields, notices, nil
}

// planParameters are written into the plan.
type planParameters struct {
	Design    sampling.Design `json:"design"`
	CellM2    float64         `json:"cell_m2,omitempty"`
	Samples   int             `json:"samples,omitempty"`
	Cores     int             `json:"cores"`
	SpacingM  float64         `json:"spacing_m"`
	SetbackM  float64         `json:"setback_m"`
	Depth     string          `json:"depth"`
	Placement string          `json:"placement"`
}

// planSummary is what --json prints.
type planSummary struct {
	Plan    string         `json:"plan"`
	Seed    uint64         `json:"seed"`
	Fields  []fieldSummary `json:"fields"`
	Samples int            `json:"samples"`
	Cores   int            `json:"cores"`
	Notices []string       `json:"notices"`
	Files   []string       `json:"files"`
}

type fieldSummary struct {
	Name         string  `json:"name"`
	CRS          string  `json:"crs"`
	AreaHa       float64 `json:"area_ha"`
	SampleableHa float64 `json:"sampleable_ha"`
	Units        int     `json:"units"`
	Cores        int     `json:"cores"`

	area, sampleable float64
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
	features, err := plan.Features()
	if err != nil {
		return planSummary{}, err
	}
	head, err := newHeader(planParameters{
		Design: p.Design, CellM2: p.Cell, Samples: p.Samples, Cores: p.Cores, SpacingM: p.Spacing, SetbackM: p.Setback,
		Depth: p.Depth.String(), Placement: placement(p),
	}, m.paths())
	if err != nil {
		return planSummary{}, err
	}
	head.Seed = &p.Seed
	members := []vector.Member{{Name: "corewalk", Value: head}}
	out.inputs = append(out.inputs, m.paths()...)
	if err := out.addGeoJSON(planFile, vector.Collection{Features: features, Members: members}); err != nil {
		return planSummary{}, err
	}
	err = out.add("waypoints.gpx", func(w io.Writer) error { return gpx.Write(w, kit.Waypoints(plan, "corewalk "+version)) })
	if err != nil {
		return planSummary{}, err
	}
	if err := out.addGeoJSON("waypoints.geojson", vector.Collection{Features: kit.WaypointFeatures(plan), Members: members}); err != nil {
		return planSummary{}, err
	}
	if err := out.add("manifest.csv", func(w io.Writer) error { return kit.Manifest(w, plan) }); err != nil {
		return planSummary{}, err
	}
	s := planSummary{Plan: planFile, Seed: p.Seed, Notices: notices, Files: out.names()}
	for _, fp := range plan.Fields {
		f := fieldSummary{
			Name: fp.Field.Name, CRS: fmt.Sprintf("EPSG:%d", fp.Field.Frame.EPSG()), Units: len(fp.Units),
			area: fp.Field.Frame.Area(fp.Field.Boundary), sampleable: fp.Field.Frame.Area(fp.Field.Sampleable),
		}
		f.AreaHa, f.SampleableHa = f.area/geo.Hectare, f.sampleable/geo.Hectare
		for _, n := range fp.Notes {
			s.Notices = append(s.Notices, "field "+f.Name+": "+n)
		}
		for _, u := range fp.Units {
			f.Cores += len(u.Cores)
			for _, n := range u.Notes {
				s.Notices = append(s.Notices, fmt.Sprintf("field %s, unit %d (%s): %s", f.Name, u.Number, u.ID, n))
			}
		}
		s.Samples += f.Units
		s.Cores += f.Cores
		s.Fields = append(s.Fields, f)
	}
	if s.Notices == nil {
		s.Notices = []string{}
	}
	return s, out.commit()
}

func placement(p sampling.Params) string {
	if p.Spacing == 0 {
		return "uniform at random over the sampleable part of each unit"
	}
	return "uniform at random over the sampleable part of each unit, each core kept at least the spacing from those before it (sequential inhibition); where cores are dense this evens them out, so that it is not strictly a simple random sample"
}

// lines says the summary for a person.
func (s planSummary) lines(m measure) []string {
	out := []string{fmt.Sprintf("%d samples, %d cores in %d fields; seed %d", s.Samples, s.Cores, len(s.Fields), s.Seed)}
	for _, f := range s.Fields {
		out = append(out, fmt.Sprintf("  %s: %s, %s of it sampleable, %d units, %d cores", f.Name, m.area(f.area), m.area(f.sampleable), f.Units, f.Cores))
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
	for _, f := range files {
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
}

func (f *mapFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.boundary, "boundary", "", "`FILE` of the field boundaries: .geojson, .shp, or a .zip with one of them")
	c.Flags().StringVar(&f.name, "name", "", "`COLUMN` of the boundary file that names the fields")
	c.Flags().StringVar(&f.crs, "crs", "", "coordinate `SYSTEM` of the boundary file, overriding its own, as in EPSG:26915")
	c.Flags().StringArrayVar(&f.exclude, "exclude", nil, "`FILE` of exclusions (polygons, lines or points); FILE@15m sets their setback; may be repeated")
	c.Flags().Var(&f.excludeSetback, "exclude-setback", "setback from exclusions without one of their own, where it differs from --setback")
	c.Flags().StringVar(&f.management, "management", "", "`FILE` of management units, never mixed in one composite")
	c.Flags().StringVar(&f.managementName, "management-name", "", "`COLUMN` that names the management units")
	c.Flags().StringVar(&f.problems, "problems", "", "`FILE` of problem areas, each a sample of its own")
	c.Flags().StringVar(&f.problemsName, "problems-name", "", "`COLUMN` that names the problem areas")
	c.Flags().Var(&f.setback, "setback", "no core nearer than this to the boundary, nor to an exclusion without a setback of its own")
}

func (f *mapFlags) files(c *cobra.Command) (mapFiles, error) {
	m := mapFiles{boundary: source{file: f.boundary, name: f.name, crs: f.crs}, setback: float64(f.setback)}
	if f.boundary == "" {
		return m, usageError{fmt.Errorf("--boundary is missing; name the file with the field boundaries")}
	}
	for _, e := range f.exclude {
		path, setback, given := splitSetback(e)
		s := source{file: path}
		switch {
		case given:
			s.setback = &setback
		case c.Flags().Changed("exclude-setback"):
			v := float64(f.excludeSetback)
			s.setback = &v
		}
		m.exclude = append(m.exclude, s)
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

// Defaults where neither flag nor job says otherwise. 2.5-acre cells are the
// most common (Crops & Soils, July-August 2021, ASA/CSSA/SSSA); about 15 cores
// to such a cell are advised (Ohio State University Extension, tri-state
// recommendations of 2020); the spacing is common practice, no source.
const (
	defaultCell    = 2.5 * geo.Acre
	defaultCores   = 15
	defaultSpacing = 5.0
	defaultSeed    = 1
)

func defaultDepth(units string) sampling.Depth {
	if units == "us" {
		return sampling.Depth{To: 8, Unit: "in"}
	}
	return sampling.Depth{To: 20, Unit: "cm"}
}

func (a *app) planCommand() *cobra.Command {
	var files mapFlags
	var to outFlags
	design := designValue(sampling.Grid)
	units := unitsValue("metric")
	var cell areaValue
	var depth depthValue
	spacing := lengthValue(defaultSpacing)
	var samples, cores int
	var seed uint64
	c := &cobra.Command{
		Use:   "plan --boundary FILE [flags]",
		Short: "Split fields into sampling units and place cores at random in each",
		Long: `Splits every field of the boundary file into sampling units and places the
cores of one composite at random in each. Lengths and areas are written with
their unit: 30ft, 10m, 2.5ac, 1ha. Writes plan.geojson, waypoints.gpx,
waypoints.geojson and manifest.csv.

  grid     square cells of the asked area; a cell clipped under a quarter joins
           the neighbour with which it shares the longest edge
  strata   compact strata of equal area, as many as --samples says to a field
  units    one composite for each management unit, or for the whole field

Management units and problem areas are never mixed in one composite.`,
		Example: `  corewalk plan --boundary fields.shp --name NAME --exclude wet.geojson@15m \
    --design grid --cell 2.5ac --cores 15 --setback 10m --depth 0-8in --seed 7 --out plan2026`,
		Args: exactly(0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			m, err := files.files(c)
			if err != nil {
				return err
			}
			p := sampling.Params{
				Design: sampling.Design(design), Cell: float64(cell), Samples: samples, Cores: cores,
				Spacing: float64(spacing), Setback: float64(files.setback), Depth: sampling.Depth(depth), Seed: seed,
			}
			s, err := planStep(m, complete(p, string(units)), to.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.lines(measure{units == "us"}), s.Notices, s.Files)
		},
	}
	files.add(c)
	c.Flags().Var(&design, "design", "grid, strata or units")
	c.Flags().Var(&cell, "cell", "area of a grid cell; with strata, the area to aim at (default 2.5ac where --samples is not given)")
	c.Flags().IntVar(&samples, "samples", 0, "composites to a field; with grid only where --cell is not given")
	c.Flags().IntVar(&cores, "cores", defaultCores, "cores to a composite")
	c.Flags().Var(&spacing, "spacing", "least distance between the cores of a composite")
	c.Flags().Var(&depth, "depth", "depth of the cores, as 0-8in or 0-20cm (default 0-20cm, with --units us 0-8in)")
	c.Flags().Uint64Var(&seed, "seed", defaultSeed, "seed of every random choice; the same seed gives the same plan")
	c.Flags().Var(&units, "units", "units of the summary")
	to.add(c)
	return c
}

// complete fills in what was left out.
func complete(p sampling.Params, units string) sampling.Params {
	if p.Cell == 0 && p.Samples == 0 {
		p.Cell = defaultCell
	}
	if p.Depth.To == 0 {
		p.Depth = defaultDepth(units)
	}
	return p
}
