package vector

import (
	"bytes"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

// checkLayer proves what Read promises of any layer.
func checkLayer(t *testing.T, l *Layer) {
	t.Helper()
	check := func(p orb.Point) {
		if !(math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90) {
			t.Fatalf("(%g, %g) is no place on earth", p[0], p[1])
		}
	}
	if l.CRS == nil || l.CRSFrom == "" {
		t.Fatal("no system")
	}
	out := Collection{}
	for _, f := range l.Features {
		if len(f.Values) != len(l.Columns) {
			t.Fatalf("%d values for %d columns", len(f.Values), len(l.Columns))
		}
		if len(f.Native) != len(f.Points) {
			t.Fatalf("%d native points for %d", len(f.Native), len(f.Points))
		}
		for _, polygon := range f.Shape {
			if len(polygon) == 0 {
				t.Fatal("polygon without rings")
			}
			for _, ring := range polygon {
				if len(ring) < 4 || !ring.Closed() {
					t.Fatalf("ring %v", ring)
				}
				for _, p := range ring {
					check(p)
				}
			}
		}
		for _, line := range f.Lines {
			if len(line) < 2 {
				t.Fatal("short line")
			}
			for _, p := range line {
				check(p)
			}
		}
		for _, p := range f.Points {
			check(orb.Point(p))
		}
		out.Features = append(out.Features, OutFeature{ID: f.ID, Shape: f.Shape})
	}
	// What was read can be written, and read again.
	var buf bytes.Buffer
	if err := WriteGeoJSON(&buf, out); err != nil {
		t.Fatal(err)
	}
	if _, err := readText(buf.String(), Options{}); err != nil {
		t.Fatal(err)
	}
}

// seeds gives add the files of testdata/vector with the extension.
func seeds(f *testing.F, pattern string, add func(name string, data []byte)) {
	f.Helper()
	paths, err := filepath.Glob(filepath.Join(folder, pattern))
	if err != nil || len(paths) == 0 {
		f.Fatalf("no seeds %s: %v", pattern, err)
	}
	for _, p := range paths {
		b, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		add(p, b)
	}
}

func FuzzGeoJSON(f *testing.F) {
	seeds(f, "*.geojson", func(_ string, b []byte) { f.Add(b) })
	f.Add([]byte(wrap(`{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2,3]},{"type":"MultiPoint","coordinates":[[1,2]]},{"type":"MultiLineString","coordinates":[[[1,2],[3,4]]]}]}`)))
	f.Fuzz(func(t *testing.T, data []byte) {
		if l, err := readText(string(data), Options{}); err == nil {
			checkLayer(t, l)
		}
	})
}

func FuzzShapefile(f *testing.F) {
	seeds(f, "*.shp", func(_ string, b []byte) { f.Add(b) })
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := readMemory("a.shp", map[string][]byte{"a.shp": data}, Options{CRS: "EPSG:26915"})
		if err == nil {
			checkLayer(t, l)
		}
	})
}

func FuzzTable(f *testing.F) {
	seeds(f, "*.dbf", func(_ string, b []byte) { f.Add(b, "", "UTF-8") })
	f.Add(makeDBF(3, []dbfColumnSpec{{"L", 'C', 300, 0}, {"B", 'L', 1, 0}}, " "+string(bytes.Repeat([]byte("\xfc"), 300))+"T"), "850", "ANSI 1252")
	f.Fuzz(func(t *testing.T, data []byte, given, page string) {
		tab, _, err := readDBF(data, given, page)
		if err != nil {
			return
		}
		if len(tab.rows) != len(tab.deleted) {
			t.Fatal("rows and marks differ in number")
		}
		for _, row := range tab.rows {
			for i, v := range row {
				switch v := v.(type) {
				case nil, string, bool, int64:
				case float64:
					if math.IsNaN(v) || math.IsInf(v, 0) || tab.columns[i].Type != Float {
						t.Fatalf("%g in a column of %s", v, tab.columns[i].Type)
					}
				default:
					t.Fatalf("%T", v)
				}
			}
		}
	})
}

func FuzzZip(f *testing.F) {
	seeds(f, "*.zip", func(_ string, b []byte) { f.Add(b) })
	f.Add(pack(f, packed{"a.geojson", []byte(wrap(`null`))}))
	f.Fuzz(func(t *testing.T, data []byte) {
		if l, err := readZipped(data); err == nil {
			checkLayer(t, l)
		}
	})
}

// FuzzWriteGeoJSON gives any numbers to the writer.
func FuzzWriteGeoJSON(f *testing.F) {
	f.Add(0.0, 0.0, 1.0, 1.0, "a", 1.5)
	f.Add(179.99999999, 89.99999999, -180.0, -1e-9, "\xff", math.NaN())
	f.Fuzz(func(t *testing.T, a, b, c, d float64, text string, value float64) {
		out := Collection{Features: []OutFeature{{
			ID:         text,
			Shape:      crs.LonLatShape{{{{a, b}, {c, b}, {c, d}, {a, d}, {a, b}}}},
			Properties: []Property{{text, value}, {text + "x", text}},
		}}}
		if WriteGeoJSON(io.Discard, out) != nil {
			return
		}
		var buf bytes.Buffer
		if err := WriteGeoJSON(&buf, out); err != nil {
			t.Fatal(err)
		}
		l, err := readText(buf.String(), Options{})
		if err != nil {
			if math.Abs(a-c) > 179 {
				return // a ring around half the earth is not read
			}
			t.Fatal(err)
		}
		checkLayer(t, l)
	})
}
