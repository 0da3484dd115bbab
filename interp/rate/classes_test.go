package rate

import (
	"slices"
	"strings"
	"testing"
)

func TestClassesOfTables(t *testing.T) {
	for _, c := range []struct {
		table, crop string
		limits      []float64
		first, last string
	}{
		// Rutgers NJAES prints low as 25 to 45 lb/acre of Mehlich-3 P; an acre
		// slice of 2 million lb makes that 12.5 mg/kg (Penn State: ppm times 2).
		{"new-jersey-p", "", []float64{12.5, 23, 36, 69}, "very low", "very high"},
		// Mallarino 2003: optimum is 16 to 20 by Bray and by Mehlich-3 with colour.
		{"iowa-2013-p", "", []float64{11, 16, 21, 31}, "very low", "very high"},
		{"nebraska-p-olsen", "Soybean", []float64{8}, "below the critical level", "sufficient"},
		{"nebraska-p-olsen", "wheat", []float64{17}, "below the critical level", "sufficient"},
		// Culman, Ohio State: 20 to 40 mg/kg for corn and soybean.
		{"tri-state-2020-p", "corn", []float64{20, 40}, "build-up", "above maintenance"},
		{"ohio-corn-soybean", "", []float64{20, 40}, "below the critical level", "above maintenance"},
		{"tri-state-1995-p", "wheat", []float64{25, 40, 50}, "build-up", "above the limit"},
	} {
		names, limits, err := table(t, c.table).Classes(c.crop)
		if err != nil || !slices.Equal(limits, c.limits) || len(names) != len(limits)+1 || names[0] != c.first || names[len(names)-1] != c.last {
			t.Errorf("%s for %q: %v, %v, %v", c.table, c.crop, names, limits, err)
		}
	}
	for _, c := range []struct{ table, crop, want string }{
		{"nebraska-p-olsen", "", "name one of: corn"},
		{"nebraska-p-olsen", "hops", "not for hops"},
		{"tri-state-2020-k", "corn", "exchange capacity"},
		{"iowa-2002-lime", "", "no classes"},
		{"kansas-corn-p", "corn", "no classes"},
	} {
		if _, _, err := table(t, c.table).Classes(c.crop); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s for %q: %v", c.table, c.crop, err)
		}
	}
}

func TestFindClasses(t *testing.T) {
	for _, c := range []struct{ analyte, method, name, want string }{
		{"P", "Olsen", "iowa-2013-p", "wrong for another"},
		{"P", "", "", "do not say by which method"},
		{"P", "Mehlich-3", "", "name one"},
		{"pH", "", "", "there is no table of classes for pH"},
		{"P", "Bray-1", "atlantis", `no table "atlantis"`},
		{"P", "Bray-1", "kansas-corn-p", `no table "kansas-corn-p"`},
	} {
		if _, err := FindClasses(Tables(), c.analyte, c.method, c.name); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
	for _, c := range [][3]string{{"K", "ammonium acetate", "iowa-2013-k"}, {"S", "Monocalcium phosphate", ""}, {"P", "mehlich-3", "Tri-State-2020-P"}} {
		if found, err := FindClasses(Tables(), c[0], c[1], c[2]); err != nil || c[2] != "" && !strings.EqualFold(found.Name, c[2]) {
			t.Errorf("%v: %v, %v", c, found.Name, err)
		}
	}
}
