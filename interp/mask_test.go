package interp

import (
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
