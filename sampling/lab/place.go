package lab

import "slices"

// TypingDistance counts the slips between a and b: characters wrong, missing,
// added, or swapped with their neighbour (Damerau 1964, doi:10.1145/363958.363994).
func TypingDistance(a, b string) int { return distance([]rune(a), []rune(b)) }

// Unplace turns a joined point into an unmatched row: it lies where nothing is
// to be mapped. Its result and listed cells go with it.
func (r *Reckoning) Unplace(row int, reason string) {
	for i := range r.Rows {
		if f := &r.Rows[i]; f.Row == row && f.Fate == Joined {
			f.Fate, f.SampleID, f.Reason = Unmatched, "", reason
			r.Counts.Joined--
			r.Counts.Unmatched++
		}
	}
	r.Results = slices.DeleteFunc(r.Results, func(x Result) bool { return slices.Contains(x.Rows, row) })
	before := len(r.Cells)
	r.Cells = slices.DeleteFunc(r.Cells, func(c CellNote) bool { return c.Row == row })
	r.Counts.Cells -= before - len(r.Cells)
}
