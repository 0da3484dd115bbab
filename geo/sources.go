package geo

import (
	"cmp"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/tidwall/rtree"

	"corewalk/geo/vector"
)

// Source is one file of a field map, read, with the column that names its
// features. An empty Name takes a column called name, field, id or label.
type Source struct {
	Layer   *vector.Layer
	Name    string
	Setback float64 // of exclusions, true metres
	// Of exclusions of several kinds in one file: the column that tells them
	// apart, and the setbacks of the kinds that have one of their own, by name
	// in lower case.
	Kind     string
	Setbacks map[string]float64
}

// Sources are the files of a farm.
type Sources struct {
	Boundary   Source
	Exclude    []Source
	Management *Source
	Problems   *Source
	// Beds are raised beds, each a sampling unit, with no ground between them.
	// They stand in the place of Management; without a Boundary (its Layer nil)
	// they are the field themselves.
	Beds    *BedSource
	Setback float64 // from the boundary, true metres
}

// Outlines gathers what the files say of each field, in the order of the
// boundary file. Features of one name are one field. Every field gets the parts
// of the other files that come near it. The notices tell what was assumed, and
// which files touch no field at all.
func (s Sources) Outlines() ([]Outline, []string, error) {
	fields, notices, err := s.fields()
	if err != nil {
		return nil, nil, err
	}
	near := newFinder(fields)
	spread := func(src Source, what string, to func(*Outline) *[]Part) error {
		parts, err := src.parts(what)
		if err != nil {
			return err
		}
		hits := 0
		for _, p := range parts {
			// A degree of latitude is 111 km, one of longitude at least a
			// tenth of that where UTM reaches.
			reach := p.bound().Pad(p.Setback/111e3*10 + 1e-6)
			if near.each(reach, func(o *Outline) {
				list := to(o)
				*list = append(*list, p)
			}) {
				hits++
			}
		}
		if hits == 0 && len(parts) > 0 {
			notices = append(notices, fmt.Sprintf("%s: none of its %d features comes near a field; check that it is the right file and that its coordinates are", base(src.Layer.Path), len(parts)))
		}
		return nil
	}
	for _, e := range s.Exclude {
		if err := spread(e, "exclusion", func(o *Outline) *[]Part { return &o.Exclusions }); err != nil {
			return nil, nil, err
		}
	}
	if s.Beds != nil {
		more, err := s.Beds.spread(near)
		if err != nil {
			return nil, nil, err
		}
		notices = append(notices, more...)
	}
	if s.Management != nil {
		if err := spread(*s.Management, "unit", func(o *Outline) *[]Part { return &o.Management }); err != nil {
			return nil, nil, err
		}
	}
	if s.Problems != nil {
		if err := spread(*s.Problems, "problem", func(o *Outline) *[]Part { return &o.Problems }); err != nil {
			return nil, nil, err
		}
	}
	return fields, notices, nil
}

// finder finds the fields near a part without looking at the others.
type finder struct{ tree rtree.RTreeG[*Outline] }

func newFinder(fields []Outline) *finder {
	f := &finder{}
	for i := range fields {
		b := orb.MultiPolygon(fields[i].Boundary).Bound()
		f.tree.Insert(b.Min, b.Max, &fields[i])
	}
	return f
}

// each calls do with every field whose bound meets another, in no order, and
// reports whether there is one.
func (f *finder) each(b orb.Bound, do func(*Outline)) (any bool) {
	f.tree.Search(b.Min, b.Max, func(_, _ [2]float64, o *Outline) bool {
		do(o)
		any = true
		return true
	})
	return any
}

// fields gathers the boundary features by name.
func (s Sources) fields() ([]Outline, []string, error) {
	if s.Boundary.Layer == nil {
		return s.Beds.field(s.Boundary.Name, s.Setback)
	}
	parts, err := s.Boundary.parts("field")
	if err != nil {
		return nil, nil, err
	}
	var fields []Outline
	var notices []string
	byName := map[string]int{}
	for _, p := range parts {
		if len(p.Shape) == 0 {
			notices = append(notices, p.Where+" has no polygon; it is left out")
			continue
		}
		if i, ok := byName[p.Name]; ok {
			fields[i].Boundary = append(fields[i].Boundary, p.Shape...)
			notices = append(notices, fmt.Sprintf("%s has the name %q again; it is taken as a further part of that field", p.Where, p.Name))
			continue
		}
		byName[p.Name] = len(fields)
		fields = append(fields, Outline{Name: p.Name, Boundary: p.Shape, Setback: s.Setback})
	}
	if len(fields) == 0 {
		return nil, nil, fmt.Errorf("%s has no polygon to be a field; it needs at least one", base(s.Boundary.Layer.Path))
	}
	return fields, notices, nil
}

