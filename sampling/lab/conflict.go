package lab

import (
	"fmt"
	"math"
	"slices"
)

// Conflict: replicates differ so much that they can't be of one soil. The rows of
// one sample are in conflict when, for an analyte known here, the figures of two
// of them are more than a factor of 2 apart, or of a pH more than 1.0; these are
// choices of this program, no source. A figure below or above a limit counts as
// far as the limit makes it certain, one of zero not at all, as labs write zero
// for what they could not detect. All rows of such a sample are refused, since
// the file doesn't tell which is right.
type Conflict struct {
	SampleID string `json:"sample_id"`
	Column   string `json:"column"`
	Rows     []int  `json:"rows"` // all rows of the sample
	Low      int    `json:"low"`  // row of the lower figure
	High     int    `json:"high"` // row of the higher one
	Note     string `json:"note"`
	Averaged bool   `json:"averaged,omitempty"` // all the same, as JoinOptions.AverageConflicts says
}

const (
	conflictFactor = 2.0
	conflictPH     = 1.0
)

// conflicts compares the rows, given as indexes, of one sample.
func (t *Table) conflicts(id string, rows []int) []Conflict {
	if len(rows) < 2 {
		return nil
	}
	var list []Conflict
	for col, c := range t.Columns {
		if c.Role != RoleAnalyte {
			continue
		}
		// The least that the highest can be and the most that the lowest can be.
		low, high := math.Inf(1), math.Inf(-1)
		lowRow, highRow := -1, -1
		for _, row := range rows {
			v := t.Value(row, col)
			if !v.OK() || v.Number == 0 {
				continue
			}
			if v.Censored != ">" && v.Number < low {
				low, lowRow = v.Number, row
			}
			if v.Censored != "<" && v.Number > high {
				high, highRow = v.Number, row
			}
		}
		if lowRow < 0 || highRow < 0 {
			continue
		}
		apart := ""
		switch {
		case isPH(c.Analyte) && trim(high-low) > conflictPH:
			apart = fmt.Sprintf("more than %.1f apart", conflictPH)
		case !isPH(c.Analyte) && high > trim(conflictFactor*low):
			apart = fmt.Sprintf("more than a factor of %.0f apart", conflictFactor)
		default:
			continue
		}
		f := Conflict{SampleID: id, Column: c.Name, Low: t.Rows[lowRow].Number, High: t.Rows[highRow].Number}
		for _, row := range rows {
			f.Rows = append(f.Rows, t.Rows[row].Number)
		}
		f.Note = fmt.Sprintf("rows %d and %d are in conflict: %s is %s and %s, %s", f.Low, f.High, show(c.Name),
			show(t.Rows[lowRow].cell(col)), show(t.Rows[highRow].cell(col)), apart)
		list = append(list, f)
	}
	return list
}

func isPH(analyte string) bool {
	return slices.Contains([]string{"pH", "salt pH", "buffer pH"}, analyte)
}

// settle records the conflicts of a sample and tells whether its rows, given as
// indexes, may be averaged. If not, they are refused.
func (r *Reckoning) settle(found []Conflict, rows []int, average bool) bool {
	if len(found) == 0 {
		return true
	}
	for i := range found {
		found[i].Averaged = average
	}
	r.Conflicts = append(r.Conflicts, found...)
	if average {
		return true
	}
	for _, row := range rows {
		f := &r.Rows[row]
		f.Fate, f.SampleID = Refused, ""
		f.Reason = "of sample " + show(found[0].SampleID) + " " + found[0].Note
	}
	return false
}
