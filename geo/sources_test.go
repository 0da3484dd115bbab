package geo

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// layer has one text column and a feature for each value.
func layer(path, column string, features ...vector.Feature) *vector.Layer {
	l := &vector.Layer{Path: "some/where/" + path, Columns: []vector.Column{{Name: "crop", Type: vector.Text}, {Name: column, Type: vector.Text}}}
	for i, f := range features {
		f.Index = i + 1
		l.Features = append(l.Features, f)
	}
	return l
}

func named(name any, s crs.LonLatShape) vector.Feature {
	return vector.Feature{Values: []any{"wheat", name}, Shape: s}
}

func TestOutlines(t *testing.T) {
	s := iowa(t)
	square := func(x, y, size float64) crs.LonLatShape { return shapeOf(s.rect(x, y, x+size, y+size)) }
	fields := layer("farm.geojson", "Name",
		named(" North \t field ", square(0, 0, 100)), named("South", square(0, -500, 100)),
		named(nil, square(2000, 0, 100)), named("South", square(200, -500, 100)),
		named("track", nil), vector.Feature{Values: []any{"", "a line"}, Lines: []crs.LonLatLine{{orb.Point(s.place(0, 0)), orb.Point(s.place(1, 1))}}},
	)
	ponds := layer("ponds.shp", "id", named("p1", square(10, 10, 5)), named("p2", square(108, 10, 5)), named("p3", square(9000, 0, 5)))
	wells := layer("wells.geojson", "x", vector.Feature{Points: []LonLat{s.place(50, -300)}, Values: []any{nil, nil}})
	units := layer("units.geojson", "label", named("U", square(-10, -10, 3000)))
	src := Sources{
		Boundary: Source{Layer: fields}, Setback: 7,
		Exclude:    []Source{{Layer: ponds, Setback: 10}, {Layer: wells, Setback: 1}},
		Management: &Source{Layer: units}, Problems: &Source{Layer: layer("empty.geojson", "name")},
	}
	out, notices, err := src.Outlines()
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, o := range out {
		names = append(names, o.Name)
		if o.Setback != 7 || len(o.Problems) != 0 {
			t.Errorf("%+v", o)
		}
	}
	if !slices.Equal(names, []string{"North field", "South", "field 3"}) {
		t.Fatalf("%q", names)
	}
	if len(out[0].Boundary) != 1 || len(out[1].Boundary) != 2 {
		t.Errorf("%d and %d parts", len(out[0].Boundary), len(out[1].Boundary))
	}
	north := out[0]
	if len(north.Exclusions) != 2 || north.Exclusions[1].Name != "p2" || north.Exclusions[0].Setback != 10 ||
		north.Exclusions[0].Where != "ponds.shp: feature 1 (p1)" || len(north.Management) != 1 || north.Management[0].Name != "U" {
		t.Errorf("%+v", north)
	}
	if len(out[1].Exclusions) != 0 || len(out[1].Management) != 0 || len(out[2].Management) != 1 {
		t.Errorf("%+v", out[1:])
	}
	for i, says := range []string{
		`farm.geojson: feature 4 (South) has the name "South" again`,
		`farm.geojson: feature 6 (a line) has no polygon; it is left out`,
		"wells.geojson: none of its 1 features comes near a field",
	} {
		if i >= len(notices) || !strings.HasPrefix(notices[i], says) {
			t.Errorf("notices %q, want %q", notices, says)
		}
	}
	if len(notices) != 3 {
		t.Errorf("%q", notices)
	}
}

