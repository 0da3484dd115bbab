package sampling

import (
	"fmt"
	"strings"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
)

// Again plans the units of an earlier plan anew, as its file has them: with the
// same sample ids, and with the same spots or, fresh, with new ones drawn in the
// same units. Of the parameters those of the placement count (cores to a
// composite, spacing, where the cores lie), of the walk and the seed; parent,
// any text that tells the earlier plan from others, keeps fresh spots from
// being those of the parent. It fails on a file that is no plan.
func Again(l *vector.Layer, p Params, fresh bool, parent string) (*Plan, error) {
	if err := p.Validate(); err != nil {
		return nil, fmt.Errorf("%s: %w", l.Path, err)
	}
	p = p.complete()
	fields, err := ReadFields(l)
	if err != nil {
		return nil, err
	}
	planned, err := ReadUnits(l)
	if err != nil {
		return nil, err
	}
	plan := &Plan{Params: p}
	byName := map[string]*FieldPlan{}
	clippers := map[string]*plane.Clipper{}
	for _, f := range fields {
		fp := &FieldPlan{Field: f}
		plan.Fields = append(plan.Fields, fp)
		byName[f.Name] = fp
		clippers[f.Name] = plane.NewClipper(f.Sampleable)
	}
	old := &earlier{units: map[unitKey]*Unit{}, byID: map[string]*Unit{}, layers: map[*Unit][]PlannedUnit{}}
	for _, u := range planned {
		fp := byName[u.Field]
		if fp == nil {
			return nil, fmt.Errorf("%s: sample %s is of a field %q that is not in the file", l.Path, u.ID, u.Field)
		}
		if err := old.add(fp, u, clippers[u.Field]); err != nil {
			return nil, fmt.Errorf("%s: sample %s: %w", l.Path, u.ID, err)
		}
	}
	for _, u := range planned {
		if with, ok := old.byID[u.CompareWith]; ok {
			old.byID[u.ID].CompareWith = with
		}
	}
	for _, fp := range plan.Fields {
		if len(fp.Units) == 0 {
			return nil, fmt.Errorf("%s: field %s has no units", l.Path, fp.Field.Name)
		}
		for _, u := range fp.Units {
			if fresh {
				err = fp.place(u, p, stream(p.Seed, fp.Field.Name, "again "+parent, u.Number))
			} else {
				err = old.spots(fp, u)
			}
			if err != nil {
				return nil, fmt.Errorf("%s: field %s, unit %d: %w", l.Path, fp.Field.Name, u.Number, err)
			}
		}
	}
	if err := plan.route(); err != nil {
		return nil, err
	}
	if fresh {
		plan.rename()
	}
	return plan, nil
}

type unitKey struct {
	field string
	unit  int
}

// earlier gathers the units of a plan file from its samples.
type earlier struct {
	units  map[unitKey]*Unit
	byID   map[string]*Unit
	layers map[*Unit][]PlannedUnit
}

func (e *earlier) add(fp *FieldPlan, s PlannedUnit, sampleable *plane.Clipper) error {
	var d Depth
	var err error
	if s.Depth != "" {
		if d, err = ParseDepth(s.Depth); err != nil {
			return err
		}
	}
	key := unitKey{s.Field, s.Unit}
	u := e.units[key]
	if u == nil {
		u = &Unit{Number: s.Unit, Division: -1, ComparisonOf: -1, Spacing: s.Spacing, key: s.Unit}
		f := fp.Field
		for i, division := range f.Divisions {
			switch {
			case division.Kind == geo.Problem && division.Name == s.Problem,
				division.Kind == geo.Management && s.Problem == "" && division.Name == s.Management:
				u.Division = i
			}
			if division.Kind == geo.Problem && s.ComparisonOf != "" && division.Name == s.ComparisonOf {
				u.ComparisonOf = i
			}
		}
		if u.Division < 0 {
			return fmt.Errorf("its management unit or problem area is not in the file")
		}
		if u.Shape, _, err = f.Frame.Shape(s.Shape); err != nil {
			return err
		}
		u.Area = f.Frame.Area(u.Shape)
		if u.Sampleable, err = sampleable.Intersect(u.Shape); err != nil {
			return err
		}
		if s.Point != nil {
			at, err := f.Frame.XY(*s.Point)
			if err != nil {
				return err
			}
			u.Point = &at
		}
		e.units[key] = u
		fp.Units = append(fp.Units, u)
	}
	u.Samples = append(u.Samples, Sample{ID: s.ID, Composite: s.Composite, Depth: d})
	e.byID[s.ID] = u
	e.layers[u] = append(e.layers[u], s)
	return nil
}

// spots gives a unit the cores that it had.
func (e *earlier) spots(fp *FieldPlan, u *Unit) error {
	known := map[string]bool{}
	for _, s := range e.layers[u] {
		for _, n := range s.Notes {
			if !known["note "+n] {
				known["note "+n] = true
				u.Notes = append(u.Notes, n)
			}
		}
		for _, c := range s.Cores {
			if known[c.Name] {
				continue // of another layer
			}
			known[c.Name] = true
			at, err := fp.Field.Frame.XY(c.At)
			if err != nil {
				return err
			}
			u.Cores = append(u.Cores, Core{Composite: s.Composite, Name: c.Name, At: at, LonLat: c.At})
		}
	}
	return nil
}

// rename names the cores of units that have kept their ids. A core's name
// begins with what the ids of its unit have in common with it: the codes of
// field and unit.
func (p *Plan) rename() {
	most := 1
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			most = max(most, len(u.Cores))
		}
	}
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			// The last character of an id is its check, and where the unit has
			// several samples the one before it tells them apart.
			cut := 1
			if len(u.Samples) > 1 {
				cut = 2
			}
			prefix := strings.TrimSuffix(u.ID(), u.ID()[max(0, len(u.ID())-cut):])
			for k := range u.Cores {
				u.Cores[k].Name = fmt.Sprintf("%s%0*d", prefix, digits(most), u.Cores[k].Number)
			}
		}
	}
}
