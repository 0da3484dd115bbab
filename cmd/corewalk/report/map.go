package report

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// chart is what every map has. Places and sizes are written out, in the units
// of its view box.
type chart struct {
	ID, Field     string // ids in the page: of the map, and of the field's shapes
	Title, Desc   string
	Width, Height string
	Top, Tall     string  // of the view box
	Banner        *banner // above the map
	FootY         string  // where the ground ends and the scale bar has its place
	NorthX        string
	NorthY        string
	Bars          [2]scaleBar
	Key           []keyItem
	Wide, Narrow  string // size of the small letters on a wide and a narrow page
}

// banner is what nobody may overlook, in the drawing itself.
type banner struct{ Text, Y, X, Width, Height, TextY, Wide, Narrow string }

const unsupportedBanner = "SURFACE NOT SUPPORTED"

// shout puts a banner above the map.
func (c *chart) shout(v view, text string) {
	const height, gap = 44.0, 6.0
	fits := 0.92 * v.width / (0.75 * float64(utf8.RuneCountInString(text)))
	c.Top, c.Tall = coord(-height-gap), coord(v.height+height+gap)
	c.Banner = &banner{
		Text: text, Y: coord(2 - height - gap), X: coord(v.width / 2), Width: coord(v.width - 4), Height: coord(height - 4), TextY: coord(-gap - height/2),
		Wide: coord(min(fits, 26)), Narrow: coord(min(fits, 38)),
	}
}

// keyItem explains one kind of mark. Swatch is the class of the mark.
type keyItem struct{ Swatch, Text string }

type label struct{ X, Y, Text, Class, Full string }

// site holds the shapes of one field on its maps. They are drawn once; the
// maps of the analytes refer to them.
type site struct {
	chart
	view     view
	area     float64 // of the field, in square map units
	Boundary string
	Units    []unitMark
	Parts    []partMark
	Problems []partMark
	OutAreas []string
	OutLines []string
	OutSpots string
	Outs     []label
	Cores    string
	Labels   []label
	Layers   []layer
	Ground   *ground
	taken    []spot // where the labels stand
}

type unitMark struct{ ID, Path string }

type partMark struct {
	Path  string
	Label label
}

// newSite draws the plan of a field; nil where no place of it is known.
func newSite(id string, f *Field) *site {
	var b box
	b.stretchShape(f.Boundary)
	for _, u := range f.Units {
		b.stretchShape(u.Shape)
		b.stretch(u.At[0], u.At[1])
		for _, c := range u.Cores {
			b.stretch(c[0], c[1])
		}
	}
	v, ok := newView(b)
	if !ok {
		return nil
	}
	s := &site{view: v, area: f.Boundary.Area() * v.scale * v.scale}
	if !(s.area > 0) || !finite(s.area) {
		s.area = v.width * v.height
	}
	s.chart = v.chart(id+"-plan", id)
	s.Boundary = v.outline(f.Boundary).path()
	s.addUnits(f)
	s.addParts(f)
	s.addExclusions(f)
	s.describe(f)
	s.ground(f)
	return s
}

func (v view) chart(id, field string) chart {
	return chart{
		ID: id, Field: field, Width: coord(v.width), Height: coord(v.height), Top: "0", Tall: coord(v.height), FootY: coord(v.height - footing),
		NorthX: coord(v.width - margin - 10), NorthY: coord(v.height - 10), Bars: [2]scaleBar{v.scaleBar(true), v.scaleBar(false)},
	}
}

// letters sets the size of labels so that n of so many characters have room.
func (c *chart) letters(area float64, n, characters int, most float64) {
	room := math.Sqrt(area/float64(max(n, 1))) * 0.85 / (0.68 * float64(max(characters, 1)))
	c.Wide = coord(min(max(room, 4.5), most))
	c.Narrow = coord(min(max(room, 6), 1.8*most))
}

func (s *site) addUnits(f *Field) {
	longest := 0
	var cores []spot
	for i, u := range f.Units {
		o := s.view.outline(u.Shape)
		if len(o) > 0 {
			s.Units = append(s.Units, unitMark{unitID(s.Field, i), o.path()})
		}
		for _, c := range u.Cores {
			if finite(c[0]) && finite(c[1]) {
				cores = append(cores, s.view.spot(c))
			}
		}
		at, ok := o.middle()
		if !ok && finite(u.At[0]) && finite(u.At[1]) {
			at, ok = s.view.spot(u.At), true
		}
		if !ok {
			continue
		}
		l := label{X: coord(at.x), Y: coord(at.y), Text: u.ID, Class: "id"}
		if u.Missing {
			l.Class = "id missing"
		}
		s.Labels = append(s.Labels, l)
		s.taken = append(s.taken, at)
		longest = max(longest, utf8.RuneCountInString(u.ID))
	}
	s.Cores = dots(cores)
	s.letters(s.area, len(s.Labels), longest, 12)
}

func (v view) spot(p plane.XY) spot { return spot{v.x(p[0]), v.y(p[1])} }

func unitID(field string, i int) string { return fmt.Sprintf("%s-u%d", field, i+1) }

