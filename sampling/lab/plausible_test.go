package lab

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
)

// examine joins and examines a table given as a header and rows, and returns the
// findings as lines.
func examine(t *testing.T, depth, header string, rows ...string) (Reckoning, string) {
	t.Helper()
	var samples []SampleRef
	var cells [][]string
	for i, r := range rows {
		id := fmt.Sprintf("A%d", i+1)
		samples = append(samples, SampleRef{ID: id, Depth: depth})
		cells = append(cells, strings.Split(id+","+r, ","))
	}
	table := NewTable("f", strings.Split("ID,"+header, ","), cells)
	r := Join(samples, table)
	r.Examine(table)
	if err := r.Check(); err != nil {
		t.Error(err)
	}
	first := r.Findings
	notes := fmt.Sprint(r.Columns)
	r.Examine(table)
	if !reflect.DeepEqual(first, r.Findings) || notes != fmt.Sprint(r.Columns) {
		t.Error("examined twice, the findings differ")
	}
	var lines []string
	for _, f := range r.Findings {
		lines = append(lines, fmt.Sprintf("%d/%s: %s", f.Row, f.Column, f.Text))
	}
	return r, strings.Join(lines, "\n")
}

func TestFindings(t *testing.T) {
	for _, c := range []struct {
		why, header string
		rows        []string
		want        string
	}{
		{"nothing wrong", "pH,P ppm,K ppm,OM %,CEC meq/100g", []string{"6.5,20,150,3.2,14", "6.1,35,180,2.8,12", "5.9,12,120,3.9,16"}, ""},
		{"decimal point lost", "pH", []string{"6.5", "65", "6.1"}, "2/pH: 65 of pH is above 10.5: decimal point lost, 65 for 6.5?"},
		{"pH too low", "pH", []string{"6.5", "0.65", "6.1"}, "2/pH: 0.65 of pH is below 3: decimal point out of place?"},
		{"a column of pH without points", "pH", []string{"65", "58", "61"}, "0/pH: half of the values are above 61, the likely limit is 10.5: decimal point lost, 61 for 6.1?"},
		{"P too high", "P ppm", []string{"20", "30", "640"}, "3/P ppm: 640 mg/kg of P is above 300: lb/ac taken for mg/kg"},
		{"P high as a column", "P ppm", []string{"120", "130", "250"}, "0/P ppm: half of the values are above 130 mg/kg, which is much: lb/ac taken for mg/kg is about twice the figure, P2O5 2.29 times"},
		{"K in meq", "K ppm", []string{"0.3", "0.4", "0.5"}, "0/K ppm: no value is above 0.5 mg/kg: meq/100 g taken for mg/kg?"},
		{"OM in g/kg", "OM %", []string{"32", "28", "40"}, "0/OM %: half of the values are above 32 %, the likely limit is 20: an organic soil, or g/kg taken for %"},
		{"OM in %, said to be g/kg", "OM g/kg", []string{"3.2", "2.8", "4"}, "0/OM g/kg: half of the values are below 0.32 %, the likely limit is 0.5: % taken for g/kg, or organic carbon?"},
		{"CEC in mmol/kg", "CEC meq/100g", []string{"140", "180", "220"}, "0/CEC meq/100g: half of the values are above 180 meq/100 g, the likely limit is 138: mmol/kg taken for meq/100 g is 10 times the figure"},
		{"a limit is no low value", "P ppm", []string{"<1", "12", "14"}, ""},
		{"above a limit", "Ca ppm", []string{">7000", "1200", "1400"}, "1/Ca ppm: 7000 mg/kg of Ca is above 6000: calcareous soil"},
		{"soil pH in the buffer's column", "pH,Buffer pH (SMP)", []string{"6.5,6.9", "6.1,4.6", "5.9,6.7"}, "2/Buffer pH (SMP): 4.6 of buffer pH is below 5: a soil pH in the column of the buffer?"},
		{"buffer above itself", "pH,SMP", []string{"6.5,7.9", "6.1,6.6", "5.9,6.7"}, "1/SMP: 7.9 of buffer pH is above 7.5: above the pH of the buffer"},
		{"columns swapped", "pH,Buffer pH", []string{"6.9,5.5", "6.8,5.9", "6.7,5.6"}, "0/Buffer pH: in 3 of 3 rows it is far below the soil pH"},
		{"a buffer as soil pH", "pH", []string{"6.8", "6.9", "6.9", "7.0", "6.8", "6.9", "6.9", "7.0"}, "0/pH: all values lie between 6.8 and 7, and there is no column of a buffer"},
		{"a stray", "Zn ppm", []string{"1", "1.1", "0.9", "1.2", "0.8", "1", "10", "1.1", "1"}, "7/Zn ppm: 10 mg/kg is 10 times the median of the column, 1; decimal point out of place?"},
		{"a stray pH", "pH", []string{"6.1", "6.2", "6.4", "5.9", "6.0", "6.1", "8.6", "6.1", "6.3"}, "7/pH: 8.6 is far from the rest of the column, whose median is 6.1"},
		{"a wide spread is no stray", "P ppm", []string{"3", "30", "8", "100", "15", "55", "5", "22", "80"}, ""},
		{"twice", "M3 P ppm,P ppm", []string{"20,40", "30,60", "12,24"}, "0/P ppm: is 2 times \"M3 P ppm\" in every row: lb/ac taken for mg/kg?"},
		{"an oxide", "K ppm,Potassium ppm", []string{"241,200", "181,150", "145,120"}, "0/K ppm: is 1.21 times \"Potassium ppm\" in every row: K2O taken for K?"},
		{"nitrate", "NO3-N ppm,Nitrate-N ppm", []string{"44.3,10", "66.4,15", "88.5,20"}, "0/NO3-N ppm: is 4.43 times \"Nitrate-N ppm\" in every row: NO3 taken for N?"},
		{"no unit, no limit", "P", []string{"2000", "3000", "2500"}, ""},
		{"conductivity in dS/m said to be uS/cm", "EC uS/cm", []string{"0.3", "0.4", "0.5"}, "0/EC uS/cm: half of the values are below 0.0004 dS/m: dS/m taken for uS/cm?"},
		{"texture", "Sand %,Silt %,Clay %", []string{"40,40,20", "40,40,30", "41,40,20.9"}, "2/Clay %: sand, silt and clay add up to 110 %"},
		{"bases below the CEC", "Ca ppm,Mg ppm,K ppm,CEC meq/100g", []string{"1200,180,150,12"}, ""},
		{"bases above the CEC", "pH,Ca ppm,Mg ppm,K ppm,CEC meq/100g", []string{"8.0,1200,180,150,7"}, "1/CEC meq/100g: Ca, Mg, K add up to 7.853 meq/100 g, more than the CEC of 7: at pH 8 free lime may count as Ca"},
		{"no lime at that pH", "pH,Ca ppm,Mg ppm,K ppm,CEC meq/100g", []string{"5.5,1200,180,150,7"}, "1/CEC meq/100g: Ca, Mg, K add up to 7.853 meq/100 g, more than the CEC of 7: look at the units; pH 5.5 is too low"},
		{"just within", "Ca ppm,Mg ppm,K ppm,CEC meq/100g", []string{"1200,180,150,7.2"}, ""},
		{"with H", "Ca ppm,Mg ppm,K ppm,H meq/100g,CEC meq/100g", []string{"1200,180,150,2,10", "1200,180,150,2,12"}, "2/CEC meq/100g: Ca, Mg, K, H add up to 9.853 meq/100 g, less than the CEC of 12"},
		{"lb/ac all through", "Ca ppm,Mg ppm,K ppm,CEC meq/100g", []string{"2400,360,300,7.85", "1200,180,150,3.93", "1800,270,225,5.9"}, "0/CEC meq/100g: the bases are 2 times the CEC in every row: lb/ac taken for mg/kg"},
		{"saturation", "K ppm,K %,CEC meq/100g", []string{"150,3.2,12", "300,3.1,12"}, "2/K %: 3.1 % of the CEC, but \"K ppm\" gives 6.39 %"},
		{"saturation all through", "K ppm,K %,CEC meq/100g", []string{"300,3.2,12", "250,2.66,12", "400,4.26,12"}, "0/K ppm: the amounts are 2 times what the saturation and the CEC give: lb/ac taken for mg/kg?"},
		{"more than 100 %", "Ca %,Mg %,K %,CEC meq/100g", []string{"80,25,5,12"}, "1/K %: the saturations add up to 110 %"},
	} {
		_, got := examine(t, "0-8in", c.header, c.rows...)
		if (c.want == "") != (got == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: got\n%s\nwant\n%s", c.why, got, c.want)
		}
	}
}

