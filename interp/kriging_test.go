package interp

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"corewalk/geo/plane"
	"corewalk/interp/variogram"
)

// seven is the example of Isaaks & Srivastava, An introduction to applied
// geostatistics (1989), pages 290-315, asked at (65, 137).
func seven() []Sample {
	var out []Sample
	for i, p := range [][3]float64{{61, 139, 477}, {63, 140, 696}, {64, 129, 227}, {68, 128, 646}, {71, 140, 606}, {73, 141, 791}, {75, 128, 783}} {
		out = append(out, Sample{ID: fmt.Sprint(i + 1), At: plane.XY{p[0], p[1]}, Value: p[2]})
	}
	return out
}

func kriging(t testing.TB, samples []Sample, k Kriging) *KrigingModel {
	t.Helper()
	m, err := NewKriging(samples, k)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestKrigingByTheBook has the figures of the book as the tests of R's geoR
// (isaaks.test.R) give them: estimate and variance, rounded. Those to four
// places are by R gstat 2.1.0 and numpy. The comments of that script give half
// the range for 12.16 to 12.20; its code, and the figures, have it as here.
func TestKrigingByTheBook(t *testing.T) {
	for _, c := range []struct {
		figure                    string
		model                     variogram.Model
		value, variance           float64 // by the book
		exactValue, exactVariance float64 // 0: not at hand
	}{
		{"12.3", variogram.Model{Kind: variogram.Exponential, PartialSill: 10, Range: 10. / 3}, 593, 8.96, 592.7289, 8.9561},
		{"12.6", variogram.Model{Kind: variogram.Exponential, PartialSill: 20, Range: 10. / 3}, 593, 17.91, 592.7289, 17.9121},
		{"12.8", variogram.Model{Kind: variogram.Gaussian, PartialSill: 10, Range: 10 / math.Sqrt(3)}, 559, 4.78, 559.3700, 4.7806},
		{"12.10", variogram.Model{Kind: variogram.Exponential, Nugget: 5, PartialSill: 5, Range: 10. / 3}, 597, 10.31, 596.7770, 10.3059},
		{"12.12", variogram.Model{Kind: variogram.Exponential, PartialSill: 10, Range: 20. / 3}, 572, 5.76, 572.3899, 5.7585},
		{"12.16", variogram.Model{Kind: variogram.Exponential, PartialSill: 10, Range: 20. / 3, Azimuth: 135, Ratio: 0.5}, 620, 6.30, 619.8083, 6.2986},
		{"12.18", variogram.Model{Kind: variogram.Exponential, PartialSill: 10, Range: 20. / 3, Azimuth: 45, Ratio: 0.5}, 574, 8.16, 574.0486, 8.1563},
		{"12.20", variogram.Model{Kind: variogram.Exponential, PartialSill: 10, Range: 100. / 3, Azimuth: 135, Ratio: 0.1}, 654, 2.83, 653.7378, 2.8300},
	} {
		m := kriging(t, seven(), Kriging{Variogram: c.model})
		v, e, ok := m.AtWithError(plane.XY{65, 137}, 0)
		if !ok || math.Round(v) != c.value || math.Round(e*e*100)/100 != c.variance || math.Abs(v-c.exactValue) > 6e-5 || math.Abs(e*e-c.exactVariance) > 6e-5 {
			t.Errorf("figure %s: %.6f, variance %.6f", c.figure, v, e*e)
		}
		if at, ok := m.At(plane.XY{65, 137}, 0); !ok || at != v {
			t.Errorf("figure %s: At says %v, AtWithError %v", c.figure, at, v)
		}
		if m.AddedNugget() != 0 {
			t.Errorf("figure %s: a nugget of %g was added", c.figure, m.AddedNugget())
		}
	}
}

// TestKrigingWeights: a figure is linear in the samples, so that a sample of 1
// among those of 0 shows its weight. The weights are numpy's, and those of 12.3
// the book's (0.173, 0.318, ..., multiplier 0.907: from memory).
func TestKrigingWeights(t *testing.T) {
	for _, c := range []struct {
		figure     string
		model      variogram.Model
		want       [7]float64
		multiplier float64
	}{
		{"12.3", variogram.Model{Kind: variogram.Exponential, PartialSill: 10, Range: 10. / 3}, [7]float64{0.1729, 0.3178, 0.1287, 0.0864, 0.1511, 0.0572, 0.0858}, 0.9066},
		{"12.8", variogram.Model{Kind: variogram.Gaussian, PartialSill: 10, Range: 10 / math.Sqrt(3)}, [7]float64{-0.0215, 0.6760, 0.1659, -0.0128, 0.4441, -0.2884, 0.0367}, 0},
	} {
		var w [7]float64
		var sum, variance float64
		samples := seven()
		for i := range samples {
			for k := range samples {
				samples[k].Value = 0
			}
			samples[i].Value = 1
			var e float64
			w[i], e, _ = kriging(t, samples, Kriging{Variogram: c.model}).AtWithError(plane.XY{65, 137}, 0)
			sum += w[i]
			variance = e * e
			if math.Abs(w[i]-c.want[i]) > 6e-5 {
				t.Errorf("figure %s: weight %d is %.5f, want %.4f", c.figure, i+1, w[i], c.want[i])
			}
		}
		if math.Abs(sum-1) > 1e-13 {
			t.Errorf("figure %s: weights make %.15f", c.figure, sum)
		}
		// The multiplier, from every equation: C w - multiplier = c, and the
		// variance is C(0) - w'c + multiplier.
		multiplier := variance - c.model.Sill()
		for i, p := range samples {
			multiplier += w[i] * c.model.Covariance(p.At[0]-65, p.At[1]-137)
		}
		if c.multiplier > 0 && math.Abs(multiplier-c.multiplier) > 6e-5 {
			t.Errorf("figure %s: multiplier %.5f", c.figure, multiplier)
		}
		for _, p := range samples {
			left := -multiplier - c.model.Covariance(p.At[0]-65, p.At[1]-137)
			for k, q := range samples {
				left += w[k] * c.model.Covariance(p.At[0]-q.At[0], p.At[1]-q.At[1])
			}
			if math.Abs(left) > 1e-12 {
				t.Errorf("figure %s: an equation is off by %g", c.figure, left)
			}
		}
	}
}

func logZinc(t testing.TB) []Sample {
	ln := meuse(t, "zinc")
	for i := range ln {
		ln[i].Value = math.Log(ln[i].Value)
	}
	return ln
}

// meuseModel is the one in the help of R's gstat.
var meuseModel = variogram.Model{Kind: variogram.Spherical, Nugget: 0.04, PartialSill: 0.59, Range: 874}

// TestKrigingMeuse has figures by R gstat 2.1.0: krige.cv and krige.
func TestKrigingMeuse(t *testing.T) {
	m := kriging(t, logZinc(t), Kriging{Variogram: meuseModel})
	c, errs := m.CrossValidateWithErrors()
	if c.N != 155 || len(errs) != 155 || math.Abs(c.RMSE-0.389171) > 5e-7 || math.Abs(c.Bias-0.000315) > 5e-7 {
		t.Errorf("n %d, rmse %.6f, bias %.6f", c.N, c.RMSE, c.Bias)
	}
	if z := MeanSquaredZ(c, errs); math.Abs(z-0.8607) > 5e-5 {
		t.Errorf("mean squared z %.5f", z)
	}
	if c := kriging(t, logZinc(t), Kriging{Variogram: meuseModel, Near: 40}).CrossValidate(); math.Abs(c.RMSE-0.387393) > 5e-7 {
		t.Errorf("40 neighbours: rmse %.6f", c.RMSE)
	}
	for _, w := range []struct {
		at              plane.XY
		value, variance float64
	}{
		{plane.XY{179500, 331000}, 5.859916, 0.196326},
		{plane.XY{180000, 331500}, 5.009594, 0.201511},
		{plane.XY{181000, 333000}, 5.526244, 0.124706},
	} {
		v, e, ok := m.AtWithError(w.at, 0)
		if !ok || math.Abs(v-w.value) > 5e-7 || math.Abs(e*e-w.variance) > 5e-7 {
			t.Errorf("at %v: %.6f, variance %.6f", w.at, v, e*e)
		}
	}
	f, lags, err := FitVariogram(logZinc(t), variogram.Classes{}, variogram.Fitting{})
	if err != nil || len(lags) != 15 || f.Kind != variogram.Spherical || math.Abs(f.Nugget-0.05066) > 5e-6 || math.Abs(f.PartialSill-0.59061) > 5e-6 || math.Abs(f.Range-897.02) > 0.05 {
		t.Errorf("%+v, %v", f, err)
	}
}

// bordered solves the equations as they are written (Isaaks & Srivastava 1989,
// ch. 12), by elimination.
func bordered(v variogram.Model, x, y, z []float64, px, py float64) (value, variance float64) {
	n := len(x)
	a := make([][]float64, n+1)
	for i := range a {
		a[i] = make([]float64, n+2)
		for j := range n + 1 {
			switch {
			case i < n && j < n:
				a[i][j] = v.Covariance(x[i]-x[j], y[i]-y[j])
			case i != j:
				a[i][j] = 1
			}
		}
		a[i][n+1] = 1
		if i < n {
			a[i][n+1] = v.Covariance(x[i]-px, y[i]-py)
		}
	}
	right := make([]float64, n+1)
	for i := range a {
		right[i] = a[i][n+1]
	}
	for c := range a {
		p := c
		for r := c; r <= n; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		a[c], a[p] = a[p], a[c]
		for r := range a {
			if f := a[r][c] / a[c][c]; r != c {
				for k := c; k < n+2; k++ {
					a[r][k] -= f * a[c][k]
				}
			}
		}
	}
	variance = v.Sill()
	for i := range a {
		w := a[i][n+1] / a[i][i]
		variance -= w * right[i]
		if i < n {
			value += w * z[i]
		}
	}
	return value, variance
}

// field makes n samples in divisions, and a model that suits them.
func field(r *rand.Rand, n, divisions int) ([]Sample, variogram.Model) {
	out := make([]Sample, n)
	for i := range out {
		x, y := 600*r.Float64(), 400*r.Float64()
		out[i] = Sample{ID: fmt.Sprint(i), At: plane.XY{500000 + x, 5e6 + y}, Value: 20 + 5*math.Sin(x/90)*math.Cos(y/70) + r.NormFloat64(), Division: r.IntN(divisions)}
	}
	m := variogram.Model{Kind: variogram.Kinds()[r.IntN(3)], Nugget: 0.2 + r.Float64(), PartialSill: 4 + 9*r.Float64(), Range: 50 + 200*r.Float64()}
	if r.IntN(2) == 0 {
		m.Azimuth, m.Ratio = 360*r.Float64(), 0.2+0.7*r.Float64()
	}
	return out, m
}

// columns are the places of a division, in the order of the input.
func columns(samples []Sample, division int) (x, y, z []float64) {
	for _, s := range samples {
		if s.Division == division {
			x, y, z = append(x, s.At[0]), append(y, s.At[1]), append(z, s.Value)
		}
	}
	return x, y, z
}

func TestKrigingAgainstTheEquations(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	for round := range 60 {
		samples, v := field(r, 1+r.IntN(70), 1+r.IntN(3))
		near := []int{0, 0, 1, 5, 12}[r.IntN(5)]
		radius := []float64{0, 0, 120}[r.IntN(3)]
		m := kriging(t, samples, Kriging{Variogram: v, Near: near, Radius: radius})
		for range 20 {
			p := plane.XY{500000 + 700*r.Float64() - 50, 5e6 + 500*r.Float64() - 50}
			division := r.IntN(3)
			x, y, z := columns(samples, division)
			x, y, z = chosen(x, y, z, p, near, radius)
			got, e, ok := m.AtWithError(p, division)
			if ok != (len(x) > 0) {
				t.Fatalf("round %d: ok %v with %d places", round, ok, len(x))
			}
			if !ok {
				continue
			}
			value, variance := bordered(v, x, y, z, p[0], p[1])
			if math.Abs(got-value) > 1e-9*math.Abs(value) || math.Abs(e*e-variance) > 1e-9*v.Sill() {
				t.Errorf("round %d, %+v: %.12g %.12g, want %.12g %.12g", round, v, got, e*e, value, variance)
			}
			if at, ok := m.At(p, division); !ok || at != got {
				t.Errorf("round %d: At says %v, AtWithError %v", round, at, got)
			}
		}
	}
}

// chosen keeps the nearest places within the radius; random ones are not tied.
func chosen(x, y, z []float64, p plane.XY, near int, radius float64) (cx, cy, cz []float64) {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	far := func(i int) float64 { return math.Hypot(x[i]-p[0], y[i]-p[1]) }
	slices.SortFunc(order, func(a, b int) int {
		if far(a) < far(b) {
			return -1
		}
		return 1
	})
	for k, i := range order {
		if (near == 0 || k < near) && (radius == 0 || far(i) <= radius) {
			cx, cy, cz = append(cx, x[i]), append(cy, y[i]), append(cz, z[i])
		}
	}
	return cx, cy, cz
}

func TestKrigingOnADatum(t *testing.T) {
	r := rand.New(rand.NewPCG(25, 26))
	samples, v := field(r, 40, 1)
	for _, near := range []int{0, 7} {
		m := kriging(t, samples, Kriging{Variogram: v, Near: near})
		for _, s := range samples {
			p := plane.XY{s.At[0] + 5e-4, s.At[1]}
			if value, e, ok := m.AtWithError(p, 0); !ok || value != s.Value || e != 0 {
				t.Errorf("%v, error %v, %v at a sample of %v", value, e, ok, s.Value)
			}
			if value, _ := m.At(p, 0); value != s.Value {
				t.Errorf("%v at a sample of %v", value, s.Value)
			}
			// A step away the nugget shows.
			if _, e, _ := m.AtWithError(plane.XY{s.At[0] + 2e-3, s.At[1]}, 0); e*e < v.Nugget {
				t.Errorf("error %v by a sample", e)
			}
		}
	}
	again := append(slices.Clone(samples), Sample{ID: "again", At: samples[3].At, Value: samples[3].Value + 2})
	if value, _ := kriging(t, again, Kriging{Variogram: v}).At(samples[3].At, 0); math.Abs(value-samples[3].Value-1) > 1e-12 {
		t.Errorf("two samples of one place give %v", value)
	}
}

func TestKrigingIsInvariant(t *testing.T) {
	r := rand.New(rand.NewPCG(27, 28))
	for range 20 {
		samples, v := field(r, 30+r.IntN(40), 2)
		for i := range samples[:20] { // a lattice has ties
			samples[i].At = plane.XY{500000 + 60*float64(i%5), 5e6 + 60*float64(i/5)}
		}
		for _, near := range []int{0, 6} {
			m := kriging(t, samples, Kriging{Variogram: v, Near: near})
			shuffled := slices.Clone(samples)
			r.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
			other := kriging(t, shuffled, Kriging{Variogram: v, Near: near})
			turn, dx, dy := 2*math.Pi*r.Float64(), 1e4*r.Float64(), 1e4*r.Float64()
			move := func(p plane.XY) plane.XY {
				s, c := math.Sincos(turn)
				x, y := p[0]-500000, p[1]-5e6
				return plane.XY{x*c + y*s + dx, y*c - x*s + dy}
			}
			for i := range shuffled {
				shuffled[i].At = move(shuffled[i].At)
			}
			turned := v
			if !turned.Isotropic() {
				turned.Azimuth = math.Mod(v.Azimuth+turn*180/math.Pi, 360)
			}
			moved := kriging(t, shuffled, Kriging{Variogram: turned, Near: near})
			for range 30 {
				p := plane.XY{500000 + 30*float64(r.IntN(20)), 5e6 + 30*float64(r.IntN(14))}
				value, e, _ := m.AtWithError(p, 0)
				if ov, oe, _ := other.AtWithError(p, 0); ov != value || oe != e {
					t.Errorf("another order: %v %v, not %v %v", ov, oe, value, e)
				}
				if mv, me, _ := moved.AtWithError(move(p), 0); math.Abs(mv-value) > 1e-7 || math.Abs(me-e) > 1e-7 {
					t.Errorf("moved: %v %v, not %v %v", mv, me, value, e)
				}
			}
		}
	}
}

func TestKrigingSingular(t *testing.T) {
	// A Gaussian without a nugget, and places far nearer than its range.
	smooth := variogram.Model{Kind: variogram.Gaussian, PartialSill: 4, Range: 500}
	r := rand.New(rand.NewPCG(29, 30))
	samples, _ := field(r, 60, 1)
	for _, near := range []int{0, 9} {
		m := kriging(t, samples, Kriging{Variogram: smooth, Near: near})
		if math.Abs(m.AddedNugget()-4e-6) > 1e-18 {
			t.Errorf("added %g", m.AddedNugget())
		}
		for range 50 {
			v, e, ok := m.AtWithError(plane.XY{500000 + 600*r.Float64(), 5e6 + 400*r.Float64()}, 0)
			if !ok || math.IsNaN(v) || math.Abs(v) > 1e6 || !(e > 0 && e < 10) {
				t.Errorf("near %d: %v, error %v, %v", near, v, e, ok)
			}
		}
		c, errs := m.CrossValidateWithErrors()
		if z := MeanSquaredZ(c, errs); c.N != 60 || math.IsNaN(c.RMSE) || !(z > 0) || math.IsInf(z, 0) {
			t.Errorf("near %d: %d compared, rmse %g, z %g", near, c.N, c.RMSE, z)
		}
	}
	// Two places 1.1 mm apart, and a range beyond every field.
	close := []Sample{{ID: "a", Value: 1}, {ID: "b", At: plane.XY{0.0011, 0}, Value: 2}, {ID: "c", At: plane.XY{50, 0}, Value: 3}}
	for _, v := range []variogram.Model{
		{Kind: variogram.Spherical, PartialSill: 1, Range: 100},
		{Kind: variogram.Spherical, PartialSill: 1, Range: 1e30},
		{Kind: variogram.Exponential, PartialSill: 1e-60, Range: 1e12},
		{Kind: variogram.Gaussian, PartialSill: 1e60, Range: 100},
		{Kind: variogram.Gaussian, PartialSill: 1, Range: 1e-6},
		{Kind: variogram.Gaussian, PartialSill: 1, Range: 100, Ratio: 1e-3, Azimuth: 90},
	} {
		for _, near := range []int{0, 2} {
			m := kriging(t, close, Kriging{Variogram: v, Near: near})
			for _, x := range []float64{-1, 0.5, 25, 1e7} {
				if value, e, ok := m.AtWithError(plane.XY{x, 1}, 0); !ok || !(math.Abs(value) < 1e5) || !(e >= 0) || math.IsInf(e, 0) {
					t.Errorf("%+v, near %d: %v, error %v, %v", v, near, value, e, ok)
				}
			}
		}
	}
}

func TestKrigingEqualFigures(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 32))
	samples, v := field(r, 50, 1)
	for i := range samples {
		samples[i].Value = 0.1
	}
	for _, near := range []int{0, 8} {
		m := kriging(t, samples, Kriging{Variogram: v, Near: near})
		for range 50 {
			if value, _ := m.At(plane.XY{500000 + 600*r.Float64(), 5e6 + 400*r.Float64()}, 0); value != 0.1 {
				t.Errorf("%v of figures of 0.1", value)
			}
		}
	}
	// A pure nugget knows the mean alone.
	one := seven()
	m := kriging(t, one, Kriging{Variogram: variogram.Model{Kind: variogram.Spherical, Nugget: 2}})
	if v, e, _ := m.AtWithError(plane.XY{65, 137}, 0); math.Abs(v-4226./7) > 1e-12 || math.Abs(e*e-2*8./7) > 1e-12 {
		t.Errorf("pure nugget: %v, variance %v", v, e*e)
	}
	// A single sample is the figure everywhere.
	m = kriging(t, one[:1], Kriging{Variogram: v})
	if v, e, ok := m.AtWithError(plane.XY{900, 137}, 0); !ok || v != 477 || !(e > 0) {
		t.Errorf("%v, error %v", v, e)
	}
	if c, errs := m.CrossValidateWithErrors(); c.N != 0 || c.LeftOut != 1 || MeanSquaredZ(c, errs) != 0 {
		t.Errorf("%+v", c)
	}
}

