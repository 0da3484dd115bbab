package vector

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

func shape(polygons ...orb.Polygon) crs.LonLatShape { return polygons }

func geometryText(t *testing.T, f OutFeature) string {
	t.Helper()
	var buf bytes.Buffer
	if err := WriteGeoJSON(&buf, Collection{Features: []OutFeature{f}}); err != nil {
		t.Fatal(err)
	}
	_, g, _ := strings.Cut(buf.String(), `"geometry":`)
	g, _, _ = strings.Cut(g, "}\n]}\n")
	return g
}

func TestWriteGeoJSONText(t *testing.T) {
	var buf bytes.Buffer
	err := WriteGeoJSON(&buf, Collection{
		Members: []Member{{"corewalk", map[string]any{"seed": 7, "by": "<a&b>"}}, {"note", nil}},
		Features: []OutFeature{
			{ID: "F1", Point: &crs.LonLat{-93.12345678, 42}, Properties: []Property{
				{"kind", "core"}, {"id", "0012"}, {"n", 3}, {"x", 0.1}, {"big", 1e20}, {"small", 1.5e-5}, {"zero", math.Copysign(0, -1)},
				{"on", true}, {"none", nil}, {"text", "a\"b\nü"}, {"list", []string{"a", "b"}}}},
			{},
		}})
	if err != nil {
		t.Fatal(err)
	}
	want := `{"type":"FeatureCollection",
"corewalk":{"by":"<a&b>","seed":7},
"note":null,
"features":[
{"type":"Feature","id":"F1","properties":{"kind":"core","id":"0012","n":3,"x":0.1,"big":100000000000000000000,"small":0.000015,"zero":0,"on":true,"none":null,"text":"a\"b\nü","list":["a","b"]},"geometry":{"type":"Point","coordinates":[-93.1234568,42]}},
{"type":"Feature","properties":{},"geometry":null}
]}
`
	if buf.String() != want {
		t.Errorf("got\n%s\nwant\n%s", buf.String(), want)
	}
	buf.Reset()
	if err := WriteGeoJSON(&buf, Collection{}); err != nil || buf.String() != "{\"type\":\"FeatureCollection\",\n\"features\":[\n]}\n" {
		t.Errorf("%q %v", buf.String(), err)
	}
}

