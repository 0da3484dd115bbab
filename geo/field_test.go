package geo

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/plane"
)

// Everywhere on the globe that UTM reaches, a field of 200 m by 100 m with a
// well, a ditch and a pond comes out the same.
func TestMapAnywhere(t *testing.T) {
	for _, at := range []LonLat{
		{-93.6, 42}, {-93.6, -42}, {30, 0}, {30, -0.0002}, {151, -33.8}, {-90.0005, 42}, {-89.9995, 42},
		{10, 83.99}, {10, -79.99}, {179.99, 17}, {-179.99, -17}, {0, 51},
	} {
		s := siteAt(t, at.Lon(), at.Lat())
		f := mustMap(t, Outline{
			Name: "F", Boundary: shapeOf(s.rect(0, 0, 200, 100)), Setback: 10,
			Exclusions: []Part{
				{Name: "pond", Where: "pond", Shape: shapeOf(s.rect(40, 40, 60, 60)), Setback: 5},
				{Name: "ditch", Where: "ditch", Lines: []crs.LonLatLine{{orb.Point(s.place(120, -10)), orb.Point(s.place(120, 110))}}, Setback: 3},
				{Name: "well", Where: "well", Points: []LonLat{s.place(160, 50)}, Setback: 20},
			},
		})
		if len(f.Notices) != 0 || len(f.Exclusions) != 3 || len(f.Divisions) != 1 || f.Divisions[0].Label() != "the field" {
			t.Errorf("%v: %+v", at, f)
		}
		k := math.Max(1, f.Frame.Scale(s.at))
		m := func(d float64) float64 { return d*k + Guard }
		round := 4 - math.Pi // of a square, what a circle leaves
		want := (200-2*m(10))*(100-2*m(10)) - (20+2*m(5))*(20+2*m(5)) + round*m(5)*m(5) - 2*m(3)*(100-2*m(10)) - math.Pi*m(20)*m(20)
		if got := f.Sampleable.Area(); !near(got, want, 0.002*want) {
			t.Errorf("%v: %.1f m² to sample, want %.1f", at, got, want)
		}
		if !near(f.Boundary.Area(), 20000, 10) || !near(f.Ground.Area(), 19600, 10) {
			t.Errorf("%v: boundary %.1f, ground %.1f", at, f.Boundary.Area(), f.Ground.Area())
		}
		if b := f.Bound(); !near(b[2]-b[0], 200, 20) || !near(b[3]-b[1], 100, 20) {
			t.Errorf("%v: %v", at, b)
		}
	}
}

// MayCore against plain geometry, measured from every edge.
func TestMayCore(t *testing.T) {
	rnd := random(5)
	for range 30 {
		s := siteAt(t, -95.9+5.8*rnd.Float64(), 120*rnd.Float64()-60)
		o := Outline{Boundary: shapeOf(s.wobbly(rnd, 0, 0, 300, 5+rnd.IntN(40))), Setback: 10 * rnd.Float64()}
		for range rnd.IntN(4) {
			x, y := 300*(rnd.Float64()-0.5), 300*(rnd.Float64()-0.5)
			p := Part{Where: "x", Setback: 15 * rnd.Float64()}
			switch rnd.IntN(3) {
			case 0:
				p.Shape = shapeOf(s.wobbly(rnd, x, y, 40, 3+rnd.IntN(12)))
			case 1:
				p.Lines = []crs.LonLatLine{{orb.Point(s.place(x, y)), orb.Point(s.place(x+90, y+20)), orb.Point(s.place(x+100, y-60))}}
			default:
				p.Points = []LonLat{s.place(x, y)}
			}
			o.Exclusions = append(o.Exclusions, p)
		}
		f, err := Map(o)
		if err != nil {
			if !strings.Contains(err.Error(), "setback") && !strings.Contains(err.Error(), "three different") {
				t.Fatal(err)
			}
			continue
		}
		sampleable := plane.NewLocator(f.Sampleable)
		b := f.Boundary.Bound().Pad(50)
		for range 400 {
			p := XY{b.Min[0] + rnd.Float64()*(b.Max[0]-b.Min[0]), b.Min[1] + rnd.Float64()*(b.Max[1]-b.Min[1])}
			want, closest := true, math.Inf(1)
			rule := func(inside bool, d, margin float64) {
				// inside is where the core may not be; d from the outline.
				want = want && !inside && d >= margin
				closest = math.Min(closest, math.Abs(d-margin))
			}
			rule(!insideOf(f.Boundary, p), outlineDistance(f.Boundary, p), f.Margin(f.Setback))
			for _, e := range f.Exclusions {
				rule(insideOf(e.Shape, p), outlineDistance(e.Shape, p), f.Margin(e.Setback))
				for _, l := range e.Lines {
					rule(false, lineDistance(l, p), f.Margin(e.Setback))
				}
				for _, q := range e.Points {
					rule(false, p.Distance(q), f.Margin(e.Setback))
				}
			}
			if closest < 1e-6 {
				continue
			}
			if f.MayCore(p) != want {
				t.Fatalf("%v: %v (%.6f m from the limit)", p, !want, closest)
			}
			// Sampleable differs from it by its chords, at most.
			if sampleable.Contains(p) != want && closest > 0.003*30 {
				t.Fatalf("%v: sampleable %v, may core %v, %.3f m from the limit", p, !want, want, closest)
			}
		}
	}
}

