package sampling

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
)

func TestShares(t *testing.T) {
	for _, c := range []struct {
		sizes []float64
		n     int
		want  []int
	}{
		{[]float64{1}, 5, []int{5}},
		{[]float64{1, 1}, 5, []int{3, 2}},
		{[]float64{1, 1, 1}, 3, []int{1, 1, 1}},
		{[]float64{10, 0.1, 0.1}, 3, []int{1, 1, 1}},
		{[]float64{10, 0.1, 0.1}, 12, []int{10, 1, 1}},
		{[]float64{0.1, 10, 5}, 10, []int{1, 6, 3}},
		// Hare's quotas 5.3, 2.4, 1.3, the 10th to the largest remainder.
		{[]float64{53, 24, 13}, 9, []int{5, 3, 1}},
		{[]float64{0, 4, 0, 2}, 3, []int{0, 2, 0, 1}},
		{[]float64{3, 2, 1}, 1, []int{1, 1, 1}},
		{[]float64{0, 0}, 3, []int{0, 0}},
		{nil, 3, []int{}},
	} {
		if got := shares(c.sizes, c.n); !slices.Equal(got, c.want) {
			t.Errorf("shares(%v, %d) = %v, want %v", c.sizes, c.n, got, c.want)
		}
	}
}

func TestSharesAddUp(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 3000 {
		sizes := make([]float64, 1+r.IntN(9))
		var total float64
		parts := 0
		for i := range sizes {
			if r.IntN(6) > 0 {
				sizes[i] = r.ExpFloat64()
				total += sizes[i]
				parts++
			}
		}
		n := 1 + r.IntN(40)
		got := shares(sizes, n)
		sum := 0
		for i, k := range got {
			sum += k
			if (k > 0) != (sizes[i] > 0) {
				t.Fatalf("shares(%v, %d) = %v", sizes, n, got)
			}
			// Nobody is more than one above what is due to him but for the one
			// that is everybody's.
			if sizes[i] > 0 && float64(k) > max(1, float64(n)*sizes[i]/total+1) {
				t.Fatalf("shares(%v, %d) = %v: part %d has too much", sizes, n, got, i)
			}
		}
		if parts > 0 && sum != max(n, parts) {
			t.Fatalf("shares(%v, %d) = %v, in all %d", sizes, n, got, sum)
		}
	}
}

// checkUnits holds the units of a field against its divisions: each division is
// partitioned by its own units.
func checkUnits(t *testing.T, fp *FieldPlan) {
	t.Helper()
	of := make([][]plane.Shape, len(fp.Field.Divisions))
	sums := make([]float64, len(of))
	for _, u := range fp.Units {
		of[u.Division] = append(of[u.Division], u.Shape)
		sums[u.Division] += u.Shape.Area()
		outside, err := plane.Subtract(u.Sampleable, u.Shape)
		if err != nil {
			t.Fatal(err)
		}
		if outside.Area() > 1e-3 {
			t.Errorf("unit %d: its sampleable part reaches beyond it", u.Number)
		}
	}
	for i, d := range fp.Field.Divisions {
		whole, err := plane.Union(of[i]...)
		if err != nil {
			t.Fatal(err)
		}
		if whole.Empty() {
			continue // left out, which notes must say
		}
		over, err := plane.Subtract(whole, d.Shape)
		if err != nil {
			t.Fatal(err)
		}
		gap, err := plane.Subtract(d.Shape, whole)
		if err != nil {
			t.Fatal(err)
		}
		if over.Area() > 1e-3 || gap.Area() > 1e-3 || !about(sums[i], d.Shape.Area(), 1e-3) {
			t.Errorf("%s of %.4f m² has units of %.4f m², %.4f beyond it, %.4f left", d.Label(), d.Shape.Area(), sums[i], over.Area(), gap.Area())
		}
	}
}

