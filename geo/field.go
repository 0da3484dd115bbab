package geo

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/plane"
)

// Guard is kept, in metres, on top of every setback and spacing and from every
// edge: coordinates are written to 11 mm, and a core that is read back must
// still keep the rule.
const Guard = 0.02

// Field is one mapped field in its frame. Build one with Map; all shapes are
// then valid and in metres.
type Field struct {
	Name       string
	Frame      Frame
	Boundary   plane.Shape
	Exclusions []Exclusion
	Divisions  []Division  // partition the ground: management units, then problem areas
	Beds       bool        // its management units are raised beds, and what lies between them is no ground
	Setback    float64     // from the boundary, true metres
	Ground     plane.Shape // the boundary less the exclusions
	Sampleable plane.Shape // the boundary inside its setback, less every exclusion and its setback
	Drawn      []Division  // management units and problem areas as drawn, before the ground was divided
	Notices    []string    // what was mended or assumed, for a person

	inside   *plane.Locator // of the boundary
	outline  plane.Edges    // of the boundary
	margin   float64        // from the outline, in the frame
	setbacks []setback
}

// Exclusion is ground where no core may be taken, kept off by a setback. It may
// be a polygon, a line (a ditch, a lane) or a point (a well).
type Exclusion struct {
	Name    string
	Shape   plane.Shape
	Lines   []plane.Line
	Points  []XY
	Setback float64 // true metres
}

// Kind of a Division.
type Kind int

const (
	Management Kind = iota // farmed alike, or the whole field
	Problem                // an abnormal patch, always on its own
)

// String names a kind for a person.
func (k Kind) String() string {
	if k == Problem {
		return "problem area"
	}
	return "management unit"
}

// Division is a part of a field that is never mixed with another: a management
// unit or a problem area. Its name is empty when the field is not divided.
type Division struct {
	Kind  Kind
	Name  string
	Shape plane.Shape // ground only
	Bed   bool        // a raised bed
}

// Label names a division for a person.
func (d Division) Label() string {
	if d.Name == "" {
		return "the field"
	}
	if d.Bed {
		return "bed " + d.Name
	}
	return d.Kind.String() + " " + d.Name
}

// Outline is what files say of one field, in degrees, before it is mapped.
type Outline struct {
	Name       string
	Boundary   crs.LonLatShape
	Setback    float64 // from the boundary, true metres, not below zero
	Exclusions []Part
	Management []Part
	Problems   []Part
	Beds       bool   // Management are raised beds, and the ground is theirs alone
	Frame      *Frame // nil: the UTM zone of the boundary's centroid
}

// Part is a named piece of ground from a file. Where says which feature of
// which file it is, for messages.
type Part struct {
	Name    string
	Where   string
	Shape   crs.LonLatShape
	Lines   []crs.LonLatLine
	Points  []LonLat
	Setback float64 // of an exclusion, true metres
}

type setback struct {
	inside *plane.Locator
	edges  plane.Edges
	margin float64
}

// Map works a field out: brings everything into one frame, mends what can be
// mended by plane.New's rule (each time with a notice), cuts the exclusions
// out, divides the ground, and finds the sampleable area. It fails when nothing
// of the field is left to sample, and says why.
func Map(o Outline) (*Field, error) {
	f := &Field{Name: o.Name, Setback: o.Setback, Beds: o.Beds}
	if err := f.setFrame(o); err != nil {
		return nil, err
	}
	var err error
	if f.Boundary, err = f.shape(roundShape(o.Boundary), "its boundary"); err != nil {
		return nil, err
	}
	f.inside = plane.NewLocator(f.Boundary)
	f.outline.AddShape(f.Boundary)

	f.Ground = f.Boundary
	var excluded []plane.Shape
	for _, p := range o.Exclusions {
		e, err := f.exclusion(p)
		if err != nil {
			return nil, err
		}
		if e == nil {
			continue
		}
		f.Exclusions = append(f.Exclusions, *e)
		excluded = append(excluded, e.Shape)
	}
	if f.Ground, err = cut(f.Ground, excluded); err != nil {
		return nil, fmt.Errorf("exclusions: %w", err)
	}
	if f.Ground.Empty() {
		return nil, fmt.Errorf("its exclusions cover the whole field; nothing is left to sample: leave out or redraw those that are not meant for it")
	}
	if o.Beds {
		if err := f.onlyBeds(o.Management); err != nil {
			return nil, err
		}
	}
	if err := f.divide(o); err != nil {
		return nil, err
	}
	return f, f.findSampleable()
}

func (f *Field) setFrame(o Outline) error {
	if o.Frame != nil {
		f.Frame = *o.Frame
		return nil
	}
	middle, ok := plane.Shape(o.Boundary).Centroid()
	if !ok {
		b := orb.MultiPolygon(o.Boundary).Bound()
		if len(o.Boundary) == 0 || b.IsEmpty() {
			return fmt.Errorf("its boundary has no polygon")
		}
		middle = XY(b.Center())
	}
	var err error
	f.Frame, err = FrameAt(LonLat(middle))
	return err
}

// shape brings polygons into the frame and notes what was mended.
func (f *Field) shape(s crs.LonLatShape, what string) (plane.Shape, error) {
	out, repaired, err := f.Frame.Shape(s)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	if repaired.Crossing {
		at, err := f.Frame.LonLat(repaired.At)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", what, err)
		}
		f.note("%s crosses or overlaps itself near %.6f, %.6f; mended by the even-odd rule: %.4f ha drawn, %.4f ha kept",
			what, at.Lon(), at.Lat(), repaired.Before/1e4, repaired.After/1e4)
	}
	return out, nil
}

