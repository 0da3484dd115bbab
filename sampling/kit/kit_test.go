package kit

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// box is a square of some 100 m by 110 m, its south-west corner in steps of
// that size.
func box(i, j, size float64) crs.LonLatShape {
	x, y := -93+i*0.0012, 42+j*0.001
	w, h := 0.0012*size, 0.001*size
	return crs.LonLatShape{{orb.Ring{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}, {x, y}}}}
}

func plan(t testing.TB, p sampling.Params, outlines ...geo.Outline) *sampling.Plan {
	t.Helper()
	var fields []*geo.Field
	for _, o := range outlines {
		f, err := geo.Map(o)
		if err != nil {
			t.Fatal(err)
		}
		fields = append(fields, f)
	}
	made, err := sampling.Make(fields, p)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

// odd names are what people write into a table.
var odd = []string{`Home, "east"`, "two\nlines", "a;b\tc", `=1+1`, "Füllfläche <&>", " spaced ", "'quoted'", `back\slash`}

func oddPlan(t testing.TB) *sampling.Plan {
	var outlines []geo.Outline
	for i, name := range odd {
		outlines = append(outlines, geo.Outline{
			Name: name, Boundary: box(0, float64(5*i), 2),
			Management: []geo.Part{{Name: name + " corn", Where: "corn", Shape: box(0, float64(5*i), 1)}},
			Problems:   []geo.Part{{Name: name + " wet", Where: "wet", Shape: box(1.4, float64(5*i)+1.4, 0.3)}},
		})
	}
	return plan(t, sampling.Params{Design: sampling.Grid, Cell: 9000, Cores: 11, Spacing: 8, Depths: []sampling.Depth{{To: 20, Unit: "cm"}}, Seed: 2}, outlines...)
}

func TestManifest(t *testing.T) {
	p := oddPlan(t)
	var b bytes.Buffer
	if err := Manifest(&b, p); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"sample_id", "field", "unit", "management_unit", "problem_area", "compare_with", "depth", "cores", "area_ha", "area_ac", "first_waypoint", "last_waypoint", "date", "taken_by", "notes"}
	if !slices.Equal(rows[0], want) {
		t.Errorf("columns %q, want %q", rows[0], want)
	}
	n := 1
	for _, fp := range p.Fields {
		problems := 0
		for _, u := range fp.Units {
			row := map[string]string{}
			for i, column := range rows[0] {
				row[column] = rows[n][i]
			}
			n++
			d := fp.Field.Divisions[u.Division]
			management, problem := d.Name, ""
			if d.Kind == geo.Problem {
				management, problem = "", d.Name
				problems++
			}
			ha, _ := strconv.ParseFloat(row["area_ha"], 64)
			ac, _ := strconv.ParseFloat(row["area_ac"], 64)
			area := fp.Field.Frame.Area(u.Shape)
			for column, want := range map[string]string{
				"sample_id": u.ID(), "field": fp.Field.Name, "unit": strconv.Itoa(u.Number), "management_unit": management, "problem_area": problem,
				"depth": "0-20cm", "cores": "11", "first_waypoint": u.Cores[0].Name, "last_waypoint": u.Cores[10].Name, "date": "", "taken_by": "", "notes": strings.Join(u.Notes, "; "),
			} {
				if row[column] != want {
					t.Errorf("sample %s: %s is %q, want %q", u.ID(), column, row[column], want)
				}
			}
			if d := ha*1e4 - area; d > 5 || d < -5 {
				t.Errorf("sample %s: %g ha, want %g m²", u.ID(), ha, area)
			}
			if d := ac*4046.8564224 - area; d > 21 || d < -21 {
				t.Errorf("sample %s: %g ac, want %g m²", u.ID(), ac, area)
			}
		}
		if problems != 1 {
			t.Errorf("field %q has %d problem areas", fp.Field.Name, problems)
		}
	}
	if n != len(rows) {
		t.Errorf("%d rows, want %d", len(rows), n)
	}
}

var errFull = errors.New("disk full")

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

func TestManifestTellsOfAFullDisk(t *testing.T) {
	if err := Manifest(fullDisk{}, oddPlan(t)); !errors.Is(err, errFull) {
		t.Errorf("error %v, want %v", err, errFull)
	}
}

