package interp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// stripes is a field of three divisions, with ground outside them.
func stripes(width, height int) []int32 {
	out := make([]int32, width*height)
	for i := range out {
		out[i] = int32(i%width*5/width) - 1 // -1 to 3
	}
	return out
}

func TestSurface(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var samples []Sample
	for i := range 90 {
		samples = append(samples, Sample{ID: fmt.Sprint(i), At: plane.XY{500000 + 200*r.Float64(), 5e6 - 150*r.Float64()}, Value: 4 + 4*r.Float64(), Division: r.IntN(3)})
	}
	g := raster.Geometry{West: 500000, North: 5e6, Pixel: 4, Width: 50, Height: 37, EPSG: 32632}
	division := stripes(g.Width, g.Height)
	// A sample at the middle of the pixel in column 20, row 9.
	x, y := g.Center(20, 9)
	samples = append(samples, Sample{ID: "middle", At: plane.XY{x, y}, Value: 12.5, Division: 1})
	for _, idw := range []IDW{{Power: 2, Near: 0}, {Power: 3.3, Near: 0}, {Power: 2, Near: 6}} {
		m := model(t, samples, idw)
		want, err := m.Surface(g, division, 1)
		if err != nil {
			t.Fatal(err)
		}
		for _, workers := range []int{0, 2, 3, 64} {
			got, err := m.Surface(g, division, workers)
			if err != nil || !slices.Equal(got.Data, want.Data) {
				t.Errorf("%v: %d workers give another surface (%v)", idw, workers, err)
			}
		}
		for i, v := range want.Data {
			x, y := g.Center(i%g.Width, i/g.Width)
			at, ok := m.At(plane.XY{x, y}, int(division[i]))
			if !ok {
				at = float64(raster.NoData)
			}
			if v != float32(at) || ok != (division[i] >= 0 && division[i] < 3) {
				t.Fatalf("%v: pixel %d holds %g, At gives %g, %v", idw, i, v, at, ok)
			}
		}
		if v := want.Data[9*g.Width+20]; v != 12.5 {
			t.Errorf("%v: %g at the sample of 12.5", idw, v)
		}
	}
}

func TestSurfaceKeepsValuesFromNoData(t *testing.T) {
	m := model(t, line(0, -9998, 2, -10000), IDW{Power: 2})
	s, err := m.Surface(raster.Geometry{West: 0.5, North: 0.5, Pixel: 1, Width: 1, Height: 1}, []int32{0}, 1)
	if err != nil || s.Data[0] == raster.NoData || math.Abs(float64(s.Data[0])+9999) > 0.01 {
		t.Errorf("%v, %v", s, err)
	}
}

func TestSurfaceRefused(t *testing.T) {
	m := model(t, line(0, 1), IDW{Power: 2})
	for _, c := range []struct {
		g    raster.Geometry
		n    int
		want string
	}{
		{raster.Geometry{Pixel: 1, Width: 2, Height: 2}, 3, "divisions are given for 3 pixels"},
		{raster.Geometry{Pixel: 1}, 0, "0 columns"},
		{raster.Geometry{Pixel: 1, Width: -1, Height: -1}, 1, "-1 columns"},
		{raster.Geometry{Pixel: 1, Width: math.MaxInt, Height: math.MaxInt}, 1, "divisions are given for 1 pixels"},
		{raster.Geometry{Pixel: 0, Width: 1, Height: 1}, 1, "not lie on the map"},
		{raster.Geometry{Pixel: math.Inf(1), Width: 1, Height: 1}, 1, "not lie on the map"},
		{raster.Geometry{Pixel: 1, West: math.NaN(), Width: 1, Height: 1}, 1, "not lie on the map"},
	} {
		if _, err := m.Surface(c.g, make([]int32, c.n), 1); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.g, err, c.want)
		}
	}
}
