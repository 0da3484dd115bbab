package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

// resultSource is where the lab's figures come from: a table that names the
// samples of a plan, or points with coordinates of their own.
type resultSource struct {
	file string // table
	// Of points: a table with the columns x and y in the system crs, or a
	// GeoJSON file or shapefile of points.
	points, x, y, crs string
	id                string // column of the sample id, where it is not found by itself

	sheet     string                 // of a workbook
	columns   map[string]lab.Mapping // what a person says of columns
	checks    []string               // patterns of ids of the lab's own check samples
	average   bool                   // rows of one sample even where they are in conflict
	strict    bool                   // fail on anything unaccounted for
	relations []relation             // between analytes of different methods

	walked string  // GPX file of a handheld: where the cores were taken
	reach  float64 // how far from its spot a core without a name of its own may be, true metres

	// Of one field of a farm, in the place of the files.
	rows *labRows
	walk *fieldWalk
}

// labRows are the rows of a lab's file that are of one field.
type labRows struct {
	table *lab.Table
	hash  inputHash
}

// fieldWalk is what of a handheld's file is of one field.
type fieldWalk struct {
	document *gpx.Document
	hash     inputHash
}

// joined is the outcome of the join.
type joined struct {
	reckoning lab.Reckoning
	fields    []*geo.Field
	analytes  []sampling.Analyte
	names     map[string]string // of a column to that of its analyte
	samples   []sampling.Composite
	notices   []string
	layered   bool // the plan has depth layers, which are analytes of their own
	walked    *walked
}

// joinSummary is what --json prints; join.json has the whole reckoning.
type joinSummary struct {
	Results     string             `json:"results"`
	Counts      lab.Counts         `json:"counts"`
	Analytes    []sampling.Analyte `json:"analytes"`
	Means       []meanRecord       `json:"means"`
	Comparisons []comparisonRecord `json:"comparisons"`
	Walked      *walkedRecord      `json:"walked,omitempty"`
	Notices     []string           `json:"notices"`
	Files       []string           `json:"files"`

	lines []string
}

// joinStep joins a lab file to a plan.
func joinStep(planPath string, r resultSource, out *outputs) (joinSummary, error) {
	layer, err := vector.Read(planPath, vector.Options{})
	if err != nil {
		return joinSummary{}, readError(err)
	}
	j := joined{}
	if j.fields, err = sampling.ReadFields(layer); err != nil {
		return joinSummary{}, err
	}
	units, err := sampling.ReadUnits(layer)
	if err != nil {
		return joinSummary{}, err
	}
	inputs := []string{planPath}
	var given []inputHash
	var table *lab.Table
	if r.rows != nil {
		table, given = r.rows.table, []inputHash{r.rows.hash}
	} else {
		inputs = append(inputs, r.file)
		if table, err = r.table(r.file); err != nil {
			return joinSummary{}, err
		}
	}
	refs := make([]lab.SampleRef, len(units))
	for i, u := range units {
		refs[i] = lab.SampleRef{ID: u.ID, Depth: u.Depth}
	}
	if err := j.place(table, units); err != nil {
		return joinSummary{}, err
	}
	j.reckoning = lab.JoinWith(refs, table, lab.JoinOptions{Valid: sampling.ValidID, Checks: r.checks, AverageConflicts: r.average})
	j.reckoning.Examine(table)
	j.notices = append(j.notices, table.Notices()...)
	j.notices = append(j.notices, lab.Mixed(j.reckoning.Columns)...)
	if r.strict {
		if err := strictly(j.reckoning, r.file); err != nil {
			return joinSummary{}, err
		}
	}
	depths := layersOf(units)
	j.layered = len(depths) > 1
	if err := j.name(depths); err != nil {
		return joinSummary{}, err
	}
	byID := make(map[string]lab.Result, len(j.reckoning.Results))
	for _, r := range j.reckoning.Results {
		byID[r.ID] = r
	}
	switch {
	case r.walk != nil:
		j.walked, err = matchWalked(r.walk.document, r.walked, r.reach, j.fields, units)
		if err != nil && !errors.Is(err, errNothingWalked) { // it may only have been passed by
			return joinSummary{}, err
		}
		given = append(given, r.walk.hash)
	case r.walked != "":
		if j.walked, err = readWalked(r.walked, r.reach, j.fields, units); err != nil {
			return joinSummary{}, err
		}
		inputs = append(inputs, r.walked)
	}
	for _, u := range units {
		c := sampling.Composite{
			ID: u.ID, Field: u.Field, Management: u.Management, Problem: u.Problem, Depth: u.Depth,
			ComparisonOf: u.ComparisonOf, CompareWith: u.CompareWith, Unit: u.Unit, Composite: u.Composite,
			Shape: u.Shape, At: u.At(),
		}
		if j.walked != nil {
			if at, ok := j.walked.at(u.ID); ok {
				c.At = at
			}
			c.Notes = append(c.Notes, j.walked.notes(u.ID)...)
		}
		j.fill(&c, byID[u.ID])
		j.samples = append(j.samples, c)
	}
	if err := j.relate(r.relations); err != nil {
		return joinSummary{}, err
	}
	return j.write(inputs, given, out)
}

