package rate

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
)

// validate checks every field of a table, and that it never asks for more where
// the soil has more.
func (t *Table) validate() error {
	if err := finite(reflect.ValueOf(*t), ""); err != nil {
		return err
	}
	switch {
	case t.Name == "" || strings.TrimSpace(t.Name) != t.Name || len(t.Name) > 60:
		return errors.New("give it a name of 1 to 60 characters")
	case t.Region == "" || t.Source.Author == "" || t.Source.Title == "" || t.Source.Place == "":
		return errors.New("region, and author, title and place of the source are needed")
	case t.Source.Year != 0 && (t.Source.Year < 1840 || t.Source.Year > 2100):
		return fmt.Errorf("year of the source is %d", t.Source.Year)
	case !slices.Contains([]string{"seen", "reprint", "memory"}, t.Verified):
		return fmt.Errorf("verified is %q; say seen, reprint or memory", t.Verified)
	case !slices.Contains([]string{KindLime, KindNutrient, KindSufficiency}, t.Kind):
		return fmt.Errorf("kind is %q; say lime, nutrient or sufficiency", t.Kind)
	case !slices.Contains([]string{"mineral", "organic", "any"}, t.Soil):
		return fmt.Errorf("soil is %q; say mineral, organic or any", t.Soil)
	case t.Trigger < 0 || t.ZeroFrom < 0 || t.NoneAbove < 0 || t.Cap < 0 || t.RoundTo < 0:
		return errors.New("trigger, zero_from, none_above, cap and round_to are not below 0")
	}
	for _, check := range []func() error{t.validateCrops, t.validateInputs, t.validateDepth, t.validateOut, t.validateTargets, t.validateFormula} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// finite refuses .nan and .inf, which YAML has, wherever a number stands.
func finite(v reflect.Value, at string) error {
	switch v.Kind() {
	case reflect.Float64:
		if x := v.Float(); math.IsNaN(x) || math.Abs(x) > 1e9 {
			return fmt.Errorf("%s is %g; give a number", at, x)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			return finite(v.Elem(), at)
		}
	case reflect.Slice:
		for i := range v.Len() {
			if err := finite(v.Index(i), fmt.Sprintf("%s %d", at, i+1)); err != nil {
				return err
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if err := finite(v.Field(i), strings.TrimSpace(at+" "+v.Type().Field(i).Tag.Get("yaml"))); err != nil {
				return err
			}
		}
	}
	return nil
}

func (t *Table) validateCrops() error {
	for i, c := range t.Crops {
		switch {
		case c.Name == "":
			return fmt.Errorf("crop %d has no name", i+1)
		case slices.ContainsFunc(t.Crops[:i], func(o Crop) bool { return strings.EqualFold(o.Name, c.Name) }):
			return fmt.Errorf("crop %s is there twice", c.Name)
		case c.Removal < 0 || c.Highest < 0 || (c.Yield != "") != (c.Highest > 0) || c.Removal > 0 && c.Yield == "":
			return fmt.Errorf("crop %s: removal is not below 0, and needs yield (a unit) and highest (in that unit)", c.Name)
		}
	}
	return nil
}

func (t *Table) validateInputs() error {
	seen := map[string]bool{}
	for i, in := range t.Inputs {
		own := ownUnit(in.Analyte)
		switch {
		case in.Analyte == "" || in.Unit == "":
			return fmt.Errorf("input %d: analyte and unit are needed (pH for a pH)", i+1)
		case seen[in.Analyte]:
			return fmt.Errorf("input %s is there twice", in.Analyte)
		case !(in.Min < in.Max):
			return fmt.Errorf("input %s: its valid range runs from %g to %g", in.Analyte, in.Min, in.Max)
		case in.Min < 0:
			return fmt.Errorf("input %s: its valid range begins below 0", in.Analyte)
		case in.MgPerKg < 0 || in.MgPerKg > 0 && own != "mg/kg":
			return fmt.Errorf("input %s: mg_per_kg is for figures in mg/kg, and above 0", in.Analyte)
		case in.MgPerKg == 0 && in.Unit != own:
			return fmt.Errorf("input %s is in %s; results have it in %s: give it so, or say with mg_per_kg what one %s is", in.Analyte, in.Unit, own, in.Unit)
		case methodMatters(in.Analyte) && len(in.Methods) == 0 || slices.Contains(in.Methods, ""):
			return fmt.Errorf("input %s: name the methods that it may be measured by", in.Analyte)
		}
		seen[in.Analyte] = true
	}
	return nil
}

func (t *Table) validateDepth() error {
	d := t.Depth
	switch {
	case d.Others == "unstated" && d.Inches == 0 && d.NoTill == 0:
		return nil
	case !slices.Contains([]string{"refuse", "linear"}, d.Others):
		return fmt.Errorf("depth: others is %q; say refuse, linear or, without inches and no_till, unstated", d.Others)
	case !(d.Inches > 0 && d.Inches <= deepest):
		return fmt.Errorf("depth: inches is %g; say 0 to %g, or others: unstated", d.Inches, deepest)
	case d.NoTill < 0 || d.NoTill > 1:
		return fmt.Errorf("depth: no_till is %g; it is a share of the rate, 0 to 1", d.NoTill)
	case t.Kind != KindLime && (d.Others == "linear" || d.NoTill != 0):
		return errors.New("depth: only rates of lime go with the depth, or have a share for no-till")
	}
	return nil
}

func (t *Table) validateOut() error {
	if t.Kind == KindSufficiency {
		if t.Out != (Out{}) {
			return errors.New("classes have no rate and no out")
		}
		return nil
	}
	if _, ok := KgPerHa(t.Out.Unit); !ok {
		return fmt.Errorf("out: unit is %q; say lb/ac, ton/ac, lb/1000 ft2, kg/ha or t/ha", t.Out.Unit)
	}
	if t.Kind == KindLime {
		if t.Out.Of != "CaCO3" || !(t.Out.Material >= lowestCCE && t.Out.Material <= highestCCE) {
			return fmt.Errorf("out: lime is of CaCO3, and its material (neutralising value in %%) is %g to %g", lowestCCE, highestCCE)
		}
		return nil
	}
	if name, _, ok := Nutrient(t.Out.Of); !ok || name != t.Out.Of || t.Out.Material != 0 {
		return fmt.Errorf("out: of is %q; say a nutrient as rates count it: N, P2O5, K2O, Ca, Mg, S, Zn, B, Cu, Mn or Fe, without material", t.Out.Of)
	}
	return nil
}

func (t *Table) validateTargets() error {
	if t.Kind != KindLime {
		if len(t.Targets) != 0 || t.TargetAny || t.Trigger != 0 {
			return errors.New("targets, target_any and trigger are for lime")
		}
		return nil
	}
	if len(t.Targets) == 0 || t.TargetAny && len(t.Targets) != 2 {
		return errors.New("lime needs its target pH values, or two limits of them with target_any")
	}
	for i, x := range t.Targets {
		if !(x >= 4 && x <= 9) || i > 0 && slices.Contains(t.Targets[:i], x) {
			return fmt.Errorf("target pH %d is %g; give different ones of 4 to 9", i+1, x)
		}
	}
	if t.TargetAny && !(t.Targets[0] < t.Targets[1]) {
		return errors.New("of target_any, the first target is the lowest and the second the highest")
	}
	return nil
}

// validateFormula finds the one form, and checks its coefficients against kind,
// inputs and targets.
func (t *Table) validateFormula() error {
	f := t.Formula
	form := ""
	v := reflect.ValueOf(f)
	for i := range v.NumField() {
		if !v.Field(i).IsNil() {
			if form != "" {
				return fmt.Errorf("formula: there is %s and %s; give one form", form, v.Type().Field(i).Tag.Get("yaml"))
			}
			form = v.Type().Field(i).Tag.Get("yaml")
		}
	}
	forms := map[string]string{
		"lines": KindLime, "lookup": KindLime, "acidity": KindLime, "multiples": KindLime, "saturation": KindLime,
		"build_up": KindNutrient, "sufficiency": KindNutrient, "removal": KindNutrient,
	}
	if form == "classes" {
		forms[form] = t.Kind // with rates or without
	}
	switch {
	case form == "":
		return errors.New("formula: give one form")
	case forms[form] != t.Kind || form == "classes" && t.Kind == KindLime:
		return fmt.Errorf("formula: %s is no form of a table of %s", form, t.Kind)
	case form != "removal" && !t.has(t.By):
		return fmt.Errorf("by is %q; say which of the inputs the formula goes by", t.By)
	case form == "removal" && (t.By != "" || len(t.Inputs) > 0):
		return errors.New("formula: removal has no regard to the soil; leave inputs and by away")
	case t.Kind == KindLime && !t.has("pH"):
		return errors.New("lime needs the input pH, so that there is none where the ground is at target")
	}
	switch form {
	case "lines":
		return t.validateLines()
	case "lookup":
		return t.validateLookup()
	case "multiples":
		return t.validateMultiples()
	case "acidity":
		a := f.Acidity
		if t.By != "buffer pH" || a.Unit == "" || !(a.Factor > 0) || !t.TargetAny || t.Targets[1] > a.Buffer || t.input("buffer pH").Max > a.Buffer {
			return errors.New("formula: acidity goes by buffer pH, needs unit, factor above 0 and target_any, and neither targets nor buffer pH above the buffer's own pH")
		}
	case "saturation":
		return t.validateSaturation()
	case "build_up":
		return t.validateBuildUp()
	case "sufficiency":
		if f.Sufficiency.C > 0 || f.Sufficiency.D > 0 {
			return errors.New("formula: c and d are not above 0, or more would be spread where the soil has more")
		}
		if (f.Sufficiency.B != 0 || f.Sufficiency.D != 0) && !t.cropsHave(func(c Crop) bool { return c.Yield != "" }) {
			return errors.New("formula: sufficiency with a yield needs crops with yield and highest")
		}
	case "removal":
		if !t.cropsHave(func(c Crop) bool { return c.Removal > 0 }) {
			return errors.New("formula: removal needs crops with removal, yield and highest")
		}
	case "classes":
		return t.validateClasses()
	}
	return nil
}

func (t *Table) has(analyte string) bool { return t.input(analyte) != nil }

func (t *Table) input(analyte string) *Input {
	for i := range t.Inputs {
		if t.Inputs[i].Analyte == analyte {
			return &t.Inputs[i]
		}
	}
	return nil
}

func (t *Table) cropsHave(what func(Crop) bool) bool {
	return len(t.Crops) > 0 && !slices.ContainsFunc(t.Crops, func(c Crop) bool { return !what(c) })
}

// sameTargets tells whether a form has each target of the table, in its order.
func (t *Table) sameTargets(n int, target func(i int) float64) error {
	for i := range max(n, len(t.Targets)) {
		if t.TargetAny || n != len(t.Targets) || target(i) != t.Targets[i] {
			return errors.New("formula: its targets are those of the table, in the same order")
		}
	}
	return nil
}

func (t *Table) validateLines() error {
	l := t.Formula.Lines
	if !(l.Scale > 0) || l.Scale != 1 && l.Scaled == "" {
		return errors.New("formula: scale is above 0, and scaled names what is not at scale 1")
	}
	for _, line := range l.Targets {
		if !(line.Fall > 0) {
			return fmt.Errorf("formula: the line to %g doesn't fall; fall is above 0", line.Target)
		}
	}
	return t.sameTargets(len(l.Targets), func(i int) float64 { return l.Targets[i].Target })
}

func (t *Table) validateMultiples() error {
	m := t.Formula.Multiples
	for _, x := range m.Targets {
		if !(x.Times > 0) || x.Above < 0 || x.Else < 0 || x.Else > x.Times*x.Above {
			return fmt.Errorf("formula: to %g, times is above 0 and else not above times × above", x.Target)
		}
	}
	if t.By != "H" {
		return errors.New("formula: multiples goes by H, the exchangeable acidity")
	}
	return t.sameTargets(len(m.Targets), func(i int) float64 { return m.Targets[i].Target })
}

// validateLookup checks that rows run one way, and rates with them: down with
// pH and buffer pH, up with acidity.
func (t *Table) validateLookup() error {
	l := t.Formula.Lookup
	if !slices.Contains([]string{"linear", "nearest"}, l.Between) || len(l.Rows) < 2 {
		return errors.New("formula: a lookup has two rows at least, and between says linear or nearest")
	}
	sign := 1.0
	if t.By != "H" {
		sign = -1
	}
	slices.SortStableFunc(l.Rows, func(a, b LookupRow) int {
		return int(math.Copysign(1, a.At-b.At))
	})
	last := make([]*float64, len(t.Targets))
	for i, row := range l.Rows {
		if i > 0 && row.At == l.Rows[i-1].At {
			return fmt.Errorf("formula: row %g is there twice", row.At)
		}
		if len(row.Rates) != len(t.Targets) || t.TargetAny {
			return fmt.Errorf("formula: row %g has %d rates; the table has %d targets", row.At, len(row.Rates), len(t.Targets))
		}
		for j, r := range row.Rates {
			if r == nil {
				continue
			}
			if *r < 0 || last[j] != nil && sign*(*r-*last[j]) < 0 {
				return fmt.Errorf("formula: at row %g the rate to %g is below 0, or asks for more lime where there is less acidity", row.At, t.Targets[j])
			}
			last[j] = r
		}
	}
	in := t.input(t.By)
	if l.Rows[0].At > in.Min || l.Rows[len(l.Rows)-1].At < in.Max {
		return fmt.Errorf("formula: the rows run from %g to %g, and the valid range of %s goes beyond them", l.Rows[0].At, l.Rows[len(l.Rows)-1].At, t.By)
	}
	return nil
}

func (t *Table) validateSaturation() error {
	s := t.Formula.Saturation
	in := t.input("buffer pH")
	switch {
	case t.By != "buffer pH" || !t.TargetAny || in.Max > s.Buffer:
		return errors.New("formula: saturation goes by buffer pH, with target_any, and buffer pH not above the buffer's own")
	case !(s.A > 0 && s.B > 0 && s.C > 0 && s.Factor > 0 && s.Safety > 0):
		return errors.New("formula: all coefficients of saturation are above 0")
	case !(t.Targets[1] < s.A) || s.B*s.B-4*s.C*(s.A-t.Targets[0]) <= 0:
		return errors.New("formula: the targets are outside of what the curve of saturation can reach")
	}
	return nil
}

func (t *Table) validateBuildUp() error {
	b := t.Formula.BuildUp
	if b.PerUnit < 0 || b.PerUnitCEC < 0 || b.Add < 0 || len(b.Bands) == 0 {
		return errors.New("formula: build_up needs bands, and no coefficient is below 0")
	}
	if !t.cropsHave(func(c Crop) bool { return c.Removal > 0 }) {
		return errors.New("formula: build_up needs crops with removal, yield and highest")
	}
	cec := b.PerUnitCEC != 0
	for i, band := range b.Bands {
		if band.Critical < 0 || band.CriticalCEC < 0 || band.Maintenance < 0 || band.Drawdown < 0 || band.CECBelow < 0 {
			return fmt.Errorf("formula: band %d has a figure below 0", i+1)
		}
		cec = cec || band.CriticalCEC != 0 || band.CECBelow != 0
		if err := t.knownCrops(band.Crops); err != nil {
			return err
		}
	}
	if cec && !t.has("CEC") {
		return errors.New("formula: build_up goes by CEC, which is not among the inputs")
	}
	for _, c := range t.Crops {
		if !slices.ContainsFunc(b.Bands, func(band Band) bool { return band.CECBelow == 0 && fits(band.Crops, c.Name) }) {
			return fmt.Errorf("formula: no band is for %s at every CEC", c.Name)
		}
	}
	return nil
}

func (t *Table) validateClasses() error {
	c := t.Formula.Classes
	if t.Kind == KindSufficiency && c.Rates != nil || t.Kind == KindNutrient && len(c.Rates) != len(c.Names) {
		return fmt.Errorf("formula: %d classes and %d rates; a nutrient has one to a class, sufficiency has none", len(c.Names), len(c.Rates))
	}
	for i, r := range c.Rates {
		if r < 0 || i > 0 && r > c.Rates[i-1] {
			return fmt.Errorf("formula: rate %d is below 0 or above the one before; classes run from low to high", i+1)
		}
	}
	if len(c.Sets) == 0 || slices.Contains(c.Names, "") {
		return errors.New("formula: classes need names and sets of limits")
	}
	for _, set := range c.Sets {
		if len(set.Limits)+1 != len(c.Names) || len(set.Limits) == 0 {
			return fmt.Errorf("formula: %d limits part %d classes; there is one class more than limits", len(set.Limits), len(c.Names))
		}
		for i, l := range set.Limits {
			if !(l > 0) || i > 0 && !(l > set.Limits[i-1]) {
				return fmt.Errorf("formula: limit %d is %g; limits ascend from above 0", i+1, l)
			}
		}
		if err := t.knownCrops(set.Crops); err != nil {
			return err
		}
	}
	for _, crop := range t.Crops {
		if !slices.ContainsFunc(c.Sets, func(s ClassLimit) bool { return fits(s.Crops, crop.Name) }) {
			return fmt.Errorf("formula: no set of limits is for %s", crop.Name)
		}
	}
	if len(t.Crops) == 0 && len(c.Sets[0].Crops) > 0 {
		return errors.New("formula: limits by crop need the crops of the table")
	}
	return nil
}

func (t *Table) knownCrops(names []string) error {
	for _, n := range names {
		if !slices.ContainsFunc(t.Crops, func(c Crop) bool { return c.Name == n }) {
			return fmt.Errorf("formula: %q is none of the table's crops", n)
		}
	}
	return nil
}

// fits tells whether a part of a table that is for some crops is for this one.
func fits(crops []string, crop string) bool {
	return len(crops) == 0 || slices.Contains(crops, crop)
}

// ownUnit returns the unit in which results have an analyte: mg/kg for elements.
func ownUnit(analyte string) string {
	switch analyte {
	case "pH", "salt pH", "buffer pH":
		return "pH"
	case "CEC", "H":
		return "meq/100 g"
	case "OM", "sand", "silt", "clay", "base saturation":
		return "%"
	case "soluble salts":
		return "dS/m"
	}
	return "mg/kg"
}

// methodMatters tells of which analytes the figure goes by the method.
func methodMatters(analyte string) bool {
	switch analyte {
	case "pH", "salt pH", "CEC", "OM", "sand", "silt", "clay", "base saturation":
		return false
	}
	return true
}
