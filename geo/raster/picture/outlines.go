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

// cover draws everything on the ground, from below upwards, and finds room for
// the letters: those of zones and outlines first, then the values.
func (p *page) cover() {
	for _, k := range []Kind{Exclusion, Unit, Boundary, Problem, Patch} {
		for i, o := range p.m.Outlines {
			if o.Kind == k && len(p.outlines[i]) > 0 {
				p.paintOutline(k, p.outlines[i], true)
			}
		}
	}
	p.placer = newPlacer(p.mapArea())
	p.strike()
	p.points()
	p.names()
	p.values()
}

// mapArea is the part of the frame that letters may stand on.
func (p *page) mapArea() rect {
	f := p.frame
	return rect{f.x0 + 3, f.y0 + p.bannerHeight(f.x1-f.x0) + 3, f.x1 - 3, f.y1 - 3}
}

const nameSize, zoneSize = 17.0, 23.0

// names writes the letters of zones and the labels of outlines, off the ground
// that is not sampled.
func (p *page) names() {
	off := p.runsOf(Exclusion)
	for i, z := range p.m.Zones {
		text := clean(z.Label)
		if text == "" {
			text = clean(p.m.Classes[z.Class].Mark)
		}
		p.name(words{text: text, size: zoneSize, fill: inkOn(p.shapes.colours[z.Class])}, p.zones[i], off)
	}
	for i, o := range p.m.Outlines {
		var not [][]spot
		if o.Kind != Exclusion {
			not = off
		}
		p.name(words{text: clean(o.Label), size: nameSize, fill: ink, halo: 4.6}, p.outlines[i], not)
	}
}

// name writes text into a shape, as deep inside as it can, at another place
// there where other names stand.
func (p *page) name(t words, runs, off [][]spot) {
	t.text = cut(t.text, 40)
	if t.text == "" || len(runs) == 0 {
		return
	}
	w := p.faces.width(t.text, t.size, true)
	area := p.placer.area
	box := func(c spot) rect {
		c.x = max(min(c.x, area.x1-w/2-2), area.x0+w/2+2)
		c.y = max(min(c.y, area.y1-t.size/2-2), area.y0+t.size/2+2)
		half := float64(0.45 * t.size)
		return rect{c.x - w/2 - 2, c.y - half, c.x + w/2 + 2, c.y + half}
	}
	inside := deepest(runs, off, w/t.size)
	choice, found := box(inside[0]), false
	for _, avoid := range []uint8{occupied | crossed, occupied} {
		for i := 0; i < len(inside) && !found; i++ {
			if b := box(inside[i]); p.placer.free(b, avoid) {
				choice, found = b, true
			}
		}
	}
	p.placer.take(choice, occupied)
	t.at = spot{(choice.x0 + choice.x1) / 2, float64((choice.y0+choice.y1)/2) + float64(0.36*t.size)}
	t.bold, t.anchor = true, middle
	p.text(t)
}

// deepest returns places in the shape and not in off, the farthest from their
// edges first. wide is the width of the text that is to stand there, by its
// height.
func deepest(runs, off [][]spot, wide float64) []spot {
	var within rect
	edges := 0
	for i, r := range runs {
		edges += len(r)
		if i == 0 {
			within = boundOf(r)
		}
		b := boundOf(r)
		within = rect{min(within.x0, b.x0), min(within.y0, b.y0), max(within.x1, b.x1), max(within.y1, b.y1)}
	}
	var near [][]spot
	for _, r := range off {
		if boundOf(r).overlaps(within) {
			near = append(near, r)
			edges += len(r)
		}
	}
	x0, y0, x1, y1 := within.x0, within.y0, within.x1, within.y1
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
			d, in := depth(runs, at, squeeze)
			if !in {
				continue
			}
			if e, on := depth(near, at, squeeze); !on {
				found = append(found, place{at, min(d, e)})
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
