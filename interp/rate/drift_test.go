package rate

import (
	"math"
	"strings"
	"testing"
)

// 150 bushels of corn take off about 55 lb of P2O5, which is about 3 mg/kg of
// soil test; 6 to 10 lb of K2O are 1 mg/kg, by the exchange capacity (Ohio State
// Extension in agprofessional.com, 2012; seen).
func TestDrift(t *testing.T) {
	p, err := table(t, "tri-state-1995-p").Drift("corn", 150, "bu/ac", math.NaN())
	if err != nil || math.Abs(p-55.5/20) > 1e-12 || math.Abs(p-3) > 0.3 {
		t.Errorf("P falls by %v, %v", p, err)
	}
	for cec, pounds := range map[float64]float64{10: 6, 20: 8, 30: 10} {
		k, err := table(t, "tri-state-2020-k").Drift("corn", 180, "bu/ac", cec)
		if err != nil || math.Abs(k-180*0.20/pounds) > 1e-12 {
			t.Errorf("K falls by %v at a CEC of %v, %v", k, cec, err)
		}
	}
	for _, c := range []struct {
		table, crop string
		yield       float64
		unit        string
		cec         float64
		want        string
	}{
		{"iowa-2002-lime", "corn", 150, "bu/ac", 10, "no rule of build-up"},
		{"tri-state-2020-p", "rye", 150, "bu/ac", 10, `does not know the crop "rye"`},
		{"tri-state-2020-p", "corn", 150, "t/ha", 10, "in bu/ac"},
		{"tri-state-2020-p", "corn", 4000, "bu/ac", 10, "up to 400"},
		{"tri-state-2020-k", "corn", 150, "bu/ac", math.NaN(), "exchange capacity"},
	} {
		if _, err := table(t, c.table).Drift(c.crop, c.yield, c.unit, c.cec); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}
