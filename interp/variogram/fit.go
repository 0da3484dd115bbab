package variogram

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Weights says how much the classes count in a fit.
type Weights int

const (
	// PairsByDistance is N/h^2 (gstat's fit.method 7): near classes count most,
	// which are the ones that kriging leans on.
	PairsByDistance Weights = iota
	// PairsByGamma is N/gamma^2 with the gamma of the model (N. Cressie 1985,
	// doi:10.1007/BF01032109; gstat's fit.method 2). The weights are those of
	// the fitted model itself: fits are repeated with the weights of the last
	// one until nothing moves, 100 times at the most.
	PairsByGamma
)

// Fitting says how a model is fitted. The zero value tries every kind, by
// N/h^2, the same in all directions.
type Fitting struct {
	Kinds   []Kind // the one with the least error wins, on a tie the first; none for all
	Weights Weights
	// Azimuth and Ratio of a known anisotropy, as in Model; Ratio 0 for none.
	Azimuth, Ratio float64
	// Detect looks for an anisotropy; Azimuth and Ratio are then left out.
	Detect bool
}

// Fitted is a model and how well it fits.
type Fitted struct {
	Model
	// SSE is the sum of the squared differences of the gammas, weighted.
	SSE float64 `json:"sse"`
}

// ErrFlat tells that there is nothing to fit: all figures are equal.
var ErrFlat = errors.New("all figures that a variogram compares are equal; nothing varies")

// A fitted range lies between a tenth of the least and this many times the
// largest distance of a class: beyond, any model is a straight line (the
// Gaussian a parabola) over all classes, and only sill over range is known.
const farRange = 20

// FewestClasses is the number of classes under which no structure is fitted.
const FewestClasses = 3

// Fit returns the model with the least weighted sum of squares (Cressie 1993,
// section 2.6.2), nugget and partial sill held at 0 or more. For any range the
// best nugget and sill follow in closed form, so that the search is over the
// range alone: all of the possible ones, on a scale with steps of 5 %, then
// every dip by golden section. Starting values are not needed.
//
// Classes of distance 0 are left out; without others the error is ErrNoPairs.
// With fewer than FewestClasses, or where no structure is better than none, the
// model is a pure nugget: the weighted mean of the gammas. If all gammas are 0
// the error is ErrFlat. A class that is not finite is an error.
func Fit(lags []Lag, f Fitting) (Fitted, error) {
	kinds := f.Kinds
	if len(kinds) == 0 {
		kinds = Kinds()
	}
	for _, k := range kinds {
		if err := (Model{Kind: k, Nugget: 1}).Validate(); err != nil {
			return Fitted{}, err
		}
	}
	if err := (Model{Kind: Spherical, Nugget: 1, Azimuth: f.Azimuth, Ratio: f.Ratio}).Validate(); err != nil {
		return Fitted{}, err
	}
	if f.Weights != PairsByDistance && f.Weights != PairsByGamma {
		return Fitted{}, fmt.Errorf("variogram fit: weights %d are not known", f.Weights)
	}
	t, err := newTable(lags)
	if err != nil {
		return Fitted{}, err
	}
	azimuth, ratio := f.Azimuth, f.Ratio
	if f.Detect || ratio == 0 {
		azimuth, ratio = 0, 1
	}
	best := t.best(kinds, f.Weights, azimuth, ratio)
	if f.Detect {
		directions := map[float64]bool{}
		for _, l := range t.lags {
			directions[math.Mod(l.Azimuth, 180)] = true
		}
		if len(directions) < 3 {
			return Fitted{}, fmt.Errorf("variogram fit: classes of %d directions show no anisotropy; give three or more", len(directions))
		}
		best = t.detect(kinds, f.Weights, best)
	}
	best.Nugget *= t.scale
	best.PartialSill *= t.scale
	if f.Weights == PairsByDistance {
		best.SSE *= t.scale * t.scale
	}
	return best, nil
}

// table holds the classes of a fit, gammas as shares of the largest.
type table struct {
	lags     []Lag // of distances above 0
	scale    float64
	farthest float64 // largest distance
	// Per class: distance to the east and north, squared distance as if across
	// the range it were as along, weight, rise.
	east, north, squared, weight, rise []float64
}

