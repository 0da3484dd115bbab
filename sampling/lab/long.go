package lab

import (
	"fmt"
	"slices"
	"strings"
)

// The roles of a long table's columns, which has one row for each value. The
// table made of it has none of them.
const (
	RoleName   Role = "analyte name"
	RoleValue  Role = "value"
	RoleUnit   Role = "unit"
	RoleMethod Role = "method"
)

// Further columns of a long table, known in this file only.
const (
	roleTop       Role = "top of depth"
	roleBottom    Role = "bottom of depth"
	roleDepthUnit Role = "unit of depth"
)

// longHeaders gives the headers of a long table's columns, flattened, without
// spaces and punctuation.
var longHeaders = map[string]Role{
	"analyte": RoleName, "analytes": RoleName, "analytename": RoleName, "test": RoleName, "testname": RoleName, "testdescription": RoleName,
	"parameter": RoleName, "parametername": RoleName, "element": RoleName, "determination": RoleName, "determinand": RoleName,
	"measure": RoleName, "measurement": RoleName, "component": RoleName, "componentname": RoleName, "nutrient": RoleName, "analysis": RoleName,
	"property": RoleName,
	"result":   RoleValue, "results": RoleValue, "value": RoleValue, "values": RoleValue, "reported": RoleValue, "reportedvalue": RoleValue,
	"reportedresult": RoleValue, "resultvalue": RoleValue, "testresult": RoleValue, "testvalue": RoleValue, "numericresult": RoleValue,
	"unit": RoleUnit, "units": RoleUnit, "uom": RoleUnit, "unitofmeasure": RoleUnit, "resultunit": RoleUnit, "resultunits": RoleUnit,
	"reportingunit": RoleUnit, "reportingunits": RoleUnit, "valueunit": RoleUnit,
	"method": RoleMethod, "testmethod": RoleMethod, "methodname": RoleMethod, "methodcode": RoleMethod, "extraction": RoleMethod, "extractant": RoleMethod,
	"extractionmethod": RoleMethod, "analysismethod": RoleMethod, "labmethod": RoleMethod, "modustestid": RoleMethod,
	"topdepth": roleTop, "depthtop": roleTop, "startdepth": roleTop, "startingdepth": roleTop, "depthstart": roleTop, "depthfrom": roleTop,
	"fromdepth": roleTop, "upperdepth": roleTop, "depthupper": roleTop, "begindepth": roleTop, "beginningdepth": roleTop,
	"bottomdepth": roleBottom, "depthbottom": roleBottom, "enddepth": roleBottom, "endingdepth": roleBottom, "depthend": roleBottom, "depthto": roleBottom,
	"todepth": roleBottom, "lowerdepth": roleBottom, "depthlower": roleBottom,
	"depthunit": roleDepthUnit, "depthunits": roleDepthUnit,
}

// longRole reads a flattened header as that of a column of a long table.
func longRole(flat string) (role Role, unit string) {
	squash := func(s string) Role {
		return longHeaders[strings.ReplaceAll(punctuation.Replace(s), " ", "")]
	}
	if role = squash(flat); role != RoleOther {
		return role, ""
	}
	unit, rest := takeUnit(flat)
	if role = squash(rest); role != RoleOther {
		return role, unit
	}
	return RoleOther, ""
}

// longRoles gives the columns that nothing else is known of their roles in a
// long table, should it be one. The first of each role has it.
func longRoles(cs Columns) {
	for i := range cs {
		if cs[i].Role != RoleOther {
			continue
		}
		if role, unit := longRole(flatten(cs[i].Header)); role != RoleOther && cs.first(role) < 0 {
			cs[i].Role, cs[i].Unit = role, unit
		}
	}
}

// dropLong takes the roles of a long table off a column of another one.
func (c *Column) dropLong() {
	switch c.Role {
	case RoleName, RoleValue, RoleUnit, RoleMethod, roleTop, roleBottom, roleDepthUnit:
		c.Role = RoleOther
	}
}

// longColumns are the columns of a long table, -1 where there is none.
type longColumns struct {
	id, lab, depth, top, bottom, depthUnit int
	name, value, unit, method              int
}

