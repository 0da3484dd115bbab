package main

import (
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/geo/raster"
	"corewalk/interp"
	"corewalk/interp/variogram"
	"corewalk/sampling"
)

// surfaceMaker makes the surfaces of one field.
type surfaceMaker struct {
	surfaceParameters
	field    *geo.Field
	analytes []sampling.Analyte
	out      *outputs
	alone    bool // it is the only field, so that all processors are free for it
	name     func(sampling.Analyte) string
}

// fieldSurfaces is what came of one field.
type fieldSurfaces struct {
	field   *geo.Field
	records []surfaceRecord
	files   []outFile
	notices []string
}

// surfaceDraft is a surface on the way.
type surfaceDraft struct {
	analyte  sampling.Analyte
	units    []interp.Unit
	distance *interp.Model // the model, where it is by distance
	kriging  *interp.KrigingModel
	record   surfaceRecord
	division []int32 // of the pixels that are to have a value
	grid     *raster.Grid
}

func (m *surfaceMaker) make(of []sampling.Composite) (fieldSurfaces, error) {
	s := fieldSurfaces{field: m.field}
	fail := func(err error) (fieldSurfaces, error) {
		return s, fmt.Errorf("field %s: %w", m.field.Name, err)
	}
	f := pieces(m.field, m.Split)
	g, err := rasterGround(f, m.Pixel)
	if err != nil {
		return fail(err)
	}
	composites, err := placed(f, of)
	if err != nil {
		return fail(err)
	}
	var drafts []*surfaceDraft
	for _, a := range m.analytes {
		units := composites.with(a.Name)
		if len(units) < fewestComposites {
			s.notices = append(s.notices, fmt.Sprintf("field %s: %s has figures of %d composites; a surface needs %d", f.Name, a.Name, len(units), fewestComposites))
			continue
		}
		d := &surfaceDraft{analyte: a, units: units}
		notices, err := m.model(d)
		if err != nil {
			return fail(fmt.Errorf("%s: %w", a.Name, err))
		}
		s.notices = append(s.notices, notices...)
		drafts = append(drafts, d)
	}
	m.reach(g, drafts)
	if err := m.paint(g, drafts); err != nil {
		return fail(err)
	}
	for _, d := range drafts {
		m.finish(d, g)
		files, err := m.write(d)
		if err != nil {
			return fail(fmt.Errorf("%s: %w", d.analyte.Name, err))
		}
		s.files = append(s.files, files...)
		if files, err = m.pictures(d); err != nil {
			return fail(fmt.Errorf("%s: %w", d.analyte.Name, err))
		}
		s.files = append(s.files, files...)
		if !d.record.Supported {
			s.notices = append(s.notices, fmt.Sprintf("field %s: the surface of %s is not supported: %s", f.Name, d.analyte.Name, d.record.Doubt))
		}
		s.records = append(s.records, d.record)
	}
	return s, nil
}

