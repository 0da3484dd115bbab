package lab

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// readTestdata reads one of the invented files.
func readTestdata(t *testing.T, name string) *Table {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	table, err := ReadTable(f, name)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

// refs makes samples from "AB01C" or "AB01C@0-8in".
func refs(ids string) []SampleRef {
	var list []SampleRef
	for id := range strings.FieldsSeq(ids) {
		id, depth, _ := strings.Cut(id, "@")
		list = append(list, SampleRef{ID: strings.ReplaceAll(id, "~", " "), Depth: depth})
	}
	return list
}

// digest writes a reckoning as compact text: a line for each row, sample,
// result and listed cell.
func digest(r Reckoning) string {
	var b strings.Builder
	for _, row := range r.Rows {
		fmt.Fprintf(&b, "%d %s", row.Row, row.Fate)
		if row.SampleID != "" {
			fmt.Fprintf(&b, " %s", row.SampleID)
		}
		if row.Reason != "" {
			fmt.Fprintf(&b, ": %s", row.Reason)
		}
		if len(row.Nearest) > 0 {
			fmt.Fprintf(&b, " -> %s", strings.Join(row.Nearest, " "))
		}
		b.WriteByte('\n')
	}
	for _, s := range r.Samples {
		if s.Reason != "" {
			fmt.Fprintf(&b, "%s %s: %s\n", s.ID, s.Fate, s.Reason)
		}
	}
	for _, res := range r.Results {
		b.WriteString(res.ID)
		for _, m := range res.Values {
			name := m.Analyte
			if name == "" {
				name = m.Column
			}
			fmt.Fprintf(&b, " | %s %s%.6g", name, m.Censored, m.Value)
			if m.Unit != "" {
				fmt.Fprintf(&b, " %s", m.Unit)
			}
			if m.Method != "" {
				fmt.Fprintf(&b, " [%s]", m.Method)
			}
			if m.N > 1 {
				fmt.Fprintf(&b, " n=%d range %.6g", m.N, m.Spread)
			}
			if m.Flagged {
				b.WriteString(" !")
			}
		}
		b.WriteByte('\n')
	}
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "note %s\n", n)
	}
	for _, c := range r.Cells {
		fmt.Fprintf(&b, "%d/%s %s %s: %s\n", c.Row, c.Column, c.Kind, show(c.Text), c.Note)
	}
	return b.String()
}