func insideOf(s plane.Shape, p XY) bool {
	in := false
	for _, polygon := range s {
		for _, r := range polygon {
			for i := 1; i < len(r); i++ {
				a, b := r[i-1], r[i]
				if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(b[0]-a[0])*(p[1]-a[1])/(b[1]-a[1]) {
					in = !in
				}
			}
		}
	}
	return in
}

func outlineDistance(s plane.Shape, p XY) float64 {
	least := math.Inf(1)
	for _, polygon := range s {
		for _, r := range polygon {
			least = math.Min(least, lineDistance(plane.Line(r), p))
		}
	}
	return least
}

func lineDistance(l plane.Line, p XY) float64 {
	least := math.Inf(1)
	for i := 1; i < len(l); i++ {
		a, b := XY(l[i-1]), XY(l[i])
		dx, dy := b[0]-a[0], b[1]-a[1]
		s := 0.0
		if dx != 0 || dy != 0 {
			s = math.Max(0, math.Min(1, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/(dx*dx+dy*dy)))
		}
		least = math.Min(least, p.Distance(XY{a[0] + s*dx, a[1] + s*dy}))
	}
	return least
}

func TestMayCoreOutsideTheField(t *testing.T) {
	s := iowa(t)
	f := mustMap(t, Outline{Boundary: shapeOf(s.rect(0, 0, 100, 100), s.rect(40, 40, 60, 60)), Setback: 5})
	for at, want := range map[[2]float64]bool{
		{20, 20}: true, {50, 50}: false, {-500, 50}: false, {1e5, 1e5}: false, {2, 50}: false, {5.1, 50}: true, {4.9, 50}: false, {36, 50}: false, {34.9, 50}: true,
	} {
		if p := (XY{s.at[0] + at[0], s.at[1] + at[1]}); f.MayCore(p) != want {
			t.Errorf("%v: %v", at, !want)
		}
	}
	if f.MayCore(XY{math.NaN(), 0}) {
		t.Error("a core at no place")
	}
}

