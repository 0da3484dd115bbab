package lab

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Mapping is what a person says of a column. What is left blank stays as the
// header has it.
type Mapping struct {
	Role    Role   // "" with an Analyte is RoleAnalyte
	Analyte string // as in Column.Analyte, or another spelling known here
	Unit    string
	Method  string
	// Ignore leaves the column out: it is kept as text.
	Ignore bool
}

// apply takes what a person says of the columns. Done twice, it is as once.
func (cs Columns) apply(named map[string]Mapping) error {
	by := map[int]string{}
	for _, name := range slices.Sorted(maps.Keys(named)) {
		i := cs.named(name)
		if i < 0 {
			return fmt.Errorf("there is no column %s to map; the columns are: %s", show(name), cs.names())
		}
		if other, ok := by[i]; ok {
			return fmt.Errorf("%s and %s are the same column: map it once", show(other), show(name))
		}
		by[i] = name
		if err := cs.set(i, named[name]); err != nil {
			return fmt.Errorf("column %s: %w", show(name), err)
		}
	}
	return nil
}

// named returns the column of a name or header, else of a letter, -1 if there is
// none.
func (cs Columns) named(name string) int {
	want := squeeze(tidy(name))
	for _, by := range []func(Column) string{
		func(c Column) string { return c.Name },
		func(c Column) string { return squeeze(tidy(c.Header)) },
		func(c Column) string { return c.Letter },
	} {
		if i := slices.IndexFunc(cs, func(c Column) bool { return want != "" && strings.EqualFold(by(c), want) }); i >= 0 {
			return i
		}
	}
	return -1
}

func (cs Columns) set(i int, m Mapping) error {
	c := &cs[i]
	if m.Ignore {
		*c = Column{Header: c.Header, Name: c.Name, Letter: c.Letter, Role: RoleText, Filled: c.Filled, Note: "left out as told"}
		return nil
	}
	if m.Analyte != "" {
		u, ok := readAnalyte(flatten(m.Analyte))
		if !ok {
			return fmt.Errorf("there is no analyte %s known here: leave it out and give the column the role %s", show(m.Analyte), show(string(RoleNumber)))
		}
		if m.Role == "" {
			m.Role = RoleAnalyte
		}
		c.Analyte, c.Form = u.key, u.form
		if u.saturation {
			c.saturate()
		}
	}
	switch m.Role {
	case "":
	case RoleID, RoleDepth:
		for k := range cs {
			if k != i && cs[k].Role == m.Role {
				cs[k].Role = RoleText
			}
		}
		c.Role, c.Analyte, c.Note = m.Role, "", ""
	case RoleLabID, RoleNumber, RoleText, RoleX, RoleY, RoleName, RoleValue, RoleUnit, RoleMethod:
		c.Role, c.Analyte, c.Note = m.Role, "", ""
	case RoleAnalyte:
		if c.Analyte == "" {
			return fmt.Errorf("is told to hold an analyte: name it, as in pH or P")
		}
		c.Role, c.Note = m.Role, ""
	default:
		return fmt.Errorf("there is no role %s", show(string(m.Role)))
	}
	if m.Unit != "" {
		unit, form, ok := readUnit(m.Unit)
		if !ok {
			return fmt.Errorf("unit %s is not known; give one such as ppm, mg/kg, lb/ac, %% or meq/100 g", show(m.Unit))
		}
		c.Unit, c.Note = unit, ""
		if form != "" {
			c.Form = form
		}
	}
	if m.Method != "" {
		if c.Method, c.MethodColumn = plainMethod(m.Method), ""; c.Method == "" {
			return fmt.Errorf("%s is no name of a method", show(m.Method))
		}
	}
	c.checkUnit()
	if m.Unit != "" && c.Analyte != "" {
		if _, err := conversionOf(c.Analyte, c.Unit, c.Form); err != nil && !byVolume[c.Unit] {
			return err
		}
	}
	return nil
}
