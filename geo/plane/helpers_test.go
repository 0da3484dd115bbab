package plane

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
)

func random(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 7)) }

// ring closes a list of x, y, x, y ...
func ring(flat ...float64) orb.Ring {
	var r orb.Ring
	for i := 0; i+1 < len(flat); i += 2 {
		r = append(r, orb.Point{flat[i], flat[i+1]})
	}
	return append(r, r[0])
}

func rect(x0, y0, x1, y1 float64) orb.Ring { return ring(x0, y0, x1, y0, x1, y1, x0, y1) }

func reversed(r orb.Ring) orb.Ring {
	out := make(orb.Ring, 0, len(r))
	for i := len(r) - 1; i >= 0; i-- {
		out = append(out, r[i])
	}
	return out
}

// blob is a ring round a place whose radius wanders between half and all of r.
func blob(rnd *rand.Rand, x, y, r float64, n int) orb.Ring {
	var out orb.Ring
	for i := range n {
		at, angle := r*(0.5+rnd.Float64()/2), 2*math.Pi*(float64(i)+rnd.Float64()*0.9)/float64(n)
		out = append(out, orb.Point{x + at*math.Cos(angle), y + at*math.Sin(angle)})
	}
	return append(out, out[0])
}

// blobShape is a blob about a place in a UTM zone with a few holes.
func blobShape(rnd *rand.Rand, r float64) Shape {
	const x, y = 431_000, 4_651_000
	p := orb.Polygon{blob(rnd, x, y, r, 5+rnd.IntN(60))}
	for i := range rnd.IntN(4) {
		angle := float64(i) * math.Pi / 2
		p = append(p, reversed(blob(rnd, x+r*0.22*math.Cos(angle), y+r*0.22*math.Sin(angle), r*0.1, 3+rnd.IntN(20))))
	}
	// With few corners an edge may cut through a hole.
	if ok, _ := valid(Shape{p}); !ok {
		return blobShape(rnd, r)
	}
	return Shape{p}.Canonical()
}

func near(a, b, limit float64) bool { return math.Abs(a-b) <= limit }

// evenOddInside is the textbook test, without an index.
func evenOddInside(s Shape, p XY) bool {
	inside := false
	for _, polygon := range s {
		for _, r := range polygon {
			for i := 1; i < len(r); i++ {
				a, b := r[i-1], r[i]
				if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(b[0]-a[0])*(p[1]-a[1])/(b[1]-a[1]) {
					inside = !inside
				}
			}
		}
	}
	return inside
}

func bruteDistance(s Shape, p XY) float64 {
	least := math.Inf(1)
	s.edges(func(a, b XY) {
		for i := range 2001 {
			t := float64(i) / 2000
			least = min(least, p.Distance(XY{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}))
		}
	})
	return least
}

// checkWellFormed asks of a shape what its doc promises.
func checkWellFormed(t *testing.T, s Shape) {
	t.Helper()
	if s.Empty() {
		return
	}
	if err := toGeom(s).Validate(); err != nil {
		t.Errorf("not valid: %v", err)
	}
	if ok, err := valid(s); !ok || err != nil {
		t.Errorf("valid: %v, %v", ok, err)
	}
	for _, polygon := range s {
		for i, r := range polygon {
			if r[0] != r[len(r)-1] || (SignedArea(r) > 0) != (i == 0) {
				t.Errorf("ring %d is not closed or turns the wrong way", i)
			}
		}
	}
}