func TestKrigingRefused(t *testing.T) {
	good := Kriging{Variogram: meuseModel}
	crowd := make([]Sample, MostTogether+1)
	for i := range crowd {
		crowd[i] = Sample{At: plane.XY{float64(i), 0}, Value: 1}
	}
	for _, c := range []struct {
		samples []Sample
		k       Kriging
		want    string
	}{
		{seven(), Kriging{}, `"" is not known`},
		{seven(), Kriging{Variogram: meuseModel, Near: -1}, "-1 neighbours"},
		{seven(), Kriging{Variogram: meuseModel, Radius: math.Inf(1)}, "radius of +Inf"},
		{seven(), Kriging{Variogram: meuseModel, Radius: math.NaN()}, "radius of NaN"},
		{nil, good, "no sample"},
		{[]Sample{{ID: "x", Value: math.NaN()}}, good, `sample "x"`},
		{[]Sample{{ID: "x", Value: 1, Division: -1}}, good, `sample "x"`},
		{crowd, good, "at most 3000"},
	} {
		if _, err := NewKriging(c.samples, c.k); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.k, err, c.want)
		}
	}
	if _, err := NewKriging(nil, good); !errors.Is(err, ErrNoSamples) {
		t.Error(err)
	}
	if _, _, err := FitVariogram(nil, variogram.Classes{}, variogram.Fitting{}); !errors.Is(err, ErrNoSamples) {
		t.Error(err)
	}
	m := kriging(t, crowd, Kriging{Variogram: variogram.Model{Kind: variogram.Spherical, PartialSill: 1, Range: 9}, Near: 4})
	if v, _, ok := m.AtWithError(plane.XY{7.5, 1}, 0); !ok || v != 1 || m.AddedNugget() == 0 {
		t.Errorf("%v, %v, added %g", v, ok, m.AddedNugget())
	}
	m = kriging(t, seven(), good)
	if _, ok := m.At(plane.XY{1, 1}, 1); ok {
		t.Error("a figure in a division without samples")
	}
	if _, _, ok := m.AtWithError(plane.XY{math.NaN(), 1}, 0); ok {
		t.Error("a figure off the map")
	}
}

// TestKrigingFactor: the factor of four rows at a time is the factor.
func TestKrigingFactor(t *testing.T) {
	r := rand.New(rand.NewPCG(35, 36))
	for n := 1; n < 15; n++ {
		samples, v := field(r, n, 1)
		x, y, z := columns(samples, 0)
		s := (&KrigingModel{kriging: Kriging{Variogram: v}, covariances: variogram.NewCovariances(v)}).system()
		if !s.factor(x, y, z) {
			t.Fatal("no factor")
		}
		for i := range n {
			for j := range i + 1 {
				if got, want := dot(s.row(i)[:j+1], s.row(j)), v.Covariance(x[i]-x[j], y[i]-y[j]); math.Abs(got-want) > 1e-13*v.Sill() {
					t.Errorf("%d places: element %d, %d is %g, want %g", n, i, j, got, want)
				}
			}
		}
	}
}