func TestMapRefuses(t *testing.T) {
	s := iowa(t)
	square := shapeOf(s.rect(0, 0, 100, 100))
	for name, c := range map[string]struct {
		o    Outline
		says string
	}{
		"nothing":             {Outline{}, "no polygon"},
		"no corners":          {Outline{Boundary: crs.LonLatShape{{{{-93, 42}, {-93, 42}}}}}, "three different corners"},
		"no ground":           {Outline{Boundary: shapeOf(s.ring(0, 0, 1, 1, 1, 0, 0, 1))}, "its boundary: its rings cross so that no ground"},
		"too narrow":          {Outline{Boundary: shapeOf(s.rect(0, 0, 100, 0.03))}, "nowhere wider than 0.04 m"},
		"beyond UTM":          {Outline{Boundary: crs.LonLatShape{{{{0, 85}, {1, 85}, {1, 86}, {0, 85}}}}}, "outside UTM"},
		"NaN":                 {Outline{Boundary: crs.LonLatShape{{{{0, 5}, {1, math.NaN()}, {1, 6}, {0, 5}}}}}, ""},
		"covered":             {Outline{Boundary: square, Exclusions: []Part{s.part("all", -10, -10, 110, 110)}}, "cover the whole field"},
		"covered by two":      {Outline{Boundary: square, Exclusions: []Part{s.part("a", -10, -10, 50, 110), s.part("b", 50, -10, 110, 110)}}, "cover the whole field"},
		"eaten by setback":    {Outline{Boundary: square, Setback: 50}, "eats the whole field; take less than 25.0 m"},
		"eaten by both":       {Outline{Boundary: square, Setback: 20, Exclusions: []Part{{Where: "well", Points: []LonLat{s.place(50, 50)}, Setback: 45}}}, "leave no ground"},
		"unmendable unit":     {Outline{Boundary: square, Management: []Part{{Name: "m", Where: "units: feature 7", Shape: shapeOf(s.ring(0, 0, 1, 1, 1, 0, 0, 1))}}}, "units: feature 7: its rings"},
		"unmendable pond":     {Outline{Boundary: square, Exclusions: []Part{{Where: "ponds: feature 2", Shape: crs.LonLatShape{{{{-93, 42}}}}}}}, "ponds: feature 2"},
		"line off the globe":  {Outline{Boundary: square, Exclusions: []Part{{Where: "lanes: feature 2", Lines: []crs.LonLatLine{{{0, 99}}}}}}, "lanes: feature 2"},
		"point off the globe": {Outline{Boundary: square, Exclusions: []Part{{Where: "wells: feature 2", Points: []LonLat{{500, 0}}}}}, "wells: feature 2"},
	} {
		if f, err := Map(c.o); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, %v", name, f, err)
		}
	}
	// What the message advises does help.
	if _, err := Map(Outline{Boundary: square, Setback: 24.9}); err != nil {
		t.Error(err)
	}
}

func TestMapNotices(t *testing.T) {
	s := iowa(t)
	f := mustMap(t, Outline{
		Boundary: shapeOf(s.ring(0, 0, 200, 100, 200, 0, 0, 100)), // a bow-tie
		Exclusions: []Part{
			{Name: "lane", Where: "lanes: feature 1", Lines: []crs.LonLatLine{{orb.Point(s.place(10, 0)), orb.Point(s.place(10, 100))}}},
			s.part("far", 5000, 5000, 5010, 5010),
			{Name: "far well", Where: "w", Points: []LonLat{s.place(-300, 0)}, Setback: 100},
			{Name: "near well", Where: "w", Points: []LonLat{s.place(-50, 50)}, Setback: 100},
			{Where: "nothing at all"},
		},
	})
	if len(f.Exclusions) != 2 || len(f.Notices) != 2 ||
		!strings.Contains(f.Notices[0], "its boundary crosses or overlaps itself near -93.598") || !strings.Contains(f.Notices[0], "1.0000 ha kept") ||
		!strings.Contains(f.Notices[1], "lanes: feature 1 is a line or point without a setback") {
		t.Errorf("%d exclusions, notices %q", len(f.Exclusions), f.Notices)
	}
}

// The same boundary, written by hand or with more digits, gives the same field
// to the bit.
func TestMapRounds(t *testing.T) {
	s := iowa(t)
	r := s.wobbly(random(6), 0, 0, 200, 12)
	fine, rough := make(orb.Ring, len(r)), make(orb.Ring, len(r))
	for i, p := range r {
		rough[i] = orb.Point(Round7(LonLat(p)))
		fine[i] = orb.Point{rough[i][0] + 3e-9, rough[i][1] - 4e-9}
	}
	well := Round7(s.place(10, 10))
	a := mustMap(t, Outline{Boundary: shapeOf(rough), Setback: 5, Exclusions: []Part{{Points: []LonLat{well}, Setback: 9}}})
	fine.Reverse()
	b := mustMap(t, Outline{Boundary: shapeOf(fine), Setback: 5, Exclusions: []Part{{Points: []LonLat{{well[0] - 2e-9, well[1] + 2e-9}}, Setback: 9}}})
	if !orb.MultiPolygon(a.Sampleable).Equal(orb.MultiPolygon(b.Sampleable)) || a.Sampleable.Vertices() < 12 {
		t.Error("digits beyond the seventh change the field")
	}
}

