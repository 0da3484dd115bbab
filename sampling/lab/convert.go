package lab

import (
	"errors"
	"fmt"
)

// Converted is a value in the canonical unit of its analyte.
type Converted struct {
	Value  float64
	Unit   string
	Factor float64 // Value is the given value times Factor
	How    string  // why the factor is what it is; "" where nothing is converted
}

// CanonicalUnit returns the unit that the values of an analyte end in: mg/kg
// for amounts of an element, meq/100 g for CEC and H, % for OM, texture and
// shares of the exchange capacity, dS/m for soluble salts, "" for pH, salt pH
// and buffer pH. Al ends in mg/kg even if given as a charge, so that there is
// one figure to compare. ok is false for a name that is no analyte of Column.
func CanonicalUnit(analyte string) (unit string, ok bool) {
	switch analyte {
	case "pH", "salt pH", "buffer pH":
		return "", true
	case "CEC", "H":
		return "meq/100 g", true
	case "soluble salts":
		return "dS/m", true
	case "OM", "sand", "silt", "clay", "base saturation":
		return "%", true
	}
	if _, ok := elements[analyte]; ok {
		return "mg/kg", true
	}
	return "%", isSaturation(analyte)
}

// poundsPerInch is the weight in pounds of an acre of mineral soil to the depth
// of an inch: two million pounds in 6 2/3 inches (common practice; two million
// for a plow layer of 6 to 7 inches, UC Davis 2.4 million for 8). It stands for
// a density of 1.324 g/cm3, which a subsoil or a peat hasn't.
const poundsPerInch = 300_000.0

// kgPerHectare is 1 lb/ac in kg/ha, exact by the definitions of the
// international pound and acre.
const kgPerHectare = 0.45359237 / 0.40468564224

// A layer outside of these, in inches, is a slip and not a sample.
const thinnest, thickest = 0.25, 120.0

// Convert turns a value into the canonical unit of its analyte (see
// CanonicalUnit). The unit may be spelled in any way a header may, and be
// followed by the form in which an element is given: "lb/ac P2O5". For lb/ac
// and kg/ha, thickness is that of the sampled layer in inches, 0 where unknown.
// A value that needs no conversion comes back exactly as given, others rounded
// to 12 significant digits. The error says why a value can't be converted: no
// unit is given, the unit is one by volume, a percentage of an element, or the
// thickness is missing.
//
// mmol/kg of Ca, Mg and Al is refused, as it may count atoms or charges;
// mmol(+)/kg and cmol/kg count charges.
func Convert(analyte, unit string, value, thickness float64) (Converted, error) {
	name, form, ok := readUnit(unit)
	if !ok && tidy(unit) != "" {
		return Converted{}, fmt.Errorf("unit %s is not known", show(tidy(unit)))
	}
	c, err := conversionOf(analyte, name, form)
	if err != nil {
		return Converted{}, err
	}
	factor, err := c.over(thickness)
	if err != nil {
		return Converted{}, err
	}
	return Converted{Value: scale(value, factor), Unit: c.to, Factor: factor, How: c.how(thickness)}, nil
}

func scale(x, factor float64) float64 {
	if factor == 1 {
		return x
	}
	return trim(x * factor)
}

// conversion is the way from a unit to the canonical one.
type conversion struct {
	from, to, form string
	analyte        string
	factor         float64 // for area units, of a layer of an inch
	area           bool    // the unit is per area: the factor goes down with the layer's thickness
}

var errNoUnit = errors.New("no unit is given")

// over gives the factor for a layer of a thickness in inches.
func (c conversion) over(thickness float64) (float64, error) {
	switch {
	case !c.area:
		return c.factor, nil
	case thickness == 0:
		return 0, fmt.Errorf("%s needs the depth of the sample", c.from)
	case !(thickness >= thinnest && thickness <= thickest):
		return 0, fmt.Errorf("%s can't be taken over a layer of %g in", c.from, thickness)
	}
	return c.factor / thickness, nil
}

// how says what was converted, "" if nothing was.
func (c conversion) how(thickness float64) string {
	s := ""
	switch {
	case c.area:
		s = fmt.Sprintf("%s over %.4g in of soil at 0.3 million lb per acre and inch", c.from, thickness)
	case c.from != c.to && c.from != "pH":
		s = c.from + " as " + c.to
	}
	if c.form != "" {
		if s != "" {
			s += ", "
		}
		s += c.form + " as " + forms[c.form].element
	}
	return s
}

// massUnits are in mg/kg, chargeUnits in meq/100 g, shareUnits in %, saltUnits
// in dS/m.
var (
	massUnits   = map[string]float64{"mg/kg": 1, "ppm": 1, "ug/g": 1, "g/kg": 1000, "mg/100 g": 10, "g/100 g": 10_000}
	chargeUnits = map[string]float64{"meq/100 g": 1, "cmol/kg": 1, "mmolc/kg": 0.1}
	shareUnits  = map[string]float64{"%": 1, "g/100 g": 1, "g/kg": 0.1, "mg/kg": 1e-4, "ppm": 1e-4}
	saltUnits   = map[string]float64{"dS/m": 1, "mmho/cm": 1, "mS/cm": 1, "uS/cm": 0.001, "mS/m": 0.01}
)

// areaPounds are the units per area in lb/ac.
var areaPounds = map[string]float64{"lb/ac": 1, "kg/ha": 1 / kgPerHectare}

