package trend

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/sampling/season"
)

// cell is a square of the invented field, in steps of some 100 m.
func cell(x, y, w, h float64) crs.LonLatShape {
	const lon, lat, dx, dy = 10, 52, 0.00146, 0.0009
	a, b, c, d := lon+x*dx, lat+y*dy, lon+(x+w)*dx, lat+(y+h)*dy
	return crs.LonLatShape{{orb.Ring{{a, b}, {c, b}, {c, d}, {a, d}, {a, b}}}}
}

func middle(s crs.LonLatShape) crs.LonLat {
	c := s[0][0]
	return crs.LonLat{(c[0][0] + c[2][0]) / 2, (c[0][1] + c[2][1]) / 2}
}

func observed(in, sample string, unit int, ground crs.LonLatShape, analyte string, value float64) season.Observation {
	return season.Observation{
		Season: in, Field: "Home", Sample: sample, UnitNumber: unit, Depth: "0-20cm", Analyte: analyte, Unit: map[string]string{"P": "mg/kg"}[analyte],
		Method: map[string]string{"pH": "water", "P": "Mehlich-3"}[analyte], Value: value, Replicates: 1, At: middle(ground), Shape: ground,
	}
}

func seasons(n int, lab string) []season.Season {
	var out []season.Season
	for i := range n {
		out = append(out, season.Season{Name: fmt.Sprint(2020 + i), Date: fmt.Sprintf("%d-04-%02d", 2020+i, 1+3*i), Lab: lab})
	}
	return out
}

func compare(t *testing.T, s []season.Season, x []season.Observation, o Options) *Comparison {
	t.Helper()
	c, err := Compare(s, x, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Five seasons with a known change and known noise, which the comparison is not
// told: its intervals hold the truth as often as they say.
func TestIntervalsHoldTheTruth(t *testing.T) {
	const draws, slope, sd, units = 200, -0.06, 0.12, 24
	random := rand.New(rand.NewPCG(5, 9))
	s := seasons(5, "Brook")
	years := yearsOf(s)
	hits := map[string]float64{}
	for range draws {
		var x []season.Observation
		level := make([]float64, units)
		for u := range level {
			level[u] = 6 + 0.8*random.Float64()
		}
		for i := range s {
			for u := range units {
				x = append(x, observed(s[i].Name, fmt.Sprintf("%c%02d", 'A'+i, u), u+1, cell(float64(u%6), float64(u/6), 1, 1), "pH", level[u]+slope*years[i]+sd*random.NormFloat64()))
			}
		}
		c := compare(t, s, x, Options{})
		if len(c.Units) != units || len(c.Fields) != 1 {
			t.Fatalf("%d units, %d fields", len(c.Units), len(c.Fields))
		}
		covers := func(what string, c *Change, truth float64) {
			if c == nil {
				t.Fatalf("%s: nothing is said", what)
			}
			if c.Low <= truth && truth <= c.High {
				hits[what]++
			}
		}
		for _, y := range c.Units {
			covers("units since", y.Since, slope*(years[4]-years[3]))
			covers("units overall", y.Overall, slope*years[4])
			covers("units slope", y.Slope, slope)
		}
		f := c.Fields[0]
		covers("field since", f.Since, slope*(years[4]-years[3]))
		covers("field overall", f.Overall, slope*years[4])
		covers("field slope", f.Slope, slope)
	}
	for _, what := range slices.Sorted(maps.Keys(hits)) {
		share := hits[what] / draws
		if strings.HasPrefix(what, "units") {
			share /= units
		}
		t.Logf("%s: %.1f of 100 intervals hold the truth", what, 100*share)
		if share < 0.9 || share > 0.98 {
			t.Errorf("%s: not as they say", what)
		}
	}
	if len(hits) != 6 {
		t.Errorf("%v", hits)
	}
}

// Where grounds really change apart from each other, what is estimated from two
// seasons errs to the safe side; told the noise, the intervals are as they say.
func TestChangesThatDiffer(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 9))
	s := seasons(2, "Brook")
	const draws, units, sd = 150, 20, 2.0
	for _, c := range []struct {
		o        Options
		low, top float64
	}{{Options{}, 0.96, 1}, {Options{Noise: map[string]Noise{"P": {SD: sd}}}, 0.925, 0.975}} {
		hits := 0
		for range draws {
			var x []season.Observation
			truth := make([]float64, units)
			for u := range units {
				truth[u] = 6 * random.NormFloat64()
				ground := cell(float64(u%5), float64(u/5), 1, 1)
				x = append(x, observed("2020", fmt.Sprintf("A%d", u), u+1, ground, "P", 30+sd*random.NormFloat64()))
				x = append(x, observed("2021", fmt.Sprintf("B%d", u), u+1, ground, "P", 30+truth[u]+sd*random.NormFloat64()))
			}
			for _, y := range compare(t, s, x, c.o).Units {
				if v := truth[y.UnitNumber-1]; y.Since.Low <= v && v <= y.Since.High {
					hits++
				}
			}
		}
		if share := float64(hits) / draws / units; share < c.low || share > c.top {
			t.Errorf("noise %v: %.3f of the intervals hold the truth", c.o.Noise, share)
		}
	}
}

