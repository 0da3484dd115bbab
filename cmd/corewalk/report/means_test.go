package report

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"corewalk/sampling/lab"
)

func TestMeansAndComparisons(t *testing.T) {
	d := invented()
	f := &d.Fields[0]
	f.Walk, f.Time = 8046.72, 3*3600+25*60
	f.Means = []Mean{
		{Analyte: "pH", Mean: 6.2345, SE: 0.061, Low: 6.11, High: 6.359, Confidence: 0.95, Covered: 0.97, Composites: 19, Method: "stratified random sample, strata of one value joined"},
		{Analyte: "P", Unit: "mg/kg", Part: "corn", Mean: 31.26, SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Confidence: 0.95, Covered: 1, Composites: 1, Method: "a single composite"},
	}
	f.Comparisons = []Comparison{{
		Problem: "bare patch", Analyte: "pH", Samples: []string{"HF20T"}, With: []string{"HF21B", "HF22C"},
		Value: 5.1, Healthy: 6.25, Difference: -1.15, Main: math.NaN(),
	}}
	f.Units[3].Beside, f.Units[3].Depth = "bare patch", "0-2in"
	page := write(t, d)
	for _, want := range []string{
		"6.234", "6.110 to 6.359", "97\u00a0%", "31.3\u00a0mg/kg", "Problem areas are left out", "which makes it too wide where they differ",
		"bare patch</th>", "<strong>−1.15</strong>", "HF20T against HF21B, HF22C", "5.0 mi, about 3 h 25 min with the cores",
		"healthy ground beside problem area bare patch, 0-2in",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(page, "NaN") {
		t.Error("the page says NaN")
	}
}

func TestFindingsOfTheLab(t *testing.T) {
	d := invented()
	d.Reckoning.Findings = []lab.Finding{{Column: "P (ppm)", Text: "looks like lb/ac"}, {Column: "pH", Row: 7, Text: "decimal point lost?"}}
	d.Reckoning.Counts.SetAside = 2
	var b bytes.Buffer
	if err := Write(&b, d); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"What does not look right", "<strong>P (ppm)</strong>: looks like lb/ac", "<strong>pH</strong>, row 7: decimal point lost?", "2 set aside."} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
}
