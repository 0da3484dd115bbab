package geo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/plane"
)

func random(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 7)) }

// site is a place with a frame, about which tests draw in metres.
type site struct {
	t     testing.TB
	frame Frame
	at    XY
}

func siteAt(t testing.TB, lon, lat float64) site {
	t.Helper()
	f, err := FrameAt(LonLat{lon, lat})
	if err != nil {
		t.Fatal(err)
	}
	at, err := f.XY(LonLat{lon, lat})
	if err != nil {
		t.Fatal(err)
	}
	return site{t, f, at}
}

// iowa is a flat place in zone 15.
func iowa(t testing.TB) site { return siteAt(t, -93.6, 42) }

// place returns the degrees of a place x, y metres from the site.
func (s site) place(x, y float64) LonLat {
	s.t.Helper()
	ll, err := s.frame.LonLat(XY{s.at[0] + x, s.at[1] + y})
	if err != nil {
		s.t.Fatal(err)
	}
	return ll
}

// ring returns a closed ring in degrees from x, y, x, y ... in metres.
func (s site) ring(flat ...float64) orb.Ring {
	s.t.Helper()
	var r orb.Ring
	for i := 0; i+1 < len(flat); i += 2 {
		r = append(r, orb.Point(s.place(flat[i], flat[i+1])))
	}
	return append(r, r[0])
}

func (s site) rect(x0, y0, x1, y1 float64) orb.Ring {
	s.t.Helper()
	return s.ring(x0, y0, x1, y0, x1, y1, x0, y1)
}

func shapeOf(rings ...orb.Ring) crs.LonLatShape { return crs.LonLatShape{orb.Polygon(rings)} }

// part is a named rectangle.
func (s site) part(name string, x0, y0, x1, y1 float64) Part {
	s.t.Helper()
	return Part{Name: name, Where: "file: " + name, Shape: shapeOf(s.rect(x0, y0, x1, y1))}
}

func mustMap(t testing.TB, o Outline) *Field {
	t.Helper()
	f, err := Map(o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func near(a, b, limit float64) bool { return math.Abs(a-b) <= limit }

// wobbly is a ring about the site whose radius wanders between half and all of
// r metres.
func (s site) wobbly(rnd *rand.Rand, x, y, r float64, n int) orb.Ring {
	s.t.Helper()
	var flat []float64
	for i := range n {
		at, a := r*(0.5+rnd.Float64()/2), 2*math.Pi*(float64(i)+0.9*rnd.Float64())/float64(n)
		flat = append(flat, x+at*math.Cos(a), y+at*math.Sin(a))
	}
	return s.ring(flat...)
}

// reads brings a shape in degrees into a frame, and fails unless it is valid as
// it is.
func reads(t *testing.T, f Frame, s crs.LonLatShape) plane.Shape {
	t.Helper()
	out, mended, err := f.Shape(s)
	if err != nil || mended.Crossing {
		t.Fatalf("not valid as written: %+v, %v", mended, err)
	}
	return out
}
