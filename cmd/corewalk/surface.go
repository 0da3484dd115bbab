package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/raster"
	"corewalk/geo/vector"
	"corewalk/interp"
	"corewalk/sampling"
)

// surfaceParameters say how surfaces are made.
type surfaceParameters struct {
	Analytes []string // as the user names them; empty for all
	Pixel    float64  // m
	IDW      interp.IDW
}

const (
	defaultPixel = 5.0
	defaultPower = 2.0
	defaultNear  = 12
	// Fewer composites than these make no surface: one is a figure, and two
	// are a line between figures.
	fewestComposites = 3
)

// surfaceRecord is one surface in surfaces.json.
type surfaceRecord struct {
	Field           string                 `json:"field"`
	Analyte         string                 `json:"analyte"`
	Unit            string                 `json:"unit,omitempty"`
	Method          string                 `json:"method,omitempty"`
	File            string                 `json:"file"`
	CRS             string                 `json:"crs"`
	PixelM          float64                `json:"pixel_m"`
	Power           float64                `json:"power"`
	Near            any                    `json:"near"`
	Composites      int                    `json:"composites"`
	Least           float64                `json:"least"`
	Greatest        float64                `json:"greatest"`
	Mean            float64                `json:"mean"`
	Supported       bool                   `json:"supported"`
	CrossValidation interp.CrossValidation `json:"cross_validation"`
}

// surfaceIndex is surfaces.json.
type surfaceIndex struct {
	Format   int             `json:"format"`
	Program  string          `json:"program"`
	Inputs   []inputHash     `json:"inputs"`
	Surfaces []surfaceRecord `json:"surfaces"`
	Notices  []string        `json:"notices"`
}

type surfaceSummary struct {
	surfaceIndex
	Files []string `json:"files"`
}

func readResults(path string) (*sampling.Results, error) {
	layer, err := vector.Read(path, vector.Options{})
	if err != nil {
		return nil, readError(err)
	}
	return sampling.ReadResults(layer)
}

// ground is the raster of one field: which division each pixel lies in.
type ground struct {
	geometry raster.Geometry
	division []int32
}

func rasterGround(f *geo.Field, pixel float64) (ground, error) {
	g, err := raster.Cover(f.Bound(), pixel, f.Frame.EPSG())
	if err != nil {
		return ground{}, err
	}
	return ground{g, interp.Mask(f, g)}, nil
}

// unitsOf returns the composites of a field that have a figure of the analyte,
// at their places, with the ground that they stand for.
func unitsOf(r *sampling.Results, f *geo.Field, analyte string) ([]interp.Unit, error) {
	var out []interp.Unit
	for _, c := range r.Composites {
		figure, ok := c.Figure(analyte)
		if c.Field != f.Name || !ok {
			continue
		}
		at, err := c.Place(f.Frame)
		if err != nil {
			return nil, fmt.Errorf("sample %s: %w", c.ID, err)
		}
		d := divisionOf(f, c)
		if d < 0 {
			return nil, fmt.Errorf("sample %s: its management unit or problem area is not in the field", c.ID)
		}
		u := interp.Unit{Sample: interp.Sample{ID: c.ID, At: at, Value: figure.Value, Division: d}, Number: c.Unit}
		if len(c.Shape) > 0 {
			if u.Shape, _, err = f.Frame.Shape(c.Shape); err != nil {
				return nil, fmt.Errorf("sample %s: %w", c.ID, err)
			}
		}
		out = append(out, u)
	}
	return out, nil
}

func samplesOf(units []interp.Unit) []interp.Sample {
	out := make([]interp.Sample, len(units))
	for i, u := range units {
		out[i] = u.Sample
	}
	return out
}

func divisionOf(f *geo.Field, c sampling.Composite) int {
	for i, d := range f.Divisions {
		if d.Kind == geo.Problem && d.Name == c.Problem || d.Kind == geo.Management && c.Problem == "" && d.Name == c.Management {
			return i
		}
	}
	return -1
}

