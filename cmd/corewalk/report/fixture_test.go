package report

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/interp"
	"corewalk/sampling/lab"
)

// Where the invented field lies, in metres.
const west, south = 478000.0, 4649000.0

func rect(x0, y0, x1, y1 float64) plane.Shape {
	return plane.Shape{orb.Polygon{ringOf(x0, y0, x1, y0, x1, y1, x0, y1)}}
}

func ringOf(xy ...float64) orb.Ring {
	var r orb.Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, orb.Point{west + xy[i], south + xy[i+1]})
	}
	return append(r, r[0])
}

func circle(x, y, radius float64, n int) plane.Shape {
	var r orb.Ring
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		r = append(r, orb.Point{west + x + radius*math.Cos(a), south + y + radius*math.Sin(a)})
	}
	return plane.Shape{orb.Polygon{append(r, r[0])}}
}

func at(x, y float64) plane.XY { return plane.XY{west + x, south + y} }

// invented is a farm with an L-shaped field: 400 m by 400 m without its
// southeast quarter, a pond, a lane, a well, two management units and a problem area;
// and a second field of four composites that brought their own coordinates.
func invented() Data {
	f := Field{
		Name: "North Forty", System: "WGS 84 / UTM zone 15N (EPSG:32615)",
		Boundary: plane.Shape{orb.Polygon{ringOf(0, 0, 200, 0, 200, 200, 400, 200, 400, 400, 0, 400)}},
		Exclusions: []geo.Exclusion{
			{Name: "pond", Shape: circle(300, 300, 28, 40), Setback: 10},
			{Name: "lane", Lines: []plane.Line{{orb.Point(at(0, 205)), orb.Point(at(120, 215)), orb.Point(at(200, 240)), orb.Point(at(200, 400))}}, Setback: 5},
			{Name: "well", Points: []plane.XY{at(60, 330)}, Setback: 15},
		},
		Divisions: []geo.Division{
			{Kind: geo.Management, Name: "corn", Shape: rect(0, 200, 400, 400)},
			{Kind: geo.Management, Name: "alfalfa", Shape: rect(0, 0, 200, 200)},
			{Kind: geo.Problem, Name: "bare patch", Shape: circle(100, 90, 30, 24)},
		},
		Area: 120_000, SampleableArea: 112_300,
		Notes: []string{"boundary crossed itself in 1 place; mended"},
	}
	addUnits(&f)
	ph := analyte(&f, "pH", "", "1:1 water", true, func(x, y float64) float64 {
		return 5.3 + 1.4*x/400 + 0.5*math.Sin(y/60)
	}, 1)
	ph.CrossValidation.Skill, ph.CrossValidation.SkillWithin = 0.7, 0.41
	ph.Patches = []PatchSet{
		{Limit: "pH < 5.5", Patches: []Patch{
			{ID: "pH-1", Shape: circle(45, 290, 40, 50), Samples: []string{"HF05P", "HF09Q"}, Chance: 0.823, Without: 6.19, Figures: Figures{5026, 5.31, 5.02, 5.49, 2, 5.25}},
			{ID: "pH-2", Shape: circle(60, 30, 25, 50), Chance: 0.9999, Without: 6.22, Figures: Figures{1963, 5.42, 5.33, 5.5, 0, math.NaN()}},
		}, Rest: Figures{113011, 6.24, 5.5, 7.1, 17, 6.3}, Dropped: 1},
		{Limit: "pH > 6.8", Patches: []Patch{
			{ID: "pH-3", Shape: rect(350, 320, 400, 400), Samples: []string{"HF12M"}, Chance: math.NaN(), Without: math.NaN(), Figures: Figures{4000, 6.9, 6.8, 7.1, 1, 6.9}},
		}, Rest: Figures{116000, 5.9, 5, 6.8, 18, 6}},
	}
	ph.CrossValidation.Structure = interp.Structure{P: 0.008, Deals: 499}
	ph.How, ph.Chosen, ph.Masked = "inverse distance, power 2, 12 nearest", []string{"method", "power"}, 0.04
	ph.Drawings = []Drawing{{Alt: "plot & figures", SVG: []byte("<svg>1</svg>")}, {Alt: "map of residuals", SVG: []byte("<svg>2</svg>")}}
	ph.Zoning = &Zoning{
		Source: "Limits of a table.", Merged: 3, Ground: 119_000, Sum: 119_000,
		Classes: []ZoneClass{
			{Limits: "below 5.5", Name: "low", Zones: 1, Area: 40_000, Mean: 5.2}, {Limits: "5.5 to 6.5", Name: "medium", Mean: math.NaN()},
			{Limits: "6.5 and above", Name: "high", Zones: 1, Area: 78_000, Mean: 6.8},
		},
		Zones: []Zone{{0, rect(0, 0, 200, 200), 40_000}, {2, rect(0, 200, 400, 395), 78_000}, {-1, rect(0, 395, 400, 400), 1000}},
	}
	p := analyte(&f, "P", "mg/kg", "Mehlich 3", false, func(x, y float64) float64 {
		return 30 + 25*math.Sin(x*7+y*3)
	}, 0)
	p.CrossValidation.Skill, p.CrossValidation.SkillWithin, p.CrossValidation.Bias = -0.12, -0.2, -1.3
	p.Values[3].Value, p.Values[3].Censored = 1.5, "<"
	p.Basis = "sampling units"
	p.Patches = []PatchSet{{Limit: "P < 15 mg/kg", Patches: []Patch{
		{ID: "P-1", Shape: f.Units[2].Shape, Samples: []string{f.Units[2].ID}, Chance: math.NaN(), Without: 31.2, Figures: Figures{f.Units[2].Area, 9, 9, 9, 1, 9}},
	}, Rest: Figures{114000, 31.2, 15, 55, 18, 31.2}}}
	k := analyte(&f, "K", "mg/kg", "", true, func(x, y float64) float64 { return 110 + 0.3*y }, 0)
	k.Values[5].Value, k.Values[5].Censored = 250, ">"
	k.CrossValidation.Skill, k.CrossValidation.SkillWithin = 0.9, 0.9
	k.Patches = []PatchSet{{Limit: "K < 100 mg/kg", Rest: Figures{120000, 170, 110, 230, 19, 171}}}
	f.Analytes = []Analyte{ph, p, k}
	f.Meetings = []Meeting{{Patches: [2]string{"pH-1", "P-1"}, Area: 4046.8564224 / 2}}

	g := Field{Name: "Garden <script>alert(1)</script> & \"Söhne\"", Boundary: rect(600, 0, 640, 25), Area: 1000, SampleableArea: 900}
	for i := range 4 {
		g.Units = append(g.Units, Unit{ID: fmt.Sprintf("GR%02dX", i+1), At: at(606+9*float64(i), 12+4*float64(i%2))})
	}
	gph := Analyte{Name: "pH", Supported: false, Basis: "sampling units", CrossValidation: interp.CrossValidation{N: 4, RMSE: .2, MAE: .18, Skill: .1, SkillWithin: .1}}
	for i, u := range g.Units {
		gph.Values = append(gph.Values, Value{ID: u.ID, Value: 6.1 + float64(i)*0.2})
	}
	g.Analytes = []Analyte{gph}
	return Data{
		Farm: "Hollow Creek Farm", US: true, Fields: []Field{f, g}, Reckoning: account(),
		Parameters: []Fact{{"Design", "grid, one composite for each 1.5 ac"}, {"Cores", "12 to a composite, 0-8 in deep"}, {"Seed", "20260417"}, {"Surfaces", "inverse distance weighting, power 2, 12 nearest, pixel 2 m"}},
		Notices:    []string{"boundary.shp: 1 ring turned the wrong way; turned"},
	}
}

