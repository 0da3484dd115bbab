package rate

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Figure is the value of one analyte.
type Figure struct {
	Value    float64
	Unit     string // as results have it: mg/kg, meq/100 g, %; "" or pH for a pH; lb/ac is taken with the depth of the sample
	Method   string // as results name it; "" where it isn't known
	Censored string // "<" or ">": Value stands for a figure beyond the lab's limit
}

// Figures are the figures of one piece of ground, by analyte.
type Figures map[string]Figure

// Layer is the layer of soil that a sample is of, in inches; the zero value is
// one that isn't known.
type Layer struct{ From, To float64 }

// Conditions are what is known of the ground besides its figures.
type Conditions struct {
	Sample Layer // of the sample
	// LimeDepth is the depth in inches of the soil that the lime is for: as deep
	// as it is worked in. 0: the depth of the sample.
	LimeDepth float64
	NoTill    bool    // lime stays on the surface
	Organic   bool    // organic soil: peat, muck
	Crop      string  // as the table names it
	Yield     float64 // yield goal in YieldUnit
	YieldUnit string  // bu/ac, ton/ac
	TargetPH  float64 // 0: the table's, where it has only one
}

// Why a table refuses, of a Refusal.
const (
	WhyMissing = "missing" // an input, a yield goal, a target is not there
	WhyMethod  = "method"  // a figure by another method, or one that isn't told
	WhyUnit    = "unit"    // a figure in a unit that can't be turned into the table's
	WhyRange   = "range"   // a figure outside of the table's valid range
	WhyDepth   = "depth"   // another depth than the table's, without a rule for it
	WhyTarget  = "target"  // a target pH that the table or its buffer doesn't reach
	WhyGround  = "ground"  // a crop or a soil that the table isn't for
	WhyTable   = "table"   // the table itself has no figure there
)

// Refusal is the error of a table that doesn't answer.
type Refusal struct {
	Table string
	Why   string // one of the Why constants
	What  string // what is wrong and what to do
}

// Error writes the refusal in a line.
func (r *Refusal) Error() string { return "table " + r.Table + ": " + r.What }

// Recommendation is the answer of a table.
type Recommendation struct {
	Table    string // its name
	Source   string // its source, in a line
	Verified string // seen, reprint or memory
	Of       string // what the rate counts: CaCO3, P2O5; "" of classes without a rate
	Rate     float64
	Unit     string // of Rate; "" of classes without a rate
	// Material is the neutralising value in % of the lime that Rate is of, 100
	// for pure calcium carbonate; 0 of nutrients.
	Material float64
	// KgPerHa is the rate in kg/ha of the nutrient, or of pure calcium carbonate
	// whatever Material is.
	KgPerHa  float64
	Class    string // of the soil test, where the table has classes
	Reason   string // why the rate is 0, where it is
	Steps    []Step
	Cautions []string
}

// Recommend works out the rate for one piece of ground. A rate of 0, with its
// Reason, is an answer. What the table isn't made for is a *Refusal. The table
// has to come from Read or Tables.
func (t *Table) Recommend(f Figures, c Conditions) (Recommendation, error) {
	r := &run{t: t, figures: f, c: c}
	r.rec = Recommendation{
		Table: t.Name, Source: t.Source.String(), Verified: t.Verified,
		Of: t.Out.Of, Unit: t.Out.Unit, Material: t.Out.Material, Cautions: t.Cautions(),
	}
	var rate *expr
	err := r.ground()
	if err == nil {
		if t.Kind == KindLime {
			rate, err = r.lime()
		} else {
			rate, err = r.nutrient()
		}
	}
	if err == nil {
		err = r.finish(rate)
	}
	if err != nil {
		return Recommendation{}, err
	}
	r.rec.Steps = r.steps
	return r.rec, nil
}

// Cautions are those that go with every answer of the table.
func (t *Table) Cautions() []string {
	var out []string
	if t.Verified == "memory" {
		out = append(out, CautionMemory)
	}
	out = append(out, CautionAdvice, CautionRules, CautionPlan)
	if t.Kind != KindSufficiency {
		out = append(out, CautionDust)
	}
	if t.Out.Of == "P2O5" {
		out = append(out, CautionRunoff)
	}
	if t.Note != "" {
		out = append(out, "Table "+t.Name+": "+t.Note)
	}
	return out
}

