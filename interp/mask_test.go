package interp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

func square(w, s, side float64) plane.Shape {
	return plane.Shape{{orb.Ring{{w, s}, {w + side, s}, {w + side, s + side}, {w, s + side}, {w, s}}}}
}

func TestMask(t *testing.T) {
	frame, err := geo.FrameAt(geo.LonLat{9, 48})
	if err != nil {
		t.Fatal(err)
	}
	degrees := func(s plane.Shape) crs.LonLatShape {
		ll, err := frame.LonLatShape(s)
		if err != nil {
			t.Fatal(err)
		}
		return ll
	}
	const x, y = 500000, 5300000
	f, err := geo.Map(geo.Outline{
		Name: "f", Boundary: degrees(square(x, y, 100)),
		Exclusions: []geo.Part{{Name: "pond", Shape: degrees(square(x+40, y+40, 20))}},
		Management: []geo.Part{{Name: "west", Shape: degrees(square(x-50, y-50, 100))}},
		Problems:   []geo.Part{{Name: "sick", Shape: degrees(square(x+80, y+80, 20))}},
	})
	if err != nil {
		t.Fatal(err)
	}
	g, err := raster.Cover(f.Bound(), 10, f.Frame.EPSG())
	if err != nil {
		t.Fatal(err)
	}
	mask := Mask(f, g)
	at := func(dx, dy float64) string {
		col, row, ok := g.Cell(x+dx, y+dy)
		if !ok {
			t.Fatalf("%v, %v lies off the raster", dx, dy)
		}
		d := mask[row*g.Width+col]
		if d < 0 {
			return "none"
		}
		return f.Divisions[d].Name
	}
	for _, c := range []struct {
		dx, dy float64
		want   string
	}{{5, 5, "west"}, {45, 25, "west"}, {50, 50, "none"}, {75, 25, "rest"}, {25, 75, "rest"}, {95, 95, "sick"}, {75, 95, "rest"}} {
		if got := at(c.dx, c.dy); got != c.want {
			t.Errorf("at %v, %v: %s, want %s", c.dx, c.dy, got, c.want)
		}
	}
}

// rough returns a star-shaped ring about (x, y), its vertices on multiples of
// snap.
func rough(r *rand.Rand, x, y, radius, snap float64, vertices int) orb.Ring {
	var ring orb.Ring
	for i := range vertices {
		turn := 2 * math.Pi * float64(i) / float64(vertices)
		off := radius * (0.6 + 0.4*r.Float64())
		ring = append(ring, orb.Point{math.Round((x+off*math.Cos(turn))/snap) * snap, math.Round((y+off*math.Sin(turn))/snap) * snap})
	}
	return append(ring, ring[0])
}

// roughField has divisions with holes, islands in those, neighbours with a
// common edge, and level and upright edges; on the middles of pixels of 1 m if
// snap is 0.5.
func roughField(r *rand.Rand, x, y, radius, snap float64, vertices int) *geo.Field {
	whole := rough(r, x, y, radius, snap, vertices)
	hole, island := rough(r, x, y, radius/2, snap, vertices/2), rough(r, x, y, radius/4, snap, 7)
	w, s := math.Round(x)+0.5, math.Round(y)+0.5
	return &geo.Field{Divisions: []geo.Division{
		{Shape: plane.Shape{{whole, hole}}},
		{Shape: plane.Shape{{hole, island}}},
		{Shape: square(w-radius/8, s, 4)}, {Shape: square(w-radius/8+4, s, 4)},
		{Shape: plane.Shape{{rough(r, x+radius, y, radius/3, snap, 9)}, {rough(r, x-radius, y, radius/3, snap, 9)}}},
		{Shape: plane.Shape{{island}}},
		{},
	}}
}

