package sampling

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/sampling/strata"
)

// rotated gives flat coordinates turned by an angle in degrees clockwise about
// the origin.
func rotated(flat []float64, degrees float64) []float64 {
	sin, cos := math.Sincos(-degrees * math.Pi / 180)
	out := make([]float64, len(flat))
	for i := 0; i < len(flat); i += 2 {
		out[i], out[i+1] = cos*flat[i]-sin*flat[i+1], sin*flat[i]+cos*flat[i+1]
	}
	return out
}

// drawn puts vertices into the sides of a polygon, every so many metres and off
// by some, as a hand or a receiver does.
func drawn(r *rand.Rand, flat []float64, every, off float64) []float64 {
	var out []float64
	n := len(flat) / 2
	for i := range n {
		x0, y0, x1, y1 := flat[2*i], flat[2*i+1], flat[2*((i+1)%n)], flat[2*((i+1)%n)+1]
		steps := max(1, int(math.Hypot(x1-x0, y1-y0)/every))
		for k := range steps {
			t := float64(k) / float64(steps)
			x, y := x0+t*(x1-x0), y0+t*(y1-y0)
			if k > 0 {
				x, y = x+off*(2*r.Float64()-1), y+off*(2*r.Float64()-1)
			}
			out = append(out, x, y)
		}
	}
	return out
}

// azimuth is the bearing from one place to another near by, in degrees from
// true north, by the radii of curvature of WGS 84.
func azimuth(p, q geo.LonLat) float64 {
	const a, e2 = 6378137, 0.00669437999014
	sin := math.Sin((p.Lat() + q.Lat()) / 2 * math.Pi / 180)
	w := math.Sqrt(1 - e2*sin*sin)
	north := (q.Lat() - p.Lat()) * a * (1 - e2) / (w * w * w)
	east := (q.Lon() - p.Lon()) * a / w * math.Sqrt(1-sin*sin)
	return math.Mod(math.Atan2(east, north)*180/math.Pi+720, 180)
}

// apartBy is how far two bearings of lines are apart.
func apartBy(a, b float64) float64 {
	d := math.Mod(math.Abs(a-b), 180)
	return math.Min(d, 180-d)
}

// Rows run along the longest side, however the outline was drawn, or on the
// bearing asked for, which is from true north and not from that of the frame.
func TestRowsOfGrids(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	rectangle := []float64{0, 0, 900, 0, 900, 400, 0, 400}
	// The longest side of this one runs slantwise.
	slant := []float64{0, 0, 700, 0, 700, 150, 300, 560, 0, 560}
	for name, c := range map[string]struct {
		flat []float64
		want float64 // clockwise from the frame's north
		slop float64
	}{
		"rectangle": {rectangle, 90, 0.01}, "by hand": {drawn(r, rectangle, 12, 1.5), 90, 0.6},
		"slant": {slant, 90, 0.01},
		"L":     {[]float64{0, 0, 800, 0, 800, 200, 250, 200, 250, 500, 0, 500}, 90, 0.01},
	} {
		for _, turn := range []float64{0, 17, 45, 88, 133} {
			f := mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rotated(c.flat, turn)})})
			u, _, err := rows(f, Params{LongSide: true})
			if err != nil {
				t.Fatal(err)
			}
			if got := 90 - math.Atan2(u[1], u[0])*180/math.Pi; apartBy(got, c.want+turn) > c.slop {
				t.Errorf("%s turned by %g: rows at %.2f degrees, want %g", name, turn, got, math.Mod(c.want+turn, 180))
			}
		}
	}
	f := mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rectangle})})
	for _, want := range []float64{0, 30, 90, 179, -20} {
		plan := mustMake(t, Params{Design: Grid, Cell: geo.Hectare, Cores: 1, Bearing: &want}, f)
		for _, u := range plan.Fields[0].Units {
			if len(u.Shape) != 1 || len(u.Shape[0][0]) != 5 || !about(f.Frame.Area(u.Shape), geo.Hectare, 1) {
				continue
			}
			s, err := f.Frame.LonLatShape(u.Shape)
			if err != nil {
				t.Fatal(err)
			}
			along := math.Inf(1)
			for k := range 4 {
				along = math.Min(along, apartBy(azimuth(geo.LonLat(s[0][0][k]), geo.LonLat(s[0][0][k+1])), want))
			}
			if along > 0.02 {
				t.Errorf("bearing %g: a cell is %.3f degrees off", want, along)
			}
		}
		if got := *plan.Fields[0].Bearing; apartBy(got, want) > 1e-6 {
			t.Errorf("bearing %g is told as %g", want, got)
		}
	}
}

