package picture

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"corewalk/geo/raster"
)

func TestTicks(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for range 5000 {
		lo := math.Pow(10, 8*rng.Float64()-4) * rng.NormFloat64()
		hi := lo + math.Abs(lo)*math.Pow(10, 4*rng.Float64()-2)
		values, places := ticks(lo, hi)
		if len(values) < 4 || len(values) > 7 {
			t.Fatalf("%d ticks from %v to %v: %v", len(values), lo, hi, values)
		}
		seen := make(map[string]bool)
		for _, v := range values {
			if v < lo-1e-6*(hi-lo) || v > hi+1e-6*(hi-lo) {
				t.Errorf("tick %v from %v to %v", v, lo, hi)
			}
			if places <= 6 && math.Abs(v) < 1e6 && seen[number(v, places)] {
				t.Errorf("two ticks %s from %v to %v", number(v, places), lo, hi)
			}
			seen[number(v, places)] = true
		}
	}
	for _, r := range [][2]float64{{1, 1}, {2, 1}, {math.NaN(), 1}, {0, math.Inf(1)}, {-math.MaxFloat64, math.MaxFloat64}, {1e9, 1e9 + 1e-6}} {
		if v, _ := ticks(r[0], r[1]); len(v) > 0 {
			t.Errorf("ticks from %v to %v: %v", r[0], r[1], v)
		}
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{number(-0.04, 1), "0.0"}, {number(-3, 0), "−3"}, {number(2.5, 1), "2.5"}, {number(0, 2), "0.00"},
		{short(5.9876), "5.99"}, {short(0.6), "0.6"}, {short(-12345), "−12300"}, {short(0), "0"},
		{plain(15), "15"}, {plain(-0.25), "−0.25"},
		{Class{From: 1, To: 2}.words(false), "1 – 2"}, {Class{From: math.Inf(-1), To: 2}.words(false), "below 2"},
		{Class{From: math.Inf(-1), To: 2}.words(true), "up to 2"}, {Class{From: 2, To: math.Inf(1)}.words(true), "2 and above"},
		{Class{Name: "low"}.words(false), "low"}, {Class{Name: "low", From: 1, To: 2}.words(false), "low, 1 – 2"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func TestScaleLength(t *testing.T) {
	for _, c := range []struct {
		most   float64
		us     bool
		label  string
		metres float64
		parts  int
	}{
		{130, false, "100 m", 100, 4}, {99, false, "50 m", 50, 5}, {2000, false, "2 km", 2000, 4},
		{70, true, "200 ft", 60.96, 4}, {4000, true, "2 mi", 3218.688, 4}, {0.3, false, "0.2 m", 0.2, 4},
	} {
		label, metres, parts := scaleLength(c.most, c.us)
		if label != c.label || math.Abs(metres-c.metres) > 1e-9 || parts != c.parts {
			t.Errorf("%v: %s %v in %d, want %s %v in %d", c.most, label, metres, parts, c.label, c.metres, c.parts)
		}
	}
	rng := rand.New(rand.NewPCG(2, 1))
	for range 2000 {
		most := math.Pow(10, 12*rng.Float64()-4)
		if _, m, _ := scaleLength(most, rng.IntN(2) == 0); m > most*(1+1e-9) || m < most*0.39 {
			t.Fatalf("a bar of %v for room of %v", m, most)
		}
	}
}

func TestClassOf(t *testing.T) {
	classes := []Class{{From: math.Inf(-1), To: 1}, {From: 1, To: 2}, {From: 2, To: 3}}
	for v, want := range map[float64]int{-9: 0, 1: 1, 1.999: 1, 2: 2, 3: 2, 3.001: -1} {
		if got := classOf(v, classes); got != want {
			t.Errorf("%v is of class %d, want %d", v, got, want)
		}
	}
}

func TestWrap(t *testing.T) {
	f, err := loadFaces()
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(3, 1))
	alphabet := []rune("abc WII .é漢\u0301")
	for range 300 {
		var text []rune
		for range rng.IntN(120) {
			text = append(text, alphabet[rng.IntN(len(alphabet))])
		}
		s := clean(string(text))
		lines := f.wrap(s, 16, false, 120, 4)
		if len(lines) > 4 {
			t.Fatalf("%d lines", len(lines))
		}
		for _, l := range lines {
			if f.width(l, 16, false) > 120 || !utf8.ValidString(l) {
				t.Errorf("line %q is %.1f wide", l, f.width(l, 16, false))
			}
		}
		// Nothing is lost unless the dots say so.
		if whole := strings.Join(lines, ""); !strings.HasSuffix(whole, "…") && squeezed(lines) != squeezed([]string{s}) {
			t.Errorf("%q became %q", s, lines)
		}
	}
	if l := f.wrap("WWW", 16, false, 1, 9); len(l) != 3 {
		t.Errorf("letters wider than the line: %q", l)
	}
}

// The hatch covers a square with a hole in lines of the right total length.
func TestHatch(t *testing.T) {
	square := func(x0, x1 float64) []spot { return rect{x0, x0, x1, x1}.corners() }
	for _, rising := range []bool{true, false} {
		lines := hatch([][]spot{square(0, 100), square(30, 70)}, 2, rising)
		sum := 0.0
		for _, l := range lines {
			sum += math.Hypot(l[1].x-l[0].x, l[1].y-l[0].y)
			if rising != ((l[1].y-l[0].y)*(l[1].x-l[0].x) < 0) && l[0] != l[1] {
				t.Fatalf("rising %v: %v", rising, l)
			}
			m := blend(l[0], l[1], 0.5)
			if m.x > 30.1 && m.x < 69.9 && m.y > 30.1 && m.y < 69.9 {
				t.Fatalf("in the hole: %v", l)
			}
		}
		if want := (100.0*100 - 40*40) / 2; math.Abs(sum-want) > 0.02*want {
			t.Errorf("rising %v: length %.0f, want %.0f", rising, sum, want)
		}
	}
}

func TestDashed(t *testing.T) {
	length := func(runs [][]spot) (sum float64) {
		for _, r := range runs {
			for i := 1; i < len(r); i++ {
				sum += math.Hypot(r[i].x-r[i-1].x, r[i].y-r[i-1].y)
			}
		}
		return sum
	}
	square := [][]spot{rect{0, 0, 100, 100}.corners()}
	if got := length(dashed(square, true, []float64{6, 4})); math.Abs(got-240) > 1e-6 {
		t.Errorf("closed: %v drawn, want 240", got)
	}
	if got := length(dashed(square, false, []float64{6, 4})); math.Abs(got-180) > 1e-6 {
		t.Errorf("open: %v drawn, want 180", got)
	}
	if got := dashed(square, true, nil); len(got) != 1 || len(got[0]) != 4 {
		t.Errorf("no pattern: %v", got)
	}
}

// Pixels at the boundary reach to it, and not into ground without a value.
func TestSpread(t *testing.T) {
	m := surfaceFixture()
	p, err := m.layout()
	if err != nil {
		t.Fatal(err)
	}
	out, missing := p.spread(m.Grid, fieldShape(), waterway())
	if !missing {
		t.Error("the corner without values is not seen")
	}
	more := 0
	for i, f := range out.Data {
		if hasValue(m.Grid.Data[i]) && f != m.Grid.Data[i] {
			t.Fatal("a value changed")
		}
		if hasValue(f) && !hasValue(m.Grid.Data[i]) {
			more++
		}
	}
	if more == 0 {
		t.Error("nothing reaches the boundary")
	}
	full := fieldGrid()
	for i := range full.Data {
		full.Data[i] = 1
	}
	if _, missing := p.spread(full, fieldShape(), nil); missing {
		t.Error("a full grid lacks ground")
	}
	if _, missing := p.spread(&raster.Grid{Geometry: raster.Geometry{West: 448000, North: 4652300, Pixel: 4, Width: 10, Height: 10}, Data: make([]float32, 100)}, fieldShape(), nil); !missing {
		t.Error("ground beyond the grid is not seen")
	}
}

func TestCoarser(t *testing.T) {
	g := raster.New(raster.Geometry{Pixel: 1, Width: 5, Height: 4})
	for i := range g.Data {
		g.Data[i] = float32(i)
	}
	g.Data[0], g.Data[1], g.Data[5] = raster.NoData, raster.NoData, raster.NoData
	out := g.Coarser(3)
	if out.Width != 3 || out.Height != 2 || out.Pixel != 2 {
		t.Fatalf("%+v", out.Geometry)
	}
	if hasValue(out.Data[0]) || out.Data[1] != 5 || out.Data[2] != 6.5 {
		t.Errorf("%v", out.Data)
	}
	if g.Coarser(5) != g {
		t.Error("a small grid is made anew")
	}
}

func TestScatter(t *testing.T) {
	s := scatterFixture()
	s.Pairs = append(s.Pairs, Pair{math.NaN(), 1}, Pair{1, math.Inf(1)})
	texts, count := read(t, svgOf(t, s))
	if n := count["circle"]; n != 36 {
		t.Errorf("%d circles for 36 pairs", n)
	}
	if !strings.Contains(squeezed(texts["text"]), "2pairsareleftout") {
		t.Error("the pairs left out are not told")
	}
	for name, pairs := range map[string][]Pair{
		"one": {{3, 3}}, "zero": {{0, 0}}, "same": {{7, 7}, {7, 7}}, "huge": {{-1e299, 1e299}},
		"tiny": {{1e-300, 2e-300}}, "close": {{1e9, 1e9 + 1e-6}}, "many": make([]Pair, 5000),
	} {
		s := &Scatter{Pairs: pairs}
		read(t, svgOf(t, s))
		if err := s.PNG(&bytes.Buffer{}, 200); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, pairs := range map[string][]Pair{"none": nil, "not finite": {{math.NaN(), 1}}, "too many": make([]Pair, mostPoints+1)} {
		if err := (&Scatter{Pairs: pairs}).SVG(&bytes.Buffer{}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
