package report

import (
	"fmt"
	"strings"
	"testing"
)

func TestSinceLastTime(t *testing.T) {
	d := invented()
	says(t, write(t, d), []string{`id="since"`, "No earlier season was given"}, nil)
	d.Seasons = &Seasons{
		Names: []string{"2025 <spring>", "2026"}, Apart: []string{"K in North Forty: method a and b are not compared"}, Notes: []string{"in no interval"},
		Changes: []Change{
			{Field: "North Forty", Analyte: "P", Unit: "mg/kg", Values: []string{"31", "28"}, Since: "fell by 3 (1 to 5)", Expected: "−1.6", Told: true, Notes: []string{"the lab changed: a step may be the lab’s"}},
			{Field: "North Forty", Sample: "HF20R", Part: "management unit corn", Analyte: "pH", Values: []string{"", "6.1"}, Since: "rose by 0.4 (0.1 to 0.7)", Yearly: "rose by 0.1 (0.0 to 0.2)", Told: true},
			{Field: "North Forty", Sample: "HF21B", Analyte: "pH", Values: []string{"6.0", "6.1"}, Since: "no change that can be told from noise (−0.2 to 0.4)"},
		},
	}
	page := write(t, d)
	says(t, page, []string{
		"2 seasons are held together: 2025 &lt;spring&gt;, 2026.", "<strong>fell by 3 (1 to 5)</strong>", "the lab changed", ">Expected</th>", "−1.6", "<td>HF20R<br>management unit corn</td>",
		"Of 2 figures of single grounds, 1 show no change", "K in North Forty: method a and b", "in no interval", `<td class="n">–</td><td class="n">6.1</td>`,
	}, []string{"No earlier season", "<td>HF21B"})
	if strings.Index(page, `id="since"`) > strings.Index(page, `<section class="field"`) {
		t.Error("what changed stands below the fields")
	}
	if n := strings.Count(page, `id="since"`); n != 1 {
		t.Errorf("it stands there %d times", n)
	}
	for i := range 300 {
		d.Seasons.Changes = append(d.Seasons.Changes, Change{Field: "North Forty", Sample: fmt.Sprint("S", i), Analyte: "K", Values: []string{"1", "2"}, Since: "rose", Told: true})
	}
	says(t, write(t, d), []string{"101 more are listed", "<td>S198"}, []string{"<td>S199"})
}
