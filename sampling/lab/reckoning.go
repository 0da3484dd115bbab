package lab

import (
	"fmt"
	"slices"
)

// SampleRef is a sample of the plan: its id and, where the plan has one, its
// depth as text ("0-8in", "0-20cm").
type SampleRef struct {
	ID    string `json:"id"`
	Depth string `json:"depth,omitempty"`
}

// Fate is what became of a row or of a sample.
type Fate string

// The fates: the first five are of rows, the others of samples.
const (
	Joined    Fate = "joined"    // the first row of a sample, or a point
	Replicate Fate = "replicate" // a further row of a sample
	Unmatched Fate = "unmatched" // a sample id that is in no plan
	Refused   Fate = "refused"   // not a row of a sample, or not one to trust
	SetAside  Fate = "set aside" // a check sample of the lab
	Answered  Fate = "answered"  // a sample with at least one row
	Missing   Fate = "missing"   // a sample without any row
)

// RowFate is what became of one data row.
type RowFate struct {
	Row      int      `json:"row"` // as a spreadsheet numbers it
	ID       string   `json:"id"`  // as written in the file
	Fate     Fate     `json:"fate"`
	SampleID string   `json:"sample_id,omitempty"` // of the plan, where the row has one
	Reason   string   `json:"reason,omitempty"`
	Nearest  []string `json:"nearest,omitempty"` // ids of the plan that ID may be a slip for; never taken
	// NoSample is set with Refused where nothing is lost with the row: it is
	// blank, a header, a total or a remark.
	NoSample bool `json:"no_sample,omitempty"`
	// Sources are the rows of a long table that this one was made of.
	Sources []int `json:"sources,omitempty"`
}

// SampleFate is what became of one sample of the plan.
type SampleFate struct {
	ID     string `json:"id"`
	Depth  string `json:"depth,omitempty"`
	Fate   Fate   `json:"fate"`
	Rows   []int  `json:"rows,omitempty"`
	Reason string `json:"reason,omitempty"`
}

// CellKind says why a cell is listed.
type CellKind string

// The kinds of listed cells.
const (
	CellMissing  CellKind = "missing"
	CellCensored CellKind = "censored"
	CellProblem  CellKind = "problem"
)

// CellNote is one cell of a joined row that did not give a plain value.
type CellNote struct {
	Row      int      `json:"row"`
	Column   string   `json:"column"`
	SampleID string   `json:"sample_id"`
	Kind     CellKind `json:"kind"`
	Text     string   `json:"text"`
	Note     string   `json:"note"`
}

// Counts are the sums of a Reckoning.
type Counts struct {
	Rows      int `json:"rows"`
	Joined    int `json:"joined"`
	Replicate int `json:"replicate"`
	Unmatched int `json:"unmatched"`
	Refused   int `json:"refused"`
	SetAside  int `json:"set_aside"`
	Samples   int `json:"samples"`
	Answered  int `json:"answered"`
	Missing   int `json:"missing"`
	Cells     int `json:"cells"`    // listed cells, with those left out of the list
	Problems  int `json:"problems"` // those of them that could not be read
}

// Reckoning accounts for every data row of a table and every sample of a plan.
type Reckoning struct {
	Table   string       `json:"table"`
	Counts  Counts       `json:"counts"`
	Rows    []RowFate    `json:"rows"`    // every data row, in file order
	Samples []SampleFate `json:"samples"` // every sample, in the order of the plan
	Results []Result     `json:"results"` // by sample in the order of the plan; of points, by row
	Cells   []CellNote   `json:"cells"`   // by row, then column; at most maxCells
	Columns Columns      `json:"columns"`

	Conflicts []Conflict `json:"conflicts,omitempty"` // by sample in the order of the plan, then column
	Notes     []string   `json:"notes,omitempty"`
	// Findings are what doesn't look right; see Examine.
	Findings []Finding `json:"findings,omitempty"`
}

// maxCells bounds the list of cells; Counts.Cells goes on counting.
const maxCells = 100_000

