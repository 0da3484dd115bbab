package lab

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// Printed figures: "seen" ones are of a published page, the others were worked
// out from atomic weights or are from memory. Some were worked out with 16 for
// oxygen, so that the last digit may be one off.
func TestFactors(t *testing.T) {
	for _, c := range []struct {
		analyte, unit string
		thickness     float64
		printed       string // of the factor, or of one over it with a leading "/"
		seen          bool
	}{
		{"P", "ppm P2O5", 0, "/2.2914", false}, {"P", "ppm P2O5", 0, "/2.29", true}, {"P", "mg/kg P2O5", 0, "0.4364", false},
		{"K", "ppm K2O", 0, "/1.2046", false}, {"K", "ppm K2O", 0, "/1.2", true}, {"K", "mg/kg K2O", 0, "0.8301", false},
		{"Mg", "ppm MgO", 0, "/1.6583", false}, {"Ca", "ppm CaO", 0, "/1.3992", false}, {"NO3-N", "ppm NO3", 0, "/4.4268", false},
		{"Ca", "meq/100 g", 0, "200.4", false}, {"Mg", "meq/100 g", 0, "121.5", false}, {"K", "meq/100 g", 0, "391.0", false},
		{"Na", "meq/100 g", 0, "229.9", false}, {"Al", "meq/100 g", 0, "89.9", false}, {"H", "ppm", 0, "/10.08", false},
		// Millions of pounds an acre; 8 in is seen.
		{"P", "lb/ac", 6, "/1.8", false}, {"P", "lb/ac", 20.0 / 3, "/2.0", true}, {"P", "lb/ac", 7, "/2.1", false},
		{"P", "lb/ac", 8, "/2.4", true}, {"P", "lb/ac", 12, "/3.6", false},
		{"P", "kg/ha", 20.0 / 3, "/2.241702312", false}, // 2 lb/ac at 1.120851156 kg/ha
	} {
		got, err := Convert(c.analyte, c.unit, 1, c.thickness)
		if err != nil {
			t.Errorf("%s %s: %v", c.analyte, c.unit, err)
			continue
		}
		digits, over := strings.CutPrefix(c.printed, "/")
		want, _ := strconv.ParseFloat(digits, 64)
		factor := got.Factor
		if over {
			factor = 1 / factor
		}
		_, decimals, _ := strings.Cut(digits, ".")
		slack := 0.51 * math.Pow10(-len(decimals))
		if !c.seen {
			slack = math.Max(slack, 1e-4*want)
		}
		if math.Abs(factor-want) > slack {
			t.Errorf("%s %s over %g in: got %.7g, want %s (seen: %v)", c.analyte, c.unit, c.thickness, factor, c.printed, c.seen)
		}
	}
	// 1 meq/100 g in lb/ac of two million pounds.
	for cation, want := range map[string]float64{"Ca": 401, "Mg": 243, "K": 782, "Na": 460} {
		if got := 2 * meqWeight(cation); math.Abs(got-want) > 0.6 {
			t.Errorf("%s: got %.2f lb/ac, want %g", cation, got, want)
		}
	}
}

// 1200, 180 and 150 ppm of Ca, Mg and K are 7.853 meq/100 g.
func TestSumOfBases(t *testing.T) {
	sum := 0.0
	for _, c := range []struct {
		cation    string
		ppm, want float64
	}{{"Ca", 1200, 5.988}, {"Mg", 180, 1.481}, {"K", 150, 0.384}} {
		x := c.ppm / meqWeight(c.cation)
		if math.Abs(x-c.want) > 0.001 {
			t.Errorf("%s: got %.4f, want %.3f", c.cation, x, c.want)
		}
		sum += x
	}
	if math.Abs(sum-7.853) > 0.001 {
		t.Errorf("got %.4f", sum)
	}
}

