package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/raster"
	"corewalk/interp"
	"corewalk/interp/variogram"
	"corewalk/sampling"
)

// surfaceRecord is one surface in surfaces.json.
type surfaceRecord struct {
	Field         string  `json:"field"`
	Analyte       string  `json:"analyte"`
	Unit          string  `json:"unit,omitempty"`
	Method        string  `json:"method,omitempty"`
	File          string  `json:"file"`
	CRS           string  `json:"crs"`
	PixelM        float64 `json:"pixel_m"`
	Interpolation string  `json:"interpolation"`
	Power         float64 `json:"power,omitempty"` // of inverse distance weighting
	Near          any     `json:"near"`
	RadiusM       float64 `json:"radius_m,omitempty"`
	// Variogram is the model that kriging went by.
	Variogram *variogram.Fitted `json:"variogram,omitempty"`
	// MeanSquaredZ is the mean squared ratio of the residuals to the standard
	// errors that kriging gave them: 1 where these are right, more where they
	// are too small.
	MeanSquaredZ float64  `json:"mean_squared_z,omitempty"`
	Chosen       []string `json:"chosen,omitempty"` // settings found by leaving out
	// Split tells that the parts of a division that exclusions cut from each
	// other were kept apart.
	Split      bool    `json:"split_by_exclusions,omitempty"`
	Composites int     `json:"composites"`
	Least      float64 `json:"least"`
	Greatest   float64 `json:"greatest"`
	Mean       float64 `json:"mean"`
	// Masked is the share of the ground that lies too far from the composites.
	Masked          float64                `json:"masked"`
	Supported       bool                   `json:"supported"`
	Doubt           string                 `json:"doubt,omitempty"` // why it is not supported
	CrossValidation interp.CrossValidation `json:"cross_validation"`
	Pictures        []string               `json:"pictures,omitempty"`
}

// surfaceIndex is surfaces.json.
type surfaceIndex struct {
	Format    int             `json:"format"`
	Program   string          `json:"program"`
	Inputs    []inputHash     `json:"inputs"`
	Residuals string          `json:"residuals"` // file with what was left out and predicted
	Surfaces  []surfaceRecord `json:"surfaces"`
	Notices   []string        `json:"notices"`
}

type surfaceSummary struct {
	surfaceIndex
	Files []string `json:"files"`
}

// surfaceStep makes the surfaces of every field and analyte of a results file.
// Fields are worked on by all processors, and what is finished is put down at
// once, so that memory does not grow with the number of fields.
func surfaceStep(resultsPath string, p surfaceParameters, out *outputs) (surfaceSummary, error) {
	if err := p.validate(); err != nil {
		return surfaceSummary{}, err
	}
	r, err := openResults(resultsPath)
	if err != nil {
		return surfaceSummary{}, err
	}
	defer r.Close()
	analytes, err := chooseAnalytes(r.analytes, p.Analytes)
	if err != nil {
		return surfaceSummary{}, fmt.Errorf("%s: %w", resultsPath, err)
	}
	index := surfaceIndex{Format: 1, Program: "corewalk " + version, Residuals: residualsFile, Surfaces: []surfaceRecord{}, Notices: []string{}}
	if index.Inputs, err = hashInputs([]string{resultsPath}); err != nil {
		return surfaceSummary{}, err
	}
	var whole []sampling.Analyte
	for _, a := range analytes {
		switch {
		case a.Mixed == "":
			whole = append(whole, a)
		case len(p.Analytes) > 0:
			return surfaceSummary{}, fmt.Errorf("%s: no surface can be made of %s: %s", resultsPath, a.Name, a.Mixed)
		default:
			index.Notices = append(index.Notices, fmt.Sprintf("no surface is made of %s: %s", a.Name, a.Mixed))
		}
	}
	defer out.discard()
	fieldSlugs, analyteSlugs := r.slugs()
	residuals, err := out.stage(residualsFile, func(w io.Writer) error {
		table := newResidualTable(w)
		err := inOrder(len(r.fields), func(i int) (fieldSurfaces, error) {
			f, composites, err := r.field(i)
			if err != nil {
				return fieldSurfaces{}, err
			}
			m := surfaceMaker{
				surfaceParameters: p, field: f, analytes: whole, out: out, alone: len(r.fields) == 1,
				name: func(a sampling.Analyte) string { return fieldSlugs[i] + "_" + analyteSlugs[a.Name] },
			}
			return m.make(composites)
		}, func(_ int, s fieldSurfaces) error {
			index.Notices = append(index.Notices, s.notices...)
			out.take(s.files...)
			for k := range s.records {
				if err := table.add(s.field, &s.records[k]); err != nil {
					return err
				}
				s.records[k].CrossValidation.Each = nil
			}
			index.Surfaces = append(index.Surfaces, s.records...)
			return nil
		})
		if err != nil {
			return err
		}
		return table.flush()
	})
	if err != nil {
		return surfaceSummary{}, trimPrefix(err, residualsFile)
	}
	out.take(residuals)
	out.inputs = append(out.inputs, resultsPath)
	listing, err := out.stage(surfacesFile, index.write)
	if err != nil {
		return surfaceSummary{}, err
	}
	out.take(listing)
	return surfaceSummary{index, out.names()}, out.commit()
}

