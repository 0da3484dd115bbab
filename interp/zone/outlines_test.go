package zone

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// classes reads classes of 10 m pixels; a dot has none.
func classes(rows ...string) (raster.Geometry, []int32) {
	g := picture(rows...)
	out := make([]int32, len(g.Data))
	for i, v := range g.Data {
		out[i] = int32(max(v, -1))
	}
	return g.Geometry, out
}

func TestOutlines(t *testing.T) {
	for _, c := range []struct {
		rows []string
		want string // class, area in pixels, vertices of each ring
	}{
		{[]string{"."}, ""},
		{[]string{"3"}, "3:1[4]"},
		{[]string{"11", "11"}, "1:4[4]"},
		{[]string{"12", "21"}, "1:1[4] 2:1[4] 2:1[4] 1:1[4]"},
		{[]string{"111", "121", "111"}, "1:8[4 4] 2:1[4]"},
		{[]string{"1111", "1211", "1121", "1111"}, "1:14[4 4 4] 2:1[4] 2:1[4]"},
		{[]string{"1112", "1212", "1121", "1111"}, "1:12[6 4 4] 2:2[4] 2:1[4] 2:1[4]"},
		{[]string{".1.", "111", ".1."}, "1:5[12]"},
		{[]string{"1..1", "1111"}, "1:6[8]"},
	} {
		g, class := classes(c.rows...)
		all, err := Outlines(g, class)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, o := range all {
			var n []int
			for _, r := range o.Polygon {
				n = append(n, len(r)-1)
			}
			got = append(got, fmt.Sprintf("%d:%g%v", o.Class, plane.Shape{o.Polygon}.Area()/100, n))
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%q: %s, want %s", c.rows, s, c.want)
		}
	}
}

// TestOutlinesAreZones compares outlines with the zones of ground all over the
// raster, which are found in another way.
func TestOutlinesAreZones(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 3))
		g := raster.Geometry{West: west, North: north, Pixel: 2, Width: 1 + r.IntN(40), Height: 1 + r.IntN(40)}
		class := make([]int32, g.Width*g.Height)
		for i := range class {
			class[i] = r.Int32N(2 + int32(seed%4))
		}
		ground := []Ground{{"all", box(0, 0, float64(2*g.Width), float64(2*g.Height))}}
		zones, err := Partition(g, class, ground, make([]int32, len(class)), Options{})
		if err != nil {
			t.Fatal(err)
		}
		outlines, err := Outlines(g, class)
		if err != nil {
			t.Fatal(err)
		}
		// A zone has vertices where another one's outline meets its own.
		plain := func(s orb.Polygon) orb.Polygon {
			var out orb.Polygon
			for _, ring := range s {
				var q orb.Ring
				n := len(ring) - 1
				for i := range n {
					a, b, c := ring[(i+n-1)%n], ring[i], ring[i+1]
					if (a[0] != b[0] || b[0] != c[0]) && (a[1] != b[1] || b[1] != c[1]) {
						q = append(q, b)
					}
				}
				out = append(out, append(q, q[0]))
			}
			return plane.Shape{out}.Canonical()[0]
		}
		var a, b plane.Shape
		for _, z := range zones.Zones {
			a = append(a, plain(z.Shape[0]))
		}
		sum := 0.0
		for _, o := range outlines {
			b = append(b, plain(o.Polygon))
			sum += plane.Shape{o.Polygon}.Area()
		}
		if !reflect.DeepEqual(a.Canonical(), b.Canonical()) || math.Abs(sum-ground[0].Shape.Area()) > 1e-6 {
			t.Fatalf("seed %d: %d zones, %d outlines of %g m2", seed, len(zones.Zones), len(outlines), sum)
		}
	}
}

func TestOutlinesRefused(t *testing.T) {
	if _, err := Outlines(raster.Geometry{Pixel: 1, Width: 2, Height: 2}, make([]int32, 3)); err == nil {
		t.Error("three classes for four pixels are taken")
	}
	if _, err := Outlines(raster.Geometry{Pixel: 1, Width: math.MaxInt, Height: 2}, nil); err == nil {
		t.Error("a raster beyond all bounds is taken")
	}
}

func BenchmarkOutlines(b *testing.B) {
	const n = 2000
	g := raster.Geometry{West: west, North: north, Pixel: 2, Width: n, Height: n}
	for _, kind := range []string{"smooth", "noise"} {
		r := rand.New(rand.NewPCG(5, 5))
		class := make([]int32, n*n)
		for px := range class {
			class[px] = int32(2.5 + 2.49*math.Sin(float64(px%n)/60)*math.Cos(float64(px/n)/75))
			if kind == "noise" {
				class[px] = r.Int32N(5)
			}
		}
		b.Run(kind, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Outlines(g, class); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