// clipped counts the cells of a grid that have lost (or gained by merging) more
// than a twentieth of a full one.
func clipped(t *testing.T, f *geo.Field, p Params) (clipped, all int) {
	t.Helper()
	for _, u := range mustMake(t, p, f).Fields[0].Units {
		all++
		if !about(f.Frame.Area(u.Shape), p.Cell, 0.05*p.Cell) {
			clipped++
		}
	}
	return clipped, all
}

// TestLongSideCutsClippedCells plans 50 fields, turned any way, with 1-ha cells
// along the longest side and north to south.
func TestLongSideCutsClippedCells(t *testing.T) {
	r := rand.New(rand.NewPCG(50, 50))
	var along, north, cellsAlong, cellsNorth int
	for i := range 50 {
		w, h := 300+500*r.Float64(), 250+300*r.Float64()
		flat := []float64{0, 0, w, 0, w, h, 0, h}
		switch i % 3 {
		case 1: // a corner cut off
			flat = []float64{0, 0, w, 0, w, 0.6 * h, 0.75 * w, h, 0, h}
		case 2: // an L
			flat = []float64{0, 0, w, 0, w, 0.5 * h, 0.55 * w, 0.5 * h, 0.55 * w, h, 0, h}
		}
		flat = drawn(r, rotated(flat, 180*r.Float64()), 40, 0.5)
		f := mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{flat})})
		p := Params{Design: Grid, Cell: geo.Hectare, Cores: 1}
		c, n := clipped(t, f, p)
		north, cellsNorth = north+c, cellsNorth+n
		p.LongSide = true
		c, n = clipped(t, f, p)
		along, cellsAlong = along+c, cellsAlong+n
	}
	t.Logf("clipped cells: %d of %d along the longest side, %d of %d north to south", along, cellsAlong, north, cellsNorth)
	if float64(along) > 0.85*float64(north) {
		t.Errorf("%d clipped cells along the longest side, %d north to south", along, north)
	}
}

// healthy are the units that are neither problem areas nor bands beside them.
func healthy(fp *FieldPlan) (out []*Unit) {
	for _, u := range fp.Units {
		if fp.Field.Divisions[u.Division].Kind == geo.Management && u.ComparisonOf < 0 {
			out = append(out, u)
		}
	}
	return out
}

func TestEvenCells(t *testing.T) {
	bearing := 25.0
	for name, o := range map[string]geo.Outline{
		"rectangle": {Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 730, 610)})},
		"bent":      bent(t),
		"farm":      farm(t),
		"triangle":  {Name: "a", Boundary: degrees(t, [][]float64{{0, 0, 700, 40, 120, 690}})},
	} {
		for _, p := range []Params{{}, {LongSide: true}, {Bearing: &bearing}} {
			p.Design, p.Cell, p.Cores, p.Even = Grid, 4000, 2, true
			fp := mustMake(t, p, mustMap(t, o)).Fields[0]
			checkUnits(t, fp)
			// Each division has cells of one area of its own.
			for i, d := range fp.Field.Divisions {
				var areas []float64
				for _, u := range healthy(fp) {
					if u.Division == i {
						areas = append(areas, u.Shape.Area())
					}
				}
				if len(areas) == 0 {
					continue
				}
				if n := math.Round(d.Shape.Area() / 4000); math.Abs(n-float64(len(areas))) > 1 {
					t.Errorf("%s: %d cells of %s with %.0f m²", name, len(areas), d.Label(), d.Shape.Area())
				}
				if s := slices.Max(areas) - slices.Min(areas); s > 1e-3 {
					t.Errorf("%s: cells of %s differ by %g m²", name, d.Label(), s)
				}
			}
		}
	}
}

func TestMergeShare(t *testing.T) {
	o := geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 245, 201)})}
	count := map[float64]int{}
	for _, merge := range []float64{-1, 0.1, 0.5, 0.9} {
		fp := mustMake(t, Params{Design: Grid, Cell: geo.Hectare, Cores: 1, Merge: merge}, mustMap(t, o)).Fields[0]
		checkUnits(t, fp)
		count[merge] = len(fp.Units)
	}
	// Two and a half columns; of the third row there is one metre.
	if count[-1] != 9 || count[0.1] != 6 || count[0.5] != 4 || count[0.9] != 4 {
		t.Errorf("units by share for merging: %v", count)
	}
}

