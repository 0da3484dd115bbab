package interp

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestKrigingLeftOut: through the inverse as by leaving out one at a time.
func TestKrigingLeftOut(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 24))
	for round := range 30 {
		samples, v := field(r, 2+r.IntN(40), 1+r.IntN(2))
		for _, k := range []Kriging{{Variogram: v}, {Variogram: v, Near: 6}, {Variogram: v, Near: len(samples) - 1}, {Variogram: v, Radius: 100}} {
			c, errs := kriging(t, samples, k).CrossValidateWithErrors()
			if len(errs) != c.N {
				t.Fatalf("%d errors of %d", len(errs), c.N)
			}
			said := map[string]int{}
			for i, e := range c.Each {
				said[e.ID] = i
			}
			for i, s := range samples {
				others := slices.Delete(slices.Clone(samples), i, i+1)
				var value, e float64
				var ok bool
				if len(others) > 0 {
					value, e, ok = kriging(t, others, k).AtWithError(s.At, s.Division)
				}
				at, found := said[s.ID]
				if found != ok {
					t.Fatalf("round %d, %s: compared %v, alone %v", round, s.ID, found, ok)
				}
				if ok && (math.Abs(c.Each[at].Predicted-value) > 1e-9*math.Abs(value) || math.Abs(errs[at]-e) > 1e-9*e) {
					t.Errorf("round %d, near %d, %s: %.12g %.12g, alone %.12g %.12g", round, k.Near, s.ID, c.Each[at].Predicted, errs[at], value, e)
				}
			}
		}
	}
}
