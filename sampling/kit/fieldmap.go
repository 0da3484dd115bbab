package kit

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/sampling/walk"
)

// mostNumbers is how many cores a map numbers; with more, only the first of
// every unit has its number.
const mostNumbers = 150

// mostWays bounds the work of ways round exclusions; with more cores the walk is
// drawn straight.
const mostWays = 3000

// mapAir is what a map keeps free inside of its frame, millimetres of paper.
const mapAir = 3.5

// fieldMap draws a field into a rectangle: up is the north of the field's frame.
type fieldMap struct {
	s     *sheet
	f     *PacketField
	on    Rect    // paper
	dot   float64 // radius of a core on paper
	scale float64 // millimetres of paper to a metre of the frame
	west  float64 // of the left side of on
	north float64 // of its upper side
	taken *crowd  // paper that is written on
	dots  *crowd  // cores
}

// newMap fits the boundary into the rectangle.
func newMap(s *sheet, f *PacketField, on Rect) *fieldMap {
	m := &fieldMap{s: s, f: f, on: on, dot: 0.55, taken: newCrowd(on), dots: newCrowd(on)}
	switch n := f.Cores(); {
	case n > 600:
		m.dot = 0.3
	case n > mostNumbers:
		m.dot = 0.42
	}
	b := f.Field.Boundary.Bound()
	if f.Start != nil { // a gate that is near is on the map
		if near := b.Pad(0.15 * math.Max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])); near.Contains(orb.Point(*f.Start)) {
			b = b.Extend(orb.Point(*f.Start))
		}
	}
	w, h := math.Max(b.Max[0]-b.Min[0], 0.1), math.Max(b.Max[1]-b.Min[1], 0.1)
	m.scale = math.Min((on.Width-2*mapAir)/w, (on.Height-2*mapAir)/h)
	m.west = (b.Min[0]+b.Max[0])/2 - on.Width/2/m.scale
	m.north = (b.Min[1]+b.Max[1])/2 + on.Height/2/m.scale
	return m
}

// high is the height of a field to its width.
func (f *PacketField) high() float64 {
	b := f.Field.Boundary.Bound()
	return math.Max(b.Max[1]-b.Min[1], 0.1) / math.Max(b.Max[0]-b.Min[0], 0.1)
}

func (m *fieldMap) at(p geo.XY) (x, y float64) {
	return m.on.X + (p[0]-m.west)*m.scale, m.on.Y + (m.north-p[1])*m.scale
}

func (m *fieldMap) line(l orb.LineString) orb.LineString {
	out := make(orb.LineString, len(l))
	for i, p := range l {
		out[i][0], out[i][1] = m.at(geo.XY(p))
	}
	return out
}

func (m *fieldMap) rings(s plane.Shape) []orb.LineString {
	var out []orb.LineString
	for _, polygon := range s {
		for _, ring := range polygon {
			out = append(out, m.line(orb.LineString(ring)))
		}
	}
	return out
}

// draw draws the map within its frame.
func (m *fieldMap) draw() {
	s := m.s
	s.pdf.ClipRect(m.on.X, m.on.Y, m.on.Width, m.on.Height, false)
	for _, u := range m.f.Units {
		if u.Problem {
			s.ink(225)
			s.path(m.rings(u.Shape), true, 0.2, "f*")
		}
	}
	for _, e := range m.f.Field.Exclusions {
		m.exclusion(e)
	}
	s.ink(0)
	for _, u := range m.f.Units {
		s.path(m.rings(u.Shape), true, 0.25, "D")
	}
	s.path(m.rings(m.f.Field.Boundary), true, 0.8, "D")
	m.walk()
	m.cores()
	m.gate()
	m.unitNumbers()
	m.coreNumbers()
	for _, e := range m.f.Field.Exclusions {
		m.exclusionName(e)
	}
	s.pdf.ClipEnd()
	s.ink(0)
	s.frame(m.on, 0.2)
	m.s.face = nil // the end of the clip takes the font back
}

