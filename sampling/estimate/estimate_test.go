package estimate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
)

func mustMean(t testing.TB, strata []Stratum, confidence float64) Estimate {
	t.Helper()
	e, err := Mean(strata, confidence)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// near reports whether got is want to the digits that want is written with.
func near(got float64, want string) bool {
	digits := 0
	if i := strings.IndexByte(want, '.'); i >= 0 {
		digits = len(want) - i - 1
	}
	return fmt.Sprintf("%.*f", digits, got) == want
}

func within(a, b, relative float64) bool {
	return math.Abs(a-b) <= relative*math.Max(math.Abs(a), math.Abs(b))
}

// scheaffer is the example of hours of television in two towns and a rural area
// of Scheaffer, Mendenhall and Ott, Elementary Survey Sampling, used in lesson
// 6.1 of STAT 506 of Penn State. Seen: the numbers of households 155, 62 and 93,
// and in a reprint the sample sizes. From memory: the values, of which the means
// are those of the textbook.
func scheaffer() []Stratum {
	return []Stratum{
		{"A", 155, []float64{35, 28, 26, 41, 43, 29, 32, 37, 36, 25, 29, 31, 39, 38, 40, 45, 28, 27, 35, 34}, 155},
		{"B", 62, []float64{27, 4, 49, 10, 15, 41, 25, 30}, 62},
		{"rural", 93, []float64{8, 15, 21, 7, 14, 30, 20, 11, 12, 32, 34, 24}, 93},
	}
}

// The results are from memory (in the text 27.7, 1.97 and 2.8) and were
// recomputed from the values to the digits here.
func TestScheaffer(t *testing.T) {
	strata := scheaffer()
	for i, want := range []struct{ mean, variance string }{{"33.900", "35.357895"}, {"25.125", "232.410714"}, {"19.000", "87.636364"}} {
		var m moments
		for _, v := range strata[i].Values {
			m.add(v)
		}
		if !near(m.mean, want.mean) || !near(m.variance(), want.variance) {
			t.Errorf("stratum %s: mean %v, variance %v; want %+v", strata[i].Name, m.mean, m.variance(), want)
		}
	}
	e := mustMean(t, strata, 0.95)
	for what, c := range map[string]struct {
		got  float64
		want string
	}{
		"mean": {e.Mean, "27.675"}, "variance": {e.SE * e.SE, "1.969519"}, "standard error": {e.SE, "1.403396"},
		"bound": {2 * e.SE, "2.806791"}, "total": {310 * e.Mean, "8579.25"}, "its error": {310 * e.SE, "435.0527"},
		"degrees of freedom": {e.DF, "21.09"},
		// 2.079 is the t of tables for 21 degrees of freedom, from memory.
		"half-width": {(e.High - e.Low) / 2 / 1.403396, "2.079"}, "middle": {(e.High + e.Low) / 2, "27.675"},
	} {
		if !near(c.got, c.want) {
			t.Errorf("%s is %v, want %s", what, c.got, c.want)
		}
	}
	if e.N != 40 || e.Strata != 3 || e.Covered != 1 || e.Method != Stratified || e.Notes != nil || e.Confidence != 0.95 {
		t.Errorf("%+v", e)
	}
	for i := range strata {
		strata[i].Population = 0
	}
	if e = mustMean(t, strata, 0.95); !near(e.SE*e.SE, "2.261300") || !near(e.SE, "1.503762") {
		t.Errorf("without correction for the population: %+v", e)
	}
}

// One stratum is a simple random sample. 8.5 ± 2.776 √(15.25/5) is worked by
// hand; 2.776 is the t of tables for 4 degrees of freedom, from memory.
func TestSimpleRandomSample(t *testing.T) {
	values := []float64{3, 6, 10, 12.5, 11}
	e := mustMean(t, []Stratum{{Size: 2.5, Values: values}}, 0.95)
	if e.Method != SimpleRandom || e.Mean != 8.5 || !within(e.SE, math.Sqrt(15.25/5), 1e-12) || e.DF != 4 || !near((e.High-e.Mean)/e.SE, "2.776") {
		t.Errorf("%+v", e)
	}
	if c := mustMean(t, []Stratum{{Size: 2.5, Values: values, Population: 10}}, 0.95); !within(c.SE, e.SE*math.Sqrt(0.5), 1e-12) {
		t.Errorf("5 of 10: %+v", c)
	}
}

// random makes strata of every kind.
func random(r *rand.Rand) []Stratum {
	strata := make([]Stratum, 1+r.IntN(9))
	for i := range strata {
		n := []int{1, 1, 2, 3, 7, 20}[r.IntN(6)]
		if len(strata) == 1 {
			n++
		}
		s := Stratum{Size: 0.1 + 10*r.Float64()}
		if r.IntN(3) == 0 {
			s.Population = n + r.IntN(20)
		}
		center, spread := 20*r.Float64(), 0.1+5*r.Float64()
		for range n {
			s.Values = append(s.Values, center+spread*r.NormFloat64())
		}
		strata[i] = s
	}
	return strata
}

// numbers lists what scales with the values of an estimate.
func numbers(e Estimate) []float64 { return []float64{e.Mean, e.SE, e.Low, e.High} }

func TestMeanKeepsItsProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 14))
	for range 500 {
		strata := random(r)
		e := mustMean(t, strata, 0.9)
		changed := func(f func(*Stratum)) Estimate {
			c := slices.Clone(strata)
			for i := range c {
				c[i].Values = slices.Clone(c[i].Values)
				f(&c[i])
			}
			return mustMean(t, c, 0.9)
		}
		each := func(s *Stratum, f func(float64) float64) {
			for i, v := range s.Values {
				s.Values[i] = f(v)
			}
		}
		for what, c := range map[string]struct {
			got         Estimate
			shift, grow float64
		}{
			"shifted": {changed(func(s *Stratum) { each(s, func(v float64) float64 { return v + 100 }) }), 100, 1},
			"scaled":  {changed(func(s *Stratum) { each(s, func(v float64) float64 { return v * 7 }) }), 0, 7},
			"in ares": {changed(func(s *Stratum) { s.Size *= 100 }), 0, 1},
			// An empty stratum takes nothing from the others but the cover.
			"with an empty one": {mustMean(t, append(slices.Clone(strata), Stratum{Size: 3}), 0.9), 0, 1},
			// The order of the values counts for nothing.
			"backwards": {changed(func(s *Stratum) { slices.Reverse(s.Values) }), 0, 1},
		} {
			for i, want := range numbers(e) {
				want *= c.grow
				if i != 1 {
					want += c.shift
				}
				if got := numbers(c.got)[i]; math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
					t.Fatalf("%s: %+v\nfrom %+v", what, c.got, e)
				}
			}
			if !within(c.got.DF, e.DF, 1e-9) || c.got.Method != e.Method || c.got.N != e.N {
				t.Fatalf("%s: %+v\nfrom %+v", what, c.got, e)
			}
		}
		// Values all the same have no error, to the last digit.
		same := changed(func(s *Stratum) { each(s, func(float64) float64 { return 0.1 }) })
		if !slices.Equal(numbers(same), []float64{0.1, 0, 0.1, 0.1}) {
			t.Fatalf("the same everywhere: %+v", same)
		}
		if !(e.Low <= e.Mean && e.Mean <= e.High) || e.SE > 0 && !(e.DF >= 0.999999 && e.DF < float64(e.N)) {
			t.Fatalf("%+v", e)
		}
	}
}