// layersOf lists the depths of a plan.
func layersOf(units []sampling.PlannedUnit) (depths []string) {
	for _, u := range units {
		if !slices.Contains(depths, u.Depth) {
			depths = append(depths, u.Depth)
		}
	}
	return depths
}

// name finds the analytes of the results and the names they go by: the usual
// one where a single column has it, else that of the column. Of a plan with
// depth layers each layer has its own, which no step then mixes: pH 0-2in.
func (j *joined) name(depths []string) error {
	count := map[string]int{}
	for _, c := range j.reckoning.Columns {
		if c.Analyte != "" {
			count[c.Analyte]++
		}
	}
	j.names = map[string]string{}
	for _, c := range j.reckoning.Columns {
		if c.Role != lab.RoleAnalyte && c.Role != lab.RoleNumber {
			continue
		}
		a := sampling.Analyte{Name: c.Name, Unit: c.Canonical, Method: c.Method}
		if c.Analyte != "" && count[c.Analyte] == 1 {
			a.Name = c.Analyte
		}
		if c.Name != a.Name {
			a.Column = c.Name
		}
		if c.Analyte != "" && c.Analyte != a.Name {
			a.Of = c.Analyte
		}
		switch {
		case len(c.Methods) > 1:
			a.Mixed = "its rows are of different methods: " + strings.Join(c.Methods, ", ")
		case len(c.Units) > 1:
			a.Mixed = "its rows ended in different units: " + strings.Join(c.Units, ", ")
		}
		j.names[c.Name] = a.Name
		if !j.layered {
			j.analytes = append(j.analytes, a)
			continue
		}
		for _, d := range depths {
			layer := a
			layer.Name = a.Name + " " + d
			j.analytes = append(j.analytes, layer)
		}
	}
	if len(j.analytes) == 0 {
		return fmt.Errorf("%s: no column of figures was found in it", j.reckoning.Table)
	}
	return nil
}

// fill gives a composite the figures of a result, and adds what is to be said
// of them to its notes.
func (j *joined) fill(c *sampling.Composite, r lab.Result) {
	for _, m := range r.Values {
		name := j.names[m.Column]
		if j.layered {
			name += " " + c.Depth
		}
		c.Figures = append(c.Figures, sampling.Figure{Analyte: name, Value: m.Value, Censored: m.Censored})
		if m.Note != "" {
			c.Notes = append(c.Notes, name+": "+m.Note)
		}
	}
}

// write puts results.geojson and join.json down.
func (j *joined) write(inputs []string, given []inputHash, out *outputs) (joinSummary, error) {
	if err := j.reckoning.Check(); err != nil {
		return joinSummary{}, fmt.Errorf("the reckoning of %s does not add up: %w", j.reckoning.Table, err)
	}
	// The table is named as it lies beside the job, not by its whole path.
	j.reckoning.Table = filepath.Base(j.reckoning.Table)
	head, err := newHeader(nil, inputs)
	if err != nil {
		return joinSummary{}, err
	}
	head.Inputs = append(head.Inputs, given...)
	head.Analytes = j.analytes
	collection := vector.Collection{Members: []vector.Member{{Name: "corewalk", Value: head}}}
	for _, f := range j.fields {
		features, err := sampling.FieldFeatures(f)
		if err != nil {
			return joinSummary{}, err
		}
		collection.Features = append(collection.Features, features...)
	}
	for _, c := range j.samples {
		collection.Features = append(collection.Features, c.Feature())
	}
	results := sampling.Results{Fields: j.fields, Analytes: j.analytes, Composites: j.samples}
	found, err := findMeans(&results)
	if err != nil {
		return joinSummary{}, err
	}
	out.inputs = append(out.inputs, inputs...)
	if err := out.addGeoJSON(resultsFile, collection); err != nil {
		return joinSummary{}, err
	}
	if err := out.addJSON("join.json", j.reckoning); err != nil {
		return joinSummary{}, err
	}
	if err := found.add(out); err != nil {
		return joinSummary{}, err
	}
	if j.walked != nil {
		// The cores go by inputs of their own, not by the analytes.
		walkedHead := head
		walkedHead.Analytes = nil
		if err := j.walked.add(out, walkedHead); err != nil {
			return joinSummary{}, err
		}
	}
	s := joinSummary{
		Results: resultsFile, Counts: j.reckoning.Counts, Analytes: j.analytes, Means: found.means, Comparisons: found.comparisons,
		Notices: j.notices, Files: out.names(), lines: append(j.reckoning.Lines(), found.lines()...),
	}
	if j.walked != nil {
		s.Walked = &j.walked.record
		s.lines = append(s.lines, s.Walked.lines()...)
	}
	if s.Notices == nil {
		s.Notices = []string{}
	}
	return s, out.commit()
}

