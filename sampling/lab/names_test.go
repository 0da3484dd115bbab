package lab

import (
	"strings"
	"testing"
)

func TestHeaders(t *testing.T) {
	for _, c := range []struct{ header, want string }{
		{"pH", "pH"}, {"Soil pH", "pH"}, {"1:1 Soil pH", "pH"}, {"pH (H2O)", "pH||water"}, {"Water pH", "pH||water"}, {"pH, s.u.", "pH|pH"},
		{"PH1", "pH"}, {"pHs", "salt pH"}, {"pH 0.01 M CaCl2", "salt pH||CaCl2"}, {"pH CaCl2", "salt pH||CaCl2"}, {"Salt pH", "salt pH||salt"},
		{"Buffer pH", "buffer pH"}, {"BpH", "buffer pH"}, {"SMP", "buffer pH||SMP"}, {"Sikora pH", "buffer pH||Sikora"}, {"WDRF Buffer pH", "buffer pH||Woodruff"},
		{"P", "P"}, {"P_ppm", "P|ppm"}, {"ppm P", "P|ppm"}, {"P (mg/kg)", "P|mg/kg"}, {"P mg kg-1", "P|mg/kg"}, {"Phosphorus [lbs/acre]", "P|lb/ac"},
		{"Bray P1", "P||Bray-1"}, {"Bray P-1 ppm P", "P|ppm|Bray-1"}, {"Strong Bray P", "P||Bray-2"}, {"P (Mehlich 3) ppm", "P|ppm|Mehlich-3"},
		{"M3-P", "P||Mehlich-3"}, {"Mehlich III K", "K||Mehlich-3"}, {"Olsen P", "P||Olsen"}, {"P-bicarb", "P||Olsen"}, {"Mehlich-1 P", "P||Mehlich-1"},
		{"PHOS1", "P"}, {"POT1", "K"}, {"MG1", "Mg"}, {"OM1", "OM"}, {"CEC1", "CEC"},
		{"K", "K"}, {"Avail. K", "K"}, {"K %", "K saturation|%"}, {"% K Sat", "K saturation|%"}, {"Ca Base Saturation", "Ca saturation"}, {"%Mg", "Mg saturation|%"},
		{"K meq/100g", "K|meq/100 g"}, {"K cmol(+)/kg", "K|cmol/kg"}, {"Mg mg/kg", "Mg|mg/kg"}, {"Mg kg/ha", "Mg|kg/ha"}, {"MG_KG_HA", "Mg|kg/ha"},
		{"Sulfate-S", "S"}, {"SO4-S (ppm)", "S|ppm"}, {"Sulphur", "S"}, {"Zn DTPA", "Zn||DTPA"}, {"Zinc", "Zn"}, {"Boron (hot water)", "B||hot water"},
		{"% OM", "OM|%"}, {"Organic Matter, LOI %", "OM|%|loss on ignition"}, {"O.M.", "OM"}, {"CEC (meq/100 g)", "CEC|meq/100 g"}, {"C.E.C.", "CEC"},
		{"NO3-N", "NO3-N"}, {"Nitrate-N ppm", "NO3-N|ppm"}, {"NO₃-N", "NO3-N"}, {"EC dS/m", "soluble salts|dS/m"}, {"1:1 S Salts mmho/cm", "soluble salts|mmho/cm|1:1"},
		{"Sand", "sand"}, {"Clay (%)", "clay|%"}, {"Fe µg/g", "Fe|ug/g"}, {"Fe μg/g", "Fe|ug/g"},
		// other figures than the soil test value
		{"Total P", ""}, {"P Rating", ""}, {"Nitrate", ""}, {"SO4", ""}, {"P Sat %", ""},
		{"Lime Index", ""}, {"Organic Carbon", ""}, {"Lead", ""}, {"B1", ""}, {"S1", ""}, {"", ""}, {"Texture", ""},
	} {
		col := understand([]string{c.header})[0]
		got := strings.TrimRight(col.Analyte+"|"+col.Unit+"|"+col.Method, "|")
		if col.Analyte == "" {
			got = ""
		}
		if got != c.want || (col.Role == RoleAnalyte) != (c.want != "") {
			t.Errorf("%q: got %q as %q, want %q", c.header, got, col.Role, c.want)
		}
	}
}