// Strata of one value, equal in size: the variance is the sum of the squared
// differences of the totals within pairs (Cochran 1977, section 5A.12, from
// memory), here of means with weights of 1/4. Worked by hand.
func TestCollapsedStrata(t *testing.T) {
	one := func(size float64, values ...float64) Stratum { return Stratum{Size: size, Values: values} }
	for name, c := range map[string]struct {
		strata   []Stratum
		mean, v  float64
		df       float64
		method   Method
		mentions string
	}{
		"two pairs": {[]Stratum{one(9, 3), one(9, 5), one(9, 10), one(9, 14)}, 8, (2*2 + 4*4) / 16., 2, Collapsed, "4 strata have one value each and were joined in pairs of neighbours for"},
		"one pair":  {[]Stratum{one(1, 3), one(1, 5)}, 4, 4 / 4., 1, Collapsed, "2 strata"},
		// s² of 1, 2 and 6 is 7.
		"a triple": {[]Stratum{one(1, 1), one(1, 2), one(1, 6)}, 3, 3 * 7 / 9., 2, Collapsed, "3 strata have one value each and were joined for"},
		// The factors are 2/25 of the pair and 3/25 of the triple.
		"a pair and a triple": {[]Stratum{one(1, 0), one(1, 2), one(1, 1), one(1, 2), one(1, 6)}, 11 / 5., 2*2/25. + 3*7/25., 25 / (4. + 9/2.), Collapsed, "the last three together"},
		// Weights 3/4 and 1/4: (9/16 + 1/16) times s² = 8.
		"unequal": {[]Stratum{one(3, 2), one(1, 6)}, 3, 10 / 16. * 8, 1, Collapsed, "2 strata"},
		// The middle one has s²/n = 1 by itself.
		"a pair round another": {[]Stratum{one(1, 3), one(2, 6, 8), one(1, 5)}, (3 + 14 + 5) / 4., 2*2/16. + 4/16., 1 / (0.25 + 0.25), Collapsed, "2 strata"},
		// s² of 3, 6 and 9 is 9, with 2 degrees.
		"alone at the end":   {[]Stratum{one(2, 6, 9), one(1, 3)}, 6, (4/9./2 + 1/9.) * 9, 2, Collapsed, "1 stratum has one value and was joined with its neighbour"},
		"alone at the start": {[]Stratum{one(1, 3), one(2, 6, 9)}, 6, (4/9./2 + 1/9.) * 9, 2, Collapsed, "1 stratum"},
		// The only place of a stratum leaves no error to estimate.
		"measured throughout": {[]Stratum{{"", 1, []float64{3}, 1}, one(1, 5, 7)}, 4.5, 1 / 4., 1, Stratified, ""},
		"beside one such":     {[]Stratum{{"", 1, []float64{3}, 1}, one(1, 5)}, 4, 2 / 4., 1, Collapsed, "1 stratum"},
		"all of them":         {[]Stratum{{"", 1, []float64{3}, 1}, {"", 1, []float64{5, 7}, 2}}, 4.5, 0, 0, Stratified, ""},
	} {
		e := mustMean(t, c.strata, 0.95)
		if !within(e.Mean, c.mean, 1e-12) || !within(e.SE*e.SE, c.v, 1e-12) || !within(e.DF, c.df, 1e-12) || e.Method != c.method {
			t.Errorf("%s: %+v, variance %v; want %+v", name, e, e.SE*e.SE, c)
		}
		if (e.Method == Collapsed) != (len(e.Notes) == 1) || !strings.Contains(strings.Join(e.Notes, "\n"), c.mentions) {
			t.Errorf("%s: notes %q", name, e.Notes)
		}
	}
}

