package report

import (
	"encoding/base64"
	"html"
	"math"
	"strconv"
	"strings"
	"testing"

	"corewalk/interp"
)

// says checks what a page says, and what it does not.
func says(t *testing.T, page string, want, not []string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(page, w) {
			t.Errorf("the page does not say %q", w)
		}
	}
	for _, w := range not {
		if strings.Contains(page, w) {
			t.Errorf("the page says %q", w)
		}
	}
}

// only returns the page of one analyte of the first field.
func only(t *testing.T, d Data, analyte int, change func(a *Analyte)) string {
	t.Helper()
	d.Fields = d.Fields[:1]
	d.Fields[0].Analytes = d.Fields[0].Analytes[analyte : analyte+1]
	if change != nil {
		change(&d.Fields[0].Analytes[0])
	}
	return write(t, d)
}

func TestDrawingsAreFolded(t *testing.T) {
	page := only(t, invented(), 0, nil)
	_, folded, ok := strings.Cut(page, "<details>")
	folded, _, closed := strings.Cut(folded, "</details>")
	if !ok || !closed {
		t.Fatal("nothing is folded")
	}
	says(t, html.UnescapeString(folded), []string{
		"<summary>How sure is this map?</summary>", `alt="plot & figures"`, `alt="map of residuals"`,
		"data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString([]byte("<svg>2</svg>")),
		"Made by inverse distance, power 2, 12 nearest.", "Found by leaving out composites, one at a time: method and power.", "4\u00a0% of the ground",
	}, nil)
	if n := strings.Count(folded, "<img "); n != 2 || !strings.Contains(folded, "plot &amp; figures") {
		t.Errorf("%d drawings", n)
	}
	says(t, only(t, invented(), 0, func(a *Analyte) { a.Drawings, a.Masked = []Drawing{{Alt: "nothing"}}, 0 }), nil, []string{"<img ", "Too far from", "no value made here"})
}

// Composites from one place are left out together.
func TestPredictedOfSharedPlaces(t *testing.T) {
	page := only(t, invented(), 0, func(a *Analyte) {
		a.Values = []Value{{ID: "HF01L", Value: 6.1}, {ID: "HF02M", Value: 6.3}, {ID: "HF03N", Value: 6.5}}
		a.CrossValidation.Each = []interp.Residual{{ID: "HF01L+HF02M", Predicted: 5.67}, {ID: "HF03N", Predicted: 5.89}}
	})
	says(t, page, []string{
		`<td class="n">6.1</td><td class="n">5.67</td>`, `<td class="n">6.3</td><td class="n">5.67</td>`, `<td class="n">6.5</td><td class="n">5.89</td>`, "From the others",
	}, nil)
	says(t, only(t, invented(), 0, func(a *Analyte) { a.CrossValidation.Each = nil }), nil, []string{"From the others"})
}

func TestDealsInWords(t *testing.T) {
	for _, c := range []struct {
		p     float64
		deals int
		want  string
	}{
		{0.008, 499, "Of 499 maps with the same figures dealt out at random over the same places, 3 were predicted as well."},
		{0.002, 499, "none was predicted as well."}, {0.004, 499, "1 was predicted as well."},
		{13.0 / 56, 55, "Of 55 maps with the same figures dealt out at random over the same places, 12 were"},
		{0, 1, "Of 1 map with"}, {0.5, 0, ""}, {math.NaN(), 499, ""},
	} {
		got := dealsInWords(interp.Structure{P: c.p, Deals: c.deals})
		if !strings.Contains(got, c.want) || (c.want == "") != (got == "") {
			t.Errorf("P %v of %d deals: %q", c.p, c.deals, got)
		}
		if c.want != "" && !strings.Contains(got, "More than 1 in 40 is taken as chance.") {
			t.Errorf("the level is not said: %q", got)
		}
	}
}

// A surface with skill that chance explains is not supported for that reason.
func TestDoubtByChance(t *testing.T) {
	chance := func(a *Analyte) {
		a.Supported = false
		a.CrossValidation.Structure = interp.Structure{P: 0.17, Deals: 76}
	}
	page := only(t, invented(), 0, chance)
	says(t, page, []string{
		"(skill 0.70, but figures dealt out at random do as well in 17\u00a0% of cases)", "What looks like a pattern may be chance", "12 were predicted as well",
		`<strong class="flag">NOT supported</strong>`, ">SURFACE NOT SUPPORTED</text>", "<h4>NOT supported</h4>",
	}, []string{"knows more than the mean", "none is relied on"})
	says(t, only(t, invented(), 0, nil), nil, []string{"SURFACE NOT SUPPORTED", `class="flag"`})
	// No skill goes before chance.
	a := Analyte{CrossValidation: interp.CrossValidation{N: 9, Skill: -0.1, SkillWithin: -0.1, Structure: interp.Structure{P: 0.6, Deals: 40}}}
	if got := doubtOf(&a); got != "skill −0.10" {
		t.Errorf("doubt %q", got)
	}
}

func TestChance(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{{0.621, "62\u00a0%"}, {1, "over 99\u00a0%"}, {0.9951, "over 99\u00a0%"}, {0.994, "99\u00a0%"}, {0, "under 1\u00a0%"}, {math.NaN(), "–"}} {
		if got := chance(c.v); got != c.want {
			t.Errorf("%v: %q", c.v, got)
		}
	}
}