// model chooses and validates the model of a surface.
func (m *surfaceMaker) model(d *surfaceDraft) (notices []string, err error) {
	samples := samplesOf(d.units)
	d.record = surfaceRecord{
		Field: m.field.Name, Analyte: d.analyte.Name, Unit: d.analyte.Unit, Method: d.analyte.Method,
		CRS: fmt.Sprintf("EPSG:%d", m.field.Frame.EPSG()), PixelM: m.Pixel, Split: m.Split, Composites: len(samples),
	}
	if d.distance, err = interp.NewChosenModel(samples, m.IDW, m.Choice); err != nil {
		return nil, err
	}
	check := d.distance.CrossValidate()
	if m.Method != byDistance {
		model, err := m.krige(samples)
		switch {
		case err != nil && m.Method == byAuto:
			notices = append(notices, fmt.Sprintf("field %s: %s is not kriged: %s", m.field.Name, d.analyte.Name, err))
		case err != nil:
			return nil, fmt.Errorf("cannot be kriged: %w", err)
		default:
			// Whether there is anything to map does not hang on the method.
			kriged, errs := model.CrossValidateWithErrors()
			kriged.Structure = check.Structure
			if m.Method == byKriging || kriged.N >= check.N && kriged.RMSE < check.RMSE {
				check, d.distance, d.kriging, d.record.Variogram = kriged, nil, model.KrigingModel, &model.fitted
				d.record.MeanSquaredZ = interp.MeanSquaredZ(kriged, errs)
				if added := model.AddedNugget(); added > 0 {
					notices = append(notices, fmt.Sprintf("field %s: the variogram of %s leaves composites that lie close together without a difference; a nugget of %.2g was added", m.field.Name, d.analyte.Name, added))
				}
				if len(samples) < fewestForVariogram {
					notices = append(notices, fmt.Sprintf("field %s: the variogram of %s rests on %d composites; with fewer than %d it says little", m.field.Name, d.analyte.Name, len(samples), fewestForVariogram))
				}
			}
		}
	}
	r := &d.record
	settings := m.IDW
	switch {
	case d.kriging != nil:
		r.Interpolation = "ordinary kriging"
		if m.Method == byAuto {
			r.Chosen = append(r.Chosen, "method")
		}
	default:
		settings = d.distance.Settings()
		r.Interpolation, r.Power = "inverse distance weighting", settings.Power
		for _, c := range []struct {
			chosen bool
			name   string
		}{{m.Method == byAuto, "method"}, {m.Choice.Power, "power"}, {m.Choice.Near, "near"}, {m.Choice.Radius, "radius"}} {
			if c.chosen {
				r.Chosen = append(r.Chosen, c.name)
			}
		}
	}
	r.Near, r.RadiusM = nearText(settings.Near), settings.Radius
	r.CrossValidation, r.Supported = check, check.Supported()
	if !r.Supported {
		r.Doubt = whyUnsupported(check)
	}
	return notices, nil
}

// kriged is a model and the variogram it goes by.
type kriged struct {
	*interp.KrigingModel
	fitted variogram.Fitted
}

func (m *surfaceMaker) krige(samples []interp.Sample) (kriged, error) {
	fitted, _, err := interp.FitVariogram(samples, variogram.Classes{Estimator: m.Estimator}, variogram.Fitting{
		Kinds: m.Kinds, Azimuth: m.Azimuth, Ratio: m.Ratio, Detect: m.Detect,
	})
	if err != nil {
		return kriged{}, err
	}
	k := interp.Kriging{Variogram: fitted.Model, Near: m.IDW.Near, Radius: m.IDW.Radius}
	model, err := interp.NewKriging(samples, k)
	return kriged{model, fitted}, err
}

// reach takes the ground that lies too far from the composites off the drafts.
// Analytes mostly have figures of the same composites, and share it then.
func (m *surfaceMaker) reach(g ground, drafts []*surfaceDraft) {
	for i, d := range drafts {
		if d.division = g.division; m.Extrapolate {
			continue
		}
		same := slices.IndexFunc(drafts[:i], func(o *surfaceDraft) bool {
			return slices.EqualFunc(o.units, d.units, func(a, b interp.Unit) bool { return a.ID == b.ID })
		})
		if same >= 0 {
			d.division = drafts[same].division
		} else {
			d.division = interp.Reach(g.geometry, g.division, d.units)
		}
	}
}

// paint makes the rasters. Drafts on the same ground are made together, since
// they may share their weights.
func (m *surfaceMaker) paint(g ground, drafts []*surfaceDraft) error {
	workers := 1
	if m.alone {
		workers = runtime.GOMAXPROCS(0)
	}
	for i, d := range drafts {
		if d.grid != nil {
			continue
		}
		if d.kriging != nil {
			grid, err := d.kriging.Surface(g.geometry, d.division, workers)
			if err != nil {
				return err
			}
			d.grid = grid
			continue
		}
		var models []*interp.Model
		var theirs []*surfaceDraft
		for _, o := range drafts[i:] {
			if o.grid == nil && o.distance != nil && &o.division[0] == &d.division[0] {
				models, theirs = append(models, o.distance), append(theirs, o)
			}
		}
		grids, err := interp.SurfaceAll(models, g.geometry, d.division, workers)
		if err != nil {
			return err
		}
		for k, grid := range grids {
			theirs[k].grid = grid
		}
	}
	return nil
}

