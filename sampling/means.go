package sampling

import (
	"fmt"
	"math"
	"slices"

	"corewalk/geo"
	"corewalk/sampling/estimate"
)

// FieldMean is the mean of one analyte over the healthy ground of a field or of
// one of its management units, estimated from the composites of a plan by the
// design that took them: each sampling unit is a stratum, weighted by its area.
// It is also that of one sampling unit which several composites were taken of.
type FieldMean struct {
	Field      string
	Management string // empty for all of the field
	Problem    string // of a sampling unit, the problem area that it is
	Unit       int    // number of the sampling unit, 0 for more than one
	Analyte    Analyte
	Units      int // sampling units of that ground, with a figure or without
	// Without a standard error (a single composite) SE, Low and High are NaN.
	estimate.Estimate
}

// Comparison holds a problem area against the healthy ground beside it.
type Comparison struct {
	Field, Problem string
	Analyte        Analyte
	Samples, With  []string // ids of the composites on either side
	Value, Healthy float64  // means of theirs
	// Main is the mean of the field or the management unit round the problem
	// area, NaN where there is none.
	Main float64
}

// Difference is the problem area less the healthy ground beside it.
func (c Comparison) Difference() float64 { return c.Value - c.Healthy }

// single is the method of a mean that a single composite gives.
const single estimate.Method = "a single composite, without a measure of its error"

// Means estimates the mean of every analyte for every field and its management
// units. Problem areas are left out; they are told apart by Comparisons.
// Composites that brought their own coordinates were drawn by no known design
// and give none.
func (r *Results) Means(confidence float64) ([]FieldMean, error) {
	var out []FieldMean
	byField := map[string][]Composite{}
	for _, c := range r.Composites {
		byField[c.Field] = append(byField[c.Field], c)
	}
	for _, f := range r.Fields {
		r := &Results{Analytes: r.Analytes, Composites: byField[f.Name]}
		var names []string
		for _, d := range f.Divisions {
			if d.Kind == geo.Management {
				names = append(names, d.Name)
			}
		}
		grounds := [][]string{names}
		if len(names) > 1 {
			for _, n := range names {
				grounds = append(grounds, []string{n})
			}
		}
		areas, err := r.unitAreas(f)
		if err != nil {
			return nil, err
		}
		for _, a := range r.Analytes {
			if a.Mixed != "" {
				continue
			}
			for _, ground := range grounds {
				m := FieldMean{Field: f.Name, Analyte: a}
				if len(names) > 1 && len(ground) == 1 {
					m.Management = ground[0]
				}
				strata := r.strata(f, ground, a, areas)
				if m.Units = len(strata); m.Units == 0 {
					continue
				}
				ok, err := m.fill(strata, confidence)
				if err != nil {
					return nil, fmt.Errorf("field %s, %s: %w", f.Name, a.Name, err)
				}
				if ok {
					out = append(out, m)
				}
			}
			several, err := r.unitMeans(f, a, confidence)
			if err != nil {
				return nil, err
			}
			out = append(out, several...)
		}
	}
	return out, nil
}

// unitMeans estimates the means of the sampling units of a field that have
// several composites with a figure, each a simple random sample of its unit.
func (r *Results) unitMeans(f *geo.Field, a Analyte, confidence float64) ([]FieldMean, error) {
	var out []FieldMean
	place := map[int]int{}
	var values [][]float64
	for _, c := range r.Composites {
		g, ok := c.Figure(a.Name)
		if c.Field != f.Name || c.Unit == 0 || !ok {
			continue
		}
		k, known := place[c.Unit]
		if !known {
			k = len(out)
			place[c.Unit] = k
			out = append(out, FieldMean{Field: f.Name, Management: c.Management, Problem: c.Problem, Unit: c.Unit, Analyte: a, Units: 1})
			values = append(values, nil)
		}
		values[k] = append(values[k], g.Value)
	}
	var several []FieldMean
	for k, m := range out {
		if len(values[k]) < 2 {
			continue
		}
		var err error
		if m.Estimate, err = estimate.Mean([]estimate.Stratum{{Size: 1, Values: values[k]}}, confidence); err != nil {
			return nil, fmt.Errorf("field %s, unit %d, %s: %w", f.Name, m.Unit, a.Name, err)
		}
		several = append(several, m)
	}
	return several, nil
}

