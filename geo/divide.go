package geo

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// divide partitions the ground into management units and problem areas.
// Problem areas come out of every other part. Where two parts of one kind
// overlap, the one that stands first in its file has the ground. Ground that no
// management unit covers joins the neighbour it borders most when it is a
// sliver, as left by two outlines drawn over each other, or the nearest when it
// is a crumb that borders none; else it is a unit of its own.
func (f *Field) divide(o Outline) error {
	problems, free, err := f.claim(o.Problems, f.Ground, Problem)
	if err != nil {
		return err
	}
	managed, rest, err := f.claim(o.Management, free, Management)
	if err != nil {
		return err
	}
	if len(managed) == 0 {
		if len(o.Management) > 0 && !rest.Empty() {
			f.note("no management unit covers any of it; it is taken as one unit")
		}
		managed = []Division{{Kind: Management}}
		managed[0].Shape, rest = rest, nil
	}
	if managed, err = f.giveRest(managed, rest); err != nil {
		return err
	}
	for _, d := range append(managed, problems...) {
		if !d.Shape.Empty() {
			f.Divisions = append(f.Divisions, d)
		}
	}
	return nil
}

// claim gives each named part its share of the free ground, parts of one name
// together, and returns what is left.
func (f *Field) claim(parts []Part, ground plane.Shape, kind Kind) ([]Division, plane.Shape, error) {
	free := ground
	var out []Division
	byName := map[string]int{}
	for _, p := range parts {
		if len(p.Shape) == 0 {
			f.note("%s is not a polygon; it divides nothing", p.Where)
			continue
		}
		s, err := f.shape(roundShape(p.Shape), p.Where)
		if err != nil {
			return nil, nil, err
		}
		inField, err := plane.Intersect(s, ground)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", p.Where, err)
		}
		if inField.Area() < plane.Sliver {
			continue
		}
		f.Drawn = append(f.Drawn, Division{Kind: kind, Name: p.Name, Shape: s})
		share, err := plane.Intersect(inField, free)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", p.Where, err)
		}
		if lost := inField.Area() - share.Area(); lost > math.Max(plane.Sliver, 0.001*inField.Area()) {
			f.note("%s overlaps another %s on %.3f ha; the first in the file keeps it", p.Where, kind, lost/1e4)
		}
		if free, err = plane.Subtract(free, s); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", p.Where, err)
		}
		i, known := byName[p.Name]
		if !known {
			i = len(out)
			byName[p.Name] = i
			out = append(out, Division{Kind: kind, Name: p.Name, Bed: f.Beds && kind == Management})
		}
		if out[i].Shape, err = plane.Union(out[i].Shape, share); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", p.Where, err)
		}
	}
	return out, free, nil
}

func (f *Field) giveRest(managed []Division, rest plane.Shape) ([]Division, error) {
	sliver := math.Max(100, 0.005*f.Ground.Area())
	own := Division{Kind: Management, Name: freeName(managed)}
	for _, polygon := range rest {
		part := plane.Shape{polygon}
		best, longest := -1, 0.0
		if part.Area() < sliver {
			for i, d := range managed {
				if l := plane.SharedEdge(part, d.Shape); l > longest {
					best, longest = i, l
				}
			}
		}
		if best < 0 && part.Area() < plane.Sliver {
			best = nearest(managed, part)
		}
		if best < 0 {
			own.Shape = append(own.Shape, polygon)
			continue
		}
		joined, err := plane.Union(managed[best].Shape, part)
		if err != nil {
			return nil, err
		}
		managed[best].Shape = joined
	}
	if !own.Shape.Empty() {
		f.note("%.3f ha lie in no management unit; they are taken as a unit named %q", own.Shape.Area()/1e4, own.Name)
		managed = append(managed, own)
	}
	return managed, nil
}

// nearest returns the division whose outline comes nearest to a vertex of a
// part.
func nearest(divisions []Division, part plane.Shape) int {
	best, least := 0, math.Inf(1)
	for i, d := range divisions {
		var edges plane.Edges
		edges.AddShape(d.Shape)
		for _, p := range part[0][0] {
			if off := edges.Distance(XY(p), math.MaxFloat64); off < least {
				best, least = i, off
			}
		}
	}
	return best
}

// freeName returns a name for the rest of the field that no unit bears.
func freeName(managed []Division) string {
	name := "rest"
	for taken := true; taken; {
		taken = false
		for _, d := range managed {
			if strings.EqualFold(d.Name, name) {
				taken, name = true, name+" of field"
			}
		}
	}
	return name
}

// Whereabouts answers which division a place belongs to.
type Whereabouts struct {
	divisions []Division
	locators  []*plane.Locator
	edges     []plane.Edges
}

// NewWhereabouts prepares the divisions of f.
func (f *Field) NewWhereabouts() *Whereabouts {
	w := &Whereabouts{divisions: f.Divisions, edges: make([]plane.Edges, len(f.Divisions))}
	for i, d := range f.Divisions {
		w.locators = append(w.locators, plane.NewLocator(d.Shape))
		w.edges[i].AddShape(d.Shape)
	}
	return w
}

// Division returns the index of the division at p; on a shared edge the first.
// It returns -1 off the ground.
func (w *Whereabouts) Division(p XY) int {
	for i, l := range w.locators {
		if l.Contains(p) {
			return i
		}
	}
	return -1
}

// Off returns how far p lies off division i, 0 in it.
func (w *Whereabouts) Off(i int, p XY) float64 {
	if w.locators[i].Contains(p) {
		return 0
	}
	return w.edges[i].Distance(p, math.Inf(1))
}

// Nearest returns the division at p or, off the ground, the one that is nearest
// within reach metres, and how far off p lies; -1 when none is.
func (w *Whereabouts) Nearest(p XY, reach float64) (division int, off float64) {
	if i := w.Division(p); i >= 0 {
		return i, 0
	}
	best := -1
	for i := range w.edges {
		if d := w.edges[i].Distance(p, reach); d < reach {
			best, reach = i, d
		}
	}
	return best, reach
}

// Pieces returns the field with every division split into the parts that do not
// hang together, so that what an exclusion cuts in two is two divisions of one
// name. All else is shared with f.
func (f *Field) Pieces() *Field {
	out := *f
	out.Divisions = nil
	for _, d := range f.Divisions {
		for _, polygon := range d.Shape {
			d.Shape = plane.Shape{polygon}
			out.Divisions = append(out.Divisions, d)
		}
	}
	return &out
}

// Bound returns the frame rectangle round the ground: west, south, east, north
// in metres.
func (f *Field) Bound() [4]float64 {
	b := orb.MultiPolygon(f.Ground).Bound()
	return [4]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
}
