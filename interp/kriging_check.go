package interp

import (
	"math"

	"corewalk/interp/variogram"
)

// CrossValidate predicts each place from the others of its division. With no
// place to compare every figure is 0.
func (m *KrigingModel) CrossValidate() CrossValidation {
	c, _ := m.CrossValidateWithErrors()
	return c
}

// CrossValidateWithErrors returns CrossValidate and, for each of its Each, the
// kriging standard error of the prediction. The mean of the squares of residual
// over standard error is near 1 where the variogram tells the right size of the
// errors (Cressie 1993, section 2.6.4): see MeanSquaredZ.
func (m *KrigingModel) CrossValidateWithErrors() (CrossValidation, []float64) {
	divisions := make([]division, len(m.divisions))
	for i := range divisions {
		divisions[i] = newDivision(m.places[i])
	}
	var errs []float64
	var at *division
	var i int
	var residual, variance []float64 // of the division at hand
	s := &krigingScratch{}
	c := crossValidate(divisions, func(d *division, k int) (float64, bool) {
		if d != at {
			for at, i = d, 0; &divisions[i] != d; i++ {
			}
			if all := m.divisions[i].all; all != nil {
				residual, variance = all.leftOut()
			}
		}
		of := &m.divisions[i]
		if of.all == nil {
			value, e, ok := m.neighbours(of, of.x[k], of.y[k], k, s)
			if ok {
				errs = append(errs, e)
			}
			return value, ok
		}
		if variance[k] == 0 {
			return 0, false
		}
		errs = append(errs, math.Sqrt(variance[k]))
		return of.value[k] - residual[k], true
	})
	return c, errs
}

// MeanSquaredZ is the mean of the squared residuals of c over their standard
// errors, those without an error left out; 0 for none. errs are those of
// CrossValidateWithErrors.
func MeanSquaredZ(c CrossValidation, errs []float64) float64 {
	var sum, n float64
	for i, e := range c.Each {
		if errs[i] > 0 {
			z := (e.Observed - e.Predicted) / errs[i]
			sum += float64(z * z)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// FitVariogram makes the variogram of samples and fits a model, as
// variogram.Estimate does, from the places that NewKriging would krige from:
// merged, and compared within their division alone. Errors are those of both.
func FitVariogram(samples []Sample, c variogram.Classes, f variogram.Fitting) (variogram.Fitted, []variogram.Lag, error) {
	indices, places, err := placesOf(samples)
	if err != nil {
		return variogram.Fitted{}, nil, err
	}
	var points []variogram.Point
	for i, of := range places {
		for _, p := range of {
			points = append(points, variogram.Point{At: [2]float64{p.x, p.y}, Value: p.value, Division: indices[i]})
		}
	}
	return variogram.Estimate(points, c, f)
}
