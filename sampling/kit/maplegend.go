package kit

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"corewalk/geo"
)

// strip draws what stands under the map up to right: scale bar, legend, north.
func (m *fieldMap) strip(y, right float64, us bool) {
	s := m.s
	left := m.on.X
	st := style{7, false}
	base := y + 5

	length, text := m.barLength(us)
	w := length * m.scale
	s.rule(left, base-0.6, left+w, base-0.6, 0.5)
	for _, x := range []float64{left, left + w/2, left + w} {
		s.rule(x, base-1.9, x, base-0.6, 0.3)
	}
	x := left + w + 1.2
	x += s.text(x, base, 30, st, text) + 5

	s.disc(x+m.dot, base-0.9, m.dot)
	x += 2 * m.dot
	word := "core, numbered in the order of the walk"
	if m.f.Cores() > mostNumbers {
		word = "core; the first of each unit has its number"
	}
	x += s.text(x+0.8, base, right-x, st, word) + 4

	if len(m.f.Field.Exclusions) > 0 {
		r := Rect{x, base - 2.3, 4, 2.6}
		ring := orb.LineString{{r.X, r.Y}, {r.Right(), r.Y}, {r.Right(), r.Bottom()}, {r.X, r.Bottom()}, {r.X, r.Y}}
		s.ink(90)
		s.path(hatch([]orb.LineString{ring}, r, 1.1), false, 0.12, "D")
		s.frame(r, 0.25)
		s.ink(0)
		x += s.text(x+5, base, right-x, st, "no cores") + 9
	}
	for _, u := range m.f.Units {
		if u.Problem {
			s.ink(225)
			s.fill(Rect{x, base - 2.3, 4, 2.6})
			s.ink(0)
			s.frame(Rect{x, base - 2.3, 4, 2.6}, 0.25)
			x += s.text(x+5, base, right-x, st, "problem area") + 9
			break
		}
	}
	if m.f.Start != nil {
		gateMark(s, x+2, base-1)
		s.text(x+5, base, right-x, st, "start")
	}
	m.northArrow(right-4, y+4)
}

// barLength is a round length that takes some fifth of the map, in metres of the
// frame, and its name.
func (m *fieldMap) barLength(us bool) (float64, string) {
	unit, name := 1.0, "m"
	if us {
		unit, name = geo.Foot, "ft"
	}
	f := m.f.Field
	unit *= f.Frame.Scale(geo.XY(f.Boundary.Bound().Center()))
	goal := 32 / m.scale / unit
	if !finite(goal) || goal <= 0 {
		return 0, ""
	}
	step := math.Pow(10, math.Floor(math.Log10(goal)))
	for _, k := range []float64{5, 2} {
		if k*step <= goal {
			step *= k
			break
		}
	}
	return step * unit, fmt.Sprintf("%g %s", step, name)
}

// northArrow points to true north.
func (m *fieldMap) northArrow(x, y float64) {
	dx, dy := m.trueNorth()
	s := m.s
	tip := orb.Point{x + 3.4*dx, y - 3.4*dy}
	foot := orb.Point{x - 2.6*dx, y + 2.6*dy}
	side := orb.Point{1.5 * dy, 1.5 * dx}
	head := orb.Point{x + 0.4*dx, y - 0.4*dy}
	s.rule(foot[0], foot[1], head[0], head[1], 0.5)
	s.path([]orb.LineString{{tip, {head[0] + side[0], head[1] + side[1]}, {head[0] - side[0], head[1] - side[1]}, tip}}, true, 0.1, "f*")
	s.text(x-4.4, y+1.2, 3, style{8, true}, "N")
}

// trueNorth is the direction of true north in the frame, a vector of length 1.
func (m *fieldMap) trueNorth() (dx, dy float64) {
	frame := m.f.Field.Frame
	middle := geo.XY(m.f.Field.Boundary.Bound().Center())
	if ll, err := frame.LonLat(middle); err == nil {
		if p, err := frame.XY(geo.LonLat{ll[0], ll[1] + 1e-4}); err == nil {
			if d := middle.Distance(p); d > 0 && finite(d) {
				return (p[0] - middle[0]) / d, (p[1] - middle[1]) / d
			}
		}
	}
	return 0, 1
}