func TestWriteGeoJSONGeometry(t *testing.T) {
	ccw := orb.Ring{{0, 0}, {1, 0}, {1, 1}, {0, 1}, {0, 0}}
	cw := orb.Ring{{0, 0}, {0, 1}, {1, 1}, {1, 0}, {0, 0}}
	hole := orb.Ring{{0.2, 0.2}, {0.2, 0.4}, {0.4, 0.4}, {0.2, 0.2}}
	ccwText, holeText := "[[0,0],[1,0],[1,1],[0,1],[0,0]]", "[[0.2,0.2],[0.2,0.4],[0.4,0.4],[0.2,0.2]]"
	for _, c := range []struct {
		name string
		f    OutFeature
		want string
	}{
		{"shell kept", OutFeature{Shape: shape(orb.Polygon{ccw})}, `{"type":"Polygon","coordinates":[` + ccwText + `]}`},
		{"shell turned", OutFeature{Shape: shape(orb.Polygon{cw})}, `{"type":"Polygon","coordinates":[` + ccwText + `]}`},
		{"shell left open", OutFeature{Shape: shape(orb.Polygon{ccw[:4]})}, `{"type":"Polygon","coordinates":[` + ccwText + `]}`},
		{"hole kept", OutFeature{Shape: shape(orb.Polygon{ccw, hole})}, `{"type":"Polygon","coordinates":[` + ccwText + `,` + holeText + `]}`},
		{"hole turned", OutFeature{Shape: shape(orb.Polygon{ccw, turned(hole)})}, `{"type":"Polygon","coordinates":[` + ccwText + `,` + holeText + `]}`},
		{"two", OutFeature{Shape: shape(orb.Polygon{ccw}, orb.Polygon{cw})}, `{"type":"MultiPolygon","coordinates":[[` + ccwText + `],[` + ccwText + `]]}`},
		{"vertices that fall together", OutFeature{Shape: shape(orb.Polygon{{{0, 0}, {0.00000001, 0}, {1, 0}, {1, 0}, {1, 1}, {0, 1}, {0, 0.00000004}, {0, 0}}})}, `{"type":"Polygon","coordinates":[` + ccwText + `]}`},
		{"hole collapses", OutFeature{Shape: shape(orb.Polygon{ccw, {{0.2, 0.2}, {0.2, 0.20000001}, {0.20000001, 0.2}, {0.2, 0.2}}})}, `{"type":"Polygon","coordinates":[` + ccwText + `]}`},
		{"sliver goes", OutFeature{Shape: shape(orb.Polygon{ccw}, orb.Polygon{{{0, 0}, {1, 0}, {1, 1e-9}, {0, 0}}})}, `{"type":"Polygon","coordinates":[` + ccwText + `]}`},
		{"all collapses", OutFeature{Shape: shape(orb.Polygon{{{0, 0}, {1e-9, 0}, {0, 1e-9}, {0, 0}}, hole})}, `null`},
		{"no polygon", OutFeature{Shape: shape()}, `null`},
		{"no ring", OutFeature{Shape: shape(orb.Polygon{})}, `null`},
		{"empty ring", OutFeature{Shape: shape(orb.Polygon{{}})}, `null`},
		{"line", OutFeature{Line: crs.LonLatLine{{0, 0}, {0, 0}, {-0.00000004, 1.10}}}, `{"type":"LineString","coordinates":[[0,0],[0,1.1]]}`},
		{"line collapses", OutFeature{Line: crs.LonLatLine{{0, 0}, {0, 0}}}, `null`},
		{"points", OutFeature{Points: []crs.LonLat{{1, 2}, {1, 2}, {-180, -90}}}, `{"type":"MultiPoint","coordinates":[[1,2],[1,2],[-180,-90]]}`},
		{"digits", OutFeature{Point: &crs.LonLat{-0.0000001, 89.99999995}}, `{"type":"Point","coordinates":[-0.0000001,90]}`},
	} {
		if got := geometryText(t, c.f); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

func TestWriteGeoJSONRefused(t *testing.T) {
	ok := OutFeature{Point: &crs.LonLat{1, 2}}
	for _, c := range []struct {
		name string
		c    Collection
		want string
	}{
		{"NaN property", Collection{Features: []OutFeature{ok, {Properties: []Property{{"p", math.NaN()}}}}}, `feature 2: "p"`},
		{"infinite property", Collection{Features: []OutFeature{{Properties: []Property{{"p", math.Inf(1)}}}}}, `feature 1: "p"`},
		{"NaN coordinate", Collection{Features: []OutFeature{{Point: &crs.LonLat{math.NaN(), 1}}}}, "feature 1: longitude NaN"},
		{"projected", Collection{Features: []OutFeature{ok, {Shape: shape(orb.Polygon{{{0, 0}, {1, 0}, {500000, 1}, {0, 0}}})}}}, "feature 2: polygon 1, ring 1, vertex 3: longitude 500000"},
		{"infinite line", Collection{Features: []OutFeature{{Line: crs.LonLatLine{{0, 0}, {0, math.Inf(-1)}}}}}, "feature 1: vertex 2"},
		{"bad point of several", Collection{Features: []OutFeature{{Points: []crs.LonLat{{0, 0}, {0, 91}}}}}, "feature 1: point 2"},
		{"two geometries", Collection{Features: []OutFeature{{Point: ok.Point, Points: []crs.LonLat{{0, 0}}}}}, "feature 1: more than one geometry"},
		{"property twice", Collection{Features: []OutFeature{{Properties: []Property{{"p", 1}, {"p", 2}}}}}, `feature 1: two properties are called "p"`},
		{"member taken", Collection{Members: []Member{{"features", 1}}}, `member "features": the name is taken`},
		{"member twice", Collection{Members: []Member{{"a", 1}, {"a", 1}}}, `member "a"`},
		{"member that JSON cannot hold", Collection{Members: []Member{{"a", math.NaN()}}}, `"a"`},
	} {
		var buf bytes.Buffer
		if err := WriteGeoJSON(&buf, c.c); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if err := WriteGeoJSON(fullDisk{}, Collection{Features: []OutFeature{ok}}); !errors.Is(err, errFull) {
		t.Errorf("full disk: %v", err)
	}
}

var errFull = errors.New("full")

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

// What is written reads back within the rounding, and writes the same again.
func TestWriteGeoJSONReadsBack(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		// Random star rings about a random place.
		var s crs.LonLatShape
		x, y := rnd.Float64()*358-179, rnd.Float64()*178-89
		n := 3 + rnd.IntN(20)
		ring := make(orb.Ring, 0, n+1)
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			r := 0.001 + 0.009*rnd.Float64()
			ring = append(ring, orb.Point{x + r*math.Cos(a), y + r*math.Sin(a)})
		}
		s = append(s, orb.Polygon{append(ring, ring[0])})
		if rnd.IntN(2) == 0 {
			s[0][0] = turned(s[0][0])
		}
		value := rnd.NormFloat64() * math.Pow(10, float64(rnd.IntN(30)-15))
		var first, second bytes.Buffer
		out := Collection{Features: []OutFeature{{Shape: s, Properties: []Property{{"v", value}}}}}
		if err := WriteGeoJSON(&first, out); err != nil {
			t.Fatal(err)
		}
		if !json.Valid(first.Bytes()) {
			t.Fatalf("not JSON: %s", first.String())
		}
		l, err := readText(first.String(), Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := l.Features[0]
		if !sameShapes(orb.MultiPolygon(s), orb.MultiPolygon(got.Shape), 0.51e-7) {
			t.Errorf("got %v, want %v", got.Shape, s)
		}
		if ringArea(got.Shape[0][0]) <= 0 {
			t.Error("shell turns clockwise")
		}
		if fmt.Sprint(got.Values[0]) != fmt.Sprint(value) {
			t.Errorf("value %v, want %v", got.Values[0], value)
		}
		if err := WriteGeoJSON(&second, Collection{Features: []OutFeature{{Shape: got.Shape, Properties: []Property{{"v", value}}}}}); err != nil {
			t.Fatal(err)
		}
		if first.String() != second.String() {
			t.Errorf("second writing differs:\n%s%s", first.String(), second.String())
		}
	}
}
