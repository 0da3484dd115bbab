package main

import (
	"fmt"
	"regexp"
	"strings"

	"corewalk/sampling"
)

// relation turns figures by one method into those of another, where the user
// knows how: to = offset + factor * from.
type relation struct {
	To     string  `json:"to"`
	Offset float64 `json:"offset"`
	Factor float64 `json:"factor"`
	From   string  `json:"from"`
	Used   int     `json:"used"` // composites
}

var relationForm = regexp.MustCompile(`^(.+?)\s*=\s*(?:([+-]?\d+(?:\.\d+)?)\s*([+-]))?\s*(\d+(?:\.\d+)?)\s*\*\s*(.+)$`)

// parseRelation reads "P Bray-1 = 3 + 1.6 * P Olsen".
func parseRelation(s string) (relation, error) {
	m := relationForm.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return relation{}, fmt.Errorf("%q is not a relation; write it as \"P Bray-1 = 3 + 1.6 * P Olsen\"", s)
	}
	r := relation{To: strings.TrimSpace(m[1]), From: strings.TrimSpace(m[5])}
	factor, err := parseNumber(m[4])
	if err == nil && m[2] != "" {
		r.Offset, err = parseNumber(m[2])
	}
	if err != nil {
		return r, err
	}
	// The sign stands before the factor.
	if r.Factor = factor; m[3] == "-" {
		r.Factor = -factor
	}
	if r.Factor == 0 {
		return r, fmt.Errorf("%q has a factor of 0", s)
	}
	if strings.EqualFold(r.To, r.From) {
		return r, fmt.Errorf("%q relates %s to itself", s, r.To)
	}
	return r, nil
}

// String writes a relation as parseRelation reads it.
func (r relation) String() string {
	sign, factor := "+", r.Factor
	if factor < 0 {
		sign, factor = "-", -factor
	}
	return fmt.Sprintf("%s = %s %s %s * %s", r.To, plain(r.Offset), sign, plain(factor), r.From)
}

// relate gives composites without a figure of one method that which the
// relation makes of another. The composite says so.
func (j *joined) relate(relations []relation) error {
	for i := range relations {
		r := &relations[i]
		to, err := findAnalyte(j.analytes, r.To)
		if err != nil {
			return fmt.Errorf("relation %s: %w", r, err)
		}
		from, err := findAnalyte(j.analytes, r.From)
		if err != nil {
			return fmt.Errorf("relation %s: %w", r, err)
		}
		for k := range j.samples {
			c := &j.samples[k]
			g, ok := c.Figure(from.Name)
			if _, has := c.Figure(to.Name); has || !ok {
				continue
			}
			c.Figures = append(c.Figures, sampling.Figure{Analyte: to.Name, Value: significant(r.Offset + r.Factor*g.Value), Censored: g.Censored})
			c.Notes = append(c.Notes, fmt.Sprintf("%s: from %s by the relation given (%s)", to.Name, from.Name, r))
			r.Used++
		}
		j.notices = append(j.notices, fmt.Sprintf("%d composites have their %s from the relation %s, which was given and is not checked here", r.Used, to.Name, r))
	}
	return nil
}
