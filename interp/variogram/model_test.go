package variogram

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestExponential(t *testing.T) {
	worst := 0.0
	for i := range 200_000 {
		x := float64(i) / 290
		got, want := exponential(x), math.Exp(-x)
		worst = max(worst, math.Abs(got-want)/want)
	}
	if worst > 5e-16 {
		t.Errorf("worst %g", worst)
	}
	if exponential(0) != 1 || exponential(math.Inf(1)) != 0 || exponential(1e300) != 0 {
		t.Error("wrong at the ends")
	}
	for _, a := range []float64{0, 1e-9, 30, 44.999, 45, 45.001, 90, 135, 180, 200, 270, 359.9, 360, 720.5, -30} {
		s, c := direction(a)
		ws, wc := math.Sincos(a * math.Pi / 180)
		if math.Abs(s-ws) > 3e-16*max(1, math.Abs(a)/90) || math.Abs(c-wc) > 3e-16*max(1, math.Abs(a)/90) {
			t.Errorf("azimuth %g: %g %g, want %g %g", a, s, c, ws, wc)
		}
	}
	if s, c := direction(270); s != -1 || c != 0 {
		t.Errorf("west is %g, %g", s, c)
	}
}

// TestGamma has the kinds in their own words.
func TestGamma(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 2000 {
		m := Model{Nugget: r.Float64(), PartialSill: 5 * r.Float64(), Range: 1 + 300*r.Float64(), Azimuth: 360 * r.Float64(), Ratio: 0.05 + 0.95*r.Float64()}
		dx, dy := 400*r.NormFloat64(), 400*r.NormFloat64()
		s, c := math.Sincos(m.Azimuth * math.Pi / 180)
		h := math.Hypot(dx*s+dy*c, (dx*c-dy*s)/m.Ratio) / m.Range
		for k, shape := range map[Kind]float64{
			Spherical:   1.5*min(h, 1) - 0.5*math.Pow(min(h, 1), 3),
			Exponential: 1 - math.Exp(-h),
			Gaussian:    1 - math.Exp(-h*h),
		} {
			m.Kind = k
			if err := m.Validate(); err != nil {
				t.Fatal(err)
			}
			want := m.Nugget + m.PartialSill*shape
			if g := m.Gamma(dx, dy); !near(g, want, 1e-13) {
				t.Errorf("%+v at %g, %g: %g, want %g", m, dx, dy, g, want)
			}
			if v := m.Covariance(dx, dy) + m.Gamma(dx, dy); !near(v, m.Sill(), 1e-14) {
				t.Errorf("%+v: covariance and gamma make %g", m, v)
			}
			var out [1]float64
			NewCovariances(m).Between(out[:], 5, 6, []float64{5 + dx}, []float64{6 + dy})
			if !near(out[0], m.Covariance(5+dx-5, 6+dy-6), 1e-15) {
				t.Errorf("%+v: %g and %g", m, out[0], m.Covariance(dx, dy))
			}
		}
	}
	m := Model{Kind: Spherical, Nugget: 2, PartialSill: 3, Range: 10}
	if m.Gamma(0, 0) != 0 || m.Covariance(0, 0) != 5 || m.Gamma(1e-9, 0) < 2 || m.Gamma(10, 0) != 5 || m.Covariance(0, 11) != 0 {
		t.Error("wrong at the ends")
	}
	// Near 0 without loss of digits: 1.5 h/a, h/a, (h/a)^2.
	for k, want := range map[Kind]float64{Spherical: 1.5e-12, Exponential: 1e-12, Gaussian: 1e-24} {
		if g := (Model{Kind: k, PartialSill: 1, Range: 10}).Gamma(0, 1e-11); !near(g, want, 1e-10) {
			t.Errorf("%s: %g, want %g", k, g, want)
		}
	}
}

func TestModelRefused(t *testing.T) {
	good := Model{Kind: Gaussian, Nugget: 1, PartialSill: 1, Range: 5}
	for _, c := range []struct {
		change func(*Model)
		want   string
	}{
		{func(m *Model) { m.Kind = "" }, "give one of spherical, exponential, gaussian"},
		{func(m *Model) { m.Nugget = -1 }, "nugget -1"},
		{func(m *Model) { m.Nugget = math.NaN() }, "nugget NaN"},
		{func(m *Model) { m.PartialSill = math.Inf(1) }, "partial sill +Inf"},
		{func(m *Model) { m.PartialSill, m.Nugget = 0, 0 }, "both 0"},
		{func(m *Model) { m.Range = 0 }, "range of 0"},
		{func(m *Model) { m.Range = math.NaN() }, "range of NaN"},
		{func(m *Model) { m.Ratio = 1.1 }, "ratio 1.1"},
		{func(m *Model) { m.Ratio = 1e-9 }, "ratio 1e-09"},
		{func(m *Model) { m.Azimuth = 360 }, "azimuth of 360"},
	} {
		m := good
		c.change(&m)
		if err := m.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v", m, err)
		}
	}
	if err := (Model{Kind: Spherical, Nugget: 1}).Validate(); err != nil {
		t.Errorf("a pure nugget needs no range: %v", err)
	}
}