func TestOutlinesNameColumn(t *testing.T) {
	s := iowa(t)
	fields := layer("farm.shp", "FELD", named("X", shapeOf(s.rect(0, 0, 9, 9))))
	for _, c := range []struct{ column, want, says string }{
		{"FELD", "X", ""}, {"feld", "X", ""}, {"crop", "wheat", ""}, {"", "field 1", ""}, {"nome", "", `farm.shp has no column "nome"; its columns are: crop, FELD`},
	} {
		out, _, err := Sources{Boundary: Source{Layer: fields, Name: c.column}}.Outlines()
		if c.says != "" {
			if err == nil || err.Error() != c.says {
				t.Errorf("%q: %v", c.column, err)
			}
			continue
		}
		if err != nil || len(out) != 1 || out[0].Name != c.want {
			t.Errorf("%q: %+v, %v", c.column, out, err)
		}
	}
	bare := &vector.Layer{Path: "a.geojson", Features: []vector.Feature{{Index: 1, Shape: shapeOf(s.rect(0, 0, 9, 9))}}}
	if _, _, err := (Sources{Boundary: Source{Layer: bare, Name: "n"}}).Outlines(); err == nil || !strings.HasSuffix(err.Error(), "its columns are: none") {
		t.Errorf("%v", err)
	}
	// A missing column is told of every file.
	for what, src := range map[string]Sources{
		"exclusions": {Boundary: Source{Layer: bare}, Exclude: []Source{{Layer: bare, Name: "n"}}},
		"units":      {Boundary: Source{Layer: bare}, Management: &Source{Layer: bare, Name: "n"}},
		"problems":   {Boundary: Source{Layer: bare}, Problems: &Source{Layer: bare, Name: "n"}},
	} {
		if _, _, err := src.Outlines(); err == nil {
			t.Errorf("%s: no error", what)
		}
	}
	for _, l := range []*vector.Layer{{Path: "e.geojson"}, layer("e.geojson", "name", named("x", nil))} {
		if _, _, err := (Sources{Boundary: Source{Layer: l}}).Outlines(); err == nil || !strings.HasPrefix(err.Error(), "e.geojson has no polygon to be a field") {
			t.Errorf("%v", err)
		}
	}
}

// A setback reaches as far east as it does north, at high latitudes too.
func TestOutlinesReach(t *testing.T) {
	s := siteAt(t, 15, 83)
	src := Sources{
		Boundary: Source{Layer: layer("f", "name", named("f", shapeOf(s.rect(0, 0, 100, 100))))},
		Exclude:  []Source{{Layer: layer("w", "name", vector.Feature{Points: []LonLat{s.place(-95, 50)}, Values: []any{nil, nil}}), Setback: 100}},
	}
	out, _, err := src.Outlines()
	if err != nil || len(out[0].Exclusions) != 1 {
		t.Fatalf("%+v, %v", out, err)
	}
	if f := mustMap(t, out[0]); f.MayCore(XY{s.at[0] + 1, s.at[1] + 50}) || len(f.Exclusions) != 1 {
		t.Error("the setback of a well outside the field was lost")
	}
}

// Every field has the parts that come near it, in the order of their file.
func TestOutlinesOfMany(t *testing.T) {
	r := random(71)
	square := func(most float64) crs.LonLatShape {
		x, y, w, h := 9+r.Float64(), 50+r.Float64(), most*r.Float64(), most*r.Float64()
		return crs.LonLatShape{{{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}, {x, y}}}}
	}
	fields, ponds := layer("fields.geojson", "name"), layer("ponds.geojson", "name")
	for i := range 300 {
		fields.Features = append(fields.Features, named(fmt.Sprintf("F%d", i), square(0.1)))
		ponds.Features = append(ponds.Features, named(fmt.Sprintf("E%d", i), square(0.05)))
	}
	out, _, err := Sources{Boundary: Source{Layer: fields}, Exclude: []Source{{Layer: ponds}, {Layer: ponds}}}.Outlines()
	if err != nil {
		t.Fatal(err)
	}
	some := 0
	for i, o := range out {
		var want []string
		for range 2 {
			for k, p := range ponds.Features {
				if orb.MultiPolygon(p.Shape).Bound().Pad(1e-6).Intersects(orb.MultiPolygon(fields.Features[i].Shape).Bound()) {
					want = append(want, fmt.Sprintf("E%d", k))
				}
			}
		}
		var got []string
		for _, e := range o.Exclusions {
			got = append(got, e.Name)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", o.Name, got, want)
		}
		some += len(want)
	}
	if some < 300 {
		t.Errorf("only %d parts", some)
	}
}
