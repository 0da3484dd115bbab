package variogram

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"corewalk/geo/plane"
)

// Point is one figure at one place. Only figures of the same division are
// compared.
type Point struct {
	At       plane.XY // metres
	Value    float64
	Division int
}

// Estimator makes one figure of the differences of one class.
type Estimator int

const (
	// Matheron is half of the mean squared difference (Matheron 1963).
	Matheron Estimator = iota
	// CressieHawkins is the fourth power of the mean root of the differences,
	// put right for its bias under normal figures; single odd samples move it
	// less (N. Cressie, D. M. Hawkins 1980, doi:10.1007/BF01035243).
	CressieHawkins
)

// Classes says how pairs of places are put into classes. The zero value has
// the usual classes, in all directions, by Matheron.
type Classes struct {
	// Cutoff is the largest distance, in metres, of a pair that counts. 0 means
	// a third (as in gstat: 0.33333) of the diagonal of the upright rectangle
	// round all points.
	Cutoff float64
	// Width of a class in metres, 0 for a fifteenth of Cutoff. Class k has the
	// distances above k*Width up to and with (k+1)*Width.
	Width     float64
	Estimator Estimator
	// Tolerance in degrees, above 0 and at most 90: only pairs whose line lies
	// within that of Azimuth count, those on the edge included. 0 means all
	// directions.
	Azimuth, Tolerance float64
}

// Lag is one class of an experimental variogram.
type Lag struct {
	Pairs    int     `json:"pairs"`
	Distance float64 `json:"distance"` // mean of the pairs, metres
	Gamma    float64 `json:"gamma"`    // semivariance, the unit of the figures squared
	Azimuth  float64 `json:"azimuth"`  // as asked for; 0 for all directions
}

// MostClasses bounds the classes of one variogram.
const MostClasses = 10_000

// ErrNoPairs tells that no two places are near enough to be compared.
var ErrNoPairs = errors.New("no two samples of one division are near enough to each other for a variogram")

// edge is the slack of class limits, as a share: positions in metres carry
// rounding errors above float64's, and a pair on a limit must not change sides
// with the origin of the map.
const edge = 1e-9

// Experimental compares every pair of points of the same division and returns
// the classes that have a pair, the nearest first. Points in one place are a
// pair of distance 0, in the first class. A figure or position that is not
// finite is an error, and so is having no pair: ErrNoPairs.
func Experimental(points []Point, c Classes) ([]Lag, error) {
	if err := c.validate(); err != nil {
		return nil, err
	}
	sorted, err := arranged(points)
	if err != nil {
		return nil, err
	}
	c, err = c.filled(sorted)
	if err != nil {
		return nil, err
	}
	n := int(math.Ceil(c.Cutoff/c.Width*(1-edge))) + 1
	lags := make([]Lag, n)
	east, north := direction(c.Azimuth)
	_, cosine := direction(c.Tolerance)
	all := c.Tolerance == 0 || c.Tolerance == 90
	for i, p := range sorted {
		for _, q := range sorted[i+1:] {
			if q.Division != p.Division || q.At[0]-p.At[0] > c.Cutoff*(1+edge) {
				break // the points lie by division, then easting
			}
			dx, dy := q.At[0]-p.At[0], q.At[1]-p.At[1]
			h := math.Sqrt(float64(dx*dx) + float64(dy*dy))
			if h > c.Cutoff*(1+edge) {
				continue
			}
			if !all && h > 0 && math.Abs(float64(dx*east)+float64(dy*north))/h < cosine-edge {
				continue
			}
			lag := &lags[max(0, int(math.Ceil(h/c.Width*(1-edge)))-1)]
			lag.Pairs++
			lag.Distance += h
			d := math.Abs(q.Value - p.Value)
			if c.Estimator == CressieHawkins {
				lag.Gamma += math.Sqrt(d)
			} else {
				lag.Gamma += float64(d * d)
			}
		}
	}
	lags = slices.DeleteFunc(lags, func(l Lag) bool { return l.Pairs == 0 })
	if len(lags) == 0 {
		return nil, ErrNoPairs
	}
	for i := range lags {
		l := &lags[i]
		pairs := float64(l.Pairs)
		l.Azimuth = c.Azimuth
		l.Distance /= pairs
		l.Gamma /= pairs
		if c.Estimator == CressieHawkins {
			q := float64(l.Gamma * l.Gamma)
			l.Gamma = float64(q*q) / (0.457 + 0.494/pairs)
		}
		l.Gamma /= 2
	}
	return lags, nil
}