func TestConvert(t *testing.T) {
	for _, c := range []struct {
		analyte, unit    string
		value, thickness float64
		want             string // value and unit, or what the error says
	}{
		{"P", "ppm", 12.3, 0, "12.3 mg/kg"}, {"P", "mg/kg", 0.1, 0, "0.1 mg/kg"}, {"P", "µg/g", 7, 0, "7 mg/kg"}, {"Ca", "g/kg", 1.5, 0, "1500 mg/kg"},
		{"P", "mg/100g", 5, 0, "50 mg/kg"}, {"Fe", "g/100 g", 0.01, 0, "100 mg/kg"}, {"P", "lbs/acre", 48, 8, "20 mg/kg"}, {"P", "lb/A", 24, 6, "13.3333333333 mg/kg"},
		{"P", "kg/ha", 100, 8, "37.1741300675 mg/kg"}, {"P", "lb/ac", 48, 20 / 2.54, "20.32 mg/kg"}, {"Ca", "cmol(+)/kg", 6, 0, "1202.34 mg/kg"},
		{"K", "mmol/kg", 5, 0, "195.4915 mg/kg"}, {"Ca", "mmol(+)/kg", 60, 0, "1202.34 mg/kg"}, {"Al", "meq/100 g", 1, 0, "89.9384613333 mg/kg"},
		{"P", "mmol/kg", 1, 0, "30.973761998 mg/kg"}, {"CEC", "cmolc/kg", 14, 0, "14 meq/100 g"}, {"CEC", "mmol/kg", 140, 0, "14 meq/100 g"}, {"H", "me/100 g", 2, 0, "2 meq/100 g"},
		{"OM", "%", 3.2, 0, "3.2 %"}, {"OM", "g/kg", 32, 0, "3.2 %"}, {"clay", "g/kg", 220, 0, "22 %"}, {"K saturation", "%", 3, 0, "3 %"},
		{"soluble salts", "mmho/cm", 0.3, 0, "0.3 dS/m"}, {"soluble salts", "uS/cm", 300, 0, "0.3 dS/m"}, {"soluble salts", "mS/m", 30, 0, "0.3 dS/m"},
		{"pH", "", 6.5, 0, "6.5"}, {"buffer pH", "s.u.", 6.9, 0, "6.9"}, {"P", "mg P2O5/100 g", 10, 0, "43.6426817363 mg/kg"},
		{"P", "lb/ac", 48, 0, "lb/ac needs the depth of the sample"}, {"P", "kg/ha", 48, 0, "kg/ha needs the depth"}, {"P", "lb/ac", 48, -8, "can't be taken over a layer of -8 in"},
		{"P", "lb/ac", 48, math.NaN(), "can't be taken over a layer"}, {"P", "lb/ac", 48, 1e9, "can't be taken over a layer"},
		{"P", "mg/L", 12, 0, "by volume"}, {"P", "mg/dm3", 12, 0, "by volume"}, {"Mg", "cmolc/dm3", 1, 0, "by volume"}, {"Fe", "%", 2, 0, "a percentage of Fe"},
		{"Ca", "mmol/kg", 30, 0, "may count atoms or charges"}, {"Zn", "meq/100 g", 1, 0, "can't be turned into mg/kg"}, {"P", "", 12, 0, "no unit is given"},
		{"P", "furlong", 12, 0, "unit furlong is not known"}, {"CEC", "ppm", 12, 0, "can't be turned into meq/100 g"}, {"soluble salts", "ppm", 300, 0, "needs the factor"},
		{"Ca", "ppm P2O5", 1, 0, "P2O5 is no form of Ca"}, {"Lead", "ppm", 1, 0, "Lead has no unit of its own"}, {"pH", "%", 6, 0, "pH has no unit"}, {"K saturation", "g/kg", 6, 0, "can't be turned into %"},
		{"P", "ton/ac", 1, 8, "can't be turned into mg/kg"},
	} {
		got, err := Convert(c.analyte, c.unit, c.value, c.thickness)
		text := tidy(strconv.FormatFloat(got.Value, 'g', -1, 64) + " " + got.Unit)
		if err != nil {
			if text = err.Error(); strings.Contains(text, c.want) {
				continue
			}
		}
		if text != c.want {
			t.Errorf("%s %g %s over %g in: got %s, want %s", c.analyte, c.value, c.unit, c.thickness, text, c.want)
		}
	}
	if c, _ := Convert("P", "lb/ac P2O5", 110, 8); c.How != "lb/ac over 8 in of soil at 0.3 million lb per acre and inch, P2O5 as P" {
		t.Errorf("how: %s", c.How)
	}
}

// Every unit that is read leads to a value or to a reason, for every analyte.
func TestConvertAll(t *testing.T) {
	for analyte := range spansAndBuffer() {
		for _, u := range unitSpellings {
			c, err := Convert(analyte, u.unit, 3, 8)
			if err == nil && !(c.Value > 0 && c.Value < 1e6 && math.Abs(c.Value-3*c.Factor) < 1e-9*c.Value) {
				t.Errorf("%s %s: %+v", analyte, u.unit, c)
			}
			if want, _ := CanonicalUnit(analyte); err == nil && c.Unit != want {
				t.Errorf("%s %s ends in %s, not %s", analyte, u.unit, c.Unit, want)
			}
		}
	}
}

func spansAndBuffer() map[string]bool {
	all := map[string]bool{"buffer pH": true}
	for a := range spans {
		all[a] = true
	}
	return all
}

// Every analyte that a header can name has a canonical unit and likely limits.
func TestAnalytesAreKnown(t *testing.T) {
	for name, analyte := range analyteNames {
		if _, ok := CanonicalUnit(analyte); !ok || !spansAndBuffer()[analyte] {
			t.Errorf("%s (%s) has no unit or no limits", analyte, name)
		}
	}
}

