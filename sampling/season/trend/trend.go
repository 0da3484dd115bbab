// Package trend compares the seasons of a farm on common ground, over results
// that can be compared, and says which changes can be told from noise.
package trend

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"corewalk/sampling/season"
)

// Options are the choices of a comparison; the zero value takes the defaults.
type Options struct {
	// Confidence of all intervals, above 0 and below 1; 0 for 0.95.
	Confidence float64
	// Noise that is known, by analyte. What is not given is estimated.
	Noise map[string]Noise
	// LeastShare is the part of a unit's ground, above 0 and up to 1, that an
	// earlier season must have figures of; 0 for a half.
	LeastShare float64
	// Near is how far apart, in true metres, composites without a sampling unit may
	// have been taken to count as of one place; 0 for 15.
	Near float64
}

// Noise is the standard deviation of the figure of one composite round the mean
// of its ground: of taking cores, mixing, splitting and of the lab.
type Noise struct {
	SD       float64
	Relative bool    // SD is a share of the figure
	DF       float64 // degrees of freedom that SD was estimated with; infinite where it was given
	How      string  // where it comes from, in words
}

// at is the standard deviation of a figure.
func (n Noise) at(value float64) float64 {
	if n.Relative {
		return n.SD * math.Abs(value)
	}
	return n.SD
}

// Key tells results apart that cannot be compared.
type Key struct {
	Field, Analyte, Unit, Method, Depth string
}

// Point is the figure of one ground in one season.
type Point struct {
	Season   string
	Years    float64 // since the first season, by the dates; NaN where one has no date
	Value    float64
	Share    float64  // of the ground that has a figure in this season
	Samples  []string // the composites that it comes from
	Censored bool     // some of them are limits of the lab
	Lab      string

	variance float64
	sources  []source
}

// source is a ground and its weight in a figure.
type source struct {
	*ground
	weight float64
}

// Change is a difference or a slope with its interval.
type Change struct {
	From, To            string // seasons; of a slope, the first and the last
	Estimate, Low, High float64
	SE                  float64
}

// Told reports whether the interval excludes no change.
func (c *Change) Told() bool { return c != nil && (c.Low > 0 || c.High < 0) }

// Series is what became of one ground, or with an empty Sample of the field as
// far as all of it can be compared.
type Series struct {
	Key
	Sample     string // of the latest season
	UnitNumber int
	Part       string // management unit or problem area
	Area       float64
	Points     []Point // in the order of the seasons
	Noise      Noise
	Since      *Change // the last season against the one before; nil without two
	Overall    *Change // against the first; nil where that is the one before
	Slope      *Change // to a year, over three dated seasons or more
	Notes      []string
}

// Comparison is what seasons say together.
type Comparison struct {
	Units  []Series // of grounds, by field and unit
	Fields []Series
	Apart  []string // what was not compared, and why
}

// Compare compares seasons, which are given from the earliest to the latest. Only
// figures of one analyte, unit, method and depth are held together. The grounds
// are those of the latest season with such figures; an earlier figure of a ground
// is the mean of the composites of that season that lie on it, weighted by the
// area that they share with it.
//
// The variance of a figure is that of its composites' noise and, where earlier
// units were other ones, that of the difference between means of ground that is
// only partly the same: the share that is not common times the variance between
// grounds. An error that a lab makes alike in all samples of a season is in no
// interval: no record of samples can tell it from a change.
//
// It fails on an observation of a season that is not in the list, on coordinates
// that no frame holds, and on options out of range.
func Compare(seasons []season.Season, observations []season.Observation, o Options) (*Comparison, error) {
	if o.Confidence == 0 {
		o.Confidence = 0.95
	}
	if o.LeastShare == 0 {
		o.LeastShare = 0.5
	}
	if o.Near == 0 {
		o.Near = 15
	}
	if !(o.Confidence > 0 && o.Confidence < 1) || !(o.LeastShare > 0 && o.LeastShare <= 1) || !(o.Near > 0) || math.IsInf(o.Near, 0) {
		return nil, fmt.Errorf("confidence %g, least share %g or distance %g m is out of range", o.Confidence, o.LeastShare, o.Near)
	}
	c := comparer{Options: o, order: map[string]int{}, years: yearsOf(seasons), seasons: seasons}
	for i, s := range seasons {
		c.order[s.Name] = i
	}
	streams, err := c.streams(observations)
	if err != nil {
		return nil, err
	}
	out := &Comparison{Apart: apart(streams, c.order)}
	for _, s := range streams {
		if len(s.bySeason) < 2 {
			continue
		}
		if err := c.match(s); err != nil {
			return nil, fmt.Errorf("field %s, %s: %w", s.Field, s.Analyte, err)
		}
	}
	c.noise(streams)
	for _, s := range streams {
		if len(s.bySeason) < 2 {
			continue
		}
		c.weigh(s)
		for i := range s.series {
			c.judge(&s.series[i])
		}
		out.Units = append(out.Units, s.series...)
		out.Fields = append(out.Fields, c.whole(s))
	}
	return out, nil
}