func (m *FieldMean) fill(strata []estimate.Stratum, confidence float64) (bool, error) {
	var values []float64
	var whole, with float64
	for _, s := range strata {
		whole += s.Size
		if len(s.Values) > 0 {
			values = append(values, s.Values...)
			with += s.Size
		}
	}
	switch len(values) {
	case 0:
		return false, nil
	case 1:
		m.Estimate = estimate.Estimate{
			Mean: values[0], SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Confidence: confidence,
			N: 1, Strata: 1, Covered: with / whole, Method: single,
		}
		return true, nil
	}
	var err error
	m.Estimate, err = estimate.Mean(strata, confidence)
	return true, err
}

// unitAreas returns the true area of every planned unit of a field by number.
func (r *Results) unitAreas(f *geo.Field) (map[int]float64, error) {
	areas := map[int]float64{}
	for _, c := range r.Composites {
		if c.Field != f.Name || len(c.Shape) == 0 || areas[c.Unit] > 0 {
			continue
		}
		shape, _, err := f.Frame.Shape(c.Shape)
		if err != nil {
			return nil, fmt.Errorf("sample %s: %w", c.ID, err)
		}
		areas[c.Unit] = f.Frame.Area(shape)
	}
	return areas, nil
}

// strata are the sampling units of some management units with what was found
// in them, in the order of the file, which is that of the walk.
func (r *Results) strata(f *geo.Field, management []string, a Analyte, areas map[int]float64) []estimate.Stratum {
	var out []estimate.Stratum
	place := map[int]int{}
	for _, c := range r.Composites {
		if c.Field != f.Name || c.Problem != "" || len(c.Shape) == 0 || !(areas[c.Unit] > 0) || !slices.Contains(management, c.Management) {
			continue
		}
		k, known := place[c.Unit]
		if !known {
			k = len(out)
			place[c.Unit] = k
			out = append(out, estimate.Stratum{Name: fmt.Sprintf("unit %d", c.Unit), Size: areas[c.Unit]})
		}
		if g, ok := c.Figure(a.Name); ok {
			out[k].Values = append(out[k].Values, g.Value)
		}
	}
	return out
}

// Comparisons holds every problem area that has a figure of an analyte against
// the healthy ground that its plan paired it with.
func (r *Results) Comparisons(means []FieldMean) []Comparison {
	unitOf := map[string][2]any{}
	for _, c := range r.Composites {
		unitOf[c.ID] = [2]any{c.Field, c.Unit}
	}
	var out []Comparison
	seen := map[string]bool{}
	for _, c := range r.Composites {
		if c.Problem == "" || c.CompareWith == "" || len(c.Shape) == 0 {
			continue
		}
		key := fmt.Sprintf("%s\x00%d", c.Field, c.Unit)
		if seen[key] {
			continue
		}
		seen[key] = true
		with := unitOf[c.CompareWith]
		for _, a := range r.Analytes {
			x := Comparison{Field: c.Field, Problem: c.Problem, Analyte: a, Main: math.NaN()}
			var sick, healthy []float64
			management := ""
			for _, o := range r.Composites {
				g, ok := o.Figure(a.Name)
				switch {
				case !ok || o.Field != c.Field:
				case o.Unit == c.Unit:
					sick, x.Samples = append(sick, g.Value), append(x.Samples, o.ID)
				case with == [2]any{o.Field, o.Unit}:
					healthy, x.With = append(healthy, g.Value), append(x.With, o.ID)
					management = o.Management
				}
			}
			if len(sick) == 0 || len(healthy) == 0 {
				continue
			}
			x.Value, x.Healthy = average(sick), average(healthy)
			for _, m := range means {
				if m.Field == c.Field && m.Unit == 0 && m.Analyte.Name == a.Name && (m.Management == management || m.Management == "" && math.IsNaN(x.Main)) {
					x.Main = m.Mean
				}
			}
			out = append(out, x)
		}
	}
	return out
}

func average(values []float64) float64 {
	var sum float64
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}
