package picture

import (
	"math"
	"strconv"
)

// furnitureHeight is the room of the north arrow and the scale bar.
const furnitureHeight = 96.0

// Lengths in metres: the international foot and mile.
const (
	foot = 0.3048
	mile = 5280 * foot
)

// furniture draws the north arrow and, right of it, the scale bar.
func (p *page) furniture(x, y, width float64) {
	p.arrow(spot{x + 14, y + 57})
	p.scaleBar(x+46, y+72, width-46-26)
}

// arrow points to true north, its middle at the place.
func (p *page) arrow(at spot) {
	conv := p.m.Convergence
	if !finite(conv) {
		conv = 0
	}
	sin, cos := turn(-math.Mod(conv, 360) / 360)
	rotate := func(x, y float64) spot {
		return spot{at.x + float64(x*cos) - float64(y*sin), at.y + float64(x*sin) + float64(y*cos)}
	}
	const long, wide = 30.0, 10.0
	leftHalf := []spot{rotate(0, -long), rotate(0, long*0.55), rotate(-wide, long)}
	rightHalf := []spot{rotate(0, -long), rotate(wide, long), rotate(0, long*0.55)}
	p.add(area{[][]spot{leftHalf}, ink}, line{runs: [][]spot{leftHalf, rightHalf}, closed: true, width: 1.1, colour: ink})
	n := rotate(0, -long-13)
	p.text(words{at: spot{n.x, n.y + 6}, text: "N", size: textSize, bold: true, anchor: middle, fill: ink})
}

// scaleLength returns a round length that takes at most the given metres, in
// words and in metres, and the number of parts to divide it into.
func scaleLength(most float64, us bool) (label string, metres float64, parts int) {
	unit, name := 1.0, "m"
	switch {
	case us && most >= 2*mile:
		unit, name = mile, "mi"
	case us:
		unit, name = foot, "ft"
	case most >= 2000:
		unit, name = 1000, "km"
	}
	length, lead := roundBelow(most / unit)
	parts = 4
	if lead == 5 {
		parts = 5
	}
	return strconv.FormatFloat(length, 'g', 6, 64) + " " + name, length * unit, parts
}

func (p *page) scaleBar(x, y, width float64) {
	label, metres, parts := scaleLength(width/p.scale, p.m.US)
	length := metres * p.scale
	const thick = 7.0
	for i := range parts {
		r := rect{x + float64(length*float64(i)/float64(parts)), y, x + float64(length*float64(i+1)/float64(parts)), y + thick}
		if i%2 == 0 {
			p.add(area{[][]spot{r.corners()}, ink})
		}
	}
	r := rect{x, y, x + length, y + thick}
	p.add(line{runs: [][]spot{r.corners()}, closed: true, width: 1, colour: ink})
	p.text(words{at: spot{x, y - 6}, text: "0", size: noteSize, anchor: middle, fill: ink})
	p.text(words{at: spot{max(x+length-p.faces.width(label, noteSize, false)/2, x+14), y - 6}, text: label, size: noteSize, fill: ink})
}
