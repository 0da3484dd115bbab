package picture

import (
	"strings"

	"corewalk/geo/plane"
)

// Lengths of the page, in its units.
const (
	margin    = 28.0
	gutter    = 24.0 // between the map and its legend
	sidebar   = 200.0
	padding   = 16.0 // between the ground and the frame of the map
	leastMap  = 360.0
	sideMap   = 560.0 // widest map with its legend at the side
	wideMap   = sideMap + gutter + sidebar
	tallest   = 620.0
	titleSize = 27.0
	textSize  = 16.0
	noteSize  = 14.5
)

// page is a map being laid out.
type page struct {
	*scene
	m      *Map
	ground box
	scale  float64 // page units to the metre
	frame  rect    // of the map
	origin spot    // of the ground's north-west corner
	shapes ground
	placer placer
	// The rings of the map's outlines and zones on the page.
	outlines, zones [][][]spot
	written         []rect // room of the values written
	unread          int    // values for which there was no room
}

// at turns a place on the ground into one on the page.
func (p *page) at(xy plane.XY) spot {
	return spot{
		p.origin.x + float64((xy[0]-p.ground.west)*p.scale),
		p.origin.y + float64((p.ground.north-xy[1])*p.scale),
	}
}

func (m *Map) scene() (*scene, error) {
	p, err := m.layout()
	if err != nil {
		return nil, err
	}
	return p.scene, nil
}

// layout lays the map out. The legend stands at the side of the map, and below a
// map much wider than tall.
func (m *Map) layout() (*page, error) {
	b, err := m.extent()
	if err != nil {
		return nil, err
	}
	s, err := newScene(m.Title)
	if err != nil {
		return nil, err
	}
	p := &page{scene: s, m: m, ground: b}
	p.desc = m.describe()
	w, h := b.east-b.west, b.north-b.south
	wide := w > 1.75*h
	widest := sideMap
	if wide {
		widest = wideMap
	}
	p.scale = (widest - 2*padding) / max(w, 1e-9)
	p.scale = min(p.scale, (tallest-2*padding)/max(h, 1e-9))
	frameWidth := min(max(float64(w*p.scale)+2*padding, leastMap), widest)
	p.width = frameWidth + 2*margin
	if !wide {
		p.width += gutter + sidebar
	}
	top := p.head()

	// The banner is within the frame, the ground below it.
	banner := p.bannerHeight(frameWidth)
	frameHeight := banner + float64(h*p.scale) + 2*padding
	p.frame = rect{margin, top, margin + frameWidth, top + frameHeight}
	p.shapes, err = p.prepare()
	if err != nil {
		return nil, err
	}
	bottom := 0.0
	if wide {
		p.place(banner)
		bottom = p.legendBelow(p.frame.y1 + 18)
	} else {
		// The map is at least as tall as its legend.
		x := p.frame.x1 + gutter
		end := p.legend(x, top, sidebar, false) + 20
		p.frame.y1 = max(p.frame.y1, end+furnitureHeight)
		p.furniture(x, p.frame.y1-furnitureHeight, sidebar)
		p.place(banner)
		bottom = p.frame.y1
	}
	p.cover()
	p.banner()
	p.foot(bottom)
	return p, nil
}

// place sets the ground in the middle of the frame, below the banner, and draws it.
func (p *page) place(banner float64) {
	w, h := p.ground.east-p.ground.west, p.ground.north-p.ground.south
	p.origin = spot{
		(p.frame.x0 + p.frame.x1 - float64(w*p.scale)) / 2,
		(p.frame.y0 + banner + p.frame.y1 - float64(h*p.scale)) / 2,
	}
	for _, o := range p.m.Outlines {
		p.outlines = append(p.outlines, p.runs(o.Shape))
	}
	for _, z := range p.m.Zones {
		p.zones = append(p.zones, p.runs(z.Shape))
	}
	p.shapes.draw(p)
}

// head writes title and subtitle and returns the y below them.
func (s *scene) headings(title, subtitle string) float64 {
	y, width := margin-6, s.width-2*margin
	if clean(title) != "" {
		y = s.paragraph(words{at: spot{margin, y}, size: titleSize, bold: true, fill: ink}, title, width, 2)
	}
	if clean(subtitle) != "" {
		y = s.paragraph(words{at: spot{margin, y}, size: textSize, fill: grey}, subtitle, width, 3)
	}
	return y + 10
}

func (p *page) head() float64 { return p.headings(p.m.Title, p.m.Subtitle) }

// foot writes the footer and ends the page.
func (p *page) foot(y float64) {
	lines := p.m.Footer
	if p.unread > 0 {
		lines = append(lines[:len(lines):len(lines)], plural(p.unread, "value has", "values have")+" no room on the map; the points are drawn.")
	}
	p.footer(lines, y)
}

func (s *scene) footer(lines []string, y float64) {
	width := s.width - 2*margin
	y += 16
	any := false
	for _, l := range lines {
		if clean(l) == "" {
			continue
		}
		if !any {
			s.add(line{runs: [][]spot{{{margin, y}, {s.width - margin, y}}}, width: 0.8, colour: hairline})
			y, any = y+6, true
		}
		y = s.paragraph(words{at: spot{margin, y}, size: noteSize, fill: grey}, l, width, 5)
	}
	s.height = y + margin - 10
}

const bannerSize = 18.0

// bannerLines returns the lines of the notes in a banner of that width.
func (p *page) bannerLines(width float64) []string {
	var out []string
	for _, n := range p.m.Notes {
		out = append(out, p.faces.wrap(clean(n), bannerSize, true, width-28, 10)...)
	}
	return out
}

func (p *page) bannerHeight(width float64) float64 {
	n := len(p.bannerLines(width))
	if n == 0 {
		return 0
	}
	return float64(float64(n)*bannerSize*1.3) + 18
}

// banner frames the map, in the colour of alarm where there are notes.
func (p *page) banner() {
	f := p.frame
	lines := p.bannerLines(f.x1 - f.x0)
	if len(lines) == 0 {
		p.add(line{runs: [][]spot{f.corners()}, closed: true, width: 1, colour: hairline})
		return
	}
	band := rect{f.x0, f.y0, f.x1, f.y0 + p.bannerHeight(f.x1-f.x0)}
	p.add(area{[][]spot{band.corners()}, alarm}, line{runs: [][]spot{f.corners()}, closed: true, width: 4, colour: alarm})
	for i, l := range lines {
		y := band.y0 + 9 + float64((float64(i)+0.8)*bannerSize*1.3)
		p.text(words{at: spot{(f.x0 + f.x1) / 2, y - 1}, text: l, size: bannerSize, bold: true, anchor: middle, fill: white})
	}
}

// describe puts the map into words.
func (m *Map) describe() string {
	parts := []string{m.Subtitle}
	parts = append(parts, m.Notes...)
	parts = append(parts, "Map, north up: "+m.Legend+" "+m.Unit+".")
	parts = append(parts, m.Footer...)
	for i := range parts {
		parts[i] = clean(parts[i])
	}
	return strings.Join(strings.Fields(strings.Join(parts, " ")), " ")
}
