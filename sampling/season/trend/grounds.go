package trend

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/sampling/season"
)

// ground is what composites of one season stand for: a sampling unit with all
// of its composites, or a place.
type ground struct {
	first  *season.Observation
	values []float64
	ids    []string
	limits bool // some value is a limit of the lab
	shape  plane.Shape
	at     plane.XY
	bound  orb.Bound
	area   float64 // 0 of a place
}

// variance is that of the mean of a ground's composites.
func (g *ground) variance(n Noise) float64 {
	sd := n.at(g.mean())
	return sd * sd / float64(len(g.values))
}

func (g *ground) mean() float64 {
	sum := 0.0
	for _, v := range g.values {
		sum += v
	}
	return sum / float64(len(g.values))
}

// unit is what a season calls a ground. Its plans may call several so.
type unit struct {
	season, number      int
	management, problem string
}

// add puts an observation to its ground: composites of one unit have one.
func (s *stream) add(at int, x *season.Observation) {
	k := unit{at, x.UnitNumber, x.Management, x.Problem}
	known := x.UnitNumber > 0 && len(x.Shape) > 0
	if known {
		for _, g := range s.units[k] {
			if sameOutline(g.first.Shape, x.Shape) {
				g.values, g.ids, g.limits = append(g.values, x.Value), append(g.ids, x.Sample), g.limits || x.Censored != ""
				return
			}
		}
	}
	g := &ground{first: x, values: []float64{x.Value}, ids: []string{x.Sample}, limits: x.Censored != ""}
	s.bySeason[at] = append(s.bySeason[at], g)
	if known {
		s.units[k] = append(s.units[k], g)
	}
}

// lay puts the grounds of a stream into one frame.
func (s *stream) lay() error {
	order := s.order()
	frame, err := geo.FrameAt(s.bySeason[order[len(order)-1]][0].first.At)
	if err != nil {
		return err
	}
	for _, i := range order {
		for _, g := range s.bySeason[i] {
			x := g.first
			if g.at, err = frame.XY(x.At); err != nil {
				return fmt.Errorf("sample %s: %w", x.Sample, err)
			}
			g.bound = orb.Bound{Min: orb.Point(g.at), Max: orb.Point(g.at)}
			if len(x.Shape) == 0 {
				continue
			}
			if g.shape, _, err = frame.Shape(x.Shape); err != nil {
				return fmt.Errorf("sample %s: %w", x.Sample, err)
			}
			g.area, g.bound = g.shape.Area(), g.shape.Bound()
		}
	}
	return nil
}

// shared is a ground of an earlier season on one of the latest.
type shared struct {
	*ground
	area float64 // that both have; of places, 1
	same float64 // area of both over that of the earlier ground
}

// match makes the series of the grounds of the latest season.
func (c *comparer) match(s *stream) error {
	if err := s.lay(); err != nil {
		return err
	}
	order := s.order()
	latest := order[len(order)-1]
	for _, g := range s.bySeason[latest] {
		x := Series{Key: s.Key, Sample: g.first.Sample, UnitNumber: g.first.UnitNumber, Area: g.area, Part: partOf(g.first)}
		for _, i := range order[:len(order)-1] {
			of, err := c.on(g, s.bySeason[i])
			if err != nil {
				return err
			}
			if p, ok := c.point(i, g, of); ok {
				x.Points = append(x.Points, p)
			}
		}
		own, _ := c.point(latest, g, []shared{{g, math.Max(g.area, 1), 1}})
		x.Points = append(x.Points, own)
		s.series = append(s.series, x)
	}
	slices.SortStableFunc(s.series, func(a, b Series) int { return a.UnitNumber - b.UnitNumber })
	return nil
}

func partOf(x *season.Observation) string {
	switch {
	case x.Problem != "":
		return geo.Division{Kind: geo.Problem, Name: x.Problem}.Label()
	case x.Management != "":
		return geo.Division{Kind: geo.Management, Name: x.Management}.Label()
	}
	return ""
}

// on returns the grounds of an earlier season that lie on g. Units count by the
// area that they share; places inside a unit count alike; a place takes the unit
// it lies in, or the nearest place.
func (c *comparer) on(g *ground, earlier []*ground) ([]shared, error) {
	var out, places []shared
	nearest := shared{}
	least := c.Near
	var inside *plane.Locator
	if g.area > 0 {
		inside = plane.NewLocator(g.shape)
	}
	for _, e := range earlier {
		// The usual case: the same unit as before. Units of a season do not overlap.
		if g.area > 0 && e.area == g.area && sameOutline(g.first.Shape, e.first.Shape) {
			return []shared{{e, g.area, 1}}, nil
		}
	}
	for _, e := range earlier {
		switch {
		case g.area > 0 && e.area > 0:
			if !overlap(g.bound, e.bound) {
				continue
			}
			both, err := plane.Intersect(g.shape, e.shape)
			if err != nil {
				return nil, fmt.Errorf("units of samples %s and %s: %w", g.first.Sample, e.first.Sample, err)
			}
			// Neighbours that touch by a sliver are not common ground.
			if a := both.Area(); a > 0.005*math.Min(g.area, e.area) {
				out = append(out, shared{e, math.Min(a, g.area), math.Min(a/e.area, 1)})
			}
		case g.area > 0:
			if inside.Contains(e.at) {
				places = append(places, shared{e, 1, 1})
			}
		case e.area > 0:
			if e.bound.Contains(orb.Point(g.at)) && plane.NewLocator(e.shape).Contains(g.at) {
				out = append(out, shared{e, 1, 1})
			}
		default:
			if d := math.Hypot(e.at[0]-g.at[0], e.at[1]-g.at[1]); d <= least {
				nearest, least = shared{e, 1, 1}, d
			}
		}
	}
	if len(out) == 0 {
		out = places
	}
	if len(out) == 0 && nearest.ground != nil {
		out = []shared{nearest}
	}
	return out, nil
}

// sameOutline compares places of two outlines of one plan and its return.
func sameOutline(a, b crs.LonLatShape) bool {
	return slices.EqualFunc(a, b, func(p, q orb.Polygon) bool {
		return slices.EqualFunc(p, q, func(r, s orb.Ring) bool { return slices.Equal(r, s) })
	})
}

// overlap tells whether rectangles have ground in common, not only a side.
func overlap(a, b orb.Bound) bool {
	return a.Min[0] < b.Max[0] && b.Min[0] < a.Max[0] && a.Min[1] < b.Max[1] && b.Min[1] < a.Max[1]
}

// point weighs what lies on a ground; false where too little of it has figures.
func (c *comparer) point(at int, g *ground, of []shared) (Point, bool) {
	sum := 0.0
	for _, e := range of {
		sum += e.area
	}
	if !(sum > 0) {
		return Point{}, false
	}
	p := Point{Season: c.seasons[at].Name, Years: c.years[at], Share: 1, Lab: c.seasons[at].Lab}
	if g.area > 0 && of[0].ground.area > 0 {
		p.Share = math.Min(sum/g.area, 1)
		if p.Share > 0.995 {
			p.Share = 1
		}
	}
	if p.Share < c.LeastShare {
		return Point{}, false
	}
	same := 0.0
	for _, e := range of {
		w := e.area / sum
		p.Value += w * e.mean()
		p.sources = append(p.sources, source{e.ground, w})
		p.Samples = append(p.Samples, e.ids...)
		p.Censored = p.Censored || e.limits
		same += w * e.same
	}
	p.variance = math.Max(0, 1-p.Share*same) // to be multiplied by the variance between grounds
	if p.variance < 0.01 {
		p.variance = 0
	}
	return p, true
}
