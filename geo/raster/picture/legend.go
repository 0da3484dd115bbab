package picture

import (
	"image"
	"strconv"
)

// plural writes a count.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// legend explains the colours and signs, from y downwards, and returns the y
// below. Flat lays the bar of a ramp across.
func (p *page) legend(x, y, width float64, flat bool) float64 {
	y = p.colours(x, y, width, flat)
	if p.hasMarks() {
		y = p.marksKey(x, y+12, width)
	}
	return p.signs(x, y+12, width)
}

func (p *page) hasMarks() bool { return len(p.m.Marks.Items) > 0 }

// legendBelow sets the legend in columns and returns the y below.
func (p *page) legendBelow(y float64) float64 {
	const first, last, between = 330.0, sidebar, 28.0
	x := p.frame.x0
	a := p.colours(x, y, first, true)
	if p.hasMarks() {
		a = p.marksKey(x, a+12, first)
	}
	if a > y {
		x += first + between
	}
	b := p.signs(x, y, p.frame.x1-last-between-x)
	p.furniture(p.frame.x1-last, y, last)
	return max(a, b, y+furnitureHeight)
}

// heading writes a bold head with its unit and returns the y below.
func (p *page) heading(x, y, width float64, head, unit string) float64 {
	head, unit = clean(head), clean(unit)
	if head != "" {
		y = p.paragraph(words{at: spot{x, y}, size: textSize, bold: true, fill: ink}, head, width, 3)
	}
	if unit != "" {
		y = p.paragraph(words{at: spot{x, y}, size: textSize, fill: grey}, unit, width, 2)
	}
	return y
}

// colours explains the colours of the ground.
func (p *page) colours(x, y, width float64, flat bool) float64 {
	m, g := p.m, &p.shapes
	if m.Grid != nil || len(m.Classes) > 0 {
		y = p.heading(x, y, width, m.Legend, m.Unit) + 8
	}
	switch {
	case len(m.Classes) > 0:
		for k := len(m.Classes) - 1; k >= 0; k-- {
			c := m.Classes[k]
			colour := g.colours[k]
			y = p.key(x, y, width, c.words(k == len(m.Classes)-1), func(r rect) {
				p.add(area{[][]spot{r.corners()}, colour}, line{runs: [][]spot{r.corners()}, closed: true, width: 0.9, colour: ink})
				p.text(words{
					at: spot{(r.x0 + r.x1) / 2, r.y1 - 5}, text: cut(clean(c.Mark), 3), size: 13.5, bold: true,
					anchor: middle, fill: inkOn(colour),
				})
			})
		}
	case g.none:
		y = p.paragraph(words{at: spot{x, y}, size: noteSize, fill: ink}, "no values", width, 1)
	case m.Grid != nil:
		y = p.bar(x, y, width, flat)
	}
	if g.missing {
		name := clean(m.NoData)
		if name == "" {
			name = "no value made here"
		}
		y = p.key(x, y+4, width, name, func(r rect) {
			p.add(
				line{runs: hatch([][]spot{r.corners()}, hatchDistance, false), width: 1, colour: noGround},
				line{runs: [][]spot{r.corners()}, closed: true, width: 0.9, colour: ink},
			)
		})
	}
	return y
}

// words names the class and its limits.
func (c Class) words(last bool) string {
	limits := ""
	if c.From < c.To {
		low, high := finite(c.From), finite(c.To)
		switch {
		case low && high:
			limits = plain(c.From) + " – " + plain(c.To)
		case low:
			limits = plain(c.From) + " and above"
		case high && last:
			limits = "up to " + plain(c.To)
		case high:
			limits = "below " + plain(c.To)
		default:
			limits = "all values"
		}
	}
	name := clean(c.Name)
	if name != "" && limits != "" {
		return name + ", " + limits
	}
	return name + limits
}

