package main

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/geo/raster/picture"
	"corewalk/interp"
)

// drawing is a picture in both formats.
type drawing interface {
	SVG(w io.Writer) error
	PNG(w io.Writer, width int) error
}

// pictureWidth is that of a PNG in pixels: a page at 200 dots to the inch.
const pictureWidth = 1600

// pictures stages the map of a surface, the map of its residuals, and predicted
// on observed, in the formats asked for.
func (m *surfaceMaker) pictures(d *surfaceDraft) ([]outFile, error) {
	wanted := false
	for _, f := range m.Formats {
		wanted = wanted || f == "png" || f == "svg"
	}
	if !wanted {
		return nil, nil
	}
	base, err := basePicture(m.field, &d.record, m.US)
	if err != nil {
		return nil, err
	}
	surface := base
	surface.Grid, surface.NoData = d.grid, "too far from the composites"
	var figures []float64
	for _, u := range d.units {
		figures = append(figures, u.Value)
	}
	digits := digitsOf(figures)
	for _, u := range d.units {
		surface.Points = append(surface.Points, picture.Point{At: u.At, Label: strconv.FormatFloat(u.Value, 'f', digits, 64), ID: u.ID})
	}
	each := d.record.CrossValidation.Each
	residuals, scatter := residualPictures(base, &d.record, each)
	drawings := []struct {
		name string
		drawing
		some bool
	}{
		{"", &surface, true}, {"_residuals", &residuals, len(each) > 0}, {"_predicted", &scatter, len(each) > 0},
	}
	var files []outFile
	for _, p := range drawings {
		if !p.some {
			continue
		}
		for _, format := range m.Formats {
			var write func(io.Writer) error
			switch format {
			case "png":
				write = func(w io.Writer) error { return p.PNG(w, pictureWidth) }
			case "svg":
				write = p.SVG
			default:
				continue
			}
			name := "pictures/" + m.name(d.analyte) + p.name + "." + format
			f, err := m.out.stage(filepath.FromSlash(name), write)
			if err != nil {
				return nil, err
			}
			files = append(files, f)
			d.record.Pictures = append(d.record.Pictures, name)
		}
	}
	return files, nil
}

// basePicture is what the pictures of one surface have in common.
func basePicture(f *geo.Field, r *surfaceRecord, us bool) (picture.Map, error) {
	b := f.Bound()
	north, err := f.Frame.North(geo.XY{(b[0] + b[2]) / 2, (b[1] + b[3]) / 2})
	if err != nil {
		return picture.Map{}, err
	}
	title := r.Analyte
	if r.Method != "" && r.Method != r.Analyte {
		title += " by " + r.Method
	}
	c := r.CrossValidation
	base := picture.Map{
		Title: title, Subtitle: f.Name, Unit: r.Unit, Legend: r.Analyte, Convergence: (north - math.Pi/2) * 180 / math.Pi, US: us,
		Outlines: outlines(f),
		Footer: []string{
			fmt.Sprintf("%d composites; %s; pixels of %g m in %s.", r.Composites, r.settings(), r.PixelM, f.Frame.Name()),
			fmt.Sprintf("Left out one at a time: RMSE %.3g, mean error %.2g, skill %.2f against the plain mean (1 is perfect, 0 no better).", c.RMSE, c.Bias, c.Skill),
			"A picture of the samples, not of the soil: check advice with local recommendations and a certified adviser.",
		},
	}
	if !r.Supported {
		base.Notes = []string{"NOT SUPPORTED BY THE SAMPLES: " + r.Doubt}
	}
	return base, nil
}

