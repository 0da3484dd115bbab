package main

import (
	"cmp"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

// pointsStep takes results that bring their own coordinates. Without a boundary
// the field is the hull of the points.
func pointsStep(m *mapFiles, farm string, r resultSource, out *outputs) (joinSummary, error) {
	points, reckoning, system, notices, err := readPoints(r)
	if err != nil {
		return joinSummary{}, err
	}
	if len(points) == 0 {
		return joinSummary{}, fmt.Errorf("%s: none of its %d rows is a point with coordinates; see that x and y name the right columns", r.points, reckoning.Counts.Rows)
	}
	j := joined{reckoning: reckoning, notices: notices}
	places := make([]geo.LonLat, len(points))
	for i, p := range points {
		if places[i], err = system.Inverse(p.X, p.Y); err != nil {
			return joinSummary{}, fmt.Errorf("%s: row %d: %w; check the crs of the points", r.points, p.Row, err)
		}
	}
	frame, own := geo.FrameOn(system)
	inputs := []string{r.points}
	if m == nil {
		o, err := hullOutline(farm, frame, own, places)
		if err != nil {
			return joinSummary{}, fmt.Errorf("%s: %w", r.points, err)
		}
		f, err := geo.Map(o)
		if err != nil {
			return joinSummary{}, fmt.Errorf("%s: %w", r.points, err)
		}
		j.fields = []*geo.Field{f}
		j.notices = append(j.notices, "there is no boundary file; the field is the hull of the points, widened by half of the distance between neighbours")
	} else {
		inputs = append(inputs, m.paths()...)
		outlines, more, err := m.outlines()
		if err != nil {
			return joinSummary{}, err
		}
		j.notices = append(j.notices, more...)
		for _, o := range outlines {
			if own {
				o.Frame = &frame
			}
			f, err := geo.Map(o)
			if err != nil {
				return joinSummary{}, fmt.Errorf("%s: field %s: %w", m.boundary.file, o.Name, err)
			}
			j.fields = append(j.fields, f)
		}
	}
	for _, f := range j.fields {
		for _, n := range f.Notices {
			j.notices = append(j.notices, "field "+f.Name+": "+n)
		}
	}
	if err := j.name(nil); err != nil {
		return joinSummary{}, err
	}
	if err := j.locate(points, places, r, system); err != nil {
		return joinSummary{}, err
	}
	j.notices = append(j.notices, lab.Mixed(j.reckoning.Columns)...)
	if r.strict {
		if err := strictly(j.reckoning, r.points); err != nil {
			return joinSummary{}, err
		}
	}
	if err := j.relate(r.relations); err != nil {
		return joinSummary{}, err
	}
	return j.write(inputs, nil, out)
}

// offGround is how far outside of every field's ground, in metres, a point may
// lie and still be taken for one of it: twice the error of a telephone under
// open sky (about 4.9 m, attributed to GPS.gov).
const offGround = 10.0

// locate gives every point to the field and division that it lies in. A point
// in no field turns from joined to unmatched.
func (j *joined) locate(points []lab.Point, places []geo.LonLat, r resultSource, system *crs.System) error {
	whereabouts := make([]*geo.Whereabouts, len(j.fields))
	bounds := make([]orb.Bound, len(j.fields))
	inside := make([]*plane.Locator, len(j.fields))
	for i, f := range j.fields {
		inside[i] = plane.NewLocator(f.Boundary)
		whereabouts[i] = f.NewWhereabouts()
		bounds[i] = f.Boundary.Bound().Pad(2 * offGround)
	}
	stray := map[int]string{}
	name := "EPSG:" + fmt.Sprint(system.EPSG())
	for i, p := range points {
		var c *sampling.Composite
		best := offGround
		why := "lies in no field"
		for k, f := range j.fields {
			at := geo.XY{p.X, p.Y}
			if frame, ok := geo.FrameOn(system); !ok || !frame.Same(f.Frame) {
				var err error
				if at, err = f.Frame.XY(places[i]); err != nil {
					continue
				}
			}
			if !bounds[k].Contains(orb.Point(at)) {
				continue
			}
			d, off := whereabouts[k].Nearest(at, best)
			if d < 0 && inside[k].Contains(at) {
				why = "lies in an exclusion of field " + f.Name
			}
			if d < 0 || (c != nil && off >= best) {
				continue
			}
			best = off
			division := f.Divisions[d]
			c = &sampling.Composite{ID: p.ID, Field: f.Name, Depth: p.Result.Depth, At: geo.Round7(places[i])}
			if system.EPSG() != 0 {
				c.Native = &sampling.Native{X: p.X, Y: p.Y, CRS: name}
			}
			if division.Kind == geo.Problem {
				c.Problem = division.Name
			} else {
				c.Management = division.Name
			}
		}
		if c == nil {
			stray[p.Row] = fmt.Sprintf("%s (%.6f, %.6f)", why, places[i].Lon(), places[i].Lat())
			continue
		}
		j.fill(c, p.Result)
		j.samples = append(j.samples, *c)
	}
	j.reckoning.Unplace(stray)
	if len(j.samples) == 0 {
		return fmt.Errorf("%s: none of its %d points lies in a field; check its crs (%s) and the boundary", r.points, len(points), system.Name())
	}
	return j.reckoning.Check()
}

func hullOutline(farm string, frame geo.Frame, own bool, places []geo.LonLat) (geo.Outline, error) {
	var err error
	if !own {
		if frame, err = geo.FrameAt(places[0]); err != nil {
			return geo.Outline{}, err
		}
	}
	at := make([]geo.XY, len(places))
	for i, p := range places {
		if at[i], err = frame.XY(p); err != nil {
			return geo.Outline{}, err
		}
	}
	if farm == "" {
		farm = "field"
	}
	return geo.HullOf(farm, frame, at)
}

func errNoSystem(path string) error {
	return fmt.Errorf("%s: the system of its coordinates is not given; name it as crs, for instance EPSG:4326 for longitude and latitude", path)
}

// readPoints reads points with coordinates, in their own system.
func readPoints(r resultSource) ([]lab.Point, lab.Reckoning, *crs.System, []string, error) {
	fail := func(err error) ([]lab.Point, lab.Reckoning, *crs.System, []string, error) {
		return nil, lab.Reckoning{}, nil, nil, err
	}
	switch strings.ToLower(filepath.Ext(r.points)) {
	case ".geojson", ".json", ".shp", ".zip":
		layer, err := readLayer(r.points, r.crs)
		if err != nil {
			return fail(err)
		}
		table, err := pointTable(layer)
		if err != nil {
			return fail(err)
		}
		if r.id != "" {
			if err := table.UseID(r.id); err != nil {
				return fail(err)
			}
		}
		points, reckoning, err := lab.ReadPoints(table, pointX, pointY)
		if err != nil {
			return fail(err)
		}
		reckoning.Examine(table)
		return points, reckoning, layer.CRS, layerNotices(layer), nil
	}
	if r.crs == "" && r.x != "" {
		return fail(errNoSystem(r.points))
	}
	table, err := r.table(r.points)
	if err != nil {
		return fail(err)
	}
	if r.x == "" && r.y == "" {
		// A file may have the places of its samples, in degrees.
		if x, y, ok := placedTable(table); ok {
			r.x, r.y, r.crs = x, y, cmp.Or(r.crs, "EPSG:4326")
		}
	}
	if r.crs == "" {
		return fail(errNoSystem(r.points))
	}
	system, err := crs.FromText(r.crs)
	if err != nil {
		return fail(fmt.Errorf("%s: crs: %w", r.points, err))
	}
	points, reckoning, err := lab.ReadPoints(table, r.x, r.y)
	if err != nil {
		return fail(err)
	}
	reckoning.Examine(table)
	return points, reckoning, system, table.Notices(), nil
}

// Columns that carry the geometry of a point file through the table.
const (
	pointX = "geometry x"
	pointY = "geometry y"
)

// pointTable turns a layer of points into a table, one row to a feature.
func pointTable(l *vector.Layer) (*lab.Table, error) {
	var head []string
	for _, c := range l.Columns {
		head = append(head, c.Name)
	}
	head = append(head, pointX, pointY)
	var rows [][]string
	for i := range l.Features {
		f := &l.Features[i]
		row := make([]string, 0, len(head))
		for _, c := range l.Columns {
			s, _ := l.Text(f, c.Name)
			row = append(row, s)
		}
		switch len(f.Native) {
		case 0:
			row = append(row, "", "")
		case 1:
			row = append(row, plain(f.Native[0][0]), plain(f.Native[0][1]))
		default:
			return nil, fmt.Errorf("%s: feature %d has %d points; give each composite a single one", l.Path, f.Index, len(f.Native))
		}
		rows = append(rows, row)
	}
	return lab.NewTable(l.Path, head, rows), nil
}

// Columns that carry the places of samples through a table.
const (
	placeLon = "place longitude"
	placeLat = "place latitude"
)

// placedTable adds the places of a file's samples as columns, and returns their
// names; false when it gives none.
func placedTable(t *lab.Table) (x, y string, ok bool) {
	for _, row := range t.Rows {
		ok = ok || row.Place != nil
	}
	if !ok {
		return "", "", false
	}
	t.AddText(placeLon, func(r lab.Row) string {
		if r.Place == nil {
			return ""
		}
		return plain(r.Place[0])
	})
	t.AddText(placeLat, func(r lab.Row) string {
		if r.Place == nil {
			return ""
		}
		return plain(r.Place[1])
	})
	return placeLon, placeLat, true
}