func gridPlan(t *testing.T, o geo.Outline, cell float64) *FieldPlan {
	t.Helper()
	return mustMake(t, Params{Design: Grid, Cell: cell, Cores: 1, Seed: 4}, mustMap(t, o)).Fields[0]
}

func TestGridCells(t *testing.T) {
	rough := func(seed uint64) geo.Outline {
		r := rand.New(rand.NewPCG(seed, 5))
		var flat []float64
		for _, p := range star(r, 400, 400, 400, 9+int(seed)*5)[1:] {
			flat = append(flat, p[0]-450_000, p[1]-4_650_000)
		}
		return geo.Outline{Name: "rough", Boundary: degrees(t, [][]float64{flat})}
	}
	for name, c := range map[string]struct {
		o    geo.Outline
		cell float64
		full int // cells that touch no outline, at least
	}{
		"rectangle": {geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 800, 600)})}, geo.Hectare, 24},
		"2.5 acres": {geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 810, 805)})}, 2.5 * geo.Acre, 36},
		"holes":     {geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 800, 600), rect(150, 150, 290, 333), rect(420, 90, 421, 500)})}, 3000, 80},
		"farm":      {farm(t), 4000, 20},
		"rough":     {rough(1), 2500, 40},
		"rougher":   {rough(8), 2500, 25},
	} {
		t.Run(name, func(t *testing.T) {
			fp := gridPlan(t, c.o, c.cell)
			checkUnits(t, fp)
			full := 0
			alone := map[int]int{}
			for _, u := range fp.Units {
				alone[u.Division]++
			}
			for _, u := range fp.Units {
				area := fp.Field.Frame.Area(u.Shape)
				b := u.Shape.Bound()
				if box := (b.Max[0] - b.Min[0]) * (b.Max[1] - b.Min[1]); len(u.Shape) == 1 && len(u.Shape[0]) == 1 && len(u.Shape[0][0]) == 5 && about(box, u.Shape.Area(), 1e-6) && about(area, c.cell, 0.01*c.cell) {
					full++
					if !about(area, c.cell, 1e-5*c.cell) {
						t.Errorf("unit %d is a full cell of %.3f m², want %.3f", u.Number, area, c.cell)
					}
				}
				kind := fp.Field.Divisions[u.Division].Kind
				if area < 0.2499*c.cell && kind == geo.Management && alone[u.Division] > 1 {
					t.Errorf("unit %d has %.1f m², less than a quarter of a cell", u.Number, area)
				}
			}
			if full < c.full {
				t.Errorf("%d full cells, want at least %d", full, c.full)
			}
		})
	}
}

// A quarter of a cell stays, less joins its neighbour.
func TestGridSlivers(t *testing.T) {
	side := 100 * mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 225, 200)})}).Frame.Scale(geo.XY{575_000, 4_650_000})
	for width, want := range map[float64]int{2.26: 6, 2.25: 6, 2.24: 4, 2.01: 4, 0.75: 2} {
		fp := gridPlan(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, width*side, 2*side)})}, geo.Hectare)
		if len(fp.Units) != want {
			t.Errorf("%g cells broad: %d units, want %d", width, len(fp.Units), want)
		}
		checkUnits(t, fp)
	}
}

