package rate

import (
	"strings"
	"testing"

	"corewalk/interp/datafile"
)

func TestTablesThatComeWithIt(t *testing.T) {
	all, err := readEmbedded()
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{
		"north-carolina-lime": "seen", "pennsylvania-lime": "seen", "pennsylvania-turf-lime": "seen", "iowa-2002-lime": "reprint",
		"tri-state-1995-lime": "memory", "tri-state-1995-organic-lime": "memory", "adams-evans-lime": "memory",
		"tri-state-1995-p": "memory", "tri-state-1995-k": "memory", "tri-state-2020-p": "memory", "tri-state-2020-k": "memory",
		"kansas-corn-p": "memory", "kansas-corn-k": "memory", "south-dakota-corn-p-bray": "memory", "south-dakota-corn-p-olsen": "memory",
		"south-dakota-corn-k": "memory", "ipni-2008-corn-k-removal": "seen",
		"new-jersey-p": "seen", "ohio-corn-soybean": "seen", "new-jersey-k": "seen", "new-jersey-mg": "seen", "new-jersey-ca": "seen",
		"nebraska-p-bray": "reprint", "nebraska-p-mehlich": "reprint", "nebraska-p-olsen": "reprint", "nebraska-k": "memory", "nebraska-s": "memory",
		"iowa-2003-p": "seen", "iowa-2003-p-icp": "seen", "iowa-2013-p": "memory", "iowa-2013-k": "memory",
		"minnesota-2008-p-bray": "reprint", "minnesota-2008-p-olsen": "reprint",
	}
	for _, tab := range all {
		if want[tab.Name] != tab.Verified {
			t.Errorf("%s is %s, want %q", tab.Name, tab.Verified, want[tab.Name])
		}
	}
	if len(all) != len(want) || len(Tables()) != len(want) {
		t.Errorf("%d tables, want %d", len(all), len(want))
	}
	if _, err := Find(all, "atlantis"); err == nil || !strings.Contains(err.Error(), "there are: iowa-2003-p") && !strings.Contains(err.Error(), "north-carolina-lime") {
		t.Error(err)
	}
	if tab, err := Find(all, "IOWA-2002-lime"); err != nil || tab.Name != "iowa-2002-lime" {
		t.Errorf("%v, %v", tab.Name, err)
	}
}

const (
	goodLookup = `- {name: a, kind: lime, region: r, soil: any, by: buffer pH, depth: {inches: 6, others: linear, no_till: 0.5}, out: {of: CaCO3, unit: lb/ac, material: 100},
  inputs: [{analyte: pH, unit: pH, min: 4, max: 7}, {analyte: buffer pH, methods: [SMP], unit: pH, min: 5, max: 7}], targets: [6.5, 6.0],
  formula: {lookup: {between: nearest, rows: [{at: 7, rates: [0, 0]}, {at: 6, rates: [500, 300]}, {at: 5, rates: [900, null]}]}},
  source: {author: b, title: c, year: 2001, place: d}, verified: seen}
`
	goodBuildUp = `- {name: b, kind: nutrient, region: r, soil: any, by: P, depth: {inches: 6, others: refuse}, out: {of: P2O5, unit: kg/ha}, round_to: 5, cap: 100,
  inputs: [{analyte: P, methods: [Olsen], unit: lb/ac, mg_per_kg: 0.5, min: 0, max: 500}, {analyte: CEC, unit: meq/100 g, min: 0, max: 50}],
  crops: [{name: corn, yield: bu/ac, highest: 300, removal: 0.35}], formula: {build_up: {per_unit: 2, add: 1, bands: [{crops: [corn], critical: 20, critical_cec: 1, maintenance: 10}]}},
  source: {author: b, title: c, place: d}, verified: memory}
`
	goodClasses = `- {name: c, kind: nutrient, region: r, soil: any, by: K, depth: {others: unstated}, out: {of: K2O, unit: lb/ac},
  inputs: [{analyte: K, methods: [Morgan], unit: mg/kg, min: 0, max: 500}], formula: {classes: {names: [low, high, more], rates: [60, 20, 0], sets: [{limits: [100, 200]}]}},
  source: {author: b, title: c, place: d}, verified: reprint}
`
	goodLines = `- {name: d, kind: lime, region: r, soil: any, by: buffer pH, depth: {others: unstated}, out: {of: CaCO3, unit: t/ha, material: 90},
  inputs: [{analyte: pH, unit: pH, min: 4, max: 7}, {analyte: buffer pH, methods: [SMP], unit: pH, min: 5, max: 7}], targets: [6.5],
  formula: {lines: {scale: 1, targets: [{target: 6.5, intercept: 21, fall: 3}]}}, source: {author: b, title: c, place: d}, verified: seen}
`
)

