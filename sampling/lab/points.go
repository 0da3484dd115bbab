package lab

import "fmt"

// Point is a row with coordinates of its own.
type Point struct {
	ID     string  `json:"id"` // of the sample id column, else "r" and the row number
	X      float64 `json:"x"`  // as in the file; the caller knows the system and unit
	Y      float64 `json:"y"`
	Row    int     `json:"row"`
	Result Result  `json:"result"`
}

// ReadPoints reads a table whose rows have their own coordinates, in the columns
// named xCol and yCol (without regard to case). Every row is a point or refused
// with the reason; rows are never averaged, even at one place or of one id. The
// points come in file order. The error says that a column can't be found and
// lists those there are.
func ReadPoints(t *Table, xCol, yCol string) ([]Point, Reckoning, error) {
	r := newReckoning(t)
	x, err := t.coordinate("x", xCol)
	if err != nil {
		return nil, r, err
	}
	y, err := t.coordinate("y", yCol)
	if err != nil {
		return nil, r, err
	}
	if x == y {
		return nil, r, fmt.Errorf("%s: column %s can't hold both x and y", t.Name, show(xCol))
	}
	// What holds the place is no figure of the soil.
	placed := *t
	placed.Columns = append(Columns{}, t.Columns...)
	placed.Columns[x].Role, placed.Columns[y].Role = RoleX, RoleY
	r.Columns = placed.Columns
	points := []Point{}
	for i, row := range t.Rows {
		f := RowFate{Row: row.Number, Sources: row.Sources, ID: row.cell(t.id), Fate: Refused}
		p := Point{ID: f.ID, Row: row.Number}
		if p.ID == "" {
			p.ID = fmt.Sprintf("r%d", row.Number)
		}
		f.Reason = t.unfit(row)
		if f.Reason == "" && t.repeatsHeader(row) {
			f.Reason = "the header again"
		}
		if f.Reason == "" && isSummary(f.ID) {
			f.Reason = "a total or average, not a point"
		}
		if f.Reason == "" {
			p.X, f.Reason = t.place(i, x)
		}
		if f.Reason == "" {
			p.Y, f.Reason = t.place(i, y)
		}
		if f.Reason == "" {
			f.Fate, f.SampleID = Joined, p.ID
			p.Result = placed.result(p.ID, row.cell(t.depth), []int{i})
			points = append(points, p)
			r.Results = append(r.Results, p.Result)
			r.noteCells(&placed, i, p.ID)
		}
		r.Rows = append(r.Rows, f)
	}
	r.account()
	return points, r, nil
}

func (t *Table) coordinate(axis, name string) (int, error) {
	if tidy(name) == "" {
		return 0, fmt.Errorf("%s: no column is named for %s; the columns are: %s", t.Name, axis, t.Columns.names())
	}
	i, err := t.Columns.Find(name)
	if err != nil {
		return 0, fmt.Errorf("%s: %s coordinate: %w", t.Name, axis, err)
	}
	return i, nil
}

// place reads a coordinate; reason is not "" if it can't be used.
func (t *Table) place(row, col int) (value float64, reason string) {
	v := t.number(t.Rows[row], col)
	name := show(t.Columns[col].Name)
	switch {
	case v.Missing:
		return 0, "no value in coordinate column " + name
	case v.Problem != "":
		return 0, fmt.Sprintf("coordinate %s in column %s %s", show(v.Text), name, v.Problem)
	case v.Censored != "":
		return 0, fmt.Sprintf("coordinate %s in column %s is a limit, not a number", show(v.Text), name)
	}
	return v.Number, ""
}