// finish sums a surface up and writes on it what it is.
func (m *surfaceMaker) finish(d *surfaceDraft, g ground) {
	r, grid := &d.record, d.grid
	stats := grid.Stats()
	r.Least, r.Greatest, r.Mean = stats.Min, stats.Max, stats.Mean
	land := 0
	for _, d := range g.division {
		if d >= 0 {
			land++
		}
	}
	if land > 0 {
		r.Masked = decimals(1-float64(stats.Count)/float64(land), 4)
	}
	grid.Name, grid.Unit = d.analyte.Name, d.analyte.Unit
	for i := range grid.More {
		grid.More[i].Unit = d.analyte.Unit
	}
	text := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	c := r.CrossValidation
	grid.Meta = map[string]string{
		"FIELD": r.Field, "ANALYTE": r.Analyte, "UNIT": r.Unit, "METHOD": r.Method, "PROGRAM": "corewalk " + version,
		"INTERPOLATION": r.Interpolation, "NEAR": fmt.Sprint(r.Near), "COMPOSITES": strconv.Itoa(r.Composites),
		"LOO_N": strconv.Itoa(c.N), "LOO_RMSE": text(c.RMSE), "LOO_MAE": text(c.MAE), "LOO_BIAS": text(c.Bias),
		"LOO_SKILL": text(c.Skill), "LOO_SKILL_WITHIN": text(c.SkillWithin), "STRUCTURE_P": text(c.Structure.P),
		"SUPPORTED": strconv.FormatBool(r.Supported), "DOUBT": r.Doubt,
		"CAUTION": "A picture of the samples, not of the soil. Check advice with local recommendations and a certified adviser.",
	}
	if r.Power > 0 {
		grid.Meta["POWER"] = text(r.Power)
	}
	if r.RadiusM > 0 {
		grid.Meta["RADIUS_M"] = text(r.RadiusM)
	}
	if r.Variogram != nil {
		grid.Meta["VARIOGRAM"] = variogramText(r.Variogram.Model)
	}
	if len(r.Chosen) > 0 {
		grid.Meta["CHOSEN"] = strings.Join(r.Chosen, ", ")
	}
	for k, v := range grid.Meta {
		if v == "" {
			delete(grid.Meta, k)
		}
	}
}

// write stages the files of a surface.
func (m *surfaceMaker) write(d *surfaceDraft) ([]outFile, error) {
	name := "surfaces/" + m.name(d.analyte)
	d.record.File = name + ".tif"
	var files []outFile
	for _, format := range m.Formats {
		var write func(io.Writer) error
		switch format {
		case "tif":
			write = func(w io.Writer) error { return raster.WriteGeoTIFF(w, d.grid) }
		case "asc":
			write = func(w io.Writer) error { return raster.WriteASCII(w, d.grid) }
		default:
			continue
		}
		f, err := m.out.stage(filepath.FromSlash(name+"."+format), write)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	return files, nil
}

func nearText(n int) any {
	if n == 0 {
		return "all"
	}
	return n
}

// whyUnsupported says what a cross-validation lacks.
func whyUnsupported(c interp.CrossValidation) string {
	switch {
	case c.N < interp.FewestCompared:
		return fmt.Sprintf("only %d composites can be compared with others; %d are needed", c.N, interp.FewestCompared)
	case c.Skill <= 0:
		return fmt.Sprintf("predicting composites from their neighbours is no better than the plain mean (skill %.2f)", c.Skill)
	case c.SkillWithin <= 0:
		return fmt.Sprintf("within the management units and problem areas, predicting composites from their neighbours is no better than the mean there (skill %.2f)", c.SkillWithin)
	}
	return fmt.Sprintf("dealt out at random, the same figures are predicted as well in %.0f of 100 cases (skill %.2f)", 100*c.Structure.P, c.Skill)
}