func newTable(lags []Lag) (*table, error) {
	t := &table{}
	for _, l := range lags {
		if l.Pairs < 1 || !(l.Distance == 0 || l.Distance >= 1e-6 && l.Distance <= math.MaxFloat32) ||
			!(l.Gamma >= 0 && l.Gamma <= math.MaxFloat32*math.MaxFloat32) || !(l.Azimuth >= 0 && l.Azimuth <= 360) {
			return nil, fmt.Errorf("variogram fit: a class of %d pairs at %g m with gamma %g towards %g degrees cannot be", l.Pairs, l.Distance, l.Gamma, l.Azimuth)
		}
		if l.Distance > 0 {
			t.lags = append(t.lags, l)
			t.scale = max(t.scale, l.Gamma)
			t.farthest = max(t.farthest, l.Distance)
		}
	}
	switch {
	case len(t.lags) == 0:
		return nil, ErrNoPairs
	case t.scale == 0:
		return nil, ErrFlat
	}
	n := len(t.lags)
	all := make([]float64, 5*n)
	t.east, t.north, t.squared, t.weight, t.rise = all[:n], all[n:2*n], all[2*n:3*n], all[3*n:4*n], all[4*n:]
	for i := range t.lags {
		l := &t.lags[i]
		l.Gamma /= t.scale
		east, north := direction(l.Azimuth)
		t.east[i], t.north[i] = l.Distance*east, l.Distance*north
	}
	t.weightByDistance()
	return t, nil
}

// best fits every kind with a known anisotropy and returns the best.
func (t *table) best(kinds []Kind, w Weights, azimuth, ratio float64) Fitted {
	t.measure(azimuth, ratio)
	var best Fitted
	for i, k := range kinds {
		f := t.search(k)
		if w == PairsByGamma {
			f = t.reweighted(f)
			t.weightByDistance()
		}
		if i == 0 || f.SSE < best.SSE {
			best = f
		}
	}
	if ratio != 1 && best.PartialSill > 0 {
		best.Azimuth, best.Ratio = azimuth, ratio
	}
	return best
}

// measure fills squared.
func (t *table) measure(azimuth, ratio float64) {
	m := newMetric(Model{PartialSill: 1, Range: 1, Azimuth: azimuth, Ratio: ratio})
	for i := range t.squared {
		t.squared[i] = m.squared(t.east[i], t.north[i])
	}
}

func (t *table) weightByDistance() {
	for i, l := range t.lags {
		t.weight[i] = float64(l.Pairs) / float64(l.Distance*l.Distance)
	}
}

// reweighted repeats the search with the weights of the model last found; after
// a few rounds only near its range, for two dips can each make the other one
// the lower.
func (t *table) reweighted(f Fitted) Fitted {
	const settled = 10
	gamma := make([]float64, len(t.lags))
	for round := range 100 {
		for i, l := range t.lags {
			g := f.Nugget
			if f.PartialSill > 0 {
				g += float64(f.PartialSill * rise(f.Kind, t.squared[i]/float64(f.Range*f.Range)))
			}
			if round >= settled {
				g = (g + gamma[i]) / 2 // calms what swings to and fro
			}
			// A model that begins at 0 would give its first class all say.
			gamma[i] = max(g, 1e-6)
			t.weight[i] = float64(l.Pairs) / float64(gamma[i]*gamma[i])
		}
		last := f
		if f.PartialSill > 0 && round >= settled {
			f = t.golden(f.Kind, f.Range/1.1, min(f.Range*1.1, t.farthest*farRange), 1e-10)
		} else {
			f = t.search(f.Kind)
		}
		same := func(a, b float64) bool { return math.Abs(a-b) <= 1e-8*max(a, b) }
		if same(f.Nugget, last.Nugget) && same(f.PartialSill, last.PartialSill) && same(f.Range, last.Range) {
			break
		}
	}
	return f
}