// addUnits adds 19 sampling units of grid cells and one for the problem area.
func addUnits(f *Field) {
	n := 0
	add := func(s plane.Shape, division string, problem bool) {
		n++
		c, _ := s.Centroid()
		u := Unit{ID: fmt.Sprintf("HF%02d%c", n, 'K'+n%13), Division: division, Problem: problem, Shape: s, At: c, Area: s.Area()}
		b := s.Bound()
		for i := range 12 {
			u.Cores = append(u.Cores, plane.XY{
				b.Min[0] + (0.12+0.76*math.Mod(float64(i)*0.618, 1))*(b.Max[0]-b.Min[0]),
				b.Min[1] + (0.12+0.76*math.Mod(float64(i*n)*0.377+0.1, 1))*(b.Max[1]-b.Min[1]),
			})
		}
		f.Units = append(f.Units, u)
	}
	for row := range 3 {
		for col := range 5 {
			add(rect(80*float64(col), 200+66.66*float64(row), 80*float64(col+1), 200+66.66*float64(row+1)), "management unit corn", false)
		}
	}
	for i := range 4 {
		x, y := 100*float64(i%2), 100*float64(i/2)
		add(rect(x, y, x+100, y+100), "management unit alfalfa", false)
	}
	add(circle(100, 90, 30, 24), "problem area bare patch", true)
	f.Units[7].Missing = true
	f.Units[7].Notes = []string{"only 11 of 12 cores kept their spacing"}
}

