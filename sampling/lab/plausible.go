package lab

import (
	"fmt"
	"math"
	"slices"
)

// span is where a figure, in the canonical unit, likely lies. Above and beneath
// name the slips that give figures outside of it.
type span struct {
	low, high      float64
	above, beneath string
}

// spans: P to Zn, pH and the lower limit of OM are outer warning limits from
// memory, without a source. OM above 20 % is an organic soil (Michigan State
// University bulletin E-2567). The highest CEC measured in peat was 138 (Raty
// et al., Finnish soils). All others are from memory, without a source.
var spans = map[string]span{
	"pH":              {3, 10.5, "decimal point lost?", "decimal point out of place?"},
	"salt pH":         {2.5, 9.5, "decimal point lost?", "decimal point out of place?"},
	"P":               {1, 300, "lb/ac taken for mg/kg is about twice the figure, P2O5 2.29 times", ""},
	"K":               {20, 800, "lb/ac taken for mg/kg is about twice the figure, K2O 1.20 times", "meq/100 g taken for mg/kg?"},
	"Ca":              {100, 6000, "calcareous soil; or lb/ac taken for mg/kg, about twice the figure, or CaO, 1.40 times", "meq/100 g taken for mg/kg?"},
	"Mg":              {10, 1500, "lb/ac taken for mg/kg is about twice the figure, MgO 1.66 times", "meq/100 g taken for mg/kg?"},
	"S":               {1, 100, "sulfate taken for its sulfur is 3.00 times the figure", ""},
	"Zn":              {0.1, 50, "", ""},
	"Cu":              {0.05, 50, "", ""},
	"Mn":              {0.5, 500, "", ""},
	"Fe":              {1, 1000, "", ""},
	"B":               {0.05, 10, "", ""},
	"Na":              {1, 2000, "", "meq/100 g taken for mg/kg?"},
	"Al":              {0, 3000, "", ""},
	"Cl":              {0.5, 2000, "", ""},
	"NO3-N":           {0.1, 200, "nitrate taken for the nitrogen in it is 4.43 times the figure", ""},
	"NH4-N":           {0.1, 200, "ammonium taken for the nitrogen in it is 1.29 times the figure", ""},
	"OM":              {0.5, 20, "an organic soil, or g/kg taken for %", "% taken for g/kg, or organic carbon?"},
	"CEC":             {1, 138, "mmol/kg taken for meq/100 g is 10 times the figure", "a sum of bases, or a decimal point out of place?"},
	"H":               {0, 50, "", ""},
	"soluble salts":   {0.01, 20, "uS/cm taken for dS/m is 1000 times the figure", "dS/m taken for uS/cm?"},
	"sand":            {0, 100, "", ""},
	"silt":            {0, 100, "", ""},
	"clay":            {0, 100, "", ""},
	"base saturation": {5, 100, "", ""},
	"K saturation":    {0.2, 15, "", ""},
	"Ca saturation":   {5, 100, "", ""},
	"Mg saturation":   {1, 60, "", ""},
	"Na saturation":   {0, 60, "", ""},
	"H saturation":    {0, 90, "", ""},
	"Al saturation":   {0, 95, "", ""},
}

// bufferSpan: SMP and Sikora buffer pH is about 5.0 to 7.5, the Sikora buffer
// itself 7.7; with Mehlich's buffer it goes up to 6.6, with that of Adams and
// Evans up to 8.0 (published procedures of the buffers). That a figure below 5
// is more likely a soil pH holds for SMP and Sikora.
func bufferSpan(method string) span {
	s := span{4, 8, "above the pH of any buffer", "a soil pH in the column of the buffer?"}
	switch method {
	case "SMP":
		s.low, s.high, s.above = 5, 7.5, "above the pH of the buffer"
	case "Sikora":
		s.low, s.high, s.above = 5, 7.7, "above the pH of the buffer"
	case "Mehlich", "Modified Mehlich":
		s.high, s.above = 6.6, "above the pH of the buffer"
	}
	return s
}

// highMedian is where the middle of a column is high enough to ask about the
// unit, though its values are possible. A choice of this program, no source.
var highMedian = map[string]float64{"P": 120, "K": 450, "CEC": 60}

// lowAll: a column that nowhere reaches this is likely in meq/100 g. Potassium of
// 3 meq/100 g is 1173 mg/kg, calcium of 50 more than any soil has. A choice of
// this program, no source.
var lowAll = map[string]float64{"K": 3, "Mg": 10, "Ca": 50}

// fewest values make a column that can be judged as one.
const fewest = 3