// chooseAnalytes finds the analytes asked for, whatever the letter case, or all
// of them.
func chooseAnalytes(r *sampling.Results, want []string) ([]sampling.Analyte, error) {
	if len(want) == 0 {
		return r.Analytes, nil
	}
	var out []sampling.Analyte
	for _, w := range want {
		found, err := findAnalytes(r.Analytes, w)
		if err != nil {
			return nil, err
		}
		out = append(out, found...)
	}
	return out, nil
}

// findAnalytes is findAnalyte for one that may stand for several depth layers:
// pH for "pH 0-2in" and "pH 2-8in".
func findAnalytes(all []sampling.Analyte, name string) ([]sampling.Analyte, error) {
	a, err := findAnalyte(all, name)
	if err == nil {
		return []sampling.Analyte{a}, nil
	}
	var out []sampling.Analyte
	for _, a := range all {
		base, depth, ok := cutLast(a.Name, " ")
		if _, bad := sampling.ParseDepth(depth); ok && bad == nil && strings.EqualFold(base, strings.TrimSpace(name)) {
			out = append(out, a)
		}
	}
	if len(out) == 0 {
		return nil, err
	}
	return out, nil
}

func cutLast(s, sep string) (before, after string, found bool) {
	if i := strings.LastIndex(s, sep); i >= 0 {
		return s[:i], s[i+len(sep):], true
	}
	return s, "", false
}

// findAnalyte finds an analyte by its name, else by the lab's header, else by
// either in another letter case.
func findAnalyte(all []sampling.Analyte, name string) (sampling.Analyte, error) {
	name = strings.TrimSpace(name)
	for _, fits := range []func(sampling.Analyte) bool{
		func(a sampling.Analyte) bool { return a.Name == name },
		func(a sampling.Analyte) bool { return a.Column == name },
		func(a sampling.Analyte) bool {
			return strings.EqualFold(a.Name, name) || strings.EqualFold(a.Column, name)
		},
	} {
		if i := slices.IndexFunc(all, fits); i >= 0 && name != "" {
			return all[i], nil
		}
	}
	var names, methods []string
	for _, a := range all {
		names = append(names, a.Name)
		if strings.EqualFold(a.Of, name) && name != "" {
			methods = append(methods, fmt.Sprintf("%q (%s)", a.Name, cmp.Or(a.Method, "method not given")))
		}
	}
	if len(methods) > 1 {
		return sampling.Analyte{}, fmt.Errorf("%s stands in %d columns, %s: figures by different methods are not mixed; name one of them, or give a relation with the results", name, len(methods), strings.Join(methods, " and "))
	}
	return sampling.Analyte{}, fmt.Errorf("the results have no analyte %q; they have: %s", name, strings.Join(names, ", "))
}

// surfaceStep makes the surfaces of every field and analyte of a results file.
func surfaceStep(resultsPath string, p surfaceParameters, out *outputs) (surfaceSummary, error) {
	if err := p.IDW.Validate(); err != nil {
		return surfaceSummary{}, err
	}
	r, err := readResults(resultsPath)
	if err != nil {
		return surfaceSummary{}, err
	}
	analytes, err := chooseAnalytes(r, p.Analytes)
	if err != nil {
		return surfaceSummary{}, fmt.Errorf("%s: %w", resultsPath, err)
	}
	index := surfaceIndex{Format: 1, Program: "corewalk " + version, Surfaces: []surfaceRecord{}, Notices: []string{}}
	if index.Inputs, err = hashInputs([]string{resultsPath}); err != nil {
		return surfaceSummary{}, err
	}
	for _, a := range analytes {
		switch {
		case a.Mixed == "":
		case len(p.Analytes) > 0:
			return surfaceSummary{}, fmt.Errorf("%s: no surface can be made of %s: %s", resultsPath, a.Name, a.Mixed)
		default:
			index.Notices = append(index.Notices, fmt.Sprintf("no surface is made of %s: %s", a.Name, a.Mixed))
		}
	}
	fieldSlugs, analyteSlugs := fileSlugs(r)
	for i, f := range r.Fields {
		g, err := rasterGround(f, p.Pixel)
		if err != nil {
			return surfaceSummary{}, fmt.Errorf("field %s: %w", f.Name, err)
		}
		for _, a := range analytes {
			if a.Mixed != "" {
				continue
			}
			record, grid, err := oneSurface(r, f, a, g, p)
			if err != nil {
				return surfaceSummary{}, fmt.Errorf("field %s, %s: %w", f.Name, a.Name, err)
			}
			if grid == nil {
				index.Notices = append(index.Notices, fmt.Sprintf("field %s: %s has figures of %d composites; a surface needs %d", f.Name, a.Name, record.Composites, fewestComposites))
				continue
			}
			record.File = "surfaces/" + fieldSlugs[i] + "_" + analyteSlugs[a.Name] + ".tif"
			if err := out.add(filepath.FromSlash(record.File), func(w io.Writer) error { return raster.WriteGeoTIFF(w, grid) }); err != nil {
				return surfaceSummary{}, err
			}
			if !record.Supported {
				index.Notices = append(index.Notices, fmt.Sprintf("field %s: the surface of %s is not supported: %s", f.Name, a.Name, whyUnsupported(record.CrossValidation)))
			}
			index.Surfaces = append(index.Surfaces, record)
		}
	}
	out.inputs = append(out.inputs, resultsPath)
	if err := out.addJSON(surfacesFile, index); err != nil {
		return surfaceSummary{}, err
	}
	return surfaceSummary{index, out.names()}, out.commit()
}