// A unit without cores, which Make never makes, is written all the same.
func TestManifestWithoutCores(t *testing.T) {
	p := oddPlan(t)
	p.Fields[0].Units[0].Cores = nil
	var b bytes.Buffer
	if err := Manifest(&b, p); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || rows[1][7] != "0" || rows[1][10] != "" || rows[1][11] != "" {
		t.Errorf("row %q, %v", rows[1], err)
	}
}

// one is the only file of a plan's waypoints.
func one(t *testing.T, p *sampling.Plan) gpx.Document {
	t.Helper()
	documents, err := Waypoints(Stops(p), Handheld{}, "corewalk test")
	if err != nil || len(documents) != 1 {
		t.Fatal(len(documents), err)
	}
	return documents[0]
}

func TestWaypoints(t *testing.T) {
	p := oddPlan(t)
	d := one(t, p)
	features := WaypointFeatures(p)
	names := map[string]bool{}
	n := 0
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			for i, c := range u.Cores {
				w, f := d.Waypoints[n], features[n]
				n++
				if names[w.Name] || len(w.Name) > 10 || strings.Trim(w.Name, "0123456789BCDFGHJKLMNPQRTVWX") != "" {
					t.Errorf("waypoint %q comes twice or is not short and plain", w.Name)
				}
				names[w.Name] = true
				if want := fmt.Sprintf("%s core %d of 11, 0-20cm", u.ID(), i+1); w.Comment != want || w.Name != c.Name || w.At != c.LonLat {
					t.Errorf("waypoint %+v, want the comment %q", w, want)
				}
				where := fmt.Sprintf("%s, unit %d, %s", fp.Field.Name, u.Number, fp.Field.Divisions[u.Division].Label())
				if w.Description != where {
					t.Errorf("waypoint %s has the description %q, want %q", w.Name, w.Description, where)
				}
				properties := map[string]any{}
				for _, q := range f.Properties {
					properties[q.Name] = q.Value
				}
				for name, want := range map[string]any{"kind": "core", "name": c.Name, "order": n, "sample": u.ID(), "core": i + 1, "field": fp.Field.Name, "unit": u.Number, "depth": "0-20cm"} {
					if properties[name] != want {
						t.Errorf("waypoint %s: %s is %v, want %v", w.Name, name, properties[name], want)
					}
				}
				if f.Point == nil || *f.Point != c.LonLat {
					t.Errorf("waypoint %s stands at %v, want %v", w.Name, f.Point, c.LonLat)
				}
			}
		}
	}
	if n != len(d.Waypoints) || n != len(features) {
		t.Errorf("%d and %d waypoints, want %d", len(d.Waypoints), len(features), n)
	}
	// What is written can be read.
	var b bytes.Buffer
	if err := gpx.Write(&b, d); err != nil {
		t.Fatal(err)
	}
	b.Reset()
	if err := vector.WriteGeoJSON(&b, vector.Collection{Features: features}); err != nil {
		t.Fatal(err)
	}
}

// A field that is not divided has nothing to say of divisions.
func TestWaypointOfAPlainField(t *testing.T) {
	d := one(t, plan(t, sampling.Params{Design: sampling.Units, Cores: 1, Depths: []sampling.Depth{{To: 8, Unit: "in"}}}, geo.Outline{Name: "Home", Boundary: box(0, 0, 1)}))
	if w := d.Waypoints[0]; w.Name != "BB0101" || w.Description != "Home, unit 1" || !strings.HasSuffix(w.Comment, " core 1 of 1, 0-8in") {
		t.Errorf("waypoint %+v", w)
	}
}

// Names stay short and unique over very many fields and cores.
func TestNamesOfManyFields(t *testing.T) {
	var outlines []geo.Outline
	for i := range 400 {
		outlines = append(outlines, geo.Outline{Name: strconv.Itoa(i), Boundary: box(float64(i%20)*2, float64(i/20)*2, 1)})
	}
	names := map[string]bool{}
	d := one(t, plan(t, sampling.Params{Design: sampling.Units, Cores: 100}, outlines...))
	for _, w := range d.Waypoints {
		if names[w.Name] || len(w.Name) > 10 {
			t.Fatalf("waypoint %q comes twice or is too long", w.Name)
		}
		names[w.Name] = true
	}
	if len(names) != 40_000 {
		t.Errorf("%d waypoints", len(names))
	}
}
