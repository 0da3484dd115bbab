package plane

import "math"

// Clipper intersects many shapes with one, and quickly those that its outline
// does not come near.
type Clipper struct {
	shape   Shape
	outline *outline
	inside  *Locator
	edges   Edges
}

// NewClipper prepares a shape.
func NewClipper(s Shape) *Clipper {
	c := &Clipper{shape: s, outline: newOutline(s), inside: NewLocator(s)}
	c.edges.AddShape(s)
	return c
}

// Intersect returns the ground in both shapes, as the function of that name.
func (c *Clipper) Intersect(s Shape) (Shape, error) {
	if s.Empty() {
		return nil, nil
	}
	b := s.Bound()
	middle := XY(b.Center())
	if !c.edges.Within(middle, 1e-6+math.Hypot(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])/2) {
		if c.inside.Contains(middle) {
			return s, nil
		}
		return nil, nil
	}
	if !c.shape.Bound().Intersects(b) {
		return nil, nil
	}
	if out, ok := intersectClean(c.outline, newOutline(s)); ok {
		return out, nil
	}
	return intersect(c.shape, s)
}
