package interp

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"corewalk/geo/plane"
	"corewalk/interp/variogram"
)

// Kriging says how ordinary kriging is done: a figure is the weighted mean of
// those around it whose expected squared error is least under the variogram,
// the mean of the ground being unknown (G. Matheron 1963,
// doi:10.2113/gsecongeo.58.8.1246; N. Cressie 1993, section 3.2).
type Kriging struct {
	Variogram variogram.Model
	// Near is the number of nearest places that count; 0 means every place of
	// the division. Places as far off as the last of them count as well.
	// Nearness is plain distance, whatever the anisotropy.
	Near int
	// Radius in metres beyond which no place counts; 0 for any distance. Where
	// there is none within it, there is no figure.
	Radius float64
}

// Validate says what is wrong with the settings.
func (k Kriging) Validate() error {
	if err := k.Variogram.Validate(); err != nil {
		return fmt.Errorf("kriging: %w", err)
	}
	if k.Near < 0 {
		return fmt.Errorf("kriging: %d neighbours: give the number of nearest samples, or 0 for all", k.Near)
	}
	if !(k.Radius >= 0) || math.IsInf(k.Radius, 1) {
		return fmt.Errorf("kriging: radius of %g m: give a distance above 0, or 0 for any", k.Radius)
	}
	return nil
}

// MostTogether is the largest number of places that are kriged from at once;
// the work of preparing that grows with its third power.
const MostTogether = 3000

// leastNugget is the nugget, as a share of the sill, that is added where places
// are too near to each other for the model.
const leastNugget = 1e-6

// KrigingModel kriges the samples of one analyte in one field. It is not
// changed by its use, and can be used from several goroutines at once.
type KrigingModel struct {
	kriging     Kriging
	covariances variogram.Covariances
	added       float64
	divisions   []kriged
	places      [][]place   // of the divisions
	byIndex     map[int]int // division of a sample -> place in divisions
}

// kriged is one division: its places by easting, then northing, and the system
// of all of them, nil where neighbours are chosen for each figure.
type kriged struct {
	x, y, value []float64
	all         *system
}

// NewKriging prepares the kriging. Samples of one division within a millimetre
// of each other are one place with their mean as its figure. A sample that is
// not a finite figure at a finite place in a division is an error, and so is
// having none: ErrNoSamples. More than MostTogether places of a division are an
// error where Near and Radius leave it at all of them. The samples are not
// changed.
//
// Where places are so near to each other that the model sees no difference (a
// Gaussian one without a nugget, mostly), the equations have no answer but
// rounding errors. Then a nugget of a millionth of the sill is added to the
// model: see AddedNugget. With neighbours and more than MostTogether places in
// a division that is not tried, and every model has such a nugget.
func NewKriging(samples []Sample, k Kriging) (*KrigingModel, error) {
	if err := k.Validate(); err != nil {
		return nil, err
	}
	indices, places, err := placesOf(samples)
	if err != nil {
		return nil, err
	}
	m := &KrigingModel{kriging: k, places: places, byIndex: map[int]int{}}
	for i, of := range places {
		var d kriged
		for _, p := range of {
			d.x, d.y, d.value = append(d.x, p.x), append(d.y, p.y), append(d.value, p.value)
		}
		if m.together(len(of)) && len(of) > MostTogether {
			return nil, fmt.Errorf("kriging from all of %d samples at once: give the number of nearest ones that count, or a radius; at most %d go together", len(of), MostTogether)
		}
		m.byIndex[indices[i]] = i
		m.divisions = append(m.divisions, d)
	}
	if !m.prepare() {
		sill := m.kriging.Variogram.Sill()
		m.added = float64(leastNugget * sill)
		m.kriging.Variogram.Nugget += m.added
		if !m.prepare() {
			return nil, fmt.Errorf("kriging: samples are too near to each other for a %s variogram of range %g m; give it a larger nugget", k.Variogram.Kind, k.Variogram.Range)
		}
	}
	return m, nil
}

