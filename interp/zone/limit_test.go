package zone

import (
	"math"
	"strings"
	"testing"
)

func TestParseLimit(t *testing.T) {
	for in, want := range map[string]Limit{
		"pH < 6.0":             {"pH", "<", 6},
		"P<15":                 {"P", "<", 15},
		" K <= 130 ":           {"K", "<=", 130},
		"organic matter>=2.5":  {"organic matter", ">=", 2.5},
		"P > 1e2":              {"P", ">", 100},
		"Al > -.5":             {"Al", ">", -0.5},
		"lime = buffer < +7.":  {"lime = buffer", "<", 7},
		"Cu (DTPA) < 0.000002": {"Cu (DTPA)", "<", 0.000002},
	} {
		got, err := ParseLimit(in)
		if err != nil || got != want {
			t.Errorf("%q: %+v, %v, want %+v", in, got, err, want)
			continue
		}
		if again, err := ParseLimit(got.String()); err != nil || again != got {
			t.Errorf("%q is written %q and read %+v, %v", in, got, again, err)
		}
	}
	if s := (Limit{"pH", "<", 6.25}).String(); s != "pH < 6.25" {
		t.Errorf("written %q", s)
	}
	for in, want := range map[string]string{
		"":               "there is no <",
		"pH":             "there is no <",
		"pH = 6":         "there is no <",
		"< 6":            "analyte is missing before <",
		"6 > pH":         "analyte comes first",
		"pH <":           "number is missing after <",
		"pH =< 6":        "=< is not known",
		"pH << 6":        "one comparison",
		"pH <> 6":        "one comparison",
		"5 < pH < 6":     "analyte comes first",
		"pH < 6 < 7":     "one comparison",
		"pH < 6,5":       "decimal point",
		"P < 15 ppm":     `"15 ppm" is not a plain number`,
		"P < NaN":        "not a plain number",
		"P < Inf":        "not a plain number",
		"P < 0x10":       "not a plain number",
		"P < 1_000":      "not a plain number",
		"P < 1e999":      "too large",
		"P < .":          "not a plain number",
		"P < \u221215":   "not a plain number",
		"P \u2264 15":    "there is no <",
		"P < 15\x00\xff": "not a plain number",
	} {
		_, err := ParseLimit(in)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), `write it like "pH < 6.0"`) {
			t.Errorf("%q: %v, want %q", in, err, want)
		}
	}
}

func TestBeyond(t *testing.T) {
	for _, c := range []struct {
		op                 string
		under, equal, over bool
		low                bool
	}{
		{"<", true, false, false, true},
		{"<=", true, true, false, true},
		{">", false, false, true, false},
		{">=", false, true, true, false},
		{"==", false, false, false, false},
	} {
		l := Limit{"pH", c.op, 6}
		if l.Beyond(5) != c.under || l.Beyond(6) != c.equal || l.Beyond(7) != c.over || l.Low() != c.low || l.Beyond(math.NaN()) {
			t.Errorf("%s: %v %v %v, low %v, NaN %v", l, l.Beyond(5), l.Beyond(6), l.Beyond(7), l.Low(), l.Beyond(math.NaN()))
		}
	}
}

func FuzzParseLimit(f *testing.F) {
	for _, s := range []string{"pH < 6.0", "P<15", "<", "a>=1e9", "x<=-.5", "\xff>0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := ParseLimit(s)
		if err != nil {
			return
		}
		if again, err := ParseLimit(l.String()); err != nil || again != l {
			t.Errorf("%q is %+v, written %q, read %+v, %v", s, l, l.String(), again, err)
		}
	})
}
