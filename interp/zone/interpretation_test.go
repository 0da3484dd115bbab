package zone

import (
	"slices"
	"strings"
	"testing"
)

func TestInterpretationsThatComeWithIt(t *testing.T) {
	tables, err := ReadInterpretations(embedded)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, table := range tables {
		for _, m := range table.Methods {
			key := table.Name + "|" + table.Analyte + "|" + m
			if seen[key] {
				t.Errorf("%s twice", key)
			}
			seen[key] = true
		}
	}
	// Rutgers NJAES prints low as 25 to 45 lb/acre of Mehlich-3 P; an acre
	// slice of 2 million lb makes that 12.5 mg/kg (Penn State: ppm times 2).
	nj, err := FindInterpretation(tables, "P", "Mehlich-3", "new-jersey")
	if err != nil || nj.Converted()[0] != 12.5 {
		t.Errorf("%v, %v", nj, err)
	}
	// Mallarino 2003: optimum is 16 to 20 by Bray and by Mehlich-3 with colour.
	iowa, err := FindInterpretation(tables, "p", "Bray-1", "iowa-2013")
	if err != nil || !slices.Equal(iowa.Limits[1:3], []float64{16, 21}) || iowa.Classes[2] != "optimum" {
		t.Errorf("%v, %v", iowa, err)
	}
}

func TestFindInterpretation(t *testing.T) {
	for _, c := range []struct{ analyte, method, name, want string }{
		{"P", "Olsen", "iowa-2013", "wrong for another"},
		{"P", "", "", "do not say by which method"},
		{"P", "Mehlich-3", "", "name one"},
		{"pH", "", "", "there is no table for pH"},
		{"P", "Bray-1", "atlantis", `no table "atlantis"`},
	} {
		if _, err := FindInterpretation(Interpretations(), c.analyte, c.method, c.name); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
	if table, err := FindInterpretation(Interpretations(), "P", "olsen", ""); err != nil || table.Name != "nebraska-corn" {
		t.Errorf("%v, %v", table, err)
	}
}

func TestInterpretationsRefused(t *testing.T) {
	const good = "- {name: a, analyte: P, unit: mg/kg, mg_per_kg: 1, classes: [low, high], limits: [10], source: s, place: p, verified: seen}\n"
	if _, err := ReadInterpretations([]byte(good)); err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{
		"limits: [10]":     "limits: [10, 20]",
		"source: s, ":      "",
		"verified: seen":   "verified: surely",
		"mg_per_kg: 1":     "mg_per_kg: -1",
		"name: a":          "name: a, colour: red",
		good:               "",
		"limits: [10], so": "limits: [.nan], so",
		"- {":              "{",
		"- {name":          "! {name",
	} {
		if _, err := ReadInterpretations([]byte(strings.Replace(good, from, to, 1))); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q for %q: %v", to, from, err)
		}
	}
}
