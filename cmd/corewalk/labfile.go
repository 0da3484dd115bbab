package main

import (
	"fmt"
	"io"
	"maps"
	"os"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

// table reads the lab's file as the source says.
func (r resultSource) table(path string) (*lab.Table, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, readError(err)
	}
	defer f.Close()
	t, err := lab.Read(f, path, lab.Options{Sheet: r.sheet, Map: r.columns})
	if err != nil {
		return nil, readError(err)
	}
	if r.id != "" && t.Long {
		// A table with one row to a figure is gathered by the ids, so they must
		// be known while it is read.
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return nil, readError(err)
		}
		columns := maps.Clone(r.columns)
		if columns == nil {
			columns = map[string]lab.Mapping{}
		}
		columns[r.id] = lab.Mapping{Role: lab.RoleID}
		if t, err = lab.Read(f, path, lab.Options{Sheet: r.sheet, Map: columns}); err != nil {
			return nil, readError(err)
		}
		return t, nil
	}
	if r.id != "" {
		if err := t.UseID(r.id); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// strictly fails when a row, a sample or a cell is unaccounted for.
func strictly(r lab.Reckoning, path string) error {
	left := r.Unaccounted()
	if len(left) == 0 {
		return nil
	}
	const most = 3
	text := strings.Join(left[:min(most, len(left))], "; ")
	if n := len(left) - most; n > 0 {
		text += fmt.Sprintf("; and %d more", n)
	}
	return fmt.Errorf("%s: %d things are unaccounted for, and nothing is written: %s; mend the file, or join without strict", path, len(left), text)
}

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
	lines = append(lines, columns(rows, false)...)
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
