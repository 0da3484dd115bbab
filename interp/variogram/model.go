package variogram

import (
	"fmt"
	"math"
	"strings"
)

// Kind is the shape of the structured part of a model.
type Kind string

const (
	Spherical   Kind = "spherical"   // 1.5 h/a - 0.5 (h/a)^3 up to the range a, then 1
	Exponential Kind = "exponential" // 1 - exp(-h/a); 95 % of the sill at 3 a
	Gaussian    Kind = "gaussian"    // 1 - exp(-(h/a)^2); 95 % of the sill at 1.73 a
)

// Kinds returns every kind, in the order in which they are tried.
func Kinds() []Kind { return []Kind{Spherical, Exponential, Gaussian} }

// Model is a nugget and one structure. Parameters are those of R's gstat. The
// nugget is a jump at distance 0: two samples in one place are the same, two
// places however near differ by it.
type Model struct {
	Kind        Kind    `json:"kind"`
	Nugget      float64 `json:"nugget"`       // 0 or more
	PartialSill float64 `json:"partial_sill"` // 0 or more; the sill is Nugget + PartialSill
	// Range is the a of the kinds, in metres, above 0; with anisotropy, that of
	// the direction in which it is longest. It has no meaning where
	// PartialSill is 0.
	Range float64 `json:"range"`
	// Azimuth of the longest range, degrees clockwise from north, 0 to below
	// 360, and Ratio of the range across it to that along it, above 0 and at
	// most 1 (geometric anisotropy, Isaaks & Srivastava 1989, ch. 16; gstat's
	// anis = c(Azimuth, Ratio)). A ratio of 0 stands for 1: the same in every
	// direction.
	Azimuth float64 `json:"azimuth,omitempty"`
	Ratio   float64 `json:"ratio,omitempty"`
}

// SmallestRatio is the least ratio of ranges that is taken.
const SmallestRatio = 1e-3

// Validate says what is wrong with the parameters.
func (m Model) Validate() error {
	finite := func(v float64) bool { return v >= 0 && v <= math.MaxFloat32*math.MaxFloat32 }
	switch {
	case m.Kind != Spherical && m.Kind != Exponential && m.Kind != Gaussian:
		var names []string
		for _, k := range Kinds() {
			names = append(names, string(k))
		}
		return fmt.Errorf("variogram model %q is not known; give one of %s", m.Kind, strings.Join(names, ", "))
	case !finite(m.Nugget):
		return fmt.Errorf("variogram model: nugget %g: give 0 or more", m.Nugget)
	case !finite(m.PartialSill):
		return fmt.Errorf("variogram model: partial sill %g: give 0 or more", m.PartialSill)
	case m.Nugget+m.PartialSill == 0:
		return fmt.Errorf("variogram model: nugget and partial sill are both 0; nothing would vary")
	case m.PartialSill > 0 && !(m.Range >= 1e-6 && m.Range <= math.MaxFloat32):
		return fmt.Errorf("variogram model: range of %g m: give a distance above 0", m.Range)
	case !(m.Ratio == 0 || m.Ratio >= SmallestRatio && m.Ratio <= 1):
		return fmt.Errorf("variogram model: ratio %g of the ranges: give shorter over longer, %g to 1", m.Ratio, SmallestRatio)
	case !(m.Azimuth >= 0 && m.Azimuth < 360):
		return fmt.Errorf("variogram model: azimuth of %g degrees: give 0 to below 360, clockwise from north", m.Azimuth)
	}
	return nil
}

// Isotropic reports whether the direction has no say.
func (m Model) Isotropic() bool { return m.Ratio == 0 || m.Ratio == 1 }

// Sill is the variance of the figures: nugget and partial sill.
func (m Model) Sill() float64 { return m.Nugget + m.PartialSill }

// Gamma is the semivariance of two places dx metres apart to the east and dy
// to the north; 0 for the same place. The model must be valid.
func (m Model) Gamma(dx, dy float64) float64 {
	if dx == 0 && dy == 0 {
		return 0
	}
	return m.Nugget + float64(m.PartialSill*rise(m.Kind, newMetric(m).squared(dx, dy)))
}

// Covariance is Sill less Gamma.
func (m Model) Covariance(dx, dy float64) float64 {
	if dx == 0 && dy == 0 {
		return m.Sill()
	}
	return m.PartialSill * fall(m.Kind, newMetric(m).squared(dx, dy))
}

// Covariances gives the covariances of a model between many places. It is a
// value that does not change.
type Covariances struct {
	kind   Kind
	sill   float64 // of the structure
	metric metric
}

// NewCovariances prepares a valid model.
func NewCovariances(m Model) Covariances {
	return Covariances{m.Kind, m.PartialSill, newMetric(m)}
}

// Between writes the covariances between the place (x, y) and the first of the
// places xs, ys into out, as many as out holds. Every one of them counts as
// another place than (x, y), so that the nugget has no part in it.
func (c Covariances) Between(out []float64, x, y float64, xs, ys []float64) {
	if c.sill == 0 {
		clear(out)
		return
	}
	xs, ys = xs[:len(out)], ys[:len(out)]
	for i := range out {
		out[i] = c.sill * fall(c.kind, c.metric.squared(xs[i]-x, ys[i]-y))
	}
}

// metric measures distances as shares of the range in their direction.
type metric struct {
	eastAlong, northAlong, eastAcross, northAcross float64
}

// newMetric returns the metric of a valid model; of one without structure, the
// one of a range of a metre.
func newMetric(m Model) metric {
	a := m.Range
	if m.PartialSill == 0 {
		a = 1
	}
	if m.Isotropic() {
		return metric{eastAlong: 1 / a, northAcross: 1 / a}
	}
	east, north := direction(m.Azimuth)
	b := a * m.Ratio
	return metric{east / a, north / a, north / b, -east / b}
}

// squared is the square of the distance dx, dy as a share of the range.
func (t metric) squared(dx, dy float64) float64 {
	u := float64(dx*t.eastAlong) + float64(dy*t.northAlong)
	v := float64(dx*t.eastAcross) + float64(dy*t.northAcross)
	return float64(u*u) + float64(v*v)
}

// fall is the correlation at a squared share q of the range.
func fall(k Kind, q float64) float64 {
	switch k {
	case Gaussian:
		return exponential(q)
	case Exponential:
		return exponential(math.Sqrt(q))
	}
	if q >= 1 {
		return 0
	}
	h := math.Sqrt(q)
	// (1-h)^2 (2+h) / 2, which is 1 - 1.5 h + 0.5 h^3 without its loss of
	// digits towards the range.
	return float64((1-h)*(1-h)) * (1 + h/2)
}

// rise is 1 - fall, with all its digits near 0.
func rise(k Kind, q float64) float64 {
	switch {
	case k != Spherical:
		if k == Exponential {
			q = math.Sqrt(q)
		}
		if q < 1e-3 {
			return q * (1 - float64(q/2*(1-float64(q/3*(1-float64(q/4*(1-q/5)))))))
		}
		return 1 - exponential(q)
	case q >= 1:
		return 1
	}
	h := math.Sqrt(q)
	return h * (1.5 - 0.5*q)
}