func TestDivide(t *testing.T) {
	s := iowa(t)
	// 300 m by 100 m, a pond, three units with an overlap and a gap, a problem
	// area across two of them.
	o := Outline{
		Boundary:   shapeOf(s.rect(0, 0, 300, 100)),
		Exclusions: []Part{s.part("pond", 90, 40, 110, 60)},
		Management: []Part{s.part("A", -5, -5, 100, 105), s.part("B", 95, -5, 199.99, 105), s.part("C", 200, -5, 260, 105), s.part("A", 280, 0, 300, 50), s.part("far", 900, 900, 950, 950)},
		Problems:   []Part{s.part("salt", 150, 20, 220, 30)},
	}
	f := mustMap(t, o)
	want := []struct {
		kind Kind
		name string
		area float64
	}{
		{Management, "A", 100*100 - 10*20 + 20*50}, {Management, "B", 100*100 - 10*20 - 500}, {Management, "C", 6000 - 200},
		{Management, "rest", 20*100 + 20*50}, {Problem, "salt", 700},
	}
	if len(f.Divisions) != len(want) {
		t.Fatalf("%d divisions; notices %q", len(f.Divisions), f.Notices)
	}
	var sum float64
	for i, d := range f.Divisions {
		if d.Kind != want[i].kind || d.Name != want[i].name || !near(d.Shape.Area(), want[i].area, 5) {
			t.Errorf("%s %q: %.2f m², want %s %q %.0f", d.Kind, d.Name, d.Shape.Area(), want[i].kind, want[i].name, want[i].area)
		}
		sum += d.Shape.Area()
	}
	if !near(sum, f.Ground.Area(), 1e-9*sum) {
		t.Errorf("divisions %.6f, ground %.6f", sum, f.Ground.Area())
	}
	if !slices.ContainsFunc(f.Notices, func(n string) bool {
		return strings.Contains(n, `"rest"`) && strings.Contains(n, "0.300 ha lie in no management unit")
	}) || !slices.ContainsFunc(f.Notices, func(n string) bool {
		return strings.HasPrefix(n, "file: B overlaps another management unit on 0.0") && strings.HasSuffix(n, "the first in the file keeps it")
	}) || len(f.Notices) != 2 {
		t.Errorf("%q", f.Notices)
	}
	if len(f.Drawn) != 5 || f.Drawn[0].Kind != Problem {
		t.Errorf("%d drawn", len(f.Drawn))
	}
	w := f.NewWhereabouts()
	for at, want := range map[[2]float64]int{{50, 50}: 0, {150, 50}: 1, {230, 50}: 2, {290, 90}: 3, {160, 25}: 4, {215, 25}: 4, {100, 50}: -1, {-1, 50}: -1} {
		if got := w.Division(XY{s.at[0] + at[0], s.at[1] + at[1]}); got != want {
			t.Errorf("%v: division %d, want %d", at, got, want)
		}
	}
	if i, off := w.Nearest(XY{s.at[0] - 3, s.at[1] + 50}, 10); i != 0 || !near(off, 3, 0.02) {
		t.Errorf("division %d, %g m off", i, off)
	}
	if i, off := w.Nearest(XY{s.at[0] + 50, s.at[1] + 50}, 10); i != 0 || off != 0 {
		t.Errorf("division %d, %g m off", i, off)
	}
	if i, off := w.Nearest(XY{s.at[0] - 30, s.at[1] + 50}, 10); i != -1 || off != 10 {
		t.Errorf("division %d, %g m off", i, off)
	}
	if d := f.Divisions[4]; d.Label() != "problem area salt" || f.Divisions[0].Label() != "management unit A" {
		t.Error(d.Label())
	}
}