func TestReadRefused(t *testing.T) {
	all, err := Read([]byte("\ufeff" + goodLookup + goodBuildUp + goodClasses + goodLines))
	if err != nil || len(all) != 4 {
		t.Fatal(len(all), err)
	}
	for _, c := range []struct{ table, from, to, want string }{
		{goodLookup, "name: a", "name: ''", "name"},
		{goodLookup, "kind: lime", "kind: time", "kind"},
		{goodLookup, "kind: lime", "kind: nutrient", "only rates of lime"},
		{goodLookup, "region: r, ", "", "region"},
		{goodLookup, "region: r", "religion: r", "religion"},
		{goodLookup, "soil: any", "soil: good", "soil"},
		{goodLookup, "author: b", "author: ''", "author"},
		{goodLookup, "year: 2001", "year: 20010", "year"},
		{goodLookup, "verified: seen", "verified: yes", "verified"},
		{goodLookup, "by: buffer pH", "by: OM", "by is"},
		{goodLookup, "inches: 6", "inches: 60", "inches"},
		{goodLookup, "inches: 6", "inches: .nan", "depth inches is NaN"},
		{goodLookup, "others: linear", "others: some", "others"},
		{goodLookup, "no_till: 0.5", "no_till: 5", "no_till"},
		{goodLookup, "unit: lb/ac", "unit: lb", "unit"},
		{goodLookup, "material: 100", "material: 0", "material"},
		{goodLookup, "of: CaCO3", "of: lime", "CaCO3"},
		{goodLookup, "methods: [SMP], ", "", "name the methods"},
		{goodLookup, "max: 7}, {", "max: 4}, {", "valid range"},
		{goodLookup, "min: 5", "min: -5", "below 0"},
		{goodLookup, "min: 5", "min: 4", "beyond them"},
		{goodLookup, "analyte: pH", "analyte: OM", "in %"},
		{goodLookup, "analyte: pH", "analyte: salt pH", "needs the input pH"},
		{goodLookup, "{analyte: pH", "{methods: [SMP], analyte: buffer pH", "twice"},
		{goodLookup, "[6.5, 6.0]", "[6.5, 6.5]", "target"},
		{goodLookup, "[6.5, 6.0]", "[6.5]", "2 rates"},
		{goodLookup, "[6.5, 6.0]", "[6.5, 60]", "target"},
		{goodLookup, "targets: [6.5, 6.0],", "", "target"},
		{goodLookup, "between: nearest", "between: lines", "between"},
		{goodLookup, "at: 6,", "at: 7,", "twice"},
		{goodLookup, "[500, 300]", "[500]", "1 rates"},
		{goodLookup, "[500, 300]", "[5000, 300]", "more lime"},
		{goodLookup, "[500, 300]", "[500, .inf]", "Inf"},
		{goodLookup, "[500, 300]", "[500, -1]", "below 0"},
		{goodLookup, "formula: {lookup", "formula: {removal: {}, lookup", "one form"},
		{goodLookup, "verified: seen", "verified: seen, trigger: -1", "trigger"},
		{goodLookup, "verified: seen", "verified: seen, target_any: true", "target_any"},
		{goodBuildUp, "kind: nutrient", "kind: sufficiency", "no out"},
		{goodBuildUp, "of: P2O5", "of: P", "nutrient"},
		{goodBuildUp, "others: refuse", "others: linear", "lime"},
		{goodBuildUp, "removal: 0.35", "removal: 0", "removal"},
		{goodBuildUp, "yield: bu/ac, ", "", "yield"},
		{goodBuildUp, "name: corn", "name: ''", "no name"},
		{goodBuildUp, "crops: [corn]", "crops: [hops]", "hops"},
		{goodBuildUp, "critical: 20", "critical: 20, cec_below: 9", "every CEC"},
		{goodBuildUp, "critical: 20", "critical: -20", "below 0"},
		{goodBuildUp, "per_unit: 2", "per_unit: -2", "below 0"},
		{goodBuildUp, "analyte: CEC, unit: meq/100 g", "analyte: OM, unit: '%'", "CEC"},
		{goodBuildUp, "mg_per_kg: 0.5", "mg_per_kg: 0", "lb/ac"},
		{goodBuildUp, "unit: meq/100 g", "unit: meq/100 g, mg_per_kg: 3", "mg_per_kg"},
		{goodClasses, "[60, 20, 0]", "[60, 80, 0]", "above the one before"},
		{goodClasses, "[60, 20, 0]", "[60, 80]", "2 rates"},
		{goodClasses, "[100, 200]", "[200, 100]", "ascend"},
		{goodClasses, "[100, 200]", "[100]", "1 limits"},
		{goodClasses, "limits: [100, 200]", "crops: [hops], limits: [100, 200]", "hops"},
		{goodClasses, "sets: [{limits: [100, 200]}]", "sets: []", "sets"},
		{goodClasses, "formula: {classes", "formula: {sufficiency", ""},
		{goodLines, "fall: 3", "fall: -3", "fall"},
		{goodLines, "target: 6.5", "target: 6", "targets"},
		{goodLines, "scale: 1", "scale: 10", "scaled"},
		{goodLines, "formula: {lines: {scale: 1, targets: [{target: 6.5, intercept: 21, fall: 3}]}}", "formula: {}", "one form"},
		{goodLines, "formula: {lines: {scale: 1, targets: [{target: 6.5, intercept: 21, fall: 3}]}}", "formula: {acidity: {buffer: 6, factor: 4, unit: meq}}", "acidity"},
		{goodLines, "formula: {lines: {scale: 1, targets: [{target: 6.5, intercept: 21, fall: 3}]}}", "formula: {multiples: {targets: [{target: 6.5, times: 3}]}}", "multiples"},
		{goodLines, "formula: {lines: {scale: 1, targets: [{target: 6.5, intercept: 21, fall: 3}]}}", "formula: {saturation: {a: 1, b: 1, c: 1, factor: 1, buffer: 8, safety: 1}}", "saturation"},
		{goodLines, "verified: seen}", "verified: seen}\n" + goodLines, "two tables"},
		{goodLines, "verified: seen}", "verified: seen}\n---\n" + goodLookup, "second document"},
		{goodLines, goodLines, "", "no table"},
		{goodLines, goodLines, "# nothing", "no table"},
		{goodLines, goodLines, "[null]", "name"},
		{goodLines, goodLines, "name: a", ""},
		{goodLines, goodLines, strings.Repeat("#\n", datafile.LargestFile/2+1), "bytes"},
		{goodLines, goodLines, strings.Repeat("#", 1<<13), "too long"},
		{goodLines, goodLines, "\n" + strings.Repeat("[\n", 60), "line 52"},
		{goodLines, goodLines, "! {a: 1}", "not YAML"}, // the library panics
	} {
		if !strings.Contains(c.table, c.from) {
			t.Fatalf("%q is not there", c.from)
		}
		tables, err := Read([]byte(strings.Replace(c.table, c.from, c.to, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q for %q: %d tables, %v; want %q", c.to, c.from, len(tables), err, c.want)
		}
	}
}

// A user's own tables: the nearest row, and rounding.
func TestOwnTables(t *testing.T) {
	all, err := Read([]byte(goodLookup + goodBuildUp + goodClasses))
	if err != nil {
		t.Fatal(err)
	}
	for buffer, want := range map[float64]float64{7: 0, 6.6: 0, 6.5: 500, 6.4: 500, 5.6: 500, 5.5: 900, 5: 900} { // half way: more lime
		if r := recommend(t, &all[0], ph(5, buffer, "SMP"), Conditions{Sample: Layer{0, 6}, TargetPH: 6.5}); r.Rate != want {
			t.Errorf("%v: %v, want %v", buffer, r.Rate, want)
		}
	}
	if _, err := all[0].Recommend(ph(5, 5.2, "SMP"), Conditions{Sample: Layer{0, 6}, TargetPH: 6}); why(err) != WhyTable {
		t.Error(err)
	}
	// lb/ac of 2 million: critical 20 + CEC. 4 mg/kg are 8 lb/ac; (30 - 8) × 2 + 100
	// × 0.35 + 1 = 80. With 1 mg/kg it is 92, to the nearest 5; with a CEC of 20, 112,
	// capped.
	for _, c := range []struct{ p, cec, want float64 }{{4, 10, 80}, {1, 10, 90}, {1, 20, 100}, {100, 10, 0}} {
		f := phosphorus(c.p, "Olsen")
		f["CEC"] = Figure{Value: c.cec, Unit: "meq/100 g"}
		if r := recommend(t, &all[1], f, corn(100, 6)); r.Rate != c.want || r.KgPerHa != c.want {
			t.Errorf("%+v: %v", c, r.Rate)
		}
	}
	for k, want := range map[float64]float64{99: 60, 100: 20, 200: 0} {
		r := recommend(t, &all[2], Figures{"K": {Value: k, Unit: "mg/kg", Method: "Morgan"}}, Conditions{})
		if r.Rate != want || r.Class == "" || (r.Reason != "") != (want == 0) {
			t.Errorf("%v: %+v", k, r)
		}
	}
}

// TestUnits: section by section of the conversions, recomputed.
func TestUnits(t *testing.T) {
	for unit, want := range map[string]float64{"lb/ac": 1.120851156, "ton/ac": 2241.702312, "kg/ha": 1, "t/ha": 1000, "lb/1000 ft2": 48.82427636} {
		if kg, ok := KgPerHa(unit); !ok || !near(kg, want, 1e-9*want) {
			t.Errorf("%s: %.10g", unit, kg)
		}
	}
	if _, ok := KgPerHa("stone/rood"); ok {
		t.Error("an unknown unit is taken")
	}
	lb, _ := KgPerHa("lb/ac")
	if !near(1/lb, 0.892179122, 5e-10) || !near(100*lb/lb, 100, 1e-12) {
		t.Error("there and back")
	}
	for inches, want := range map[float64]float64{6: 1.8, 20.0 / 3: 2, 7: 2.1, 8: 2.4, 12: 3.6} {
		if x := poundsPerInch * inches; !near(x, want, 1e-12) {
			t.Errorf("%v in: %v", inches, x)
		}
	}
	for form, want := range map[string]float64{"P": 2.2914, "K": 1.2046, "MgO": 1 / 1.6583, "CaO": 1 / 1.3992, "N": 1} {
		if _, x, ok := Nutrient(form); !ok || x != want {
			t.Errorf("%s: %v", form, x)
		}
	}
	// P2O5 to P 0.4364, K2O to K 0.8301.
	if !near(1/2.2914, 0.4364, 5e-5) || !near(1/1.2046, 0.8301, 6e-5) {
		t.Error("back from oxides")
	}
	if !near(LargestLimeDressing, 2*2241.702312, 1e-5) {
		t.Error(number(LargestLimeDressing))
	}
}

// Whatever the bytes, reading gives tables or a line that says why not, and what
// is read answers or refuses.
func FuzzRead(f *testing.F) {
	for _, s := range []string{goodLookup, goodBuildUp, goodClasses, goodLines, "", "- null", "- {name: [}", "&a [*a]"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tables, err := Read(data)
		if err != nil && strings.Contains(err.Error(), "\n") {
			t.Fatalf("%q", err)
		}
		if err != nil {
			return
		}
		for i := range tables {
			for _, figures := range []Figures{ph(5, 6.4, "SMP"), phosphorus(5, "Olsen"), potash(50, 5, "Morgan")} {
				c := corn(100, 6)
				c.TargetPH = 6.5
				rec, err := tables[i].Recommend(figures, c)
				if err != nil && why(err) == "" || err == nil && !(rec.Rate >= 0) {
					t.Fatalf("%v, %v", rec, err)
				}
			}
		}
	})
}