// Over all samples of one value from each of small strata the mean of the
// estimated variances is the true one when strata are alike, whatever their
// weights, and larger when their means differ; the form of Hansen, Hurwitz and
// Madow falls short of it with weights that differ.
func TestCollapsedVarianceIsNotTooSmall(t *testing.T) {
	for _, c := range []struct {
		weights []float64
		apart   float64
	}{{[]float64{1, 1}, 0}, {[]float64{2, 1}, 0}, {[]float64{2, 1}, 3}, {[]float64{5, 2, 3}, 0}, {[]float64{5, 2, 3}, 1}} {
		deviations := []float64{-1, 0, 4}
		variance := 17/3. - 1 // of one value drawn
		whole, trueV := 0.0, 0.0
		for _, w := range c.weights {
			whole += w
		}
		for _, w := range c.weights {
			trueV += w * w / whole / whole * variance
		}
		var mean, older float64
		count := int(math.Pow(3, float64(len(c.weights))))
		for k := range count {
			var strata []Stratum
			for h, w := range c.weights {
				strata = append(strata, Stratum{Size: w, Values: []float64{c.apart*float64(h) + deviations[k%3]}})
				k /= 3
			}
			e := mustMean(t, strata, 0.95)
			mean += e.SE * e.SE / float64(count)
			if len(c.weights) == 2 {
				w1, w2 := c.weights[0]/whole, c.weights[1]/whole
				d := strata[0].Values[0] - strata[1].Values[0]
				older += 4 * w1 * w1 * w2 * w2 / (w1 + w2) / (w1 + w2) * d * d / float64(count)
			}
		}
		if c.apart == 0 && !within(mean, trueV, 1e-12) || c.apart > 0 && mean < 1.1*trueV {
			t.Errorf("weights %v, means %g apart: estimated variances have mean %v, the true one is %v", c.weights, c.apart, mean, trueV)
		}
		if slices.Equal(c.weights, []float64{2, 1}) && c.apart == 0 && !near(older/trueV, "0.71") {
			t.Errorf("the form of Hansen, Hurwitz and Madow gives %v of %v", older, trueV)
		}
	}
}

