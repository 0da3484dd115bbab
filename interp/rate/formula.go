package rate

// Formula is the rule of a table: exactly one of these forms.
type Formula struct {
	Lines       *Lines       `yaml:"lines"`
	Lookup      *Lookup      `yaml:"lookup"`
	Acidity     *Acidity     `yaml:"acidity"`
	Multiples   *Multiples   `yaml:"multiples"`
	Saturation  *Saturation  `yaml:"saturation"`
	BuildUp     *BuildUp     `yaml:"build_up"`
	Sufficiency *Sufficiency `yaml:"sufficiency"`
	Removal     *Removal     `yaml:"removal"`
	Classes     *Classes     `yaml:"classes"`
}

// Lines is lime = intercept - fall × x, one line to a target; x is Scale × By.
type Lines struct {
	Scale   float64 `yaml:"scale"`
	Scaled  string  `yaml:"scaled"` // name of x where Scale isn't 1
	Targets []Line  `yaml:"targets"`
}

// Line is the line for one target pH.
type Line struct {
	Target    float64 `yaml:"target"`
	Intercept float64 `yaml:"intercept"`
	Fall      float64 `yaml:"fall"`
}

// Lookup is a printed table of lime: a row to a value of By, a column to a target.
type Lookup struct {
	// Between tells what is done between rows: linear (a straight line), or
	// nearest (the nearest row; of two as near, the one with more lime).
	Between string      `yaml:"between"`
	Rows    []LookupRow `yaml:"rows"`
}

// LookupRow is a row of a Lookup: Rates in the order of the table's targets, a
// null where the print can't be trusted.
type LookupRow struct {
	At    float64    `yaml:"at"`
	Rates []*float64 `yaml:"rates"`
}

// Acidity is lime = (Buffer - buffer pH) × Factor × (target - pH)/(Buffer - pH):
// the acidity that the buffer found, times the share of it up to the target.
type Acidity struct {
	Buffer float64 `yaml:"buffer"` // pH of the buffer without soil
	Factor float64 `yaml:"factor"` // meq to the unit of pH
	Unit   string  `yaml:"unit"`   // of the acidity
}

// Multiples is lime = acidity × Times, by target.
type Multiples struct {
	Targets []Multiple `yaml:"targets"`
}

// Multiple is the rule for one target: acidity × Times where the acidity is above
// Above, else the flat rate Else.
type Multiple struct {
	Target float64 `yaml:"target"`
	Times  float64 `yaml:"times"`
	Above  float64 `yaml:"above"`
	Else   float64 `yaml:"else"`
}

// Saturation is the Adams-Evans rule: H is the share of the exchange capacity
// that is acid, from pH = A - B H + C H² at the soil's pH (H1) and the target
// (H2); lime = Factor × (Buffer - buffer pH)/H1 × (H1 - H2) × Safety. H above 1
// is taken for 1.
type Saturation struct {
	A      float64 `yaml:"a"`
	B      float64 `yaml:"b"`
	C      float64 `yaml:"c"`
	Factor float64 `yaml:"factor"`
	Buffer float64 `yaml:"buffer"`
	Safety float64 `yaml:"safety"`
}

// BuildUp is the rule of build-up, maintenance and drawdown. Below the critical
// level CL: (CL - soil test) × (PerUnit + PerUnitCEC × CEC) + maintenance; up to
// CL + Maintenance (included): maintenance, that is yield × removal + Add; over
// the next Drawdown units: maintenance falling to 0 in a straight line; then 0.
type BuildUp struct {
	PerUnit    float64 `yaml:"per_unit"`
	PerUnitCEC float64 `yaml:"per_unit_cec"`
	Add        float64 `yaml:"add"`
	Bands      []Band  `yaml:"bands"` // the first that fits counts
}

// Band is the levels for some crops and some exchange capacity. CL is Critical +
// CriticalCEC × CEC.
type Band struct {
	Crops       []string `yaml:"crops"`     // none: all of the table's
	CECBelow    float64  `yaml:"cec_below"` // meq/100 g; 0: any
	Critical    float64  `yaml:"critical"`
	CriticalCEC float64  `yaml:"critical_cec"`
	Maintenance float64  `yaml:"maintenance"` // width above CL
	Drawdown    float64  `yaml:"drawdown"`    // width above that; 0: none
}

// Sufficiency is rate = A + B Y + C S + D Y S, of the yield goal Y and the soil
// test S; 0 where that is below 0.
type Sufficiency struct {
	A float64 `yaml:"a"`
	B float64 `yaml:"b"`
	C float64 `yaml:"c"`
	D float64 `yaml:"d"`
}

// Removal is rate = yield × removal, without regard to the soil.
type Removal struct{}

// Classes puts a soil test into a class, from low to high. A class begins at its
// limit. Rates, where given, has one to a class.
type Classes struct {
	Names []string     `yaml:"names"`
	Rates []float64    `yaml:"rates"`
	Sets  []ClassLimit `yaml:"sets"` // the first that fits the crop counts
}

// ClassLimit is where each class but the first begins, for some crops.
type ClassLimit struct {
	Crops  []string  `yaml:"crops"` // none: all of the table's
	Limits []float64 `yaml:"limits"`
}