// Check proves that every row and sample has exactly one fate and that the sums
// agree with the lists. An error is a fault of this package, not of the file.
func (r Reckoning) Check() error {
	c := Counts{Rows: len(r.Rows), Samples: len(r.Samples), Cells: r.Counts.Cells, Problems: r.Counts.Problems}
	owner := map[int]string{} // sample ids of the rows in use
	last := 0
	for _, row := range r.Rows {
		if row.Row <= last {
			return fmt.Errorf("row %d is accounted for after row %d", row.Row, last)
		}
		last = row.Row
		switch row.Fate {
		case Joined:
			c.Joined++
			owner[row.Row] = row.SampleID
		case Replicate:
			c.Replicate++
			owner[row.Row] = row.SampleID
		case Unmatched:
			c.Unmatched++
		case Refused:
			c.Refused++
		case SetAside:
			c.SetAside++
		default:
			return fmt.Errorf("row %d has the fate %q", row.Row, row.Fate)
		}
		if row.Fate != Joined && row.Fate != Replicate && row.Reason == "" {
			return fmt.Errorf("row %d is %s without a reason", row.Row, row.Fate)
		}
		if row.NoSample && row.Fate != Refused {
			return fmt.Errorf("row %d is %s and said to be of no sample", row.Row, row.Fate)
		}
	}
	for _, s := range r.Samples {
		switch {
		case s.Fate == Answered && len(s.Rows) > 0:
			c.Answered++
		case s.Fate == Missing && len(s.Rows) == 0:
			c.Missing++
		default:
			return fmt.Errorf("sample %s is %q with %d rows", s.ID, s.Fate, len(s.Rows))
		}
	}
	for _, f := range r.Conflicts {
		for _, row := range f.Rows {
			if _, used := owner[row]; used != f.Averaged {
				return fmt.Errorf("row %d is in a conflict of sample %s, averaged %v, used %v", row, f.SampleID, f.Averaged, used)
			}
		}
	}
	used, problems := 0, 0
	for _, cell := range r.Cells {
		if cell.Kind == CellProblem {
			problems++
		}
	}
	for _, res := range r.Results {
		for _, row := range res.Rows {
			if id, ok := owner[row]; !ok || id != res.ID {
				return fmt.Errorf("result %s uses row %d, which is not its own, or was used before", res.ID, row)
			}
			delete(owner, row)
			used++
		}
	}
	switch {
	case c != r.Counts:
		return fmt.Errorf("counts %+v, lists %+v", r.Counts, c)
	case c.Rows != c.Joined+c.Replicate+c.Unmatched+c.Refused+c.SetAside:
		return fmt.Errorf("%d rows are not %d + %d + %d + %d + %d", c.Rows, c.Joined, c.Replicate, c.Unmatched, c.Refused, c.SetAside)
	case c.Samples != c.Answered+c.Missing:
		return fmt.Errorf("%d samples are not %d + %d", c.Samples, c.Answered, c.Missing)
	case used != c.Joined+c.Replicate:
		return fmt.Errorf("results use %d rows, %d are joined", used, c.Joined+c.Replicate)
	case len(r.Results) != c.Joined:
		return fmt.Errorf("%d results for %d joined rows", len(r.Results), c.Joined)
	case len(r.Cells) != min(c.Cells, maxCells):
		return fmt.Errorf("%d cells are listed of %d", len(r.Cells), c.Cells)
	case problems > c.Problems || len(r.Cells) == c.Cells && problems != c.Problems:
		return fmt.Errorf("%d cells are listed that could not be read, of %d", problems, c.Problems)
	}
	return nil
}

// account fills in the counts of rows and samples.
func (r *Reckoning) account() {
	r.Counts.Rows, r.Counts.Samples = len(r.Rows), len(r.Samples)
	for _, row := range r.Rows {
		switch row.Fate {
		case Joined:
			r.Counts.Joined++
		case Replicate:
			r.Counts.Replicate++
		case Unmatched:
			r.Counts.Unmatched++
		case SetAside:
			r.Counts.SetAside++
		default:
			r.Counts.Refused++
		}
	}
	for _, s := range r.Samples {
		if s.Fate == Answered {
			r.Counts.Answered++
		} else {
			r.Counts.Missing++
		}
	}
}

// newReckoning starts the account of a table. The lists are never nil, so that
// they are written as [].
func newReckoning(t *Table) Reckoning {
	return Reckoning{
		Table: t.Name, Columns: slices.Clone(t.Columns),
		Rows: []RowFate{}, Samples: []SampleFate{}, Results: []Result{}, Cells: []CellNote{},
	}
}

// noteCells lists the cells of one joined row that gave no plain value.
func (r *Reckoning) noteCells(t *Table, row int, sampleID string) {
	for col, c := range t.Columns {
		if !c.hasNumbers() {
			continue
		}
		v := t.Value(row, col)
		n := CellNote{Row: t.Rows[row].Number, Column: c.Name, SampleID: sampleID, Text: v.Text}
		switch {
		case v.Missing:
			n.Kind, n.Note = CellMissing, v.Problem
			if n.Note == "" {
				n.Note = "no value"
			}
		case v.Problem != "":
			n.Kind, n.Note = CellProblem, v.Problem
			r.Counts.Problems++
		case v.Censored == "<":
			n.Kind, n.Note = CellCensored, fmt.Sprintf("below the limit %v; computed with half of it, %v", v.Number, v.Computed())
		case v.Censored == ">":
			n.Kind, n.Note = CellCensored, fmt.Sprintf("above the limit %v; computed with the limit", v.Number)
		default:
			continue
		}
		if r.Counts.Cells++; len(r.Cells) < maxCells {
			r.Cells = append(r.Cells, n)
		}
	}
}