// search returns the best model of a kind for the distances and weights at
// hand.
func (t *table) search(k Kind) Fitted {
	best := t.nugget(k)
	if len(t.lags) < FewestClasses {
		return best
	}
	ranges, errs := t.scan(k, 1.05)
	for i := range ranges {
		low, high := max(i-1, 0), min(i+1, len(ranges)-1)
		if errs[i] > errs[low] || errs[i] > errs[high] {
			continue
		}
		if f := t.golden(k, ranges[low], ranges[high], 1e-10); f.PartialSill > 0 && f.SSE < best.SSE*(1-1e-9) {
			best = f
		}
	}
	return best
}

// scan returns the least errors for a scale of ranges.
func (t *table) scan(k Kind, step float64) (ranges, errs []float64) {
	largest := t.farthest * farRange
	for a := math.Sqrt(slices.Min(t.squared)) / 10; ; a = min(a*step, largest) {
		ranges = append(ranges, a)
		errs = append(errs, t.solve(k, a).SSE)
		if a >= largest {
			return ranges, errs
		}
	}
}

// golden narrows a dip between two ranges (golden section) to a share of the
// range.
func (t *table) golden(k Kind, low, high, precision float64) Fitted {
	const part = 0.6180339887498949
	a, b := high-float64(part*(high-low)), low+float64(part*(high-low))
	fa, fb := t.solve(k, a), t.solve(k, b)
	for range 60 {
		if fa.SSE <= fb.SSE {
			high, b, fb = b, a, fa
			a = high - float64(part*(high-low))
			fa = t.solve(k, a)
		} else {
			low, a, fa = a, b, fb
			b = low + float64(part*(high-low))
			fb = t.solve(k, b)
		}
		if high-low <= precision*high {
			break
		}
	}
	best := fa
	// The ends as well: the dip may be at the end of the scale.
	for _, f := range [...]Fitted{fb, t.solve(k, low), t.solve(k, high)} {
		if f.SSE < best.SSE {
			best = f
		}
	}
	return best
}

// nugget is the model without structure. Its range is the largest distance,
// for want of a meaning.
func (t *table) nugget(k Kind) Fitted {
	var sum, weights float64
	for i, l := range t.lags {
		sum += float64(t.weight[i] * l.Gamma)
		weights += t.weight[i]
	}
	f := Fitted{Model: Model{Kind: k, Nugget: sum / weights, Range: t.farthest}}
	for i, l := range t.lags {
		d := l.Gamma - f.Nugget
		f.SSE += float64(t.weight[i] * float64(d*d))
	}
	return f
}

// solve returns the best nugget and partial sill for a range.
func (t *table) solve(k Kind, a float64) Fitted {
	var weights, meanRise, meanGamma float64
	for i, l := range t.lags {
		w := t.weight[i]
		t.rise[i] = rise(k, t.squared[i]/float64(a*a))
		weights += w
		meanRise += float64(w * t.rise[i])
		meanGamma += float64(w * l.Gamma)
	}
	meanRise /= weights
	meanGamma /= weights
	var rr, rg, r2, r1g float64 // about the means, and about 0
	for i, l := range t.lags {
		w, r := t.weight[i], t.rise[i]
		dr, dg := r-meanRise, l.Gamma-meanGamma
		rr += float64(w * float64(dr*dr))
		rg += float64(w * float64(dr*dg))
		r2 += float64(w * float64(r*r))
		r1g += float64(w * float64(r*l.Gamma))
	}
	sse := func(nugget, sill float64) Fitted {
		f := Fitted{Model: Model{Kind: k, Nugget: nugget, PartialSill: sill, Range: a}}
		for i, l := range t.lags {
			d := l.Gamma - nugget - float64(sill*t.rise[i])
			f.SSE += float64(t.weight[i] * float64(d*d))
		}
		return f
	}
	if rr > 1e-13*r2 {
		sill := rg / rr
		if nugget := meanGamma - float64(sill*meanRise); sill >= 0 && nugget >= 0 {
			return sse(nugget, sill)
		}
	}
	// On the edge of what is allowed.
	pure := sse(meanGamma, 0)
	if r2 > 0 {
		if f := sse(0, r1g/r2); f.SSE < pure.SSE {
			return f
		}
	}
	return pure
}
