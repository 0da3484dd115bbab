package lab

import (
	"fmt"
	"slices"
	"strings"
)

// Role is what a column holds.
type Role string

// The roles. RoleOther is in use only until the rows have been seen.
const (
	RoleID      Role = "sample id"
	RoleLabID   Role = "lab number" // the lab's own number of the sample
	RoleDepth   Role = "depth"
	RoleAnalyte Role = "analyte" // an analyte known here
	RoleNumber  Role = "number"  // another column of numbers, under its own name
	RoleX       Role = "x"       // a coordinate, given as such by the caller
	RoleY       Role = "y"
	RoleText    Role = "text"
	RoleOther   Role = ""
)

// Column is one column of the file and how it was understood.
type Column struct {
	// Name is the header without surrounding spaces, made unique: a second "P"
	// is "P (column F)", and one without header "column F".
	Name   string `json:"name"`
	Header string `json:"header"` // as in the file
	Letter string `json:"letter"` // as in a spreadsheet: A, B, ... AA
	Role   Role   `json:"role"`
	// Analyte is "pH", "salt pH", "buffer pH", "P", "K", "Ca", "Mg", "S", "Zn",
	// "Cu", "Mn", "Fe", "B", "Na", "Al", "H", "Cl", "OM", "CEC", "NO3-N",
	// "NH4-N", "soluble salts", "sand", "silt", "clay", "base saturation", or,
	// for K, Ca, Mg, Na, H and Al as shares of the exchange capacity, "K
	// saturation" and so on. It is "" for a column of any other kind.
	Analyte string `json:"analyte,omitempty"`
	Unit    string `json:"unit,omitempty"` // the lab's; "" where the file doesn't say
	// Form is the compound or ion as which the lab gives the analyte, as "P2O5"
	// of P; "" for the element itself.
	Form string `json:"form,omitempty"`
	// Canonical is the unit that the values of the results are in; "" for
	// pH, and where no unit is given. Values per area are in it only where
	// the depth is known; Examine makes it the unit that they did end in.
	Canonical string `json:"canonical,omitempty"`
	Method    string `json:"method,omitempty"` // "" where the file doesn't say
	// MethodColumn is the name of a column that names the method row by row.
	MethodColumn string `json:"method_column,omitempty"`
	// Methods and Units are those of the results, where there are several.
	// Examine fills them in.
	Methods []string `json:"methods,omitempty"`
	Units   []string `json:"units,omitempty"`
	Filled  int      `json:"filled"` // cells that aren't blank
	Note    string   `json:"note,omitempty"`
}

// Columns are the columns of a table in file order.
type Columns []Column

// Find returns the index of the column that name means, without regard to case:
// the column of that name, else the only one with that header, else the only
// one that holds that analyte. The error lists the columns there are, or those
// among which the name does not decide.
func (cs Columns) Find(name string) (int, error) {
	want := tidy(name)
	for _, by := range []func(Column) string{
		func(c Column) string { return c.Name },
		func(c Column) string { return tidy(c.Header) },
		func(c Column) string { return c.Analyte },
	} {
		var hits Columns
		at := -1
		for i, c := range cs {
			if s := by(c); s != "" && strings.EqualFold(s, want) {
				hits, at = append(hits, c), i
			}
		}
		switch {
		case len(hits) == 1:
			return at, nil
		case len(hits) > 1:
			return -1, fmt.Errorf("%s is in %d columns: name one of %s", show(want), len(hits), hits.names())
		}
	}
	return -1, fmt.Errorf("there is no column %s; the columns are: %s", show(want), cs.names())
}

// names lists the columns for a message.
func (cs Columns) names() string {
	const most = 60
	var list []string
	for _, c := range cs {
		if len(list) == most {
			list = append(list, fmt.Sprintf("and %d more", len(cs)-most))
			break
		}
		list = append(list, show(c.Name))
	}
	return strings.Join(list, ", ")
}

// first returns the index of the first column of a role, -1 if there is none.
func (cs Columns) first(role Role) int {
	return slices.IndexFunc(cs, func(c Column) bool { return c.Role == role })
}

