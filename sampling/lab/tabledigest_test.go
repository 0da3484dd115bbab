package lab

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// readFile reads one of the invented files, of whatever kind.
func readFile(t *testing.T, name string, o Options) *Table {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	table, err := Read(f, name, o)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

// tableDigest writes a table as compact text: a line for each column in use, row,
// and notice.
func tableDigest(table *Table) string {
	var b strings.Builder
	for _, c := range table.Columns {
		fmt.Fprintf(&b, "%s %s: %s", c.Letter, c.Name, c.Role)
		if c.Analyte != "" {
			fmt.Fprintf(&b, " %s", c.Analyte)
		}
		if c.Unit != "" {
			fmt.Fprintf(&b, " (%s)", c.Unit)
		}
		if c.Method != "" {
			fmt.Fprintf(&b, " [%s]", c.Method)
		}
		if c.Note != "" {
			fmt.Fprintf(&b, "; %s", c.Note)
		}
		b.WriteByte('\n')
	}
	for i, r := range table.Rows {
		fmt.Fprintf(&b, "%d", r.Number)
		if table.Long {
			fmt.Fprintf(&b, " of %v", r.Sources)
		}
		b.WriteByte(':')
		for col, c := range table.Columns {
			switch v := table.Value(i, col); {
			case r.cell(col) == "" && !v.Missing:
			case !c.hasNumbers():
				if s := r.cell(col); s != "" {
					fmt.Fprintf(&b, " | %s", s)
				}
			case v.OK():
				fmt.Fprintf(&b, " | %s %s%v", c.Letter, v.Censored, v.Number)
			case v.Problem != "":
				fmt.Fprintf(&b, " | %s %q %s", c.Letter, v.Text, v.Problem)
			}
		}
		if r.Place != nil {
			fmt.Fprintf(&b, " @ %v", *r.Place)
		}
		if r.Fault != "" {
			fmt.Fprintf(&b, " ! %s", r.Fault)
		}
		b.WriteByte('\n')
	}
	for _, line := range table.Notices() {
		fmt.Fprintf(&b, "note %s\n", line)
	}
	return b.String()
}

// checkRows proves that each row of the file from the one below the header to
// last is in the table once, and that the join accounts for the table.
func checkRows(t *testing.T, table *Table, samples []SampleRef, last int) {
	t.Helper()
	next := max(table.HeaderRow, table.UnitsRow) + 1
	seen := map[int]bool{}
	for _, r := range table.Rows {
		rows := []int{r.Number}
		if table.Long {
			rows = r.Sources
			if len(rows) == 0 || rows[0] != r.Number {
				t.Errorf("row %d comes of %v", r.Number, rows)
			}
		}
		for i, n := range rows {
			if n < next || n > last || seen[n] || i > 0 && n <= rows[i-1] {
				t.Errorf("row %d is out of place, of %d to %d: %v", n, next, last, rows)
			}
			seen[n] = true
		}
	}
	if len(seen) != last-next+1 {
		t.Errorf("%d rows are in the table, of %d to %d", len(seen), next, last)
	}
	r := Join(samples, table)
	if err := r.Check(); err != nil {
		t.Error(err)
	}
	if r.Counts.Rows != len(table.Rows) {
		t.Errorf("%d of %d rows are accounted for", r.Counts.Rows, len(table.Rows))
	}
}

type tableCase struct {
	file, why string
	options   Options
	samples   string
	last      int // row of the file
	want      string
}

func testTables(t *testing.T, cases []tableCase, format Format) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.file, func(t *testing.T) {
			table := readFile(t, c.file, c.options)
			if table.Format != format {
				t.Errorf("is read as %s", table.Format)
			}
			checkRows(t, table, refs(c.samples), c.last)
			if got := tableDigest(table); got != strings.TrimPrefix(c.want, "\n") {
				t.Errorf("%s: got\n%s\nwant%s", c.why, got, c.want)
			}
		})
	}
}
