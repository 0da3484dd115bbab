package report

import (
	"math"
	"strings"
	"testing"
)

// withRates is the invented farm with rates on its first field.
func withRates() Data {
	d := invented()
	nan := math.NaN()
	d.Cautions = []string{"ask <first>", "mind the dust"}
	ground := func(id string, x0, y0, x1, y1, area, rate, uniform float64) RatedGround {
		return RatedGround{ID: id, Division: "management unit corn", Crop: "corn, 180 bu/ac", Shape: rect(x0, y0, x1, y1), Area: area, Rate: rate, Passes: 1, Uniform: uniform, Needs: "1785 lb/ac of CaCO3"}
	}
	lime := Rate{
		Product: "stone & dust", Of: "CaCO3", Basis: "zones of pH", Money: "USD", Uniform: 2000,
		Tables: []RateTable{{Name: "some-lime", Source: "A. Author, A Bulletin (1999)", Verified: "reprint", Note: "for a test"}},
		Grounds: []RatedGround{
			ground("pH-1", 0, 200, 200, 400, 40_000, 4483.404624, 2000),
			ground("pH-2", 200, 200, 400, 400, 40_000, 0, 2000),
			ground("pH-3", 0, 0, 200, 200, 40_000, nan, 2000),
		},
		Balance: Balance{
			Area: 80_000, NoRate: 40_000, Mass: 17933.618496, UniformMass: 16000, Cost: 500, UniformCost: 446,
			Over: 8000, Under: 9933.618496, OverArea: 40_000, UnderArea: 40_000,
		},
	}
	lime.Grounds[0].Passes = 2
	lime.Grounds[1].Reason, lime.Grounds[1].Passes = "pH 6.9 is at or above the target of 6.5", 0
	lime.Grounds[2].Refused, lime.Grounds[2].Passes = "buffer pH is missing", 0
	pure := Rate{
		Of: "P2O5", Basis: "sampling units", Uniform: nan,
		Tables:  []RateTable{{Name: "some-p", Source: "B. Author", Verified: "memory"}},
		Grounds: []RatedGround{ground("A1", 0, 200, 400, 400, 80_000, 50, nan)},
		Balance: Balance{Area: 80_000, Mass: 400, UniformMass: nan, Cost: nan, UniformCost: nan, Over: nan, Under: nan},
	}
	d.Fields[0].Rates = []Rate{lime, pure}
	return d
}

func TestRatesOnThePage(t *testing.T) {
	d := withRates()
	d.US = true
	page := write(t, d)
	for _, want := range []string{
		"ask &lt;first&gt;", "stone &amp; dust",
		"19.77 tons",    // 17933.6 kg of 907.18474 kg
		"4000</strong>", // 4483.404624 kg/ha are 4000 lb/ac
		"17.64 tons",    // the one rate
		"8.82 tons",     // too much
		"10.95 tons",    // too little
		"500 USD", "446 USD",
		"1784 lb/ac", // 2000 kg/ha
		"pH 6.9 is at or above the target of 6.5", "buffer pH is missing",
		"A. Author, A Bulletin (1999); figures seen in another’s print of them",
		"figures from memory, NOT checked against print",
		"No product was chosen", "882 lb",
		"over a quarter too much", "over a quarter too little", "no rate, on",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if n := strings.Count(page, "mind the dust"); n != 1 {
		t.Errorf("the cautions stand %d times on the page", n)
	}
	if caution, first := strings.Index(page, "mind the dust"), strings.Index(page, "19.77 tons"); caution > first {
		t.Error("figures come before the cautions")
	}
	if n := strings.Count(page, "What one rate of"); n != 1 {
		t.Errorf("%d maps of the difference, want 1: of a product without one rate there is none", n)
	}
	d.US = false
	page = write(t, d)
	for _, want := range []string{"17.93 t", "4483</strong>", "2000 kg/ha", "400 kg"} {
		if !strings.Contains(page, want) {
			t.Errorf("in metric units the page lacks %q", want)
		}
	}
}

func TestNoRatesNoCautions(t *testing.T) {
	page := write(t, invented())
	for _, no := range []string{"What to spread", "Read this before", "Dressings"} {
		if strings.Contains(page, no) {
			t.Errorf("a page without rates has %q", no)
		}
	}
}

// A table that refuses everywhere, and one that has classes without rates.
func TestNoRateAndClasses(t *testing.T) {
	d := withRates()
	r := &d.Fields[0].Rates[1]
	r.Grounds[0].Rate, r.Grounds[0].Refused = math.NaN(), "P is by Olsen"
	page := write(t, d)
	if !strings.Contains(page, "No rates of P2O5 by some-p") || !strings.Contains(page, "P is by Olsen") {
		t.Error("the page does not say that there is no rate")
	}
	r.Grounds[0].Refused, r.Grounds[0].Class, r.Of = "", "very low", ""
	if page = write(t, d); !strings.Contains(page, "Classes by some-p") || !strings.Contains(page, "very low") {
		t.Error("the page does not show the classes")
	}
}

func TestManyGroundsAreCut(t *testing.T) {
	d := withRates()
	r := &d.Fields[0].Rates[1]
	for range 70 {
		r.Grounds = append(r.Grounds, r.Grounds[0])
	}
	if page := write(t, d); !strings.Contains(page, "11 more are in rates.csv.") {
		t.Error("71 grounds are not cut to 60")
	}
}