// placesOf returns the places of every division that has a sample, by the
// index of the division.
func placesOf(samples []Sample) (indices []int, places [][]place, err error) {
	if len(samples) == 0 {
		return nil, nil, ErrNoSamples
	}
	grouped := map[int][]Sample{}
	for _, s := range samples {
		if err := s.validate(); err != nil {
			return nil, nil, err
		}
		grouped[s.Division] = append(grouped[s.Division], s)
	}
	indices = slices.Sorted(maps.Keys(grouped))
	for _, i := range indices {
		places = append(places, merge(grouped[i]))
	}
	return indices, places, nil
}

// together reports whether every place of a division of n counts for every
// figure.
func (m *KrigingModel) together(n int) bool {
	return m.kriging.Radius == 0 && (m.kriging.Near == 0 || m.kriging.Near >= n)
}

// prepare factors the divisions; it tells false where one cannot be.
func (m *KrigingModel) prepare() bool {
	v := m.kriging.Variogram
	m.covariances = variogram.NewCovariances(v)
	for i := range m.divisions {
		d := &m.divisions[i]
		// With neighbours the factor of all tells that those of any of them
		// will do. A nugget tells it as well.
		neighbours := !m.together(len(d.x))
		if neighbours && v.Nugget >= leastNugget*v.Sill()/2 {
			continue
		}
		if len(d.x) > MostTogether {
			return false
		}
		s := m.system()
		if !s.factor(d.x, d.y, d.value) {
			return false
		}
		if !neighbours {
			s.finish()
			d.all = s
		}
	}
	return true
}

func (m *KrigingModel) system() *system {
	return &system{covariances: m.covariances, zero: m.kriging.Variogram.Sill()}
}

// AddedNugget is what NewKriging added to the nugget of the model, mostly 0.
func (m *KrigingModel) AddedNugget() float64 { return m.added }

// At returns the figure at a place in metres, from the samples of the given
// division alone; ok is false where the division has none, or none within the
// radius, and for a place that is not on the map. Within a millimetre of a
// sample it is the sample's figure. Elsewhere it can leave the range of the
// samples: weights can be below 0. It does not depend on the order of the
// samples.
func (m *KrigingModel) At(p plane.XY, division int) (value float64, ok bool) {
	d := m.division(p, division)
	if d == nil {
		return 0, false
	}
	if d.all != nil {
		if i := d.datum(p.X(), p.Y()); i >= 0 {
			return d.value[i], true
		}
		return d.all.at(p.X(), p.Y()), true
	}
	value, _, ok = m.neighbours(d, p.X(), p.Y(), -1, &krigingScratch{})
	return value, ok
}

// AtWithError returns At and the kriging standard error, in the unit of the
// figures: what to expect of the difference to a new sample there, if the
// variogram is right. It is 0 within a millimetre of a sample, where the figure
// is that of the sample: the nugget is a jump.
func (m *KrigingModel) AtWithError(p plane.XY, division int) (value, standardError float64, ok bool) {
	d := m.division(p, division)
	if d == nil {
		return 0, 0, false
	}
	s := &krigingScratch{}
	if d.all == nil {
		return m.neighbours(d, p.X(), p.Y(), -1, s)
	}
	if i := d.datum(p.X(), p.Y()); i >= 0 {
		return d.value[i], 0, true
	}
	v := make([]float64, len(d.x))
	d.all.covariances.Between(v, p.X(), p.Y(), d.x, d.y)
	value = d.all.value(v)
	d.all.forward(v)
	return value, d.all.standardError(v), true
}

func (m *KrigingModel) division(p plane.XY, division int) *kriged {
	i, ok := m.byIndex[division]
	if !ok || !(math.Abs(p.X()) <= farthest && math.Abs(p.Y()) <= farthest) {
		return nil
	}
	return &m.divisions[i]
}

// datum returns the number of the place within a millimetre of (x, y), the
// nearest where there are two, and -1 where there is none.
func (d *kriged) datum(x, y float64) int {
	found, least := -1, float64(samePlace*samePlace)
	ys := d.y[:len(d.x)]
	for i, px := range d.x {
		if q := squared(px-x, ys[i]-y); q < least {
			found, least = i, q
		}
	}
	return found
}
