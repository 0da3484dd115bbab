// Package kit writes what a person takes into the field: waypoints for a
// handheld and the manifest of the samples.
package kit

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// Waypoints returns the cores of a plan as GPX waypoints in walking order. The
// names are short, unique and plain; the sample id, the number of the core and
// the depth stand in the comment.
func Waypoints(p *sampling.Plan, creator string) gpx.Document {
	d := gpx.Document{Creator: creator}
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			for _, c := range u.Cores {
				d.Waypoints = append(d.Waypoints, gpx.Waypoint{
					At: c.LonLat, Name: c.Name,
					Comment:     fmt.Sprintf("%s core %d of %d, %s", u.ID, c.Number, len(u.Cores), p.Depth),
					Description: fmt.Sprintf("%s, unit %d%s", fp.Field.Name, u.Number, division(fp, u)),
				})
			}
		}
	}
	return d
}

// WaypointFeatures returns the same waypoints for GeoJSON.
func WaypointFeatures(p *sampling.Plan) []vector.OutFeature {
	var out []vector.OutFeature
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			for _, c := range u.Cores {
				at := c.LonLat
				out = append(out, vector.OutFeature{Point: &at, Properties: []vector.Property{
					{Name: "kind", Value: sampling.KindCore},
					{Name: "name", Value: c.Name},
					{Name: "order", Value: len(out) + 1},
					{Name: "sample", Value: u.ID},
					{Name: "core", Value: c.Number},
					{Name: "field", Value: fp.Field.Name},
					{Name: "unit", Value: u.Number},
					{Name: "depth", Value: p.Depth.String()},
				}})
			}
		}
	}
	return out
}

func division(fp *sampling.FieldPlan, u *sampling.Unit) string {
	d := fp.Field.Divisions[u.Division]
	if d.Name == "" {
		return ""
	}
	return ", " + d.Label()
}

// Manifest writes the list of samples as CSV, one row to a bag, in walking
// order. The columns date and taken_by are left to fill in.
func Manifest(w io.Writer, p *sampling.Plan) error {
	c := csv.NewWriter(w)
	rows := [][]string{{
		"sample_id", "field", "unit", "management_unit", "problem_area", "depth", "cores",
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
			first, last := "", ""
			if n := len(u.Cores); n > 0 {
				first, last = u.Cores[0].Name, u.Cores[n-1].Name
			}
			rows = append(rows, []string{
				u.ID, fp.Field.Name, strconv.Itoa(u.Number), management, problem, p.Depth.String(), strconv.Itoa(len(u.Cores)),
				strconv.FormatFloat(area/geo.Hectare, 'f', 3, 64), strconv.FormatFloat(area/geo.Acre, 'f', 2, 64),
				first, last, "", "", strings.Join(u.Notes, "; "),
			})
		}
	}
	if err := c.WriteAll(rows); err != nil {
		return fmt.Errorf("manifest: %w", err)
	}
	return nil
}