// run is one use of a table.
type run struct {
	t       *Table
	figures Figures
	c       Conditions
	crop    Crop
	steps   steps
	rec     Recommendation
}

func (r *run) refuse(why, format string, args ...any) error {
	return &Refusal{r.t.Name, why, fmt.Sprintf(format, args...)}
}

func (r *run) caution(text string) { r.rec.Cautions = append(r.rec.Cautions, text) }

// zero is the rate of 0, for a reason.
func (r *run) zero(format string, args ...any) *expr {
	r.rec.Reason = fmt.Sprintf(format, args...)
	return num(0)
}

// ground checks soil, crop and the layer that was sampled.
func (r *run) ground() error {
	t, c := r.t, r.c
	switch {
	case t.Soil == "mineral" && c.Organic:
		return r.refuse(WhyGround, "it is for mineral soils, and the ground is organic; choose a table for organic soils")
	case t.Soil == "organic" && !c.Organic:
		return r.refuse(WhyGround, "it is for organic soils, and the ground isn't said to be one; choose a table for mineral soils")
	}
	if len(t.Crops) > 0 {
		at := slices.IndexFunc(t.Crops, func(o Crop) bool { return strings.EqualFold(o.Name, c.Crop) })
		if at < 0 {
			var names []string
			for _, o := range t.Crops {
				names = append(names, o.Name)
			}
			if c.Crop == "" {
				return r.refuse(WhyMissing, "it goes by the crop; name one of: %s", strings.Join(names, ", "))
			}
			return r.refuse(WhyGround, "it is not for %s; it is for: %s", c.Crop, strings.Join(names, ", "))
		}
		r.crop = t.Crops[at]
	}
	return r.sampled()
}

// figure takes an input: its method and unit checked, in the unit of the table,
// set down as a step. Its range is checked by inRange.
func (r *run) figure(analyte string) (*expr, error) {
	in := r.t.input(analyte)
	if in == nil {
		return nil, r.refuse(WhyTable, "it doesn't name %s among its inputs", analyte)
	}
	f, ok := r.figures[analyte]
	if !ok {
		return nil, r.refuse(WhyMissing, "%s is missing; the table can't do without", named(*in))
	}
	if math.IsNaN(f.Value) || math.IsInf(f.Value, 0) || f.Value < 0 {
		return nil, r.refuse(WhyRange, "%s is %g, which is no figure; look at the results", analyte, f.Value)
	}
	if len(in.Methods) > 0 && !slices.ContainsFunc(in.Methods, func(m string) bool { return strings.EqualFold(m, f.Method) }) {
		if f.Method == "" {
			return nil, r.refuse(WhyMethod, "the method of %s isn't told, and the table is for %s only; name the method", analyte, strings.Join(in.Methods, " or "))
		}
		return nil, r.refuse(WhyMethod, "%s is by %s, and the table is for %s only; choose a table for %s", analyte, f.Method, strings.Join(in.Methods, " or "), f.Method)
	}
	text := analyte
	if f.Method != "" {
		text += " by " + f.Method
	}
	x, err := r.converted(*in, f, text)
	if err != nil {
		return nil, err
	}
	switch f.Censored {
	case "":
	case "<", ">":
		r.caution(fmt.Sprintf("%s is a figure beyond the lab's limit (%s); %s stands for it.", analyte, f.Censored, number(f.Value)))
	default:
		return nil, r.refuse(WhyUnit, "%s is marked %q; a figure beyond the lab's limit is marked < or >", analyte, f.Censored)
	}
	return x, nil
}

// converted sets down a figure in the unit of the table.
func (r *run) converted(in Input, f Figure, text string) (*expr, error) {
	own, unit := ownUnit(in.Analyte), f.Unit
	switch {
	case unit == "ppm" && own == "mg/kg":
		unit = own
	case unit == "" && own == "pH":
		unit = own
	}
	x := num(f.Value)
	if unit == "lb/ac" && own == "mg/kg" {
		if r.c.Sample.To == 0 {
			return nil, r.refuse(WhyDepth, "%s is in lb/ac and the depth of the sample isn't known; give the depth, or the figure in mg/kg", in.Analyte)
		}
		r.steps.do(text, unit, x)
		x = r.steps.do(in.Analyte+" in mg/kg, at 0.3 million lb of soil per acre and inch", own, div(x, mul(num(poundsPerInch), num(r.c.Sample.To))))
	} else {
		if unit != own {
			return nil, r.refuse(WhyUnit, "%s is in %q; give it in %s", in.Analyte, f.Unit, own)
		}
		x = r.steps.do(text, own, x)
	}
	if in.MgPerKg > 0 {
		x = r.steps.do(in.Analyte+" in "+in.Unit, in.Unit, div(x, num(in.MgPerKg)))
	}
	return x, nil
}

