package season

import (
	"context"
	"fmt"

	"corewalk/geo/crs"
)

// Observations returns the figures of all seasons, in their order. Those of one
// sampling unit share their Shape.
func (r *Record) Observations(ctx context.Context) ([]Season, []Observation, error) {
	seasons, err := r.Seasons(ctx)
	if err != nil {
		return nil, nil, err
	}
	var out []Observation
	for _, s := range seasons {
		if out, err = observe(out, s, func(t table, do func(int, []any) error) error {
			return each(ctx, r.db, SchemaVersion, t, s.Name, do)
		}); err != nil {
			return nil, nil, r.fault(err)
		}
	}
	return seasons, out, nil
}

// Observations returns the figures of a bundle, as those of a season.
func (b *Bundle) Observations(s Season) ([]Observation, error) {
	return observe(nil, s, func(t table, do func(int, []any) error) error {
		for _, row := range b.rows[t.name] {
			if err := do(1, row); err != nil {
				return err
			}
		}
		return nil
	})
}

// sample is the number of a composite in its plan.
type sample struct {
	plan   int
	number int64
}

// observe appends the figures of a season, whose rows each gives. It fails where a
// figure has no composite, or a composite no place.
func observe(out []Observation, s Season, each func(t table, do func(plan int, row []any) error) error) ([]Observation, error) {
	str := func(v any) string { s, _ := v.(string); return s }
	num := func(v any) int { n, _ := v.(int64); return int(n) }
	byName := tablesByName()
	t := byName["units"]
	id, cores, outline := t.at("id"), t.at("cores"), t.at(geometryColumn)
	type unit struct {
		shape crs.LonLatShape
		cores int
	}
	units := map[string]unit{}
	if err := each(t, func(_ int, row []any) error {
		g, _ := row[outline].(geometry)
		units[str(row[id])] = unit{g.shape, num(row[cores])}
		return nil
	}); err != nil {
		return nil, err
	}
	t = byName["composites"]
	number, id, outline := t.at("number"), t.at("id"), t.at(geometryColumn)
	field, of, management, problem, depth := t.at("field"), t.at("unit"), t.at("management"), t.at("problem"), t.at("depth")
	composites := map[sample]Observation{}
	if err := each(t, func(plan int, row []any) error {
		o := Observation{
			Season: s.Name, Lab: s.Lab, Field: str(row[field]), Sample: str(row[id]), UnitNumber: num(row[of]),
			Management: str(row[management]), Problem: str(row[problem]), Depth: str(row[depth]),
		}
		u := units[o.Sample]
		o.Cores, o.Shape = u.cores, u.shape
		g, _ := row[outline].(geometry)
		if g.point == nil {
			return fmt.Errorf("season %s: sample %s has no place", s.Name, o.Sample)
		}
		o.At = *g.point
		n, _ := row[number].(int64)
		composites[sample{plan, n}] = o
		return nil
	}); err != nil {
		return nil, err
	}
	t = byName["results"]
	number, id = t.at("number"), t.at("sample")
	analyte, measure, method, value, mixed := t.at("analyte"), t.at("unit"), t.at("method"), t.at("value"), t.at("mixed")
	censored, replicates, spread := t.at("censored"), t.at("replicates"), t.at("spread")
	err := each(t, func(plan int, row []any) error {
		n, _ := row[number].(int64)
		o, known := composites[sample{plan, n}]
		if !known {
			return fmt.Errorf("season %s has a figure of sample %s, which is not there", s.Name, str(row[id]))
		}
		v, some := row[value].(float64)
		if !some || str(row[mixed]) != "" {
			return nil // of two methods or in two units: no one figure
		}
		o.Analyte, o.Unit, o.Method, o.Value, o.Censored = str(row[analyte]), str(row[measure]), str(row[method]), v, str(row[censored])
		o.Replicates = max(num(row[replicates]), 1)
		o.Spread, _ = row[spread].(float64)
		out = append(out, o)
		return nil
	})
	return out, err
}
