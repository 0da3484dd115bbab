package main

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// square is one of 100 m a side, its southwest corner at x, y.
func square(x, y float64) plane.Shape {
	return plane.Shape{orb.Polygon{{{x, y}, {x + 100, y}, {x + 100, y + 100}, {x, y + 100}, {x, y}}}}
}

func TestPageZoning(t *testing.T) {
	set := zoneSet{zones: []zoneRecord{
		{class: 1, shape: square(0, 0), figures: figures{area: 100, mean: 6, pixels: 3}},
		{class: 1, figures: figures{area: 50, mean: 7, pixels: 1}},
		{class: -1, figures: figures{area: 9}},
		{class: 2, figures: figures{area: 5}}, // too narrow for the middle of a pixel
	}}
	set.limits, set.names = []float64{5.5, 6.5}, []string{"low", "medium"}
	z := pageZoning(set, partition{Merged: 4, Ground: 164, Sum: 163})
	if len(z.Classes) != 3 || len(z.Zones) != 4 || z.Merged != 4 || z.Ground != 164 || z.Sum != 163 || z.Source != "" {
		t.Fatalf("%+v", z)
	}
	low, medium, high := z.Classes[0], z.Classes[1], z.Classes[2]
	if low.Name != "low" || low.Limits != "below 5.5" || low.Zones != 0 || !math.IsNaN(low.Mean) {
		t.Errorf("low: %+v", low)
	}
	// Zones count by their ground: (3 x 6 + 1 x 7) / 4.
	if medium.Limits != "5.5 to 6.5" || medium.Zones != 2 || medium.Area != 150 || medium.Mean != 6.25 {
		t.Errorf("medium: %+v", medium)
	}
	if high.Name != "" || high.Zones != 1 || high.Area != 5 || !math.IsNaN(high.Mean) {
		t.Errorf("high: %+v", high)
	}
	if z.Zones[2].Class != -1 || z.Zones[2].Area != 9 || z.Zones[0].Shape.Empty() {
		t.Errorf("zones: %+v", z.Zones)
	}
}

func TestSourceText(t *testing.T) {
	for _, c := range []struct {
		classing
		want string
	}{
		{classing{}, ""},
		{classing{classSpec: classSpec{quantiles: 3}}, "say nothing of what it needs"},
		{classing{source: "x: y (z, verified: seen)"}, "table x: y (z, verified: seen). The figures were read in the source. A table"},
		{classing{source: "x: y (z, verified: reprint)"}, "in another’s print of the source: check"},
		{classing{source: "x: y (z, verified: memory)"}, "NOT checked against the source"},
	} {
		if got := sourceText(c.classing); !strings.Contains(got, c.want) || (got == "") != (c.want == "") {
			t.Errorf("%q: %q", c.source, got)
		}
	}
	// The words are those that the tables use.
	tables, err := readTables(nil)
	if err != nil || len(tables) == 0 {
		t.Fatalf("%d tables: %v", len(tables), err)
	}
	for _, table := range tables {
		if text := sourceText(classing{source: "t (p, verified: " + table.Verified + ")"}); !strings.Contains(text, "The figures were") {
			t.Errorf("table %s is verified by %q, which the page has no words for", table.Name, table.Verified)
		}
	}
}

func TestExclusionsNear(t *testing.T) {
	// An L of which the exclusion fills the empty corner.
	f := &geo.Field{Boundary: plane.Shape{orb.Polygon{{{0, 0}, {300, 0}, {300, 100}, {100, 100}, {100, 300}, {0, 300}, {0, 0}}}}}
	far := square(190, 190)
	f.Exclusions = []geo.Exclusion{
		{Name: "in it", Shape: square(20, 20)},
		{Name: "in the empty corner", Shape: far},
		{Name: "in the empty corner, kept off far", Shape: far, Setback: 130},
		{Name: "elsewhere", Shape: square(900, 900), Lines: []plane.Line{{}, {{900, 900}, {950, 900}}}, Points: []geo.XY{{800, 0}}},
		{Name: "line", Lines: []plane.Line{{{-50, 50}, {50, 50}}}},
		{Name: "point beside", Points: []geo.XY{{-5, 50}}, Setback: 10},
		{Name: "point too far", Points: []geo.XY{{-15, 50}}, Setback: 10},
		{Name: "nothing"},
	}
	var names []string
	for _, x := range exclusionsNear(f) {
		names = append(names, x.Name)
	}
	if got := strings.Join(names, "; "); got != "in it; in the empty corner, kept off far; line; point beside" {
		t.Errorf("near are %s", got)
	}
}

// The page of a run shows what the files of its steps hold.
func TestPageOfARun(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, "demo", dir)
	path := filepath.Join(dir, "job.yaml")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text := string(data)
	for key, line := range map[string]string{
		"surface": "surface: {analytes: [pH, P, K], pixel: 10m, method: auto, power: auto, near: auto}",
		"zone":    `zone: {classes: ["pH: 5.5, 6, 6.5", "P: table new-jersey-p", "K: quantiles 3"], patch: ["pH < 6.0", "K < 170"], smallest: 0.25ac, least-width: 15m}`,
		"out":     "out: second",
	} {
		text = regexp.MustCompile("(?m)^"+key+":.*(\n +.*)*$").ReplaceAllLiteralString(text, line)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	mustCall(t, "run", path)
	data, err = os.ReadFile(filepath.Join(dir, "second", "report.html"))
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	for _, want := range []string{
		"From the others</th>", "<summary>How sure is this map?", "Of 499 maps", "Found by leaving out composites, one at a time: method",
		"Made by ", "too far from the composites", "Chance beyond</th>", "It meets K-low-1 over", "<br>meets pH-low-1 over", "SURFACE NOT SUPPORTED",
		"Zones of pH", "cover the ground without gap or overlap", "<strong>very low</strong><br>below 12.5", "Rutgers", "The figures were read in the source.",
		"say nothing of what it needs", "The zones go by the sampling units instead", "figures dealt out at random do as well in",
		`<dt>Least width</dt><dd><span class="us">49 ft</span><span class="me">15 m</span></dd>`, "Smallest zone or patch",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	page, _, _ = strings.Cut(page, "<script>")
	// Pictures are letters, too, and may come by any three of them.
	words := regexp.MustCompile(`base64,[^"]*"`).ReplaceAllString(page, "")
	if strings.Contains(words, "NaN") || strings.Contains(words, "do not cover") {
		t.Error("the page says NaN, or that zones leave ground out")
	}
	// Two drawings to each of nine surfaces, and each says what it shows.
	if n := len(regexp.MustCompile(`<img src="data:image/svg&#43;xml;base64,[^"]{1000,}" alt="[^"]{80,}">`).FindAllString(page, -1)); n != 18 {
		t.Errorf("%d drawings, want 18", n)
	}
	residuals, err := readResiduals(filepath.Join(dir, "second", residualsFile), everyAnalyte)
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	for _, each := range residuals {
		rows += len(each)
	}
	// All rows have a prediction but those of figures that the lab gave a limit of,
	// which are written with a sign.
	if n := len(regexp.MustCompile(`<td class="n">[0-9.]+</td><td class="n">[0-9.]+</td></tr>`).FindAllString(page, -1)); n < rows-2 {
		t.Errorf("%d rows have a prediction, %d were left out and predicted", n, rows)
	}
}
