package zone

import (
	_ "embed"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"corewalk/interp/datafile"
)

// Interpretation is a table that puts figures of one analyte, by one of some
// methods, into classes. It belongs to its place and its method: a limit for
// one extract of phosphorus is wrong for another.
type Interpretation struct {
	Name     string    `yaml:"name"`
	Analyte  string    `yaml:"analyte"`
	Methods  []string  `yaml:"methods"` // as results name them; none where the analyte has no choice of them
	Unit     string    `yaml:"unit"`    // of the printed limits
	MgPerKg  float64   `yaml:"mg_per_kg"`
	Classes  []string  `yaml:"classes"` // from low to high
	Limits   []float64 `yaml:"limits"`  // where each class but the first begins, ascending
	Source   string    `yaml:"source"`
	Place    string    `yaml:"place"`
	Verified string    `yaml:"verified"` // seen, reprint or memory
}

//go:embed interpretations.yaml
var embedded []byte

// Interpretations returns the tables that come with the program.
func Interpretations() []Interpretation {
	tables, err := ReadInterpretations(embedded)
	if err != nil {
		return nil // a test reads them all
	}
	return tables
}

// ReadInterpretations reads tables from YAML: a list of them with the keys name,
// analyte, methods, unit, mg_per_kg (what one of the unit is in mg/kg; 1 for
// figures without such a unit, as pH), classes, limits, source, place and
// verified. Keys that are not known, limits that do not ascend and tables
// without a source are errors.
func ReadInterpretations(data []byte) ([]Interpretation, error) {
	var tables []Interpretation
	if err := datafile.Decode(data, &tables); err != nil {
		return nil, err
	}
	for i, t := range tables {
		if err := t.validate(); err != nil {
			return nil, fmt.Errorf("table %d, %q: %w", i+1, t.Name, err)
		}
	}
	if len(tables) == 0 {
		return nil, errors.New("there is no table in it")
	}
	return tables, nil
}

func (t Interpretation) validate() error {
	switch {
	case t.Name == "" || t.Analyte == "" || t.Source == "":
		return errors.New("name, analyte and source are needed")
	case len(t.Limits) == 0 || len(t.Classes) != len(t.Limits)+1:
		return fmt.Errorf("%d limits part %d classes; there is one class more than limits", len(t.Limits), len(t.Classes))
	case !(t.MgPerKg > 0) || math.IsInf(t.MgPerKg, 0):
		return fmt.Errorf("mg_per_kg is %g; give what one %s is in mg/kg, or 1", t.MgPerKg, t.Unit)
	case !slices.Contains([]string{"seen", "reprint", "memory"}, t.Verified):
		return fmt.Errorf("verified is %q; say seen, reprint or memory", t.Verified)
	}
	return checkLimits(t.Limits)
}

// checkLimits refuses limits that do not ascend.
func checkLimits(limits []float64) error {
	for i, l := range limits {
		if math.IsNaN(l) || math.IsInf(l, 0) || i > 0 && !(l > limits[i-1]) {
			return fmt.Errorf("limit %d is %g; limits ascend", i+1, l)
		}
	}
	return nil
}

// Converted returns the limits in the unit of results: mg/kg.
func (t Interpretation) Converted() []float64 {
	out := make([]float64, len(t.Limits))
	for i, l := range t.Limits {
		out[i] = l * t.MgPerKg
	}
	return out
}

// FindInterpretation returns the table for an analyte by a method; name chooses
// among several and may be empty. No table, and several, are errors that say
// what there is.
func FindInterpretation(tables []Interpretation, analyte, method, name string) (Interpretation, error) {
	var found, others []Interpretation
	for _, t := range tables {
		if !strings.EqualFold(t.Analyte, analyte) {
			continue
		}
		fits := len(t.Methods) == 0 || slices.ContainsFunc(t.Methods, func(m string) bool { return strings.EqualFold(m, method) })
		if fits && (name == "" || strings.EqualFold(t.Name, name)) {
			found = append(found, t)
		} else {
			others = append(others, t)
		}
	}
	known := slices.ContainsFunc(others, func(t Interpretation) bool { return name == "" || strings.EqualFold(t.Name, name) })
	which := "table"
	if name != "" {
		which = fmt.Sprintf("table %q", name)
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		return Interpretation{}, fmt.Errorf("there are %d tables for %s by %s: %s; name one", len(found), analyte, method, names(found))
	case len(others) == 0:
		return Interpretation{}, fmt.Errorf("there is no %s for %s; give its limits, or a table of yours", which, analyte)
	case !known:
		return Interpretation{}, fmt.Errorf("there is no %s for %s; there are: %s", which, analyte, names(others))
	case method == "":
		return Interpretation{}, fmt.Errorf("the results do not say by which method %s was measured, and each %s belongs to one: %s; name the method in the job's columns", analyte, which, names(others))
	}
	return Interpretation{}, fmt.Errorf("there is no %s for %s by %s, and limits for one method are wrong for another; there are: %s", which, analyte, method, names(others))
}

func names(tables []Interpretation) string {
	var out []string
	for _, t := range tables {
		text := t.Name
		if len(t.Methods) > 0 {
			text += " (" + strings.Join(t.Methods, ", ") + ")"
		}
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}