func (a *app) joinCommand() *cobra.Command {
	var plan string
	var r resultSource
	var files mapFlags
	var to outFlags
	reach := lengthValue(defaultReach)
	var relations []string
	var dry bool
	c := &cobra.Command{
		Use:   "join --plan plan.geojson --results lab.csv [flags]",
		Short: "Join the lab's results to the samples of a plan",
		Long: `Joins a lab's table to the samples of a plan by their ids. Every row of the
table ends as joined, replicate, unmatched or refused, and every sample as
answered or missing; join.json and the terminal say which, and why. A misspelt
id is never taken for another: the nearest id is offered. The table is CSV in
any dialect, an .xlsx workbook, or a Modus 1 file, with one row to a sample or one
to a figure. --dry-run shows how each of its columns is understood; --strict
fails on anything unaccounted for.

--walked takes the GPX file of a handheld. Its waypoints and tracks are matched
with the cores, by name or nearness; the places where cores were taken stand in
for the planned ones, and cores not visited, visits outside the unit and waypoints
of no core are listed. A waypoint that comes back exactly where it was loaded
tells nothing of a visit; such cores count as unmoved. It also goes alone, before
the lab has answered. Writes walked.geojson.

Results that bring their own coordinates need no plan: give them as --points,
with the columns --x and --y and their --points-crs (a GeoJSON file or shapefile
needs none of these), and the field's --boundary.

Writes results.geojson, join.json, means.csv and, where problem areas are paired
with healthy ground, comparisons.csv.`,
		Example: `  corewalk join --plan out/plan.geojson --results lab.csv --out out
  corewalk join --plan out/plan.geojson --walked handheld.gpx --out out
  corewalk join --points soil.csv --x EAST --y NORTH --points-crs EPSG:32630 --boundary field.shp --out out`,
		Args: exactly(0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			var s joinSummary
			var err error
			r.reach = float64(reach)
			for _, text := range relations {
				x, err := parseRelation(text)
				if err != nil {
					return usageError{err}
				}
				r.relations = append(r.relations, x)
			}
			if dry {
				return a.dryRun(r)
			}
			switch {
			case r.points != "" && (r.file != "" || plan != "" || r.walked != ""):
				return usageError{fmt.Errorf("--points bring their own coordinates; they go with none of --plan, --results and --walked")}
			case r.points != "" && (len(r.checks) > 0 || r.average):
				return usageError{fmt.Errorf("--check and --average-conflicts go with a plan; points are taken row by row")}
			case r.points != "":
				var m *mapFiles
				if files.boundary != "" {
					given, err := files.files(c)
					if err != nil {
						return err
					}
					m = &given
				}
				s, err = pointsStep(m, "", r, to.outputs())
			case plan == "" || r.file == "" && r.walked == "":
				return usageError{fmt.Errorf("give --plan with --results, --walked or both, or --points")}
			case r.file == "":
				s, err = walkedStep(plan, r, to.outputs())
			default:
				s, err = joinStep(plan, r, to.outputs())
			}
			if err != nil {
				return err
			}
			return a.report(s, s.lines, s.Notices, s.Files)
		},
	}
	c.Flags().StringVar(&plan, "plan", "", "`FILE` plan.geojson that the samples were taken by")
	c.Flags().StringVar(&r.file, "results", "", "`FILE` of the lab: .csv, .xlsx, or Modus 1 (.xml)")
	c.Flags().StringVar(&r.sheet, "sheet", "", "`SHEET` of a workbook, by name or number from 1 (default the first)")
	c.Flags().StringArrayVar(&r.checks, "check", nil, "`PATTERN` of ids that are the lab's own check samples, as QC*; may be repeated")
	c.Flags().BoolVar(&r.average, "average-conflicts", false, "average the rows of one sample even where they are too far apart to be of one soil")
	c.Flags().BoolVar(&r.strict, "strict", false, "fail, and write nothing, when a row, a sample or a figure is unaccounted for")
	c.Flags().BoolVar(&dry, "dry-run", false, "write nothing; show how each column of the file is understood")
	c.Flags().StringVar(&r.id, "id", "", "`COLUMN` with the sample ids, where it is not found by itself")
	c.Flags().StringArrayVar(&relations, "relation", nil, "`FORMULA` that turns figures by one method into those of another, as \"P Bray-1 = 3 + 1.6 * P Olsen\"; may be repeated")
	c.Flags().StringVar(&r.walked, "walked", "", "GPX `FILE` of a handheld: waypoints or tracks of where the cores were taken")
	c.Flags().Var(&reach, "reach", "how far from its planned spot a core may have been taken that no name tells")
	c.Flags().StringVar(&r.points, "points", "", "`FILE` of results with coordinates of their own: .csv, .geojson or .shp")
	c.Flags().StringVar(&r.x, "x", "", "`COLUMN` of the easting or longitude")
	c.Flags().StringVar(&r.y, "y", "", "`COLUMN` of the northing or latitude")
	c.Flags().StringVar(&r.crs, "points-crs", "", "coordinate `SYSTEM` of the points, as in EPSG:32630")
	files.add(c)
	to.add(c)
	return c
}