// inRange refuses a figure outside of the table's range.
func (r *run) inRange(analyte string, x *expr) error {
	in := r.t.input(analyte)
	unit := in.Unit
	if unit == "pH" {
		unit = ""
	}
	switch {
	case x.value > rounded(in.Max):
		return r.refuse(WhyRange, "%s %s is above the table, which ends at %s; look at the figure, or choose another table", analyte, strings.TrimSpace(number(x.value)+" "+unit), number(in.Max))
	case x.value < rounded(in.Min):
		return r.refuse(WhyRange, "%s %s is below the table, which begins at %s; look at the figure, or choose another table", analyte, strings.TrimSpace(number(x.value)+" "+unit), number(in.Min))
	}
	return nil
}

// checked is figure with its range checked.
func (r *run) checked(analyte string) (*expr, error) {
	x, err := r.figure(analyte)
	if err == nil {
		err = r.inRange(analyte, x)
	}
	return x, err
}

func named(in Input) string {
	if len(in.Methods) == 0 {
		return in.Analyte
	}
	return in.Analyte + " by " + strings.Join(in.Methods, " or ")
}

// finish caps and rounds the rate, and turns it into kg/ha.
func (r *run) finish(rate *expr) error {
	if rate == nil {
		return nil // classes without a rate
	}
	out, what := r.t.Out, "rate"
	if rate.value < 0 {
		rate = r.zero("the formula gives %s, below zero", number(rate.value))
	}
	if limit := r.t.Cap; limit > 0 && rate.value > limit {
		rate = r.steps.do("rate, not above the table's highest", out.Unit, num(limit))
		r.caution("The table's formula gives more than its highest rate, and the highest rate stands.")
	}
	if to := r.t.RoundTo; to > 0 {
		rate = r.steps.do("rate, to the nearest "+number(to), out.Unit, num(math.Round(rate.value/to)*to))
	}
	if math.IsNaN(rate.value) || math.IsInf(rate.value, 0) {
		return r.refuse(WhyTable, "its formula gives no number for these figures; choose another table")
	}
	if r.rec.Rate = rate.value; rate.value == 0 {
		if r.rec.Reason == "" {
			r.rec.Reason = "the rate is rounded to 0"
		}
		return nil
	}
	kg, _ := KgPerHa(out.Unit)
	e := mul(rate, num(kg))
	if r.t.Kind == KindLime && out.Material != 100 {
		what = "as pure calcium carbonate"
		e = div(mul(e, num(out.Material)), num(100))
	}
	if out.Unit == "kg/ha" && e.a == rate {
		r.rec.KgPerHa = rate.value
		return nil
	}
	r.rec.KgPerHa = r.steps.do(what+" in kg/ha", "kg/ha of "+out.Of, e).value
	return nil
}

// Explain writes a recommendation as lines that can be followed with a pocket
// calculator: the table and its source, every step with its numbers, the rate,
// the reason where it is 0, and the cautions. A number printed is the one that
// the next step goes on with.
func Explain(rec Recommendation) []string {
	out := []string{fmt.Sprintf("table %s: %s; figures verified: %s", rec.Table, rec.Source, rec.Verified)}
	out = append(out, lines(rec.Steps)...)
	if rec.Class != "" {
		out = append(out, "class: "+rec.Class)
	}
	if rec.Unit != "" {
		line := "rate: " + number(rec.Rate) + " " + rec.Unit + " of " + rec.Of
		if rec.Material != 0 && rec.Material != 100 {
			line = "rate: " + number(rec.Rate) + " " + rec.Unit + " of lime of " + number(rec.Material) + " % neutralising value"
		}
		if rec.Reason != "" {
			line += ": " + rec.Reason
		}
		out = append(out, line)
	}
	for _, c := range rec.Cautions {
		out = append(out, "caution: "+c)
	}
	return out
}
