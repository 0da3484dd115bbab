package lab

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

func TestParseNumber(t *testing.T) {
	comma := decimals{}                                          // a comma-separated file
	open := decimals{commas: true}                               // nothing known yet
	byComma := decimals{commas: true, byComma: true}             // decimal commas
	both := decimals{commas: true, byComma: true, byPoint: true} // a muddle
	bad := math.NaN()
	for _, c := range []struct {
		text string
		d    decimals
		want float64
	}{
		{"6.5", comma, 6.5}, {"-0.25", comma, -0.25}, {"+7", comma, 7}, {".5", comma, 0.5}, {"5.", comma, 5}, {"007", comma, 7}, {"1e3", comma, 1000},
		{"1.5E-3", comma, 0.0015}, {"\u2212 4", comma, bad}, {"\u22124", comma, -4}, {"\u00a06.5\u00a0", comma, 6.5}, {"1.234", comma, 1.234},
		{"6,5", comma, bad}, {"6,5", open, 6.5}, {"6,5", byComma, 6.5}, {"0,123", open, 0.123}, {"1234,567", open, 1234.567},
		{"1,234", comma, bad}, {"1,234", open, bad}, {"1,234", byComma, 1.234}, {"1,234", both, bad}, {"1.234", byComma, bad}, {"1.234", both, bad},
		{"1,234.5", comma, 1234.5}, {"1,234,567", comma, 1234567}, {"1.234,5", comma, bad}, {"1.234,5", open, 1234.5}, {"1.234.567", byComma, 1234567},
		{"1.234.567", open, bad}, {"1,23,4", open, bad}, {"12,34.5", comma, bad}, {"1.2,3.4", open, bad}, {"0,123.5", comma, bad},
		{"1\u00a0234,5", byComma, 1234.5}, {"1\u202f234", comma, 1234}, {"1 234", comma, bad}, {"1\u00a02345", comma, bad},
		{"NaN", comma, bad}, {"Inf", comma, bad}, {"-inf", comma, bad}, {"0x10", comma, bad}, {"1_000", comma, bad}, {"1e", comma, bad}, {"1e+-3", comma, bad},
		{"1e9999", comma, bad}, {"1e400", comma, bad}, {"1e16", comma, bad}, {"--5", comma, bad}, {"+-5", comma, bad}, {"-", comma, bad}, {".", comma, bad},
		{"", comma, bad}, {"e5", comma, bad}, {"5 ppm", comma, bad}, {"5%", comma, bad}, {"٣", comma, bad}, {"1/2", comma, bad},
	} {
		got, err := parseNumber(tidy(c.text), c.d)
		if math.IsNaN(c.want) {
			if err == nil {
				t.Errorf("%q with %+v: got %v, want an error", c.text, c.d, got)
			}
		} else if err != nil || got != c.want {
			t.Errorf("%q with %+v: got %v, %v, want %v", c.text, c.d, got, err, c.want)
		}
	}
}

// Whatever is written in one of the plain ways is read as the same number.
func TestParseNumberWritten(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	for range 5000 {
		want := math.Round(rng.NormFloat64()*math.Pow(10, float64(rng.IntN(8)))) / math.Pow(10, float64(rng.IntN(4)))
		plain := strconv.FormatFloat(want, 'f', -1, 64)
		comma := strings.Replace(plain, ".", ",", 1)
		for text, d := range map[string]decimals{
			plain:                                  {},
			strings.Replace(plain, "-", "−", 1):    {},
			comma:                                  {commas: true, byComma: true},
			strconv.FormatFloat(want, 'e', -1, 64): {},
		} {
			if got, err := parseNumber(tidy(text), d); err != nil || got != want {
				t.Fatalf("%q: got %v, %v, want %v", text, got, err, want)
			}
		}
	}
}

func TestMean(t *testing.T) {
	for _, c := range []struct {
		cells    string
		value    float64
		censored string
		spread   float64
		flagged  bool
	}{
		{"5", 5, "", 0, false}, {"<4", 2, "<", 0, false}, {">9", 9, ">", 0, false},
		{"1.1 1.3", 1.2, "", 0.2, true}, {"0.95 1.05", 1, "", 0.1, false}, {"0.94 1.06", 1, "", 0.12, true},
		{"<4 <4", 2, "<", 0, false}, {"<4 3", 2.5, "", 1, true}, {"<4 >4", 3, "", 2, true}, {"0 0", 0, "", 0, false}, {"-1 1", 0, "", 2, true},
	} {
		var values []Value
		for cell := range strings.FieldsSeq(c.cells) {
			values = append(values, parseValue(cell, decimals{}))
		}
		m := mean(values)
		if m.Value != c.value || m.Censored != c.censored || m.Spread != c.spread || m.Flagged != c.flagged || m.N != len(values) {
			t.Errorf("%s: got %+v", c.cells, m)
		}
		if strings.ContainsAny(c.cells, "<>") != strings.Contains(m.Note, "a limit") {
			t.Errorf("%s: note %q", c.cells, m.Note)
		}
	}
}
