package interp

import "math"

// CrossValidation compares every place with what the others of its division
// say about it. Residuals are observed minus predicted: a Bias above zero
// means that the surface is too low. Figures are in the unit of the samples.
type CrossValidation struct {
	N       int     `json:"n"`        // places compared
	LeftOut int     `json:"left_out"` // places alone in their division or within the radius
	Bias    float64 `json:"bias"`     // mean residual
	RMSE    float64 `json:"rmse"`     // root of the mean squared residual
	MAE     float64 `json:"mae"`      // mean size of the residuals
	// Skill is 1 - SSE/SSE0, where SSE is the sum of the squared residuals and
	// SSE0 the same sum where each place is predicted by the plain mean of all
	// others in the field. 1 is perfect, 0 no better than the mean. It is 0
	// where all figures are equal.
	Skill float64 `json:"skill"`
	// SkillWithin is the same against the mean of the others of the place's own
	// division: a field of two unlike divisions has a high Skill even where
	// nothing is known within either. In a field of one division it is Skill.
	SkillWithin float64 `json:"skill_within"`
	// Structure tells whether the figures could as well lie elsewhere.
	Structure Structure  `json:"structure"`
	Each      []Residual `json:"each,omitempty"` // by division, easting, northing
}

// Residual is the comparison at one place. The id of a place with several
// samples is all of theirs, joined with "+".
type Residual struct {
	ID        string  `json:"id"`
	X         float64 `json:"x"` // metres
	Y         float64 `json:"y"`
	Observed  float64 `json:"observed"`
	Predicted float64 `json:"predicted"`
}

// FewestCompared is the number of places under which a cross-validation says
// too little to support a surface.
const FewestCompared = 5

// Supported reports whether the surface knows more than the mean: both skills
// are above zero, from at least FewestCompared places, and figures without any
// structure would be predicted as well in no more than a share Level of cases.
// With fewer places, no surface is supported.
func (c CrossValidation) Supported() bool {
	return c.N >= FewestCompared && c.Skill > 0 && c.SkillWithin > 0 && c.Structure.P <= Level
}

// CrossValidate predicts each place from the others of its division. With no
// place to compare every figure is 0.
func (m *Model) CrossValidate() CrossValidation {
	var s *scratch
	c := crossValidate(m.divisions, func(d *division, k int) (float64, bool) {
		if s == nil || len(s.squared) < len(d.x) {
			s = m.idw.scratch(len(d.x))
		}
		return m.idw.at(d, d.x[k], d.y[k], k, s)
	})
	tried := m.tried
	if tried == nil {
		tried = []leftOut{newLeftOut(m.divisions, m.neighbours(), []IDW{m.idw})}
	}
	c.Structure = structure(m.divisions, tried)
	return c
}

// crossValidate compares the places of divisions with what predict says about
// each from the others of its division, of which there is at least one. A place
// that predict says nothing about is left out.
func crossValidate(divisions []division, predict func(d *division, k int) (float64, bool)) CrossValidation {
	var c CrossValidation
	// Sums for the means are taken from the first figure on, so that equal
	// figures give exactly nothing.
	first := divisions[0].value[0]
	var total, places float64
	for i := range divisions {
		places += float64(len(divisions[i].x))
		total += above(first, divisions[i].value)
	}
	var sse, sseField, sseWithin float64
	for i := range divisions {
		d := &divisions[i]
		n := float64(len(d.x))
		if n < 2 {
			c.LeftOut++
			continue
		}
		within := above(d.value[0], d.value)
		for k, z := range d.value {
			predicted, ok := predict(d, k)
			if !ok {
				c.LeftOut++
				continue
			}
			r := z - predicted
			c.Each = append(c.Each, Residual{d.ids[k], d.x[k], d.y[k], z, predicted})
			c.Bias += r
			c.MAE += math.Abs(r)
			sse += float64(r * r)
			up := z - first
			r = up - (total-up)/(places-1)
			sseField += float64(r * r)
			up = z - d.value[0]
			r = up - (within-up)/(n-1)
			sseWithin += float64(r * r)
		}
	}
	c.N = len(c.Each)
	if c.N == 0 {
		return c
	}
	c.Bias /= float64(c.N)
	c.MAE /= float64(c.N)
	c.RMSE = math.Sqrt(sse / float64(c.N))
	c.Skill = skill(sse, sseField)
	c.SkillWithin = skill(sse, sseWithin)
	return c
}

func skill(sse, reference float64) float64 {
	if reference == 0 {
		return 0
	}
	return 1 - sse/reference
}

// above sums what the values have above base.
func above(base float64, values []float64) float64 {
	var s float64
	for _, v := range values {
		s += v - base
	}
	return s
}