func TestIDColumn(t *testing.T) {
	for _, c := range []struct{ header, want string }{
		{"Sample ID", "Sample ID"}, {"SAMPLE_ID", "SAMPLE_ID"}, {"SampleID", "SampleID"}, {"Sample No.", "Sample No."}, {"Sample #", "Sample #"},
		{"Lab No,Sample", "Sample"}, {"Lab Number,ID", "ID"}, {"ID,Sample ID", "Sample ID"}, {"Lab Sample ID,Grower Sample ID", "Grower Sample ID"},
		{"Lab No", "Lab No"}, {"Lab/Grower sample no.", "Lab/Grower sample no."}, {"Sample,Sample name", "Sample name"}, {"Sample ID,Sample Number", "Sample ID"},
		{"Point ID", "Point ID"}, {"Bag", "Bag"}, {"Sample Date", ""}, {"Sample Depth", ""}, {"Lab", ""}, {"Field ID", ""}, {"Client", ""}, {"Number", ""},
	} {
		cs := understand(strings.Split(c.header, ","))
		got := ""
		if i := cs.first(RoleID); i >= 0 {
			got = cs[i].Name
		}
		if got != c.want {
			t.Errorf("%q: got %q, want %q", c.header, got, c.want)
		}
	}
}

func TestFindColumn(t *testing.T) {
	cs := understand([]string{"Sample ID", "P", "p ", "Olsen P", "K ppm", "Mg", "", "Zinc"})
	for _, c := range []struct{ name, want string }{
		{"k", "K ppm"}, {"K PPM", "K ppm"}, {"zn", "Zinc"}, {"zinc", "Zinc"}, {"olsen p", "Olsen P"}, {"P (column C)", "p (column C)"}, {"column g", "column G"},
		{"P", `P is in 2 columns: name one of "P (column B)", "p (column C)"`},
		{"lead", `there is no column lead; the columns are: "Sample ID", "P (column B)", "p (column C)", "Olsen P", "K ppm", Mg, "column G", Zinc`},
		{"", `there is no column ""; the columns are: "Sample ID", "P (column B)", "p (column C)", "Olsen P", "K ppm", Mg, "column G", Zinc`},
	} {
		i, err := cs.Find(c.name)
		got := ""
		if err != nil {
			got = err.Error()
		} else {
			got = cs[i].Name
		}
		if got != c.want {
			t.Errorf("%q: got %s, want %s", c.name, got, c.want)
		}
	}
}

func TestUseID(t *testing.T) {
	table := NewTable("x", []string{"Sample ID", "Code", "pH"}, [][]string{{"1", "AB01C", "6.5"}})
	if r := Join(refs("AB01C"), table); r.Counts.Joined != 0 {
		t.Fatal("joined by the wrong column")
	}
	if err := table.UseID("code"); err != nil {
		t.Fatal(err)
	}
	if r := Join(refs("AB01C"), table); r.Counts.Joined != 1 || r.Check() != nil {
		t.Errorf("got %+v, %v", r.Counts, r.Check())
	}
	if err := table.UseID("nothing"); err == nil {
		t.Error("a column that isn't there was taken")
	}
}

func TestLetters(t *testing.T) {
	for i, want := range map[int]string{0: "A", 25: "Z", 26: "AA", 51: "AZ", 52: "BA", 701: "ZZ", 702: "AAA"} {
		if got := letters(i); got != want {
			t.Errorf("%d is %s, want %s", i, got, want)
		}
	}
}
