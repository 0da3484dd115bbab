package raster

import (
	"bytes"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// wavy returns a grid with hills, holes in it, and metadata that needs care.
func wavy(width, height int) *Grid {
	g := New(Geometry{West: 432100, North: 4567890, Pixel: 2.5, Width: width, Height: height, EPSG: 32615})
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range g.Data {
		x, y := float64(i%width), float64(i/width)
		if math.Hypot(x-40, y-30) > 20 {
			g.Data[i] = float32(6 + math.Sin(x/50)*math.Cos(y/70) + 0.01*rng.Float64())
		}
	}
	g.Name, g.Unit = "pH", "-log[H+] & <more>"
	g.Meta = map[string]string{
		"analyte": "pH <water> & \"salt\" 1:1",
		"lines":   "first\nsecond\tthird",
		"Name":    "Grünfeld ≥ 2 'north'",
		"quoted":  "&lt; stays &amp;",
	}
	return g
}

// withError returns the wavy grid with two further bands: one with holes of its
// own, and one without name, unit and values.
func withError(width, height int) *Grid {
	g := wavy(width, height)
	g.More = []Band{
		{Name: `standard error & "<more>" a=b:c`, Unit: "µS/cm", Data: slices.Clone(g.Data)},
		{Data: New(g.Geometry).Data},
	}
	for i, v := range g.Data {
		if v != NoData && i%5 != 0 {
			g.More[0].Data[i] = 0.3 - 0.01*v
		}
	}
	return g
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v within %g", what, got, want, tolerance)
	}
}

func wantError(t *testing.T, err error, part string) {
	t.Helper()
	if err == nil || !strings.Contains(err.Error(), part) {
		t.Errorf("got error %v, want one with %q", err, part)
	}
}

func TestCover(t *testing.T) {
	for _, c := range []struct {
		name  string
		bound [4]float64
		pixel float64
		want  Geometry
	}{
		{"snaps outwards", [4]float64{501, 1002, 519, 1008}, 5, Geometry{500, 1010, 5, 4, 2, 32615}},
		{"on the edges", [4]float64{500, 1000, 520, 1010}, 5, Geometry{500, 1010, 5, 4, 2, 32615}},
		{"inexact division", [4]float64{0.3, 0.3, 0.6, 0.7}, 0.1, Geometry{0.30000000000000004, 0.7000000000000001, 0.1, 3, 4, 32615}},
		{"negative", [4]float64{-7, -7, -1, 1}, 4, Geometry{-8, 4, 4, 2, 3, 32615}},
		{"a point", [4]float64{12, 12, 12, 12}, 10, Geometry{10, 20, 10, 1, 1, 32615}},
		{"a point on a corner", [4]float64{10, 10, 10, 10}, 10, Geometry{10, 20, 10, 1, 1, 32615}},
	} {
		got, err := Cover(c.bound, c.pixel, 32615)
		if err != nil || got != c.want {
			t.Errorf("%s: got %+v, %v, want %+v", c.name, got, err, c.want)
		}
	}
}

func TestCoverRefuses(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		bound [4]float64
		pixel float64
		epsg  int
		part  string
	}{
		{[4]float64{0, 0, 1, 1}, 0, 32615, "above 0"},
		{[4]float64{0, 0, 1, 1}, -1, 32615, "above 0"},
		{[4]float64{0, 0, 1, 1}, nan, 32615, "above 0"},
		{[4]float64{0, 0, 1, 1}, inf, 32615, "above 0"},
		{[4]float64{0, nan, 1, 1}, 1, 32615, "south edge"},
		{[4]float64{0, 0, inf, 1}, 1, 32615, "east edge"},
		{[4]float64{2, 0, 1, 1}, 1, 32615, "upside down"},
		{[4]float64{0, 0, 1, 1}, 1, 0, "EPSG:0"},
		{[4]float64{0, 0, 20000, 20000}, 1, 32615, "use a pixel of 2 m or more"},
		{[4]float64{0, 0, 1e300, 1}, 1e-300, 32615, "use a pixel of"},
		{[4]float64{1e17, 0, 1e17, 1}, 1, 32615, "too far from the origin"},
	} {
		_, err := Cover(c.bound, c.pixel, c.epsg)
		wantError(t, err, c.part)
	}
	if _, err := Cover([4]float64{0, 0, 20000, 20000}, 2, 32615); err != nil {
		t.Errorf("the pixel that was proposed does not work: %v", err)
	}
}

// Rasters of neighbours lie on the same lattice, and cover what they should.
func TestCoverLinesUp(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		pixel := []float64{0.1, 0.3, 1, 2.5, 7.62, 30.48}[rng.IntN(6)]
		w, s := 1e6*rng.Float64(), 1e7*rng.Float64()
		e, n := w+100*rng.Float64(), s+100*rng.Float64()
		g, err := Cover([4]float64{w, s, e, n}, pixel, 32615)
		if err != nil {
			t.Fatal(err)
		}
		if k := math.Round(g.West / pixel); k*pixel != g.West {
			t.Fatalf("west %v is no multiple of %v", g.West, pixel)
		}
		if k := math.Round(g.North / pixel); k*pixel != g.North {
			t.Fatalf("north %v is no multiple of %v", g.North, pixel)
		}
		slack := 2e-6 * pixel
		if g.West > w+slack || g.North < n-slack || g.West+float64(g.Width)*pixel < e-slack || g.North-float64(g.Height)*pixel > s+slack {
			t.Fatalf("%+v does not cover %v %v %v %v", g, w, s, e, n)
		}
		if g.West+pixel < w-slack || g.West+float64(g.Width-1)*pixel > e+slack {
			t.Fatalf("%+v is wider than %v to %v asks", g, w, e)
		}
	}
}

