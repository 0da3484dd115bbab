package lab

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"hash"
	"slices"
)

// Part is the table with some of its rows, given by index and ascending, as they
// are understood in the whole: columns, decimal marks and row numbers stay those
// of the file. What is done to the part does not touch the whole.
func (t *Table) Part(rows []int) *Table {
	p := *t
	p.Columns = slices.Clone(t.Columns)
	for i := range p.Columns {
		p.Columns[i].Filled = 0
	}
	p.Rows = make([]Row, len(rows))
	numbers := make(map[int]bool, len(rows))
	for i, k := range rows {
		row := t.Rows[k]
		row.Cells = slices.Clone(row.Cells)
		p.Rows[i] = row
		numbers[row.Number] = true
		for _, n := range row.Sources {
			numbers[n] = true
		}
		for col := range min(len(row.Cells), len(p.Columns)) {
			if row.cell(col) != "" {
				p.Columns[col].Filled++
			}
		}
	}
	p.Marks = slices.DeleteFunc(slices.Clone(t.Marks), func(m Mark) bool { return !numbers[m.Row] })
	return &p
}

// Key is the key of a row's sample id, the row being counted from 0: see the
// package comment. It is "" where the row has no id.
func (t *Table) Key(row int) string { return idKey(t.Rows[row].cell(t.id)) }

// Sum is the SHA-256 of all that a join sees of a table.
func (t *Table) Sum() ([sha256.Size]byte, error) {
	sum := sha256.New()
	if err := json.NewEncoder(sum).Encode(t); err != nil {
		return [sha256.Size]byte{}, err
	}
	fmt.Fprintln(sum, t.id, t.depth, t.decimals)
	for _, r := range t.Rows {
		r.sum(sum)
	}
	return [sha256.Size]byte(sum.Sum(nil)), nil
}

func (r Row) sum(to hash.Hash) {
	fmt.Fprintf(to, "%d %q %v %q %v", r.Number, r.Cells, r.Sources, r.Fault, r.kinds)
	if r.Place != nil {
		fmt.Fprint(to, " ", r.Place[0], r.Place[1])
	}
	fmt.Fprintln(to)
}