// write writes the index with a surface to a line: as a whole, the text of a
// large farm would take many times the memory of its surfaces.
func (index surfaceIndex) write(w io.Writer) error {
	surfaces, notices := index.Surfaces, index.Notices
	index.Surfaces, index.Notices = nil, nil
	head, err := json.Marshal(index)
	if err != nil {
		return err
	}
	head, ok := bytes.CutSuffix(head, []byte(`"surfaces":null,"notices":null}`))
	if !ok {
		return errors.New("the index of surfaces has a field more at its end")
	}
	b := bufio.NewWriter(w)
	b.Write(head)
	b.WriteString("\"surfaces\":[")
	line := json.NewEncoder(b)
	line.SetEscapeHTML(false)
	for i, r := range surfaces {
		if i > 0 {
			b.WriteString(",")
		}
		b.WriteString("\n")
		if err := line.Encode(r); err != nil {
			return err
		}
	}
	b.WriteString("],\n\"notices\":")
	if err := line.Encode(notices); err != nil {
		return err
	}
	b.WriteString("}\n")
	return b.Flush()
}

// trimPrefix takes off the name of the file that was being written, where the
// trouble lies with what goes into it.
func trimPrefix(err error, name string) error {
	if inner := errors.Unwrap(err); inner != nil && strings.HasPrefix(err.Error(), name+": ") {
		return inner
	}
	return err
}

func (s surfaceSummary) lines() []string {
	out := []string{fmt.Sprintf("%d surfaces", len(s.Surfaces))}
	for i, r := range s.Surfaces {
		if i == mostLines {
			out = append(out, fmt.Sprintf("  ... and %d more; all are in %s", len(s.Surfaces)-i, surfacesFile))
			break
		}
		c := r.CrossValidation
		word := "supported"
		if !r.Supported {
			word = "NOT supported"
		}
		out = append(out, fmt.Sprintf("  %s, %s: %d composites, %.4g to %.4g; %s; left out one at a time: RMSE %.3g, bias %.2g, skill %.2f (%s)",
			r.Field, r.Analyte, r.Composites, r.Least, r.Greatest, r.settings(), c.RMSE, c.Bias, c.Skill, word))
	}
	return out
}

// mostLines is the number of surfaces that a summary for a person lists.
const mostLines = 200

// settings writes how a surface was made for a person.
func (r surfaceRecord) settings() string {
	text := fmt.Sprintf("inverse distance, power %g", r.Power)
	if r.Variogram != nil {
		text = "kriging, " + variogramText(r.Variogram.Model)
	}
	if n, ok := r.Near.(int); ok {
		text += fmt.Sprintf(", %d nearest", n)
	}
	if r.RadiusM > 0 {
		text += fmt.Sprintf(" within %.4g m", r.RadiusM)
	}
	if len(r.Chosen) > 0 {
		text += " (" + strings.Join(r.Chosen, ", ") + " chosen)"
	}
	return text
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

// byKey finds surfaces by field and analyte.
func (x *surfaceIndex) byKey() map[surfaceKey]surfaceRecord {
	out := map[surfaceKey]surfaceRecord{}
	for _, r := range x.Surfaces {
		out[surfaceKey{r.Field, r.Analyte}] = r
	}
	return out
}

// rasterFiles returns the paths of the surfaces of some analytes, sorted, each
// once.
func rasterFiles(indexPath string, surfaces map[surfaceKey]surfaceRecord, fields, analytes []string) ([]string, error) {
	var out []string
	for _, field := range fields {
		for _, name := range analytes {
			if x, ok := surfaces[surfaceKey{field, name}]; ok {
				path, err := besideIndex(indexPath, x.File)
				if err != nil {
					return nil, err
				}
				out = append(out, path)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// besideIndex returns the path of a file that surfaces.json names: relative to
// its folder, and below it.
func besideIndex(indexPath, file string) (string, error) {
	if !filepath.IsLocal(filepath.FromSlash(file)) {
		return "", fmt.Errorf("%s: the file %q lies outside of its folder", indexPath, file)
	}
	return filepath.Join(filepath.Dir(indexPath), filepath.FromSlash(file)), nil
}

// readGrid reads the raster of a record of surfaces.json.
func readGrid(indexPath string, r surfaceRecord) (*raster.Grid, error) {
	path, err := besideIndex(indexPath, r.File)
	if err != nil {
		return nil, err
	}
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
	choices := settingFlags[surfaceParameters]{params: *defaultSurface()}
	units := unitsValue("metric")
	var to outFlags
	c := &cobra.Command{
		Use:   "surface --results results.geojson [flags]",
		Short: "Interpolate a surface of every analyte over every field",
		Long: `Interpolates every analyte over every field, by inverse distance weighting or
ordinary kriging, and writes one GeoTIFF (float32, cloud optimized, in the
field's UTM zone) for each to surfaces/; surfaces.json with how each was made and
how far it can be trusted; and residuals.csv with every composite that was left
out and what the others say about it. Management units and problem areas are hard
edges: no value reaches across one.

A skill of 1 is a perfect prediction, 0 one no better than the plain mean. A
surface is marked as not supported where its skill is not above zero, or where
figures dealt out at random over the same places are predicted as well in more
than 1 of 40 cases (a permutation test).

Ground further than half a cell beyond the composites has no value, unless
--extrapolate is given.`,
		Example: `  corewalk surface --results out/results.geojson --analytes pH,P,K --power auto --near auto --out out
  corewalk surface --results out/results.geojson --method auto --formats tif,png,svg --out out`,
		Args: exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			if results == "" {
				return usageError{errors.New("--results is missing; name the results.geojson")}
			}
			choices.params.US = units == "us"
			s, err := surfaceStep(results, choices.params, to.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.lines(), s.Notices, s.Files)
		},
	}
	c.Flags().StringVar(&results, "results", "", "`FILE` results.geojson")
	choices.add(c, surfaceSettings())
	c.Flags().Var(&units, "units", "units on pictures")
	to.add(c)
	return c
}

// pieces is the field as its surfaces take it.
func pieces(f *geo.Field, split bool) *geo.Field {
	if split {
		return f.Pieces()
	}
	return f
}
