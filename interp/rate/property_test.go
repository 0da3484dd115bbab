package rate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// ground is random ground that a table is for, figures from somewhat below their
// range to somewhat above.
func ground(r *rand.Rand, t *Table) (Figures, Conditions) {
	f := Figures{}
	for _, in := range t.Inputs {
		x := in.Min + (in.Max-in.Min)*(1.02*r.Float64()-0.01)
		if in.Analyte == "P" || in.Analyte == "K" {
			x *= 0.1 * r.Float64()
		}
		if in.MgPerKg > 0 {
			x *= in.MgPerKg
		}
		unit := ownUnit(in.Analyte)
		fig := Figure{Value: x, Unit: unit}
		if len(in.Methods) > 0 {
			fig.Method = in.Methods[r.IntN(len(in.Methods))]
		}
		f[in.Analyte] = fig
	}
	c := Conditions{Sample: Layer{0, t.Depth.Inches}, Organic: t.Soil == "organic"}
	if len(t.Crops) > 0 {
		crop := t.Crops[r.IntN(len(t.Crops))]
		c.Crop, c.Yield, c.YieldUnit = crop.Name, crop.Highest*r.Float64(), crop.Yield
	}
	if t.Kind == KindLime {
		c.TargetPH = t.Targets[r.IntN(len(t.Targets))]
		if t.TargetAny {
			c.TargetPH = t.Targets[0] + (t.Targets[1]-t.Targets[0])*r.Float64()
		}
	}
	return f, c
}

// No rate is below 0 or no number, an answer of 0 has its reason, and what isn't
// answered is a refusal.
func TestAnyGround(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 3))
	strange := []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, 1e300, 5e-324}
	for _, tab := range Tables() {
		answered := 0
		for i := range 3000 {
			f, c := ground(r, &tab)
			if i%4 == 0 { // something strange
				x := strange[r.IntN(len(strange))]
				switch k := r.IntN(5); {
				case k == 0:
					c.Yield = x
				case k == 1:
					c.TargetPH = x
				case k == 2:
					c.LimeDepth = x
				case k == 3:
					c.Sample.To = x
				case len(tab.Inputs) > 0:
					in := tab.Inputs[r.IntN(len(tab.Inputs))]
					fig := f[in.Analyte]
					fig.Value = x
					f[in.Analyte] = fig
				}
			}
			rec, err := tab.Recommend(f, c)
			switch {
			case err != nil:
				if why(err) == "" {
					t.Fatalf("%s: %v", tab.Name, err)
				}
				continue
			case !(rec.Rate >= 0 && rec.KgPerHa >= 0) || math.IsInf(rec.Rate, 0) || math.Signbit(rec.Rate):
				t.Fatalf("%s, %v, %+v: %v, %v kg/ha", tab.Name, f, c, rec.Rate, rec.KgPerHa)
			case tab.Kind != KindSufficiency && (rec.Rate == 0) != (rec.Reason != ""):
				t.Fatalf("%s, %v, %+v: %v, %q", tab.Name, f, c, rec.Rate, rec.Reason)
			}
			if kg, _ := KgPerHa(rec.Unit); rec.Unit != "" {
				want := rec.Rate * kg
				if rec.Material != 0 {
					want *= rec.Material / 100
				}
				if math.Abs(rec.KgPerHa-want) > 1e-9*want {
					t.Fatalf("%s: %v %s is %v kg/ha", tab.Name, rec.Rate, rec.Unit, rec.KgPerHa)
				}
			}
			answered++
		}
		if answered < 1500 {
			t.Errorf("%s answered %d of 3000", tab.Name, answered)
		}
	}
}

// More buffer pH or pH never asks for more lime, more acidity never for less, more
// of a nutrient in the soil never for more of it, a higher target or yield never for
// less.
func TestMonotone(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 4))
	for _, tab := range Tables() {
		if tab.Kind == KindSufficiency {
			continue
		}
		compared := 0
		for range 3000 {
			f, c := ground(r, &tab)
			a, err := tab.Recommend(f, c)
			if err != nil {
				continue
			}
			g, d := Figures{}, c
			for k, v := range f {
				g[k] = v
			}
			sign := -1.0
			if choice := r.IntN(3); choice == 0 && c.Yield > 0 {
				d.Yield += (tab.Crops[0].Highest - d.Yield) * r.Float64()
				sign = 1
			} else if choice == 1 && tab.TargetAny {
				d.TargetPH += (tab.Targets[1] - d.TargetPH) * r.Float64()
				sign = 1
			} else if len(tab.Inputs) > 0 {
				analyte := tab.By
				if tab.Kind == KindLime && r.IntN(2) == 0 {
					analyte = "pH"
				}
				fig := g[analyte]
				fig.Value += r.Float64() * r.Float64() * (tab.input(analyte).Max - fig.Value) * 0.3
				g[analyte] = fig
				if analyte == "H" {
					sign = 1
				}
			}
			b, err := tab.Recommend(g, d)
			if err != nil {
				continue
			}
			compared++
			if sign*(b.Rate-a.Rate) < -1e-7*(a.Rate+b.Rate) {
				t.Fatalf("%s: %v with %v, %+v, but %v with %v, %+v", tab.Name, a.Rate, f, c, b.Rate, g, d)
			}
		}
		if compared < 1000 {
			t.Errorf("%s: %d compared", tab.Name, compared)
		}
	}
}

// At the seams of build-up, maintenance and drawdown the rate doesn't jump. The
// revision of 2020 dropped drawdown: its jump to 0 is at the upper limit alone.
func TestSeams(t *testing.T) {
	for _, c := range []struct {
		table string
		seams []float64 // of corn, CEC 12
		f     func(x float64) Figures
	}{
		{"tri-state-1995-p", []float64{15, 30, 40}, func(x float64) Figures { return phosphorus(x, "Bray-1") }},
		{"tri-state-1995-k", []float64{105, 135, 155}, func(x float64) Figures { return potash(x, 12, "ammonium acetate") }},
		{"tri-state-2020-p", []float64{20}, func(x float64) Figures { return phosphorus(x, "Mehlich-3") }},
		{"tri-state-2020-k", []float64{120}, func(x float64) Figures { return potash(x, 12, "Mehlich-3") }},
	} {
		tab := table(t, c.table)
		for _, seam := range c.seams {
			const step = 1e-6
			var rates, classes = []float64{}, []string{}
			for _, x := range []float64{seam - step, seam, seam + step} {
				r := recommend(t, tab, c.f(x), corn(150, 8))
				rates, classes = append(rates, r.Rate), append(classes, r.Class)
			}
			if math.Abs(rates[0]-rates[1]) > 20*step || math.Abs(rates[1]-rates[2]) > 20*step {
				t.Errorf("%s at %v: %v", c.table, seam, rates)
			}
			if len(slices.Compact(classes)) < 2 {
				t.Errorf("%s at %v: no seam, %v", c.table, seam, classes)
			}
		}
	}
}

func TestSameEveryTime(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 5))
	for _, tab := range Tables() {
		f, c := ground(r, &tab)
		a, errA := tab.Recommend(f, c)
		b, errB := tab.Recommend(f, c)
		if (errA == nil) != (errB == nil) || !slices.Equal(Explain(a), Explain(b)) {
			t.Errorf("%s: %v, %v", tab.Name, errA, errB)
		}
	}
}

func BenchmarkRecommend(b *testing.B) {
	tables := Tables()
	tab, err := Find(tables, "tri-state-1995-k")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := tab.Recommend(potash(80, 12, "ammonium acetate"), corn(150, 8)); err != nil {
			b.Fatal(err)
		}
	}
}