func TestPatchesMeet(t *testing.T) {
	d := invented()
	says(t, top(t, d), []string{
		"Chance of a place in it to be truly beyond the limit: 82\u00a0%. It meets P-1 over 0.50 ac.", "over 99\u00a0%.", "It meets pH-1 over 0.50 ac.",
	}, nil)
	page := write(t, d)
	says(t, page, []string{
		"<br>meets P-1 over 0.50 ac", "<br>meets pH-1 over 0.50 ac", `<td class="n">82` + "\u00a0" + `%</td><td class="n">6.19</td>`,
		"patch of another analyte that meets one of these", "5.02 to 5.49",
	}, []string{"NaN"})
	if n := strings.Count(page, `class="other"`); n != 2 {
		t.Errorf("%d outlines of others", n)
	}
	// Its outline and id stand on the other map: P-1 on that of pH, pH-1 on that of P.
	for _, id := range []string{"P-1", "pH-1"} {
		if strings.Count(page, ">"+id+"</text>") != 2 {
			t.Errorf("%s is on %d maps, want its own and the other", id, strings.Count(page, ">"+id+"</text>"))
		}
	}
	// A table in which no patch has a chance has no column for it.
	_, high, _ := strings.Cut(page, "<caption>Patches: pH &gt; 6.8")
	high, _, _ = strings.Cut(high, "</table>")
	says(t, high, []string{"Field’s mean without it", `<td class="n">–</td>`}, []string{"Chance beyond"})
	d.Fields[0].Meetings = nil
	says(t, write(t, d), nil, []string{"meets", `class="other"`})
}

func TestZones(t *testing.T) {
	page := only(t, invented(), 0, nil)
	says(t, page, []string{
		`id="f1-a1-zones-t">Zones of pH (1:1 water) in North Forty</title>`, `<path class="zone" fill="#`, `<path class="blank" d="`,
		`<th scope="row" class="n">1</th><td><strong>low</strong><br>below 5.5</td><td class="n">1</td><td class="n">9.88 ac</td><td class="n">34` + "\u00a0" + `%</td><td class="n">5.20</td>`,
		`<strong>medium</strong><br>5.5 to 6.5</td><td class="n">0</td><td class="n">–</td><td class="n">–</td><td class="n">–</td>`,
		`<strong>no value</strong><br>too far from the composites</td><td class="n">1</td>`,
		"3 zones cover the ground without gap or overlap: together 29.4 ac (11.9 ha), as much as the ground has.", "3 pieces that were too small or too narrow have joined a neighbour.",
		"They were drawn on the surface", "goes by its sampling unit", "Limits of a table.", "<strong>1</strong> low, below 5.5",
	}, []string{"<strong>2</strong> medium"}) // no zone, no entry in the key
	says(t, only(t, invented(), 0, func(a *Analyte) { a.Zoning.Sum -= 500; a.Zoning.Merged = 1 }),
		[]string{"they do not cover it exactly", "1 piece that was too small or too narrow has joined"}, []string{"without gap"})
	says(t, only(t, invented(), 0, func(a *Analyte) { a.Supported = false }), []string{"drawn on it all the same"}, []string{"They were drawn on the surface: "})
	says(t, only(t, invented(), 0, func(a *Analyte) { a.Supported, a.Basis = false, "sampling units" }), []string{"The zones go by the sampling units instead"}, []string{"goes by its sampling unit"})
	for _, z := range []*Zoning{nil, {}} {
		says(t, only(t, invented(), 0, func(a *Analyte) { a.Zoning = z }), nil, []string{"Zones of", "-zones"})
	}
	// Without a place there is a table, and no map.
	d := invented()
	d.Fields[0].Boundary, d.Fields[0].Units = nil, nil
	says(t, only(t, d, 0, nil), []string{"<caption>Classes of pH"}, []string{"-zones-t"})
}

// Ground without a value must not pass for ground within the limit.
func TestUnknownGroundOfPatches(t *testing.T) {
	d := invented()
	says(t, only(t, d, 0, nil), nil, []string{"is not known; they count with the rest"})
	for i := range d.Fields[0].Units {
		d.Fields[0].Units[i].Shape = nil
	}
	says(t, only(t, d, 0, func(a *Analyte) { a.Masked = 0.48 }), []string{"Whether the 48\u00a0% of the ground that lie too far"}, []string{"goes by its sampling unit"})
}

// What the banner says must fit its map, however narrow.
func TestBannerFits(t *testing.T) {
	for _, width := range []float64{leastWidth, 500, widestMap} {
		var c chart
		c.shout(view{width: width, height: 400}, unsupportedBanner)
		for _, size := range []string{c.Banner.Wide, c.Banner.Narrow} {
			if v := parsed(t, size); v < 15 || v*0.72*float64(len(unsupportedBanner)) > width {
				t.Errorf("letters of %s on a map %g wide", size, width)
			}
		}
		if c.Top != "-50" || c.Tall != "450" {
			t.Errorf("view box from %s, %s high", c.Top, c.Tall)
		}
	}
}

func parsed(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