// A lab that prints twice the ppm as lb/ac, whatever the depth.
func TestDoubledWhateverTheDepth(t *testing.T) {
	_, got := examine(t, "0-8in", "P ppm,P lb/ac", "20,40", "31,62", "12,24")
	if !strings.Contains(got, "its lb/ac are twice its ppm whatever the depth") {
		t.Errorf("got %s", got)
	}
	if _, got = examine(t, "0-8in", "P ppm,P lb/ac", "20,48", "30,72", "10,24"); got != "" {
		t.Errorf("got %s", got)
	}
}

// Findings are bounded by check and column, the values stay as they are.
func TestManyFindings(t *testing.T) {
	rows := make([]string, 100)
	for i := range rows {
		rows[i] = "150"
		if i < 40 {
			rows[i] = "900"
		}
	}
	r, _ := examine(t, "", "K ppm", rows...)
	if n := len(r.Findings); n != maxFindings+1 || r.Findings[0].Text != "20 more rows: above the likely limit" || r.Results[0].Values[0].Value != 900 {
		t.Errorf("%d findings, the first %+v", n, r.Findings[0])
	}
	if got := r.Lines()[2]; got != `column "K ppm": 20 more rows: above the likely limit` {
		t.Errorf("got %s", got)
	}
}

func TestColumnNotes(t *testing.T) {
	r, _ := examine(t, "0-8in", "pH,P,K mg/dm3,Ca lb/ac,Mg (M3) mg/100g,P2O5 (Olsen) mg/kg,Buffer pH", "6.5,20,150,2400,12,50,6.9")
	for i, want := range []string{"", "", "no unit is given; it must be before a rate; method not given",
		"not converted: mg/dm3 is by volume and needs the density of the prepared soil; method not given",
		"lb/ac as mg/kg by the depth of each sample, at 0.3 million lb per acre and inch; some labs print twice the ppm whatever the depth; method not given",
		"mg/100 g as mg/kg", "P is in another column; this one is taken for a rate, or for the same figure again", "method not given"} {
		if r.Columns[i].Note != want {
			t.Errorf("%s: got %q, want %q", r.Columns[i].Name, r.Columns[i].Note, want)
		}
	}
	if r, _ = examine(t, "", "K2O mg/100g", "12"); r.Columns[1].Note != "mg/100 g as mg/kg, K2O as K; K2O is taken for what the soil holds, not for a rate; method not given" || r.Columns[1].Canonical != "mg/kg" {
		t.Errorf("got %+v", r.Columns[1])
	}
	if r, _ = examine(t, "", "Nitrate ppm", "12"); r.Columns[1].Analyte != "" || !strings.HasPrefix(r.Columns[1].Note, "may be nitrate or the nitrogen in it") {
		t.Errorf("got %+v", r.Columns[1])
	}
}

