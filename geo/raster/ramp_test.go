package raster

import (
	"image/color"
	"math"
	"testing"
)

// linear returns the linear sRGB light of a colour, from 0 to 1.
func linear(c color.NRGBA) [3]float64 {
	var out [3]float64
	for i, b := range [3]uint8{c.R, c.G, c.B} {
		v := float64(b) / 255
		if v <= 0.04045 {
			out[i] = v / 12.92
		} else {
			out[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return out
}

// lab returns CIELAB of linear sRGB with the white of D65 (CIE 15:2004; the
// matrix is that of IEC 61966-2-1).
func lab(rgb [3]float64) [3]float64 {
	f := func(v float64) float64 {
		if v > 216.0/24389 {
			return math.Cbrt(v)
		}
		return (24389.0/27*v + 16) / 116
	}
	x := f((0.4124*rgb[0] + 0.3576*rgb[1] + 0.1805*rgb[2]) / 0.9505)
	y := f(0.2126*rgb[0] + 0.7152*rgb[1] + 0.0722*rgb[2])
	z := f((0.0193*rgb[0] + 0.1192*rgb[1] + 0.9505*rgb[2]) / 1.0890)
	return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// Matrices for the full lack of one kind of cone, on linear sRGB: G. M. Machado
// and others, "A Physiologically-based Model for Simulation of Color Vision
// Deficiency" (2009), doi:10.1109/TVCG.2009.113, severity 1.0; figures from
// memory, tested below by the white that they must keep.
var (
	deuteranopia = [3][3]float64{{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}
	protanopia   = [3][3]float64{{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}
	tritanopia   = [3][3]float64{{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}
	normal       = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
)

func seen(m [3][3]float64, rgb [3]float64) [3]float64 {
	var out [3]float64
	for i := range out {
		v := m[i][0]*rgb[0] + m[i][1]*rgb[1] + m[i][2]*rgb[2]
		out[i] = min(max(v, 0), 1)
	}
	return out
}

func TestSimulationKeepsWhite(t *testing.T) {
	for _, m := range [][3][3]float64{deuteranopia, protanopia, tritanopia} {
		for _, row := range m {
			near(t, "row sum", row[0]+row[1]+row[2], 1, 2e-6)
		}
	}
}

func TestOklabGreys(t *testing.T) {
	for _, l := range []float64{0, 0.3, 0.7, 1} {
		r, g, b := oklabToLinear(l, 0, 0)
		for _, v := range []float64{r, g, b} {
			near(t, "grey", v, l*l*l, 1e-6)
		}
	}
	// The sRGB red of the article: L 0.628, a 0.225, b 0.126, to three places.
	r, g, b := oklabToLinear(0.62796, 0.22486, 0.12585)
	near(t, "red", r, 1, 1e-3)
	near(t, "green in red", g, 0, 1e-3)
	near(t, "blue in red", b, 0, 1e-3)
}

// Lightness rises from step to step, and by much the same, for every kind of
// eye and in greyscale.
func TestRampsRise(t *testing.T) {
	const steps = 100
	for _, ramp := range Ramps() {
		for name, m := range map[string][3][3]float64{"all cones": normal, "deuteranopia": deuteranopia, "protanopia": protanopia, "tritanopia": tritanopia} {
			first, last := lab(seen(m, linear(ramp.At(0))))[0], lab(seen(m, linear(ramp.At(1))))[0]
			even := (last - first) / steps
			if even < 0.65 {
				t.Errorf("%v, %s: lightness from %.1f to %.1f only", ramp, name, first, last)
			}
			before := first
			for i := 1; i <= steps; i++ {
				l := lab(seen(m, linear(ramp.At(float64(i)/steps))))[0]
				if d := l - before; d < 0.3*even || d > 2*even {
					t.Errorf("%v, %s, step %d: lightness %.2f follows %.2f, even step %.2f", ramp, name, i, l, before, even)
				}
				before = l
			}
		}
		grey := -1.0
		for i := range steps + 1 {
			c := ramp.At(float64(i) / steps)
			// The weights of ITU-R BT.601, with which images are commonly made grey.
			y := 0.299*float64(c.R) + 0.587*float64(c.G) + 0.114*float64(c.B)
			if y <= grey {
				t.Errorf("%v, step %d: grey %.1f follows %.1f", ramp, i, y, grey)
			}
			grey = y
		}
	}
}

// Nothing is clipped, which would bend hue and lightness.
func TestRampsInGamut(t *testing.T) {
	for _, ramp := range Ramps() {
		stops := ramp.stops()
		for i, p := range stops {
			l := darkEnd + float64(i)/float64(len(stops)-1)*(lightEnd-darkEnd)
			a, b := p.cartesian()
			red, green, blue := oklabToLinear(l, a, b)
			if min(red, green, blue) < 0 || max(red, green, blue) > 1 {
				t.Errorf("%v, stop %d: %.3f %.3f %.3f", ramp, i, red, green, blue)
			}
		}
	}
}

func TestRampEnds(t *testing.T) {
	for _, ramp := range Ramps() {
		if ramp.At(-3) != ramp.At(0) || ramp.At(math.Inf(1)) != ramp.At(1) || ramp.At(0) == ramp.At(1) {
			t.Errorf("%v: ends are not held", ramp)
		}
		if ramp.At(math.NaN()) != (color.NRGBA{}) || ramp.At(0.3).A != 255 {
			t.Errorf("%v: not opaque, or a colour for no number", ramp)
		}
		if got, err := ParseRamp(ramp.String()); got != ramp || err != nil {
			t.Errorf("%v: got %v, %v", ramp, got, err)
		}
	}
	_, err := ParseRamp("rust")
	wantError(t, err, "choose furrow, dew, heather")
}

func TestPicture(t *testing.T) {
	g := New(Geometry{Width: 3, Height: 2})
	copy(g.Data, []float32{0, 5, 10, -1, 11})
	img := Picture(g, Dew, 0, 10)
	low, mid, high := Dew.At(0), Dew.At(0.5), Dew.At(1)
	for i, want := range []color.NRGBA{low, mid, high, low, high, {}} {
		got := img.NRGBAAt(i%3, i/3)
		// The middle falls between two of the steps of a picture.
		if math.Abs(float64(got.R)-float64(want.R)) > 1 || math.Abs(float64(got.G)-float64(want.G)) > 1 ||
			math.Abs(float64(got.B)-float64(want.B)) > 1 || got.A != want.A {
			t.Errorf("pixel %d: got %v, want %v", i, got, want)
		}
	}
	for _, ends := range [][2]float64{{1, 1}, {2, 1}, {math.NaN(), 1}, {math.Inf(-1), 1}, {0, math.Inf(1)}, {-math.MaxFloat64, math.MaxFloat64}} {
		if got := Picture(g, Dew, ends[0], ends[1]).NRGBAAt(0, 0); math.Abs(float64(got.G)-float64(mid.G)) > 1 {
			t.Errorf("%v: got %v, want the middle %v", ends, got, mid)
		}
	}
	if b := Picture(&Grid{Geometry: Geometry{Width: 2, Height: 2}}, Dew, 0, 1).Bounds(); !b.Empty() {
		t.Errorf("picture of a grid without values: %v", b)
	}
}
