package estimate

import (
	"math"
	"strings"
	"testing"
)

func nearAll(got []float64, want ...string) bool {
	for i := range want {
		if len(got) != len(want) || !near(got[i], want[i]) {
			return false
		}
	}
	return true
}

// The example of TestScheaffer: shares of 40 (recomputed from its values).
func TestSharesOfScheaffer(t *testing.T) {
	sizes := []float64{155, 62, 93}
	if got, err := Proportional(40, sizes); err != nil || !nearAll(got, "20.000000000", "8.000000000", "12.000000000") {
		t.Errorf("in proportion: %v, %v", got, err)
	}
	sds := []float64{math.Sqrt(35.357895), math.Sqrt(232.410714), math.Sqrt(87.636364)}
	got, err := Neyman(40, sizes, sds, nil)
	if err != nil || !nearAll(got, "13.47", "13.81", "12.72") {
		t.Errorf("by Neyman: %v, %v", got, err)
	}
	if same, err := Neyman(40, sizes, sds, []float64{3, 3, 3}); err != nil || !within(same[0], got[0], 1e-12) || !within(same[2], got[2], 1e-12) {
		t.Errorf("at one cost: %v, %v", same, err)
	}
	// A sample at four times the cost counts half.
	if got, err := Neyman(30, []float64{10, 10}, []float64{2, 2}, []float64{1, 4}); err != nil || !nearAll(got, "20.000000000", "10.000000000") {
		t.Errorf("at two costs: %v, %v", got, err)
	}
	if got, err := Neyman(5, sizes, []float64{0, 7, 0}, nil); err != nil || !nearAll(got, "0.000000000", "5.000000000", "0.000000000") {
		t.Errorf("with one that varies: %v, %v", got, err)
	}
}

// Cochran 1977, Sampling Techniques, chapter 5: 24 of 64 cities, variances of
// the estimated total. Figures from memory, and recomputed.
func TestCochran(t *testing.T) {
	total := func(strata ...Allotment) float64 {
		t.Helper()
		v, err := PlannedVariance(strata)
		if err != nil {
			t.Fatal(err)
		}
		return v * 64 * 64
	}
	s, s1, s2 := math.Sqrt(52448), math.Sqrt(53843), math.Sqrt(5581)
	n, err := Proportional(24, []float64{16, 48})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		v        float64
		want, sd string
	}{
		"simple random": {total(Allotment{64, s, 24, 64}), "5594453.3", "2365"},
		"proportional":  {total(Allotment{16, s1, n[0], 16}, Allotment{48, s2, n[1], 48}), "1882293.3", "1372"},
		"equal":         {total(Allotment{16, s1, 12, 16}, Allotment{48, s2, 12, 48}), "1090826.7", "1044"},
	} {
		if !near(c.v, c.want) || !near(math.Sqrt(c.v), c.sd) {
			t.Errorf("%s: %v, its root %v; want %s and %s", name, c.v, math.Sqrt(c.v), c.want, c.sd)
		}
	}
}

// Neyman's shares have the least variance: moving some from any stratum to any
// other makes it larger. With costs, at one cost of all.
func TestNeymanIsBest(t *testing.T) {
	sizes, sds := []float64{3, 10, 4, 1}, []float64{5, 1, 2.5, 9}
	for _, costs := range [][]float64{{1, 1, 1, 1}, {2, 1, 5, 3}} {
		n, err := Neyman(50, sizes, sds, costs)
		if err != nil {
			t.Fatal(err)
		}
		variance := func(from, to int, cost float64) float64 {
			var strata []Allotment
			for i := range sizes {
				a := Allotment{Size: sizes[i], SD: sds[i], N: n[i]}
				if i == from {
					a.N -= cost / costs[i]
				}
				if i == to {
					a.N += cost / costs[i]
				}
				strata = append(strata, a)
			}
			v, err := PlannedVariance(strata)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		best := variance(0, 0, 0)
		for from := range sizes {
			for to := range sizes {
				if from != to && !(variance(from, to, 0.1) > best) {
					t.Errorf("costs %v: less from %d to %d", costs, from, to)
				}
			}
		}
	}
}

func TestAllocationRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	two := []float64{1, 2}
	for _, c := range []struct {
		n                 int
		sizes, sds, costs []float64
		want              string
	}{
		{0, two, two, nil, "0 samples cannot be shared"}, {-1, two, two, nil, "-1 samples"},
		{5, nil, nil, nil, "there are no strata"},
		{5, []float64{1, 0}, two, nil, "stratum 2: a size of 0 is not above 0"}, {5, []float64{nan, 1}, two, nil, "a size of NaN"}, {5, []float64{1, inf}, two, nil, "a size of +Inf"},
		{5, []float64{1e308, 1e308}, two, nil, "too large or too small"},
	} {
		if got, err := Neyman(c.n, c.sizes, c.sds, c.costs); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("Neyman, %q: %v, %v", c.want, got, err)
		}
		if got, err := Proportional(c.n, c.sizes); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("Proportional, %q: %v, %v", c.want, got, err)
		}
	}
	for _, c := range []struct {
		sds, costs []float64
		want       string
	}{
		{two[:1], nil, "2 sizes, 1 standard deviations and 0 costs do not belong together"}, {two, two[:1], "2 sizes, 2 standard deviations and 1 costs"},
		{[]float64{1, -1}, nil, "stratum 2: a standard deviation of -1"}, {[]float64{nan, 1}, nil, "deviation of NaN"}, {[]float64{inf, 1}, nil, "deviation of +Inf"},
		{[]float64{0, 0}, nil, "no stratum has a standard deviation above 0"},
		{two, []float64{1, 0}, "stratum 2: a cost of 0"}, {two, []float64{inf, 1}, "a cost of +Inf"},
	} {
		if got, err := Neyman(5, two, c.sds, c.costs); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, %v", c.want, got, err)
		}
	}
	for _, a := range []Allotment{{0, 1, 1, 0}, {1, -1, 1, 0}, {1, 1, 0, 0}, {1, 1, 1, -1}, {nan, 1, 1, 0}, {1, nan, 1, 0}, {1, 1, inf, 0}, {1, 1, 1, nan}, {1, 1, 5, 4}, {1, 1e200, 1, 0}} {
		if v, err := PlannedVariance([]Allotment{{1, 1, 1, 0}, a}); err == nil {
			t.Errorf("%+v: %v", a, v)
		}
	}
	if v, err := PlannedVariance(nil); err == nil {
		t.Errorf("no strata: %v", v)
	}
}
