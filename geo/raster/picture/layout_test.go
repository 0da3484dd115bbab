package picture

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// checkValues fails where two values overlap, or one leaves the map or stands
// on a point.
func checkValues(t *testing.T, m *Map) *page {
	t.Helper()
	p, err := m.layout()
	if err != nil {
		t.Fatal(err)
	}
	for i, a := range p.written {
		if !a.within(p.mapArea()) {
			t.Errorf("value %d lies off the map", i)
		}
		for k, b := range p.written[:i] {
			if a.overlaps(b) {
				t.Errorf("values %d and %d overlap: %v %v", k, i, b, a)
			}
		}
		for k, pt := range m.Points {
			if at := p.at(pt.At); a.overlaps(around(at, pointRadius(len(m.Points)))) {
				t.Errorf("value %d stands on point %d", i, k)
			}
		}
	}
	return p
}

func TestValuesDoNotOverlap(t *testing.T) {
	if p := checkValues(t, surfaceFixture()); p.unread > 0 || len(p.written) != len(fieldPoints()) {
		t.Errorf("%d of %d values written on a map with room for all", len(p.written), len(fieldPoints()))
	}
	checkValues(t, residualFixture())
	rng := rand.New(rand.NewPCG(7, 1))
	for _, n := range []int{1, 2, 40, 300, 1500} {
		m := surfaceFixture()
		m.Points = nil
		for range n {
			m.Points = append(m.Points, Point{
				At:    plane.XY{448000 + 320*rng.Float64(), 4652000 + 300*rng.Float64()*rng.Float64()},
				Label: strings.Repeat("8", 1+rng.IntN(9)),
			})
		}
		p := checkValues(t, m)
		if len(p.written)+p.unread != n {
			t.Errorf("%d values written and %d not, of %d", len(p.written), p.unread, n)
		}
		if n <= 2 && p.unread > 0 {
			t.Errorf("%d of %d values have no room", p.unread, n)
		}
	}
}

// Where lines run beside a point, its value stands on the other side.
func TestValuesKeepOffLines(t *testing.T) {
	m := surfaceFixture()
	p, err := m.layout()
	if err != nil {
		t.Fatal(err)
	}
	crossed := func(b rect) bool {
		for _, runs := range p.outlines {
			for _, r := range runs {
				for i := range r {
					for k := range 200 {
						at := blend(r[i], r[(i+1)%len(r)], float64(k)/200)
						if (rect{at.x, at.y, at.x, at.y}).overlaps(b) {
							return true
						}
					}
				}
			}
		}
		return false
	}
	on := 0
	for _, b := range p.written {
		if crossed(b) {
			on++
		}
	}
	if on > 3 { // those of points on the waterway
		t.Errorf("%d values are crossed by lines", on)
	}
}

// Zones get their letters, each within its own zone and off the waterway.
func TestNamesStandInTheirZones(t *testing.T) {
	m := zoneFixture()
	p, err := m.layout()
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, it := range p.items {
		w, ok := it.(words)
		if !ok || w.size != zoneSize {
			continue
		}
		found++
		at := plane.XY{p.ground.west + (w.at.x-p.origin.x)/p.scale, p.ground.north - (w.at.y-0.36*zoneSize-p.origin.y)/p.scale}
		if plane.NewLocator(waterway()).Contains(at) {
			t.Errorf("%s stands on the waterway", w.text)
		}
		for _, z := range m.Zones {
			if plane.NewLocator(z.Shape).Contains(at) != (m.Classes[z.Class].Mark == w.text) {
				t.Errorf("%s stands in the zone of class %d", w.text, z.Class+1)
			}
		}
	}
	if found != len(m.Zones) {
		t.Errorf("%d letters for %d zones", found, len(m.Zones))
	}
}

func TestNorthArrowTurns(t *testing.T) {
	tip := func(convergence float64) (x float64) {
		m := zoneFixture()
		m.Convergence = convergence
		p, err := m.layout()
		if err != nil {
			t.Fatal(err)
		}
		for i, it := range p.items {
			if w, ok := it.(words); ok && w.text == "N" {
				arrow := p.items[i-2].(area).runs[0]
				return arrow[0].x - (arrow[0].x+2*arrow[1].x)/3
			}
		}
		t.Fatal("no arrow")
		return 0
	}
	// Grid north east of true north: true north lies to the west of up.
	if e, z, w := tip(3), tip(0), tip(-3); !(e < -0.5 && math.Abs(z) < 1e-9 && w > 0.5) {
		t.Errorf("the tip lies at %.2f, %.2f, %.2f", e, z, w)
	}
	tip(math.NaN())
	tip(math.Inf(1))
}