func TestMixed(t *testing.T) {
	for _, c := range []struct {
		header string
		rows   []string
		want   string
	}{
		{"Bray P ppm,K ppm", []string{"12,100"}, ""},
		{"Bray P ppm,Olsen P ppm,K ppm", []string{"12,8,100"}, `P is in columns of different methods: "Bray P ppm" (Bray-1), "Olsen P ppm" (Olsen)`},
		{"M3 P ICP,M3 P Col", []string{"12,8"}, `P is in columns of different methods: "M3 P ICP" (Mehlich-3 ICP), "M3 P Col" (Mehlich-3 colorimetric)`},
		{"Bray P ppm,P ppm", []string{"12,12"}, `P is in columns of different methods: "Bray P ppm" (Bray-1), "P ppm" (method not given)`},
		{"P ppm,P lb/ac", []string{"12,24"}, ""},
		{"P ppm,P method", []string{"12,Olsen", "14,olsen"}, ""},
		{"P ppm,P method", []string{"12,Olsen", "14,Bray 1"}, `P: the rows of column "P ppm" are by different methods: Bray-1, Olsen`},
		{"P ppm,P method", []string{"12,Olsen", "14,"}, `P: the rows of column "P ppm" are by different methods: method not given, Olsen`},
		{"Depth,P lb/ac", []string{"0-8in,24", ",24"}, `P: the values of column "P lb/ac" are in different units: lb/ac, mg/kg`},
	} {
		r, _ := examine(t, "", c.header, c.rows...)
		if got := strings.Join(Mixed(r.Columns), "\n"); got != c.want {
			t.Errorf("%s: got %s, want %s", c.header, got, c.want)
		}
	}
	r, _ := examine(t, "", "P ppm,P method", "12,Olsen")
	if r.Columns[1].Method != "Olsen" || r.Results[0].Values[0].Method != "Olsen" {
		t.Errorf("got %+v", r.Columns[1])
	}
}

// Examine takes whatever a join can leave.
func TestExamineEmpty(t *testing.T) {
	for _, table := range []*Table{NewTable("f", nil, nil), NewTable("f", []string{"ID", "P ppm"}, nil), NewTable("f", []string{"ID", "P ppm"}, [][]string{{"A1", "x"}})} {
		r := Join(refs("A1"), table)
		r.Examine(table)
		r.Examine(NewTable("other", nil, nil))
		if len(r.Findings) != 0 {
			t.Errorf("got %+v", r.Findings)
		}
	}
}
