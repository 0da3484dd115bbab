package sampling

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
)

// bent is an L with a hole, 9.1 ha.
func bent(t testing.TB) geo.Outline {
	return geo.Outline{Name: "bent", Boundary: degrees(t, [][]float64{
		{0, 0, 400, 0, 400, 150, 150, 150, 150, 400, 0, 400}, {40, 60, 120, 50, 130, 140, 50, 130},
	})}
}

// chord is the distance in metres between two places through the WGS 84
// ellipsoid, which over 100 m is that on the ground to a nanometre.
func chord(p, q geo.LonLat) float64 {
	solid := func(p geo.LonLat) (x, y, z float64) {
		const a, f = 6378137, 1 / 298.257223563
		const e2 = f * (2 - f)
		sinLon, cosLon := math.Sincos(p.Lon() * math.Pi / 180)
		sin, cos := math.Sincos(p.Lat() * math.Pi / 180)
		n := a / math.Sqrt(1-e2*sin*sin)
		return n * cos * cosLon, n * cos * sinLon, n * (1 - e2) * sin
	}
	px, py, pz := solid(p)
	qx, qy, qz := solid(q)
	return math.Sqrt((px-qx)*(px-qx) + (py-qy)*(py-qy) + (pz-qz)*(pz-qz))
}

// inRings tells by the even-odd rule whether p lies in polygons.
func inRings(s plane.Shape, p geo.XY) bool {
	inside := false
	eachEdge(s, func(a, b orb.Point) {
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(b[0]-a[0])*(p[1]-a[1])/(b[1]-a[1]) {
			inside = !inside
		}
	})
	return inside
}

func eachEdge(s plane.Shape, f func(a, b orb.Point)) {
	for _, polygon := range s {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				f(ring[i-1], ring[i])
			}
		}
	}
}

func toEdge(p geo.XY, a, b orb.Point) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = math.Max(0, math.Min(1, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/l))
	}
	return math.Hypot(p[0]-a[0]-t*dx, p[1]-a[1]-t*dy)
}

// checkCores holds every core of a field against every rule, by brute force and
// where it is written, and in metres on the ground.
func checkCores(t *testing.T, fp *FieldPlan, p Params) {
	t.Helper()
	f := fp.Field
	for _, u := range fp.Units {
		if n := p.Cores * max(1, p.Composites); len(u.Cores) != n {
			t.Errorf("unit %d has %d cores, want %d", u.Number, len(u.Cores), n)
		}
		if relaxed := u.Spacing < p.Spacing; relaxed != slices.ContainsFunc(u.Notes, func(n string) bool { return strings.Contains(n, "too small for") }) {
			t.Errorf("unit %d holds %g m of %g m and notes %q", u.Number, u.Spacing, p.Spacing, u.Notes)
		}
		for i, c := range u.Cores {
			if c.LonLat != geo.Round7(c.LonLat) {
				t.Errorf("core %s at %v is not as it will be written", c.Name, c.LonLat)
			}
			at, err := f.Frame.XY(c.LonLat)
			if err != nil {
				t.Fatal(err)
			}
			if at != c.At {
				t.Errorf("core %s is said to be at %v and is at %v", c.Name, c.At, at)
			}
			k := f.Frame.Scale(at)
			far := func(what string, setback float64, d float64) {
				if d/k < setback || d < setback {
					t.Errorf("core %s lies %.3f m from %s, setback %.3f m", c.Name, d/k, what, setback)
				}
			}
			if !inRings(f.Boundary, at) || !inRings(u.Shape, at) || !inRings(f.Divisions[u.Division].Shape, at) {
				t.Errorf("core %s lies outside the boundary, its division or its unit", c.Name)
			}
			eachEdge(f.Boundary, func(a, b orb.Point) { far("the boundary", f.Setback, toEdge(at, a, b)) })
			for _, e := range f.Exclusions {
				if inRings(e.Shape, at) {
					t.Errorf("core %s lies in exclusion %s", c.Name, e.Name)
				}
				eachEdge(e.Shape, func(a, b orb.Point) { far(e.Name, e.Setback, toEdge(at, a, b)) })
				for _, l := range e.Lines {
					for i := 1; i < len(l); i++ {
						far(e.Name, e.Setback, toEdge(at, l[i-1], l[i]))
					}
				}
				for _, q := range e.Points {
					far(e.Name, e.Setback, at.Distance(q))
				}
			}
			for _, o := range u.Cores[:i] {
				if d := chord(o.LonLat, c.LonLat); d < u.Spacing {
					t.Errorf("cores %s and %s are %.3f m apart, want %.3f", o.Name, c.Name, d, u.Spacing)
				}
			}
		}
	}
}