func TestNotesCannotBeOverlooked(t *testing.T) {
	m := surfaceFixture()
	m.Notes = []string{"NOT SUPPORTED: so few samples."}
	p, err := m.layout()
	if err != nil {
		t.Fatal(err)
	}
	for _, it := range p.items {
		if a, ok := it.(area); ok && a.fill == alarm {
			b := boundOf(a.runs[0])
			if b.x0 != p.frame.x0 || b.x1 != p.frame.x1 || b.y0 != p.frame.y0 || b.y1-b.y0 < 30 {
				t.Errorf("the banner %v does not span the map %v", b, p.frame)
			}
			if p.origin.y < b.y1 {
				t.Error("the banner hides ground")
			}
			return
		}
	}
	t.Error("no banner")
}

func TestCheck(t *testing.T) {
	grid := func(change func(*raster.Grid)) *Map {
		m := surfaceFixture()
		change(m.Grid)
		return m
	}
	nan := math.NaN()
	var zigzag orb.Ring
	for i := range 3000 {
		zigzag = append(zigzag, orb.Point{float64(i) / 100, 300 * float64(i%2)})
	}
	zigzag = append(zigzag, zigzag[0])
	for want, m := range map[string]*Map{
		"nothing in the map has a place":   {Title: "x"},
		"values for":                       grid(func(g *raster.Grid) { g.Data = g.Data[1:] }),
		"for 0 by 81":                      grid(func(g *raster.Grid) { g.Width = 0 }),
		"for 4611686018427387904 by":       grid(func(g *raster.Grid) { g.Width = 1 << 62 }),
		"corner NaN":                       grid(func(g *raster.Grid) { g.West = nan }),
		"pixel -4":                         grid(func(g *raster.Grid) { g.Pixel = -4 }),
		"pixel +Inf":                       grid(func(g *raster.Grid) { g.Pixel = math.Inf(1) }),
		"zone 1 of the map is of class 0":  {Zones: []Zone{{Shape: fieldShape()}}},
		"outline 1 of the map is of kind":  {Outlines: []Outline{{Kind: 9, Shape: fieldShape()}}},
		"outline 1 of the map has a verte": {Outlines: []Outline{{Shape: plane.Shape{{orb.Ring{{0, 0}, {nan, 1}, {1, 1}, {0, 0}}}}}}},
		`point 1 ("K") of the map has no`:  {Points: []Point{{At: plane.XY{nan, 0}, ID: "K"}}},
		"point 2":                          {Points: []Point{{}, {At: plane.XY{0, 2e8}}}},
		"mark 1 of the map has no finite":  {Marks: Marks{Items: []Mark{{Value: nan}}}},
		"mark 1 of the map has no place":   {Marks: Marks{Items: []Mark{{At: plane.XY{math.Inf(-1), 0}}}}},
		"times as long as the map":         {Outlines: []Outline{{Shape: plane.Shape{{zigzag}}}}},
		"27 classes":                       {Classes: make([]Class, 27), Points: make([]Point, 1)},
		"200001 points":                    {Points: make([]Point, mostPoints+1)},
	} {
		err := m.Check()
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
		if m.SVG(&bytes.Buffer{}) == nil || m.PNG(&bytes.Buffer{}, 200) == nil {
			t.Errorf("drawn in spite of %q", want)
		}
	}
	if err := surfaceFixture().Check(); err != nil {
		t.Error(err)
	}
}

