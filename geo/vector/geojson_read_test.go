package vector

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

// readMemory reads the file called main of a folder that is held in memory.
func readMemory(main string, files map[string][]byte, opt Options) (*Layer, error) {
	var names []string
	for name := range files {
		names = append(names, name)
	}
	return readSource(source{name: main, data: files[main], sidecar: func(ext string) (string, []byte, error) {
		name := pickSidecar(names, main, ext)
		return name, files[name], nil
	}}, opt, true)
}

func readText(text string, opt Options) (*Layer, error) {
	return readMemory("a.geojson", map[string][]byte{"a.geojson": []byte(text)}, opt)
}

// wrap puts a geometry into a collection of one feature.
func wrap(geometry string) string {
	return `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":` + geometry + `}]}`
}

const square = `[[[0,0],[1,0],[1,1],[0,1],[0,0]]]`

func TestGeoJSONForms(t *testing.T) {
	deep := strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 8) + `{"type":"Point","coordinates":[1,2]}` + strings.Repeat("]}", 8)
	for _, c := range []struct {
		name, text string
		// counts over all features
		features, rings, vertices, lines, points int
		notice                                   string
	}{
		{"collection", wrap(`{"type":"Polygon","coordinates":` + square + `}`), 1, 1, 5, 0, 0, ""},
		{"feature", `{"type":"Feature","properties":null,"geometry":{"type":"Point","coordinates":[1,2]}}`, 1, 0, 0, 0, 1, ""},
		{"bare", `{"type":"Polygon","coordinates":` + square + `}`, 1, 1, 5, 0, 0, ""},
		{"byte order mark", "\xef\xbb\xbf\n " + `{"coordinates":` + square + `,"type":"Polygon"}`, 1, 1, 5, 0, 0, ""},
		{"multipolygon", wrap(`{"type":"MultiPolygon","coordinates":[` + square + `,` + square + `]}`), 1, 2, 10, 0, 0, ""},
		{"geometry collection", wrap(`{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]},{"type":"LineString","coordinates":[[1,2],[3,4]]},{"type":"Polygon","coordinates":` + square + `}]}`), 1, 1, 5, 1, 1, ""},
		{"nested collection", wrap(deep), 1, 0, 0, 0, 1, ""},
		{"multipoint", wrap(`{"type":"MultiPoint","coordinates":[[1,2],[3,4]]}`), 1, 0, 0, 0, 2, ""},
		{"multiline", wrap(`{"type":"MultiLineString","coordinates":[[[1,2],[3,4]],[[1,2],[3,4]]]}`), 1, 0, 0, 2, 0, ""},
		{"height and measure", wrap(`{"type":"Polygon","coordinates":[[[0,0,9],[1,0,9,7],[1,1,null],[0,0,9]]]}`), 1, 1, 4, 0, 0, ""},
		{"no features", `{"type":"FeatureCollection","features":[]}`, 0, 0, 0, 0, 0, ""},
		{"null geometry", wrap(`null`), 1, 0, 0, 0, 0, "a.geojson: feature 1: no geometry"},
		{"empty point", wrap(`{"type":"Point","coordinates":[ ]}`), 1, 0, 0, 0, 0, "a.geojson: feature 1: no geometry"},
		{"empty polygon", wrap(`{"type":"Polygon","coordinates":[]}`), 1, 0, 0, 0, 0, "a.geojson: feature 1: no geometry"},
		{"open ring", wrap(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1]]]}`), 1, 1, 5, 0, 0, "a.geojson: feature 1, polygon 1, ring 1: not closed; closed it"},
		{"thin ring", wrap(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1],[0,0]],[[0.1,0.1],[0.2,0.2],[0.1,0.1],[0.2,0.2],[0.1,0.1]]]}`), 1, 1, 5, 0, 0, "a.geojson: feature 1, polygon 1, ring 2: fewer than three different points; left out"},
		{"thin shell takes its hole along", wrap(`{"type":"MultiPolygon","coordinates":[[[[0,0],[1,0],[0,0]],[[0,0],[1,0],[1,1],[0,0]]],` + square + `]}`), 1, 1, 5, 0, 0, "a.geojson: feature 1, polygon 1, ring 1: fewer than three different points; left out"},
		{"short line", wrap(`{"type":"MultiLineString","coordinates":[[[1,2]],[[1,2],[3,4]]]}`), 1, 0, 0, 1, 0, "a.geojson: feature 1: line of fewer than two points; left out"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := readText(c.text, Options{})
			if err != nil {
				t.Fatal(err)
			}
			var rings, vertices, lines, points int
			for _, f := range l.Features {
				for _, p := range f.Shape {
					rings += len(p)
					for _, r := range p {
						vertices += len(r)
						if r[0] != r[len(r)-1] {
							t.Error("ring is not closed")
						}
					}
				}
				lines += len(f.Lines)
				points += len(f.Points)
				if len(f.Native) != len(f.Points) {
					t.Errorf("%d native points for %d", len(f.Native), len(f.Points))
				}
			}
			got := []int{len(l.Features), rings, vertices, lines, points}
			want := []int{c.features, c.rings, c.vertices, c.lines, c.points}
			if fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("features, rings, vertices, lines, points = %v, want %v", got, want)
			}
			if strings.Join(l.Notices, "|") != c.notice {
				t.Errorf("notices %q, want %q", l.Notices, c.notice)
			}
			if l.CRSFrom != "GeoJSON (RFC 7946)" || l.CRS.EPSG() != 4326 {
				t.Errorf("system %d from %q", l.CRS.EPSG(), l.CRSFrom)
			}
		})
	}
}