func TestCoresKeepEveryRule(t *testing.T) {
	for name, p := range map[string]Params{
		"grid":          {Design: Grid, Cell: 3000, Cores: 12, Spacing: 4},
		"grid, dense":   {Design: Grid, Cell: 1500, Cores: 15, Spacing: 30 * geo.Foot},
		"strata":        {Design: Strata, Samples: 20, Cores: 8, Spacing: 10},
		"units":         {Design: Units, Cores: 20, Spacing: 25},
		"one core":      {Design: Grid, Cell: 3000, Cores: 1, Spacing: 1000},
		"no spacing":    {Design: Units, Cores: 60},
		"fewer samples": {Design: Strata, Samples: 1, Cores: 3},
	} {
		t.Run(name, func(t *testing.T) {
			p.Seed = 11
			fp := mustMake(t, p, mustMap(t, farm(t))).Fields[0]
			checkUnits(t, fp)
			checkCores(t, fp, p)
		})
	}
}

func TestSpacingIsRelaxedAndSaid(t *testing.T) {
	p := Params{Design: Units, Cores: 15, Spacing: 30, Seed: 3}
	fp := mustMake(t, p, mustMap(t, geo.Outline{Name: "garden", Boundary: degrees(t, [][]float64{rect(0, 0, 40, 30)})})).Fields[0]
	checkCores(t, fp, p)
	u := fp.Units[0]
	// 15 discs of 5 m across fit by any reckoning, of 15 m by none.
	if u.Spacing < 5 || u.Spacing > 15 {
		t.Errorf("the spacing held is %g m", u.Spacing)
	}
	if len(u.Notes) != 1 || !strings.Contains(u.Notes[0], "15 cores 30.0 m apart") {
		t.Errorf("notes %q", u.Notes)
	}
}

// Ground that no core fits on ends in an error soon, whatever the spacing.
func TestImpossibleUnits(t *testing.T) {
	f := mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 400, 400)})})
	b := f.Boundary.Bound()
	x, y := b.Min[0]+100, b.Min[1]+100
	box := func(w, h float64) plane.Shape {
		return plane.Shape{{orb.Ring{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}, {x, y}}}}
	}
	for name, u := range map[string]*Unit{
		"hair":       {Shape: box(200, 0.03), Sampleable: box(200, 0.03)},
		"dot":        {Shape: box(0.03, 0.03), Sampleable: box(0.03, 0.03)},
		"no ground":  {Shape: box(200, 200)},
		"elsewhere":  {Shape: box(5, 5), Sampleable: plane.Shape{{orb.Ring{{x + 50, y}, {x + 60, y}, {x + 60, y + 9}, {x + 50, y}}}}},
		"no outline": {},
	} {
		fp := &FieldPlan{Field: f}
		err := fp.place(u, Params{Cores: 60, Spacing: 1000}, rand.New(rand.NewPCG(1, 1)))
		if err == nil || !strings.Contains(err.Error(), "too narrow for a core") {
			t.Errorf("%s: %v, %d cores", name, err, len(u.Cores))
		}
	}
	for name, p := range map[string]Params{
		"spacing": {Design: Units, Cores: 2, Spacing: math.Inf(1)}, "not a number": {Design: Units, Cores: 2, Spacing: math.NaN()},
		"setback": {Design: Units, Cores: 2, Setback: -1}, "cores": {Design: Units}, "many cores": {Design: Units, Cores: 201},
		"design": {Design: "points", Cores: 1}, "samples": {Design: Strata, Samples: -1, Cores: 1}, "cell": {Design: Strata, Cell: math.NaN(), Cores: 1},
		"tiny strata": {Design: Strata, Cell: 1, Cores: 1}, "too many cores": {Design: Grid, Cell: 20, Cores: 100},
	} {
		if plan, err := Make([]*geo.Field{f}, p); err == nil {
			t.Errorf("%s: planned %d units", name, len(plan.Fields[0].Units))
		}
	}
	if _, err := Make(nil, Params{Design: Units, Cores: 1}); err == nil {
		t.Error("no fields were planned")
	}
	if _, err := Make([]*geo.Field{f, f}, Params{Design: Units, Cores: 1}); err == nil || !strings.Contains(err.Error(), "two fields are named a") {
		t.Errorf("a field twice: %v", err)
	}
}

// Where a setback leaves nothing of a unit it joins its neighbour, and where it
// leaves nothing of a division that gets no sample; both are said.
func TestBarrenGround(t *testing.T) {
	f := mustMap(t, geo.Outline{
		Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 300, 100)}),
		Exclusions: []geo.Part{{Name: "well", Where: "well", Points: []geo.LonLat{spot(t, 250, 50)}, Setback: 75}},
		Problems:   []geo.Part{{Name: "wet", Where: "wet", Shape: degrees(t, [][]float64{rect(240, 40, 260, 60)})}},
	})
	p := Params{Design: Grid, Cell: 2500, Cores: 4}
	fp := mustMake(t, p, f).Fields[0]
	checkUnits(t, fp)
	checkCores(t, fp, p)
	notes := strings.Join(fp.Notes, "\n")
	for _, want := range []string{"problem area wet has no ground outside the setbacks; it gets no sample", "had no ground outside the setbacks and joined"} {
		if !strings.Contains(notes, want) {
			t.Errorf("notes %q, want %q", fp.Notes, want)
		}
	}
}

