package variogram

import "math"

// detect looks for the azimuth and ratio with the least error and returns that
// model if it is worth its two further parameters: by Akaike's criterion on
// the weighted squares (R. Webster, A. B. McBratney 1989, Journal of Soil
// Science 40:493-496), n ln(SSE/n) + 2p, and with an error at least a quarter
// below that of isotropic. Classes of one variogram share their samples and
// differ together, so that the criterion alone finds directions in chance.
func (t *table) detect(kinds []Kind, w Weights, isotropic Fitted) Fitted {
	if len(t.lags) < 8 {
		return isotropic
	}
	var azimuth, ratio, least float64
	found := false
	for _, k := range kinds {
		a, r, sse := t.directed(k)
		if !found || sse < least {
			azimuth, ratio, least, found = a, r, sse, true
		}
	}
	f := t.best(kinds, w, azimuth, ratio)
	limit := min(0.75, exponential(4/float64(len(t.lags))))
	if f.PartialSill == 0 || ratio > 0.95 || !(f.SSE < limit*isotropic.SSE) {
		return isotropic
	}
	return f
}

// leastDetected is the least ratio that is looked for.
const leastDetected = 0.1

// directed returns the best azimuth and ratio for a kind: first over a lattice
// of them with a scale of ranges of its own, then by ever shorter steps from
// the best (a compass search), the range following from the last one.
func (t *table) directed(k Kind) (azimuth, ratio, sse float64) {
	t.measure(0, 1)
	sse, ratio = math.Inf(1), 1
	var reach float64
	for degrees := 0.0; degrees < 180; degrees += 15 {
		for _, r := range [...]float64{0.8, 0.6, 0.4, 0.25, 0.15} {
			t.measure(degrees, r)
			ranges, errs := t.scan(k, 1.5)
			for i, e := range errs {
				if e < sse {
					azimuth, ratio, reach, sse = degrees, r, ranges[i], e
				}
			}
		}
	}
	turn, factor := 7.5, 1.3
	for range 100 {
		if turn < 1e-2 {
			break
		}
		moved := false
		for _, move := range [...][2]float64{{turn, 1}, {-turn, 1}, {0, factor}, {0, 1 / factor}} {
			a := math.Mod(azimuth+move[0]+180, 180)
			r := min(max(ratio*move[1], leastDetected), 1)
			t.measure(a, r)
			f := t.golden(k, reach/1.5, min(reach*1.5, t.farthest*farRange), 1e-5)
			if f.SSE < sse*(1-1e-12) {
				azimuth, ratio, reach, sse, moved = a, r, f.Range, f.SSE, true
			}
		}
		if !moved {
			turn /= 2
			factor = 1 + (factor-1)/2
		}
	}
	return azimuth, ratio, sse
}

// Estimate makes the experimental variogram of the points and fits a model to
// it: in all directions at once, or in four of them where the fitting has an
// anisotropy or is to detect one. Where none is detected the classes of all
// directions are used. The classes come back with the model.
func Estimate(points []Point, c Classes, f Fitting) (Fitted, []Lag, error) {
	if f.Detect || f.Ratio != 0 && f.Ratio != 1 {
		lags, err := Directions(points, c, 4)
		if err != nil {
			return Fitted{}, nil, err
		}
		directed, err := Fit(lags, f)
		if err != nil {
			return Fitted{}, nil, err
		}
		if !f.Detect || !directed.Isotropic() {
			return directed, lags, nil
		}
		f.Detect = false
	}
	c.Azimuth, c.Tolerance = 0, 0
	lags, err := Experimental(points, c)
	if err != nil {
		return Fitted{}, nil, err
	}
	fitted, err := Fit(lags, f)
	return fitted, lags, err
}
