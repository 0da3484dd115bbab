package interp

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"corewalk/geo/plane"
)

// TestIsaaksLeaveOneOut has predictions by R gstat 2.1.0.
func TestIsaaksLeaveOneOut(t *testing.T) {
	want := map[string]float64{"1": 676.53545, "2": 498.13369, "3": 650.13309, "4": 431.21193, "5": 754.51821, "6": 604.12241, "7": 578.16990}
	c := model(t, isaaks, IDW{Power: 2}).CrossValidate()
	if c.N != 7 || c.LeftOut != 0 || len(c.Each) != 7 {
		t.Fatalf("%+v", c)
	}
	for _, e := range c.Each {
		if math.Abs(e.Predicted-want[e.ID]) > 5e-6 {
			t.Errorf("%s: %.5f, want %.5f", e.ID, e.Predicted, want[e.ID])
		}
	}
	if math.Abs(c.RMSE-239.9635) > 5e-5 || math.Abs(c.Bias-4.73933) > 5e-6 {
		t.Errorf("rmse %.4f, bias %.5f", c.RMSE, c.Bias)
	}
	if c.Supported() {
		t.Errorf("supported with skill %g", c.Skill)
	}
}

// TestMeuse has figures by R gstat 2.1.0.
func TestMeuse(t *testing.T) {
	zinc := meuse(t, "zinc")
	ln := meuse(t, "zinc")
	for i := range ln {
		ln[i].Value = math.Log(ln[i].Value)
	}
	for _, c := range []struct {
		name            string
		samples         []Sample
		idw             IDW
		bias, rmse, mae float64
	}{
		{"zinc", zinc, IDW{Power: 1, Near: 0}, 0.721678, 332.650404, 258.503595},
		{"zinc", zinc, IDW{Power: 2, Near: 0}, 1.158558, 278.273379, 204.443271},
		{"zinc", zinc, IDW{Power: 3, Near: 0}, 4.054701, 257.545975, 176.960668},
		{"zinc", zinc, IDW{Power: 4, Near: 0}, 6.549255, 260.423330, 170.565503},
		{"zinc", zinc, IDW{Power: 2, Near: 5}, 10.032127, 251.140407, 166.873952},
		{"zinc", zinc, IDW{Power: 2, Near: 8}, 12.717240, 252.804033, 166.893589},
		{"zinc", zinc, IDW{Power: 2, Near: 12}, 11.521163, 256.454036, 171.518935},
		{"ln zinc", ln, IDW{Power: 1, Near: 0}, -0.001992, 0.639299, 0.555672},
		{"ln zinc", ln, IDW{Power: 2, Near: 0}, -0.012816, 0.513833, 0.430201},
		{"ln zinc", ln, IDW{Power: 3, Near: 0}, -0.011865, 0.459566, 0.358684},
	} {
		v := model(t, c.samples, c.idw).CrossValidate()
		if v.N != 155 || math.Abs(v.Bias-c.bias) > 5e-7 || math.Abs(v.RMSE-c.rmse) > 5e-7 || math.Abs(v.MAE-c.mae) > 5e-7 {
			t.Errorf("%s %v: n %d bias %.6f rmse %.6f mae %.6f, want %.6f %.6f %.6f", c.name, c.idw, v.N, v.Bias, v.RMSE, v.MAE, c.bias, c.rmse, c.mae)
		}
	}
	for _, c := range []struct {
		at   plane.XY
		want [3]float64 // powers 1, 2, 3
	}{
		{plane.XY{179500, 331000}, [3]float64{458.858982, 489.569701, 590.754455}},
		{plane.XY{180000, 331500}, [3]float64{410.648776, 316.767696, 247.232872}},
		{plane.XY{181000, 333000}, [3]float64{419.236957, 314.618422, 263.708532}},
	} {
		for i, want := range c.want {
			if got, _ := model(t, zinc, IDW{Power: float64(i + 1)}).At(c.at, 0); math.Abs(got-want) > 5e-7 {
				t.Errorf("power %d at %v: %.6f, want %.6f", i+1, c.at, got, want)
			}
		}
	}
	for at, want := range map[plane.XY]float64{{181180, 333740}: 633.6864, {181140, 333700}: 712.5450, {181180, 333700}: 654.1617} {
		if got, _ := model(t, zinc, IDW{Power: 2}).At(at, 0); math.Abs(got-want) > 5e-5 {
			t.Errorf("at %v: %.4f, want %.4f", at, got, want)
		}
	}
}