// column looks at one column for values out of limits and far from the rest.
func (e *examination) column(col int) {
	c := e.columns[col]
	readings := e.readings[col]
	sp, known := spans[c.Analyte]
	if c.Analyte == "buffer pH" {
		sp, known = bufferSpan(c.Method), true
	}
	canonical, _ := CanonicalUnit(c.Analyte)
	var plain []float64
	for _, v := range readings {
		if v.Unit == canonical && v.Censored == "" {
			plain = append(plain, v.Value)
		}
	}
	mid := median(plain)
	outside := map[int]bool{}
	if known && len(plain) >= fewest && e.columnOff(col, plain, mid, sp) {
		return
	}
	for _, v := range readings {
		if !known || v.Unit != canonical {
			continue
		}
		switch {
		case v.Value > sp.high && v.Censored != "<":
			outside[v.row] = true
			e.flag(col, "above the likely limit", v.row, "%s of %s is above %s%s", figure(v.Measure), c.Analyte, number(sp.high), because(c.tenfold(v.Value, sp), sp.above))
		case v.Value < sp.low && v.Censored == "":
			outside[v.row] = true
			e.flag(col, "below the likely limit", v.row, "%s of %s is below %s%s", figure(v.Measure), c.Analyte, number(sp.low), because("", sp.beneath))
		}
	}
	e.strays(col, outside)
}

// columnOff finds a column that is out of limits as a whole; its values are then
// not listed one by one.
func (e *examination) columnOff(col int, plain []float64, mid float64, sp span) bool {
	c := e.columns[col]
	top := slices.Max(plain)
	unit := after(c.Canonical)
	switch {
	case lowAll[c.Analyte] > 0 && top < lowAll[c.Analyte]:
		e.flag(col, "", 0, "no value is above %s%s: meq/100 g taken for mg/kg?", number(top), unit)
	case c.Analyte == "soluble salts" && mid < sp.low && (c.Unit == "uS/cm" || c.Unit == "mS/m"):
		e.flag(col, "", 0, "half of the values are below %s%s: dS/m taken for %s?", number(mid), unit, c.Unit)
	case mid > sp.high:
		e.flag(col, "", 0, "half of the values are above %s%s, the likely limit is %s%s", number(mid), unit, number(sp.high), because(c.tenfold(mid, sp), sp.above))
	case mid < sp.low:
		e.flag(col, "", 0, "half of the values are below %s%s, the likely limit is %s%s", number(mid), unit, number(sp.low), because("", sp.beneath))
	case highMedian[c.Analyte] > 0 && mid > highMedian[c.Analyte]:
		e.flag(col, "", 0, "half of the values are above %s%s, which is much%s", number(mid), unit, because("", sp.above))
		return false
	default:
		return false
	}
	return true
}

// tenfold says so where a pH has lost its decimal point.
func (c Column) tenfold(x float64, sp span) string {
	if canonical, ok := CanonicalUnit(c.Analyte); ok && canonical == "" && x/10 >= sp.low && x/10 <= sp.high {
		return fmt.Sprintf("decimal point lost, %s for %s?", number(x), number(trim(x/10)))
	}
	return ""
}

// strays flags values far from the rest of their column: pH that is two units
// and other figures that are six times off the median, if that is more than five
// times the usual distance (the median of the distances, scaled as for a normal
// distribution). A choice of this program, no source.
func (e *examination) strays(col int, outside map[int]bool) {
	const rows, far, pHFar, factor = 8, 5 * 1.4826, 2.0, 6.0
	c := e.columns[col]
	canonical, known := CanonicalUnit(c.Analyte)
	pH := known && canonical == ""
	switch {
	case !known, canonical == "%" && c.Analyte != "OM", len(c.Units) > 1:
		return
	}
	var at []float64
	place := func(v reading) (float64, bool) {
		if pH {
			return v.Value, true
		}
		return math.Log(v.Value), v.Value > 0 && v.Censored == ""
	}
	for _, v := range e.readings[col] {
		if x, ok := place(v); ok {
			at = append(at, x)
		}
	}
	if len(at) < rows {
		return
	}
	mid := median(at)
	away := make([]float64, len(at))
	for i, x := range at {
		away[i] = math.Abs(x - mid)
	}
	limit := math.Max(far*median(away), math.Log(factor))
	if pH {
		limit = math.Max(far*median(away), pHFar)
	}
	for _, v := range e.readings[col] {
		x, ok := place(v)
		if !ok || outside[v.row] || math.Abs(x-mid) <= limit {
			continue
		}
		if pH {
			e.flag(col, "far from the rest", v.row, "%s is far from the rest of the column, whose median is %s", figure(v.Measure), number(trim(mid)))
			continue
		}
		times, than := math.Exp(x-mid), "times"
		if times < 1 {
			times, than = 1/times, "times less than"
		}
		e.flag(col, "far from the rest", v.row, "%s is %.0f %s the median of the column, %s; decimal point out of place?", figure(v.Measure), times, than, number(math.Exp(mid)))
	}
}