// Other cells than the year before: figures by the area that they share.
func TestCommonGround(t *testing.T) {
	s := seasons(2, "Brook")
	x := []season.Observation{
		observed("2020", "A1", 1, cell(0, 0, 2, 1), "P", 20),
		observed("2020", "A2", 2, cell(2, 0, 2, 1), "P", 40),
		observed("2021", "B1", 1, cell(0, 0, 1, 1), "P", 22),
		observed("2021", "B2", 2, cell(1.5, 0, 1, 1), "P", 33),  // half on each
		observed("2021", "B3", 3, cell(3.25, 0, 1, 1), "P", 41), // three quarters on A2, the rest on none
		observed("2021", "B4", 4, cell(3.75, 0, 1, 1), "P", 41), // a quarter only
	}
	c := compare(t, s, x, Options{Noise: map[string]Noise{"P": {SD: 2}}})
	want := []struct {
		value, share float64
		samples      string
	}{{20, 1, "A1"}, {30, 1, "A1 A2"}, {40, 0.75, "A2"}}
	for i, w := range want {
		y := c.Units[i]
		if len(y.Points) != 2 {
			t.Fatalf("unit %d has %d points", i+1, len(y.Points))
		}
		p := y.Points[0]
		if math.Abs(p.Value-w.value) > 0.01 || math.Abs(p.Share-w.share) > 0.002 || strings.Join(p.Samples, " ") != w.samples {
			t.Errorf("unit %d: %+v, want %+v", i+1, p, w)
		}
		// A cell that is half of the earlier one stands for only part of it.
		if i == 0 && !(y.Since.SE > 2*math.Sqrt2) {
			t.Errorf("the error of ground that is not the same is left out: %v", y.Since.SE)
		}
	}
	if y := c.Units[3]; len(y.Points) != 1 || y.Since != nil {
		t.Errorf("a quarter of the ground was compared: %+v", y)
	}
	if f := c.Fields[0]; len(f.Points) != 2 || math.Abs(f.Points[0].Share-0.75) > 0.001 || math.Abs(f.Points[0].Value-30) > 0.05 {
		t.Errorf("the field: %+v", f.Points)
	}
}

// On the same cells nothing is added to the noise, and one composite that serves
// two grounds is counted once.
func TestErrorsByHand(t *testing.T) {
	s := seasons(2, "Brook")
	x := []season.Observation{
		observed("2020", "A1", 1, cell(0, 0, 1, 1), "P", 20), observed("2020", "A2", 2, cell(1, 0, 1, 1), "P", 40),
		observed("2021", "B1", 1, cell(0, 0, 1, 1), "P", 25), observed("2021", "B2", 2, cell(1, 0, 1, 1), "P", 41),
	}
	o := Options{Noise: map[string]Noise{"P": {SD: 2}}}
	c := compare(t, s, x, o)
	if y := c.Units[0].Since; math.Abs(y.SE-2*math.Sqrt2) > 1e-9 || math.Abs(y.High-5-1.959964*2*math.Sqrt2) > 1e-5 || y.Estimate != 5 {
		t.Errorf("%+v", y)
	}
	if f := c.Fields[0].Since; math.Abs(f.Estimate-3) > 0.001 || math.Abs(f.SE-2) > 0.001 {
		t.Errorf("the field: %+v", f)
	}
	x = append([]season.Observation{observed("2020", "A1", 1, cell(0, 0, 2, 1), "P", 30)}, x[2:]...)
	// var = 4 (A1 once) + 4/2; the parts of A1 that are not common cancel no more
	// than they must: grounds vary by nothing in a season of one composite.
	if f := compare(t, s, x, o).Fields[0].Since; math.Abs(f.SE-math.Sqrt(6)) > 0.001 {
		t.Errorf("one composite for two grounds: %+v", f)
	}
}