// usual are the columns looked for when none is asked for.
var usual = []string{"name", "field", "field_name", "fieldname", "id", "label"}

// nameColumn returns the column that names features, or "" for none.
func (s Source) nameColumn() (string, error) {
	if s.Name != "" {
		if s.Layer.Column(s.Name) >= 0 {
			return s.Name, nil
		}
		var have []string
		for _, c := range s.Layer.Columns {
			have = append(have, c.Name)
		}
		if len(have) == 0 {
			have = []string{"none"}
		}
		return "", fmt.Errorf("%s has no column %q; its columns are: %s", base(s.Layer.Path), s.Name, strings.Join(have, ", "))
	}
	for _, name := range usual {
		if s.Layer.Column(name) >= 0 {
			return name, nil
		}
	}
	return "", nil
}

func (s Source) parts(what string) ([]Part, error) {
	column, err := s.nameColumn()
	if err != nil {
		return nil, err
	}
	setback, err := s.setbacks()
	if err != nil {
		return nil, err
	}
	var out []Part
	for i := range s.Layer.Features {
		f := &s.Layer.Features[i]
		name := ""
		if column != "" {
			name, _ = s.Layer.Text(f, column)
			name = strings.Join(strings.Fields(name), " ")
		}
		p := Part{
			Name:  cmp.Or(name, fmt.Sprintf("%s %d", what, f.Index)),
			Where: fmt.Sprintf("%s: feature %d", base(s.Layer.Path), f.Index),
			Shape: f.Shape, Lines: f.Lines, Points: f.Points, Setback: setback(f),
		}
		if name != "" {
			p.Where += " (" + name + ")"
		}
		if len(p.Shape)+len(p.Lines)+len(p.Points) > 0 {
			out = append(out, p)
		}
	}
	return out, nil
}

// setbacks returns what finds the setback of a feature.
func (s Source) setbacks() (func(f *vector.Feature) float64, error) {
	if s.Kind == "" {
		return func(*vector.Feature) float64 { return s.Setback }, nil
	}
	if s.Layer.Column(s.Kind) < 0 {
		_, err := Source{Layer: s.Layer, Name: s.Kind}.nameColumn()
		return nil, err
	}
	kindOf := func(f *vector.Feature) string {
		text, _ := s.Layer.Text(f, s.Kind)
		return strings.ToLower(strings.Join(strings.Fields(text), " "))
	}
	have := map[string]bool{}
	for i := range s.Layer.Features {
		have[kindOf(&s.Layer.Features[i])] = true
	}
	for _, kind := range slices.Sorted(maps.Keys(s.Setbacks)) {
		if !have[kind] {
			return nil, fmt.Errorf("%s has no exclusion of kind %q in its column %s; its kinds are: %s", base(s.Layer.Path), kind, s.Kind, strings.Join(slices.Sorted(maps.Keys(have)), ", "))
		}
	}
	return func(f *vector.Feature) float64 {
		if v, ok := s.Setbacks[kindOf(f)]; ok {
			return v
		}
		return s.Setback
	}, nil
}

func (p Part) bound() orb.Bound {
	bound := orb.MultiPolygon(p.Shape).Bound()
	for _, l := range p.Lines {
		bound = union(bound, orb.LineString(l).Bound())
	}
	for _, q := range p.Points {
		bound = union(bound, orb.Point(q).Bound())
	}
	return bound
}

func union(a, b orb.Bound) orb.Bound {
	switch {
	case a.IsEmpty():
		return b
	case b.IsEmpty():
		return a
	}
	return a.Union(b)
}

func base(path string) string { return filepath.Base(path) }
