// Package kit writes what a person takes into the field: waypoints for a handheld,
// the manifest of the samples, and on paper field sheets, labels for the bags and
// the list that goes to the lab with them.
package kit

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// WaypointFeatures returns the same waypoints for GeoJSON.
func WaypointFeatures(p *sampling.Plan) []vector.OutFeature {
	var out []vector.OutFeature
	for _, fp := range p.Fields {
		out = slices.Grow(out, fp.Cores())
		for _, u := range fp.Units {
			for _, c := range u.Cores {
				f := fp.CoreFeature(u, c)
				f.Properties = slices.Insert(f.Properties, 2, vector.Property{Name: "order", Value: len(out) + 1})
				out = append(out, f)
			}
		}
	}
	return out
}

// Manifest writes the list of samples as CSV, one row to a bag, in walking
// order. The columns date and taken_by are left to fill in.
func Manifest(w io.Writer, p *sampling.Plan) error {
	c := csv.NewWriter(w)
	rows := [][]string{{
		"sample_id", "field", "unit", "management_unit", "problem_area", "compare_with", "depth", "cores",
		"area_ha", "area_ac", "first_waypoint", "last_waypoint", "date", "taken_by", "notes",
	}}
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			d := fp.Field.Divisions[u.Division]
			management, problem := d.Name, ""
			if d.Kind == geo.Problem {
				management, problem = "", d.Name
			}
			for k, s := range u.Samples {
				first, last := "", ""
				for _, x := range u.Cores {
					if x.Composite == s.Composite {
						first, last = cmp.Or(first, x.Name), x.Name
					}
				}
				with := ""
				if u.CompareWith != nil {
					with = u.CompareWith.Samples[min(k, len(u.CompareWith.Samples)-1)].ID
				}
				notes := u.Notes
				if u.ComparisonOf >= 0 {
					notes = append([]string{"healthy ground beside " + fp.Field.Divisions[u.ComparisonOf].Label()}, notes...)
				}
				rows = append(rows, []string{
					s.ID, fp.Field.Name, strconv.Itoa(u.Number), management, problem, with, s.Depth.String(), strconv.Itoa(u.CoresOf(s)),
					strconv.FormatFloat(u.Area/geo.Hectare, 'f', 3, 64), strconv.FormatFloat(u.Area/geo.Acre, 'f', 2, 64),
					first, last, "", "", strings.Join(notes, "; "),
				})
			}
		}
	}
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("manifest: %w", err)
	}
	return nil
}