// TestOxfordSkill: the mean of the others is the same reference as the plain
// mean, but for the factor (n/(n-1))^2. The sums are by R gstat 2.1.0.
func TestOxfordSkill(t *testing.T) {
	for _, c := range []struct {
		analyte string
		plain   float64 // 1 - SSE/SST
	}{
		{"PH1", 0.5071195}, {"PHOS1", 0.1313528}, {"POT1", 0.1270163}, {"MG1", 0.5226408},
	} {
		v := model(t, oxford(t, c.analyte), IDW{Power: 2}).CrossValidate()
		want := 1 - (1-c.plain)*math.Pow(125./126, 2)
		if math.Abs(v.Skill-want) > 1e-6 || math.Abs(v.SkillWithin-v.Skill) > 1e-12 || !v.Supported() {
			t.Errorf("%s: skill %.7f, within %.7f, want %.7f", c.analyte, v.Skill, v.SkillWithin, want)
		}
	}
}

func TestSkill(t *testing.T) {
	division := func(d int, values ...float64) []Sample {
		var out []Sample
		for i, v := range values {
			out = append(out, Sample{ID: fmt.Sprintf("%d-%d", d, i), At: plane.XY{float64(i), float64(d)}, Value: v, Division: d})
		}
		return out
	}
	for _, c := range []struct {
		name           string
		samples        []Sample
		n, left        int
		field, within  int // signs
		supported      bool
		exactlyNothing bool
	}{
		{name: "a slope", samples: division(0, 1, 2, 3, 4, 5, 6, 7), n: 7, field: 1, within: 1, supported: true},
		{name: "four of a slope", samples: division(0, 1, 2, 3, 4), n: 4, field: 1, within: 1},
		{name: "up and down", samples: division(0, 1, 9, 1, 9, 1, 9), n: 6, field: -1, within: -1},
		{name: "up and down in unlike divisions", samples: append(division(0, 1, 2, 1, 2, 1), division(1, 91, 92, 91, 92, 91)...), n: 10, field: 1, within: -1},
		{name: "all equal", samples: division(0, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1), n: 7, exactlyNothing: true},
		{name: "equal within", samples: append(division(0, 0.1, 0.1, 0.1), division(1, 0.7, 0.7, 0.7)...), n: 6, field: 1, exactlyNothing: true},
		{name: "alone", samples: append(division(0, 4), division(1, 5)...), left: 2},
		{name: "one alone", samples: append(division(0, 4), division(1, 5, 6, 7)...), n: 3, left: 1, field: 1, within: 1},
	} {
		v := model(t, c.samples, IDW{Power: 2}).CrossValidate()
		sign := func(f float64) int {
			switch {
			case f > 0:
				return 1
			case f < 0:
				return -1
			}
			return 0
		}
		if v.N != c.n || v.LeftOut != c.left || sign(v.Skill) != c.field || sign(v.SkillWithin) != c.within || v.Supported() != c.supported {
			t.Errorf("%s: %+v, supported %v", c.name, v, v.Supported())
		}
		if c.exactlyNothing && v.RMSE > 1e-15 {
			t.Errorf("%s: rmse %g", c.name, v.RMSE)
		}
		if _, err := json.Marshal(v); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

func TestCrossValidationOfMergedPlace(t *testing.T) {
	v := model(t, append(line(0, 10, 100, 20, 200, 30), Sample{ID: "again", At: plane.XY{0, 0}, Value: 14}), IDW{Power: 2}).CrossValidate()
	if v.N != 3 || v.Each[0].ID != "0+again" || v.Each[0].Observed != 12 || v.Each[0].Predicted != 22 {
		t.Errorf("%+v", v)
	}
	out, err := json.Marshal(v)
	if err != nil || !strings.HasPrefix(string(out), `{"n":3,"left_out":0,"bias":`) || !strings.Contains(string(out), `"each":[{"id":"0+again","x":0,"y":0,"observed":12,"predicted":22}`) {
		t.Errorf("%s, %v", out, err)
	}
}

// TestLeftOutHasNoSay: equal others give exactly their figure, whatever the one
// left out has.
func TestLeftOutHasNoSay(t *testing.T) {
	r := rand.New(rand.NewPCG(10, 11))
	for round := range 200 {
		samples := []Sample{{ID: "odd", At: plane.XY{r.Float64(), r.Float64()}, Value: 5}}
		for i := range 2 + r.IntN(9) {
			samples = append(samples, Sample{ID: fmt.Sprint(i), At: plane.XY{r.Float64(), r.Float64()}, Value: 0.1})
		}
		for _, near := range []int{0, 2, len(samples), 99} {
			for _, e := range model(t, samples, IDW{Power: 2, Near: near}).CrossValidate().Each {
				if e.ID == "odd" && e.Predicted != 0.1 {
					t.Fatalf("round %d, %d nearest: %v predicted from figures of 0.1", round, near, e.Predicted)
				}
			}
		}
	}
}