// exclusion draws ground, a line or a place where no core may be taken: light
// grey with slanted lines over it, so that it is seen on any printer.
func (m *fieldMap) exclusion(e geo.Exclusion) {
	s := m.s
	rings := m.rings(e.Shape)
	s.ink(238)
	s.path(rings, true, 0.2, "f*")
	s.ink(90)
	s.path(hatch(rings, m.on, 1.6), false, 0.12, "D")
	s.path(rings, true, 0.25, "D")
	for _, l := range e.Lines {
		s.pdf.SetDashPattern([]float64{1.6, 0.8}, 0)
		s.path([]orb.LineString{m.line(orb.LineString(l))}, false, 0.6, "D")
		s.pdf.SetDashPattern(nil, 0)
	}
	for _, p := range e.Points {
		x, y := m.at(p)
		s.ring(x, y, 1.2, 0.3)
		s.rule(x-0.85, y-0.85, x+0.85, y+0.85, 0.3)
		s.rule(x-0.85, y+0.85, x+0.85, y-0.85, 0.3)
	}
}

// hatch returns slanted lines over the ground of rings, by the even-odd rule, as
// far as it lies on the paper.
func hatch(rings []orb.LineString, on Rect, every float64) []orb.LineString {
	type crossing struct{ x, y float64 }
	// Lines x + y = c. Those that a side crosses are found from the side.
	least, most := on.X+on.Y, on.Right()+on.Bottom()
	n := int((most-least)/every) + 1
	crossings := make([][]crossing, n)
	for _, ring := range rings {
		for i := 1; i < len(ring); i++ {
			a, b := ring[i-1], ring[i]
			ca, cb := a[0]+a[1], b[0]+b[1]
			if ca > cb {
				a, b, ca, cb = b, a, cb, ca
			}
			if !finite(ca, cb) || cb <= least || ca >= most {
				continue
			}
			for k := max(0, int(math.Ceil((ca-least)/every))); k < n; k++ {
				c := least + float64(k)*every
				if c < ca {
					continue
				}
				if c >= cb {
					break
				}
				t := (c - ca) / (cb - ca)
				crossings[k] = append(crossings[k], crossing{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])})
			}
		}
	}
	var out []orb.LineString
	for _, list := range crossings {
		sortBy(list, func(c crossing) float64 { return c.x })
		for i := 0; i+1 < len(list); i += 2 {
			out = append(out, orb.LineString{{list[i].x, list[i].y}, {list[i+1].x, list[i+1].y}})
		}
	}
	return out
}

// walk draws the way from the gate through all cores, round the exclusions.
func (m *fieldMap) walk() {
	var obstacles []plane.Shape
	for _, e := range m.f.Field.Exclusions {
		if !e.Shape.Empty() {
			obstacles = append(obstacles, e.Shape)
		}
	}
	ground := walk.NewGround(obstacles)
	last := m.f.Start
	var lines []orb.LineString
	many := m.f.Cores() > mostWays
	for _, u := range m.f.Units {
		for i := range u.Cores {
			at := u.Cores[i].At
			if last != nil {
				way := orb.LineString{orb.Point(*last), orb.Point(at)}
				if !many {
					round, _ := ground.Way(*last, at)
					way = orb.LineString(round)
				}
				lines = append(lines, m.line(way))
			}
			last = &at
		}
	}
	m.s.ink(110)
	m.s.path(lines, false, 0.15, "D")
	m.s.ink(0)
}

func (m *fieldMap) cores() {
	for _, u := range m.f.Units {
		for _, c := range u.Cores {
			x, y := m.at(c.At)
			m.s.disc(x, y, m.dot)
			m.dots.add(Rect{x - m.dot, y - m.dot, 2 * m.dot, 2 * m.dot})
		}
	}
}

func (m *fieldMap) gate() {
	if m.f.Start == nil {
		return
	}
	if x, y := m.at(*m.f.Start); m.on.Inset(1).Holds(Rect{x, y, 0, 0}) {
		m.taken.add(gateMark(m.s, x, y))
	}
}