// acidity compares the columns of soil pH and buffer pH.
func (e *examination) acidity() {
	soil, buffer := e.only("pH"), e.only("buffer pH")
	if soil < 0 {
		return
	}
	if buffer < 0 {
		// A buffer keeps its pH nearly the same, whatever the soil.
		const rows, low, high, spread = 8, 6.5, 7.8, 0.4
		var values []float64
		for _, v := range e.readings[soil] {
			values = append(values, v.Value)
		}
		if len(values) >= rows && slices.Min(values) >= low && slices.Max(values) <= high && slices.Max(values)-slices.Min(values) <= spread {
			e.flag(soil, "", 0, "all values lie between %s and %s, and there is no column of a buffer: is this the buffer pH?", number(slices.Min(values)), number(slices.Max(values)))
		}
		return
	}
	both, crossed := 0, 0
	for _, v := range e.readings[soil] {
		if b, ok := e.byRow[buffer][v.row]; ok {
			both++
			if b.Value < 6.2 && v.Value > b.Value+0.5 {
				crossed++
			}
		}
	}
	if both >= fewest && 5*crossed > 4*both {
		e.flag(buffer, "", 0, "in %d of %d rows it is far below the soil pH, where a buffer would be above: are the two columns swapped?", crossed, both)
	}
}

// only returns the column of an analyte if there is a single one, else -1.
func (e *examination) only(analyte string) int {
	at := -1
	for i, c := range e.columns {
		if c.Role == RoleAnalyte && c.Analyte == analyte {
			if at >= 0 {
				return -1
			}
			at = i
		}
	}
	return at
}

// twins compares columns of one analyte: a ratio that is the same in all rows is
// one of units.
func (e *examination) twins() {
	for i, a := range e.columns {
		for j := i + 1; a.Role == RoleAnalyte && j < len(e.columns); j++ {
			if b := e.columns[j]; b.Role == RoleAnalyte && b.Analyte == a.Analyte {
				e.compare(i, j)
			}
		}
	}
}

func (e *examination) compare(i, j int) {
	canonical, _ := CanonicalUnit(e.columns[i].Analyte)
	if canonical == "" || canonical == "%" {
		return
	}
	var values, given []float64
	for _, v := range e.readings[i] {
		w, ok := e.byRow[j][v.row]
		if ok && v.Unit == canonical && w.Unit == canonical && v.Censored == "" && w.Censored == "" && v.Value > 0 && w.Value > 0 {
			values, given = append(values, w.Value/v.Value), append(given, w.Original/v.Original)
		}
	}
	ratio, constant := steady(values)
	if !constant || math.Abs(ratio-1) < 0.03 {
		return
	}
	a, b := e.columns[i], e.columns[j]
	if r, ok := steady(given); ok && (isArea(a.Unit) != isArea(b.Unit)) && (near(r, 2) || near(r, 0.5)) {
		e.flag(j, "", 0, "is %s times %s in every row as the lab gives them: its lb/ac are twice its ppm whatever the depth, so that they are converted too far", number(rounded(r)), show(a.Name))
		return
	}
	large, small, times := j, i, ratio
	if ratio < 1 {
		large, small, times = i, j, 1/ratio
	}
	text := fmt.Sprintf("is %.3g times %s in every row", times, show(e.columns[small].Name))
	if slip := slipOf(a.Analyte, times); slip != "" {
		text += ": " + slip + "?"
	}
	e.flag(large, "", 0, "%s", text)
}

func isArea(unit string) bool { return areaPounds[unit] != 0 }

// steady gives the median of ratios, and whether all are within 3 % of it, as
// they are if only a unit is behind them.
func steady(ratios []float64) (float64, bool) {
	if len(ratios) < fewest {
		return 0, false
	}
	mid := median(ratios)
	return mid, near(ratios[0], mid) && near(ratios[len(ratios)-1], mid)
}

func near(x, y float64) bool { return math.Abs(x-y) <= 0.03*y }

// slipOf names the slip of a unit that makes a figure too high by a factor.
func slipOf(analyte string, times float64) string {
	for _, f := range []string{"P2O5", "K2O", "MgO", "CaO", "Na2O", "SO4", "SO3", "NO3", "NH4"} {
		if forms[f].analyte != analyte {
			continue
		}
		over := 1 / forms[f].share()
		switch {
		case near(times, over):
			return f + " taken for " + forms[f].element
		case near(times, 2*over):
			return "lb/ac of " + f + " taken for mg/kg of " + forms[f].element
		}
	}
	switch {
	case near(times, 2), near(times, 2.4):
		return "lb/ac taken for mg/kg"
	case near(times, 10):
		return "a decimal point out of place"
	}
	return ""
}

// figure is a value with its unit, and what the lab wrote if that is another.
func figure(m Measure) string {
	s := number(m.Value) + after(m.Unit)
	if m.Original != m.Value {
		s += " (" + number(m.Original) + after(m.OriginalUnit) + " as given)"
	}
	return s
}

func number(x float64) string { return fmt.Sprintf("%.4g", x) }

func rounded(x float64) float64 { return math.Round(100*x) / 100 }

// because puts the first reason that there is behind a statement.
func because(reasons ...string) string {
	for _, r := range reasons {
		if r != "" {
			return ": " + r
		}
	}
	return ""
}
