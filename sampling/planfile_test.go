package sampling

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/vector"
)

// sameField holds two fields against each other to the last bit.
func sameField(t *testing.T, a, b *geo.Field) {
	t.Helper()
	for _, c := range []struct {
		what string
		a, b any
	}{
		{"name", a.Name, b.Name}, {"frame", a.Frame.EPSG(), b.Frame.EPSG()}, {"setback", a.Setback, b.Setback},
		{"boundary", a.Boundary, b.Boundary}, {"exclusions", a.Exclusions, b.Exclusions}, {"ground", a.Ground, b.Ground},
		{"divisions", a.Divisions, b.Divisions}, {"drawn", a.Drawn, b.Drawn}, {"sampleable area", a.Sampleable, b.Sampleable},
	} {
		if !reflect.DeepEqual(c.a, c.b) {
			t.Errorf("field %s: its %s came back otherwise:\n%.300v\n%.300v", a.Name, c.what, c.a, c.b)
		}
	}
}

func TestFieldsComeBackFromFiles(t *testing.T) {
	half := farm(t)
	half.Name, half.Setback = "Füllfläche\t\"2\"", 1.0/3
	plain := geo.Outline{Name: "12", Boundary: degrees(t, [][]float64{rect(0, 0, 300, 200)})}
	shared := farm(t)
	shared.Name = "shared"
	shared.Management = append(shared.Management, geo.Part{Name: "corn", Where: "again", Shape: degrees(t, [][]float64{rect(600, 0, 900, 300)})})
	var fields []*geo.Field
	var features []vector.OutFeature
	for _, o := range []geo.Outline{farm(t), half, plain, shared, bent(t)} {
		f := mustMap(t, o)
		fields = append(fields, f)
		more, err := FieldFeatures(f)
		if err != nil {
			t.Fatal(err)
		}
		features = append(features, more...)
	}
	got, err := ReadFields(through(t, features))
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != len(fields) {
		t.Fatalf("%d fields came back, want %d", len(got), len(fields))
	}
	for i := range fields {
		sameField(t, fields[i], got[i])
	}
}

// A mended outline has corners that no file had. They are rounded when it is
// written, so it comes back to a centimetre, and from then on to the last bit.
func TestMendedFieldsComeBack(t *testing.T) {
	f := mustMap(t, geo.Outline{Name: "bow tie", Boundary: degrees(t, [][]float64{{0, 0, 300, 210, 310, 0, 0, 190}})})
	back := func(f *geo.Field) *geo.Field {
		t.Helper()
		features, err := FieldFeatures(f)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ReadFields(through(t, features))
		if err != nil {
			t.Fatal(err)
		}
		return got[0]
	}
	once := back(f)
	if len(f.Notices) == 0 || len(once.Notices) > 0 || !about(f.Boundary.Area(), once.Boundary.Area(), 0.01*f.Boundary.Perimeter()) {
		t.Errorf("%.3f m² with notices %q came back as %.3f m² with %q", f.Boundary.Area(), f.Notices, once.Boundary.Area(), once.Notices)
	}
	sameField(t, once, back(once))
}