func TestOrigins(t *testing.T) {
	f := mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 500, 500)})})
	corner := func(o Origin, seed uint64) geo.XY {
		t.Helper()
		fp := &FieldPlan{Field: f}
		l, err := fp.lattice(geo.Hectare, Params{Origin: o, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		i, j := l.at(geo.XY(f.Ground.Bound().Min))
		return geo.XY{i - math.Floor(i+1e-9), j - math.Floor(j+1e-9)}
	}
	if c := corner(Origin{}, 1); math.Abs(c[0])+math.Abs(c[1]) > 1e-9 {
		t.Errorf("a fixed origin is %v sides off the corner", c)
	}
	// Random ones are uniform: their mean is a half to within 4 standard errors.
	var sum geo.XY
	const n = 2000
	for seed := range uint64(n) {
		c := corner(Origin{Random: true}, seed)
		sum[0], sum[1] = sum[0]+c[0]/n, sum[1]+c[1]/n
	}
	if slop := 4 * math.Sqrt(1.0/12/n); math.Abs(sum[0]-0.5) > slop || math.Abs(sum[1]-0.5) > slop {
		t.Errorf("random origins lie on average %v sides off", sum)
	}
	at := spot(t, 130, 270)
	xy, err := f.Frame.XY(at)
	if err != nil {
		t.Fatal(err)
	}
	plan := mustMake(t, Params{Design: Grid, Cell: geo.Hectare, Cores: 1, Origin: Origin{At: &at}}, f)
	if !slices.ContainsFunc(plan.Fields[0].Units, func(u *Unit) bool {
		for _, p := range u.Shape[0][0] {
			if geo.XY(p).Distance(xy) < 1e-6 {
				return true
			}
		}
		return false
	}) {
		t.Error("no cell has its corner at the origin given")
	}
}

func TestCoresRoundPoints(t *testing.T) {
	for _, unaligned := range []bool{false, true} {
		for name, o := range map[string]geo.Outline{"farm": farm(t), "bent": bent(t)} {
			p := Params{Design: Grid, Cell: 4000, At: AtPoint, Radius: 9, Cores: 8, Spacing: 2, Unaligned: unaligned, LongSide: true, Seed: 5}
			fp := mustMake(t, p, mustMap(t, o)).Fields[0]
			checkUnits(t, fp)
			checkCores(t, fp, p)
			for _, u := range healthy(fp) {
				if u.Point == nil {
					t.Errorf("%s: unit %d has no point", name, u.Number)
					continue
				}
				scale := fp.Field.Frame.Scale(*u.Point)
				for _, c := range u.Cores {
					if d := c.At.Distance(*u.Point) / scale; d > 9.01 {
						t.Errorf("%s: core %s lies %.2f m from its point", name, c.Name, d)
					}
				}
			}
		}
	}
}

// Of an unaligned grid the points of a row share how far along their cells they
// lie, and those of a column how far across: no three of a row or column stand
// in line.
func TestUnalignedPoints(t *testing.T) {
	f := mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 801, 701)})})
	p := Params{Design: Grid, Cell: geo.Hectare, At: AtPoint, Radius: 5, Cores: 1, Unaligned: true, Seed: 9}
	fp := mustMake(t, p, f).Fields[0]
	l, err := fp.lattice(geo.Hectare, p)
	if err != nil {
		t.Fatal(err)
	}
	along, across := map[int][]float64{}, map[int][]float64{}
	for _, u := range fp.Units {
		i, j := l.at(*u.Point)
		row, column := int(math.Floor(j)), int(math.Floor(i))
		along[row] = append(along[row], i-math.Floor(i))
		across[column] = append(across[column], j-math.Floor(j))
	}
	var firsts []float64
	for _, list := range []map[int][]float64{along, across} {
		for line, shares := range list {
			if len(shares) < 7 || slices.Max(shares)-slices.Min(shares) > 1e-6 {
				t.Errorf("line %d has shares %v", line, shares)
			}
			firsts = append(firsts, shares[0])
		}
	}
	slices.Sort(firsts)
	for i := 1; i < len(firsts); i++ {
		if firsts[i]-firsts[i-1] < 1e-6 {
			t.Errorf("two lines share %g", firsts[i])
		}
	}
	if firsts[0] > 0.35 || firsts[len(firsts)-1] < 0.65 {
		t.Errorf("shares of %v are not spread over a cell", firsts)
	}
}

