// Package kit writes what a person takes into the field: waypoints for a
// handheld and the manifest of the samples.
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
	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// Waypoints returns the cores of a plan as GPX waypoints in walking order. The
// names are short, unique and plain; the sample ids, the number of the core and
// the depths stand in the comment.
func Waypoints(p *sampling.Plan, creator string) gpx.Document {
	d := gpx.Document{Creator: creator}
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			for _, c := range u.Cores {
				d.Waypoints = append(d.Waypoints, gpx.Waypoint{
					At: c.LonLat, Name: c.Name,
					Comment:     comment(u, c),
					Description: fmt.Sprintf("%s, unit %d%s", fp.Field.Name, u.Number, division(fp, u)),
				})
			}
		}
	}
	return d
}

// comment says which samples a core goes into, its number and the depths.
func comment(u *sampling.Unit, c sampling.Core) string {
	var ids, depths []string
	for _, s := range u.SamplesOf(c) {
		ids = append(ids, s.ID)
		if d := s.Depth.String(); d != "" {
			depths = append(depths, d)
		}
	}
	text := fmt.Sprintf("%s core %d of %d", strings.Join(ids, "+"), c.Number, len(u.Cores))
	if len(depths) > 0 {
		text += ", " + strings.Join(depths, "+")
	}
	return text
}

// WaypointFeatures returns the same waypoints for GeoJSON.
func WaypointFeatures(p *sampling.Plan) []vector.OutFeature {
	var out []vector.OutFeature
	for _, fp := range p.Fields {
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

func division(fp *sampling.FieldPlan, u *sampling.Unit) string {
	d := fp.Field.Divisions[u.Division]
	text := ""
	if d.Name != "" {
		text = ", " + d.Label()
	}
	if u.ComparisonOf >= 0 {
		text += ", healthy ground beside " + fp.Field.Divisions[u.ComparisonOf].Label()
	}
	return text
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
			area := fp.Field.Frame.Area(u.Shape)
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
					strconv.FormatFloat(area/geo.Hectare, 'f', 3, 64), strconv.FormatFloat(area/geo.Acre, 'f', 2, 64),
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
