package sampling

import (
	"fmt"
	"math"
	"math/rand/v2"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/sampling/strata"
)

const (
	drawsPerCore = 200 // draws for one core before its unit is begun anew
	restarts     = 20  // of a unit before its spacing is relaxed
	relax        = 0.9 // factor of one relaxation
	rounding     = 0.1 // metres, far more than what 7 decimals of a degree move
)

// placeAll places the cores of all units.
func (fp *FieldPlan) placeAll(p Params) error {
	for _, u := range fp.Units {
		if err := fp.place(u, p, stream(p.Seed, fp.Field.Name, "cores", u.key)); err != nil {
			return fmt.Errorf("unit %d: %w", u.Number, err)
		}
	}
	return nil
}

// place draws the cores of a unit uniformly over its sampleable part, or the
// share of it that they are to lie in, each at least the spacing from those
// before it (simple sequential inhibition). Where the unit is too small for
// that, the spacing is relaxed by tenths until it fits, and the unit's notes say
// so.
func (fp *FieldPlan) place(u *Unit, p Params, r *rand.Rand) error {
	f := fp.Field
	p = p.complete()
	drawers, err := fp.drawers(u, p)
	if err != nil {
		return err
	}
	n := p.Cores * p.Composites
	ok := allowed(f, u)
	u.Spacing = p.Spacing
	for u.Spacing > 0 && !mayFit(n, u) {
		u.Spacing = relaxed(u.Spacing)
	}
	for {
		least := 0.0
		if u.Spacing > 0 {
			least = f.Margin(u.Spacing)
		}
		for range restarts {
			cores, err := attempt(f, drawers, ok, n, least, r)
			if err != nil {
				return err
			}
			if cores == nil {
				continue
			}
			// Those of one composite are n by n in the order drawn, so that each
			// composite has its share of every stratum of the unit.
			for i := range cores {
				cores[i].Composite = i/p.Cores + 1
			}
			u.Cores = cores
			if u.Spacing < p.Spacing {
				u.note("too small for %d cores %.1f m apart, which are at least %.1f m apart instead", n, p.Spacing, u.Spacing)
			}
			return nil
		}
		if u.Spacing == 0 {
			return fmt.Errorf("its ground outside the setbacks (%.1f m²) is too narrow for a core; make the setbacks smaller or the cell larger", u.Sampleable.Area())
		}
		u.Spacing = relaxed(u.Spacing)
	}
}

// drawers returns where the cores of a composite are drawn from, one after
// another and from the first again.
func (fp *FieldPlan) drawers(u *Unit, p Params) ([]*plane.Drawer, error) {
	from := []plane.Shape{u.Sampleable}
	var err error
	switch {
	case p.At == AtPoint && u.Point != nil:
		from[0], err = fp.around(u, p.Radius)
	case p.At == AtStrata && p.Cores > 1 && u.Sampleable.Area() >= float64(p.Cores):
		from, err = strata.Quick(u.Sampleable, p.Cores, stream(p.Seed, fp.Field.Name, "strata of unit", u.key))
		if err != nil {
			u.note("its ground cannot be split into %d compact strata; its cores lie anywhere over it", p.Cores)
			from, err = []plane.Shape{u.Sampleable}, nil
		}
	}
	if err != nil {
		return nil, err
	}
	out := make([]*plane.Drawer, len(from))
	for i, s := range from {
		out[i] = plane.NewDrawer(s)
	}
	return out, nil
}

// note says something of a unit.
func (u *Unit) note(format string, args ...any) {
	u.Notes = append(u.Notes, fmt.Sprintf(format, args...))
}

// spacingHeld refuses a plan in which no unit at all has room for its cores at
// the spacing asked for, and says what would work.
func (p *Plan) spacingHeld() error {
	var best *Unit
	var of *FieldPlan
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			if u.Spacing == p.Spacing {
				return nil
			}
			if best == nil || u.Spacing > best.Spacing {
				best, of = u, fp
			}
		}
	}
	return fmt.Errorf("field %s: no unit has room for %d cores %g m apart; take a spacing of up to %.1f m, at most %d cores to a composite, or larger units",
		of.Field.Name, len(best.Cores), p.Spacing, best.Spacing, of.fits(best, p.Params))
}

// fits returns how many cores to a composite find room in a unit at the spacing
// asked for.
func (fp *FieldPlan) fits(u *Unit, p Params) int {
	for p.Cores--; p.Cores > 1; p.Cores-- {
		trial := *u
		err := fp.place(&trial, p, stream(p.Seed, fp.Field.Name, "cores", u.key))
		if err == nil && trial.Spacing == p.Spacing {
			break
		}
	}
	return max(p.Cores, 1)
}

// relaxed returns the next smaller spacing, in tenths of a metre, so that what
// the note says is what was held.
func relaxed(spacing float64) float64 { return math.Floor(spacing*relax*10) / 10 }

// mayFit reports whether n cores at the spacing of a unit could find room in
// the bound of its ground: discs of that diameter round them must not overlap.
func mayFit(n int, u *Unit) bool {
	if n < 2 || u.Sampleable.Empty() {
		return true
	}
	b, s := u.Sampleable.Bound(), u.Spacing
	return float64(n)*math.Pi/4*s*s <= (b.Max[0]-b.Min[0]+s)*(b.Max[1]-b.Min[1]+s)
}

// attempt draws the cores once, from one drawer after another; nil when one
// finds no room.
func attempt(f *geo.Field, from []*plane.Drawer, ok func(geo.XY) bool, n int, least float64, r *rand.Rand) ([]Core, error) {
	cores := make([]Core, 0, n)
	for len(cores) < n {
		found := false
		for range drawsPerCore {
			xy, drawn := from[len(cores)%len(from)].Draw(r)
			if !drawn {
				return nil, nil
			}
			// Most that are drawn too near are so by more than rounding makes up
			// for.
			if tooNear(xy, cores, least-rounding) {
				continue
			}
			// Judged where it will be written, not where it was drawn.
			ll, err := f.Frame.LonLat(xy)
			if err != nil {
				return nil, err
			}
			ll = geo.Round7(ll)
			if xy, err = f.Frame.XY(ll); err != nil {
				return nil, err
			}
			if !ok(xy) || tooNear(xy, cores, least) {
				continue
			}
			cores = append(cores, Core{At: xy, LonLat: ll})
			found = true
			break
		}
		if !found {
			return nil, nil
		}
	}
	return cores, nil
}

func tooNear(p geo.XY, cores []Core, least float64) bool {
	for _, c := range cores {
		if c.At.Distance(p) < least {
			return true
		}
	}
	return false
}

// allowed returns the exact test behind a unit's cores: inside the unit, clear
// of its edge by the guard, and by every setback of the field.
func allowed(f *geo.Field, u *Unit) func(geo.XY) bool {
	inside := plane.NewLocator(u.Shape)
	var edges plane.Edges
	edges.AddShape(u.Shape)
	return func(p geo.XY) bool {
		return inside.Contains(p) && !edges.Within(p, geo.Guard) && f.MayCore(p)
	}
}
