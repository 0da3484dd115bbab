package zone

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// fieldOf makes a field of about 26,000 pixels in a raster of 182 by 182.
func benchGround(n, vertices int) (raster.Geometry, []Ground) {
	r := rand.New(rand.NewPCG(9, 9))
	g := raster.Geometry{West: west, North: north, Pixel: 5, Width: n, Height: n, EPSG: 32632}
	half := float64(n) * 5 / 2
	var ring orb.Ring
	for i := range vertices {
		a := 2 * math.Pi * float64(i) / float64(vertices)
		d := half * (1 - 0.05*r.Float64())
		ring = append(ring, orb.Point{west + half + d*math.Cos(a), north - half + d*math.Sin(a)})
	}
	return g, []Ground{{"all", plane.Shape{{append(ring, ring[0])}}}}
}

func BenchmarkPartition(b *testing.B) {
	const n = 190
	g, ground := benchGround(n, 300)
	grid := &raster.Grid{Geometry: g, Data: make([]float32, n*n)}
	division := divide(grid, ground)
	b.Run("grounds", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := NewGrounds(g, ground, division); err != nil {
				b.Fatal(err)
			}
		}
	})
	grounds, err := NewGrounds(g, ground, division)
	if err != nil {
		b.Fatal(err)
	}
	for _, kind := range []string{"waves", "noise"} {
		class := make([]int32, n*n)
		r := rand.New(rand.NewPCG(9, 9))
		for px := range class {
			class[px] = int32(2.5 + 2.49*math.Sin(float64(px%n)/20)*math.Cos(float64(px/n)/25))
			if kind == "noise" {
				class[px] = r.Int32N(5)
			}
		}
		for _, c := range []struct {
			name string
			opt  Options
		}{{"plain", Options{}}, {"smooth", Options{Smooth: 2}}, {"smallest", Options{Smallest: 1000, Smooth: 1}}, {"width", Options{Smallest: 1000, Smooth: 1, LeastWidth: 20}}} {
			b.Run(kind+"/"+c.name, func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := grounds.Partition(class, c.opt); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
