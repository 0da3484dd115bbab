package picture

import (
	"image"
	"image/color"
	"math"
)

// spot is a place on the page, in its units, y downwards.
type spot struct{ x, y float64 }

// rect is an upright rectangle on the page.
type rect struct{ x0, y0, x1, y1 float64 }

func (r rect) corners() []spot {
	return []spot{{r.x0, r.y0}, {r.x1, r.y0}, {r.x1, r.y1}, {r.x0, r.y1}}
}

func (r rect) overlaps(o rect) bool {
	return r.x0 < o.x1 && o.x0 < r.x1 && r.y0 < o.y1 && o.y0 < r.y1
}

func (r rect) within(o rect) bool {
	return r.x0 >= o.x0 && r.y0 >= o.y0 && r.x1 <= o.x1 && r.y1 <= o.y1
}

// scene is a page laid out: items in the order in which they are painted.
type scene struct {
	width, height float64
	title, desc   string // for those who hear the page, and for searches
	items         []item
	faces         *faces
}

// item is something painted, in the two ways of writing.
type item interface {
	svg(w *svgWriter)
	png(c *canvas)
}

// area is a filled shape: closed runs, holes turning against their shells.
type area struct {
	runs [][]spot
	fill color.NRGBA
}

// line is a line along runs. Dash holds lengths drawn and left out in turn.
type line struct {
	runs   [][]spot
	closed bool
	width  float64
	colour color.NRGBA
	dash   []float64
}

// disc is a filled circle with an edge.
type disc struct {
	at         spot
	r          float64
	fill, edge color.NRGBA
	width      float64 // of the edge
	tip        string  // shown where the reader's program can
}

type anchor int

const (
	left anchor = iota
	middle
	right
)

// words is one line of text, its base line at the place.
type words struct {
	at     spot
	text   string
	size   float64
	bold   bool
	anchor anchor
	fill   color.NRGBA
	halo   float64 // width of the light rim round the letters
}

// pixels is an image stretched over a rectangle, cut off at the runs of clip if
// there are any.
type pixels struct {
	at   rect
	img  *image.NRGBA
	clip [][]spot
}

// boundOf returns the smallest rectangle round a run.
func boundOf(run []spot) rect {
	r := rect{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range run {
		r = rect{min(r.x0, p.x), min(r.y0, p.y), max(r.x1, p.x), max(r.y1, p.y)}
	}
	return r
}

func newScene(title string) (*scene, error) {
	f, err := loadFaces()
	if err != nil {
		return nil, err
	}
	return &scene{title: clean(title), faces: f}, nil
}

func (s *scene) add(items ...item) { s.items = append(s.items, items...) }

// text adds a line of words and returns its width.
func (s *scene) text(w words) float64 {
	s.add(w)
	return s.faces.width(w.text, w.size, w.bold)
}

// paragraph writes text from the line y downwards in lines of the given width
// and returns the y below it.
func (s *scene) paragraph(w words, text string, width float64, lines int) float64 {
	leading := w.size * 1.3
	for _, l := range s.faces.wrap(clean(text), w.size, w.bold, width, lines) {
		w.at.y += leading
		w.text = l
		s.add(words{spot{w.at.x, w.at.y - float64(0.3*w.size)}, l, w.size, w.bold, w.anchor, w.fill, w.halo})
	}
	return w.at.y
}

// ring returns a circle as a closed run.
func ring(at spot, r float64, corners int) []spot {
	out := make([]spot, corners)
	for i := range out {
		sin, cos := turn(float64(i) / float64(corners))
		out[i] = spot{at.x + float64(r*cos), at.y + float64(r*sin)}
	}
	return out
}
