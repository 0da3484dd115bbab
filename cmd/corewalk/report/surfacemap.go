package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"unicode/utf8"

	"corewalk/geo/raster"
)

// surfaceMap is the map of one analyte.
type surfaceMap struct {
	chart
	Picture *picture
	Fills   []fill
	Disks   []disk
	Patches []patchMark
	Others  []patchMark // of other analytes, without ids in the page
	Values  []label
	taken   []spot // where the figures are written

	patchPaths map[string]string // ids in the page, by those of patches
	Dots       string            // the places of the composites
	Crosses    string            // and of those that have no figure
	Legend     legend
	HasUnits   bool
	Warning    string // below the map, where the surface is not supported
}

type picture struct {
	X, Y, Width, Height string
	URL                 template.URL
}

// fill is a sampling unit in the colour of its composite.
type fill struct{ ID, Colour string }

// disk is a composite without a sampling unit.
type disk struct{ X, Y, Colour string }

type patchMark struct {
	ID, Path, Style string
	Label           label
}

// legend explains the colours.
type legend struct {
	Ramp  int
	Ticks []tick
	Text  string
	Unit  string
}

// patchStyles is the number of ways in which the style sheet outlines patches.
const patchStyles = 4

// surfaceMap draws one analyte of the field on s. Where the surface is not
// supported and nothing was made of it, the sampling units are coloured
// instead: a surface would look like knowledge.
func (p *page) surfaceMap(id string, s *site, f *Field, a *Analyte, ramp raster.Ramp) (*surfaceMap, error) {
	m := &surfaceMap{chart: s.view.chart(id+"-map", s.Field), HasUnits: len(s.Units) > 0, patchPaths: map[string]string{}}
	drawn := showsSurface(a)
	lo, hi := valueRange(a)
	if drawn {
		if l, h := a.Grid.Range(); finite(l) {
			lo, hi = l, h
		}
		g := a.Grid.Coarser(p.side)
		url, err := dataURI(g, ramp, lo, hi)
		if err != nil {
			return nil, fmt.Errorf("field %s, %s: %w", f.Name, a.Name, err)
		}
		m.Picture = &picture{
			X: coord(s.view.x(g.West)), Y: coord(s.view.y(g.North)),
			Width:  coord(float64(g.Width) * g.Pixel * s.view.scale),
			Height: coord(float64(g.Height) * g.Pixel * s.view.scale),
			URL:    url,
		}
	}
	if !a.Supported && !a.unmapped() {
		m.shout(s.view, unsupportedBanner)
		m.Warning = "NOT supported, and not drawn: each sampling unit has the colour of its own composite, and nothing is known between them."
		if !m.HasUnits {
			m.Warning = "NOT supported, and not drawn: each composite has the colour of its own figure, and nothing is known between them."
		}
		if drawn {
			m.Warning = "NOT supported: trust the figures, not the colours."
		}
	}
	m.addComposites(s, f, a, !drawn, func(v float64) string {
		if !(hi > lo) {
			return hex(ramp.At(0.5))
		}
		return hex(ramp.At((v - lo) / (hi - lo)))
	})
	m.addPatches(s, a)
	m.addOthers(s, f, a)
	m.legend(a, ramp, lo, hi, drawn)
	m.describe(f, a, drawn)
	p.addAnalyte(s, f, a, m)
	return m, nil
}

func showsSurface(a *Analyte) bool {
	return hasPicture(a.Grid) && (a.Supported || a.Basis == "surface")
}

func valueRange(a *Analyte) (lo, hi float64) {
	lo, hi = math.NaN(), math.NaN()
	for _, v := range a.Values {
		if finite(v.Value) {
			if !(v.Value >= lo) {
				lo = v.Value
			}
			if !(v.Value <= hi) {
				hi = v.Value
			}
		}
	}
	return lo, hi
}