func TestPlansComeBackFromFiles(t *testing.T) {
	for _, p := range []Params{{Design: Grid, Cell: 3000}, {Design: Strata, Samples: 17}, {Design: Units}} {
		p.Cores, p.Spacing, p.Seed, p.Depths = 7, 12, 5, []Depth{{0, 8, "in"}}
		plan := mustMake(t, p, mustMap(t, farm(t)), mustMap(t, bent(t)))
		features, err := plan.Features()
		if err != nil {
			t.Fatal(err)
		}
		l := through(t, features)
		fields, err := ReadFields(l)
		if err != nil {
			t.Fatal(err)
		}
		units, err := ReadUnits(l)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for i, fp := range plan.Fields {
			sameField(t, fp.Field, fields[i])
			for _, u := range fp.Units {
				got := units[n]
				n++
				shape, _, err := fp.Field.Frame.Shape(got.Shape)
				if err != nil {
					t.Fatal(err)
				}
				if got.ID != u.ID() || got.Field != fp.Field.Name || got.Depth != "0-8in" || !slices.Equal(got.Notes, u.Notes) ||
					!about(shape.Area(), u.Shape.Area(), 0.012*u.Shape.Perimeter()) {
					t.Errorf("unit %s came back as %+v", u.ID(), got)
				}
				var label []string
				for _, q := range fp.Division(u) {
					label = append(label, fmt.Sprint(q.Name, " ", q.Value))
				}
				var back []string
				if got.Problem != "" {
					back = append(back, "problem "+got.Problem)
				}
				if got.Management != "" {
					back = append(back, "management "+got.Management)
				}
				if !slices.Equal(label, back) {
					t.Errorf("unit %s of %q came back of %q", u.ID(), label, back)
				}
				var sum geo.LonLat
				for k, c := range u.Cores {
					if got.Cores[k] != (PlannedCore{c.Name, c.Number, c.LonLat}) {
						t.Errorf("core %s came back at %v, not %v", c.Name, got.Cores[k], c.LonLat)
					}
					sum[0], sum[1] = sum[0]+c.LonLat[0], sum[1]+c.LonLat[1]
				}
				if at := got.At(); !about(at[0], sum[0]/7, 1e-7) || !about(at[1], sum[1]/7, 1e-7) {
					t.Errorf("unit %s stands for %v, want %v over 7", u.ID(), at, sum)
				}
			}
		}
		if n != len(units) {
			t.Errorf("%d units came back, want %d", len(units), n)
		}
	}
}

// A program in between may put the features in another order.
func TestOrderOfTheFileIsNoMatter(t *testing.T) {
	plan := mustMake(t, Params{Design: Units, Cores: 4}, mustMap(t, farm(t)))
	features, err := plan.Features()
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(features)
	l := through(t, features)
	fields, err := ReadFields(l)
	if err != nil {
		t.Fatal(err)
	}
	if got := fields[0]; !reflect.DeepEqual(got.Boundary, plan.Fields[0].Field.Boundary) {
		t.Error("the boundary came back otherwise")
	}
	units, err := ReadUnits(l)
	if err != nil || len(units) != len(plan.Fields[0].Units) || len(units[0].Cores) != 4 {
		t.Errorf("%d units, %v", len(units), err)
	}
}

const (
	someField = `{"type":"Feature","properties":{"kind":"field","name":"a","crs":"EPSG:32615","setback_m":5},"geometry":{"type":"Polygon","coordinates":[[[-93.001,42],[-93,42],[-93,42.001],[-93.001,42.001],[-93.001,42]]]}}`
	someUnit  = `{"type":"Feature","properties":{"kind":"unit","id":"BB01K","field":"a"},"geometry":{"type":"Polygon","coordinates":[[[-93.001,42],[-93,42],[-93,42.001],[-93.001,42.001],[-93.001,42]]]}}`
	someCore  = `{"type":"Feature","properties":{"kind":"core","sample":"BB01K"},"geometry":{"type":"Point","coordinates":[-93.0005,42.0005]}}`
)

func collection(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
}

