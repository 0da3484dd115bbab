package picture

import (
	"image/color"
	"math"
	"testing"

	"corewalk/geo/raster"
)

// linear turns an sRGB byte into linear light (IEC 61966-2-1).
func linear(b uint8) float64 {
	v := float64(b) / 255
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

type rgb [3]float64 // linear light

func light(c color.NRGBA) rgb { return rgb{linear(c.R), linear(c.G), linear(c.B)} }

// lab returns CIE L*a*b* under D65. The matrix is that of IEC 61966-2-1, the
// white point 0.95047 1 1.08883; both from memory, and tested by white and grey.
func (c rgb) lab() (l, a, b float64) {
	x := (0.4124*c[0] + 0.3576*c[1] + 0.1805*c[2]) / 0.95047
	y := 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]
	z := (0.0193*c[0] + 0.1192*c[1] + 0.9505*c[2]) / 1.08883
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	return 116*f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))
}

func (c rgb) lightness() float64 { l, _, _ := c.lab(); return l }

// difference is the CIE76 colour difference.
func difference(p, q rgb) float64 {
	l1, a1, b1 := p.lab()
	l2, a2, b2 := q.lab()
	return math.Sqrt((l1-l2)*(l1-l2) + (a1-a2)*(a1-a2) + (b1-b2)*(b1-b2))
}

// sight is how linear light is seen by somebody.
type sight struct {
	name   string
	matrix [3]rgb
}

// Whole loss of one kind of cone: G. M. Machado, M. M. Oliveira, L. A. F.
// Fernandes, "A physiologically-based model for simulation of color vision
// deficiency", IEEE TVCG 15(6), 2009, severity 1.0; figures from memory. They
// leave white as it is, which is tested.
var sights = []sight{
	{"usual", [3]rgb{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}},
	{"protanopia", [3]rgb{{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}},
	{"deuteranopia", [3]rgb{{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}},
	{"grey", [3]rgb{{0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}}},
}

func (s sight) see(c rgb) rgb {
	var out rgb
	for i, row := range s.matrix {
		out[i] = min(max(row[0]*c[0]+row[1]*c[1]+row[2]*c[2], 0), 1)
	}
	return out
}

func TestColourArithmetic(t *testing.T) {
	if l, a, b := (rgb{1, 1, 1}).lab(); math.Abs(l-100) > 0.1 || math.Hypot(a, b) > 0.1 {
		t.Errorf("white is %.2f %.2f %.2f", l, a, b)
	}
	// Half the byte range is L* 53.6 by the two formulas.
	if l, a, b := light(color.NRGBA{128, 128, 128, 255}).lab(); math.Abs(l-53.6) > 0.1 || math.Hypot(a, b) > 0.1 {
		t.Errorf("grey is %.2f %.2f %.2f", l, a, b)
	}
	for _, s := range sights {
		if d := difference(s.see(rgb{1, 1, 1}), rgb{1, 1, 1}); d > 0.2 {
			t.Errorf("%s: white is off by %.2f", s.name, d)
		}
	}
	// What the two are about: red and green of one lightness come close.
	red, green := rgb{0.5, 0, 0}, rgb{0, 0.15, 0}
	for _, s := range sights[1:3] {
		if usual, seen := difference(red, green), difference(s.see(red), s.see(green)); seen > usual/2 {
			t.Errorf("%s: red and green differ by %.0f, usually by %.0f", s.name, seen, usual)
		}
	}
}

// Up to seven classes must survive a printer without colours, and be told from
// each other and from the white ground without values in every sight.
func TestClassColours(t *testing.T) {
	for _, ramp := range raster.Ramps() {
		for n := 2; n <= 7; n++ {
			colours := classColours(ramp, n)
			for i, c := range colours {
				if i > 0 {
					step := light(c).lightness() - light(colours[i-1]).lightness()
					if step < 8 {
						t.Errorf("%v, %d classes: %d is only %.1f lighter than %d", ramp, n, i, step, i-1)
					}
				}
				for _, s := range sights {
					if i > 0 {
						if d := difference(s.see(light(c)), s.see(light(colours[i-1]))); d < 8 {
							t.Errorf("%v, %d classes, %s: %d and %d differ by %.1f", ramp, n, s.name, i-1, i, d)
						}
					}
					// No data is white with dark lines.
					if d := difference(s.see(light(c)), s.see(light(white))); d < 8 {
						t.Errorf("%v, %d classes, %s: class %d and no data differ by %.1f", ramp, n, s.name, i, d)
					}
					if d := difference(s.see(light(c)), s.see(light(noGround))); i == n-1 && d < 20 {
						t.Errorf("%v, %s: the hatch of no data differs by %.1f from the lightest class", ramp, s.name, d)
					}
				}
			}
		}
	}
}

// The marks of either sign differ in lightness as well as in shape.
func TestMarkColours(t *testing.T) {
	for _, s := range sights {
		a, b := s.see(light(above)), s.see(light(below))
		if d := math.Abs(a.lightness() - b.lightness()); d < 25 {
			t.Errorf("%s: the signs differ by %.1f in lightness", s.name, d)
		}
	}
}

// Letters must stand out from what they are written on.
func TestLettersStandOut(t *testing.T) {
	contrast := func(p, q rgb) float64 { // WCAG 2.1, relative luminance
		y := func(c rgb) float64 { return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2] + 0.05 }
		return max(y(p), y(q)) / min(y(p), y(q))
	}
	for _, ramp := range raster.Ramps() {
		for i := range 101 {
			c := shade(ramp, float64(i)/100)
			if k := contrast(light(c), light(inkOn(c))); k < 3.5 {
				t.Errorf("%v at %d %%: contrast %.2f", ramp, i, k)
			}
		}
	}
	for name, pair := range map[string][2]color.NRGBA{"banner": {white, alarm}, "footer": {grey, white}} {
		if k := contrast(light(pair[0]), light(pair[1])); k < 7 {
			t.Errorf("%s: contrast %.2f", name, k)
		}
	}
}
