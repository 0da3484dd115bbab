package rate

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestDress(t *testing.T) {
	for _, c := range []struct {
		s                   Spreader
		rate                float64
		times               int
		each, total, change float64
	}{
		{Spreader{}, 123.4, 1, 123.4, 123.4, 0},
		{Spreader{}, 0, 0, 0, 0, 0},
		{Spreader{Largest: 2}, 2, 1, 2, 2, 0},
		{Spreader{Largest: 2}, 4.5, 3, 1.5, 4.5, 0},
		{Spreader{Largest: 2}, 4, 2, 2, 4, 0},
		{Spreader{Step: 50}, 120, 1, 100, 100, -20},
		{Spreader{Step: 50}, 125, 1, 150, 150, 25},
		{Spreader{Step: 50}, 24, 0, 0, 0, -24},
		{Spreader{Least: 100}, 49, 0, 0, 0, -49},
		{Spreader{Least: 100}, 50, 1, 100, 100, 50},
		{Spreader{Least: 100, LiftBelowLeast: true}, 1, 1, 100, 100, 99},
		{Spreader{Least: 100, Step: 30}, 100, 1, 120, 120, 20},
		{Spreader{Largest: 2, Step: 0.3}, 2, 1, 1.8, 1.8, -0.2},   // the largest multiple
		{Spreader{Largest: 2, Least: 1.5}, 2.2, 2, 1.5, 3.0, 0.8}, // two of 1.1 lie below the least
	} {
		d, err := c.s.Dress(c.rate, "kg/ha")
		if err != nil || d.Times != c.times || !near(d.Each, c.each, 1e-9) || !near(d.Total, c.total, 1e-9) || !near(d.Change, c.change, 1e-9) {
			t.Errorf("%+v %v: %+v, %v", c.s, c.rate, d, err)
		}
		if (d.Change != 0) != (len(d.Notes) > 0) && c.times <= 1 {
			t.Errorf("%+v %v: %q", c.s, c.rate, d.Notes)
		}
	}
	for i, c := range []struct {
		s    Spreader
		rate float64
		want string
	}{
		{Spreader{Step: -1}, 1, "below 0"},
		{Spreader{Least: math.NaN()}, 1, "NaN"},
		{Spreader{Largest: 2, Least: 3}, 1, "no rate"},
		{Spreader{Largest: 2, Step: 3}, 1, "no rate"},
		{Spreader{}, -1, "-1 kg/ha"},
		{Spreader{}, math.NaN(), "NaN"},
		{Spreader{Largest: 1}, 1e6, "dressings"},
	} {
		if d, err := c.s.Dress(c.rate, "kg/ha"); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%d: %+v, %v", i, d, err)
		}
	}
}

// Every dressing is one that the machine can do, and the total is told.
func TestDressHolds(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 2))
	for range 20000 {
		s := Spreader{Largest: float64(r.IntN(5)) * 1000, Least: float64(r.IntN(4)) * 100, Step: float64(r.IntN(4)) * 25, LiftBelowLeast: r.IntN(2) == 0}
		rate := r.Float64() * 9000
		d, err := s.Dress(rate, "kg/ha")
		if err != nil {
			t.Fatalf("%+v: %v", s, err)
		}
		if d.Times == 0 {
			if d.Total != 0 || !(rate < s.Least/2 || rate < s.Step/2) {
				t.Fatalf("%+v %v: %+v", s, rate, d)
			}
			continue
		}
		if s.Largest > 0 && d.Each > s.Largest || d.Each < s.Least || s.Step > 0 && math.Abs(math.Remainder(d.Each, s.Step)) > 1e-6 ||
			!near(d.Total, rate+d.Change, 1e-5) || !near(d.Total, d.Each*float64(d.Times), 1e-5) {
			t.Fatalf("%+v %v: %+v", s, rate, d)
		}
	}
}
