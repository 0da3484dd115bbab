//go:build reference

package geo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// TestReferenceInspectedArea inspects 500 fields of 0.1 to 5,000 ha at latitudes
// 0 to 65, north and south, some with a hole, and compares their areas with
// GeographicLib's.
func TestReferenceInspectedArea(t *testing.T) {
	type testCase struct {
		Mode  string     `json:"mode"`
		Rings []orb.Ring `json:"rings"`
	}
	r := rand.New(rand.NewPCG(5, 500))
	var cases []testCase
	var got []float64
	for n := range 500 {
		lon, lat := 360*r.Float64()-180, 130*r.Float64()-65
		lon = math.Max(-179.5, math.Min(179.5, lon))
		radius := math.Sqrt(1e3*math.Pow(5e4, r.Float64())) / 1.6
		ring := func(share float64) (out orb.Ring) {
			k := 3 + r.IntN(20)
			for i := range k {
				a, at := 2*math.Pi*(float64(i)+0.3*r.Float64())/float64(k), share*radius*(0.8+0.3*r.Float64())
				out = append(out, orb.Point{lon + at*math.Cos(a)/(111320*math.Cos(lat*math.Pi/180)), lat + at*math.Sin(a)/111200})
			}
			return append(out, out[0])
		}
		polygon := orb.Polygon{ring(1)}
		if n%5 == 0 {
			polygon = append(polygon, ring(0.2))
		}
		system, err := crs.FromEPSG(4326)
		if err != nil {
			t.Fatal(err)
		}
		in, err := Inspect(&vector.Layer{CRS: system, Features: []vector.Feature{{Index: 1, Shape: crs.LonLatShape{polygon}}}}, "")
		if err != nil {
			t.Fatal(err)
		}
		cases = append(cases, testCase{"area", polygon})
		got = append(got, in.AreaM2)
	}
	worst := 0.0
	for i, rings := range ask[testCase, []float64](t, cases) {
		want := rings[0]
		for _, hole := range rings[1:] {
			want -= hole
		}
		off := math.Abs(got[i]/want - 1)
		if off > 1e-6 {
			t.Errorf("field %d: %.4f m², GeographicLib %.4f", i, got[i], want)
		}
		worst = math.Max(worst, off)
	}
	t.Logf("500 fields, worst %.2g", worst)
}
