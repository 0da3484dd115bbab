package zone

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"corewalk/geo/raster"
)

func TestClassify(t *testing.T) {
	g := &raster.Grid{Data: []float32{5.8, 5.9, 5.95, 6, 7, raster.NoData, float32(math.NaN()), -3}}
	for _, c := range []struct {
		limits []float64
		want   []int32
	}{
		{nil, []int32{0, 0, 0, 0, 0, -1, -1, 0}},
		{[]float64{5.9}, []int32{0, 1, 1, 1, 1, -1, -1, 0}},
		{[]float64{5.9, 6}, []int32{0, 1, 1, 2, 2, -1, -1, 0}},
		{[]float64{-3, 5.8, 7}, []int32{2, 2, 2, 2, 3, -1, -1, 1}},
	} {
		if got := Classify(g, c.limits); !slices.Equal(got, c.want) {
			t.Errorf("%v: %v, want %v", c.limits, got, c.want)
		}
	}
}

// TestClassifyManyLimits compares the two ways to find a class.
func TestClassifyManyLimits(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	g := &raster.Grid{Data: make([]float32, 1000)}
	var limits []float64
	for i := range 40 {
		limits = append(limits, float64(i)/10)
	}
	for i := range g.Data {
		g.Data[i] = float32(r.IntN(50)-5) / 10
	}
	got := Classify(g, limits)
	for i, v := range g.Data {
		want := int32(0)
		for _, l := range limits {
			if v >= float32(l) {
				want++
			}
		}
		if got[i] != want {
			t.Errorf("%g is in class %d, want %d", v, got[i], want)
		}
	}
}

func TestQuantiles(t *testing.T) {
	g := &raster.Grid{Geometry: raster.Geometry{Width: 12, Height: 1}, Data: []float32{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, raster.NoData, 99}}
	division := []int32{0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, -1}
	flat := &raster.Grid{Data: []float32{2, 2, 2, 2, 2, 5}}
	for _, c := range []struct {
		name     string
		g        *raster.Grid
		division []int32
		index, n int
		want     []float64
	}{
		// As R has them: quantile(1:10, c(0.25, 0.5, 0.75)), quantile(1:9, c(1, 2) / 3).
		{"all of the ground", g, division, -1, 4, []float64{3.25, 5.5, 7.75}},
		{"one division", g, division, 0, 3, []float64{1 + 8/3., 1 + 16/3.}},
		{"a single value", g, division, 1, 4, nil},
		{"one class", g, division, 0, 1, nil},
		{"equal ones", flat, make([]int32, 6), 0, 3, nil},
		{"equal ones below", &raster.Grid{Data: []float32{1, 5, 5, 5, 5}}, make([]int32, 5), 0, 4, []float64{5}},
		{"no ground", g, slices.Repeat([]int32{-1}, 12), -1, 4, nil},
	} {
		got, err := Quantiles(c.g, c.division, c.index, c.n)
		if err != nil || len(got) != len(c.want) {
			t.Errorf("%s: %v, %v, want %v", c.name, got, err, c.want)
			continue
		}
		for i := range got {
			if math.Abs(got[i]-c.want[i]) > 1e-12 {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
			}
		}
	}
	if _, err := Quantiles(g, division[:3], 0, 3); err == nil {
		t.Error("a map of three pixels is taken")
	}
	if _, err := Quantiles(g, division, 0, 0); err == nil {
		t.Error("no class at all is taken")
	}
}
