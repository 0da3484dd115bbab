package interp

import (
	"math"
	"slices"
)

// krigingScratch is the working memory of one goroutine.
type krigingScratch struct {
	v       [4][]float64 // of four pixels at once
	squared []float64    // to every place
	nearest []float64    // the least of them, in order
	set     []int        // the places that count
	// The system of the last set, and its places.
	system      *system
	division    *kriged
	last        []int
	x, y, value []float64
}

// equallyFar is how far apart two squared distances, by their ratio, still
// count as equal: positions in metres carry rounding errors far above
// float64's.
const equallyFar = 1e-9

// neighbours predicts at (x, y) from the places that count there, without the
// place numbered without (-1: with all).
func (m *KrigingModel) neighbours(d *kriged, x, y float64, without int, s *krigingScratch) (value, standardError float64, ok bool) {
	if without < 0 {
		if i := d.datum(x, y); i >= 0 {
			return d.value[i], 0, true
		}
	}
	s.choose(m.kriging, d, x, y, without)
	if len(s.set) == 0 {
		return 0, 0, false
	}
	if s.division != d || !slices.Equal(s.set, s.last) {
		s.division, s.last = nil, append(s.last[:0], s.set...)
		s.x, s.y, s.value = s.x[:0], s.y[:0], s.value[:0]
		for _, i := range s.set {
			s.x, s.y, s.value = append(s.x, d.x[i]), append(s.y, d.y[i]), append(s.value, d.value[i])
		}
		if s.system == nil {
			s.system = m.system()
		}
		if !s.system.factor(s.x, s.y, s.value) {
			return 0, 0, false
		}
		s.division = d
	}
	v := grown(s.v[0], len(s.set))
	s.v[0] = v
	s.system.covariances.Between(v, x, y, s.x, s.y)
	s.system.forward(v)
	return s.system.local(v), s.system.standardError(v), true
}

// choose fills set.
func (s *krigingScratch) choose(k Kriging, d *kriged, x, y float64, without int) {
	s.squared = grown(s.squared, len(d.x))
	sq := s.squared
	ys := d.y[:len(d.x)]
	for i, px := range d.x {
		sq[i] = squared(px-x, ys[i]-y)
	}
	if without >= 0 {
		sq[without] = math.Inf(1)
	}
	limit := math.MaxFloat64
	if k.Near > 0 {
		near := s.nearest[:0]
		for _, q := range sq {
			if len(near) == k.Near {
				if q >= near[k.Near-1] {
					continue
				}
				near = near[:k.Near-1]
			}
			i, _ := slices.BinarySearch(near, q)
			near = slices.Insert(near, i, q)
		}
		s.nearest = near
		limit = min(limit, near[len(near)-1]*(1+equallyFar))
	}
	if k.Radius > 0 {
		limit = min(limit, float64(k.Radius*k.Radius)*(1+equallyFar))
	}
	s.set = s.set[:0]
	for i, q := range sq {
		if q <= limit {
			s.set = append(s.set, i)
		}
	}
}