func TestSliversJoinTheLongestEdge(t *testing.T) {
	box := func(x0, y0, x1, y1 float64) plane.Shape {
		return mustShape(t, orb.Polygon{ring(x0, y0, x1, y0, x1, y1, x0, y1)})
	}
	for name, c := range map[string]struct {
		cells []plane.Shape
		areas []float64 // after
	}{
		// The sliver is 60 m long beside the first and 10 m broad under the second.
		"longer":      {[]plane.Shape{box(0, 0, 100, 100), box(100, 60, 200, 160), box(100, 0, 110, 60)}, []float64{10600, 10000}},
		"not the big": {[]plane.Shape{box(0, 0, 500, 20), box(0, 20, 40, 100), box(40, 20, 48, 90)}, []float64{10000, 3760}},
		"tie":         {[]plane.Shape{box(0, 0, 100, 100), box(110, 0, 210, 100), box(100, 0, 110, 100)}, []float64{11000, 10000}},
		"no neighbour": {[]plane.Shape{box(0, 0, 100, 100), box(200, 0, 300, 100), box(310, 0, 320, 60)},
			[]float64{10000, 10600}},
		// Two slivers side by side: the smaller first, to its longest edge.
		"chain":      {[]plane.Shape{box(0, 0, 100, 100), box(100, 0, 110, 100), box(110, 0, 115, 100)}, []float64{11500}},
		"only cells": {[]plane.Shape{box(0, 0, 10, 10), box(10, 0, 20, 10)}, []float64{200}},
		"one":        {[]plane.Shape{box(0, 0, 10, 10)}, []float64{100}},
		"none":       {nil, nil},
	} {
		got, err := mergeSlivers(pieces(c.cells), 2500)
		if err != nil {
			t.Fatal(err)
		}
		var areas []float64
		for _, s := range got {
			areas = append(areas, s.shape.Area())
		}
		if !slices.EqualFunc(areas, c.areas, func(a, b float64) bool { return about(a, b, 1e-6) }) {
			t.Errorf("%s: areas %v, want %v", name, areas, c.areas)
		}
	}
}

func TestGridRefused(t *testing.T) {
	f := mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 800, 600)})})
	far := mustMap(t, geo.Outline{Name: "a", Boundary: degrees(t, [][]float64{rect(0, 0, 50, 50)}, [][]float64{rect(30_000, 20_000, 30_050, 20_050)})})
	for name, c := range map[string]struct {
		f    *geo.Field
		p    Params
		want string
	}{
		"too large":   {f, Params{Cell: 50 * geo.Hectare}, "larger than the field, which has 48.0"},
		"infinite":    {f, Params{Cell: 1e300}, "larger than the field"},
		"too many":    {f, Params{Cell: 20}, "more than 20000"},
		"below 1 m²":  {f, Params{Cell: 0.5}, "too small to walk in"},
		"below zero":  {f, Params{Cell: -1}, "needs a cell"},
		"nothing":     {f, Params{}, "needs a cell"},
		"far flung":   {far, Params{Cell: 100}, "lie so far apart"},
		"many wanted": {f, Params{Samples: MaxUnits + 1}, "out of range"},
	} {
		c.p.Design, c.p.Cores = Grid, 1
		if _, err := Make([]*geo.Field{c.f}, c.p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want an error of %q", name, err, c.want)
		}
	}
	// A cell of exactly the field is no larger than it.
	if plan := mustMake(t, Params{Design: Grid, Samples: 1, Cores: 1}, f); len(plan.Fields[0].Units) > 2 {
		t.Errorf("one sample asked of the grid gives %d units", len(plan.Fields[0].Units))
	}
}

// A cell may be larger than one field of the farm, not than all of them.
func TestSmallFieldAmongOthers(t *testing.T) {
	big := mustMap(t, geo.Outline{Name: "big", Boundary: degrees(t, [][]float64{rect(0, 0, 800, 600)})})
	small := mustMap(t, geo.Outline{Name: "small", Boundary: degrees(t, [][]float64{rect(1000, 0, 1040, 50)})})
	plan := mustMake(t, Params{Design: Grid, Cell: geo.Hectare, Cores: 5}, big, small)
	if n := len(plan.Fields[1].Units); n != 1 || len(plan.Fields[1].Notes) != 1 || !strings.Contains(plan.Fields[1].Notes[0], "less than one cell") {
		t.Errorf("%d units, notes %q", n, plan.Fields[1].Notes)
	}
	if len(plan.Fields[0].Notes) != 0 || len(plan.Fields[0].Units) < 40 {
		t.Errorf("the large field has %d units, notes %q", len(plan.Fields[0].Units), plan.Fields[0].Notes)
	}
}