// longColumns tells whether the table is a long one: it names analytes in one
// column, has values in another, and has no column of any one analyte.
func (t *Table) longColumns() (l longColumns, ok bool) {
	first := t.Columns.first
	l = longColumns{
		id: first(RoleID), lab: first(RoleLabID), depth: first(RoleDepth), top: first(roleTop), bottom: first(roleBottom), depthUnit: first(roleDepthUnit),
		name: first(RoleName), value: first(RoleValue), unit: first(RoleUnit), method: first(RoleMethod),
	}
	return l, l.name >= 0 && l.value >= 0 && first(RoleAnalyte) < 0
}

// depthText returns the depth of a row of a long table.
func (t *Table) depthText(l longColumns, r Row) string {
	if l.depth >= 0 {
		return r.cell(l.depth)
	}
	top, bottom := r.cell(l.top), r.cell(l.bottom)
	if bottom == "" {
		return ""
	}
	if top == "" {
		top = "0"
	}
	unit := r.cell(l.depthUnit)
	if unit == "" && l.bottom >= 0 {
		unit = t.Columns[l.bottom].Unit
	}
	return squeeze(top + "-" + bottom + " " + unit)
}

// pivot makes a wide table of a long one. Values of one id, depth and lab number
// share a row; a second value of one analyte there begins a further row, which
// the join takes for a replicate. A row of the file that names no sample or no
// analyte stays a row of its own, so that it is accounted for. The columns that
// say nothing of the value alone are kept as text, with what the first row has.
func (t *Table) pivot(l longColumns, lim limits) error {
	p := newPivot(lim)
	var kept []int
	for i, c := range t.Columns {
		switch c.Role {
		case RoleName, RoleValue, RoleUnit, RoleMethod, roleTop, roleBottom, roleDepthUnit, RoleDepth:
			continue
		case RoleOther, RoleNumber:
			c.Role, c.Unit, c.Method = RoleText, "", ""
		}
		kept = append(kept, i)
		p.fixed = append(p.fixed, c)
	}
	depthAt := len(p.fixed)
	switch {
	case l.depth >= 0:
		p.fixed = append(p.fixed, t.Columns[l.depth])
	case l.bottom >= 0:
		p.fixed = append(p.fixed, Column{Header: "Depth", Role: RoleDepth})
	}
	groups := map[string]int{}
	for i, r := range t.Rows {
		cells, kinds := make([]string, len(p.fixed)), make([]cellKind, len(p.fixed))
		for k, col := range kept {
			cells[k], kinds[k] = r.rawCell(col), r.kind(col)
		}
		if depthAt < len(cells) {
			cells[depthAt] = t.depthText(l, r)
		}
		line := pivotLine{number: r.Number, cells: cells, kinds: kinds, group: -1 - i}
		line.fault = t.longFault(l, r)
		if id := r.cell(l.id); id != "" && line.fault == "" {
			key := id + "\x00" + r.cell(l.lab) + "\x00" + t.depthText(l, r)
			g, ok := groups[key]
			if !ok {
				g = len(groups)
				groups[key] = g
			}
			line.group = g
		}
		col := -1
		if name := r.cell(l.name); name != "" && line.fault == "" {
			unit := r.cell(l.unit)
			switch {
			case unit != "":
			case r.kind(l.value) == kindPercent:
				unit = "%"
			default:
				unit = t.Columns[l.value].Unit
			}
			var err error
			if col, err = p.column(part{name: name, unit: unit, method: r.cell(l.method)}); err != nil {
				return fmt.Errorf("row %d: %w", r.Number, err)
			}
		}
		if err := p.put(line, col, r.rawCell(l.value), r.kind(l.value)); err != nil {
			return fmt.Errorf("row %d: %w", r.Number, err)
		}
	}
	t.Long = true
	t.Columns, t.Rows = p.columns(), p.rows
	return nil
}

// longFault says why a row of a long table holds no value of a sample.
func (t *Table) longFault(l longColumns, r Row) string {
	switch n := r.width(); {
	case n == 0:
		return "empty row"
	case n > len(t.Columns):
		return fmt.Sprintf("has %d cells, the header %d", n, len(t.Columns))
	case t.repeatsHeader(r):
		return "the header again"
	case r.cell(l.id) == "" && slices.ContainsFunc(r.Cells, isSummary):
		return "a total or average, not a sample"
	case r.cell(l.name) == "":
		return "names no analyte"
	}
	return ""
}
