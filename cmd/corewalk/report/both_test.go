package report

import (
	"strings"
	"testing"
)

func TestSettle(t *testing.T) {
	x := Both("3 ac", "1.2 ha")
	in := `<p title="` + x + `">` + x + ` and ` + x + `</p><title>` + x + `</title><svg><text x="1"><title>` + x + `</title>` + x + `</text><desc>` + x +
		`</desc></svg><path data-t="pH, ` + x + `" class="` + x + `"/><script>"` + x + `"</script><style>a{}</style>`
	const spans, tspans = `<span class="us">3 ac</span><span class="me">1.2 ha</span>`, `<tspan class="us">3 ac</tspan><tspan class="me">1.2 ha</tspan>`
	for american, own := range map[bool]string{true: "3 ac", false: "1.2 ha"} {
		want := `<p title="` + own + `">` + spans + ` and ` + spans + `</p><title>` + own + `</title><svg><text x="1"><title>` + own + `</title>` + tspans + `</text><desc>` + own +
			`</desc></svg><path data-t="pH, {3 ac|1.2 ha}" class="` + own + `"/><script>"{3 ac|1.2 ha}"</script><style>a{}</style>`
		if got := string(settle([]byte(in), american)); got != want {
			t.Errorf("settled as\n%s\nwant\n%s", got, want)
		}
	}
	if longer(x) != 6 || Both("0", "0") != "0" {
		t.Error("a text of both is miscounted")
	}
}

// Whatever comes in, what comes out has none of the signs, and does not panic.
func TestSettleOfStraySigns(t *testing.T) {
	for _, s := range []string{inUS, inUS + "a", inUS + inUS + "a" + inMetric, "<p>" + inEither + inMetric + "</p>" + inUS, "<", "<script", "<text>", "<text><title>", "<title>" + inUS} {
		out := string(settle([]byte(s+inUS), true))
		if strings.Contains(out, inUS) {
			t.Errorf("%q is settled as %q", s, out)
		}
	}
}
