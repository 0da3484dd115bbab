package sampling

import (
	"slices"
	"strings"
	"testing"

	"corewalk/geo"
)

// ids lists the samples of a plan by unit, whatever the order of the walk.
func ids(p *Plan) map[string]string {
	out := map[string]string{}
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			for _, s := range u.Samples {
				out[s.ID] = fp.Field.Name + " " + s.Depth.String()
			}
		}
	}
	return out
}

func names(p *Plan) (out []string) {
	for _, fp := range p.Fields {
		for _, u := range fp.Units {
			for _, c := range u.Cores {
				out = append(out, c.Name)
			}
		}
	}
	slices.Sort(out)
	return out
}

func TestAgain(t *testing.T) {
	depths, err := ParseDepths("0-2in,2-8in")
	if err != nil {
		t.Fatal(err)
	}
	for name, p := range map[string]Params{
		"grid":   {Design: Grid, Cell: 5000, LongSide: true},
		"strata": {Design: Strata, Samples: 9, Composites: 2, Depths: depths},
		"points": {Design: Grid, Cell: 9000, At: AtPoint, Radius: 8, Depths: depths[:1]},
		"units":  {Design: Units, At: AtStrata},
	} {
		p.Cores, p.Spacing, p.Seed, p.ProblemBuffer, p.Comparison = 6, 2, 3, 4, true
		old := mustMake(t, p, mustMap(t, farm(t)), mustMap(t, bent(t)))
		features, err := old.Features()
		if err != nil {
			t.Fatal(err)
		}
		layer := through(t, features)
		same, err := Again(layer, p, false, "a")
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		fresh, err := Again(layer, p, true, "a")
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		other, err := Again(layer, p, true, "b")
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		want := ids(old)
		for what, plan := range map[string]*Plan{"same": same, "fresh": fresh, "other": other} {
			got := ids(plan)
			if len(got) != len(want) {
				t.Fatalf("%s, %s: %d samples of %d", name, what, len(got), len(want))
			}
			for id, of := range want {
				if got[id] != of {
					t.Errorf("%s, %s: sample %s is of %q, was of %q", name, what, id, got[id], of)
				}
			}
			if !slices.Equal(names(plan), names(old)) {
				t.Errorf("%s, %s: the cores have other names", name, what)
			}
			for i, fp := range plan.Fields {
				checkCores(t, fp, p)
				pairs, before := 0, 0
				for _, u := range fp.Units {
					if u.CompareWith != nil {
						pairs++
					}
				}
				for _, u := range old.Fields[i].Units {
					if u.CompareWith != nil {
						before++
					}
				}
				if pairs != before {
					t.Errorf("%s, %s: %d problem areas are compared, %d were", name, what, pairs, before)
				}
			}
		}
		places := func(p *Plan) map[geo.LonLat]string {
			out := map[geo.LonLat]string{}
			for _, fp := range p.Fields {
				for _, u := range fp.Units {
					for _, c := range u.Cores {
						out[c.LonLat] = c.Name
					}
				}
			}
			return out
		}
		before := places(old)
		for at, core := range places(same) {
			if before[at] != core {
				t.Errorf("%s: core %s has moved", name, core)
			}
		}
		for _, plan := range []*Plan{fresh, other} {
			for at, core := range places(plan) {
				if before[at] != "" {
					t.Errorf("%s: core %s is not fresh", name, core)
				}
			}
		}
		if a, b := places(fresh), places(other); a[fresh.Fields[0].Units[0].Cores[0].LonLat] == b[fresh.Fields[0].Units[0].Cores[0].LonLat] {
			t.Errorf("%s: two parents give the same fresh spots", name)
		}
	}
}

func TestAgainRefuses(t *testing.T) {
	p := Params{Design: Units, Cores: 3}
	features, err := mustMake(t, p, mustMap(t, bent(t))).Features()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Again(through(t, features[:1]), p, true, ""); err == nil || !strings.Contains(err.Error(), "no feature of kind unit") {
		t.Errorf("a file without units: %v", err)
	}
	if _, err := Again(through(t, features[1:]), p, true, ""); err == nil || !strings.Contains(err.Error(), "no feature of kind field") {
		t.Errorf("a file without fields: %v", err)
	}
	bad := p
	bad.Cores = 0
	if _, err := Again(through(t, features), bad, true, ""); err == nil || !strings.Contains(err.Error(), "0 cores") {
		t.Errorf("no cores: %v", err)
	}
}

func TestDensest(t *testing.T) {
	fields := []*geo.Field{mustMap(t, farm(t)), mustMap(t, bent(t))}
	for _, design := range []Design{Grid, Strata} {
		p := Params{Design: design, Cores: 3, LongSide: true}
		for _, budget := range []float64{200, 420} {
			got, cost, err := Densest(fields, p, Prices{Sample: 12}, budget, geo.Acre)
			if err != nil {
				t.Fatalf("%s, %g: %v", design, budget, err)
			}
			plan, err := Make(fields, got)
			if err != nil {
				t.Fatal(err)
			}
			if n := float64(plan.Samples()) * 12; n != cost || n > budget {
				t.Errorf("%s: a budget of %g gives %g, said to be %g", design, budget, n, cost)
			}
			// A twentieth smaller is paid for by none.
			smaller := got
			smaller.Cell *= 0.95
			if plan, err := Split(fields, smaller); err != nil || float64(plan.Samples())*12 <= budget {
				t.Errorf("%s: %g would pay for cells of %.0f m² instead of %.0f", design, budget, smaller.Cell, got.Cell)
			}
		}
		if _, _, err := Densest(fields, p, Prices{Sample: 12}, 20, geo.Acre); err == nil || !strings.Contains(err.Error(), "fewest samples there can be, which cost") {
			t.Errorf("%s: a budget of 20: %v", design, err)
		}
	}
	if _, _, err := Densest(fields, Params{Design: Units, Cores: 3}, Prices{Sample: 12}, 20, geo.Acre); err == nil || !strings.Contains(err.Error(), "each management unit, which costs") {
		t.Errorf("units with a budget of 20: %v", err)
	}
	// With a price of the hour the walk counts.
	p := Params{Design: Grid, Cores: 3, LongSide: true}
	free, _, err := Densest(fields, p, Prices{Sample: 12}, 600, geo.Acre)
	if err != nil {
		t.Fatal(err)
	}
	paid, cost, err := Densest(fields, p, Prices{Sample: 12, Hour: 30}, 600, geo.Acre)
	if err != nil || cost > 600 || paid.Cell <= free.Cell {
		t.Errorf("with wages cells of %.0f m² cost %.2f, without %.0f; %v", paid.Cell, cost, free.Cell, err)
	}
}
