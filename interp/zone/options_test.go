package zone

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"reflect"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// list writes zones: class, division, area, vertices and rings.
func list(z Zones) string {
	var b strings.Builder
	for _, z := range z.Zones {
		fmt.Fprintf(&b, "%d/%d %.2f %d,%d of %d; ", z.Class, z.Division, z.Area, z.Shape.Vertices(), len(z.Shape[0]), len(z.Pixels))
	}
	fmt.Fprintf(&b, "merged %d of %.2f, small %d, narrow %d", z.Merged, z.MergedArea, z.Small, z.Narrow)
	return b.String()
}

func TestPartitionTable(t *testing.T) {
	for _, c := range []struct {
		name   string
		rows   []string
		ground []Ground // nil: all of the raster
		opt    Options
		want   string
	}{
		{"constant", []string{"222", "222"}, nil, Options{},
			"2/0 600.00 4,1 of 6; merged 0 of 0.00, small 0, narrow 0"},
		{"constant, in two parts of one division and another division", []string{"2222"}, []Ground{{"two", append(box(0, 0, 14, 10), box(21, 0, 30, 10)...)}, {"one", box(30, 0, 40, 10)}}, Options{Smooth: 3},
			"2/0 140.00 4,1 of 1; 2/0 90.00 4,1 of 1; 2/1 100.00 4,1 of 1; merged 0 of 0.00, small 0, narrow 0"},
		{"without values", []string{"...", "..."}, nil, Options{Smallest: 10, LeastWidth: 5},
			"-1/0 600.00 4,1 of 6; merged 0 of 0.00, small 0, narrow 0"},
		{"some without", []string{"1.2"}, nil, Options{},
			"-1/0 100.00 4,1 of 1; 1/0 100.00 4,1 of 1; 2/0 100.00 4,1 of 1; merged 0 of 0.00, small 0, narrow 0"},
		{"a vertex where three meet", []string{"11", "23"}, nil, Options{},
			"1/0 200.00 5,1 of 2; 2/0 100.00 4,1 of 1; 3/0 100.00 4,1 of 1; merged 0 of 0.00, small 0, narrow 0"},
		{"a vertex on an edge that divisions share", []string{"12", "33"}, []Ground{{"n", box(0, 0, 20, 10)}, {"s", box(0, 10, 20, 20)}}, Options{},
			"1/0 100.00 4,1 of 1; 2/0 100.00 4,1 of 1; 3/1 200.00 5,1 of 2; merged 0 of 0.00, small 0, narrow 0"},
		{"a small one, to the longest line", []string{"11333", "12333", "11333"}, nil, Options{Smallest: 150},
			"1/0 600.00 4,1 of 6; 3/0 900.00 4,1 of 9; merged 1 of 100.00, small 0, narrow 0"},
		{"a small one, to the larger of two", []string{"1123333"}, nil, Options{Smallest: 150},
			"1/0 200.00 4,1 of 2; 3/0 500.00 4,1 of 5; merged 1 of 100.00, small 0, narrow 0"},
		{"a small one, to the western of two", []string{"33211"}, nil, Options{Smallest: 150},
			"1/0 200.00 4,1 of 2; 3/0 300.00 4,1 of 3; merged 1 of 100.00, small 0, narrow 0"},
		{"a small one that held two apart", []string{"121", "333"}, nil, Options{Smallest: 150},
			"3/0 600.00 4,1 of 6; merged 3 of 300.00, small 0, narrow 0"},
		{"a ring filled", []string{"111", "121", "111"}, nil, Options{Smallest: 150},
			"1/0 900.00 4,1 of 9; merged 1 of 100.00, small 0, narrow 0"},
		{"all of a division small", []string{"1122"}, []Ground{{"w", box(0, 0, 20, 10)}, {"e", box(20, 0, 40, 10)}}, Options{Smallest: 250},
			"1/0 200.00 4,1 of 2; 2/1 200.00 4,1 of 2; merged 0 of 0.00, small 2, narrow 0"},
		{"smallest is met", []string{"1122"}, nil, Options{Smallest: 200},
			"1/0 200.00 4,1 of 2; 2/0 200.00 4,1 of 2; merged 0 of 0.00, small 0, narrow 0"},
		{"no wider than it is", []string{"1111", "1111", "2222", "2222", "1111", "1111"}, nil, Options{LeastWidth: 20},
			"1/0 800.00 4,1 of 8; 1/0 800.00 4,1 of 8; 2/0 800.00 4,1 of 8; merged 0 of 0.00, small 0, narrow 0"},
		{"a strip too narrow", []string{"1111", "1111", "2222", "1111", "1111"}, nil, Options{LeastWidth: 12},
			"1/0 2000.00 4,1 of 20; merged 0 of 0.00, small 0, narrow 0"},
		{"a tail too narrow", []string{"222111", "222222", "222111"}, nil, Options{LeastWidth: 15},
			// The tail goes to the nearest that is wide enough.
			"2/0 1800.00 4,1 of 18; merged 0 of 0.00, small 0, narrow 0"},
		{"no room at all", []string{"1122", "1112"}, nil, Options{LeastWidth: 25},
			"1/0 800.00 4,1 of 8; merged 0 of 0.00, small 0, narrow 1"},
		{"no ground", []string{"12"}, []Ground{{}}, Options{}, "merged 0 of 0.00, small 0, narrow 0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			g, class := classes(c.rows...)
			ground := c.ground
			if ground == nil {
				ground = []Ground{{"all", box(0, 0, float64(10*g.Width), float64(10*g.Height))}}
			}
			division := divide(&raster.Grid{Geometry: g, Data: make([]float32, len(class))}, ground)
			z, err := Partition(g, class, ground, division, c.opt)
			if err != nil {
				t.Fatal(err)
			}
			if got := list(z); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
			whole(t, ground, z.Zones)
		})
	}
}