// Odd but lawful maps are drawn.
func TestDegenerate(t *testing.T) {
	one := &raster.Grid{Geometry: raster.Geometry{West: 5, North: 9, Pixel: 1, Width: 1, Height: 1}, Data: []float32{3}}
	none := &raster.Grid{Geometry: raster.Geometry{Pixel: 2, Width: 30, Height: 20}, Data: make([]float32, 600)}
	flat := &raster.Grid{Geometry: raster.Geometry{Pixel: 2, Width: 30, Height: 20}, Data: make([]float32, 600)}
	odd := &raster.Grid{Geometry: raster.Geometry{Pixel: 2, Width: 30, Height: 20}, Data: make([]float32, 600)}
	thin := &raster.Grid{Geometry: raster.Geometry{Pixel: 2, Width: 5000, Height: 1}, Data: make([]float32, 5000)}
	huge := &raster.Grid{Geometry: raster.Geometry{West: -5e7, North: 5e7, Pixel: 1e6, Width: 100, Height: 100}, Data: make([]float32, 10000)}
	for i := range none.Data {
		none.Data[i] = raster.NoData
		odd.Data[i] = float32(math.NaN())
	}
	odd.Data[3], odd.Data[4] = float32(math.Inf(1)), math.MaxFloat32
	odd.Data[5] = -math.MaxFloat32
	bent := plane.Shape{{orb.Ring{{0, 0}, {9, 9}, {9, 0}, {0, 9}, {0, 0}}}, {}, {orb.Ring{}}, {orb.Ring{{4, 4}}}}
	classes := []Class{{Mark: "a", From: 0, To: 1}, {Mark: "b", From: math.NaN()}, {From: 5, To: 2}}
	for name, m := range map[string]*Map{
		"one pixel":    {Grid: one},
		"no data":      {Grid: none, Outlines: []Outline{{Shape: ringShape(0, 0, 9, 0, 9, 9)}}},
		"all no data":  {Grid: none},
		"one value":    {Grid: flat, Unit: "x"},
		"odd values":   {Grid: odd},
		"lo is hi":     {Grid: flat, Lo: 4, Hi: 4},
		"lo above hi":  {Grid: flat, Lo: 5, Hi: 4},
		"no range":     {Grid: flat, Lo: math.NaN(), Hi: math.Inf(1)},
		"huge range":   {Grid: flat, Lo: -math.MaxFloat64, Hi: math.MaxFloat64},
		"narrow range": {Grid: flat, Lo: 1e9, Hi: 1e9 + 1e-6},
		"thin":         {Grid: thin},
		"huge":         {Grid: huge},
		"far apart":    {Points: []Point{{At: plane.XY{-1e8, -1e8}}, {At: plane.XY{1e8, 1e8}, Label: "9"}}},
		"one place":    {Points: []Point{{At: plane.XY{5, 5}, Label: "9"}}},
		"on a line":    {Points: []Point{{At: plane.XY{5, 5}}, {At: plane.XY{5, 500}}}, US: true},
		"bow tie":      {Outlines: []Outline{{Shape: bent, Label: "b"}, {Kind: Exclusion, Shape: bent, Label: "c"}}, Grid: one},
		"empty shape":  {Outlines: []Outline{{Label: "x"}}, Zones: []Zone{{}}, Classes: classes, Grid: one},
		"odd classes":  {Grid: flat, Classes: classes},
		"marks":        {Marks: Marks{Items: []Mark{{}, {Value: math.MaxFloat64}, {Value: -5e-324}}, Even: math.NaN()}},
		"odd ramp":     {Grid: one, Ramp: 99},
	} {
		t.Run(name, func(t *testing.T) {
			read(t, svgOf(t, m))
			var b bytes.Buffer
			if err := m.PNG(&b, 300); err != nil {
				t.Fatal(err)
			}
			decode(t, b.Bytes())
		})
	}
}

// Maps of random parts are drawn, with no values on each other.
func TestRandomMaps(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 3))
		size := math.Pow(10, 6*rng.Float64()-1)
		at := func() plane.XY { return plane.XY{size * rng.NormFloat64(), size * rng.Float64()} }
		shape := func() plane.Shape {
			var r orb.Ring
			for range 3 + rng.IntN(12) {
				r = append(r, orb.Point(at()))
			}
			return plane.Shape{orb.Polygon{append(r, r[0])}}
		}
		m := &Map{
			Title: strings.Repeat("title ", rng.IntN(30)), Ramp: raster.Ramps()[rng.IntN(3)], US: rng.IntN(2) == 0,
			Convergence: 10 * rng.NormFloat64(), Points: []Point{{At: at()}},
		}
		for i := range rng.IntN(8) {
			m.Classes = append(m.Classes, Class{Mark: string(rune('A' + i)), From: float64(i), To: float64(i + 1)})
			m.Zones = append(m.Zones, Zone{Shape: shape(), Class: rng.IntN(i + 1)})
		}
		for range rng.IntN(6) {
			m.Outlines = append(m.Outlines, Outline{Kind: Kind(rng.IntN(5)), Shape: shape(), Label: "L", Key: strings.Repeat("k", rng.IntN(40))})
		}
		for range rng.IntN(400) {
			m.Points = append(m.Points, Point{At: at(), Label: number(100*rng.NormFloat64(), rng.IntN(3))})
		}
		for range rng.IntN(40) {
			m.Marks.Items = append(m.Marks.Items, Mark{At: at(), Value: rng.NormFloat64(), Label: "1.5"})
		}
		if rng.IntN(3) > 0 {
			w, h := 1+rng.IntN(60), 1+rng.IntN(60)
			m.Grid = raster.New(raster.Geometry{West: -size, North: size, Pixel: 2 * size / float64(w), Width: w, Height: h})
			for i := range m.Grid.Data {
				if rng.IntN(5) > 0 {
					m.Grid.Data[i] = float32(8 * rng.Float64())
				}
			}
		}
		checkValues(t, m)
		_, count := read(t, svgOf(t, m))
		if count["circle"] < len(m.Points) {
			t.Errorf("seed %d: %d circles for %d points", seed, count["circle"], len(m.Points))
		}
		var b bytes.Buffer
		if err := m.PNG(&b, 250); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
	}
}
