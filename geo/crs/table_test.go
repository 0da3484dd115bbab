package crs_test

import (
	"math"
	"strings"
	"testing"

	"corewalk/geo/crs"
)

func TestEveryCode(t *testing.T) {
	seen := map[int]bool{}
	for _, code := range crs.Codes() {
		s, err := crs.FromEPSG(code)
		if err != nil {
			t.Errorf("%d: %v", code, err)
			continue
		}
		if seen[code] || s.EPSG() != code || s.Name() == "" {
			t.Errorf("%d: twice in the table, or answers as %d %q", code, s.EPSG(), s.Name())
		}
		seen[code] = true
		if m, note := s.Accuracy(); (m == 0 && note == "") != (s.Base() == 4326) && !(m == 0 && s.Base() == 4758) || m < 0 || m > 5 {
			t.Errorf("%d: accuracy %g %q", code, m, note)
		}
		if name, metres := s.Unit(); name == "" || (metres == 0) != s.Geographic() {
			t.Errorf("%d: unit %q %g", code, name, metres)
		}
		// Its own .prj reads to the same system: the same numbers, and a code with
		// the same numbers.
		r, err := crs.FromWKT(s.WKT())
		if err != nil || r.EPSG() == 0 {
			t.Errorf("%d: its own text: %v: %s", code, err, s.WKT())
			continue
		}
		other, err := crs.FromEPSG(r.EPSG())
		if err != nil || other.WKT() != strings.Replace(s.WKT(), s.WKT()[:strings.Index(s.WKT(), ",")], other.WKT()[:strings.Index(other.WKT(), ",")], 1) {
			t.Errorf("%d: its own text reads as %d (%v):\n%s\n%s", code, r.EPSG(), err, s.WKT(), other.WKT())
		}
	}
	if len(seen) < 3000 {
		t.Errorf("%d systems in the table", len(seen))
	}
}

// The systems that fields are most likely to come in.
func TestCodesThatMustBeThere(t *testing.T) {
	codes := []int{
		4326, 4269, 4152, 4759, 6318, 4617, 4258, 4283, 7844, 6668, 4674, 4167, // geographic
		3857, 3395, 5070, 6350, 27700, 28992, 2154, 2157, 29902, 29903, 2193, 3035, 3174,
		31466, 31467, 31468, 31469,
		3417, 3418, 26975, 26976, 2915, 6466, 6467, 3725, // Iowa and others, metre and foot
		2222, 2223, 2224, 2256, 2838, 2992, // international foot
		2783, 2784, 26961, 26962, 3759, 3760, 6628, // Hawaii
	}
	for z := 1; z <= 60; z++ {
		codes = append(codes, 32600+z, 32700+z)
	}
	for z := 1; z <= 23; z++ {
		codes = append(codes, 26900+z)
	}
	for z := 28; z <= 37; z++ {
		codes = append(codes, 25800+z)
	}
	for z := 1; z <= 19; z++ {
		codes = append(codes, 6329+z) // NAD83(2011) UTM 1N to 19N are 6330 to 6348
	}
	for z := 49; z <= 56; z++ {
		codes = append(codes, 28300+z, 7800+z) // MGA on GDA94 and GDA2020
	}
	for z := 17; z <= 25; z++ {
		codes = append(codes, 31960+z)
	}
	for _, c := range codes {
		if _, err := crs.FromEPSG(c); err != nil {
			t.Error(err)
		}
	}
}

func TestRefusedCodes(t *testing.T) {
	for code, want := range map[int]string{
		26715: "NAD27", 4267: "NAD27", 32040: "NAD27", 23032: "ED50", 4230: "ED50",
		0: "EPSG:0", -1: "EPSG:-1", 5703: "EPSG:5703", 4978: "EPSG:4978", 1 << 40: "not a coordinate system",
	} {
		_, err := crs.FromEPSG(code)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "EPSG:4326") {
			t.Errorf("%d: %v", code, err)
		}
	}
}