// gateMark draws a gate: two posts and bars.
func gateMark(s *sheet, x, y float64) Rect {
	r := Rect{x - 2, y - 1.5, 4, 3}
	s.ink(255)
	s.fill(r)
	s.ink(0)
	s.rule(r.X, r.Y, r.X, r.Bottom(), 0.6)
	s.rule(r.Right(), r.Y, r.Right(), r.Bottom(), 0.6)
	for _, share := range []float64{0.2, 0.5, 0.8} {
		s.rule(r.X, r.Y+share*r.Height, r.Right(), r.Y+share*r.Height, 0.3)
	}
	s.rule(r.X, r.Y+0.8*r.Height, r.Right(), r.Y+0.2*r.Height, 0.3)
	return r
}

// free tells whether a rectangle lies on the map with nothing written or, where
// that counts, no core there.
func (m *fieldMap) free(r Rect, dots bool) bool {
	return m.on.Inset(0.3).Holds(r) && m.taken.free(r) && (!dots || m.dots.free(r))
}

// badge is a unit's number, with or without its id, white on black.
type badge struct {
	text          string
	size          float64
	width, height float64
}

func (m *fieldMap) badges(u *PacketUnit) []badge {
	number := fmt.Sprint(u.Number)
	var out []badge
	for _, b := range []badge{{text: number + "  " + u.Samples[0].ID, size: 7.5}, {text: number, size: 9}, {text: number, size: 6.5}} {
		b.width = math.Min(m.s.fonts.width(b.text, true)*b.size*pt, 30) + 1.8
		b.height = b.size*pt + 0.9
		out = append(out, b)
	}
	return out
}

// unitNumbers writes the number of every unit, with the id where it has room
// clear of cores.
func (m *fieldMap) unitNumbers() {
	for i := range m.f.Units {
		u := &m.f.Units[i]
		b, r := m.spot(u)
		m.taken.add(r)
		m.s.ink(0)
		m.s.fill(r)
		m.s.pdf.SetTextColor(255, 255, 255)
		m.s.text(r.X+0.9, r.Y+r.Height/2+0.36*b.size*pt, r.Width, style{b.size, true}, b.text)
		m.s.ink(0)
	}
}

// spot finds room for the number of a unit: within it, clear of cores and of
// what is written, as far from its sides as can be.
func (m *fieldMap) spot(u *PacketUnit) (badge, Rect) {
	const steps = 14
	inside := plane.NewLocator(u.Shape)
	var sides plane.Edges
	sides.AddShape(u.Shape)
	b := u.Shape.Bound()
	badges := m.badges(u)
	at := func(x, y float64, g badge) Rect { return Rect{x - g.width/2, y - g.height/2, g.width, g.height} }
	type candidate struct {
		x, y, off float64
	}
	var places []candidate
	for i := range steps {
		for k := range steps {
			p := geo.XY{b.Min[0] + (float64(i)+0.5)/steps*(b.Max[0]-b.Min[0]), b.Min[1] + (float64(k)+0.5)/steps*(b.Max[1]-b.Min[1])}
			if inside.Contains(p) {
				x, y := m.at(p)
				places = append(places, candidate{x, y, sides.Distance(p, math.MaxFloat64) * m.scale})
			}
		}
	}
	if len(places) == 0 {
		p := geo.XY(b.Center())
		if c, ok := u.Shape.Centroid(); ok {
			p = c
		}
		x, y := m.at(p)
		places = []candidate{{x, y, 0}}
	}
	sortBy(places, func(c candidate) float64 { return -math.Round(c.off*100) / 100 })
	for _, g := range badges {
		for _, p := range places {
			if r := at(p.x, p.y, g); p.off >= math.Hypot(g.width, g.height)/2 && m.free(r, true) {
				return g, r
			}
		}
		// Corners may come close to a slanted side.
		for _, p := range places {
			if r := at(p.x, p.y, g); p.off >= g.height/2+0.2 && m.within(inside, r) && m.free(r, true) {
				return g, r
			}
		}
	}
	small := badges[len(badges)-1]
	for _, p := range places {
		if r := at(p.x, p.y, small); m.free(r, false) {
			return small, r
		}
	}
	return small, at(places[0].x, places[0].y, small)
}