func TestForeignFilesAreRefused(t *testing.T) {
	change := func(feature, from, to string) string {
		out := strings.Replace(feature, from, to, 1)
		if out == feature {
			t.Fatalf("%q is not in %s", from, feature)
		}
		return out
	}
	part := change(change(someUnit, `"unit"`, `"exclusion"`), `"id":"BB01K",`, ``)
	fields := func(l *vector.Layer) error { _, err := ReadFields(l); return err }
	units := func(l *vector.Layer) error { _, err := ReadUnits(l); return err }
	for name, c := range map[string]struct {
		read func(*vector.Layer) error
		text string
		want string // "": no error
	}{
		"as it should be":      {fields, collection(someField, part, someUnit, someCore), ""},
		"units as they should": {units, collection(someUnit, someCore), ""},
		"empty":                {fields, collection(), "no feature of kind field; is it a plan"},
		"no units":             {units, collection(someField), "no feature of kind unit; is it a plan"},
		"kind in capitals":     {fields, collection(change(someField, `"kind"`, `"Kind"`)), "no feature of kind field"},
		"kind a number":        {fields, collection(change(someField, `"field"`, `7`)), "no feature of kind field"},
		"no name":              {fields, collection(change(someField, `"name":"a",`, ``)), "feature 1: the field has no name"},
		"null name":            {fields, collection(change(someField, `"a"`, `null`)), "feature 1: the field has no name"},
		"two of a name":        {fields, collection(someField, someField), `feature 2: a field named "a" stands in the file twice`},
		"no crs":               {fields, collection(change(someField, `"crs":"EPSG:32615",`, ``)), "has no crs"},
		"unknown crs":          {fields, collection(change(someField, `EPSG:32615`, `EPSG:1`)), "feature 1: "},
		"crs is no crs":        {fields, collection(change(someField, `EPSG:32615`, `here`)), "feature 1: "},
		"crs in degrees":       {fields, collection(change(someField, `EPSG:32615`, `EPSG:4326`)), "cannot serve as a frame"},
		"Web Mercator":         {fields, collection(change(someField, `EPSG:32615`, `EPSG:3857`)), "cannot serve as a frame"},
		"crs in feet":          {fields, collection(change(someField, `EPSG:32615`, `EPSG:2236`)), "cannot serve as a frame"},
		"crs an object":        {fields, collection(change(someField, `"EPSG:32615"`, `{"a":1}`)), "feature 1: "},
		"crs of elsewhere":     {fields, collection(change(someField, `EPSG:32615`, `EPSG:32633`)), "field a"},
		"setback a text":       {fields, collection(change(someField, `:5}`, `:"5"}`)), `its setback_m is "5", not a number`},
		"setback below zero":   {fields, collection(change(someField, `:5}`, `:-5}`)), "setback_m of -5 is out of range"},
		"setback too large":    {fields, collection(change(someField, `:5}`, `:1e300}`)), "is out of range"},
		"setback null":         {fields, collection(change(someField, `:5}`, `:null}`)), ""},
		"setback eats all":     {fields, collection(change(someField, `:5}`, `:500}`)), "field a: a setback of 500 m"},
		"no polygon":           {fields, collection(change(someCore, `"core"`, `"field","name":"b","crs":"EPSG:32615"`)), "the field b has no polygon"},
		"no geometry":          {fields, collection(`{"type":"Feature","properties":{"kind":"field","name":"b","crs":"EPSG:32615"},"geometry":null}`), "the field b has no polygon"},
		"part of nowhere":      {fields, collection(someField, change(part, `"field":"a"`, `"field":"b"`)), `feature 2: its field "b" is not in the file`},
		"part of no field":     {fields, collection(someField, change(part, `,"field":"a"`, ``)), `its field "" is not in the file`},
		"setback of a part":    {fields, collection(someField, change(part, `"field":"a"`, `"field":"a","setback_m":[1]`)), `feature 2: its setback_m is "[1]", not a number`},
		"all excluded":         {fields, collection(someField, part), ""},
		"unit without id":      {units, collection(change(someUnit, `"id":"BB01K",`, ``), someCore), "feature 1: the unit has no sample id"},
		"unit twice":           {units, collection(someUnit, someUnit, someCore), "feature 2: its sample id BB01K stands in the file twice"},
		"unit a point":         {units, collection(change(someCore, `"kind":"core","sample"`, `"kind":"unit","id"`)), "the unit BB01K has no polygon"},
		"core of nowhere":      {units, collection(someUnit, change(someCore, `BB01K`, `BB02X`)), `feature 2: the core is of sample "BB02X", which is not in the file`},
		"core a polygon":       {units, collection(someUnit, change(someUnit, `"unit","id"`, `"core","sample"`)), "the core of sample BB01K is not one point"},
		"core of many":         {units, collection(someUnit, change(someCore, `"Point","coordinates":[-93.0005,42.0005]`, `"MultiPoint","coordinates":[[-93,42],[-93,42.0001]]`)), "is not one point"},
		"no cores":             {units, collection(someUnit), "sample BB01K has no cores"},
	} {
		if name == "all excluded" || name == "as it should be" {
			c.text = strings.Replace(c.text, `"exclusion","field":"a"},"geometry":{"type":"Polygon","coordinates":[[[-93.001,42],[-93,42]`, `"exclusion","field":"a"},"geometry":{"type":"Polygon","coordinates":[[[-93.001,42],[-93.0009,42]`, 1)
		}
		err := c.read(readText(t, c.text))
		switch {
		case c.want == "" && err != nil:
			t.Errorf("%s: %v", name, err)
		case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%s: %v, want an error of %q", name, err, c.want)
		case err != nil && (!strings.HasPrefix(err.Error(), "plan.geojson") || strings.Contains(err.Error(), "\n")):
			t.Errorf("%s: the error %q does not name the file, in one line", name, err)
		}
	}
}