func TestUTM(t *testing.T) {
	for z := 1; z <= 60; z++ {
		for _, south := range []bool{false, true} {
			s := crs.UTM(z, south)
			if s == nil {
				t.Fatal(z, south)
			}
			lat := 40.0
			if south {
				lat = -40
			}
			p := crs.LonLat{float64(6*z - 183), lat}
			x, _, err := s.Forward(p)
			if err != nil || math.Abs(x-500000) > 1e-6 || math.Abs(s.Scale(p)-0.9996) > 1e-12 {
				t.Errorf("zone %d: %g (%v), scale %g", z, x, err, s.Scale(p))
			}
			if m, note := s.Accuracy(); m != 0 || note != "" {
				t.Errorf("zone %d: accuracy %g %q", z, m, note)
			}
		}
	}
	if crs.UTM(0, false) != nil || crs.UTM(61, true) != nil {
		t.Error("zones 0 and 61 exist")
	}
	for _, c := range []struct {
		p     crs.LonLat
		zone  int
		south bool
	}{
		{crs.LonLat{-180, 0}, 1, false}, {crs.LonLat{180, 0}, 60, false}, {crs.LonLat{-96, 1}, 15, false},
		{crs.LonLat{-96.0000001, 1}, 14, false}, {crs.LonLat{0, -1e-9}, 31, true}, {crs.LonLat{5, 60}, 31, false},
		{crs.LonLat{math.NaN(), math.NaN()}, 1, false}, {crs.LonLat{math.Inf(1), 0}, 60, false},
	} {
		if z, s := crs.UTMZone(c.p); z != c.zone || s != c.south {
			t.Errorf("%v: zone %d, %v", c.p, z, s)
		}
	}
}

// Areas on the ellipsoid rest on these radii: the length of the meridian
// quadrant of WGS 84 is 10 001 965.729 m (from memory), and M = N
// at the poles.
func TestRadii(t *testing.T) {
	e := crs.WGS84()
	const n = 9000
	sum := 0.0
	for i := range n { // midpoint rule, exact to far below a millimetre for a periodic function
		sum += e.M(90*(float64(i)+0.5)/n) * math.Pi / 2 / n
	}
	if math.Abs(sum-10001965.729) > 0.001 {
		t.Errorf("quadrant %.4f", sum)
	}
	if math.Abs(e.M(90)-e.N(90)) > 1e-6 || math.Abs(e.N(0)-6378137) > 1e-9 || math.Abs(e.E2()-0.00669437999014) > 1e-14 {
		t.Errorf("%f %f %f %.17f", e.M(90), e.N(90), e.N(0), e.E2())
	}
}

func TestAccuracy(t *testing.T) {
	for _, c := range []struct {
		code   int
		metres float64
		note   string
	}{
		{4326, 0, ""}, {3857, 0, ""},
		{26915, 4, "NAD83 taken as WGS 84"},
		{6345, 2, "NAD83(2011) taken as WGS 84"},
		{25832, 1, "ETRS89 taken as WGS 84"},
		{27700, 2, "OSGB36 carried to WGS 84 by EPSG transformation 1314"},
		{28992, 1, "Amersfoort carried to WGS 84 by EPSG transformation 4833"},
	} {
		s, err := crs.FromEPSG(c.code)
		if err != nil {
			t.Fatal(err)
		}
		if m, note := s.Accuracy(); m != c.metres || note != c.note {
			t.Errorf("%d: %g %q", c.code, m, note)
		}
	}
}

// The worked point of the national grid taken for WGS 84, with the rounded
// constants of the example (see TestPublishedExamples): boost geometry pull request 1014
// gives 577393.39, 69673.61. PROJ is the check of the last digits.
func TestDatumShift(t *testing.T) {
	s, err := crs.FromEPSG(27700)
	if err != nil {
		t.Fatal(err)
	}
	p := crs.LonLat{0.5, 50.5}
	x, y, err := s.Forward(p)
	if err != nil || math.Hypot(x-577393.39, y-69673.61) > 0.03 {
		t.Errorf("%.3f, %.3f (%v)", x, y, err)
	}
	q, err := s.Inverse(x, y)
	if err != nil || math.Abs(q[0]-p[0]) > 1e-12 || math.Abs(q[1]-p[1]) > 1e-12 {
		t.Errorf("%.14f (%v)", q, err)
	}
}