// within tells whether the corners of a rectangle lie in a shape.
func (m *fieldMap) within(inside *plane.Locator, r Rect) bool {
	for _, c := range [][2]float64{{r.X, r.Y}, {r.Right(), r.Y}, {r.X, r.Bottom()}, {r.Right(), r.Bottom()}} {
		if !inside.Contains(geo.XY{m.west + (c[0]-m.on.X)/m.scale, m.north - (c[1]-m.on.Y)/m.scale}) {
			return false
		}
	}
	return true
}

// coreNumbers writes the numbers of the cores beside them, where there is room.
func (m *fieldMap) coreNumbers() {
	all := m.f.Cores() <= mostNumbers
	st := style{5.5, false}
	h := 0.72 * st.size * pt
	for _, u := range m.f.Units {
		for i, c := range u.Cores {
			if i > 0 && !all {
				break
			}
			text := fmt.Sprint(c.Number)
			x, y := m.at(c.At)
			w := m.s.width(text, st)
			gap := m.dot + 0.25
			for _, p := range [][2]float64{
				{x + gap, y - h/2}, {x - gap - w, y - h/2}, {x - w/2, y - gap - h}, {x - w/2, y + gap},
				{x + 0.7*gap, y - 0.7*gap - h}, {x - 0.7*gap - w, y - 0.7*gap - h}, {x + 0.7*gap, y + 0.7*gap}, {x - 0.7*gap - w, y + 0.7*gap},
			} {
				r := Rect{p[0], p[1], w, h}
				if m.free(r, true) {
					m.s.text(p[0], p[1]+h, w+1, st, text)
					m.taken.add(r)
					break
				}
			}
		}
	}
}

// exclusionName writes a name into the exclusion or beside it, where there is
// room.
func (m *fieldMap) exclusionName(e geo.Exclusion) {
	name := m.s.fonts.fit(clean(e.Name), false, 30/(6*pt))
	b, ok := m.extent(e)
	if name == "" || !ok {
		return
	}
	st := style{6, false}
	w, h := m.s.width(name, st)+0.8, st.size*pt+0.5
	x, y := b.X+b.Width/2, b.Y+b.Height/2
	for i, r := range []Rect{
		{x - w/2, y - h/2, w, h}, {b.Right() + 1.5, y - h/2, w, h}, {b.X - 1.5 - w, y - h/2, w, h},
		{x - w/2, b.Bottom() + 1.3, w, h}, {x - w/2, b.Y - 1.3 - h, w, h},
	} {
		if onIt := i == 0 && len(e.Points) > 0; onIt || !m.free(r, true) {
			continue // a name would hide the mark of a point
		}
		m.s.ink(255)
		m.s.fill(r)
		m.s.ink(0)
		m.s.text(r.X+0.4, r.Y+0.82*st.size*pt, w, st, name)
		m.taken.add(r)
		return
	}
}

// extent is the part of the map that an exclusion lies on, false where it lies
// off the map.
func (m *fieldMap) extent(e geo.Exclusion) (Rect, bool) {
	west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	add := func(p orb.Point) {
		west, east = math.Min(west, p[0]), math.Max(east, p[0])
		south, north = math.Min(south, p[1]), math.Max(north, p[1])
	}
	for _, polygon := range e.Shape {
		for _, ring := range polygon {
			for _, p := range ring {
				add(p)
			}
		}
	}
	for _, l := range e.Lines {
		for _, p := range l {
			add(p)
		}
	}
	for _, p := range e.Points {
		add(orb.Point(p))
	}
	x1, y1 := m.at(geo.XY{west, north})
	x2, y2 := m.at(geo.XY{east, south})
	x1, y1 = math.Max(x1, m.on.X), math.Max(y1, m.on.Y)
	x2, y2 = math.Min(x2, m.on.Right()), math.Min(y2, m.on.Bottom())
	return Rect{x1, y1, x2 - x1, y2 - y1}, finite(x1, y1, x2, y2) && x1 < x2+1e-9 && y1 < y2+1e-9
}
