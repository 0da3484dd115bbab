package sampling

import (
	"math"
	"slices"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// A band of healthy ground beside a problem area is at least broad enough to
// walk in and, round a problem area of any size, never broader than this.
const (
	bandLeast = 5.0  // metres
	bandMost  = 60.0 // metres
	bandRoom  = 100  // square metres that a band has at least, or it is no unit
)

// band is healthy ground beside a problem area, to compare it with.
type band struct {
	problem  int // index of the division
	division int // that the band lies in
	shape    plane.Shape
}

// parted returns, for every division, the ground that its own units are made
// of: of a problem area all of it, of a management unit what lies outside the
// buffers round problem areas and the bands beside them.
func (fp *FieldPlan) parted(p Params) ([]plane.Shape, []band, error) {
	f := fp.Field
	ground := make([]plane.Shape, len(f.Divisions))
	var kept []plane.Shape // problem areas with their buffers
	for i, d := range f.Divisions {
		ground[i] = d.Shape
		if d.Kind != geo.Problem {
			continue
		}
		wide := d.Shape
		if p.ProblemBuffer > 0 {
			var err error
			if wide, err = plane.Buffer(d.Shape, f.Margin(p.ProblemBuffer)); err != nil {
				return nil, nil, err
			}
		}
		kept = append(kept, wide)
	}
	if len(kept) == 0 {
		return ground, nil, nil
	}
	all, err := plane.Union(kept...)
	if err != nil {
		return nil, nil, err
	}
	if p.ProblemBuffer > 0 {
		for i, d := range f.Divisions {
			if d.Kind == geo.Management {
				if ground[i], err = plane.Subtract(d.Shape, all); err != nil {
					return nil, nil, err
				}
			}
		}
	}
	if !p.Comparison {
		return ground, nil, nil
	}
	var bands []band
	problem := -1
	for i, d := range f.Divisions {
		if d.Kind != geo.Problem {
			continue
		}
		problem++
		b, ok, err := fp.band(kept[problem], ground, d.Shape, p)
		if err != nil {
			return nil, nil, err
		}
		if !ok {
			fp.note("%s has no healthy ground of its own beside it; it is compared with the unit that is nearest", d.Label())
			continue
		}
		b.problem = i
		bands = append(bands, b)
		if ground[b.division], err = plane.Subtract(ground[b.division], b.shape); err != nil {
			return nil, nil, err
		}
	}
	return ground, bands, nil
}

// band finds the healthy ground round a problem area with its buffer: in the
// management unit that most of it lies in, and about as much of it as the
// problem area has. It is refused where it would leave that unit nothing.
func (fp *FieldPlan) band(kept plane.Shape, ground []plane.Shape, problem plane.Shape, p Params) (band, bool, error) {
	f := fp.Field
	target := math.Max(problem.Area(), float64(p.Cores*p.Composites)*math.Max(p.Spacing*p.Spacing, 1)*2)
	around := func(width float64) ([]plane.Shape, error) {
		wide, err := plane.Buffer(kept, width)
		if err != nil {
			return nil, err
		}
		out := make([]plane.Shape, len(ground))
		for i, d := range f.Divisions {
			if d.Kind == geo.Management {
				if out[i], err = plane.Intersect(ground[i], wide); err != nil {
					return nil, err
				}
				if out[i], err = plane.Intersect(out[i], f.Sampleable); err != nil {
					return nil, err
				}
			}
		}
		return out, nil
	}
	widest, err := around(bandMost)
	if err != nil {
		return band{}, false, err
	}
	best := 0
	for i := range widest {
		if widest[i].Area() > widest[best].Area() {
			best = i
		}
	}
	if widest[best].Area() < bandRoom {
		return band{}, false, nil
	}
	low, high := bandLeast, bandMost
	for range 12 {
		middle := (low + high) / 2
		s, err := around(middle)
		if err != nil {
			return band{}, false, err
		}
		if s[best].Area() < target {
			low = middle
		} else {
			high = middle
		}
	}
	wide, err := plane.Buffer(kept, high)
	if err != nil {
		return band{}, false, err
	}
	b := band{division: best}
	if b.shape, err = plane.Intersect(ground[best], wide); err != nil {
		return band{}, false, err
	}
	left, err := plane.Subtract(ground[best], b.shape)
	if err != nil {
		return band{}, false, err
	}
	if left, err = plane.Intersect(left, f.Sampleable); err != nil {
		return band{}, false, err
	}
	return b, left.Area() >= math.Max(bandRoom, target/2), nil
}

// pair gives every unit of a problem area the unit to compare it with: the band
// beside it or, without one, the nearest of the field's healthy units.
func (fp *FieldPlan) pair() {
	for _, u := range fp.Units {
		if fp.Field.Divisions[u.Division].Kind != geo.Problem {
			continue
		}
		if k := slices.IndexFunc(fp.Units, func(v *Unit) bool { return v.ComparisonOf == u.Division }); k >= 0 {
			u.CompareWith = fp.Units[k]
			continue
		}
		var outline plane.Edges
		outline.AddShape(u.Shape)
		least := math.Inf(1)
		for _, v := range fp.Units {
			if fp.Field.Divisions[v.Division].Kind == geo.Problem {
				continue
			}
			for _, polygon := range v.Shape {
				for _, q := range polygon[0] {
					if d := outline.Distance(geo.XY(q), least); d < least-0.01 {
						least, u.CompareWith = d, v
					}
				}
			}
		}
	}
}
