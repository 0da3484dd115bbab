package sampling

import (
	"fmt"
	"slices"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/sampling/walk"
)

// gateReach is how far from a field, in metres, a start may lie and still be
// the place that its walk begins at.
const gateReach = 5000

// route puts units and cores into walking order and numbers the cores.
func (p *Plan) route() error {
	return eachField(len(p.Fields), func(i int) error {
		p.Fields[i].start(p.Starts)
		p.Fields[i].route(p.Pace)
		return nil
	})
}

// StartsServe fails when starts are given and lie far from every field.
func (p *Plan) StartsServe() error {
	if len(p.Starts) == 0 || slices.ContainsFunc(p.Fields, func(fp *FieldPlan) bool { return fp.Start != nil }) {
		return nil
	}
	s := p.Starts[0]
	return fmt.Errorf("the start %g,%g lies more than %d km from every field; write it as longitude,latitude", s.Lon(), s.Lat(), gateReach/1000)
}

// start sets where the walk of a field begins, the nearest of the given places
// that is near at all.
func (fp *FieldPlan) start(starts []geo.LonLat) {
	fp.Start = nil
	if len(starts) == 0 {
		return
	}
	var outline plane.Edges
	outline.AddShape(fp.Field.Boundary)
	inside := plane.NewLocator(fp.Field.Boundary)
	least := float64(gateReach)
	for _, s := range starts {
		at, err := fp.Field.Frame.XY(s)
		if err != nil {
			continue // on the other side of the earth
		}
		d := outline.Distance(at, least)
		if inside.Contains(at) {
			d = 0
		}
		if d < least {
			least = d
			fp.Start = &at
		}
	}
}

// route puts the units of a field and the cores of each into a short walk, one
// unit after another, that goes round the field's exclusions.
func (fp *FieldPlan) route(pace Pace) {
	var obstacles []plane.Shape
	for _, e := range fp.Field.Exclusions {
		if !e.Shape.Empty() {
			obstacles = append(obstacles, e.Shape)
		}
	}
	groups := make([][]plane.XY, len(fp.Units))
	for i, u := range fp.Units {
		for _, c := range u.Cores {
			groups[i] = append(groups[i], c.At)
		}
	}
	order := walk.Shortest(walk.NewGround(obstacles), fp.Start, groups)
	for i, stops := range order.Stops {
		fp.Units[i].Cores = reordered(fp.Units[i].Cores, stops)
		for k := range fp.Units[i].Cores {
			fp.Units[i].Cores[k].Number = k + 1
		}
	}
	fp.Units = reordered(fp.Units, order.Groups)
	scale := fp.Field.Frame.Scale(geo.XY(fp.Field.Boundary.Bound().Center()))
	fp.Walk = order.Metres / scale
	fp.Time = pace.Duration(fp.Walk, fp.Cores())
}

func reordered[T any](list []T, order []int) []T {
	out := make([]T, len(list))
	for i, k := range order {
		out[i] = list[k]
	}
	return out
}
