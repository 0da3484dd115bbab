package sampling

import (
	"strings"
	"testing"

	"corewalk/geo"
)

func TestNamesAreKeptShort(t *testing.T) {
	// One unit of many, with one core of many.
	many := make([]*Unit, MaxUnits)
	for i := range many {
		many[i] = &Unit{Number: i + 1, Samples: make([]Sample, 1)}
	}
	last := many[len(many)-1]
	last.Cores = make([]Core, 200)
	last.Cores[0].Number = 1
	fields := func(n int) []*FieldPlan {
		out := make([]*FieldPlan, n)
		for i := range out {
			out[i] = &FieldPlan{Field: &geo.Field{}, Units: many[len(many)-1:]}
		}
		out[0].Units = many
		return out
	}
	p := &Plan{Params: Params{Cores: 200}, Fields: fields(324)}
	if err := p.number(); err != nil {
		t.Fatal(err)
	}
	if u := last; u.Cores[0].Name != "XX20000001" || len(u.ID()) != 8 || !ValidID(u.ID()) {
		t.Errorf("unit %s has the core %s", u.ID(), u.Cores[0].Name)
	}
	p.Fields = fields(325)
	if err := p.number(); err == nil || !strings.Contains(err.Error(), "names of 11 characters") {
		t.Errorf("names of 11 characters: %v", err)
	}
}

func TestSamplesAreShared(t *testing.T) {
	o := geo.Outline{
		Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 400, 100)}),
		Management: []geo.Part{
			{Name: "large", Where: "large", Shape: degrees(t, [][]float64{rect(-1, -1, 320, 101)})},
			{Name: "small", Where: "small", Shape: degrees(t, [][]float64{rect(320, -1, 401, 101)})},
		},
		Problems: []geo.Part{{Name: "wet", Where: "wet", Shape: degrees(t, [][]float64{rect(10, 10, 20, 20)})}},
	}
	count := func(p Params) (per map[string]int, notes string) {
		p.Cores = 2
		fp := mustMake(t, p, mustMap(t, o)).Fields[0]
		per = map[string]int{}
		for _, u := range fp.Units {
			per[fp.Field.Divisions[u.Division].Name]++
		}
		return per, strings.Join(fp.Notes, "; ")
	}
	for name, c := range map[string]struct {
		p                 Params
		large, small, wet int
		note              string
	}{
		"strata": {Params{Design: Strata, Samples: 10}, 8, 2, 1, ""},
		"one":    {Params{Design: Strata, Samples: 1}, 1, 1, 1, "2 management units, and each gets a sample; asked for: 1"},
		// 4 ha less 100 m².
		"cell":     {Params{Design: Strata, Cell: 5000}, 6, 2, 1, ""},
		"big cell": {Params{Design: Strata, Cell: 40 * geo.Hectare}, 1, 1, 1, "it has 2 management units"},
		"units":    {Params{Design: Units, Samples: 10}, 1, 1, 1, ""},
	} {
		per, notes := count(c.p)
		if per["large"] != c.large || per["small"] != c.small || per["wet"] != c.wet || !strings.Contains(notes, c.note) || c.note == "" && notes != "" {
			t.Errorf("%s: %v with notes %q, want %d, %d and %d", name, per, notes, c.large, c.small, c.wet)
		}
	}
}