// conversionOf finds the way from a unit, as unitSpellings names it. Form is ""
// or one of forms.
func conversionOf(analyte, unit, form string) (conversion, error) {
	to, ok := CanonicalUnit(analyte)
	c := conversion{from: unit, to: to, form: form, analyte: analyte}
	if !ok {
		return c, fmt.Errorf("%s has no unit of its own here", show(analyte))
	}
	if f, ok := forms[form]; form != "" && (!ok || f.analyte != analyte) {
		return c, fmt.Errorf("%s is no form of %s", show(form), analyte)
	}
	if to == "" {
		c.factor = 1
		if unit != "" && unit != "pH" {
			return c, fmt.Errorf("%s has no unit, but %s is given", analyte, unit)
		}
		return c, nil
	}
	if unit == "" {
		return c, errNoUnit
	}
	if byVolume[unit] {
		return c, fmt.Errorf("%s is by volume and needs the density of the prepared soil", unit)
	}
	switch to {
	case "%":
		c.factor, ok = shareUnits[unit]
		ok = ok && (unit == "%" || !isSaturation(analyte) && analyte != "base saturation")
	case "dS/m":
		c.factor, ok = saltUnits[unit]
		if massUnits[unit] != 0 {
			return c, fmt.Errorf("%s of salts from conductivity needs the factor that the lab took", unit)
		}
	case "meq/100 g":
		c.factor, ok = c.charge()
	default:
		if unit == "%" {
			return c, fmt.Errorf("a percentage of %s may be of the soil or of something else; of the soil it is g/100 g", analyte)
		}
		if unit == "mmol/kg" && elements[analyte].exchanged && elements[analyte].valence > 1 {
			return c, fmt.Errorf("mmol/kg of %s may count atoms or charges; charges are mmol(+)/kg", analyte)
		}
		c.factor, ok = c.mass()
	}
	if !ok {
		return c, fmt.Errorf("%s of %s can't be turned into %s", unit, analyte, to)
	}
	return c, nil
}

// mass gives the factor to mg/kg of an element.
func (c *conversion) mass() (float64, bool) {
	e := elements[c.analyte]
	if f, ok := chargeUnits[c.from]; ok {
		return f * meqWeight(c.analyte), e.exchanged
	}
	if c.from == "mmol/kg" {
		return e.weight, c.form == ""
	}
	share := 1.0
	if c.form != "" {
		share = forms[c.form].share()
	}
	if f, ok := massUnits[c.from]; ok {
		return f * share, true
	}
	f, ok := areaPounds[c.from]
	c.area = ok
	return f * share * 1e6 / poundsPerInch, ok
}

// charge gives the factor to meq/100 g, for H and CEC.
func (c *conversion) charge() (float64, bool) {
	if f, ok := chargeUnits[c.from]; ok {
		return f, true
	}
	if c.from == "mmol/kg" {
		return 0.1, true // of charges: the CEC counts nothing else, and H has one
	}
	if c.analyte != "H" {
		return 0, false
	}
	f, ok := c.mass()
	return f / meqWeight("H"), ok
}

// meqWeight is 1 meq/100 g of a cation in mg/kg.
func meqWeight(cation string) float64 {
	e := elements[cation]
	return 10 * e.weight / float64(e.valence)
}

// element is what stands in the soil as an analyte.
type element struct {
	weight    float64
	valence   int
	exchanged bool // a cation whose amount may be given as a charge
}

// Atomic weights: the conventional and abridged values of IUPAC, from memory.
const (
	weightH = 1.008
	weightN = 14.007
	weightO = 15.999
)

// elements are the analytes that are amounts of an element.
var elements = map[string]element{
	"P": {30.973761998, 3, false}, "S": {32.06, 2, false}, "B": {10.81, 3, false}, "Cl": {35.45, 1, false},
	"NO3-N": {weightN, 1, false}, "NH4-N": {weightN, 1, false},
	"K": {39.0983, 1, true}, "Ca": {40.078, 2, true}, "Mg": {24.305, 2, true}, "Na": {22.98976928, 1, true},
	"H": {weightH, 1, true}, "Al": {26.9815384, 3, true},
	"Zn": {65.38, 2, false}, "Cu": {63.546, 2, false}, "Mn": {54.938043, 2, false}, "Fe": {55.845, 2, false},
}

// form is a compound or an ion as which a lab may give an element.
type form struct {
	analyte, element    string
	atoms               float64 // of the element
	oxygens, hydrogens  float64
	nameAlone, takenFor bool
}

// forms: nameAlone ones name their analyte without more (a column NO3 may be of
// NO3-N as well, so that one isn't). takenFor ones are those on which fertiliser
// is sold, so that a column may be a recommended rate.
var forms = map[string]form{
	"P2O5": {"P", "P", 2, 5, 0, true, true},
	"K2O":  {"K", "K", 2, 1, 0, true, true},
	"MgO":  {"Mg", "Mg", 1, 1, 0, true, true},
	"CaO":  {"Ca", "Ca", 1, 1, 0, true, true},
	"Na2O": {"Na", "Na", 2, 1, 0, true, true},
	"SO3":  {"S", "S", 1, 3, 0, true, true},
	"SO4":  {"S", "S", 1, 4, 0, false, false},
	"NO3":  {"NO3-N", "N", 1, 3, 0, false, false},
	"NH4":  {"NH4-N", "N", 1, 0, 4, false, false},
}

// share is the element's part of the weight of the form.
func (f form) share() float64 {
	e := f.atoms * elements[f.analyte].weight
	return e / (e + f.oxygens*weightO + f.hydrogens*weightH)
}
