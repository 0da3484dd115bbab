package main

import (
	"bytes"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"corewalk/cmd/corewalk/report"
	"corewalk/geo"
	"corewalk/interp"
	"corewalk/sampling"
)

// mostDrawn is the number of surfaces up to which the page holds the drawings of
// what leaving out composites showed: they are some 40 kB to a surface.
const mostDrawn = 100

// analytes adds figures, surfaces, patches and zones.
func (b *pageBuilder) analytes(j *job, s *runSummary, r *sampling.Results) error {
	wanted := r.Analytes
	if j.surface != nil {
		var err error
		if wanted, err = chooseAnalytes(r.Analytes, j.surface.Analytes); err != nil {
			return err
		}
	}
	var residuals map[surfaceKey][]interp.Residual
	surfaces := map[surfaceKey]surfaceRecord{}
	if s.Surface != nil {
		var err error
		if residuals, err = readResiduals(filepath.Join(j.out, s.Surface.Residuals), everyAnalyte); err != nil {
			return err
		}
		for _, y := range s.Surface.Surfaces {
			surfaces[surfaceKey{y.Field, y.Analyte}] = y
		}
		if len(surfaces) > mostDrawn {
			b.data.Notices = append(b.data.Notices, fmt.Sprintf("the drawings of what leaving out composites showed are left out of a page of %d surfaces; %s holds the figures", len(surfaces), residualsFile))
		}
	}
	for i, f := range b.fields {
		page := &b.data.Fields[i]
		for _, a := range wanted {
			x := report.Analyte{Name: a.Name, Unit: a.Unit, Method: a.Method}
			for _, c := range r.Composites {
				if g, ok := c.Figure(a.Name); ok && c.Field == f.Name {
					x.Values = append(x.Values, report.Value{ID: c.ID, Value: g.Value, Censored: g.Censored})
				}
			}
			key := surfaceKey{f.Name, a.Name}
			if record, ok := surfaces[key]; ok {
				grid, err := readGrid(filepath.Join(j.out, surfacesFile), record)
				if err != nil {
					return err
				}
				record.CrossValidation.Each = residuals[key]
				x.Grid, x.CrossValidation, x.Supported, x.Masked = grid, record.CrossValidation, record.Supported, record.Masked
				x.How, x.Chosen = pageSettings(record), record.Chosen
				if len(surfaces) <= mostDrawn {
					if x.Drawings, err = pageDrawings(f, &record, b.data.US); err != nil {
						return fmt.Errorf("field %s, %s: %w", f.Name, a.Name, err)
					}
				}
			}
			if s.Zone != nil {
				addZones(&x, key, s.Zone)
			}
			if len(x.Values) > 0 {
				page.Analytes = append(page.Analytes, x)
			}
		}
		if s.Zone == nil {
			continue
		}
		for _, m := range s.Zone.Meetings {
			if m.Field == f.Name {
				page.Meetings = append(page.Meetings, report.Meeting{Patches: m.Patches, Area: m.AreaHa * geo.Hectare})
			}
		}
	}
	return nil
}

// pageSettings writes how a surface was made; what was chosen is said apart.
func pageSettings(r surfaceRecord) string {
	r.Chosen = nil
	return fmt.Sprintf("%s, from %d composites", r.settings(), r.Composites)
}

// pageDrawings are those of what leaving out composites showed.
func pageDrawings(f *geo.Field, r *surfaceRecord, us bool) ([]report.Drawing, error) {
	each := r.CrossValidation.Each
	if len(each) == 0 {
		return nil, nil
	}
	base, err := basePicture(f, r, us)
	if err != nil {
		return nil, err
	}
	base.Footer = base.Footer[:1]
	if !r.Supported {
		base.Notes = []string{"NOT SUPPORTED BY THE SAMPLES"} // the page says why
	}
	residuals, scatter := residualPictures(base, r, each)
	residuals.Footer = nil // the page says it
	var out []report.Drawing
	for _, d := range []struct {
		drawing
		alt string
	}{
		{&scatter, fmt.Sprintf("Scatter plot of %s in %s: what the others predict for each of %d composites, upwards, against its own figure, across. On the dashed line both are equal. The table of composites holds the same figures.", r.Analyte, f.Name, len(each))},
		{&residuals, fmt.Sprintf("Map of %s in %s: at each of %d composites a triangle, pointing up where its figure is above what the others predict and down where it is below, the larger the more. The table of composites holds the same figures.", r.Analyte, f.Name, len(each))},
	} {
		var svg bytes.Buffer
		if err := d.SVG(&svg); err != nil {
			return nil, err
		}
		out = append(out, report.Drawing{Alt: d.alt, SVG: svg.Bytes()})
	}
	return out, nil
}