// TestOutlineStays has ground of one class with an outline far off the pixels:
// its zone is the ground, bit for bit.
func TestOutlineStays(t *testing.T) {
	for seed := range uint64(50) {
		g, class, ground, division, _ := zoneCase(t, seed)
		clear(class)
		z, err := Partition(g, class, ground[len(ground)-1:], only(division, int32(len(ground)-1)), Options{Smooth: 2})
		if err != nil {
			t.Fatal(err)
		}
		var got plane.Shape
		for _, zone := range z.Zones {
			got = append(got, zone.Shape...)
		}
		if want := ground[len(ground)-1].Shape.Canonical(); !reflect.DeepEqual(got.Canonical(), want) {
			t.Errorf("seed %d: %v\nis drawn %v", seed, want, got.Canonical())
		}
	}
}

// only leaves the pixels of one division, as division 0.
func only(division []int32, index int32) []int32 {
	out := make([]int32, len(division))
	for i, d := range division {
		out[i] = -1
		if d == index {
			out[i] = 0
		}
	}
	return out
}

// TestSmooth draws a staircase: cut corners make a straight line of it.
func TestSmooth(t *testing.T) {
	g, class := classes("111112", "111122", "111222", "112222", "122222", "222222")
	ground := []Ground{{"all", box(0, 0, 60, 60)}}
	division := make([]int32, 36)
	vertices := 0
	for smooth, want := range []int{12, 9} {
		z, err := Partition(g, class, ground, division, Options{Smooth: smooth})
		if err != nil {
			t.Fatal(err)
		}
		whole(t, ground, z.Zones)
		if n := z.Zones[0].Shape.Vertices(); n != want {
			t.Errorf("smooth %d: %d vertices, want %d: %v", smooth, n, want, z.Zones[0].Shape)
		}
	}
	for smooth := 1; smooth <= 16; smooth++ {
		z, err := Partition(g, class, ground, division, Options{Smooth: smooth})
		if err != nil {
			t.Fatal(err)
		}
		whole(t, ground, z.Zones)
		n := z.Zones[0].Shape.Vertices()
		if n <= vertices {
			t.Errorf("smooth %d: %d vertices, no more than with less", smooth, n)
		}
		vertices = n
	}
}

// TestRoom checks the width of zones on their polygons.
func TestRoom(t *testing.T) {
	wide, narrow := 0, 0
	for seed := range uint64(60) {
		g, class, ground, division, opt := zoneCase(t, seed)
		r := rand.New(rand.NewPCG(seed, 12))
		opt.LeastWidth = (1 + 5*r.Float64()) * g.Pixel
		z, err := Partition(g, class, ground, division, opt)
		if err != nil {
			t.Fatal(err)
		}
		without := 0
		for _, zone := range z.Zones {
			s, err := plane.Buffer(zone.Shape, -0.499*opt.LeastWidth)
			if err != nil {
				t.Fatal(err)
			}
			if s.Empty() {
				without++
			} else {
				wide++
			}
		}
		if without > z.Narrow {
			t.Errorf("seed %d: %d zones have no room for %.2f m, said to be %d", seed, without, opt.LeastWidth, z.Narrow)
		}
		narrow += without
	}
	if wide < 100 || narrow == 0 {
		t.Errorf("only %d wide zones, and %d narrow ones", wide, narrow)
	}
}

