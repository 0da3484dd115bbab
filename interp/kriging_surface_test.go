package interp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/interp/variogram"
)

func TestKrigingSurface(t *testing.T) {
	r := rand.New(rand.NewPCG(33, 34))
	g := raster.Geometry{West: 500000, North: 5e6 + 400, Pixel: 11, Width: 53, Height: 37, EPSG: 32632}
	division := make([]int32, g.Width*g.Height)
	for i := range division {
		division[i] = int32(i%g.Width*5/g.Width) - 1 // -1 to 3
	}
	samples, v := field(r, 90, 3)
	x, y := g.Center(20, 9)
	samples = append(samples, Sample{ID: "middle", At: plane.XY{x, y}, Value: 12.5, Division: int(division[9*g.Width+20])})
	for _, k := range []Kriging{{Variogram: v}, {Variogram: v, Near: 6}, {Variogram: v, Radius: 40}, {Variogram: v, Near: 3, Radius: 60}} {
		m := kriging(t, samples, k)
		want, err := m.Surface(g, division, 1)
		if err != nil || len(want.More) != 1 || want.More[0].Name != StandardError {
			t.Fatal(err)
		}
		for _, workers := range []int{0, 2, 64} {
			got, err := m.Surface(g, division, workers)
			if err != nil || !slices.Equal(got.Data, want.Data) || !slices.Equal(got.More[0].Data, want.More[0].Data) {
				t.Errorf("%+v: %d workers give another surface (%v)", k, workers, err)
			}
		}
		for i, got := range want.Data {
			x, y := g.Center(i%g.Width, i/g.Width)
			at, e, ok := m.AtWithError(plane.XY{x, y}, int(division[i]))
			if !ok {
				at, e = float64(raster.NoData), float64(raster.NoData)
			}
			if got != float32(at) || want.More[0].Data[i] != float32(e) {
				t.Fatalf("%+v: pixel %d holds %g, %g; AtWithError gives %g, %g", k, i, got, want.More[0].Data[i], at, e)
			}
		}
		if i := 9*g.Width + 20; want.Data[i] != 12.5 || want.More[0].Data[i] != 0 {
			t.Errorf("%+v: %g, error %g at the sample of 12.5", k, want.Data[i], want.More[0].Data[i])
		}
	}
	m := kriging(t, seven(), Kriging{Variogram: v})
	for _, c := range []struct {
		g    raster.Geometry
		n    int
		want string
	}{
		{raster.Geometry{Pixel: 1, Width: 2, Height: 2}, 3, "divisions are given for 3 pixels"},
		{raster.Geometry{Pixel: 1, Width: math.MaxInt, Height: math.MaxInt}, 1, "divisions are given for 1 pixels"},
		{raster.Geometry{Pixel: 0, Width: 1, Height: 1}, 1, "not lie on the map"},
		{raster.Geometry{Pixel: 1, West: math.NaN(), Width: 1, Height: 1}, 1, "not lie on the map"},
	} {
		if _, err := m.Surface(c.g, make([]int32, c.n), 1); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.g, err, c.want)
		}
	}
	if figure(-9999) == raster.NoData || math.Abs(float64(figure(-9999))+9999) > 0.01 {
		t.Errorf("a figure of -9999 is %v", figure(-9999))
	}
}

func BenchmarkKrigingSurface(b *testing.B) {
	r := rand.New(rand.NewPCG(37, 38))
	samples, v := field(r, 100, 1)
	v.Kind, v.Ratio, v.Azimuth = variogram.Spherical, 0, 0
	g := raster.Geometry{West: 500000, North: 5e6 + 400, Pixel: 3, Width: 200, Height: 130}
	division := make([]int32, g.Width*g.Height)
	for _, kind := range variogram.Kinds() {
		for _, near := range []int{0, 16} {
			b.Run(fmt.Sprintf("%s/near=%d", kind, near), func(b *testing.B) {
				v := v
				v.Kind = kind
				m := kriging(b, samples, Kriging{Variogram: v, Near: near})
				b.ReportAllocs()
				for b.Loop() {
					if _, err := m.Surface(g, division, 1); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

func BenchmarkKrigingPrepare(b *testing.B) {
	r := rand.New(rand.NewPCG(39, 40))
	for _, n := range []int{100, 400, 1500} {
		samples, v := field(r, n, 1)
		b.Run(fmt.Sprintf("n=%d", n), func(b *testing.B) {
			for b.Loop() {
				kriging(b, samples, Kriging{Variogram: v}).CrossValidate()
			}
		})
	}
}

// TestKrigingTogether: one model in several goroutines says the same.
func TestKrigingTogether(t *testing.T) {
	samples, v := field(rand.New(rand.NewPCG(43, 44)), 60, 2)
	for _, near := range []int{0, 7} {
		m := kriging(t, samples, Kriging{Variogram: v, Near: near})
		p := plane.XY{500123, 5000123}
		value, e, _ := m.AtWithError(p, 1)
		rmse := m.CrossValidate().RMSE
		var done sync.WaitGroup
		for range 8 {
			done.Go(func() {
				gotValue, gotError, _ := m.AtWithError(p, 1)
				if gotValue != value || gotError != e || m.CrossValidate().RMSE != rmse {
					t.Errorf("near %d: another answer", near)
				}
			})
		}
		done.Wait()
	}
}
