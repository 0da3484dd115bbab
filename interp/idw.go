package interp

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"corewalk/geo/plane"
)

// IDW says how inverse distance weighting is done: a figure is the mean of
// those around it, each weighted with 1/distance^Power (Shepard 1968,
// doi:10.1145/800186.810616).
type IDW struct {
	Power float64 // above 0, at most 20
	// Near is the number of nearest places that count; 0 means every place of
	// the division. Places as far off as the last of them count as well.
	Near int
	// Radius in metres beyond which no place counts; 0 for any distance. Where
	// there is none within it, there is no figure.
	Radius float64
}

// MaxPower is the largest power taken; a surface of that power is already one
// of plain steps between the samples.
const MaxPower = 20

// Validate says what is wrong with the settings.
func (m IDW) Validate() error {
	if !(m.Power > 0 && m.Power <= MaxPower) {
		return fmt.Errorf("power %g: give a number above 0 and at most %d; 2 is usual", m.Power, MaxPower)
	}
	if m.Near < 0 {
		return fmt.Errorf("%d neighbours: give the number of nearest samples, or 0 for all", m.Near)
	}
	if !(m.Radius >= 0) || math.IsInf(m.Radius, 1) {
		return fmt.Errorf("radius of %g m: give a distance above 0, or 0 for any", m.Radius)
	}
	return nil
}

// ErrNoSamples tells that there was nothing to interpolate.
var ErrNoSamples = errors.New("no sample has a figure to interpolate")

// Model interpolates the samples of one analyte in one field. It is not
// changed by its use, and can be used from several goroutines at once.
type Model struct {
	idw       IDW
	divisions []division
	byIndex   map[int]int // division of a sample -> place in divisions
	tried     []leftOut   // what the settings were chosen from; none where they were given
}

// division holds the places of one division by easting, then northing; the
// order of the sums, and with it every bit of the answer, hangs on it.
type division struct {
	x, y, value    []float64
	ids            []string
	least, largest float64
}

// NewModel prepares the interpolation. Samples of one division within a
// millimetre of each other are one place with their mean as its figure. A
// sample that is not a finite figure at a finite place in a division is an
// error, and so is having none: ErrNoSamples. The samples are not changed.
func NewModel(samples []Sample, idw IDW) (*Model, error) {
	if err := idw.Validate(); err != nil {
		return nil, err
	}
	if len(samples) == 0 {
		return nil, ErrNoSamples
	}
	grouped := map[int][]Sample{}
	for _, s := range samples {
		if err := s.validate(); err != nil {
			return nil, err
		}
		grouped[s.Division] = append(grouped[s.Division], s)
	}
	m := &Model{idw: idw, byIndex: map[int]int{}}
	for i, index := range slices.Sorted(maps.Keys(grouped)) {
		m.byIndex[index] = i
		m.divisions = append(m.divisions, newDivision(merge(grouped[index])))
	}
	return m, nil
}

func newDivision(places []place) division {
	d := division{least: math.Inf(1), largest: math.Inf(-1)}
	for _, p := range places {
		d.x, d.y = append(d.x, p.x), append(d.y, p.y)
		d.value = append(d.value, p.value)
		d.ids = append(d.ids, p.id())
		d.least, d.largest = min(d.least, p.value), max(d.largest, p.value)
	}
	return d
}

// At returns the figure at a place in metres, from the samples of the given
// division alone; ok is false where the division has none, and for a place
// that is not on the map. Within a millimetre of a sample it is the sample's
// figure. It never leaves the range of the samples, and does not depend on
// their order.
func (m *Model) At(p plane.XY, division int) (value float64, ok bool) {
	i, ok := m.byIndex[division]
	if !ok || !(math.Abs(p.X()) <= farthest && math.Abs(p.Y()) <= farthest) {
		return 0, false
	}
	d := &m.divisions[i]
	return m.idw.at(d, p.X(), p.Y(), -1, m.idw.scratch(len(d.x)))
}

// scratch is the working memory for figures at single places.
type scratch struct{ squared, values, heap []float64 }

// scratch returns working memory for divisions of up to n places.
func (m IDW) scratch(n int) *scratch {
	s := &scratch{squared: make([]float64, n), values: make([]float64, n)}
	if m.Near < n {
		s.heap = make([]float64, m.Near)
	}
	return s
}

// at predicts the figure at (x, y), without the place numbered without (-1:
// with all). There must be at least one place left; ok is false where none is
// within the radius.
func (m IDW) at(d *division, x, y float64, without int, s *scratch) (value float64, ok bool) {
	q := s.squared[:len(d.x)]
	distances(q, d.x, d.y, x, y)
	if without >= 0 {
		q[without] = math.Inf(1)
	}
	limit := m.limit(math.Inf(1))
	if m.Near > 0 && m.Near < len(q) {
		limit = m.limit(kth(q, m.Near, s.heap))
	}
	n := 0
	least, largest, nearest := math.Inf(1), math.Inf(-1), math.Inf(1)
	for i, v := range q {
		if v > limit {
			continue
		}
		q[n], s.values[n] = v, d.value[i]
		least, largest = min(least, d.value[i]), max(largest, d.value[i])
		nearest = min(nearest, v)
		n++
	}
	q = q[:n]
	switch {
	case n == 0:
		return 0, false
	case nearest < samePlace*samePlace:
		return onPlace(q, s.values, nearest), true
	}
	total := m.weights(q)
	return min(max(product(q, s.values)/total, least), largest), true
}

// tie is how far apart two squared distances, by their ratio, still count as
// equal: positions in metres carry rounding errors far above float64's.
const tie = 1e-9
