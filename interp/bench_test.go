package interp

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// invented returns n samples with random figures at random places of a square
// whose south-west corner is at 0, 0.
func invented(n int, side float64, seed uint64) []Sample {
	r := rand.New(rand.NewPCG(seed, 0))
	samples := make([]Sample, n)
	for i := range samples {
		samples[i] = Sample{ID: fmt.Sprint(i), At: plane.XY{r.Float64() * side, r.Float64() * side}, Value: 5 + 3*r.Float64()}
	}
	return samples
}

// BenchmarkSurface times a field of 1,000 places and 4 million pixels, and one
// of 100 places and 26,000 pixels; neither has ground without a value.
func BenchmarkSurface(b *testing.B) {
	for _, size := range []struct{ places, side int }{{1000, 2000}, {100, 161}} {
		for _, idw := range []IDW{{Power: 2, Near: 12}, {Power: 1, Near: 12}, {Power: 2.5, Near: 12}, {Power: 2, Near: 12, Radius: 200}, {Power: 2}, {Power: 3}} {
			for _, workers := range []int{1, 0} {
				b.Run(fmt.Sprintf("places=%d/pixels=%d/power=%g/near=%d/radius=%g/workers=%d", size.places, size.side*size.side, idw.Power, idw.Near, idw.Radius, workers), func(b *testing.B) {
					m := model(b, invented(size.places, float64(size.side), 1), idw)
					g := raster.Geometry{North: float64(size.side), Pixel: 1, Width: size.side, Height: size.side}
					division := make([]int32, g.Width*g.Height)
					b.ReportAllocs()
					for b.Loop() {
						if _, err := m.Surface(g, division, workers); err != nil {
							b.Fatal(err)
						}
					}
				})
			}
		}
	}
}

// BenchmarkSurfaceAll times eight analytes of the same places, in one call and
// one by one.
func BenchmarkSurfaceAll(b *testing.B) {
	const side = 161
	g := raster.Geometry{North: side, Pixel: 1, Width: side, Height: side}
	division := make([]int32, g.Width*g.Height)
	for _, idw := range []IDW{{Power: 2}, {Power: 2, Near: 12}} {
		var models []*Model
		for range 8 {
			models = append(models, model(b, invented(100, side, 1), idw))
		}
		for _, at := range []int{8, 1} {
			b.Run(fmt.Sprintf("near=%d/at=%d", idw.Near, at), func(b *testing.B) {
				for b.Loop() {
					for some := range slices.Chunk(models, at) {
						if _, err := SurfaceAll(some, g, division, 1); err != nil {
							b.Fatal(err)
						}
					}
				}
			})
		}
	}
}