func TestDivideLeftovers(t *testing.T) {
	s := iowa(t)
	square := shapeOf(s.rect(0, 0, 100, 100))
	for name, c := range map[string]struct {
		o       Outline
		names   []string
		notices int
	}{
		"no units":                       {Outline{}, []string{""}, 0},
		"units elsewhere":                {Outline{Management: []Part{s.part("A", 500, 500, 600, 600)}}, []string{""}, 1},
		"a unit that is a line":          {Outline{Management: []Part{{Where: "x", Lines: []crs.LonLatLine{{orb.Point(s.place(0, 0))}}}}}, []string{""}, 2},
		"a sliver between two units":     {Outline{Management: []Part{s.part("A", 0, 0, 50, 100), s.part("B", 50.3, 0, 100, 100)}}, []string{"A", "B"}, 0},
		"the rest's name is taken":       {Outline{Management: []Part{s.part("Rest", 0, 0, 50, 100)}}, []string{"Rest", "rest of field"}, 1},
		"a unit all under another":       {Outline{Management: []Part{s.part("A", 0, 0, 100, 100), s.part("B", 10, 10, 50, 50)}}, []string{"A"}, 1},
		"a problem over all":             {Outline{Problems: []Part{s.part("P", -1, -1, 101, 101)}}, []string{"P"}, 0},
		"a problem over all, with units": {Outline{Management: []Part{s.part("A", 0, 0, 100, 100)}, Problems: []Part{s.part("P", -1, -1, 101, 101)}}, []string{"P"}, 0},
		"two problems overlap":           {Outline{Problems: []Part{s.part("P", 10, 10, 30, 30), s.part("Q", 20, 10, 40, 30)}}, []string{"", "P", "Q"}, 1},
		"a crumb behind a problem": {Outline{Management: []Part{s.part("A", 0, 0, 90, 100)},
			Problems: []Part{{Name: "P", Where: "P", Shape: shapeOf(s.rect(90, -5, 105, 105), s.rect(95, 50, 95.5, 50.5))}}}, []string{"A", "P"}, 0},
	} {
		c.o.Boundary = square
		f := mustMap(t, c.o)
		var names []string
		var sum float64
		for _, d := range f.Divisions {
			names = append(names, d.Name)
			sum += d.Shape.Area()
			if d.Shape.Empty() {
				t.Errorf("%s: %q has no ground", name, d.Name)
			}
		}
		if !slices.Equal(names, c.names) || len(f.Notices) != c.notices || !near(sum, f.Ground.Area(), 1e-9*sum) {
			t.Errorf("%s: %q, notices %q, divisions %.6f of %.6f m²", name, names, f.Notices, sum, f.Ground.Area())
		}
	}
}

// Random units, problem areas and exclusions: divisions partition the ground.
func TestDividePartition(t *testing.T) {
	rnd := random(7)
	for n := range 60 {
		s := siteAt(t, -95.9+5.8*rnd.Float64(), 120*rnd.Float64()-60)
		parts := func(name string, k int, r float64) (out []Part) {
			for i := range k {
				x, y := 500*(rnd.Float64()-0.5), 500*(rnd.Float64()-0.5)
				out = append(out, Part{Name: name + string(rune('a'+i)), Where: name, Shape: shapeOf(s.wobbly(rnd, x, y, r, 4+rnd.IntN(20)))})
			}
			return out
		}
		f, err := Map(Outline{
			Boundary: shapeOf(s.wobbly(rnd, 0, 0, 400, 8+rnd.IntN(40))), Exclusions: parts("x", rnd.IntN(3), 60),
			Management: parts("m", rnd.IntN(5), 250), Problems: parts("p", rnd.IntN(3), 90),
		})
		if err != nil {
			t.Fatalf("case %d: %v", n, err)
		}
		var sum float64
		for i, d := range f.Divisions {
			sum += d.Shape.Area()
			for _, e := range f.Divisions[:i] {
				both, err := plane.Intersect(d.Shape, e.Shape)
				if err != nil || both.Area() > 1e-3 {
					t.Errorf("case %d: %s and %s share %g m², %v", n, d.Label(), e.Label(), both.Area(), err)
				}
			}
			out, err := plane.Subtract(d.Shape, f.Ground)
			if err != nil || out.Area() > 1e-3 {
				t.Errorf("case %d: %s has %g m² off the ground, %v", n, d.Label(), out.Area(), err)
			}
		}
		if !near(sum, f.Ground.Area(), 1e-9*sum) {
			t.Errorf("case %d: divisions %.6f, ground %.6f", n, sum, f.Ground.Area())
		}
	}
}