// addZones adds the patches and zones of one analyte of a field.
func addZones(x *report.Analyte, key surfaceKey, z *zoneSummary) {
	for _, set := range z.sets {
		if set.field.Name == key.field && set.analyte.Name == key.analyte {
			x.Basis = set.basis
			x.Patches = append(x.Patches, pagePatches(set))
		}
	}
	k := slices.IndexFunc(z.zoned, func(set zoneSet) bool { return set.field.Name == key.field && set.analyte.Name == key.analyte })
	n := slices.IndexFunc(z.Partitions, func(p partition) bool { return p.Field == key.field && p.Analyte == key.analyte })
	if k >= 0 && n >= 0 {
		x.Basis = z.zoned[k].basis
		x.Zoning = pageZoning(z.zoned[k], z.Partitions[n])
	}
}

func pagePatches(set patchSet) report.PatchSet {
	known := func(v *float64) float64 {
		if v == nil {
			return math.NaN()
		}
		return *v
	}
	out := report.PatchSet{Limit: set.limit.String(), Rest: pageFigures(set.rest), Dropped: set.dropped}
	for _, p := range set.patches {
		out.Patches = append(out.Patches, report.Patch{
			ID: p.id, Shape: p.shape, Samples: p.samples, Chance: known(p.chance), Without: known(p.without), Figures: pageFigures(p.figures),
		})
	}
	return out
}

func pageFigures(f figures) report.Figures {
	out := report.Figures{Area: f.area, Mean: f.mean, Least: f.least, Greatest: f.greatest, Composites: f.composites, CompositesMean: f.compositesMean}
	if f.pixels == 0 {
		out.Mean, out.Least, out.Greatest = math.NaN(), math.NaN(), math.NaN()
	}
	if f.composites == 0 {
		out.CompositesMean = math.NaN()
	}
	return out
}

func pageZoning(set zoneSet, p partition) *report.Zoning {
	out := &report.Zoning{Source: sourceText(set.classing), Merged: p.Merged, Ground: p.Ground, Sum: p.Sum}
	sums, pixels := make([]float64, len(set.limits)+1), make([]int, len(set.limits)+1)
	for i := range sums {
		c := report.ZoneClass{Limits: className(set.limits, nil, i)}
		if i < len(set.names) {
			c.Name = set.names[i]
		}
		out.Classes = append(out.Classes, c)
	}
	for _, r := range set.zones {
		out.Zones = append(out.Zones, report.Zone{Class: r.class, Shape: r.shape, Area: r.area})
		if r.class < 0 {
			continue
		}
		c := &out.Classes[r.class]
		c.Zones++
		c.Area += r.area
		sums[r.class] += r.mean * float64(r.pixels)
		pixels[r.class] += r.pixels
	}
	for i, n := range pixels {
		out.Classes[i].Mean = math.NaN()
		if n > 0 {
			out.Classes[i].Mean = sums[i] / float64(n)
		}
	}
	return out
}

// sourceText says where the limits of classes come from, and how far they were
// verified.
func sourceText(c classing) string {
	switch {
	case c.quantiles > 0:
		return "The limits are such that every class has about as much ground. They rank the field against itself, and say nothing of what it needs."
	case c.source == "":
		return ""
	}
	text := "Limits of the table " + c.source + "."
	for _, how := range []struct{ word, text string }{
		{"seen", "The figures were read in the source."},
		{"reprint", "The figures were read in another’s print of the source: check them there."},
		{"memory", "The figures were NOT checked against the source: do so before going by them."},
	} {
		if strings.HasSuffix(c.source, "verified: "+how.word+")") {
			text += " " + how.text
		}
	}
	return text + " A table belongs to its place and its method."
}

// zoneFacts say how zones and patches were drawn.
func zoneFacts(p *zoneParameters) []report.Fact {
	var out []report.Fact
	if p.Smallest > 0 {
		out = append(out, report.Fact{Label: "Smallest zone or patch", Text: both(func(us bool) string { return measure{us}.area(p.Smallest) })})
	}
	if p.LeastWidth > 0 {
		out = append(out, report.Fact{Label: "Least width", Text: bothLengths(p.LeastWidth)})
	}
	if len(p.Classes) > 0 {
		out = append(out, report.Fact{Label: "Classes", Text: strings.Join(p.Classes, "; ")})
	}
	if p.Within == "sampleable" {
		out = append(out, report.Fact{Label: "Zones cover", Text: "the sampleable ground only"})
	}
	return out
}