func (f *Field) note(format string, args ...any) {
	if n := fmt.Sprintf(format, args...); !slices.Contains(f.Notices, n) {
		f.Notices = append(f.Notices, n)
	}
}

// Margin returns the planar distance that stands for at least d true metres on
// the ground and at least d metres in the frame, with the Guard on top.
func (f *Field) Margin(d float64) float64 {
	return d*math.Max(1, f.Frame.Scale(XY(f.Boundary.Bound().Center()))) + Guard
}

// exclusion brings one into the frame; nil when it lies clear of the field.
func (f *Field) exclusion(p Part) (*Exclusion, error) {
	e := &Exclusion{Name: p.Name, Setback: p.Setback}
	margin := f.Margin(p.Setback)
	reach := f.Boundary.Bound().Pad(margin)
	touches := false
	if len(p.Shape) > 0 {
		s, err := f.shape(roundShape(p.Shape), p.Where)
		if err != nil {
			return nil, err
		}
		e.Shape = s
		touches = s.Bound().Intersects(reach)
	}
	for _, l := range p.Lines {
		line, err := f.Frame.Line(roundLine(l))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.Where, err)
		}
		e.Lines = append(e.Lines, line)
		touches = touches || orb.LineString(line).Bound().Intersects(reach)
	}
	for _, q := range p.Points {
		xy, err := f.Frame.XY(Round7(q))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.Where, err)
		}
		e.Points = append(e.Points, xy)
		touches = touches || reach.Contains(orb.Point(xy))
	}
	if !touches {
		return nil, nil
	}
	if e.Setback == 0 && e.Shape.Empty() {
		f.note("%s is a line or point without a setback; it keeps no ground free", p.Where)
	}
	return e, nil
}

// onlyBeds keeps of the ground what raised beds cover.
func (f *Field) onlyBeds(beds []Part) error {
	var all []plane.Shape
	for _, b := range beds {
		s, err := f.shape(roundShape(b.Shape), b.Where)
		if err != nil {
			return err
		}
		all = append(all, s)
	}
	covered, err := plane.Union(all...)
	if err != nil {
		return fmt.Errorf("beds: %w", err)
	}
	if f.Ground, err = plane.Intersect(f.Ground, covered); err != nil {
		return fmt.Errorf("beds: %w", err)
	}
	if f.Ground.Empty() {
		return fmt.Errorf("none of its beds lies on ground of its own; check the file of beds")
	}
	return nil
}

// cut takes the shapes away from s.
func cut(s plane.Shape, shapes []plane.Shape) (plane.Shape, error) {
	all, err := plane.Union(shapes...)
	if err != nil {
		return nil, err
	}
	return plane.Subtract(s, all)
}

// findSampleable works out the area that keeps every setback, and prepares the
// exact distance checks behind MayCore.
func (f *Field) findSampleable() error {
	f.margin = f.Margin(f.Setback)
	inner, err := plane.Buffer(f.Boundary, -f.margin)
	if err != nil {
		return fmt.Errorf("its boundary: %w", err)
	}
	if inner.Empty() && f.Setback == 0 {
		return fmt.Errorf("its boundary is nowhere wider than %.2f m; redraw it", 2*f.margin)
	}
	if inner.Empty() {
		return fmt.Errorf("a setback of %g m from the boundary eats the whole field; take less than %.1f m", f.Setback, f.width()/2)
	}
	var kept []plane.Shape
	for _, e := range f.Exclusions {
		s := setback{inside: plane.NewLocator(e.Shape), margin: f.Margin(e.Setback)}
		s.edges.AddShape(e.Shape)
		if !e.Shape.Empty() {
			wide, err := plane.Buffer(e.Shape, s.margin)
			if err != nil {
				return fmt.Errorf("exclusion %s: %w", e.Name, err)
			}
			kept = append(kept, wide)
		}
		for _, l := range e.Lines {
			s.edges.AddLine(l)
			wide, err := plane.BufferLine(l, s.margin)
			if err != nil {
				return fmt.Errorf("exclusion %s: %w", e.Name, err)
			}
			kept = append(kept, wide)
		}
		for _, p := range e.Points {
			s.edges.AddPoint(p)
			wide, err := plane.BufferPoint(p, s.margin)
			if err != nil {
				return fmt.Errorf("exclusion %s: %w", e.Name, err)
			}
			kept = append(kept, wide)
		}
		f.setbacks = append(f.setbacks, s)
	}
	if f.Sampleable, err = cut(inner, kept); err != nil {
		return fmt.Errorf("setbacks: %w", err)
	}
	if f.Beds {
		if f.Sampleable, err = plane.Intersect(f.Sampleable, f.Ground); err != nil {
			return fmt.Errorf("beds: %w", err)
		}
	}
	if f.Sampleable.Empty() {
		return fmt.Errorf("the setbacks from its boundary and exclusions leave no ground to sample; make them smaller")
	}
	return nil
}

// width estimates the breadth of the field in metres: twice its area over its
// outer perimeter, which is exact for a long strip.
func (f *Field) width() float64 {
	return 2 * f.Boundary.Area() / f.Boundary.Perimeter()
}

// MayCore reports whether a core may be taken at p: inside the boundary and its
// setback, outside every exclusion and its setback. It measures to the outlines
// themselves, not to the chords that stand for round corners in Sampleable.
func (f *Field) MayCore(p XY) bool {
	if !f.inside.Contains(p) || f.outline.Within(p, f.margin) {
		return false
	}
	for i := range f.setbacks {
		s := &f.setbacks[i]
		if s.inside.Contains(p) || s.edges.Within(p, s.margin) {
			return false
		}
	}
	return true
}