func TestCell(t *testing.T) {
	g := Geometry{West: 100, North: 200, Pixel: 10, Width: 3, Height: 2, EPSG: 32615}
	for _, c := range []struct {
		x, y     float64
		col, row int
		ok       bool
	}{
		{100, 200, 0, 0, true}, // west and north edges belong to the pixel
		{110, 190, 1, 1, true}, // an inner corner
		{129.9, 180.1, 2, 1, true},
		{130, 190, 0, 0, false}, // east edge of the raster
		{110, 180, 0, 0, false}, // south edge of the raster
		{99.9, 190, 0, 0, false},
		{110, 200.1, 0, 0, false},
		{math.NaN(), 190, 0, 0, false},
		{110, math.Inf(1), 0, 0, false},
		{1e300, 190, 0, 0, false},
	} {
		if col, row, ok := g.Cell(c.x, c.y); col != c.col || row != c.row || ok != c.ok {
			t.Errorf("Cell(%g, %g) = %d, %d, %v", c.x, c.y, col, row, ok)
		}
	}
	if _, _, ok := (Geometry{}).Cell(0, 0); ok {
		t.Error("an empty raster holds a point")
	}
	for row := range g.Height {
		for col := range g.Width {
			if c, r, ok := g.Cell(g.Center(col, row)); c != col || r != row || !ok {
				t.Errorf("middle of %d, %d lies in %d, %d", col, row, c, r)
			}
		}
	}
}

func TestNewAndAt(t *testing.T) {
	g := New(Geometry{Width: 3, Height: 2})
	g.Data[4] = 7
	for _, c := range []struct {
		col, row int
		want     float32
	}{{1, 1, 7}, {0, 0, NoData}, {-1, 1, NoData}, {3, 0, NoData}, {0, 2, NoData}, {0, -1, NoData}} {
		if got := g.At(c.col, c.row); got != c.want {
			t.Errorf("At(%d, %d) = %v, want %v", c.col, c.row, got, c.want)
		}
	}
	for _, geometry := range []Geometry{{}, {Width: -1, Height: 4}, {Width: math.MaxInt, Height: math.MaxInt}} {
		if g := New(geometry); len(g.Data) != 0 || g.At(0, 0) != NoData {
			t.Errorf("%+v: %d values", geometry, len(g.Data))
		}
	}
}

func TestStats(t *testing.T) {
	g := New(Geometry{Width: 4, Height: 2})
	if got := g.Stats(); got != (Stats{}) {
		t.Errorf("without values: %+v", got)
	}
	copy(g.Data, []float32{2, 4, 4, NoData, 6})
	want := Stats{Count: 4, Min: 2, Max: 6, Mean: 4, StdDev: math.Sqrt2}
	if got := g.Stats(); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if got := (Band{Data: g.Data}).Stats(); got != want {
		t.Errorf("of the band: got %+v, want %+v", got, want)
	}
	copy(g.Data, []float32{1e6 + 1, 1e6 + 2, 1e6 + 3, NoData, NoData})
	near(t, "spread far from zero", g.Stats().StdDev, math.Sqrt(2.0/3), 1e-12)
}

func TestPredictor(t *testing.T) {
	// Rows of two values, worked by hand: planes 40 41 | 49 30 | 0f 00 | db 00,
	// and the differences of those bytes. With two bands each byte has its
	// predecessor two places before.
	bits := []uint32{0x40490fdb, 0x41300000}
	got := make([]byte, 8)
	predict(got, []float32{math.Float32frombits(bits[0]), math.Float32frombits(bits[1])})
	want := []byte{0x40, 0x01, 0x08, 0xe7, 0xdf, 0xf1, 0xdb, 0x25}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got % x, want % x", got, want)
	}
	for bands, stored := range map[int][]byte{1: want, 2: {0x40, 0x41, 0x09, 0xef, 0xc6, 0xd0, 0xcc, 0x00}} {
		back := make([]uint32, 2)
		if unpredict(back, bytes.Clone(stored), bands); !reflect.DeepEqual(back, bits) {
			t.Errorf("%d bands: came back as %x", bands, back)
		}
	}
	// A row that does not fill its place repeats its last value.
	short, long := make([]byte, 20), make([]byte, 20)
	predict(short, []float32{1.5, 2.7})
	predict(long, []float32{1.5, 2.7, 2.7, 2.7, 2.7})
	if !reflect.DeepEqual(short, long) {
		t.Errorf("padded % x, repeated % x", short, long)
	}
}