// bar draws the ramp with its ticks.
func (p *page) bar(x, y, width float64, flat bool) float64 {
	g := &p.shapes
	values, places := ticks(g.lo, g.hi)
	if len(values) == 0 {
		return p.key(x, y, width, "one value: "+short((g.lo+g.hi)/2), func(r rect) {
			p.add(area{[][]spot{r.corners()}, shade(p.m.Ramp, 0.5)}, line{runs: [][]spot{r.corners()}, closed: true, width: 0.9, colour: ink})
		})
	}
	const thick, length = 22.0, 210.0
	img := image.NewNRGBA(image.Rect(0, 0, 1, shades))
	if flat {
		img = image.NewNRGBA(image.Rect(0, 0, shades, 1))
	}
	for i := range shades {
		c := shade(p.m.Ramp, float64(i)/(shades-1))
		k := i
		if !flat {
			k = shades - 1 - i // high values above
		}
		img.Pix[4*k], img.Pix[4*k+1], img.Pix[4*k+2], img.Pix[4*k+3] = c.R, c.G, c.B, 255
	}
	r := rect{x, y + 4, x + thick, y + 4 + length}
	if flat {
		r = rect{x, y + 2, x + min(width, 300), y + 2 + thick}
	}
	p.add(pixels{at: r, img: img}, line{runs: [][]spot{r.corners()}, closed: true, width: 0.9, colour: ink})
	for _, v := range values {
		t := (v - g.lo) / (g.hi - g.lo)
		tick := []spot{{r.x1, r.y1 - float64(t*(r.y1-r.y0))}}
		tick = append(tick, spot{r.x1 + 5, tick[0].y})
		w := words{at: spot{r.x1 + 10, tick[0].y + 0.35*textSize}, text: number(v, places), size: textSize, fill: ink}
		if flat {
			at := r.x0 + float64(t*(r.x1-r.x0))
			tick = []spot{{at, r.y1}, {at, r.y1 + 5}}
			half := p.faces.width(w.text, textSize, false) / 2
			w.at, w.anchor = spot{max(at, r.x0+half), r.y1 + 7 + 0.8*textSize}, middle
		}
		p.add(line{runs: [][]spot{tick}, width: 1.1, colour: ink})
		p.text(w)
	}
	y = r.y1 + 8
	if flat {
		y = r.y1 + 28
	}
	if g.beyond {
		y = p.paragraph(words{at: spot{x, y}, size: noteSize, fill: grey}, "values beyond have the end colours", width, 2) + 2
	}
	return y
}

// key draws a swatch with words at its right and returns the y below.
func (p *page) key(x, y, width float64, text string, swatch func(r rect)) float64 {
	const w, h = 30.0, 19.0
	swatch(rect{x, y + 2, x + w, y + 2 + h})
	end := p.paragraph(words{at: spot{x + w + 10, y + 1.5}, size: noteSize, fill: ink}, text, width-w-10, 3)
	return max(y+h, end) + 6
}

// mostKeys is the number of outlines that the legend explains.
const mostKeys = 12

// signs explains the outlines and points.
func (p *page) signs(x, y, width float64) float64 {
	seen := make(map[keyID]bool)
	for _, k := range []Kind{Boundary, Unit, Problem, Patch, Exclusion} {
		for _, o := range p.m.Outlines {
			text := o.key()
			id := keyID{k, text}
			if o.Kind != k || o.Shape.Empty() || seen[id] || len(seen) == mostKeys {
				continue
			}
			seen[id] = true
			y = p.key(x, y, width, text, func(r rect) {
				if k == Exclusion {
					p.paintOutline(k, [][]spot{r.corners()}, true)
					return
				}
				middle := (r.y0 + r.y1) / 2
				p.paintOutline(k, [][]spot{{{r.x0, middle}, {r.x1, middle}}}, false)
			})
		}
	}
	if len(p.m.Points) > 0 {
		text := clean(p.m.PointKey)
		if text == "" {
			text = "sample, with its value"
		}
		y = p.key(x, y, width, text, func(r rect) {
			p.add(disc{spot{(r.x0 + r.x1) / 2, (r.y0 + r.y1) / 2}, 4, white, ink, 1.6, ""})
		})
	}
	return y
}

// marksKey explains the triangles by the largest of each side.
func (p *page) marksKey(x, y, width float64) float64 {
	k := &p.m.Marks
	y = p.heading(x, y, width, k.Label, k.Unit) + 14
	up, down, same, most := 0.0, 0.0, false, k.greatest()
	for _, i := range k.Items {
		up, down = max(up, i.Value), min(down, i.Value)
		same = same || even(i.Value, k.Even)
	}
	sign := func(v float64, text string) {
		y = p.key(x, y, width, text, func(r rect) {
			p.triangle(spot{(r.x0 + r.x1) / 2, (r.y0 + r.y1) / 2}, v, most)
		}) + 7
	}
	if !even(up, k.Even) {
		sign(up, "above, up to "+short(up))
	}
	if same {
		text := "about right, within " + short(k.Even)
		if k.Even <= 0 {
			text = "exactly right"
		}
		sign(0, text)
	}
	if !even(down, k.Even) {
		sign(down, "below, down to "+short(down))
	}
	return y
}

// keyID tells entries of the legend apart.
type keyID struct {
	kind Kind
	text string
}
