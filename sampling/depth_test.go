package sampling

import (
	"strings"
	"testing"
)

func TestParseDepth(t *testing.T) {
	for text, want := range map[string]Depth{
		"0-8in": {0, 8, "in"}, "0-20cm": {0, 20, "cm"}, " 6 - 24 IN ": {6, 24, "in"}, "0 to 8 inches": {0, 8, "in"},
		"2.5–7.5cm": {2.5, 7.5, "cm"}, `0-6"`: {0, 6, "in"}, "0-300cm": {0, 300, "cm"},
	} {
		got, err := ParseDepth(text)
		if err != nil || got != want {
			t.Errorf("%q: %v, %v, want %v", text, got, err, want)
		}
		if again, err := ParseDepth(got.String()); err != nil || again != got {
			t.Errorf("%q is written as %q, which reads as %v, %v", text, got.String(), again, err)
		}
	}
	for text, want := range map[string]string{
		"": "not a depth", "8in": "not a depth", "0-8": "not a depth", "0-8ft": "not a depth", "-2-8in": "not a depth", "0-8in deep": "not a depth",
		"0-1e3cm": "not a depth", "NaN-8in": "not a depth", "0..1-8in": "not a depth", "8-0in": "upper limit first", "8-8in": "upper limit first",
		"0-301cm": "below 3 m", "0-20000in": "below 3 m", "0-" + strings.Repeat("9", 400) + "cm": "below 3 m", strings.Repeat("9", 400) + "-" + strings.Repeat("9", 401) + "cm": "upper limit first",
	} {
		if d, err := ParseDepth(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.20q: %v, %v, want an error of %q", text, d, err, want)
		}
	}
	if got := (Depth{0, 10, "in"}).Metres(); !about(got, 0.254, 1e-12) {
		t.Errorf("10 in are %g m", got)
	}
}