type comparer struct {
	Options
	seasons []season.Season
	order   map[string]int
	years   []float64
}

// yearsOf returns the years from the first season to each, NaN where a date is
// missing or cannot be read.
func yearsOf(seasons []season.Season) []float64 {
	out := make([]float64, len(seasons))
	var first time.Time
	for i, s := range seasons {
		t, err := time.Parse("2006-01-02", s.Date)
		if i == 0 {
			first = t
		}
		out[i] = math.NaN()
		if err == nil && !first.IsZero() {
			out[i] = t.Sub(first).Hours() / 24 / 365.2425
		}
	}
	return out
}

// stream is what can be compared: one analyte of one field by one method and
// depth.
type stream struct {
	Key
	bySeason map[int][]*ground // by place of the season in the list
	units    map[unit][]*ground
	series   []Series
	noise    Noise
	between  map[int]float64 // variance between grounds, by season
}

func (s *stream) order() []int {
	var out []int
	for i := range s.bySeason {
		out = append(out, i)
	}
	slices.Sort(out)
	return out
}

func (c *comparer) streams(observations []season.Observation) ([]*stream, error) {
	byKey := map[Key]*stream{}
	var out []*stream
	for i := range observations {
		x := &observations[i]
		at, known := c.order[x.Season]
		if !known {
			return nil, fmt.Errorf("sample %s is of a season %q that is not there", x.Sample, x.Season)
		}
		if math.IsNaN(x.Value) || math.IsInf(x.Value, 0) {
			continue
		}
		k := Key{x.Field, x.Analyte, x.Unit, x.Method, x.Depth}
		s := byKey[k]
		if s == nil {
			s = &stream{Key: k, bySeason: map[int][]*ground{}, units: map[unit][]*ground{}, between: map[int]float64{}}
			byKey[k] = s
			out = append(out, s)
		}
		s.add(at, x)
	}
	slices.SortFunc(out, func(a, b *stream) int {
		return cmp.Or(cmp.Compare(a.Field, b.Field), cmp.Compare(a.Analyte, b.Analyte), cmp.Compare(a.Method, b.Method), cmp.Compare(a.Depth, b.Depth), cmp.Compare(a.Unit, b.Unit))
	})
	return out, nil
}

// apart says what is kept apart.
func apart(streams []*stream, order map[string]int) []string {
	var out []string
	for i, s := range streams {
		for _, t := range streams[i+1:] {
			if s.Field != t.Field || s.Analyte != t.Analyte {
				continue
			}
			why := ""
			differ := func(what, a, b string) {
				if a != b {
					if why != "" {
						why += "; "
					}
					why += fmt.Sprintf("%s %s and %s", what, or(a, "unknown"), or(b, "unknown"))
				}
			}
			differ("method", s.Method, t.Method)
			differ("depth", s.Depth, t.Depth)
			differ("unit", s.Unit, t.Unit)
			out = append(out, fmt.Sprintf("%s in %s: %s are not compared", s.Analyte, s.Field, why))
		}
	}
	return out
}