func (s *site) addParts(f *Field) {
	for _, d := range f.Divisions {
		o := s.view.outline(d.Shape)
		if d.Name == "" || len(o) == 0 {
			continue
		}
		m := partMark{Path: o.path()}
		class := "part"
		if d.Kind == geo.Problem {
			class = "part problem"
		}
		if at, ok := o.corner(8, 14); ok {
			m.Label = label{X: coord(at.x), Y: coord(at.y), Text: short(d.Name), Class: class, Full: d.Label()}
		}
		if d.Kind == geo.Problem {
			s.Problems = append(s.Problems, m)
		} else {
			s.Parts = append(s.Parts, m)
		}
	}
}

// short cuts a long name for a map; the key has it in full.
func short(name string) string {
	const most = 20
	r := []rune(name)
	if len(r) <= most {
		return name
	}
	return strings.TrimSpace(string(r[:most-1])) + "…"
}

func (s *site) addExclusions(f *Field) {
	var spots []spot
	for _, e := range f.Exclusions {
		at, known := spot{}, false
		note := func(p spot) {
			if !known {
				at, known = p, true
			}
		}
		if o := s.view.outline(e.Shape); len(o) > 0 {
			s.OutAreas = append(s.OutAreas, o.path())
			p, _ := o.free(s.taken)
			note(p)
		}
		for _, l := range e.Lines {
			t := s.view.line(l)
			if len(t) < 2 {
				continue
			}
			var b strings.Builder
			line(&b, t)
			s.OutLines = append(s.OutLines, b.String())
			note(between(t, s.taken))
		}
		for _, p := range e.Points {
			if finite(p[0]) && finite(p[1]) {
				spots = append(spots, s.view.spot(p))
				note(spot{s.view.x(p[0]), s.view.y(p[1]) - 9})
			}
		}
		if known && e.Name != "" {
			x, y := min(max(at.x, margin), s.view.width-margin), min(max(at.y, margin), s.view.height-footing)
			s.Outs = append(s.Outs, label{X: coord(x), Y: coord(y), Text: short(e.Name), Class: "out", Full: e.Name})
		}
	}
	s.OutSpots = dots(spots)
}

func (v view) line(l plane.Line) []spot {
	closed := len(l) > 2 && l[0] == l[len(l)-1]
	t := v.thin(l)
	if closed && len(t) > 1 {
		t = append(t, t[0])
	}
	return t
}

func (s *site) describe(f *Field) {
	cores, missing := 0, 0
	for _, u := range f.Units {
		cores += len(u.Cores)
		if u.Missing {
			missing++
		}
	}
	s.Title = "Plan of " + f.Name
	s.Desc = fmt.Sprintf("Map, north up: the boundary of %s, %s and %s.", f.Name,
		plural(len(f.Units), "sampling unit with its id", "sampling units with their ids"), plural(cores, "core", "cores"))
	add := func(swatch, text string) { s.Key = append(s.Key, keyItem{swatch, text}) }
	add("edge", "field boundary")
	if len(s.Units) > 0 {
		add("unit", "sampling unit, with the id of its composite")
	} else if len(f.Units) > 0 {
		add("", "each id stands at the place of its composite")
	}
	if cores > 0 {
		add("cores", "core")
	}
	if names := divisionNames(f.Divisions, geo.Management); names != "" {
		add("partline", "management unit: "+names)
	}
	if names := divisionNames(f.Divisions, geo.Problem); names != "" {
		add("problemarea", "problem area: "+names)
	}
	if len(f.Exclusions) > 0 {
		text := "no core here"
		if names := exclusionNames(f.Exclusions); names != "" {
			text += ": " + names
		}
		add("outarea", text)
		s.Desc += " Hatched ground is left out: " + text + "."
	}
	if missing > 0 {
		add("lost", "id struck through: the lab’s file has no row for it")
	}
}

func divisionNames(all []geo.Division, kind geo.Kind) string {
	var names []string
	for _, d := range all {
		if d.Kind == kind && d.Name != "" {
			names = append(names, d.Name)
		}
	}
	return strings.Join(names, ", ")
}

func exclusionNames(all []geo.Exclusion) string {
	var names []string
	seen := map[string]bool{}
	for _, e := range all {
		if e.Name != "" && !seen[e.Name] {
			seen[e.Name] = true
			names = append(names, e.Name)
		}
	}
	return strings.Join(names, ", ")
}

// whereabouts says in which part of the field a shape lies, by the ninth of the
// field's rectangle that holds its middle.
func whereabouts(field, s plane.Shape) string {
	var b box
	b.stretchShape(field)
	c, ok := s.Centroid()
	if !ok || !b.any || !finite(c[0]) || !finite(c[1]) {
		return ""
	}
	if s.Area() > 0.6*field.Area() {
		return "over most"
	}
	third := func(v, lo, hi float64) int {
		if !(hi > lo) {
			return 1
		}
		return min(max(int(3*(v-lo)/(hi-lo)), 0), 2)
	}
	rows := [3][3]string{
		{"in the southwest", "in the south", "in the southeast"},
		{"in the west", "in the middle", "in the east"},
		{"in the northwest", "in the north", "in the northeast"},
	}
	return rows[third(c[1], b.south, b.north)][third(c[0], b.west, b.east)]
}