func TestWhatIsKeptApart(t *testing.T) {
	s := seasons(3, "Brook")
	s[2].Lab = "Hill"
	ground := cell(0, 0, 1, 1)
	var x []season.Observation
	for i, v := range []float64{6.1, 6.0, 5.4} {
		y := observed(s[i].Name, fmt.Sprint("A", i), 1, ground, "pH", v)
		if i == 2 {
			y.Method = "CaCl2"
		}
		x = append(x, y, observed(s[i].Name, fmt.Sprint("A", i), 1, ground, "P", 20+v))
	}
	c := compare(t, s, x, Options{})
	if len(c.Apart) != 1 || !strings.Contains(c.Apart[0], "method CaCl2 and water are not compared") {
		t.Errorf("apart: %q", c.Apart)
	}
	for _, y := range c.Units {
		want := map[string]int{"pH": 2, "P": 3}[y.Analyte]
		if len(y.Points) != want {
			t.Errorf("%s has %d points, want %d", y.Analyte, len(y.Points), want)
		}
		changed := slices.ContainsFunc(y.Notes, func(n string) bool { return strings.Contains(n, "the lab changed") })
		if changed != (y.Analyte == "P") {
			t.Errorf("%s: notes %q", y.Analyte, y.Notes)
		}
	}
	x[0].Depth = "0-15cm"
	if c := compare(t, s, x, Options{}); len(c.Apart) != 3 || len(c.Units) != 1 {
		t.Errorf("apart: %q, %d series", c.Apart, len(c.Units))
	}
}

func TestPlacesWithoutUnits(t *testing.T) {
	s := seasons(2, "Brook")
	var x []season.Observation
	for i, name := range []string{"2020", "2021"} {
		for k := range 12 {
			y := observed(name, fmt.Sprintf("%c%d", 'A'+i, k), 0, cell(float64(k)+0.05*float64(i), 0, 1, 1), "pH", 6+float64(k%3)/10+float64(i)/2)
			y.Shape = nil
			x = append(x, y)
		}
	}
	c := compare(t, s, x, Options{})
	if len(c.Units) != 12 {
		t.Fatalf("%d series", len(c.Units))
	}
	for _, y := range c.Units {
		if len(y.Points) != 2 || y.Points[0].Samples[0][1:] != y.Sample[1:] {
			t.Errorf("%s meets %+v", y.Sample, y.Points)
		}
	}
	if c = compare(t, s, x, Options{Near: 2}); len(c.Units[0].Points) != 1 {
		t.Error("places 5 m apart were taken as one")
	}
}

func TestWords(t *testing.T) {
	format := func(v float64) string { return fmt.Sprintf("%.1f", v) }
	for _, c := range []struct {
		change *Change
		want   string
	}{
		{nil, "the noise is not known"},
		{&Change{Estimate: 0.5, Low: 0.2, High: 0.8}, "rose by 0.5 (0.2 to 0.8)"},
		{&Change{Estimate: -0.5, Low: -0.8, High: -0.2}, "fell by 0.5 (0.2 to 0.8)"},
		{&Change{Estimate: 0.1, Low: -0.2, High: 0.4}, "no change that can be told from noise (-0.2 to 0.4)"},
	} {
		if got := c.change.Words(format); !strings.Contains(got, c.want) {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestRefusals(t *testing.T) {
	s := seasons(2, "")
	x := []season.Observation{observed("1999", "A1", 1, cell(0, 0, 1, 1), "pH", 6)}
	if _, err := Compare(s, x, Options{}); err == nil || !strings.Contains(err.Error(), `season "1999"`) {
		t.Error(err)
	}
	for _, o := range []Options{{Confidence: 1}, {Confidence: -1}, {LeastShare: 2}, {Near: -3}, {Near: math.NaN()}} {
		if _, err := Compare(s, nil, o); err == nil {
			t.Errorf("%+v was taken", o)
		}
	}
	if c := compare(t, s, nil, Options{}); len(c.Units)+len(c.Fields)+len(c.Apart) != 0 {
		t.Errorf("%+v", c)
	}
}

// Composites of the same unit show their noise themselves.
func TestNoiseWithinUnits(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 9))
	s := seasons(2, "Brook")
	var x []season.Observation
	for i, name := range []string{"2020", "2021"} {
		for u := range 40 {
			for k := range 2 {
				x = append(x, observed(name, fmt.Sprintf("%c%d-%d", 'A'+i, u, k), u+1, cell(float64(u%8), float64(u/8), 1, 1), "P", 30+3*random.NormFloat64()))
			}
		}
	}
	c := compare(t, s, x, Options{})
	n := c.Units[0].Noise
	if n.DF != 80 || math.Abs(n.SD-3) > 0.6 || !strings.Contains(n.How, "composites of the same unit") {
		t.Errorf("%+v", n)
	}
	if se := c.Units[0].Since.SE; math.Abs(se-n.SD) > 1e-9 { // two composites a season
		t.Errorf("error %v, noise %v", se, n.SD)
	}
}