func or(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// judge makes the changes of a series.
func (c *comparer) judge(s *Series) {
	n := len(s.Points)
	if n < 2 || !(s.Noise.SD > 0) {
		return
	}
	last := &s.Points[n-1]
	s.Since = c.change(s, &s.Points[n-2], last)
	if n > 2 {
		s.Overall = c.change(s, &s.Points[0], last)
	}
	s.Slope = c.slope(s)
	labs, unnamed, censored := false, false, false
	for i := range s.Points {
		p := &s.Points[i]
		unnamed = unnamed || p.Lab == ""
		labs = labs || i > 0 && p.Lab != "" && s.Points[i-1].Lab != "" && p.Lab != s.Points[i-1].Lab
		censored = censored || p.Censored
		if p.Share < 0.995 {
			s.Notes = append(s.Notes, fmt.Sprintf("in %s, %.0f %% of the ground has figures", p.Season, 100*p.Share))
		}
	}
	switch {
	case labs:
		s.Notes = append(s.Notes, "the lab changed: a step may be the lab's")
	case unnamed:
		s.Notes = append(s.Notes, "a lab is not named: it may have changed")
	}
	if censored {
		s.Notes = append(s.Notes, "some figures are limits of the lab")
	}
}

// t is the two-sided quantile for a noise.
func (c *comparer) t(n Noise) float64 {
	p := 0.5 + c.Confidence/2
	if math.IsInf(n.DF, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n.DF}.Quantile(p)
}

func (c *comparer) interval(from, to string, estimate, variance float64, n Noise) *Change {
	se := math.Sqrt(variance)
	half := c.t(n) * se
	return &Change{From: from, To: to, Estimate: estimate, Low: estimate - half, High: estimate + half, SE: se}
}

func (c *comparer) change(s *Series, from, to *Point) *Change {
	return c.interval(from.Season, to.Season, to.Value-from.Value, from.variance+to.variance, s.Noise)
}

// slope is that of the line through the points, each weighted by its variance;
// nil where there are fewer than three with dates.
func (c *comparer) slope(s *Series) *Change {
	coefficients, ok := slopeWeights(s.Points)
	if !ok {
		return nil
	}
	estimate, variance := 0.0, 0.0
	for i, k := range coefficients {
		estimate += k * s.Points[i].Value
		variance += k * k * s.Points[i].variance
	}
	return c.interval(s.Points[0].Season, s.Points[len(s.Points)-1].Season, estimate, variance, s.Noise)
}

// slopeWeights returns what each point counts for in the slope.
func slopeWeights(points []Point) ([]float64, bool) {
	if len(points) < 3 {
		return nil, false
	}
	sw, sx := 0.0, 0.0
	for _, p := range points {
		if math.IsNaN(p.Years) || !(p.variance > 0) {
			return nil, false
		}
		sw += 1 / p.variance
		sx += p.Years / p.variance
	}
	mean, ss := sx/sw, 0.0
	for _, p := range points {
		ss += (p.Years - mean) * (p.Years - mean) / p.variance
	}
	if !(ss > 0) {
		return nil, false
	}
	out := make([]float64, len(points))
	for i, p := range points {
		out[i] = (p.Years - mean) / p.variance / ss
	}
	return out, true
}

// Words says a change in a sentence, as somebody reads it who wants to know
// whether there is one. format writes a figure.
func (c *Change) Words(format func(float64) string) string {
	switch {
	case c == nil:
		return "the noise is not known, so nothing can be said of change"
	case c.Low > 0:
		return fmt.Sprintf("rose by %s (%s to %s)", format(c.Estimate), format(c.Low), format(c.High))
	case c.High < 0:
		return fmt.Sprintf("fell by %s (%s to %s)", format(-c.Estimate), format(-c.High), format(-c.Low))
	}
	return fmt.Sprintf("no change that can be told from noise (%s to %s)", format(c.Low), format(c.High))
}