// understand makes the columns of a header. Those that it doesn't know keep
// RoleOther.
func understand(header []string) Columns {
	cs := make(Columns, len(header))
	count := map[string]int{}
	ranks := make([]int, len(header))
	id := -1
	for i, h := range header {
		c := Column{Header: h, Name: squeeze(tidy(h)), Letter: letters(i)}
		flat := flatten(h)
		ranks[i] = idRank(flat)
		depthUnit, isDepth := readDepth(flat)
		switch u, ok := readAnalyte(flat); {
		case ranks[i] != notAnID:
			if id < 0 || ranks[i] < ranks[id] {
				id = i
			}
		case isDepth:
			c.Role, c.Unit = RoleDepth, depthUnit
		case ok:
			c.Role, c.Analyte, c.Unit, c.Form, c.Method = RoleAnalyte, u.key, u.unit, u.form, u.method
			if u.saturation {
				c.saturate()
			}
		default:
			c.Unit, c.Note = u.unit, ionNote(flat)
		}
		count[strings.ToLower(c.Name)]++
		cs[i] = c
	}
	for i := range cs {
		c := &cs[i]
		switch {
		case c.Name == "":
			c.Name = "column " + c.Letter
		case count[strings.ToLower(c.Name)] > 1:
			c.Name += " (column " + c.Letter + ")"
		}
		switch {
		case i == id:
			c.Role = RoleID
		case ranks[i] == idLab:
			c.Role = RoleLabID
		case ranks[i] != notAnID:
			c.Role = RoleText
			c.Note = "could hold sample ids too; those of " + show(cs[id].Name) + " are taken"
		}
	}
	cs.dropRates()
	cs.findMethods()
	for i := range cs {
		cs[i].checkUnit()
	}
	return cs
}

// dropRates gives columns of P2O5, K2O and so on their own names back where the
// element is in another column: they are its rates, or the same figure again.
func (cs Columns) dropRates() {
	for i := range cs {
		c := &cs[i]
		if !forms[c.Form].takenFor || !slices.ContainsFunc(cs, func(o Column) bool { return o.Analyte == c.Analyte && o.Form == "" }) {
			continue
		}
		c.Note = c.Analyte + " is in another column; this one is taken for a rate, or for the same figure again"
		c.Role, c.Analyte, c.Form, c.Method, c.Canonical = RoleOther, "", "", "", c.Unit
	}
}

// findMethods finds the columns that name the method of others row by row.
func (cs Columns) findMethods() {
	for _, from := range cs {
		if from.Role != RoleOther {
			continue
		}
		analyte, ok := readMethodHeader(flatten(from.Header))
		for i := range cs {
			if c := &cs[i]; ok && c.Role == RoleAnalyte && c.Analyte == analyte && c.Method == "" && c.MethodColumn == "" {
				c.MethodColumn = from.Name
			}
		}
	}
}

// saturate makes the column one of shares of the exchange capacity, if its
// analyte is a cation.
func (c *Column) saturate() {
	if c.Analyte == "base saturation" || isSaturation(c.Analyte) {
		return
	}
	if slices.Contains(bases, c.Analyte) {
		c.Analyte += " saturation"
		c.Form = "" // a share of charges is the same for the oxide
		return
	}
	c.Role, c.Analyte, c.Form = RoleOther, "", ""
}

// checkUnit tells shares of the exchange capacity from amounts once the unit is
// known, and finds the unit that the values end in. Percent of K in a soil test
// is never an amount of K in the soil.
func (c *Column) checkUnit() {
	if c.Unit == "%" && slices.Contains(bases, c.Analyte) {
		c.saturate()
	}
	if c.Role == RoleAnalyte || c.Role == RoleOther {
		c.Canonical = c.endUnit()
	}
}

// endUnit is the canonical unit where the lab's can be turned into it, else the
// lab's.
func (c Column) endUnit() string {
	if conv, err := conversionOf(c.Analyte, c.Unit, c.Form); err == nil {
		return conv.to
	}
	return c.labUnit()
}

// labUnit is the lab's unit with the form: "lb/ac P2O5".
func (c Column) labUnit() string { return tidy(c.Unit + " " + c.Form) }

// takeUnits reads a row as the units of the columns, if it is one: no sample id,
// no number, and at least half of its filled cells units.
func (t *Table) takeUnits(row []string) bool {
	row = row[:Row{Cells: row}.width()] // delimiters at its end say nothing
	units, filled := 0, 0
	for i, cell := range row {
		if i >= len(t.Columns) {
			return false
		}
		text := tidy(cell)
		if text == "" {
			continue
		}
		if t.Columns[i].Role == RoleID || t.Columns[i].Role == RoleLabID {
			if flat := flatten(text); flat != "unit" && flat != "units" && flat != "units:" {
				return false
			}
			continue
		}
		filled++
		if _, ok := isUnit(text); ok {
			units++
		} else if parseValue(text, decimals{commas: true}).OK() {
			return false
		}
	}
	if units == 0 || 2*units < filled {
		return false
	}
	for i, cell := range row {
		c := &t.Columns[i]
		unit, form, ok := readUnit(cell)
		switch {
		case !ok:
		case c.Unit == "":
			c.Unit = unit
			if c.Form == "" && forms[form].analyte == c.Analyte {
				c.Form = form
			}
		case !sameUnit(c.Unit, unit):
			c.Note = "the header says " + c.Unit + ", the row of units " + unit + "; the header is taken"
		}
		c.checkUnit()
	}
	t.Columns.dropRates()
	return true
}

// letters names column i, from 0, as a spreadsheet does.
func letters(i int) string {
	var s string
	for i++; i > 0; i = (i - 1) / 26 {
		s = string(rune('A'+(i-1)%26)) + s
	}
	return s
}