// Directions returns the classes of n directions, from c.Azimuth on round half
// the compass, each with the pairs nearest to it: a tolerance of 90/n degrees,
// whatever c.Tolerance says. Directions without a pair are missing; if all
// are, the error is ErrNoPairs.
func Directions(points []Point, c Classes, n int) ([]Lag, error) {
	if n < 1 || n > 180 {
		return nil, fmt.Errorf("variogram in %d directions: give 1 to 180", n)
	}
	first := c.Azimuth
	c.Tolerance = 90 / float64(n)
	var lags []Lag
	for i := range n {
		c.Azimuth = math.Mod(first+180*float64(i)/float64(n), 180)
		some, err := Experimental(points, c)
		if err != nil && !errors.Is(err, ErrNoPairs) {
			return nil, err
		}
		lags = append(lags, some...)
	}
	if len(lags) == 0 {
		return nil, ErrNoPairs
	}
	return lags, nil
}

func (c Classes) validate() error {
	for _, v := range [...]struct {
		name  string
		value float64
	}{{"cutoff", c.Cutoff}, {"width", c.Width}} {
		if !(v.value >= 0 && v.value <= math.MaxFloat32) {
			return fmt.Errorf("variogram: %s of %g m: give a distance above 0, or 0 for the usual one", v.name, v.value)
		}
	}
	if c.Estimator != Matheron && c.Estimator != CressieHawkins {
		return fmt.Errorf("variogram: estimator %d is not known", c.Estimator)
	}
	if !(c.Tolerance >= 0 && c.Tolerance <= 90) {
		return fmt.Errorf("variogram: tolerance of %g degrees: give above 0 and at most 90, or 0 for all directions", c.Tolerance)
	}
	if !(c.Azimuth >= 0 && c.Azimuth <= 360) {
		return fmt.Errorf("variogram: azimuth of %g degrees: give 0 to 360, clockwise from north", c.Azimuth)
	}
	return nil
}

// filled puts the usual figures for those left out.
func (c Classes) filled(points []Point) (Classes, error) {
	if len(points) < 2 {
		return c, ErrNoPairs
	}
	if c.Cutoff == 0 {
		west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, p := range points {
			west, east = min(west, p.At[0]), max(east, p.At[0])
			south, north = min(south, p.At[1]), max(north, p.At[1])
		}
		dx, dy := east-west, north-south
		c.Cutoff = math.Sqrt(float64(dx*dx)+float64(dy*dy)) * 0.33333
		if !(c.Cutoff > 0) {
			return c, ErrNoPairs
		}
	}
	if c.Width == 0 {
		c.Width = c.Cutoff / 15
	}
	if !(c.Cutoff/c.Width <= MostClasses) {
		return c, fmt.Errorf("variogram: classes of %g m up to %g m are more than %d; give a larger width", c.Width, c.Cutoff, MostClasses)
	}
	return c, nil
}

// arranged returns the points by division, easting, northing, figure.
func arranged(points []Point) ([]Point, error) {
	for _, p := range points {
		if !(math.Abs(p.At[0]) <= math.MaxFloat32 && math.Abs(p.At[1]) <= math.MaxFloat32 && math.Abs(p.Value) <= math.MaxFloat32) {
			return nil, fmt.Errorf("variogram: %g at (%g, %g) is not a figure at a place", p.Value, p.At[0], p.At[1])
		}
	}
	sorted := slices.Clone(points)
	slices.SortFunc(sorted, func(a, b Point) int {
		return cmp.Or(cmp.Compare(a.Division, b.Division), cmp.Compare(a.At[0], b.At[0]), cmp.Compare(a.At[1], b.At[1]), cmp.Compare(a.Value, b.Value))
	})
	return sorted, nil
}