// One core of each composite lies in each of as many parts of equal area.
func TestCoresInStrataOfTheUnit(t *testing.T) {
	f := mustMap(t, bent(t))
	p := Params{Design: Units, At: AtStrata, Cores: 12, Composites: 2, Seed: 4}
	plan := mustMake(t, p, f)
	u := plan.Fields[0].Units[0]
	parts, err := strata.Quick(u.Sampleable, 12, stream(4, "bent", "strata of unit", u.key))
	if err != nil {
		t.Fatal(err)
	}
	for k, s := range parts {
		inside := plane.NewLocator(s)
		count := map[int]int{}
		for _, c := range u.Cores {
			if inside.Contains(c.At) {
				count[c.Composite]++
			}
		}
		if count[1] != 1 || count[2] != 1 {
			t.Errorf("part %d has cores of composites %v", k, count)
		}
		if !about(s.Area(), u.Sampleable.Area()/12, 0.01*s.Area()) {
			t.Errorf("part %d has %.1f m² of %.1f", k, s.Area(), u.Sampleable.Area())
		}
	}
	checkCores(t, plan.Fields[0], p)
}

func TestLayersAndComposites(t *testing.T) {
	p := Params{Design: Grid, Cell: 8000, Cores: 5, Composites: 3, Spacing: 4, Seed: 2}
	var err error
	if p.Depths, err = ParseDepths("0-2in,2-8in"); err != nil {
		t.Fatal(err)
	}
	plan := mustMake(t, p, mustMap(t, farm(t)))
	ids := map[string]bool{}
	for _, u := range plan.Fields[0].Units {
		if len(u.Samples) != 6 || len(u.Cores) != 15 {
			t.Fatalf("unit %d has %d samples of %d cores", u.Number, len(u.Samples), len(u.Cores))
		}
		for _, s := range u.Samples {
			if ids[s.ID] || !ValidID(s.ID) || len(s.ID) > 10 || u.CoresOf(s) != 5 {
				t.Errorf("sample %s of %d cores", s.ID, u.CoresOf(s))
			}
			ids[s.ID] = true
		}
		for _, c := range u.Cores {
			if s := u.SamplesOf(c); len(s) != 2 || s[0].Depth.String() != "0-2in" || s[1].Depth.String() != "2-8in" || s[0].Composite != c.Composite {
				t.Errorf("core %s goes into %v", c.Name, s)
			}
		}
	}
	// Through a file and back.
	features, err := plan.Features()
	if err != nil {
		t.Fatal(err)
	}
	units, err := ReadUnits(through(t, features))
	if err != nil {
		t.Fatal(err)
	}
	if len(units) != len(ids) {
		t.Errorf("%d samples came back of %d", len(units), len(ids))
	}
	for _, u := range units {
		if len(u.Cores) != 5 || u.Unit == 0 || u.Composite == 0 {
			t.Errorf("sample %s came back as %+v", u.ID, u)
		}
	}
	for text, want := range map[string]string{
		"2-8in,0-2in": "overlap or are not in order", "0-4in,2-8in": "overlap or are not in order", "0-2in,5-20cm": "two units", "0-2in,,": "not a depth",
	} {
		depths, err := ParseDepths(text)
		if err == nil {
			p.Depths = depths
			err = p.Validate()
		}
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want an error of %q", text, err, want)
		}
	}
}