func TestGeoJSONRefused(t *testing.T) {
	polygon := func(ring string) string {
		return wrap(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]],` + ring + `]}`)
	}
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "a.geojson: the file is empty"},
		{"blank", " \n", "a.geojson: the file is empty"},
		{"cut", `{"type":"FeatureCollection","features":[`, "a.geojson: the text ends in the middle; the file is cut short"},
		{"list", `[1]`, "not an object"},
		{"NaN", "{\"type\":\"Point\",\n\"coordinates\":[NaN,1]}", "not JSON: line 2:"},
		{"two texts", `{"type":"Point","coordinates":[1,2]}{}`, "not JSON: line 1:"},
		{"no type", `{"features":[]}`, `no "type"`},
		{"type in capitals", `{"Type":"FeatureCollection","features":[]}`, `no "type"`},
		{"unknown type", `{"type":"Circle","coordinates":[1,2]}`, `"Circle" is not a type of GeoJSON`},
		{"topology", `{"type":"Topology","objects":{}}`, `Topology needs "coordinates"`},
		{"no features", `{"type":"FeatureCollection"}`, `needs "features"`},
		{"null features", `{"type":"FeatureCollection","features":null}`, `needs "features"`},
		{"null feature", `{"type":"FeatureCollection","features":[null]}`, "feature 1: null is not a feature"},
		{"geometry as feature", `{"type":"FeatureCollection","features":[{"type":"Point","coordinates":[1,2]}]}`, `feature 1: type is "Point", not Feature`},
		{"no geometry", `{"type":"Feature","properties":{}}`, `feature 1: no "geometry"`},
		{"geometry text", wrap(`"x"`), `feature 1: geometry: "x" is not an object`},
		{"null coordinates", wrap(`{"type":"Polygon","coordinates":null}`), `Polygon needs "coordinates"`},
		{"one coordinate", polygon(`[[0,0],[1]]`), "feature 1: polygon 1, ring 2: vertex 2: [1] has 1 coordinates; two are needed"},
		{"no coordinate", polygon(`[[],[1,1]]`), "ring 2: vertex 1: [] has 0 coordinates"},
		{"null coordinate", polygon(`[[0,0],[null,1]]`), "ring 2: vertex 2: coordinate 1 is null, not a number"},
		{"text coordinate", polygon(`[[0,0],[1,"2"]]`), `ring 2: vertex 2: coordinate 2 is "2", not a number`},
		{"null position", polygon(`[[0,0],null]`), "ring 2: vertex 2: null is not a position"},
		{"null ring", polygon(`null`), "ring 2: null is not a list of positions"},
		{"nested too deep", polygon(`[[[0,0],[1,1]]]`), "ring 2: vertex 1: coordinate 1 is [0,0], not a number"},
		{"nested too little", wrap(`{"type":"Polygon","coordinates":[[0,0],[1,0],[1,1],[0,0]]}`), "polygon 1, ring 1: vertex 1: 0 is not a position"},
		{"huge", polygon(`[[0,0],[1e999,1]]`), "ring 2: vertex 2: coordinate 1, 1e999, is too large"},
		{"large", polygon(`[[0,0],[1e300,1],[0,1]]`), "feature 1, polygon 1, ring 2, vertex 2: coordinate (1e+300, 1) is too large for a place on earth"},
		{"projected", polygon(`[[500000,4500000],[500010,4500000],[500000,4500010]]`), "feature 1, polygon 1, ring 2, vertex 1: coordinate (500000, 4.5e+06) is not in degrees; it looks projected; give --crs"},
		{"swapped", wrap(`{"type":"Point","coordinates":[42,-93]}`), "look swapped"},
		{"antimeridian", wrap(`{"type":"Polygon","coordinates":[[[179,0],[-179,0],[-179,1],[179,0]]]}`), "feature 1, polygon 1, ring 1: the line from vertex 1 to 2 spans more than 180 degrees"},
		{"collections in each other", wrap(strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 9) + strings.Repeat("]}", 9)), "more than 8 deep"},
		{"deep", strings.Repeat("[", 20000), "not"},
		{"deep object", `{"type":` + strings.Repeat("[", 20000) + strings.Repeat("]", 20000) + `}`, "not JSON"},
		{"property range", `{"type":"Feature","properties":{"p":1e400},"geometry":null}`, `feature 1: property "p": number 1e400 is out of range`},
		{"properties list", `{"type":"Feature","properties":[1],"geometry":null}`, "properties: [1] is not an object"},
		{"crs link", `{"type":"FeatureCollection","crs":{"type":"link","properties":{"href":"x"}},"features":[]}`, "crs member"},
		{"crs of another kind", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"ESRI:102001"}},"features":[]}`, `crs member: "ESRI:102001" is not understood; give --crs`},
		{"crs unknown", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"EPSG:999999"}},"features":[]}`, "crs member"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readText(c.text, Options{})
			if err == nil {
				t.Fatal("no error")
			}
			if !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "a.geojson: ") || strings.Contains(err.Error(), "\n") || len(err.Error()) > 300 {
				t.Errorf("error %q, want %q in it", err, c.want)
			}
		})
	}
}

func TestGeoJSONSystem(t *testing.T) {
	// A place in Iowa in EPSG:26915, by cs2cs of PROJ 9.1.1.
	const x, y = 450000.0, 4650000.0
	want := func(l *Layer) crs.LonLat {
		p, err := l.CRS.Inverse(x, y)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	for _, member := range []string{
		`{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::26915"}}`,
		`{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG:6.9:26915"}}`,
		`{"type":"name","properties":{"name":"EPSG:26915"}}`,
		`{"type":"name","properties":{"name":"epsg:26915"}}`,
		`{"type":"name","properties":{"name":"http://www.opengis.net/def/crs/EPSG/0/26915"}}`,
		`{"type":"name","properties":{"name":"http://www.opengis.net/gml/srs/epsg.xml#26915"}}`,
		`{"type":"EPSG","properties":{"code":26915}}`,
		`{"type":"EPSG","properties":{"code":"26915"}}`,
	} {
		// The member stands after the features, as it may.
		l, err := readText(fmt.Sprintf(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[%g,%g]}}],"crs":%s}`, x, y, member), Options{})
		if err != nil {
			t.Errorf("%s: %v", member, err)
			continue
		}
		if l.CRS.EPSG() != 26915 || l.CRSFrom != "crs member" || l.Features[0].Points[0] != want(l) || l.Features[0].Native[0] != (orb.Point{x, y}) {
			t.Errorf("%s: EPSG %d from %q, %v", member, l.CRS.EPSG(), l.CRSFrom, l.Features[0])
		}
	}
	for _, name := range []string{"urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84", "OGC:CRS84",
		"http://www.opengis.net/def/crs/OGC/1.3/CRS84", "urn:ogc:def:crs:EPSG::4326", "EPSG:4326"} {
		l, err := readText(`{"type":"Point","coordinates":[-93,42],"crs":{"type":"name","properties":{"name":"`+name+`"}}}`, Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if l.CRS.EPSG() != 4326 || l.Features[0].Points[0] != (crs.LonLat{-93, 42}) {
			t.Errorf("%s: EPSG %d, %v", name, l.CRS.EPSG(), l.Features[0].Points)
		}
	}
	// What the user says goes before what the file says.
	l, err := readText(fmt.Sprintf(`{"type":"Point","coordinates":[%g,%g],"crs":{"type":"name","properties":{"name":"EPSG:4326"}}}`, x, y), Options{CRS: "EPSG:26915"})
	if err != nil {
		t.Fatal(err)
	}
	if l.CRSFrom != "given" || math.Abs(l.Features[0].Points[0].Lat()-42) > 1 {
		t.Errorf("from %q: %v", l.CRSFrom, l.Features[0].Points)
	}
	if _, err := readText(`{"type":"Point","coordinates":[0,0],"crs":null}`, Options{}); err != nil {
		t.Errorf("null crs: %v", err)
	}
	if _, err := readText(`{"type":"Point","coordinates":[0,0]}`, Options{CRS: "nonsense"}); err == nil {
		t.Error("a system that is not known was taken")
	}
}

func TestGeoJSONValues(t *testing.T) {
	l, err := readText(`{"type":"FeatureCollection","corewalk":{"seed": 7},"bbox":[0,0,1,1],"name":"n","features":[
		{"type":"Feature","id":"f1","geometry":null,"properties":{"ID":"0012","n":12,"x":12.0,"big":12345678901234567890,"mixed":1,"num":1,"b":true,"o":{"k": [1, 2]},"dup":1,"dup":2}},
		{"type":"Feature","id":17,"geometry":null,"properties":{"num":1.5,"mixed":"a","n":9007199254740993,"late":"\u00fc"}}]}`, Options{})
	if err != nil {
		t.Fatal(err)
	}
	wantColumns := []Column{{"ID", Text}, {"n", Int}, {"x", Float}, {"big", Text}, {"mixed", Text}, {"num", Float}, {"b", Bool}, {"o", Text}, {"dup", Int}, {"late", Text}}
	if fmt.Sprint(l.Columns) != fmt.Sprint(wantColumns) {
		t.Errorf("columns %v, want %v", l.Columns, wantColumns)
	}
	for _, c := range []struct {
		feature      int
		column, want string
		ok           bool
	}{
		{0, "id", "0012", true}, {0, "ID", "0012", true}, {0, "n", "12", true}, {0, "x", "12", true},
		{0, "big", "12345678901234567890", true}, {0, "o", `{"k":[1,2]}`, true}, {0, "dup", "2", true},
		{0, "b", "true", true}, {0, "late", "", false}, {0, "nowhere", "", false},
		{1, "n", "9007199254740993", true}, {1, "num", "1.5", true}, {1, "mixed", "a", true}, {1, "late", "ü", true}, {1, "id", "", false},
	} {
		if got, ok := l.Text(&l.Features[c.feature], c.column); got != c.want || ok != c.ok {
			t.Errorf("feature %d, %s: %q %v, want %q %v", c.feature+1, c.column, got, ok, c.want, c.ok)
		}
	}
	if l.Features[0].ID != "f1" || l.Features[1].ID != "17" {
		t.Errorf("ids %q %q", l.Features[0].ID, l.Features[1].ID)
	}
	if string(l.Foreign["corewalk"]) != `{"seed": 7}` || len(l.Foreign) != 2 {
		t.Errorf("foreign members %s", l.Foreign)
	}
}

func TestGeoJSONTableBounds(t *testing.T) {
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	for i := range maxColumns + 1 {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, `{"type":"Feature","geometry":null,"properties":{"p%d":1}}`, i)
	}
	b.WriteString("]}")
	if _, err := readText(b.String(), Options{}); err == nil || !strings.Contains(err.Error(), "different property names") {
		t.Errorf("error %v", err)
	}
}

func TestSizeBounds(t *testing.T) {
	with := func(room int, read func(d *decoder) error) error {
		d := newDecoder("a")
		d.layer.CRS, d.layer.CRSFrom, d.room = system(t, 4326), "given", room
		return read(d)
	}
	geoJSON := func(text string) func(d *decoder) error {
		return func(d *decoder) error { return d.geoJSON([]byte(text)) }
	}
	utm := loadSet(t, "utm")["utm.shp"]
	empty := slices.Concat(utm[:100], bytes.Repeat([]byte{0, 0, 0, 1, 0, 0, 0, 2, 0, 0, 0, 0}, 10))
	binary.BigEndian.PutUint32(empty[24:], uint32(len(empty)/2))
	for _, c := range []struct {
		name string
		room int // just enough
		read func(d *decoder) error
	}{
		{"features", 3 * 16, geoJSON(`{"type":"FeatureCollection","features":[` + strings.Repeat(`{"type":"Feature","geometry":null},`, 2) + `{"type":"Feature","geometry":null}]}`)},
		{"empty rings", 3 * 16, geoJSON(`{"type":"Polygon","coordinates":[[],[],[]]}`)},
		{"vertices", 16 + 5, geoJSON(`{"type":"Polygon","coordinates":` + square + `}`)},
		{"points", 2, geoJSON(`{"type":"MultiPoint","coordinates":[[1,2],[1,2]]}`)},
		{"empty records", 10 * 16, func(d *decoder) error {
			return d.shapefile(source{data: empty, sidecar: func(string) (string, []byte, error) { return "", nil, nil }}, Options{})
		}},
	} {
		if err := with(c.room, c.read); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if err := with(c.room-1, c.read); err == nil || !strings.Contains(err.Error(), "too many features or vertices") {
			t.Errorf("%s: error %v", c.name, err)
		}
	}
}

func TestForeignMembersBound(t *testing.T) {
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","features":[]`)
	for i := range maxColumns + 1 {
		fmt.Fprintf(&b, `,"m%d":1`, i)
	}
	b.WriteString("}")
	if _, err := readText(b.String(), Options{}); err == nil || !strings.Contains(err.Error(), "members beside the features") {
		t.Errorf("error %v", err)
	}
}
