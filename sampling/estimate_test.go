package sampling

import (
	"math"
	"math/rand/v2"
	"testing"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/sampling/estimate"
)

// surface is a known one: a slope, a bowl and waves.
func surface(p geo.XY) float64 {
	x, y := (p[0]-574_600)/400, (p[1]-4_653_500)/400
	return 5 + 1.5*x - y + 2*x*x + math.Sin(7*x)*math.Cos(5*y)
}

// mean takes the mean of the surface over a shape on a raster of half a metre.
func mean(s plane.Shape) float64 {
	inside := plane.NewLocator(s)
	b := s.Bound()
	sum, n := 0.0, 0
	for y := b.Min[1] + 0.25; y < b.Max[1]; y += 0.5 {
		for x := b.Min[0] + 0.25; x < b.Max[0]; x += 0.5 {
			if p := (geo.XY{x, y}); inside.Contains(p) {
				sum += surface(p)
				n++
			}
		}
	}
	return sum / float64(n)
}

// tally gathers estimates that should be of one mean.
type tally struct {
	want                    float64
	n, covered              int
	sum, squares, variances float64
	method                  estimate.Method
}

func (y *tally) add(t *testing.T, strata []estimate.Stratum) {
	t.Helper()
	e, err := estimate.Mean(strata, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	d := e.Mean - y.want
	y.n++
	y.sum += d
	y.squares += d * d
	y.variances += e.SE * e.SE
	y.method = e.Method
	if e.Low <= y.want && y.want <= e.High {
		y.covered++
	}
}

// variance is that of the estimated means.
func (y *tally) variance() float64 {
	n := float64(y.n)
	return (y.squares - y.sum*y.sum/n) / (n - 1)
}

// check holds the estimates against what was said of them: no bias, to 3
// standard errors, the variance claimed over the true one within a range, and so
// the share of the intervals that cover the mean.
func (y *tally) check(t *testing.T, what string, ratio, cover [2]float64) {
	t.Helper()
	n := float64(y.n)
	off := y.sum / n / math.Sqrt(y.variance()/n)
	claimed, covered := y.variances/n/y.variance(), float64(y.covered)/n
	t.Logf("%s, %d times: %+.2f standard errors off, variance claimed %.3f of the true one %.3g, intervals cover %.4f", what, y.n, off, claimed, y.variance(), covered)
	if math.Abs(off) > 3 {
		t.Errorf("%s: the mean of the estimates is %+.2f standard errors off", what, off)
	}
	if claimed < ratio[0] || claimed > ratio[1] {
		t.Errorf("%s: the variance claimed is %.3f of the true one", what, claimed)
	}
	if covered < cover[0] || covered > cover[1] {
		t.Errorf("%s: %.4f of the intervals cover the mean", what, covered)
	}
}

// The mean of a field from cores at random in strata is unbiased whatever the
// weights, and its interval covers as often as it says. With one core to a
// stratum it varies less than that of as many cores anywhere (de Gruijter, Brus,
// Bierkens and Knotters 2006, Sampling for Natural Resource Monitoring, chapter
// 7; from memory), and the variance claimed is too large, on so smooth a surface
// by several times, because it holds the differences between neighbours.
//
// Strata are made once; cores are drawn anew by what a plan draws them with.
func TestEstimatesAreUnbiased(t *testing.T) {
	f := setBack(t)
	want := mean(f.Sampleable)
	variance := map[string]float64{}
	for _, c := range []struct {
		what         string
		p            Params
		cores        int
		method       estimate.Method
		ratio, cover [2]float64
	}{
		{"6 cores in each of 12 strata", Params{Design: Strata, Samples: 12}, 6, estimate.Stratified, [2]float64{0.95, 1.05}, [2]float64{0.93, 0.97}},
		{"2 cores in each of 5 strata", Params{Design: Strata, Samples: 5}, 2, estimate.Stratified, [2]float64{0.95, 1.05}, [2]float64{0.93, 0.99}},
		{"1 core in each of 12 strata", Params{Design: Strata, Samples: 12}, 1, estimate.Collapsed, [2]float64{1, 8}, [2]float64{0.95, 1}},
		{"12 cores anywhere", Params{Design: Units}, 12, estimate.SimpleRandom, [2]float64{0.95, 1.05}, [2]float64{0.93, 0.97}},
	} {
		c.p.Cores, c.p.Setback, c.p.Seed = 1, f.Setback, 77
		units := mustMake(t, c.p, f).Fields[0].Units
		strata := make([]estimate.Stratum, len(units))
		drawers := make([]*plane.Drawer, len(units))
		for i, u := range units {
			drawers[i] = plane.NewDrawer(u.Sampleable)
			strata[i] = estimate.Stratum{Name: u.ID(), Size: u.Sampleable.Area(), Values: make([]float64, c.cores)}
		}
		r := rand.New(rand.NewPCG(5, 55))
		y := tally{want: want}
		for range 10_000 {
			for i, d := range drawers {
				for k := range strata[i].Values {
					p, _ := d.Draw(r)
					strata[i].Values[k] = surface(p)
				}
			}
			y.add(t, strata)
		}
		y.check(t, c.what, c.ratio, c.cover)
		if y.method != c.method {
			t.Errorf("%s: a %s", c.what, y.method)
		}
		variance[c.what] = y.variance()
	}
	if one, other := variance["1 core in each of 12 strata"], variance["12 cores anywhere"]; one > 0.36*other {
		t.Errorf("the mean over strata has variance %.3g, of as many cores anywhere %.3g", one, other)
	}
}

// The same of whole plans, strata and all, of one seed each. Limits are three
// standard errors of so few.
func TestEstimatesFromPlansAreUnbiased(t *testing.T) {
	f := setBack(t)
	y := tally{want: mean(f.Sampleable)}
	for seed := range uint64(200) {
		plan := mustMake(t, Params{Design: Strata, Samples: 3, Cores: 8, Setback: f.Setback, Seed: seed}, f)
		var strata []estimate.Stratum
		for _, u := range plan.Fields[0].Units {
			s := estimate.Stratum{Name: u.ID(), Size: u.Sampleable.Area()}
			for _, c := range u.Cores {
				s.Values = append(s.Values, surface(c.At))
			}
			strata = append(strata, s)
		}
		y.add(t, strata)
	}
	y.check(t, "8 cores in each of 3 strata", [2]float64{0.7, 1.3}, [2]float64{0.904, 0.996})
}
