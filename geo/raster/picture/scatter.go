package picture

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
)

// Pair is one observed figure and the one predicted for the same place.
type Pair struct{ Observed, Predicted float64 }

// Scatter describes a plot of predicted on observed figures: a square with the
// same axes both ways and the line on which they are equal.
type Scatter struct {
	Title, Subtitle string
	Pairs           []Pair // those not finite are left out, and counted below
	Unit            string
	Observed        string // name of the axis across; empty: "observed"
	Predicted       string // name of the axis upwards; empty: "predicted"
	Footer          []string
}

// SVG writes the plot as an SVG document that needs no other file. Without one
// finite pair it is an error, as are more than 200 000 pairs.
func (p *Scatter) SVG(w io.Writer) error {
	s, err := p.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the plot as a PNG; width and errors as in [Map.PNG].
func (p *Scatter) PNG(w io.Writer, width int) error {
	s, err := p.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w, width)
}

// scatterSide is the side of the plot.
const scatterSide = 380.0

func (p *Scatter) scene() (*scene, error) {
	if len(p.Pairs) > mostPoints {
		return nil, fmt.Errorf("%d pairs in a scatter: at most %d can be drawn", len(p.Pairs), mostPoints)
	}
	// Beyond these, differences of figures have no finite size.
	const largest = 1e300
	lo, hi := math.Inf(1), math.Inf(-1)
	var pairs []Pair
	for _, q := range p.Pairs {
		if !(math.Abs(q.Observed) < largest) || !(math.Abs(q.Predicted) < largest) {
			continue
		}
		pairs = append(pairs, q)
		lo, hi = min(lo, q.Observed, q.Predicted), max(hi, q.Observed, q.Predicted)
	}
	if len(pairs) == 0 {
		return nil, errors.New("no pair of finite figures in the scatter")
	}
	if pad := 0.06 * (hi - lo); pad > 1e-6*max(math.Abs(lo), math.Abs(hi)) {
		lo, hi = lo-pad, hi+pad
	} else {
		pad = max(math.Abs(lo)*0.05, 1e-6)
		lo, hi = lo-pad, hi+pad
	}
	s, err := newScene(p.Title)
	if err != nil {
		return nil, err
	}
	values, places := ticks(lo, hi)
	wide := 0.0
	for _, v := range values {
		wide = max(wide, s.faces.width(number(v, places), textSize, false))
	}
	s.width = scatterSide + wide + 2*margin + 20
	top := s.headings(p.Title, p.Subtitle) + 4
	top = s.paragraph(words{at: spot{margin, top}, size: textSize, fill: ink}, axis(p.Predicted, "predicted", p.Unit), s.width-2*margin, 2) + 8
	x0 := margin + wide + 12
	frame := rect{x0, top, x0 + scatterSide, top + scatterSide}
	at := func(x, y float64) spot {
		return spot{
			frame.x0 + float64((x-lo)/(hi-lo)*scatterSide),
			frame.y1 - float64((y-lo)/(hi-lo)*scatterSide),
		}
	}
	for _, v := range values {
		a, b := at(v, v), number(v, places)
		s.add(line{runs: [][]spot{{{a.x, frame.y0}, {a.x, frame.y1}}, {{frame.x0, a.y}, {frame.x1, a.y}}}, width: 0.6, colour: hairline})
		s.text(words{at: spot{frame.x0 - 8, a.y + 0.35*textSize}, text: b, size: textSize, anchor: right, fill: ink})
		s.text(words{at: spot{a.x, frame.y1 + 8 + 0.8*textSize}, text: b, size: textSize, anchor: middle, fill: ink})
	}
	s.add(line{runs: [][]spot{{at(lo, lo), at(hi, hi)}}, width: 1.6, colour: grey, dash: []float64{7, 5}})
	r := pointRadius(len(pairs))
	for _, q := range pairs {
		fill := below
		fill.A = 0x80
		s.add(disc{at(q.Observed, q.Predicted), 1.1 * r, fill, ink, 0.3 * r, ""})
	}
	s.add(line{runs: [][]spot{frame.corners()}, closed: true, width: 1.1, colour: ink})
	s.text(words{at: spot{frame.x1 - 26, frame.y0 + 44}, text: "1:1", size: textSize, fill: grey, halo: 4})
	y := frame.y1 + 28
	for _, l := range s.faces.wrap(clean(axis(p.Observed, "observed", p.Unit)), textSize, false, s.width-2*margin, 2) {
		y += 1.3 * textSize
		s.text(words{at: spot{frame.x1, y - 0.3*textSize}, text: l, size: textSize, anchor: right, fill: ink})
	}
	footer := p.Footer
	if n := len(p.Pairs) - len(pairs); n > 0 {
		footer = append(footer[:len(footer):len(footer)], plural(n, "pair is", "pairs are")+" left out: not a finite figure.")
	}
	s.desc = clean(strings.Join(append([]string{p.Subtitle, "Predicted on observed figures."}, footer...), " "))
	s.footer(footer, y)
	return s, nil
}

// axis names an axis with its unit.
func axis(name, otherwise, unit string) string {
	name, unit = clean(name), clean(unit)
	if name == "" {
		name = otherwise
	}
	if unit != "" {
		name += ", " + unit
	}
	return name
}