// whyUnsupported says what a cross-validation lacks.
func whyUnsupported(c interp.CrossValidation) string {
	switch {
	case c.N < interp.FewestCompared:
		return fmt.Sprintf("only %d composites can be compared with others; %d are needed", c.N, interp.FewestCompared)
	case c.Skill <= 0:
		return fmt.Sprintf("predicting composites from their neighbours is no better than the plain mean (skill %.2f)", c.Skill)
	}
	return fmt.Sprintf("within the management units and problem areas, predicting composites from their neighbours is no better than the mean there (skill %.2f)", c.SkillWithin)
}

// fileSlugs gives fields and analytes the names that their files bear. All
// analytes of the results take part, so that a file keeps its name whichever of
// them are asked for.
func fileSlugs(r *sampling.Results) (fields []string, analytes map[string]string) {
	var names []string
	for _, f := range r.Fields {
		names = append(names, f.Name)
	}
	fields = slugs(names)
	names = nil
	for _, a := range r.Analytes {
		names = append(names, a.Name)
	}
	analytes = map[string]string{}
	for i, s := range slugs(names) {
		analytes[names[i]] = s
	}
	return fields, analytes
}

// oneSurface makes the surface of one analyte over one field; no grid where too
// few composites have a figure.
func oneSurface(r *sampling.Results, f *geo.Field, a sampling.Analyte, g ground, p surfaceParameters) (surfaceRecord, *raster.Grid, error) {
	record := surfaceRecord{
		Field: f.Name, Analyte: a.Name, Unit: a.Unit, Method: a.Method,
		CRS: fmt.Sprintf("EPSG:%d", f.Frame.EPSG()), PixelM: p.Pixel, Power: p.IDW.Power, Near: nearText(p.IDW.Near),
	}
	units, err := unitsOf(r, f, a.Name)
	record.Composites = len(units)
	if err != nil || len(units) < fewestComposites {
		return record, nil, err
	}
	samples := samplesOf(units)
	model, err := interp.NewModel(samples, p.IDW)
	if err != nil {
		return record, nil, err
	}
	grid, err := model.Surface(g.geometry, g.division, 0)
	if err != nil {
		return record, nil, err
	}
	record.CrossValidation = model.CrossValidate()
	record.Supported = record.CrossValidation.Supported()
	stats := grid.Stats()
	record.Least, record.Greatest, record.Mean = stats.Min, stats.Max, stats.Mean
	text := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	grid.Meta = map[string]string{
		"FIELD": f.Name, "ANALYTE": a.Name, "UNIT": a.Unit, "METHOD": a.Method, "PROGRAM": "corewalk " + version,
		"INTERPOLATION": "inverse distance weighting", "POWER": text(p.IDW.Power), "NEAR": fmt.Sprint(nearText(p.IDW.Near)),
		"COMPOSITES": strconv.Itoa(len(samples)),
		"LOO_RMSE":   text(record.CrossValidation.RMSE), "LOO_BIAS": text(record.CrossValidation.Bias), "LOO_SKILL": text(record.CrossValidation.Skill),
		"SUPPORTED": strconv.FormatBool(record.Supported),
	}
	for k, v := range grid.Meta {
		if v == "" {
			delete(grid.Meta, k)
		}
	}
	return record, grid, nil
}

