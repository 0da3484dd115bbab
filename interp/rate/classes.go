package rate

import (
	"fmt"
	"slices"
	"strings"
)

// Classes returns the classes that a table puts the soil test into, from low to
// high, and where each but the first begins, in the unit of results (see Unit):
// those of a formula of classes, or build-up, maintenance, drawdown and what is
// above, of one that does not go by the exchange capacity. crop chooses among
// several sets and may be empty where there is one; it is an error where it does
// not, as is a table without classes.
func (t *Table) Classes(crop string) (names []string, limits []float64, err error) {
	var crops []string
	for _, c := range t.Crops {
		if strings.EqualFold(c.Name, crop) {
			crop = c.Name
		}
		crops = append(crops, c.Name)
	}
	if crop != "" && len(crops) > 0 && !slices.Contains(crops, crop) {
		return nil, nil, fmt.Errorf("table %s is not for %s; it is for: %s", t.Name, crop, strings.Join(crops, ", "))
	}
	known := func(of []string) bool { return len(of) == 0 || crop != "" && slices.Contains(of, crop) }
	switch f := t.Formula; {
	case f.Classes != nil:
		for _, set := range f.Classes.Sets {
			if known(set.Crops) {
				names, limits = f.Classes.Names, slices.Clone(set.Limits)
				break
			}
		}
	case f.BuildUp != nil:
		for _, b := range f.BuildUp.Bands {
			if b.CECBelow > 0 || b.CriticalCEC != 0 {
				return nil, nil, fmt.Errorf("the classes of table %s go by the exchange capacity, and have no limits of their own", t.Name)
			}
			if !known(b.Crops) {
				continue
			}
			names = []string{"build-up", "maintenance", "above maintenance"}
			limits = []float64{b.Critical, b.Critical + b.Maintenance}
			if b.Drawdown > 0 {
				names = []string{"build-up", "maintenance", "drawdown", "above the limit"}
				limits = append(limits, limits[1]+b.Drawdown)
			}
			break
		}
	default:
		return nil, nil, fmt.Errorf("table %s has no classes", t.Name)
	}
	if names == nil {
		return nil, nil, fmt.Errorf("the classes of table %s go by the crop; name one of: %s", t.Name, strings.Join(crops, ", "))
	}
	if in := t.input(t.By); in.MgPerKg > 0 {
		for i := range limits {
			limits[i] *= in.MgPerKg
		}
	}
	return names, limits, nil
}

// Unit is that of the results that the table goes by: mg/kg, meq/100 g, %, or
// pH.
func (t *Table) Unit() string { return ownUnit(t.By) }

// FindClasses returns the table that puts an analyte by a method into classes. It
// has the name, in any case, or where that is empty it is the only one of
// sufficiency. No table, and several, are errors that say what there is.
func FindClasses(tables []Table, analyte, method, name string) (Table, error) {
	var found, others []Table
	named := false
	for _, t := range tables {
		called := strings.EqualFold(t.Name, name)
		if !strings.EqualFold(t.By, analyte) || t.Formula.Classes == nil && t.Formula.BuildUp == nil || name == "" && t.Kind != KindSufficiency {
			continue
		}
		in := t.input(t.By)
		fits := len(in.Methods) == 0 || slices.ContainsFunc(in.Methods, func(m string) bool { return strings.EqualFold(m, method) })
		if fits && (name == "" || called) {
			found = append(found, t)
		} else {
			others = append(others, t)
			named = named || called || name == ""
		}
	}
	which := "table of classes"
	if name != "" {
		which = fmt.Sprintf("table %q of classes", name)
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		return Table{}, fmt.Errorf("there are %d tables of classes for %s by %s: %s; name one", len(found), analyte, method, listed(found))
	case len(others) == 0:
		return Table{}, fmt.Errorf("there is no %s for %s; give its limits, or a table of yours", which, analyte)
	case !named:
		return Table{}, fmt.Errorf("there is no %s for %s; there are: %s", which, analyte, listed(others))
	case method == "":
		return Table{}, fmt.Errorf("the results do not say by which method %s was measured, and each %s belongs to one: %s; name the method in the job's columns", analyte, which, listed(others))
	}
	return Table{}, fmt.Errorf("there is no %s for %s by %s, and limits for one method are wrong for another; there are: %s", which, analyte, method, listed(others))
}

func listed(tables []Table) string {
	var out []string
	for _, t := range tables {
		text := t.Name
		if m := t.input(t.By).Methods; len(m) > 0 {
			text += " (" + strings.Join(m, ", ") + ")"
		}
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}
