package lab

import (
	"fmt"
	"slices"
)

// PlaceIDs gives rows that have a place but no id of the plan (known tells) the
// id of the sample whose ground they lie on, and returns how many got one. Find
// names the samples at a longitude and latitude; where those are several, as of
// depth layers, the row's own depth must fit just one of them, by the depths
// that depthOf tells. The id that the row had is named in the account.
func (t *Table) PlaceIDs(known func(id string) bool, find func(lon, lat float64) []string, depthOf func(id string) string) int {
	n := 0
	for i := range t.Rows {
		row := &t.Rows[i]
		id := row.cell(t.id)
		if row.Place == nil || row.Fault != "" || id != "" && (known(id) || isLabCheck(id)) {
			continue
		}
		hits := find(row.Place[0], row.Place[1])
		if len(hits) > 1 {
			depth, ok := t.depthOf(row.cell(t.depth))
			hits = slices.DeleteFunc(hits, func(id string) bool {
				d, known := parseDepth(depthOf(id), "")
				return !ok || !known || !d.same(depth)
			})
		}
		if len(hits) != 1 {
			continue
		}
		if t.id < 0 {
			t.AddText("sample by place", func(Row) string { return "" })
			t.id = len(t.Columns) - 1
			t.Columns[t.id].Role = RoleID
			row = &t.Rows[i]
		}
		row.byPlace = fmt.Sprintf("joined by its place to %s", show(hits[0]))
		if id != "" {
			row.byPlace += "; its id " + show(id) + " is in no plan"
		}
		row.set(t.id, hits[0])
		n++
	}
	return n
}

// AddText adds a column of text to every row.
func (t *Table) AddText(name string, text func(Row) string) {
	col := len(t.Columns)
	t.Columns = append(slices.Clip(t.Columns), Column{Name: name, Header: name, Letter: letters(col), Role: RoleText})
	for i := range t.Rows {
		if s := text(t.Rows[i]); s != "" {
			t.Rows[i].set(col, s)
			t.Columns[col].Filled++
		}
	}
}

// set puts a text into a cell.
func (r *Row) set(col int, text string) {
	r.Cells = slices.Clone(r.Cells)
	for len(r.Cells) <= col {
		r.Cells = append(r.Cells, "")
	}
	r.Cells[col] = text
	if col < len(r.kinds) {
		r.kinds = slices.Clone(r.kinds)
		r.kinds[col] = kindText
	}
}
