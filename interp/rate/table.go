package rate

import (
	"embed"
	"errors"
	"fmt"
	"strings"

	"corewalk/interp/datafile"
)

// Kinds of tables.
const (
	KindLime        = "lime"        // a rate of lime
	KindNutrient    = "nutrient"    // a rate of a nutrient
	KindSufficiency = "sufficiency" // a class, without a rate
)

// Table is one recommendation, as published.
type Table struct {
	Name   string  `yaml:"name"`
	Kind   string  `yaml:"kind"`
	Region string  `yaml:"region"`
	Crops  []Crop  `yaml:"crops"` // that it is for; none: for any
	Soil   string  `yaml:"soil"`  // mineral, organic or any
	Inputs []Input `yaml:"inputs"`
	// By is the analyte that the formula goes by: the soil test, the buffer pH.
	By    string `yaml:"by"`
	Depth Basis  `yaml:"depth"`
	Out   Out    `yaml:"out"` // not of sufficiency classes
	// Targets are the pH values that a lime table has figures for, or two limits
	// of them where its formula takes any between (TargetAny).
	Targets   []float64 `yaml:"targets"`
	TargetAny bool      `yaml:"target_any"`
	Trigger   float64   `yaml:"trigger"`    // lime only where pH is as far below target, 0: where below at all
	ZeroFrom  float64   `yaml:"zero_from"`  // no lime from this value of By on; 0: no such value
	NoneAbove float64   `yaml:"none_above"` // no nutrient above this soil test, in the unit of By; 0: no such limit
	Cap       float64   `yaml:"cap"`        // highest rate in the unit of Out; 0: none
	RoundTo   float64   `yaml:"round_to"`   // the source rounds to such steps, in the unit of Out; 0: it doesn't
	Formula   Formula   `yaml:"formula"`
	Source    Source    `yaml:"source"`
	// Verified tells how far the figures were seen: seen (in print), reprint (in
	// another's print of them), memory. It is that of the least sure of them.
	Verified string `yaml:"verified"`
	Note     string `yaml:"note"`
}

// Input is a figure that a table needs.
type Input struct {
	Analyte string   `yaml:"analyte"`   // as results name it: P, pH, buffer pH, H, CEC
	Methods []string `yaml:"methods"`   // as results name them; none where the analyte has no choice of them
	Unit    string   `yaml:"unit"`      // of the table's figures
	MgPerKg float64  `yaml:"mg_per_kg"` // what one of Unit is in mg/kg where Unit is none of results' (lb/ac); else 0
	Min     float64  `yaml:"min"`       // valid range in Unit, both ends included
	Max     float64  `yaml:"max"`
}

// Basis is the layer of soil that a table's figures are for.
type Basis struct {
	Inches float64 `yaml:"inches"` // from the surface down; 0 where Others is unstated
	// Others is the rule for other depths: refuse; linear (lime: the rate goes
	// with the depth that is limed); unstated (the source, as read, names no depth).
	Others string  `yaml:"others"`
	NoTill float64 `yaml:"no_till"` // lime left on the surface: share of the rate; 0: the source has no rule
}

// Out is what a table's rate counts.
type Out struct {
	Of   string `yaml:"of"`   // CaCO3, or a nutrient: P2O5
	Unit string `yaml:"unit"` // see KgPerHa
	// Material is the neutralising value in % of the lime that the rates are of;
	// 100 is pure calcium carbonate. Not of nutrients.
	Material float64 `yaml:"material"`
}

// Crop is a crop that a table is for.
type Crop struct {
	Name    string  `yaml:"name"`
	Yield   string  `yaml:"yield"`   // unit of its yield: bu/ac, ton/ac; "" where the table doesn't need it
	Highest float64 `yaml:"highest"` // highest yield taken for a figure, in that unit (a guard, no source)
	Removal float64 `yaml:"removal"` // what one unit of yield takes off, in the unit of Out times area; 0: not in the table
}

// Source is where a table was published.
type Source struct {
	Author string `yaml:"author"`
	Title  string `yaml:"title"`
	Year   int    `yaml:"year"` // 0 where not known
	Place  string `yaml:"place"`
}

// String writes the source in a line.
func (s Source) String() string {
	text := s.Author + ", " + s.Title
	if s.Year != 0 {
		text += fmt.Sprintf(" (%d)", s.Year)
	}
	return text + ", " + s.Place
}

//go:embed tables/*.yaml
var embedded embed.FS

// Tables returns the tables that come with the program, in the order of their
// files.
func Tables() []Table {
	tables, err := readEmbedded()
	if err != nil {
		return nil // a test reads them all
	}
	return tables
}

func readEmbedded() ([]Table, error) {
	var all []Table
	entries, err := embedded.ReadDir("tables")
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		data, err := embedded.ReadFile("tables/" + e.Name())
		if err != nil {
			return nil, err
		}
		tables, err := Read(data)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", e.Name(), err)
		}
		all = append(all, tables...)
	}
	return all, uniqueNames(all)
}

// Read reads tables from YAML, a list of them with the keys of Table. Unknown
// keys, missing sources, ranges or units, and figures that ask for more where the
// soil has more, are errors that name the table.
func Read(data []byte) ([]Table, error) {
	var tables []Table
	if err := datafile.Decode(data, &tables); err != nil {
		return nil, err
	}
	if len(tables) == 0 {
		return nil, errors.New("there is no table in it")
	}
	for i := range tables {
		if err := tables[i].validate(); err != nil {
			return nil, fmt.Errorf("table %d, %q: %w", i+1, tables[i].Name, err)
		}
	}
	return tables, uniqueNames(tables)
}

func uniqueNames(tables []Table) error {
	seen := map[string]bool{}
	for _, t := range tables {
		key := strings.ToLower(t.Name)
		if seen[key] {
			return fmt.Errorf("two tables are named %q; give each its own name", t.Name)
		}
		seen[key] = true
	}
	return nil
}

// Find returns the table of a name, in any case.
func Find(tables []Table, name string) (Table, error) {
	var names []string
	for _, t := range tables {
		if strings.EqualFold(t.Name, name) {
			return t, nil
		}
		names = append(names, t.Name)
	}
	return Table{}, fmt.Errorf("there is no table %q; there are: %s", name, strings.Join(names, ", "))
}
