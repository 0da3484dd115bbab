package picture

import (
	"math"
)

// style is how one kind of outline is drawn.
type style struct {
	width float64
	dash  []float64
	key   string
}

func (k Kind) style() style {
	switch k {
	case Exclusion:
		return style{1, nil, "not sampled"}
	case Unit:
		return style{1.3, []float64{7, 4}, "unit"}
	case Problem:
		return style{2.2, []float64{12, 4, 2.5, 4}, "problem area"}
	case Patch:
		return style{2.2, []float64{4, 3}, "patch"}
	default:
		return style{2.4, nil, "field boundary"}
	}
}

// key returns the words for the outline in the legend.
func (o Outline) key() string {
	if k := clean(o.Key); k != "" {
		return k
	}
	return o.Kind.style().key
}

// paintOutline draws an outline on runs: a light casing, so that it stands out
// from dark ground, and the line.
func (s *scene) paintOutline(k Kind, runs [][]spot, closed bool) {
	st := k.style()
	if k == Exclusion {
		s.add(area{runs, offGrey}, line{runs: hatch(runs, 6, true), width: 1.1, colour: offHatch})
	} else {
		s.add(line{runs: runs, closed: closed, width: st.width + 2.4, colour: casing})
	}
	s.add(line{runs: runs, closed: closed, width: st.width, colour: ink, dash: st.dash})
}

// map_ draws everything on the ground, from below upwards, and finds room for
// the letters: those of zones and outlines first, then the values.
func (p *page) map_() {
	for _, k := range []Kind{Exclusion, Unit, Boundary, Problem, Patch} {
		for _, o := range p.m.Outlines {
			if o.Kind == k || k == Boundary && (o.Kind < Boundary || o.Kind > Patch) {
				if runs := p.runs(o.Shape); len(runs) > 0 {
					p.paintOutline(o.Kind, runs, true)
				}
			}
		}
	}
	p.placer = newPlacer(p.mapArea())
	p.points()
	p.names()
	p.values()
}

// mapArea is the part of the frame that letters may stand on.
func (p *page) mapArea() rect {
	f := p.frame
	return rect{f.x0 + 3, f.y0 + p.bannerHeight(f.x1-f.x0) + 3, f.x1 - 3, f.y1 - 3}
}

const nameSize = 17.0

// names writes the letters of zones and the labels of outlines.
func (p *page) names() {
	for _, z := range p.m.Zones {
		text := clean(z.Label)
		if text == "" {
			text = clean(p.m.Classes[z.Class].Mark)
		}
		p.name(text, p.runs(z.Shape))
	}
	for _, o := range p.m.Outlines {
		p.name(clean(o.Label), p.runs(o.Shape))
	}
}

// name writes text into a shape, as deep inside as it can, or beside it where
// other names stand there.
func (p *page) name(text string, runs [][]spot) {
	text = cut(text, 40)
	if text == "" || len(runs) == 0 {
		return
	}
	w := p.faces.width(text, nameSize, true)
	area := p.placer.area
	box := func(c spot) rect {
		c.x = max(min(c.x, area.x1-w/2-2), area.x0+w/2+2)
		c.y = max(min(c.y, area.y1-nameSize/2-2), area.y0+nameSize/2+2)
		return rect{c.x - w/2 - 2, c.y - nameSize*0.5, c.x + w/2 + 2, c.y + nameSize*0.5}
	}
	inside := deepest(runs, w/nameSize)
	choice := box(inside[0])
	for _, c := range inside {
		if b := box(c); p.placer.free(b) {
			choice = b
			break
		}
	}
	p.placer.take(choice)
	p.text(words{
		at: spot{(choice.x0 + choice.x1) / 2, choice.y1 - nameSize*0.15}, text: text,
		size: nameSize, bold: true, anchor: middle, fill: ink, halo: 4,
	})
}

// deepest returns places in the shape, the farthest from its edges first. wide
// is the width of the text that is to stand there, by its height.
func deepest(runs [][]spot, wide float64) []spot {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	edges := 0
	for _, r := range runs {
		edges += len(r)
		for _, p := range r {
			x0, x1, y0, y1 = min(x0, p.x), max(x1, p.x), min(y0, p.y), max(y1, p.y)
		}
	}
	side := 21
	if edges > 2000 {
		side = 11
	}
	// Wide text wants room at its sides: distances across count for less.
	squeeze := 1 / max(min(wide, 3), 1)
	type place struct {
		at    spot
		depth float64
	}
	var found []place
	for row := range side {
		for col := range side {
			at := spot{
				x0 + float64((float64(col)+0.5)/float64(side)*(x1-x0)),
				y0 + float64((float64(row)+0.5)/float64(side)*(y1-y0)),
			}
			if d, in := depth(runs, at, squeeze); in {
				found = append(found, place{at, d})
			}
		}
	}
	if len(found) == 0 {
		return []spot{{(x0 + x1) / 2, (y0 + y1) / 2}}
	}
	var out []spot
	// The few best ones, apart from each other.
	apart := 0.15 * max(x1-x0, y1-y0)
	for len(out) < 6 {
		best := -1
		for i, f := range found {
			if f.depth > 0 && (best < 0 || f.depth > found[best].depth) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		at := found[best].at
		out = append(out, at)
		for i, f := range found {
			if math.Hypot(f.at.x-at.x, f.at.y-at.y) <= apart {
				found[i].depth = 0
			}
		}
	}
	if len(out) == 0 {
		return []spot{found[0].at}
	}
	return out
}

// depth returns the distance from a place to the nearest edge, and whether the
// place lies within by the even-odd rule.
func depth(runs [][]spot, at spot, squeeze float64) (float64, bool) {
	in, nearest := false, math.Inf(1)
	for _, r := range runs {
		for i := range r {
			a, b := r[i], r[(i+1)%len(r)]
			if (a.y > at.y) != (b.y > at.y) && at.x < a.x+float64((at.y-a.y)/(b.y-a.y)*(b.x-a.x)) {
				in = !in
			}
			ax, ay := (a.x-at.x)*squeeze, a.y-at.y
			dx, dy := (b.x-a.x)*squeeze, b.y-a.y
			t := 0.0
			if l := float64(dx*dx) + float64(dy*dy); l > 0 {
				t = min(max(-(float64(ax*dx)+float64(ay*dy))/l, 0), 1)
			}
			nearest = min(nearest, math.Hypot(ax+float64(t*dx), ay+float64(t*dy)))
		}
	}
	return nearest, in
}
