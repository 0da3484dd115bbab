package main

import (
	"fmt"
	"strconv"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

// columnRecord is how a column of a lab's file is understood, for --json.
type columnRecord struct {
	lab.Column
	First string `json:"first,omitempty"` // its first figure or text
}

// dryRun shows how a lab's file is understood, and writes nothing.
func (a *app) dryRun(r resultSource) error {
	path := r.file
	if path == "" {
		path = r.points
	}
	if path == "" {
		return usageError{fmt.Errorf("--dry-run needs --results or --points")}
	}
	t, err := r.table(path)
	if err != nil {
		return err
	}
	out := struct {
		*lab.Table
		Rows    int            `json:"rows"`
		Columns []columnRecord `json:"columns"`
	}{Table: t, Rows: len(t.Rows)}
	rows := [][]string{{"", "column", "is", "analyte", "unit", "becomes", "method", "filled", "first"}}
	var notes []string
	for i, c := range t.Columns {
		x := columnRecord{Column: c}
		for _, row := range t.Rows {
			if i < len(row.Cells) && row.Cells[i] != "" {
				x.First = row.Cells[i]
				break
			}
		}
		out.Columns = append(out.Columns, x)
		becomes := c.Canonical
		if becomes == c.Unit {
			becomes = ""
		}
		method := c.Method
		if method == "" && c.MethodColumn != "" {
			method = "by row, column " + c.MethodColumn
		}
		if method == "" && c.Role == lab.RoleAnalyte {
			method = "not given"
		}
		unit := c.Unit
		if to, known := lab.CanonicalUnit(c.Analyte); unit == "" && known && to != "" {
			unit = "not given"
		}
		if c.Form != "" {
			unit += " " + c.Form
		}
		rows = append(rows, []string{c.Letter, shortText(c.Name, 28), string(c.Role), c.Analyte, unit, becomes, method, strconv.Itoa(c.Filled), shortText(x.First, 20)})
		if c.Note != "" {
			notes = append(notes, fmt.Sprintf("column %s (%s): %s", c.Letter, c.Name, c.Note))
		}
	}
	lines := []string{fmt.Sprintf("%s: %d data rows below a header in row %d; nothing is written", path, len(t.Rows), t.HeaderRow)}
	if t.Long {
		lines[0] = fmt.Sprintf("%s: one row to a figure, made into %d rows of samples; nothing is written", path, len(t.Rows))
	}
	lines = append(lines, "")
	lines = append(lines, listing(rows)...)
	return a.report(out, lines, append(t.Notices(), notes...), nil)
}

// shortText cuts a text to n characters.
func shortText(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}

// listing sets rows in columns, all to the left.
func listing(rows [][]string) []string {
	widths := make([]int, len(rows[0]))
	for _, r := range rows {
		for i, c := range r {
			widths[i] = max(widths[i], len([]rune(c)))
		}
	}
	var out []string
	for _, r := range rows {
		line := ""
		for i, c := range r {
			line += fmt.Sprintf("  %-*s", widths[i], c)
		}
		out = append(out, trimRight(line))
	}
	return out
}

func trimRight(s string) string {
	for len(s) > 0 && s[len(s)-1] == ' ' {
		s = s[:len(s)-1]
	}
	return s
}

// place gives the rows of a file that has the places of its samples the ids of
// the sampling units that they lie in, where they have no id of the plan.
func (j *joined) place(t *lab.Table, units []sampling.PlannedUnit) error {
	placed := false
	for _, row := range t.Rows {
		placed = placed || row.Place != nil
	}
	if !placed {
		return nil
	}
	type ground struct {
		frame  geo.Frame
		inside *plane.Locator
	}
	grounds := make([]ground, len(units))
	known := map[string]bool{}
	for i, u := range units {
		known[u.ID] = true
		for _, f := range j.fields {
			if f.Name != u.Field {
				continue
			}
			s, _, err := f.Frame.Shape(u.Shape)
			if err != nil {
				return fmt.Errorf("sample %s: %w", u.ID, err)
			}
			grounds[i] = ground{f.Frame, plane.NewLocator(s)}
		}
	}
	n := t.PlaceIDs(func(id string) bool { return known[id] }, func(lon, lat float64) []string {
		var hits []string
		for i, u := range units {
			if grounds[i].inside == nil {
				continue
			}
			at, err := grounds[i].frame.XY(geo.LonLat{lon, lat})
			if err == nil && grounds[i].inside.Contains(at) {
				hits = append(hits, u.ID)
			}
		}
		return hits
	}, func(id string) string {
		for _, u := range units {
			if u.ID == id {
				return u.Depth
			}
		}
		return ""
	})
	if n > 0 {
		j.notices = append(j.notices, fmt.Sprintf("%d rows have no id of the plan and were joined by the place that the file gives", n))
	}
	return nil
}

// Columns that carry the places of samples through a table.
const (
	placeLon = "place longitude"
	placeLat = "place latitude"
)

// placedTable adds the places of a file's samples as columns, and returns their
// names; false when it gives none.
func placedTable(t *lab.Table) (x, y string, ok bool) {
	for _, row := range t.Rows {
		ok = ok || row.Place != nil
	}
	if !ok {
		return "", "", false
	}
	t.AddText(placeLon, func(r lab.Row) string {
		if r.Place == nil {
			return ""
		}
		return plain(r.Place[0])
	})
	t.AddText(placeLat, func(r lab.Row) string {
		if r.Place == nil {
			return ""
		}
		return plain(r.Place[1])
	})
	return placeLon, placeLat, true
}
