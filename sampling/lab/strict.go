package lab

import "fmt"

// Unaccounted lists all that keeps the account from being clean, one statement a
// line, and none if it is: rows whose id is in no plan, refused rows (those of
// conflicts among them), samples without a row or without any value, and cells
// that could not be read. Blank rows, headers, totals and remarks are no samples
// and pass; so do check samples, cells without a value or beyond a limit, and
// conflicts that the caller has averaged. Unlike Lines, the list is whole.
func (r Reckoning) Unaccounted() []string {
	var lines []string
	for _, row := range r.Rows {
		if row.Fate == Unmatched || row.Fate == Refused && !row.NoSample {
			lines = append(lines, row.line(fmt.Sprintf("row %d", row.Row)))
		}
	}
	valued := map[string]bool{}
	for _, res := range r.Results {
		valued[res.ID+"\x00"+res.Depth] = len(res.Values) > 0
	}
	for _, s := range r.Samples {
		if s.Fate == Missing || !valued[s.ID+"\x00"+s.Depth] {
			lines = append(lines, s.line())
		}
	}
	listed := 0
	for _, c := range r.Cells {
		if c.Kind == CellProblem {
			listed++
			lines = append(lines, c.line())
		}
	}
	if left := r.Counts.Problems - listed; left > 0 {
		lines = append(lines, fmt.Sprintf("and %d more cells that could not be read", left))
	}
	return lines
}