func TestStrataWithoutValues(t *testing.T) {
	strata := []Stratum{{Name: "north", Size: 2}, {Size: 3, Values: []float64{4, 6}}, {Size: 1, Values: []float64{9, 11}}, {Size: 2}}
	e := mustMean(t, strata, 0.95)
	want := mustMean(t, strata[1:3], 0.95)
	if e.Covered != 0.5 || e.Strata != 2 {
		t.Errorf("%+v", e)
	}
	if note := "2 of 4 strata have no value (north, stratum 4): the estimate is of the others, 50.0 % of the whole"; !slices.Equal(e.Notes, []string{note}) {
		t.Errorf("notes %q", e.Notes)
	}
	e.Covered, e.Notes = want.Covered, want.Notes
	if !reflect.DeepEqual(e, want) {
		t.Errorf("%+v\nwant %+v", e, want)
	}
	many := append(make([]Stratum, 1000), Stratum{Size: 1, Values: []float64{1, 2}})
	for i := range many {
		many[i].Size = 1
	}
	if e := mustMean(t, many, 0.95); e.Method != SimpleRandom || len(e.Notes) != 1 || len(e.Notes[0]) > 200 || !strings.Contains(e.Notes[0], "stratum 5 and 995 more") {
		t.Errorf("%+v", e)
	}
}

func TestMeanRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	two := []float64{1, 2}
	for want, strata := range map[string][]Stratum{
		"there are no values to estimate from":          {},
		"no values to estimate":                         {{Size: 1}, {Size: 2}},
		"one value has no standard error; take at":      {{Size: 1}, {Size: 2, Values: two[:1]}},
		"back: a size of 0 is not above 0":              {{Name: "back", Values: two}},
		"stratum 2: a size of -1 is not":                {{Size: 1, Values: two}, {Size: -1}},
		"stratum 1: a size of NaN is not":               {{Size: nan, Values: two}},
		"stratum 1: a size of +Inf is not":              {{Size: inf, Values: two}},
		"stratum 1: value 2 is NaN, not a finite":       {{Size: 1, Values: []float64{1, nan}}},
		"stratum 1: value 1 is -Inf, not a finite":      {{Size: 1, Values: []float64{-inf, 1}}},
		"2 values cannot come from a population of 1":   {{Size: 1, Values: two, Population: 1}},
		"2 values cannot come from a population of -1":  {{Size: 1, Values: two, Population: -1}},
		"the values are too large to reckon with":       {{Size: 1, Values: []float64{1e308, -1e308}}},
		"values are too large":                          {{Size: 1, Values: []float64{1e200, 1}}},
		"the sizes of the strata add up to more than":   {{Size: 1e308, Values: two}, {Size: 1e308, Values: two}},
		"the sizes of the strata add up to more than c": {{Size: 1e308, Values: two}, {Size: 1e308}},
	} {
		if e, err := Mean(strata, 0.95); err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v, %+v; want %q", err, e, want)
		}
	}
	for _, c := range []float64{nan, inf, -1, 0, 0.05, 1, 95, 0.99999} {
		if e, err := Mean(scheaffer(), c); err == nil || !strings.Contains(err.Error(), "is out of range; take 0.5 to 0.9999") {
			t.Errorf("confidence %g: %v, %+v", c, err, e)
		}
	}
	// The most that is let in gives figures.
	for _, c := range []float64{0.5, 0.9999} {
		if e := mustMean(t, scheaffer(), c); !(e.Low < e.Mean && e.Mean < e.High) {
			t.Errorf("confidence %g: %+v", c, e)
		}
	}
}

// Normal values in strata of one size: intervals cover as often as they say.
func TestIntervalsCover(t *testing.T) {
	for name, c := range map[string]struct {
		strata, values int
		apart          float64
		least, most    float64
	}{
		"one":         {1, 4, 0, 0.94, 0.96},
		"four of ten": {4, 10, 10, 0.94, 0.96},
		// Satterthwaite's degrees of freedom are on the safe side of so few values.
		"four of three":        {4, 3, 10, 0.95, 0.98},
		"twelve of one, alike": {12, 1, 0, 0.94, 0.96},
		"thirteen of one":      {13, 1, 0, 0.94, 0.96},
		"twelve that differ":   {12, 1, 1, 0.97, 1},
	} {
		const draws = 10_000
		r := rand.New(rand.NewPCG(2, 71))
		covered := 0
		for range draws {
			strata := make([]Stratum, c.strata)
			for h := range strata {
				strata[h].Size = 1
				for range c.values {
					strata[h].Values = append(strata[h].Values, c.apart*float64(h)+r.NormFloat64())
				}
			}
			e := mustMean(t, strata, 0.95)
			if m := c.apart * float64(c.strata-1) / 2; e.Low <= m && m <= e.High {
				covered++
			}
		}
		share := float64(covered) / draws
		t.Logf("%s: %.4f", name, share)
		if share < c.least || share > c.most {
			t.Errorf("%s: intervals at 0.95 cover the mean in %.4f of the draws", name, share)
		}
	}
}
