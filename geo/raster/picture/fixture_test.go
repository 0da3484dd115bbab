package picture

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// The field of the tests is invented: a bent outline of about 9 ha, with a
// waterway and a spot that was a manure pile.

func ringShape(xy ...float64) plane.Shape {
	var r orb.Ring
	for i := 0; i+1 < len(xy); i += 2 {
		r = append(r, orb.Point{448000 + xy[i], 4652000 + xy[i+1]})
	}
	r = append(r, r[0])
	return plane.Shape{orb.Polygon{r}}
}

func circle(x, y, r float64) plane.Shape {
	var xy []float64
	for i := range 40 {
		sin, cos := turn(float64(i) / 40)
		xy = append(xy, x+r*cos, y+r*sin)
	}
	return ringShape(xy...)
}

func fieldShape() plane.Shape {
	return ringShape(10, 5, 180, 0, 300, 22, 318, 140, 282, 260, 205, 300, 120, 286, 40, 300, 0, 180, 22, 90)
}

func waterway() plane.Shape {
	return ringShape(60, 4, 74, 3.6, 120, 70, 190, 110, 300, 118, 300, 130, 186, 122, 112, 80)
}

// rise is the invented truth.
func rise(x, y float64) float64 {
	return 22 + 14*math.Sin(x/75)*math.Cos(y/90) + 9*math.Exp(-((x-240)*(x-240)+(y-200)*(y-200))/3000)
}

func fieldGrid() *raster.Grid {
	const pixel = 4
	g := raster.New(raster.Geometry{West: 448000 - 8, North: 4652000 + 312, Pixel: pixel, Width: 84, Height: 81, EPSG: 32615})
	in, off := plane.NewLocator(fieldShape()), plane.NewLocator(waterway())
	for row := range g.Height {
		for col := range g.Width {
			x, y := g.Center(col, row)
			p := plane.XY{x, y}
			// The north-west corner is far from every sample.
			if in.Contains(p) && !off.Contains(p) && x-448000-(y-4652000) > -215 {
				g.Data[row*g.Width+col] = float32(rise(x-448000, y-4652000))
			}
		}
	}
	return g
}

func fieldPoints() []Point {
	var out []Point
	in := plane.NewLocator(fieldShape())
	n := 0
	for y := 30.0; y < 300; y += 48 {
		for x := 28.0; x < 310; x += 50 {
			px, py := x+9*math.Sin(y+x), y+9*math.Cos(2*x+y)
			p := plane.XY{448000 + px, 4652000 + py}
			if !in.Contains(p) || px-py < -205 {
				continue
			}
			n++
			out = append(out, Point{At: p, Label: number(rise(px, py), 1), ID: "K" + strconv.Itoa(n)})
		}
	}
	return out
}

func fieldOutlines() []Outline {
	return []Outline{
		{Kind: Boundary, Shape: fieldShape()},
		{Kind: Exclusion, Shape: waterway(), Key: "waterway, not sampled"},
		{Kind: Unit, Shape: ringShape(150, 1, 180, 0, 300, 22, 318, 140, 282, 260, 205, 300, 150, 291), Key: "management unit"},
		{Kind: Problem, Shape: circle(262, 60, 22), Label: "M1", Key: "problem area"},
	}
}

func surfaceFixture() *Map {
	return &Map{
		Title: "Phosphorus, north forty", Subtitle: "Soil samples of 14 October 2025, 0–8 in, Bray P1",
		Grid: fieldGrid(), Legend: "Phosphorus (P)", Unit: "mg/kg", Ramp: raster.Dew,
		Outlines: fieldOutlines(), Points: fieldPoints(), Convergence: -1.3, US: true,
		Footer: []string{
			"Inverse distance weighting, power 2, 12 neighbours. Leave-one-out: root mean square error 4.1 mg/kg, bias 0.2 mg/kg, skill 0.46 over the mean.",
			"Between the samples the map is an estimate.",
		},
	}
}

func zoneFixture() *Map {
	m := &Map{
		Title: "Zones of phosphorus, north forty", Subtitle: "Three classes",
		Legend: "Phosphorus (P)", Unit: "mg/kg", Ramp: raster.Furrow,
		Classes: []Class{
			{Mark: "1", Name: "low", From: math.Inf(-1), To: 15},
			{Mark: "2", Name: "medium", From: 15, To: 25},
			{Mark: "3", Name: "high", From: 25, To: math.Inf(1)},
		},
		Outlines: fieldOutlines()[:2],
		Footer:   []string{"Zones below 500 m² are joined to their neighbour."},
	}
	west := ringShape(10, 5, 110, 2.1, 130, 287.5, 120, 286, 40, 300, 0, 180, 22, 90)
	mid := ringShape(110, 2.1, 180, 0, 230, 9.2, 200, 150, 230, 287, 205, 300, 130, 287.5)
	east := ringShape(230, 9.2, 300, 22, 318, 140, 282, 260, 230, 287, 200, 150)
	m.Zones = []Zone{{Shape: west, Class: 1}, {Shape: mid, Class: 0}, {Shape: east, Class: 2}}
	m.Outlines = append(m.Outlines, Outline{Kind: Patch, Shape: circle(166, 220, 27), Label: "P1", Key: "patch, below 10 mg/kg"})
	return m
}

func residualFixture() *Map {
	m := &Map{
		Title:    "What the surface misses, north forty",
		Legend:   "Phosphorus (P)",
		Outlines: fieldOutlines()[:2],
		Marks:    Marks{Label: "observed less predicted", Unit: "mg/kg", Even: 0.6},
		Notes:    []string{"NOT SUPPORTED: the samples do not carry this surface; it is no better than their mean."},
		Grid:     fieldGrid(), Ramp: raster.Heather, Unit: "mg/kg",
	}
	for i, p := range fieldPoints() {
		v := 6 * math.Sin(float64(i*i))
		m.Marks.Items = append(m.Marks.Items, Mark{At: p.At, Value: v, Label: number(v, 1)})
	}
	return m
}

func scatterFixture() *Scatter {
	s := &Scatter{
		Title: "Predicted on observed", Subtitle: "Phosphorus, leave-one-out", Unit: "mg/kg",
		Footer: []string{"Root mean square error 4.1 mg/kg, skill 0.46."},
	}
	for i := range 36 {
		o := 8 + 0.9*float64(i)
		s.Pairs = append(s.Pairs, Pair{o, 14 + 0.5*o + 4*math.Sin(float64(i*i))})
	}
	return s
}
