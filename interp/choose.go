package interp

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

var inf = math.Inf(1)

// Choice says which settings of inverse distance weighting are left to the
// figures.
type Choice struct{ Power, Near, Radius bool }

// Any reports whether something is.
func (c Choice) Any() bool { return c.Power || c.Near || c.Radius }

// What is chosen from, the smoother first.
var (
	someOfPower = []float64{1, 1.5, 2, 2.5, 3, 4}
	someOfNear  = []int{0, 24, 16, 12, 8, 6, 4}
)

const (
	// manyPlaces is the number of places from which on every place is not tried
	// as the neighbourhood: what lies far off adds nothing but time.
	manyPlaces = 500
	// fewestWithin is the number of others that each place must have within a
	// radius for it to be tried: sums of residuals over different places cannot
	// be compared, and a surface should not fall into holes.
	fewestWithin = 3
)

// NewChosenModel is NewModel with some settings chosen by leaving out one place
// at a time: those with the least sum of squared residuals, of equal ones the
// smoother, which is that of the lower power, then of more neighbours, then of
// the wider radius. Powers tried are 1, 1.5, 2, 2.5, 3 and 4; neighbourhoods 4,
// 6, 8, 12, 16, 24 and all places (these up to 500 places); radii 1.5, 2, 3
// and 5 times that within which every place has three others, and none at all.
// With both left to choice, radii are tried with all places.
// Settings not left to choice are taken from idw. The Structure of the model's
// cross-validation takes the choice into account.
func NewChosenModel(samples []Sample, idw IDW, choice Choice) (*Model, error) {
	m, err := NewModel(samples, idw)
	if err != nil || !choice.Any() {
		return m, err
	}
	near := m.neighbours()
	values, least := centred(m.divisions), inf
	for _, settings := range m.candidates(choice, near) {
		tried := newLeftOut(m.divisions, near, settings)
		m.tried = append(m.tried, tried)
		sums := make([]float64, len(settings))
		tried.sse(values, sums)
		for i, sse := range sums {
			if sse < least*(1-1e-9) {
				m.idw, least = settings[i], sse
			}
		}
	}
	return m, nil
}

// Settings returns the settings of the model, those chosen among them.
func (m *Model) Settings() IDW { return m.idw }

// candidates lists the settings to try, one list to a power; the smoother come
// first.
func (m *Model) candidates(choice Choice, near [][]neighbours) [][]IDW {
	most := 0
	for i := range m.divisions {
		most = max(most, len(m.divisions[i].x))
	}
	powers, nears, radii := []float64{m.idw.Power}, []int{m.idw.Near}, []float64{m.idw.Radius}
	if choice.Power {
		powers = someOfPower
	}
	if choice.Near {
		nears = nil
		for _, n := range someOfNear {
			// As many as there are, or more, is the same as all.
			if n == 0 && (most <= manyPlaces || choice.Radius) || n > 0 && n < most-1 {
				nears = append(nears, n)
			}
		}
	}
	if choice.Radius {
		radii = []float64{0}
		if r := widest(near); r > 0 {
			for _, times := range []float64{5, 3, 2, 1.5} {
				radii = append(radii, times*r)
			}
		}
	}
	out := make([][]IDW, len(powers))
	for i, p := range powers {
		for _, n := range nears {
			for _, r := range radii {
				if choice.Near && n > 0 && choice.Radius && r > 0 {
					continue
				}
				out[i] = append(out[i], IDW{Power: p, Near: n, Radius: r})
			}
		}
	}
	return out
}

// widest returns the radius within which each place has fewestWithin others, or
// all of its division's.
func widest(near [][]neighbours) float64 {
	var r float64
	for _, places := range near {
		for _, n := range places {
			if k := min(fewestWithin, len(n.squared)); k > 0 {
				r = max(r, n.squared[k-1])
			}
		}
	}
	return math.Sqrt(r)
}

// neighbours returns for each place of each division the others by distance.
func (m *Model) neighbours() [][]neighbours {
	out := make([][]neighbours, len(m.divisions))
	for i := range m.divisions {
		d := &m.divisions[i]
		for k := range d.x {
			n := neighbours{squared: make([]float64, 0, len(d.x)-1)}
			at := make([]float64, len(d.x))
			for j := range d.x {
				if j != k {
					n.of = append(n.of, int32(j))
					at[j] = squared(d.x[j]-d.x[k], d.y[j]-d.y[k])
				}
			}
			slices.SortFunc(n.of, func(a, b int32) int { return cmp.Or(cmp.Compare(at[a], at[b]), cmp.Compare(a, b)) })
			for _, j := range n.of {
				n.squared = append(n.squared, at[j])
			}
			out[i] = append(out[i], n)
		}
	}
	return out
}

// String writes the settings for a person.
func (m IDW) String() string {
	text := fmt.Sprintf("power %g, ", m.Power)
	if m.Near > 0 {
		text += fmt.Sprintf("%d nearest", m.Near)
	} else {
		text += "all composites"
	}
	if m.Radius > 0 {
		text += fmt.Sprintf(" within %.0f m", m.Radius)
	}
	return text
}