func (m *surfaceMap) addComposites(s *site, f *Field, a *Analyte, coloured bool, colour func(float64) string) {
	figures := figuresOf(a)
	values := valuesByID(a)
	longest := 0
	var places []spot
	var crosses strings.Builder
	for i, u := range f.Units {
		v, has := values[u.ID]
		if coloured && has && finite(v.Value) {
			switch {
			case len(u.Shape) > 0:
				m.Fills = append(m.Fills, fill{unitID(s.Field, i), colour(v.Value)})
			case finite(u.At[0]) && finite(u.At[1]):
				m.Disks = append(m.Disks, disk{coord(s.view.x(u.At[0])), coord(s.view.y(u.At[1])), colour(v.Value)})
			}
		}
		if !finite(u.At[0]) || !finite(u.At[1]) {
			continue
		}
		at := s.view.spot(u.At)
		if !has {
			fmt.Fprintf(&crosses, "M%s %sl8 8m0-8l-8 8", coord(at.x-4), coord(at.y-4))
			continue
		}
		above := 6.0
		if coloured && len(u.Shape) == 0 {
			above = 13 // the disk has its place
		} else {
			places = append(places, at)
		}
		l := label{X: coord(at.x), Y: coord(at.y - above), Text: figures.value(v), Class: "value", Full: u.ID}
		m.Values = append(m.Values, l)
		m.taken = append(m.taken, spot{at.x, at.y - above - 4})
		longest = max(longest, utf8.RuneCountInString(l.Text))
	}
	m.Dots, m.Crosses = dots(places), crosses.String()
	m.letters(s.area, len(m.Values), max(longest, 3), 13)
}

func (m *surfaceMap) addPatches(s *site, a *Analyte) {
	for i, set := range a.Patches {
		style := fmt.Sprintf("p%d", i%patchStyles)
		for _, patch := range set.Patches {
			o := s.view.outline(patch.Shape)
			at, ok := o.free(m.taken)
			if !ok {
				continue
			}
			half := 5 * float64(utf8.RuneCountInString(patch.ID))
			at.x = max(min(at.x, s.view.width-half), half)
			m.taken = append(m.taken, at)
			m.patchPaths[patch.ID] = fmt.Sprintf("%s-p%d", m.ID, len(m.Patches)+1)
			m.Patches = append(m.Patches, patchMark{
				ID: m.patchPaths[patch.ID], Path: o.path(), Style: style,
				Label: label{X: coord(at.x), Y: coord(at.y), Text: patch.ID, Class: "patch", Full: patch.ID + ": " + set.Limit},
			})
		}
		if len(set.Patches) > 0 {
			m.Key = append(m.Key, keyItem{style, fmt.Sprintf("patch, %s (%d)", set.Limit, len(set.Patches))})
		}
	}
}

func (m *surfaceMap) legend(a *Analyte, ramp raster.Ramp, lo, hi float64, drawn bool) {
	m.Legend = legend{Ramp: int(ramp), Unit: a.Unit}
	switch {
	case !finite(lo):
		m.Legend.Text = "no figures"
	case !(hi > lo):
		m.Legend.Text = "one figure everywhere: " + figuresOf(a).figure(lo)
	default:
		m.Legend.Ticks = ticks(lo, hi)
	}
	switch {
	case drawn:
		m.Key = append(m.Key, keyItem{"composite", "composite, with its figure"})
	case m.HasUnits:
		m.Key = append(m.Key, keyItem{"composite", "composite; its sampling unit has the colour of its figure"})
	default:
		m.Key = append(m.Key, keyItem{"disk", "composite, in the colour of its figure"})
	}
	if drawn && a.Masked > 0 {
		m.Key = append(m.Key, keyItem{"blank", "no value made here: too far from the composites"})
	}
	if m.Crosses != "" {
		m.Key = append(m.Key, keyItem{"cross", "no figure"})
	}
}

func (m *surfaceMap) describe(f *Field, a *Analyte, drawn bool) {
	what := "the sampling units of " + f.Name + ", each in the colour of its own composite"
	if drawn {
		what = "the surface of " + a.label() + " over " + f.Name
	}
	n := 0
	for _, set := range a.Patches {
		n += len(set.Patches)
	}
	m.Title = a.label() + " in " + f.Name
	m.Desc = fmt.Sprintf("Map, north up: %s, with the figures of %s and %s. The tables beside it hold the same figures.",
		what, plural(len(a.Values), "composite", "composites"), plural(n, "outlined patch", "outlined patches"))
}
