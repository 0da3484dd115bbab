package kit

import (
	"fmt"
	"math"
)

// pt is a typographic point in millimetres.
const pt = 25.4 / 72

// Paper is a size of paper in millimetres, upright.
type Paper struct {
	Name          string
	Width, Height float64
}

// Letter is the paper of North America, 8.5 by 11 inches.
func Letter() Paper { return Paper{"letter", 215.9, 279.4} }

// A4 is the paper of the rest of the world (ISO 216).
func A4() Paper { return Paper{"a4", 210, 297} }

// ParsePaper reads letter or a4.
func ParsePaper(s string) (Paper, error) {
	for _, p := range []Paper{Letter(), A4()} {
		if p.Name == s {
			return p, nil
		}
	}
	return Paper{}, fmt.Errorf("paper %q is not known; take letter or a4", s)
}

// across is the paper on its side.
func (p Paper) across() Paper { return Paper{p.Name, p.Height, p.Width} }

// Rect is a rectangle on paper in millimetres from the upper left corner.
type Rect struct{ X, Y, Width, Height float64 }

// Inset is the rectangle less d millimetres on every side.
func (r Rect) Inset(d float64) Rect {
	return Rect{r.X + d, r.Y + d, r.Width - 2*d, r.Height - 2*d}
}

// Right and Bottom are the far sides.
func (r Rect) Right() float64  { return r.X + r.Width }
func (r Rect) Bottom() float64 { return r.Y + r.Height }

// Holds tells whether s lies in r, sides touching or not.
func (r Rect) Holds(s Rect) bool {
	const slack = 1e-9
	return s.X >= r.X-slack && s.Y >= r.Y-slack && s.Right() <= r.Right()+slack && s.Bottom() <= r.Bottom()+slack
}

// Overlaps tells whether two rectangles have ground in common; touching sides
// are none.
func (r Rect) Overlaps(s Rect) bool {
	const slack = 1e-9
	return r.X < s.Right()-slack && s.X < r.Right()-slack && r.Y < s.Bottom()-slack && s.Y < r.Bottom()-slack
}

func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
