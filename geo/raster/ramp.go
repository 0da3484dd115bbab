package raster

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"
)

// Ramp is a range of colours from dark for low values to light for high ones.
// Lightness rises in equal steps from end to end, so that equal differences
// look equal, the order holds in greyscale, and it holds for people who do not
// tell red from green. The zero value is Furrow.
type Ramp int

const (
	Furrow  Ramp = iota // dark umber over ochre to pale straw
	Dew                 // deep blue over sea green to pale lime
	Heather             // dark plum over mauve to pale rose
)

// Ramps returns all ramps.
func Ramps() []Ramp { return []Ramp{Furrow, Dew, Heather} }

// String returns the name of the ramp, by which [ParseRamp] finds it.
func (r Ramp) String() string {
	switch r {
	case Dew:
		return "dew"
	case Heather:
		return "heather"
	default:
		return "furrow"
	}
}

// ParseRamp returns the ramp of that name. Any other name is an error that
// lists those there are.
func ParseRamp(name string) (Ramp, error) {
	var names []string
	for _, r := range Ramps() {
		if r.String() == name {
			return r, nil
		}
		names = append(names, r.String())
	}
	return 0, fmt.Errorf("no colour ramp %.40q: choose %s", name, strings.Join(names, ", "))
}

// stops returns the colours of the ramp at equal distances: chroma and hue in
// degrees of OKLab in its polar form. Lightness is not part of it.
func (r Ramp) stops() []polar {
	switch r {
	case Dew:
		return []polar{{0.09, 268}, {0.10, 240}, {0.09, 205}, {0.10, 165}, {0.09, 125}}
	case Heather:
		return []polar{{0.09, 300}, {0.12, 318}, {0.12, 338}, {0.075, 0}, {0.02, 30}}
	default:
		return []polar{{0.05, 40}, {0.08, 52}, {0.10, 68}, {0.11, 84}, {0.06, 98}}
	}
}

type polar struct{ chroma, hue float64 }

// cartesian returns the a and b of OKLab.
func (p polar) cartesian() (a, b float64) {
	sin, cos := math.Sincos(p.hue * math.Pi / 180)
	return p.chroma * cos, p.chroma * sin
}

// Lightness in OKLab at the two ends of every ramp. The dark end is lighter than
// black so that lines and letters in black stay readable on it.
const darkEnd, lightEnd = 0.28, 0.95

// At returns the colour for t from 0, the dark end, to 1, the light end. Values
// beyond are taken as the nearer end, and NaN gives no colour: transparent.
func (r Ramp) At(t float64) color.NRGBA {
	if math.IsNaN(t) {
		return color.NRGBA{}
	}
	t = min(max(t, 0), 1)
	stops := r.stops()
	place := t * float64(len(stops)-1)
	i := min(int(place), len(stops)-2)
	part := place - float64(i)
	a0, b0 := stops[i].cartesian()
	a1, b1 := stops[i+1].cartesian()
	lightness := darkEnd + t*(lightEnd-darkEnd)
	red, green, blue := oklabToLinear(lightness, a0+part*(a1-a0), b0+part*(b1-b0))
	return color.NRGBA{R: srgbByte(red), G: srgbByte(green), B: srgbByte(blue), A: 255}
}

// oklabToLinear returns the linear sRGB of a colour in OKLab, without clipping.
// B. Ottosson, "A perceptual color space for image processing" (2020),
// bottosson.github.io/posts/oklab; the coefficients are from memory and tested
// by the white and grey that they must give.
func oklabToLinear(lightness, a, b float64) (red, green, blue float64) {
	l := lightness + 0.3963377774*a + 0.2158037573*b
	m := lightness - 0.1055613458*a - 0.0638541728*b
	s := lightness - 0.0894841775*a - 1.2914855480*b
	l, m, s = l*l*l, m*m*m, s*s*s
	return 4.0767416621*l - 3.3077115913*m + 0.2309699292*s,
		-1.2684380046*l + 2.6097574011*m - 0.3413193965*s,
		-0.0041960863*l - 0.7034186147*m + 1.7076147010*s
}

// srgbByte returns linear light from 0 to 1 as an sRGB byte (IEC 61966-2-1).
func srgbByte(v float64) uint8 {
	v = min(max(v, 0), 1)
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * v))
}

// pictureSteps is the number of colours in a picture, well above those that 8
// bits can tell apart.
const pictureSteps = 1024

// Picture returns the grid as an image of one pixel for each of its own, with
// the colours of ramp from lo to hi. Values beyond take the colour of the
// nearer end. Where lo is not below hi, or the range between is not finite, every
// value takes the middle colour.
// NoData is transparent. A grid whose values do not fit its size gives an empty
// image.
func Picture(g *Grid, ramp Ramp, lo, hi float64) *image.NRGBA {
	if g.Width <= 0 || g.Height <= 0 || g.Width > MaxPixels/g.Height || len(g.Data) != g.Width*g.Height {
		return image.NewNRGBA(image.Rectangle{})
	}
	var colours [pictureSteps]color.NRGBA
	for i := range colours {
		colours[i] = ramp.At(float64(i) / (pictureSteps - 1))
	}
	img := image.NewNRGBA(image.Rect(0, 0, g.Width, g.Height))
	for i, v := range g.Data {
		if v == NoData || v != v {
			continue
		}
		t := 0.5
		if span := hi - lo; span > 0 && !math.IsInf(span, 0) {
			t = min(max((float64(v)-lo)/span, 0), 1)
		}
		c := colours[int(math.Round(t*(pictureSteps-1)))]
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = c.R, c.G, c.B, c.A
	}
	return img
}
