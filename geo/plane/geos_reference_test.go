//go:build reference

package plane

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"testing"

	"github.com/paulmach/orb"
)

// askGEOS runs testdata/geos.py on the cases and returns its answers.
func askGEOS[Case, Answer any](t *testing.T, cases []Case) []Answer {
	t.Helper()
	var in bytes.Buffer
	for _, c := range cases {
		if err := json.NewEncoder(&in).Encode(c); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("/usr/bin/python3", "testdata/geos.py")
	cmd.Stdin, cmd.Stderr = &in, os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	d := json.NewDecoder(bytes.NewReader(out))
	answers := make([]Answer, len(cases))
	for i := range answers {
		if err := d.Decode(&answers[i]); err != nil {
			t.Fatalf("answer %d: %v", i, err)
		}
	}
	return answers
}

type verdict struct {
	Valid           bool
	Area, Got, Off  float64
	Least, Greatest float64 // of a setback: distances of its outline
}

// Random rings that cross themselves and each other, and overlapping parts,
// are mended to valid polygons of the ground that GEOS finds by the same rule.
func TestReferenceRepairAgainstGEOS(t *testing.T) {
	type testCase struct {
		Mode  string     `json:"mode"`
		Rings []orb.Ring `json:"rings"`
		Got   Shape      `json:"got"`
	}
	rnd := random(60)
	var cases []testCase
	for n := range 500 {
		x, y := 3e5+4e5*rnd.Float64(), 9e6*rnd.Float64()
		var polygons orb.MultiPolygon
		switch n % 4 {
		case 0, 1: // one line that wanders anywhere
			var r orb.Ring
			for range 4 + rnd.IntN(30) {
				r = append(r, orb.Point{x + 800*rnd.Float64(), y + 800*rnd.Float64()})
			}
			polygons = orb.MultiPolygon{{append(r, r[0])}}
		case 2: // overlapping parts, on whole metres, so that many edges touch
			for range 2 + rnd.IntN(5) {
				a, b := math.Round(20*rnd.Float64())*20, math.Round(20*rnd.Float64())*20
				polygons = append(polygons, orb.Polygon{rect(x+a, y+b, x+a+math.Round(1+10*rnd.Float64())*20, y+b+math.Round(1+10*rnd.Float64())*20)})
			}
		default: // holes across their shell
			p := orb.Polygon{blob(rnd, x, y, 400, 5+rnd.IntN(40))}
			for range 1 + rnd.IntN(4) {
				p = append(p, blob(rnd, x+600*(rnd.Float64()-0.5), y+600*(rnd.Float64()-0.5), 120, 3+rnd.IntN(20)))
			}
			polygons = orb.MultiPolygon{p}
		}
		s, _, err := New(polygons)
		if err != nil {
			t.Fatalf("case %d: %v", n, err)
		}
		c := testCase{Mode: "even_odd", Got: s}
		for _, p := range polygons {
			c.Rings = append(c.Rings, p...)
		}
		cases = append(cases, c)
	}
	worst := 0.0
	for i, v := range askGEOS[testCase, verdict](t, cases) {
		if !v.Valid || !(v.Off <= 1e-6*v.Area) || !near(v.Area, v.Got, 1e-6*v.Area) {
			t.Errorf("case %d: %+v", i, v)
		}
		worst = math.Max(worst, v.Off/v.Area)
	}
	t.Logf("%d cases, worst symmetric difference %.2g of the area", len(cases), worst)
}

// Fields and exclusions that lie across, apart, beside, in and on each other.
func TestReferenceOverlayAgainstGEOS(t *testing.T) {
	type testCase struct {
		Mode string           `json:"mode"`
		A    Shape            `json:"a"`
		B    Shape            `json:"b"`
		D    float64          `json:"d"`
		Got  map[string]Shape `json:"got"`
	}
	rnd := random(61)
	var cases []testCase
	for n := range 1000 {
		a := blobShape(rnd, 100+400*rnd.Float64())
		var b Shape
		switch c, _ := a.Centroid(); n % 5 {
		case 0: // along an edge of the field
			r := a[0][0]
			b = Shape{{ring(r[0][0], r[0][1], r[1][0], r[1][1], c[0]+50, c[1]+20)}}
		case 1: // inside
			b = Shape{{blob(rnd, c[0], c[1], 20, 4+rnd.IntN(20))}}
		case 2: // at one corner
			r := a[0][0]
			b = Shape{{ring(r[0][0], r[0][1], r[0][0]-100, r[0][1]-50, r[0][0]-100, r[0][1]+50)}}
		case 3: // a lane
			y := c[1] + 50*(rnd.Float64()-0.5)
			b = Shape{{rect(c[0]-600, y-4, c[0]+600, y+4)}}
		default: // anywhere near
			b = Shape{{blob(rnd, c[0]+500*(rnd.Float64()-0.5), c[1]+500*(rnd.Float64()-0.5), 150, 4+rnd.IntN(60))}}
		}
		b, _, err := New(orb.MultiPolygon(b))
		if err != nil {
			t.Fatal(err)
		}
		c := testCase{"overlay", a, b, 1 + 20*rnd.Float64(), map[string]Shape{}}
		for what, f := range map[string]func() (Shape, error){
			"intersect": func() (Shape, error) { return Intersect(a, b) },
			"subtract":  func() (Shape, error) { return Subtract(a, b) },
			"union":     func() (Shape, error) { return Union(a, b) },
			"in":        func() (Shape, error) { return Buffer(a, -c.D) },
			"out":       func() (Shape, error) { return Buffer(b, c.D) },
		} {
			if c.Got[what], err = f(); err != nil {
				t.Fatalf("case %d, %s: %v", n, what, err)
			}
		}
		cases = append(cases, c)
	}
	worst := map[string]float64{}
	alike := map[string]int{} // to 1e-6
	for i, answer := range askGEOS[testCase, map[string]verdict](t, cases) {
		for what, v := range answer {
			if v.Off <= 1e-6*v.Area+crumb {
				alike[what]++
			}
			// What is thinner than rounding leaves no trace in one of the two.
			limit := 1e-6*v.Area + crumb
			if what == "in" || what == "out" {
				// GEOS simplifies the outline by a hundredth of the setback
				// first, which can't be turned off from shapely.
				limit = 1e-4*v.Area + crumb
				if d := cases[i].D; v.Got > 0 && (v.Least < d*(1-0.0028) || v.Greatest > d*(1+1e-8)) {
					t.Errorf("case %d, %s: the outline is %g to %g m off, not %g", i, what, v.Least, v.Greatest, d)
				}
			}
			if !v.Valid || !(v.Off <= limit) || !near(v.Area, v.Got, limit) {
				t.Errorf("case %d, %s: %+v", i, what, v)
			}
			if v.Area > 1 {
				worst[what] = math.Max(worst[what], v.Off/v.Area)
			}
		}
	}
	// Only outlines with dents as shallow as a hundredth of the setback differ
	// by more.
	for _, what := range []string{"in", "out"} {
		if alike[what] < len(cases)*4/5 {
			t.Errorf("%s: only %d of %d agree to 1e-6", what, alike[what], len(cases))
		}
	}
	t.Logf("%d pairs, agreeing to 1e-6: %v; worst symmetric difference in shares of the area: %v", len(cases), alike, worst)
}

func TestReferenceLocatorAgainstGEOS(t *testing.T) {
	type testCase struct {
		Mode   string      `json:"mode"`
		A      Shape       `json:"a"`
		Points []orb.Point `json:"points"`
	}
	rnd := random(62)
	var cases []testCase
	for range 100 {
		c := testCase{Mode: "locate", A: blobShape(rnd, 300)}
		b := c.A.Bound().Pad(10)
		for range 500 {
			c.Points = append(c.Points, orb.Point{b.Min[0] + rnd.Float64()*(b.Max[0]-b.Min[0]), b.Min[1] + rnd.Float64()*(b.Max[1]-b.Min[1])})
		}
		c.A.edges(func(a, _ XY) { c.Points = append(c.Points, orb.Point(a)) })
		cases = append(cases, c)
	}
	type answer struct {
		Inside   []bool
		Distance []float64
	}
	points := 0
	for i, a := range askGEOS[testCase, answer](t, cases) {
		l := NewLocator(cases[i].A)
		var e Edges
		e.AddShape(cases[i].A)
		for k, p := range cases[i].Points {
			if l.Contains(XY(p)) != a.Inside[k] {
				t.Errorf("case %d, %v: inside %v, GEOS %v", i, p, !a.Inside[k], a.Inside[k])
			}
			if d := e.Distance(XY(p), 1e6); !near(d, a.Distance[k], 1e-8) {
				t.Errorf("case %d, %v: %g m from the outline, GEOS %g", i, p, d, a.Distance[k])
			}
			points++
		}
	}
	t.Logf("%d places", points)
}