// Results come back, with what the file holds beside figures of any name.
func TestResultsComeBackFromFiles(t *testing.T) {
	f := mustMap(t, farm(t))
	features, err := FieldFeatures(f)
	if err != nil {
		t.Fatal(err)
	}
	analytes := []Analyte{{Name: "pH"}, {Name: "ph", Unit: "1"}, {Name: "P", Column: "Phosphorus", Unit: "mg/kg", Method: "Mehlich 3"}}
	for _, name := range slices.Concat(reserved, []string{"X", "Y", "Crs", "KIND", "Notes", "LON", "name", "setback_m", "area_ha", "P_censored", "analyte x", "analyte analyte x", "", "ü \"%"}) {
		if name != "" {
			analytes = append(analytes, Analyte{Name: name})
		}
	}
	var figures []Figure
	for i, a := range analytes {
		censored := ""
		if i%3 == 2 {
			censored = "<"
		}
		figures = append(figures, Figure{a.Name, float64(i) + 0.1, censored})
	}
	whole := []Figure{{"P", 30, ">"}, {"K", -0.5, ""}, {"pH", 7, ""}}
	analytes = append(analytes, Analyte{Name: "K"})
	want := []Composite{
		{ID: "BB018", Field: f.Name, Management: "corn", Depth: "0-8in", Unit: 3, Composite: 2, ComparisonOf: "wet", CompareWith: "BB029", Shape: degrees(t, [][]float64{rect(10, 10, 60, 50)}),
			At: geo.Round7(spot(t, 30, 30)), Figures: figures, Notes: []string{"pH: drawn late", "one core short"}},
		{ID: "0012", Field: f.Name, Problem: "wet", At: geo.Round7(spot(t, 470, 440)), Native: &Native{X: 575123.45678901, Y: 4.65e6 + 1.0/3, CRS: "EPSG:32615"}, Figures: whole},
		{ID: "0012", Field: f.Name, At: geo.Round7(spot(t, 471, 440)), Native: &Native{X: 0, Y: -0.25, CRS: "EPSG:26915"}},
		{ID: "1e5", Field: f.Name, At: geo.Round7(spot(t, 472, 440))},
	}
	for i := range want {
		for j := range want[i].Shape {
			for _, r := range want[i].Shape[j] {
				for k := range r {
					r[k] = orb.Point(geo.Round7(geo.LonLat(r[k])))
				}
			}
		}
		features = append(features, want[i].Feature())
	}
	head := vector.Member{Name: "corewalk", Value: map[string]any{"format": 1, "analytes": analytes}}
	got, err := ReadResults(through(t, features, head))
	if err != nil {
		t.Fatal(err)
	}
	sameField(t, f, got.Fields[0])
	if !reflect.DeepEqual(got.Analytes, analytes) {
		t.Errorf("analytes %v, want %v", got.Analytes, analytes)
	}
	if len(got.Composites) != len(want) {
		t.Fatalf("%d composites, want %d", len(got.Composites), len(want))
	}
	for i, c := range got.Composites {
		w := want[i]
		slices.SortFunc(c.Figures, func(a, b Figure) int { return strings.Compare(a.Analyte, b.Analyte) })
		w.Figures = slices.SortedFunc(slices.Values(w.Figures), func(a, b Figure) int { return strings.Compare(a.Analyte, b.Analyte) })
		if len(w.Figures) == 0 {
			w.Figures = nil
		}
		if len(w.Shape) > 0 {
			if b, a := orb.MultiPolygon(w.Shape).Bound(), orb.MultiPolygon(c.Shape).Bound(); a != b {
				t.Errorf("composite %s: shape in %v, want %v", w.ID, a, b)
			}
			w.Shape = c.Shape
		}
		if !reflect.DeepEqual(c, w) {
			t.Errorf("composite %d came back as\n%+v, want\n%+v", i, c, w)
		}
	}
	if v, ok := got.Composites[1].Figure("K"); !ok || v.Value != -0.5 {
		t.Errorf("K is %v, %v", v, ok)
	}
	if v, ok := got.Composites[3].Figure("K"); ok {
		t.Errorf("K of a sample without figures is %v", v)
	}
	// In its own system a point lies where it was measured, else where its
	// degrees say.
	if at, err := got.Composites[1].Place(f.Frame); err != nil || at != (geo.XY{575123.45678901, 4.65e6 + 1.0/3}) {
		t.Errorf("the point lies at %v, %v", at, err)
	}
	for _, i := range []int{0, 2, 3} {
		by, err := f.Frame.XY(want[i].At)
		if err != nil {
			t.Fatal(err)
		}
		if at, err := got.Composites[i].Place(f.Frame); err != nil || at != by {
			t.Errorf("composite %d lies at %v, %v, want %v", i, at, err, by)
		}
	}
}

