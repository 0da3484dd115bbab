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

// scratch is the working memory of one goroutine.
type scratch struct {
	squared []float64 // of every place
	nearest []float64 // the Near least of them, a heap with the largest first
}

// scratch returns working memory for divisions of up to n places.
func (m IDW) scratch(n int) *scratch {
	s := &scratch{squared: make([]float64, n)}
	if m.Near > 0 {
		s.nearest = make([]float64, 0, min(m.Near, n))
	}
	return s
}

// at predicts the figure at (x, y), without the place numbered without (-1:
// with all). There must be at least one place left; ok is false where none is
// within the radius.
func (m IDW) at(d *division, x, y float64, without int, s *scratch) (value float64, ok bool) {
	if without < 0 && m.Radius == 0 && (m.Near == 0 || m.Near >= len(d.x)) {
		return m.all(d, x, y), true
	}
	sq := s.squared[:len(d.x)]
	for i := range sq {
		sq[i] = squared(d.x[i]-x, d.y[i]-y)
	}
	if without >= 0 {
		sq[without] = math.Inf(1)
	}
	limit := math.MaxFloat64
	if m.Near > 0 {
		limit = min(s.kth(sq, m.Near)*(1+tie), limit)
	}
	if m.Radius > 0 {
		limit = min(m.Radius*m.Radius*(1+tie), limit)
	}
	var sum, weights float64
	least, largest := math.Inf(1), math.Inf(-1)
	nearest := math.Inf(1)
	for i, q := range sq {
		if q > limit {
			continue
		}
		v := d.value[i]
		w := m.weight(q)
		sum += float64(w * v)
		weights += w
		least, largest = min(least, v), max(largest, v)
		nearest = min(nearest, q)
	}
	switch {
	case math.IsInf(nearest, 1):
		return 0, false
	case nearest < samePlace*samePlace:
		return d.nearest(x, y, without, nearest), true
	}
	return min(max(sum/weights, least), largest), true
}

// tie is how far apart two squared distances, by their ratio, still count as
// equal: positions in metres carry rounding errors far above float64's.
const tie = 1e-9

// all is at with every place.
func (m IDW) all(d *division, x, y float64) float64 {
	xs, ys, values := d.x, d.y[:len(d.x)], d.value[:len(d.x)]
	var sum, weights float64
	nearest := math.Inf(1)
	for i := range xs {
		q := squared(xs[i]-x, ys[i]-y)
		w := m.weight(q)
		sum += float64(w * values[i])
		weights += w
		if q < nearest {
			nearest = q
		}
	}
	if nearest < samePlace*samePlace {
		return d.nearest(x, y, -1, nearest)
	}
	return min(max(sum/weights, d.least), d.largest)
}

// nearest is the figure of the place at the given squared distance, without
// the place numbered without; the mean, where there are several.
func (d *division) nearest(x, y float64, without int, at float64) float64 {
	var sum, n float64
	for i := range d.x {
		if i != without && squared(d.x[i]-x, d.y[i]-y) == at {
			sum += d.value[i]
			n++
		}
	}
	return sum / n
}

// weight is 1/distance^Power, from the squared distance.
func (m IDW) weight(q float64) float64 {
	switch m.Power {
	case 1:
		return 1 / math.Sqrt(q)
	case 2:
		return 1 / q
	case 3:
		return 1 / (q * math.Sqrt(q))
	case 4:
		return 1 / (q * q)
	}
	return math.Pow(q, -m.Power/2)
}

// kth returns the k-th least of the numbers, or the largest where there are
// fewer.
func (s *scratch) kth(numbers []float64, k int) float64 {
	heap := s.nearest[:0]
	for _, v := range numbers {
		if len(heap) < min(k, cap(heap)) {
			heap = append(heap, v)
			for i := len(heap) - 1; i > 0 && heap[i] > heap[(i-1)/2]; i = (i - 1) / 2 {
				heap[i], heap[(i-1)/2] = heap[(i-1)/2], heap[i]
			}
			continue
		}
		if v < heap[0] {
			heap[0] = v
			sink(heap)
		}
	}
	return heap[0]
}

// sink brings the first of the heap to its place.
func sink(heap []float64) {
	for i := 0; ; {
		c := 2*i + 1
		if c >= len(heap) {
			return
		}
		if c+1 < len(heap) && heap[c+1] > heap[c] {
			c++
		}
		if heap[i] >= heap[c] {
			return
		}
		heap[i], heap[c] = heap[c], heap[i]
		i = c
	}
}