// residualPictures draw what came of leaving out composites: the map of the
// residuals, and predicted on observed figures.
func residualPictures(base picture.Map, r *surfaceRecord, each []interp.Residual) (picture.Map, picture.Scatter) {
	residuals := base
	residuals.Title += ": observed less predicted"
	residuals.Marks = picture.Marks{Label: "observed less predicted", Unit: r.Unit, Even: r.CrossValidation.MAE / 4}
	scatter := picture.Scatter{
		Title: base.Title + ": predicted on observed", Subtitle: base.Subtitle, Unit: r.Unit,
		Footer: slices.Concat(base.Notes, base.Footer[1:]),
	}
	var observed []float64
	for _, e := range each {
		observed = append(observed, e.Observed)
	}
	digits := digitsOf(observed)
	for _, e := range each {
		left := e.Observed - e.Predicted
		residuals.Marks.Items = append(residuals.Marks.Items, picture.Mark{At: geo.XY{e.X, e.Y}, Value: left, Label: signed(left, digits)})
		scatter.Pairs = append(scatter.Pairs, picture.Pair{Observed: e.Observed, Predicted: e.Predicted})
	}
	return residuals, scatter
}

// pictures stages the map of the zones of one analyte.
func (m *zoneMaker) pictures(b *base, set zoneSet) ([]outFile, error) {
	if len(m.Pictures) == 0 {
		return nil, nil
	}
	drawing, err := basePicture(m.field, &b.record, m.us)
	if err != nil {
		return nil, err
	}
	drawing.Title = "Zones of " + drawing.Title
	drawing.Footer[0] = fmt.Sprintf("%d zones, drawn on the %s; %s", len(set.zones), set.basis, drawing.Footer[0])
	if set.source != "" {
		drawing.Footer = append([]string{"Classes of table " + set.source + "."}, drawing.Footer...)
	}
	if set.basis == onUnits {
		drawing.Notes = []string{"Drawn on the figures of the sampling units: the surface is not supported by the samples"}
	}
	for c := range len(set.limits) + 1 {
		from, to := math.Inf(-1), math.Inf(1)
		if c > 0 {
			from = set.limits[c-1]
		}
		if c < len(set.limits) {
			to = set.limits[c]
		}
		name := ""
		if c < len(set.names) {
			name = set.names[c]
		}
		drawing.Classes = append(drawing.Classes, picture.Class{Mark: strconv.Itoa(c + 1), Name: name, From: from, To: to})
	}
	for _, z := range set.zones {
		if z.class < 0 {
			drawing.Outlines = append(drawing.Outlines, picture.Outline{Kind: picture.Exclusion, Shape: z.shape, Key: "not sampled, or no value"})
			continue
		}
		drawing.Zones = append(drawing.Zones, picture.Zone{Shape: z.shape, Class: z.class})
	}
	var files []outFile
	for _, format := range m.Pictures {
		write := drawing.SVG
		if format == "png" {
			write = func(w io.Writer) error { return drawing.PNG(w, pictureWidth) }
		}
		name := "pictures/" + m.slug + "_" + m.analyteSlugs[set.analyte.Name] + "_zones." + format
		f, err := m.out.stage(filepath.FromSlash(name), write)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	return files, nil
}

// outlines are those of the field on a map.
func outlines(f *geo.Field) []picture.Outline {
	out := []picture.Outline{{Kind: picture.Boundary, Shape: f.Boundary}}
	for _, x := range exclusionsNear(f) {
		if !x.Shape.Empty() {
			out = append(out, picture.Outline{Kind: picture.Exclusion, Shape: x.Shape})
		}
	}
	for _, d := range f.Divisions {
		switch {
		case d.Name == "":
		case d.Kind == geo.Problem:
			out = append(out, picture.Outline{Kind: picture.Problem, Shape: d.Shape, Label: d.Name})
		default:
			out = append(out, picture.Outline{Kind: picture.Unit, Shape: d.Shape, Label: d.Name})
		}
	}
	return out
}

// digitsOf is the number of decimals that tell figures apart.
func digitsOf(figures []float64) int {
	if len(figures) == 0 || !(slices.Max(figures) > slices.Min(figures)) {
		return 1
	}
	return min(max(1-int(math.Floor(math.Log10(slices.Max(figures)-slices.Min(figures)))), 0), 6)
}

// signed writes a difference with its sign; none for what rounds to nothing.
func signed(v float64, digits int) string {
	text := fmt.Sprintf("%+.*f", digits, v)
	if strings.Trim(text, "+-0.") == "" {
		return text[1:]
	}
	return text
}