func nearText(n int) any {
	if n == 0 {
		return "all"
	}
	return n
}

func (s surfaceSummary) lines() []string {
	var out []string
	for _, r := range s.Surfaces {
		c := r.CrossValidation
		word := "supported"
		if !r.Supported {
			word = "NOT supported"
		}
		out = append(out, fmt.Sprintf("  %s, %s: %d composites, %.4g to %.4g; left out one at a time: RMSE %.3g, bias %.2g, skill %.2f (%s)",
			r.Field, r.Analyte, r.Composites, r.Least, r.Greatest, c.RMSE, c.Bias, c.Skill, word))
	}
	return append([]string{fmt.Sprintf("%d surfaces", len(s.Surfaces))}, out...)
}

// readSurfaces reads surfaces.json.
func readSurfaces(path string) (surfaceIndex, error) {
	var index surfaceIndex
	data, err := os.ReadFile(path)
	if err != nil {
		return index, readError(err)
	}
	if err := json.Unmarshal(data, &index); err != nil {
		return index, fmt.Errorf("%s is not a surfaces file of corewalk: %w", path, err)
	}
	if index.Format != 1 {
		return index, fmt.Errorf("%s has format %d; this program reads format 1", path, index.Format)
	}
	return index, nil
}

// readGrid reads the raster of a record; file names in surfaces.json are
// relative to its folder, and stay below it.
func readGrid(indexPath string, r surfaceRecord) (*raster.Grid, error) {
	if !filepath.IsLocal(filepath.FromSlash(r.File)) {
		return nil, fmt.Errorf("%s: the file %q of %s lies outside of its folder", indexPath, r.File, r.Analyte)
	}
	path := filepath.Join(filepath.Dir(indexPath), filepath.FromSlash(r.File))
	f, err := os.Open(path)
	if err != nil {
		return nil, readError(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, readError(err)
	}
	g, err := raster.ReadGeoTIFF(f, info.Size())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return g, nil
}

func (a *app) surfaceCommand() *cobra.Command {
	var results string
	var p surfaceParameters
	pixel := lengthValue(defaultPixel)
	near := nearValue(defaultNear)
	var to outFlags
	c := &cobra.Command{
		Use:   "surface --results results.geojson [flags]",
		Short: "Interpolate a surface of every analyte over every field",
		Long: `Interpolates by inverse distance weighting and writes one GeoTIFF (float32, in
the field's UTM zone) for each field and analyte to surfaces/, and
surfaces.json with the leave-one-out cross-validation of each. Management units
and problem areas are hard edges: no value reaches across one.

A skill of 1 is a perfect prediction, 0 one no better than the plain mean. A
surface whose skill is not above zero is marked as not supported.`,
		Example: `  corewalk surface --results out/results.geojson --analytes pH,P,K --pixel 5m --power 2 --near 12 --out out`,
		Args:    exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			if results == "" {
				return usageError{errors.New("--results is missing; name the results.geojson")}
			}
			p.Pixel, p.IDW.Near = float64(pixel), int(near)
			s, err := surfaceStep(results, p, to.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.lines(), s.Notices, s.Files)
		},
	}
	c.Flags().StringVar(&results, "results", "", "`FILE` results.geojson")
	c.Flags().StringSliceVar(&p.Analytes, "analytes", nil, "`NAMES` of the analytes to map, with commas between (default: all)")
	c.Flags().Var(&pixel, "pixel", "side of a pixel")
	c.Flags().Float64Var(&p.IDW.Power, "power", defaultPower, "power of the distance")
	c.Flags().Var(&near, "near", "nearest composites that count, or all")
	to.add(c)
	return c
}