// A problem area shares no ground with any other unit, and stands apart from
// them by the buffer; it is paired with healthy ground beside it.
func TestProblemAreas(t *testing.T) {
	for _, design := range []Design{Grid, Strata, Units} {
		for _, buffer := range []float64{0, 5, 12} {
			p := Params{Design: design, Cell: 6000, Cores: 6, Spacing: 3, ProblemBuffer: buffer, Comparison: true, Seed: 3}
			f := mustMap(t, farm(t))
			fp := mustMake(t, p, f).Fields[0]
			checkCores(t, fp, p)
			what := fmt.Sprintf("%s, buffer %g", design, buffer)
			bands := 0
			var sum float64
			var all []plane.Shape
			for _, u := range fp.Units {
				sum += u.Shape.Area()
				all = append(all, u.Shape)
				if u.ComparisonOf >= 0 {
					bands++
				}
				if f.Divisions[u.Division].Kind != geo.Problem {
					continue
				}
				if u.CompareWith == nil {
					t.Errorf("%s: problem area of unit %d is compared with nothing", what, u.Number)
				}
				var edges plane.Edges
				edges.AddShape(u.Shape)
				inside := plane.NewLocator(u.Shape)
				for _, o := range fp.Units {
					if o == u {
						continue
					}
					common, err := plane.Intersect(o.Shape, u.Shape)
					if err != nil {
						t.Fatal(err)
					}
					if common.Area() > 1e-3 {
						t.Errorf("%s: units %d and %d share %.3f m²", what, u.Number, o.Number, common.Area())
					}
					if f.Divisions[o.Division].Kind == geo.Problem {
						continue
					}
					for _, c := range o.Cores {
						if inside.Contains(c.At) || edges.Within(c.At, buffer*0.997) {
							t.Errorf("%s: core %s lies within the buffer", what, c.Name)
						}
					}
				}
			}
			if bands != 2 {
				t.Errorf("%s: %d bands beside 2 problem areas; notes %q", what, bands, fp.Notes)
			}
			whole, err := plane.Union(all...)
			if err != nil {
				t.Fatal(err)
			}
			if !about(whole.Area(), sum, 1e-2) || buffer == 0 && !about(sum, f.Ground.Area(), 1e-2) {
				t.Errorf("%s: units of %.2f m² cover %.2f m² of %.2f", what, sum, whole.Area(), f.Ground.Area())
			}
		}
	}
}

// A problem area that fills its field has nothing beside it.
func TestProblemAreaWithoutHealthyGround(t *testing.T) {
	f := mustMap(t, geo.Outline{
		Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 100, 100)}),
		Problems: []geo.Part{{Name: "all", Where: "all", Shape: degrees(t, [][]float64{rect(2, 2, 98, 98)})}},
	})
	fp := mustMake(t, Params{Design: Units, Cores: 3, ProblemBuffer: 5, Comparison: true}, f).Fields[0]
	if len(fp.Units) != 1 || fp.Units[0].CompareWith != nil || !strings.Contains(strings.Join(fp.Notes, ";"), "buffer of a problem area") {
		t.Errorf("%d units, notes %q", len(fp.Units), fp.Notes)
	}
}

func TestSpacingThatNoUnitHolds(t *testing.T) {
	f := mustMap(t, geo.Outline{Name: "small", Boundary: degrees(t, [][]float64{rect(0, 0, 100, 100)})})
	_, err := Make([]*geo.Field{f}, Params{Design: Units, Cores: 15, Spacing: 40, KeepSpacing: true})
	if err == nil {
		t.Fatal("15 cores 40 m apart on 1 ha")
	}
	var spacing float64
	var cores int
	text := err.Error()
	if _, err := fmt.Sscanf(text[strings.Index(text, "up to"):], "up to %f m, at most %d cores", &spacing, &cores); err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	// What it says would work works.
	for _, p := range []Params{{Cores: 15, Spacing: spacing}, {Cores: cores, Spacing: 40}} {
		p.Design, p.KeepSpacing = Units, true
		if _, err := Make([]*geo.Field{f}, p); err != nil {
			t.Errorf("of %q: %v", text, err)
		}
	}
}

func TestBeds(t *testing.T) {
	var beds []geo.Part
	for i := range 6 {
		shape, err := geo.Rectangle(spot(t, 10+3*float64(i), 20), 1.2, 6, 30)
		if err != nil {
			t.Fatal(err)
		}
		beds = append(beds, geo.Part{Name: fmt.Sprint(i + 1), Where: "bed", Shape: shape})
	}
	o := geo.Outline{Name: "garden", Boundary: degrees(t, [][]float64{rect(0, 0, 60, 50)}), Management: beds, Beds: true}
	p := Params{Design: Units, Cores: 5, Spacing: 0.5}
	f := mustMap(t, o)
	fp := mustMake(t, p, f).Fields[0]
	if len(fp.Units) != 6 {
		t.Fatalf("%d units of 6 beds", len(fp.Units))
	}
	for _, u := range fp.Units {
		if a := f.Frame.Area(u.Shape); !about(a, 7.2, 0.3) {
			t.Errorf("bed %d has %.2f m²", u.Number, a)
		}
	}
	checkUnits(t, fp)
	checkCores(t, fp, p)
	features, err := FieldFeatures(f)
	if err != nil {
		t.Fatal(err)
	}
	back, err := ReadFields(through(t, features))
	if err != nil {
		t.Fatal(err)
	}
	sameField(t, f, back[0])
	if !back[0].Beds {
		t.Error("beds came back as management units")
	}
}
