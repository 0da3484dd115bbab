package raster

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"
)

// smooth returns a surface by inverse distance weighting from 60 samples over
// a round field, in two bands.
func smooth(side int) *Grid {
	g := New(Geometry{West: 432100, North: 4567890, Pixel: 2.5, Width: side, Height: side, EPSG: 32615})
	rng := rand.New(rand.NewPCG(1, 2))
	type sample struct{ x, y, v float64 }
	var samples []sample
	for range 60 {
		samples = append(samples, sample{float64(side) * rng.Float64(), float64(side) * rng.Float64(), 5.5 + 2*rng.Float64()})
	}
	further := New(g.Geometry).Data
	for i := range g.Data {
		x, y := float64(i%side), float64(i/side)
		if math.Hypot(x-float64(side)/2, y-float64(side)/2) > 0.48*float64(side) {
			continue
		}
		sum, weights := 0.0, 0.0
		for _, s := range samples {
			w := 1 / ((s.x-x)*(s.x-x) + (s.y-y)*(s.y-y) + 1e-9)
			sum, weights = sum+w*s.v, weights+w
		}
		g.Data[i], further[i] = float32(sum/weights), float32(1/math.Sqrt(weights))
	}
	g.More = []Band{{Name: "spread", Data: further}}
	return g
}

func BenchmarkWriteGeoTIFF(b *testing.B) {
	for _, side := range []int{160, 2000} {
		two := smooth(side)
		one := *two
		one.More = nil
		for _, g := range []*Grid{&one, two} {
			b.Run(fmt.Sprintf("n=%d/bands=%d", side*side, g.bandCount()), func(b *testing.B) {
				b.ReportAllocs()
				var size counter
				for b.Loop() {
					size = 0
					if err := WriteGeoTIFF(&size, g); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(size), "bytes/file")
			})
		}
	}
}

func BenchmarkReadGeoTIFF(b *testing.B) {
	for _, side := range []int{160, 2000} {
		file := encode(b, smooth(side))
		b.Run(fmt.Sprintf("n=%d/bands=2", side*side), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := decode(file); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkWriteASCII(b *testing.B) {
	g := smooth(160)
	b.ReportAllocs()
	for b.Loop() {
		if err := WriteASCII(io.Discard, g); err != nil {
			b.Fatal(err)
		}
	}
}

// counter counts what is written to it.
type counter int64

func (c *counter) Write(b []byte) (int, error) {
	*c += counter(len(b))
	return len(b), nil
}