func analyte(f *Field, name, unit, method string, supported bool, at func(x, y float64) float64, places int) Analyte {
	a := Analyte{Name: name, Unit: unit, Method: method, Supported: supported, Basis: "surface"}
	for _, u := range f.Units {
		if u.Missing {
			continue
		}
		p := math.Pow(10, float64(places))
		v := math.Round(at(u.At[0]-west, u.At[1]-south)*p) / p
		a.Values = append(a.Values, Value{ID: u.ID, Value: v})
		a.CrossValidation.Each = append(a.CrossValidation.Each, interp.Residual{ID: u.ID, Observed: v, Predicted: v * 1.03})
	}
	a.CrossValidation.N, a.CrossValidation.LeftOut, a.CrossValidation.Bias = 18, 1, 0.03
	a.CrossValidation.MAE, a.CrossValidation.RMSE = 0.21, 0.27
	g := raster.New(raster.Geometry{West: west, North: south + 400, Pixel: 2, Width: 200, Height: 200, EPSG: 32615})
	for i := range g.Data {
		x, y := g.Center(i%200, i/200)
		if x-west > 200 && y-south < 200 || math.Hypot(x-west-300, y-south-300) < 28 {
			continue
		}
		g.Data[i] = float32(at(x-west, y-south))
	}
	a.Grid = g
	return a
}

func account() *lab.Reckoning {
	r := lab.Reckoning{
		Table:  "lab-results.csv",
		Counts: lab.Counts{Rows: 28, Joined: 19, Replicate: 1, Unmatched: 1, Refused: 7, Samples: 20, Answered: 19, Missing: 1, Cells: 3},
		Columns: lab.Columns{
			{Name: "Sample ID", Header: "Sample ID", Letter: "A", Role: lab.RoleID, Filled: 22},
			{Name: "pH", Header: "pH", Letter: "B", Role: lab.RoleAnalyte, Analyte: "pH", Method: "1:1 water", Filled: 21},
			{Name: "P", Header: "M3-P ppm", Letter: "C", Role: lab.RoleAnalyte, Analyte: "P", Unit: "mg/kg", Method: "Mehlich 3", Filled: 21, Note: "ppm is taken as mg/kg"},
		},
		Cells: []lab.CellNote{
			{Row: 7, Column: "P", SampleID: "HF04O", Kind: lab.CellCensored, Text: "<3", Note: "below the limit 3; computed with half of it, 1.5"},
			{Row: 9, Column: "K", SampleID: "HF06Q", Kind: lab.CellCensored, Text: ">250", Note: "above the limit 250; computed with the limit"},
			{Row: 11, Column: "K", SampleID: "HF09T", Kind: lab.CellProblem, Text: "1,2,3", Note: "not a number"},
		},
		Notes: []string{"rows 1 to 2 stand above the header and were passed over"},
	}
	for i := range 19 {
		r.Rows = append(r.Rows, lab.RowFate{Row: 4 + i, ID: fmt.Sprintf("HF%02d", i), Fate: lab.Joined, SampleID: fmt.Sprintf("HF%02d", i)})
	}
	r.Rows = append(r.Rows,
		lab.RowFate{Row: 23, ID: "hf-03n", Fate: lab.Replicate, SampleID: "HF03N"},
		lab.RowFate{Row: 24, ID: "HF99Z", Fate: lab.Unmatched, Reason: "its check character does not fit", Nearest: []string{"HF09T"}},
		lab.RowFate{Row: 25, ID: "<b>average</b>", Fate: lab.Refused, Reason: "a row of sums"},
	)
	for i := range 6 {
		r.Rows = append(r.Rows, lab.RowFate{Row: 26 + i, Fate: lab.Refused, Reason: "the row is empty"})
	}
	r.Samples = []lab.SampleFate{{ID: "HF03N", Fate: lab.Answered, Rows: []int{6, 23}}, {ID: "HF08S", Depth: "0-8in", Fate: lab.Missing, Reason: "no row has this id"}}
	r.Results = []lab.Result{{ID: "HF03N", Rows: []int{6, 23}, Values: []lab.Measure{{Column: "P", Analyte: "P", Value: 31.5, N: 2, Spread: 9, Flagged: true}}}}
	return &r
}