func TestConvertedResults(t *testing.T) {
	for _, c := range []struct {
		why, header string
		rows        []string
		samples     string
		want        string
	}{
		{"the depth of the plan", "ID,P lb/ac,Ca meq/100g", []string{"A1,48,6"}, "A1@0-8in", "P 20 mg/kg from 48 lb/ac | Ca 1202.34 mg/kg from 6 meq/100 g"},
		{"the row's own depth comes first", "ID,Depth (in),P lb/ac", []string{"A1,0-6,36"}, "A1@0-8in", "P 20 mg/kg from 36 lb/ac"},
		{"a depth without unit that is the plan's", "ID,Depth,P lb/ac", []string{"A1,0-8,48"}, "A1@0-8in", "P 20 mg/kg from 48 lb/ac"},
		{"a depth without unit", "ID,Depth,P lb/ac", []string{"A1,0-8,48"}, "A1", "P 48 lb/ac from 48 lb/ac: lb/ac needs the depth of the sample; kept in lb/ac"},
		{"no depth", "ID,P lb/ac", []string{"A1,48"}, "A1", "P 48 lb/ac from 48 lb/ac: lb/ac needs the depth of the sample; kept in lb/ac"},
		{"an oxide without depth", "ID,P2O5 lb/ac", []string{"A1,110"}, "A1", "P 110 lb/ac P2O5 from 110 lb/ac P2O5: lb/ac needs the depth of the sample; kept in lb/ac P2O5"},
		{"an oxide", "ID,P2O5 mg/100g", []string{"A1,10"}, "A1", "P 43.6426817363 mg/kg from 10 mg/100 g P2O5"},
		{"an oxide beside its element is a rate", "ID,P ppm,P2O5 lb/ac", []string{"A1,10,60"}, "A1@0-8in", "P 10 mg/kg from 10 ppm | P2O5 lb/ac 60 lb/ac from 60 lb/ac"},
		{"a limit is converted", "ID,P lb/ac", []string{"A1,<12"}, "A1@0-8in", "P <2.5 mg/kg from 6 lb/ac limit 5: 1 of 1 below a limit, computed with half of it"},
		{"replicates are converted, then averaged", "ID,Depth in,P lb/ac", []string{"A1,0-8,48", "A1,0-8,50"}, "A1@0-8in", "P 20.4166666667 mg/kg from 49 lb/ac"},
		{"by volume", "ID,P mg/dm3", []string{"A1,48"}, "A1@0-8in", "P 48 mg/dm3 from 48 mg/dm3"},
		{"no unit", "ID,P", []string{"A1,48"}, "A1@0-8in", "P 48 from 48"},
		{"centimetres", "ID,K kg/ha", []string{"A1,200"}, "A1@0-20cm", "K 75.5378322971 mg/kg from 200 kg/ha"},
	} {
		var rows [][]string
		for _, r := range c.rows {
			rows = append(rows, strings.Split(r, ","))
		}
		r := Join(refs(c.samples), NewTable("f", strings.Split(c.header, ","), rows))
		if len(r.Results) != 1 {
			t.Fatalf("%s: %d results", c.why, len(r.Results))
		}
		var parts []string
		for _, m := range r.Results[0].Values {
			name := m.Analyte
			if name == "" {
				name = m.Column
			}
			s := name + " " + m.Censored + strconv.FormatFloat(m.Value, 'g', -1, 64) + after(m.Unit) + " from " + strconv.FormatFloat(m.Original, 'g', -1, 64) + after(m.OriginalUnit)
			if m.Limit != 0 {
				s += " limit " + strconv.FormatFloat(m.Limit, 'g', -1, 64)
			}
			if m.Note != "" {
				s += ": " + m.Note
			}
			parts = append(parts, s)
		}
		if got := strings.Join(parts, " | "); got != c.want {
			t.Errorf("%s: got\n%s, want\n%s", c.why, got, c.want)
		}
	}
	r := Join(refs("A1"), NewTable("f", []string{"ID", "P ppm"}, [][]string{{"A1", "12.30"}, {"A1", "<14"}}))
	if m := r.Results[0].Values[0]; m.OriginalText != "12.30; <14" || m.Limit != 0 {
		t.Errorf("got %+v", m)
	}
}

// What a person says of a column goes before its header.
func TestMappedUnitsAndMethods(t *testing.T) {
	const text = "ID,P,K\nA1,48,100\n"
	read := func(column string, m Mapping) (*Table, error) {
		return Read(strings.NewReader(text), "f", Options{Map: map[string]Mapping{column: m, "ID": {Role: RoleID}}})
	}
	for _, c := range []struct {
		column string
		m      Mapping
		want   string
	}{
		{"P", Mapping{Unit: "lb/ac P2O5"}, ""}, {"K", Mapping{Unit: "ppm"}, ""}, {"K", Mapping{Unit: "parsec"}, "not known"}, {"Zn", Mapping{Unit: "ppm"}, "no column"},
		{"K", Mapping{Unit: "dS/m"}, "can't be turned into mg/kg"}, {"P", Mapping{Method: "n/a"}, "no name of a method"},
	} {
		_, err := read(c.column, c.m)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s %+v: got %v", c.column, c.m, err)
		}
	}
	table, err := read("P", Mapping{Unit: "lb/ac P2O5", Method: "weak bray"})
	if err != nil {
		t.Fatal(err)
	}
	m := Join(refs("A1@0-8in"), table).Results[0].Values
	if math.Abs(m[0].Value-48*0.436427/2.4) > 1e-4 || m[0].Method != "Bray-1" || m[1].Value != 100 {
		t.Errorf("got %+v", m)
	}
}