func TestForeignResultsAreRefused(t *testing.T) {
	const head = `{"type":"FeatureCollection","corewalk":{"analytes":[{"name":"pH"}]},"features":[`
	unit := func(properties string) string {
		return head + someField + `,{"type":"Feature","properties":{"kind":"unit",` + properties + `},"geometry":null}]}`
	}
	for name, c := range map[string]struct{ text, want string }{
		"as it should be":  {unit(`"id":"1","field":"a","lon":-93,"lat":42,"pH":6.5`), ""},
		"no figure":        {unit(`"id":"1","field":"a","lon":-93,"lat":42,"pH":null`), ""},
		"a plan":           {collection(someField, someUnit, someCore), "names no analytes"},
		"other member":     {strings.Replace(unit(`"id":"1"`), `{"analytes":[{"name":"pH"}]}`, `[3]`, 1), "its member corewalk cannot be read"},
		"nameless":         {strings.Replace(unit(`"id":"1"`), `{"name":"pH"}`, `{}`, 1), "without a name"},
		"analyte twice":    {strings.Replace(unit(`"id":"1"`), `{"name":"pH"}`, `{"name":"pH"},{"name":"pH"}`, 1), `"pH" twice`},
		"no field":         {head + `]}`, "no feature of kind field"},
		"no id":            {unit(`"field":"a","lon":-93,"lat":42`), "feature 2: the composite has no sample id"},
		"no place":         {unit(`"id":"1","field":"a"`), "sample 1 has no place"},
		"half a place":     {unit(`"id":"1","field":"a","lon":-93`), "sample 1 has no place"},
		"off the earth":    {unit(`"id":"1","field":"a","lon":-93,"lat":420`), "sample 1 has no place"},
		"place a text":     {unit(`"id":"1","field":"a","lon":"93 W","lat":42`), `its lon is "93 W", not a number`},
		"x without y":      {unit(`"id":"1","field":"a","lon":-93,"lat":42,"x":5`), "one of x and y without the other"},
		"field of nowhere": {unit(`"id":"1","field":"b","lon":-93,"lat":42`), `the field "b" of sample 1 is not in the file`},
		"figure a text":    {unit(`"id":"1","field":"a","lon":-93,"lat":42,"pH":"<5"`), `sample 1: its pH is "<5", not a number`},
		"figure a truth":   {unit(`"id":"1","field":"a","lon":-93,"lat":42,"pH":true`), `sample 1: its pH is "true", not a number`},
	} {
		got, err := ReadResults(readText(t, c.text))
		switch {
		case c.want == "" && err != nil, c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%s: %v, want an error of %q", name, err, c.want)
		case err != nil && (!strings.HasPrefix(err.Error(), "plan.geojson") || strings.Contains(err.Error(), "\n")):
			t.Errorf("%s: the error %q does not name the file, in one line", name, err)
		case err == nil && (len(got.Composites) != 1 || math.Abs(got.Composites[0].At.Lon()+93) > 0):
			t.Errorf("%s: %+v", name, got.Composites)
		}
	}
}