// TestDistances compares the squares of distances with those found one by one.
func TestDistances(t *testing.T) {
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 4))
		g := &Grounds{frame: frame{Geometry: raster.Geometry{Width: 1 + r.IntN(12), Height: 1 + r.IntN(12)}}}
		wide, high := 2*g.frame.Width+1, 2*g.frame.Height+1
		d := g.places()
		var zeros [][2]int
		for i := range d {
			d[i] = far
			if r.IntN(20) == 0 {
				d[i] = 0
				zeros = append(zeros, [2]int{i % wide, i / wide})
			}
		}
		most := []int32{far, int32(1 + r.IntN(30))}[r.IntN(2)]
		g.spreadDistances(d, most)
		for y := range high {
			for x := range wide {
				least := far
				for _, z := range zeros {
					least = min(least, (x-z[0])*(x-z[0])+(y-z[1])*(y-z[1]))
				}
				if got := d[y*wide+x]; got != int32(least) && (int32(least) < most || got < most) {
					t.Fatalf("seed %d: %d at %d, %d, want %d; most %d", seed, got, x, y, least, most)
				}
			}
		}
	}
}

func TestPartitionRefused(t *testing.T) {
	g, class := classes("12", "21")
	ground := []Ground{{"all", box(0, 0, 20, 20)}}
	division := make([]int32, 4)
	for want, try := range map[string]func() error{
		"classes are given for 3": func() error { _, err := Partition(g, class[:3], ground, division, Options{}); return err },
		"row 1, column 0 of the surface: -2 is no class": func() error {
			_, err := Partition(g, []int32{0, 0, -2, 0}, ground, division, Options{})
			return err
		},
		"least width of -1 m": func() error { _, err := Partition(g, class, ground, division, Options{LeastWidth: -1}); return err },
		"least width of NaN m": func() error {
			_, err := Partition(g, class, ground, division, Options{LeastWidth: math.NaN()})
			return err
		},
		"17 chords": func() error { _, err := Partition(g, class, ground, division, Options{Smooth: 17}); return err },
		`ground "knot": its outline crosses itself`: func() error {
			knot := plane.Shape{{{{west + 1, north - 1}, {west + 19, north - 12}, {west + 1, north - 12}, {west + 19, north - 1}, {west + 1, north - 1}}}}
			_, err := Partition(g, class, []Ground{{"knot", knot}}, division, Options{})
			return err
		},
		"does not lie on the map": func() error {
			_, err := Partition(raster.Geometry{West: 1e300, Pixel: 1, Width: 2, Height: 2}, class, ground, division, Options{})
			return err
		},
		"empty or too large": func() error {
			_, err := Partition(raster.Geometry{Pixel: 1, Width: math.MaxInt, Height: math.MaxInt}, nil, nil, nil, Options{})
			return err
		},
	} {
		if err := try(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// TestBadOutlines has rings that no shape of plane has: an answer or an error,
// but no more.
func TestBadOutlines(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	g, class := classes("1221", "2112", "1122", "2211")
	refused := 0
	for range 3000 {
		var ring orb.Ring
		for range r.IntN(9) {
			ring = append(ring, orb.Point{west + float64(r.IntN(9))*5, north - float64(r.IntN(9))*5})
		}
		if len(ring) > 0 {
			ring = append(ring, ring[0])
		}
		ground := []Ground{{"odd", plane.Shape{{ring}}}, {"none", plane.Shape{{}}}}
		division := divide(&raster.Grid{Geometry: g, Data: make([]float32, 16)}, ground[:1])
		if _, err := Partition(g, class, ground, division, Options{Smooth: 1, Smallest: 30, LeastWidth: 3}); err != nil {
			refused++
		}
	}
	if refused == 0 || refused == 3000 {
		t.Errorf("%d of 3000 are refused", refused)
	}
}

func TestGroundsByMany(t *testing.T) {
	g, class, ground, division, opt := zoneCase(t, 31)
	grounds, err := NewGrounds(g, ground, division)
	if err != nil {
		t.Fatal(err)
	}
	want, err := grounds.Partition(class, opt)
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			if got, err := grounds.Partition(class, opt); err != nil || !reflect.DeepEqual(got, want) {
				t.Errorf("other zones (%v)", err)
			}
		})
	}
	all.Wait()
}
