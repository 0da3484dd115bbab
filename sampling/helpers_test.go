package sampling

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
)

// southwest is where the invented fields of the tests lie: Iowa, 75 km east of
// the central meridian of its zone.
var southwest = geo.LonLat{-92.1, 42.03}

// degrees turns polygons of metres east and north of the place southwest into
// degrees.
func degrees(t testing.TB, polygons ...[][]float64) crs.LonLatShape {
	t.Helper()
	frame, err := geo.FrameAt(southwest)
	if err != nil {
		t.Fatal(err)
	}
	o, err := frame.XY(southwest)
	if err != nil {
		t.Fatal(err)
	}
	var out crs.LonLatShape
	for _, polygon := range polygons {
		var q orb.Polygon
		for _, flat := range polygon {
			var r orb.Ring
			for i := 0; i+1 < len(flat); i += 2 {
				ll, err := frame.LonLat(geo.XY{o[0] + flat[i], o[1] + flat[i+1]})
				if err != nil {
					t.Fatal(err)
				}
				r = append(r, orb.Point(ll))
			}
			q = append(q, append(r, r[0]))
		}
		out = append(out, q)
	}
	return out
}

func rect(x0, y0, x1, y1 float64) []float64 { return []float64{x0, y0, x1, y0, x1, y1, x0, y1} }

func spot(t testing.TB, x, y float64) geo.LonLat {
	t.Helper()
	s := degrees(t, [][]float64{{x, y, x + 1, y, x, y + 1}})
	return geo.LonLat(s[0][0][0])
}

func mustMap(t testing.TB, o geo.Outline) *geo.Field {
	t.Helper()
	f, err := geo.Map(o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func mustMake(t testing.TB, p Params, fields ...*geo.Field) *Plan {
	t.Helper()
	plan, err := Make(fields, p)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

// farm is a field of everything: two parts, a hole, exclusions of every kind,
// management units that overlap and leave a rest, problem areas.
func farm(t testing.TB) geo.Outline {
	line := crs.LonLatLine{orb.Point(spot(t, 100.003, -50.0041)), orb.Point(spot(t, 140.0027, 620.0013))}
	return geo.Outline{
		Name: "Home, \"east\"", Setback: 10 * geo.Foot,
		Boundary: degrees(t, [][]float64{{0, 0, 500, 3, 640, 240, 610, 560, 250, 590, 5, 420}, {300, 300, 360, 310, 350, 380, 290, 350}},
			[][]float64{rect(700, 0, 860, 210)}),
		Exclusions: []geo.Part{
			{Name: "ditch", Where: "ditch", Lines: []crs.LonLatLine{line}, Setback: 33 * geo.Foot},
			{Name: "well", Where: "well", Points: []geo.LonLat{spot(t, 420.0013, 120.0007)}, Setback: 100.0 / 3},
			{Name: "pile", Where: "pile", Shape: degrees(t, [][]float64{{200, 100, 260, 120, 230, 160}}), Setback: 5},
		},
		Management: []geo.Part{
			{Name: "corn", Where: "corn", Shape: degrees(t, [][]float64{rect(-20, -20, 330, 700)})},
			{Name: "beans", Where: "beans", Shape: degrees(t, [][]float64{rect(310, -20, 680, 700)})},
		},
		Problems: []geo.Part{
			{Name: "wet", Where: "wet", Shape: degrees(t, [][]float64{{450, 400, 520, 410, 500, 500}})},
			{Name: "sand", Where: "sand", Shape: degrees(t, [][]float64{rect(20, 20, 90, 70)})},
		},
	}
}

// through writes features to a file and reads it.
func through(t testing.TB, features []vector.OutFeature, members ...vector.Member) *vector.Layer {
	t.Helper()
	var b bytes.Buffer
	if err := vector.WriteGeoJSON(&b, vector.Collection{Features: features, Members: members}); err != nil {
		t.Fatal(err)
	}
	return readText(t, b.String())
}

func readText(t testing.TB, text string) *vector.Layer {
	t.Helper()
	path := filepath.Join(t.TempDir(), "plan.geojson")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := vector.Read(path, vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	l.Path = "plan.geojson"
	return l
}

func about(a, b, within float64) bool { return math.Abs(a-b) <= within }

// ring closes a ring of corners given about an easting and northing such as a
// field has.
func ring(corners ...float64) orb.Ring {
	var r orb.Ring
	for i := 0; i+1 < len(corners); i += 2 {
		r = append(r, orb.Point{450_000 + corners[i], 4_650_000 + corners[i+1]})
	}
	return append(r, r[0])
}

func mustShape(t testing.TB, polygons ...orb.Polygon) plane.Shape {
	t.Helper()
	s, _, err := plane.New(orb.MultiPolygon(polygons))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// star is a ring of n corners about a middle, between half and the whole of a
// radius away from it.
func star(r *rand.Rand, x, y, radius float64, n int) orb.Ring {
	var c []float64
	for i := range n {
		a := (float64(i) + 0.7*r.Float64()) * 2 * math.Pi / float64(n)
		d := radius * (0.5 + 0.5*r.Float64())
		c = append(c, x+d*math.Cos(a), y+d*math.Sin(a))
	}
	return ring(c...)
}
