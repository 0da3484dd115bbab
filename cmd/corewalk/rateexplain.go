package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"corewalk/interp/rate"
	"corewalk/sampling"
)

// explainRate writes the calculation for a sample, or for a zone.
func explainRate(resultsPath, surfacesPath, zonesPath string, p rateParameters, id string) ([]string, error) {
	w, err := openRates(resultsPath, surfacesPath, zonesPath, p)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	var out []string
	found := map[string]bool{} // fields with a zone of that id
	for i := range w.results.fields {
		makers, err := w.makers(i)
		if err != nil {
			return nil, err
		}
		field, name := "", id
		if f, z, ok := strings.Cut(id, "/"); ok {
			field, name = strings.TrimSpace(f), strings.TrimSpace(z)
		}
		for _, m := range makers {
			k := slices.IndexFunc(m.of, func(c sampling.Composite) bool { return strings.EqualFold(c.ID, id) })
			if k >= 0 {
				c := m.of[k]
				conditions, err := m.conditionsOf(divisionOfComposite(c), m.of[k:k+1])
				if err != nil {
					return nil, err
				}
				advice, err := m.scheme.Advise(m.figures(m.of[k:k+1]), conditions)
				if err != nil {
					return nil, err
				}
				if err := refusedBy(advice); err != nil {
					return nil, fmt.Errorf("sample %s: %w", c.ID, err)
				}
				out = append(append(out, fmt.Sprintf("sample %s in %s, %s", c.ID, m.field.Name, m.tables())), advice.Explain(p.unit())...)
				continue
			}
			if field != "" && !strings.EqualFold(field, m.field.Name) || m.By == byUnit || m.By == "" && len(m.drawn) == 0 {
				continue
			}
			x, err := m.make()
			if err != nil {
				return nil, fmt.Errorf("field %s: %w", m.field.Name, err)
			}
			for _, g := range x.grounds {
				if strings.EqualFold(g.id, name) {
					if err := refusedBy(g.advice); err != nil {
						return nil, fmt.Errorf("%s in %s: %w", g.id, m.field.Name, err)
					}
					found[m.field.Name] = true
					out = append(append(out, fmt.Sprintf("%s in %s (%s), %s", g.id, m.field.Name, g.from, m.tables())), g.advice.Explain(p.unit())...)
				}
			}
		}
	}
	switch {
	case len(found) > 1:
		return nil, fmt.Errorf("there are zones %s in %s; write the field, too, as in \"%s/%s\"", id, strings.Join(slices.Sorted(maps.Keys(found)), " and "), slices.Sorted(maps.Keys(found))[0], id)
	case out == nil:
		return nil, fmt.Errorf("%s has no sample %q, nor is there a zone of that name", resultsPath, id)
	}
	return out, nil
}

// refusedBy is the refusal of the first table, where all refuse.
func refusedBy(a rate.Advice) error {
	for _, x := range a.Answers {
		if x.Refused == nil {
			return nil
		}
	}
	return a.Answers[0].Refused
}