// text is a plan as it is written.
func text(t testing.TB, p *Plan) string {
	t.Helper()
	features, err := p.Features()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := vector.WriteGeoJSON(&b, vector.Collection{Features: features}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestPlansAreDeterministic(t *testing.T) {
	for _, d := range []Params{{Design: Grid, Cell: 4000}, {Design: Strata, Samples: 14}, {Design: Units}} {
		d.Cores, d.Spacing, d.Seed = 6, 5, 21
		a, b := text(t, mustMake(t, d, mustMap(t, farm(t)))), text(t, mustMake(t, d, mustMap(t, farm(t))))
		if a != b {
			t.Errorf("%s: one seed gave two plans", d.Design)
		}
		d.Seed++
		if text(t, mustMake(t, d, mustMap(t, farm(t)))) == a {
			t.Errorf("%s: two seeds gave one plan", d.Design)
		}
	}
}

// at lists the places of the cores of a field.
func at(fp *FieldPlan) (out []geo.LonLat) {
	for _, u := range fp.Units {
		for _, c := range u.Cores {
			out = append(out, c.LonLat)
		}
	}
	return out
}

func TestFieldsDoNotDependOnEachOther(t *testing.T) {
	one, other := mustMap(t, farm(t)), mustMap(t, bent(t))
	for _, p := range []Params{{Design: Grid, Cell: 4000}, {Design: Strata, Cell: 8000}, {Design: Units}} {
		p.Cores, p.Seed = 5, 8
		alone := at(mustMake(t, p, one).Fields[0])
		if !slices.Equal(alone, at(mustMake(t, p, one, other).Fields[0])) || !slices.Equal(alone, at(mustMake(t, p, other, one).Fields[1])) {
			t.Errorf("%s: another field moved the cores", p.Design)
		}
	}
}

// Fields one by one have the ids, names and cores that they have together.
func TestMakeOneIsMake(t *testing.T) {
	fields := []*geo.Field{mustMap(t, farm(t)), mustMap(t, bent(t))}
	for _, p := range []Params{{Design: Grid, Cell: 4000}, {Design: Strata, Samples: 9, Composites: 2}, {Design: Units}} {
		p.Cores, p.Seed = 5, 8
		p.Starts = []geo.LonLat{spot(t, 10, 10)}
		whole := mustMake(t, p, fields...)
		for i, f := range fields {
			one, err := MakeOne(f, i, p)
			if err != nil {
				t.Fatal(err)
			}
			want, got := whole.Fields[i], one.Fields[0]
			if want.Walk != got.Walk || len(want.Units) != len(got.Units) {
				t.Errorf("%s, %s: a walk of %g and %d units, want %g and %d", p.Design, f.Name, got.Walk, len(got.Units), want.Walk, len(want.Units))
				continue
			}
			for k, u := range want.Units {
				if v := got.Units[k]; !slices.Equal(u.Samples, v.Samples) || !slices.Equal(u.Cores, v.Cores) {
					t.Errorf("%s, %s: unit %d is %v, want %v", p.Design, f.Name, k+1, v, u)
				}
			}
		}
	}
	// A start far from this field may be near another.
	p := Params{Design: Units, Cores: 5, Starts: []geo.LonLat{{-80, 42}}}
	if one, err := MakeOne(fields[0], 3, p); err != nil || one.Fields[0].Start != nil || !strings.HasPrefix(one.Fields[0].Units[0].ID(), "BF") {
		t.Errorf("with a far start: %v", err)
	}
	if _, err := Make(fields, p); err == nil || !strings.Contains(err.Error(), "from every field") {
		t.Errorf("a start far from all: %v", err)
	}
}

// rewritten gives the same polygons in another writing: other first vertices,
// the other way round, parts and holes in another order.
func rewritten(s crs.LonLatShape, shift int, turn bool) crs.LonLatShape {
	out := crs.LonLatShape{}
	for _, polygon := range s {
		var q orb.Polygon
		for _, r := range polygon {
			open := slices.Clone(r[:len(r)-1])
			k := shift % len(open)
			open = append(slices.Clone(open[k:]), open[:k]...)
			if turn {
				slices.Reverse(open)
			}
			q = append(q, append(open, open[0]))
		}
		slices.Reverse(q[1:])
		out = append(out, q)
	}
	slices.Reverse(out)
	return out
}

func TestWritingOfTheBoundaryIsNoMatter(t *testing.T) {
	for _, p := range []Params{{Design: Grid, Cell: 4000}, {Design: Strata, Samples: 9}, {Design: Units}} {
		p.Cores, p.Seed, p.Spacing = 5, 8, 3
		want := at(mustMake(t, p, mustMap(t, farm(t))).Fields[0])
		for shift := range 4 {
			for _, turn := range []bool{false, true} {
				o := farm(t)
				o.Boundary = rewritten(o.Boundary, shift, turn)
				for _, parts := range [][]geo.Part{o.Exclusions, o.Management, o.Problems} {
					for i := range parts {
						parts[i].Shape = rewritten(parts[i].Shape, shift, turn)
					}
				}
				if !slices.Equal(want, at(mustMake(t, p, mustMap(t, o)).Fields[0])) {
					t.Errorf("%s: begun at vertex %d, turned %v: the cores moved", p.Design, shift, turn)
				}
			}
		}
	}
}