func TestMaskIsWhereaboutsOfEveryPixel(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	divisions, edges := map[int32]int{}, 0
	for round := range 120 {
		x, y, snap := 0.0, 0.0, 0.5
		if round%2 == 1 {
			x, y, snap = 612345.678, 5432109.876, 1e-4
		}
		f := roughField(r, x, y, 32, snap, 5+r.IntN(200))
		g := raster.Geometry{West: math.Floor(x) - 48, North: math.Floor(y) + 40, Pixel: 1, Width: 96, Height: 80}
		switch round % 5 {
		case 3: // cuts the field
			g.West, g.North, g.Width, g.Height = g.West+30, g.North-20, 40, 30
		case 4: // off it
			g.West += 1000
		}
		if round%7 == 0 {
			g.Pixel, g.West = 0.77, g.West+0.123
		}
		w := f.NewWhereabouts()
		for i, d := range Mask(f, g) {
			x, y := g.Center(i%g.Width, i/g.Width)
			want := int32(w.Division(plane.XY{x, y}))
			if d != want {
				t.Fatalf("round %d: %d at %v, %v, want %d", round, d, x, y, want)
			}
			if _, off := w.Nearest(plane.XY{x + 1e-9, y + 1e-9}, 1); d < 0 && off < 1e-8 || d >= 0 && w.Division(plane.XY{x + 1e-9, y + 1e-9}) != int(d) {
				edges++
			}
			divisions[d]++
		}
	}
	for d := range int32(6) {
		if divisions[d] == 0 {
			t.Errorf("no pixel in division %d", d)
		}
	}
	if edges < 1000 {
		t.Errorf("only %d pixels have their middle on an edge", edges)
	}
}

// BenchmarkMask times a rough field of six divisions.
func BenchmarkMask(b *testing.B) {
	for _, side := range []int{161, 2000} {
		b.Run(fmt.Sprintf("pixels=%d", side*side), func(b *testing.B) {
			half := float64(side) / 2
			f := roughField(rand.New(rand.NewPCG(1, 1)), half, half, half, 1e-3, 2000)
			g := raster.Geometry{West: 0.123, North: float64(side) + 0.123, Pixel: 1, Width: side, Height: side}
			for b.Loop() {
				Mask(f, g)
			}
		})
	}
}

func TestSteps(t *testing.T) {
	g := raster.Geometry{West: 0, North: 20, Pixel: 10, Width: 4, Height: 2, EPSG: 32632}
	division := []int32{0, 0, 1, -1, 0, 0, 1, 1}
	units := []Unit{
		{Sample: Sample{ID: "a", At: plane.XY{5, 10}, Value: 0.5, Division: 0}, Number: 3, Shape: plane.Shape{{orb.Ring{{0, 0}, {10, 0}, {10, 20}, {0, 20}, {0, 0}}}}},
		// A second composite of the same unit: its ground has their mean.
		{Sample: Sample{ID: "a2", At: plane.XY{6, 11}, Value: 1.5, Division: 0}, Number: 3, Shape: plane.Shape{{orb.Ring{{0, 0}, {10, 0}, {10, 20}, {0, 20}, {0, 0}}}}},
		{Sample: Sample{ID: "b", At: plane.XY{25, 10}, Value: 2, Division: 1}, Number: 4, Shape: plane.Shape{{orb.Ring{{20, 0}, {40, 0}, {40, 20}, {20, 20}, {20, 0}}}}},
	}
	no := raster.NoData
	// The second column lies in no unit.
	want := []float32{1, no, 2, no, 1, no, 2, 2}
	for i, v := range Steps(g, division, units).Data {
		if v != want[i] {
			t.Errorf("pixel %d: %v, want %v", i, v, want[i])
		}
	}
	// Without shapes, the nearest of the division.
	points := []Unit{
		{Sample: Sample{At: plane.XY{0, 5}, Value: 1, Division: 0}}, {Sample: Sample{At: plane.XY{19, 5}, Value: 3, Division: 0}},
		{Sample: Sample{At: plane.XY{1, 5}, Value: 9, Division: 1}},
	}
	want = []float32{1, 3, 9, no, 1, 3, 9, 9}
	for i, v := range Steps(g, division, points).Data {
		if v != want[i] {
			t.Errorf("points, pixel %d: %v, want %v", i, v, want[i])
		}
	}
}
