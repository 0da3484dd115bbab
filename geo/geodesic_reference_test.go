//go:build reference

package geo

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// ask runs testdata/geodesic.py on the cases and returns its answers.
func ask[Case, Answer any](t *testing.T, cases []Case) []Answer {
	t.Helper()
	var in bytes.Buffer
	for _, c := range cases {
		if err := json.NewEncoder(&in).Encode(c); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("/usr/bin/python3", "testdata/geodesic.py")
	cmd.Stdin, cmd.Stderr = &in, os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	d := json.NewDecoder(bytes.NewReader(out))
	answers := make([]Answer, len(cases))
	for i := range answers {
		if err := d.Decode(&answers[i]); err != nil {
			t.Fatalf("answer %d: %v", i, err)
		}
	}
	return answers
}

// bulge returns the area between the edges of a ring as geodesics and as
// straight lines of the frame. A geodesic is the way along which the sum of
// 1/k is least, so that in the frame it is bent by the slope of log k across
// it; the strip between it and its chord is L³/12 of that.
func bulge(f Frame, ring orb.Ring) float64 {
	var sum float64
	for i := 1; i < len(ring); i++ {
		a, b := XY(ring[i-1]), XY(ring[i])
		l := a.Distance(b)
		m := XY{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}
		ux, uy := (b[0]-a[0])/l, (b[1]-a[1])/l
		const h = 500
		right := math.Log(f.Scale(XY{m[0] + uy*h, m[1] - ux*h})/f.Scale(XY{m[0] - uy*h, m[1] + ux*h})) / (2 * h)
		sum += right * l * l * l / 12
	}
	return sum / (f.Scale(XY(ring[0])) * f.Scale(XY(ring[0])))
}

// Fields of 0.1 to 5000 ha from the equator to 65 degrees, anywhere in their
// zone, against areas by GeographicLib. With edges cut into short pieces, which
// makes them straight in the frame, the areas are the same; with geodesics
// between the corners they differ by what those bulge.
func TestReferenceAreaAgainstGeographicLib(t *testing.T) {
	type testCase struct {
		Mode  string     `json:"mode"`
		Rings []orb.Ring `json:"rings"`
	}
	rnd := rand.New(rand.NewPCG(70, 7))
	var cases []testCase
	var shapes []plane.Shape
	var frames []Frame
	for n := range 500 {
		lat := 65 * rnd.Float64()
		if n%3 == 0 {
			lat = -lat
		}
		f, err := FrameAt(LonLat{360*rnd.Float64() - 180, lat})
		if err != nil {
			t.Fatal(err)
		}
		area := 1e3 * math.Pow(5e4, rnd.Float64())
		r := math.Sqrt(area / 2)
		k := 3 + rnd.IntN(12)
		if n%4 == 0 {
			k = 4
		}
		lonZero := float64((f.EPSG()%100)*6 - 183)
		c, err := f.XY(LonLat{lonZero + 5.9*(rnd.Float64()-0.5), lat})
		if err != nil {
			t.Fatal(err)
		}
		var ring orb.Ring
		for i := range k {
			a, at := 2*math.Pi*(float64(i)+0.3*rnd.Float64())/float64(k), r*(0.8+0.4*rnd.Float64())
			ring = append(ring, orb.Point{c[0] + at*math.Cos(a), c[1] + at*math.Sin(a)})
		}
		ring = append(ring, ring[0])
		s := plane.Shape{{ring}}
		cases = append(cases, testCase{"area", []orb.Ring{degrees(t, f, ring, math.Inf(1)), degrees(t, f, ring, 50)}})
		shapes, frames = append(shapes, s), append(frames, f)
	}
	var worstStraight, worstGeodesic, worstSmall, worstExplained float64
	for i, want := range ask[testCase, []float64](t, cases) {
		got := frames[i].Area(shapes[i])
		// Planimeter of GeographicLib sums areas down to the equator, which
		// leaves about 1e-4 m² of rounding.
		off := func(got, want float64) float64 { return max(0, math.Abs(got-want)-1e-4) / want }
		straight, geodesic := off(got, want[1]), off(got, want[0])
		explained := off(got+bulge(frames[i], shapes[i][0][0]), want[0])
		if straight > 2e-9 {
			t.Errorf("field %d of %.2f ha: %.4f m², with straight edges %.4f", i, got/1e4, got, want[1])
		}
		if explained > 1e-8 {
			t.Errorf("field %d of %.2f ha: %.4f m², with geodesics %.4f: off by %.2g, where their bulge leaves %.2g", i, got/1e4, got, want[0], geodesic, explained)
		}
		worstStraight, worstExplained = math.Max(worstStraight, straight), math.Max(worstExplained, explained)
		worstGeodesic = math.Max(worstGeodesic, geodesic)
		if got < 100e4 {
			worstSmall = math.Max(worstSmall, geodesic)
		}
	}
	if worstSmall > 1e-6 || worstGeodesic > 2e-6 {
		t.Errorf("off by %.2g, under 100 ha by %.2g", worstGeodesic, worstSmall)
	}
	t.Logf("straight edges: off by at most %.2g; geodesics: %.2g, under 100 ha %.2g, less their bulge %.2g", worstStraight, worstGeodesic, worstSmall, worstExplained)
}

// degrees brings a ring to degrees, its edges cut into pieces no longer than
// step metres.
func degrees(t *testing.T, f Frame, ring orb.Ring, step float64) orb.Ring {
	t.Helper()
	var out orb.Ring
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		n := max(1, int(math.Ceil(XY(a).Distance(XY(b))/step)))
		for k := range n {
			s := float64(k) / float64(n)
			ll, err := f.LonLat(XY{a[0] + s*(b[0]-a[0]), a[1] + s*(b[1]-a[1])})
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, orb.Point(ll))
		}
	}
	return append(out, out[0])
}
