package picture

import (
	"image/color"
	"io"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// Map describes a map of one field. All places are metres of one projected
// system, east and north; north is up. The zero value of a part leaves it out. A
// map needs something that has a place: a grid, an outline, a zone or a point.
type Map struct {
	Title, Subtitle string
	// Notes stand in a bold banner across the top of the map: what nobody may
	// overlook, such as that the samples do not support the surface.
	Notes []string
	// Footer holds quiet lines below the map: method, errors, cautions.
	Footer []string

	// Grid is the surface; nil for a map of zones or of outlines alone. Values
	// that are not finite count as without data.
	Grid *raster.Grid
	// Lo and Hi are the values at the two ends of the ramp. Unless Lo is below
	// Hi, they are the least and the greatest value of the grid.
	Lo, Hi float64
	// Classes, from low to high, colour the grid in steps instead of
	// continuously, and colour the zones.
	Classes []Class
	Zones   []Zone
	Ramp    raster.Ramp

	Legend string // head of the legend: what is mapped
	Unit   string // its unit of measure
	NoData string // the ground without values in the legend; empty: "no value made here"

	Outlines []Outline
	Points   []Point
	PointKey string // the points in the legend; empty: "sample, with its value"
	Marks    Marks

	// Convergence is the bearing of grid north in degrees, clockwise from true
	// north (the meridian convergence). The north arrow points to true north.
	Convergence float64
	// US gives the scale bar feet and miles instead of metres.
	US bool
}

// Class is one step of the colours.
type Class struct {
	Mark string // a number or letter, written into its zones and its swatch
	Name string // may be empty
	// The limits: values from From up to but not To, and in the last class To
	// too. Infinite ones are open. Where From is not below To, the class has no
	// limits and no value of a grid falls into it.
	From, To float64
}

// Zone is ground of one class.
type Zone struct {
	Shape plane.Shape
	Class int    // index in Map.Classes
	Label string // written into the zone; empty: the Mark of the class
}

// Kind is a kind of outline.
type Kind int

const (
	Boundary  Kind = iota // of the field; the grid is cut off at it
	Exclusion             // ground that is not sampled: grey and hatched
	Unit                  // a management unit or sampling unit
	Problem               // a problem area
	Patch                 // a patch or any other part found on the surface
)

// Outline is a line round a shape.
type Outline struct {
	Kind  Kind
	Shape plane.Shape
	Label string // written into the shape
	Key   string // in the legend, which holds 12; empty: a word for the kind
}

// Point is a place with a value. Every point is drawn; its text only where there
// is room for it.
type Point struct {
	At    plane.XY
	Label string // the value as text; empty: ID
	ID    string
}

// Mark is a signed figure at a place, such as a residual: a triangle, pointing
// up for figures above zero and down for those below, of an area that grows with
// the figure. Direction and size tell it without colour.
type Mark struct {
	At    plane.XY
	Value float64
	Label string // as text; may be empty
}

// Marks are signed figures and how the legend explains them.
type Marks struct {
	Items []Mark
	Label string // head in the legend, such as "observed less predicted"
	Unit  string
	// Even is the magnitude up to which a figure counts as about right and is
	// drawn as a small ring.
	Even float64
}

// SVG writes the map as an SVG document that needs no other file. Errors are
// those of Check and of w.
func (m *Map) SVG(w io.Writer) error {
	s, err := m.scene()
	if err != nil {
		return err
	}
	return s.writeSVG(w)
}

// PNG writes the map as a PNG of the given width in pixels, from 200 to 6000; 0
// gives two pixels to each unit of the page. Errors are those of Check, of a
// width outside, of a picture of more than 40 million pixels, and of w.
func (m *Map) PNG(w io.Writer, width int) error {
	s, err := m.scene()
	if err != nil {
		return err
	}
	return s.writePNG(w, width)
}

// Colours of everything but the ground.
var (
	ink      = color.NRGBA{0x1f, 0x23, 0x26, 0xff}
	grey     = color.NRGBA{0x52, 0x57, 0x5c, 0xff}
	hairline = color.NRGBA{0xc4, 0xc8, 0xcb, 0xff}
	white    = color.NRGBA{0xff, 0xff, 0xff, 0xff}
	alarm    = color.NRGBA{0x8c, 0x1d, 0x18, 0xff}
	casing   = color.NRGBA{0xff, 0xff, 0xff, 0xe6}
	noGround = color.NRGBA{0x8f, 0x94, 0x98, 0xff} // hatch of ground without values
	offGrey  = color.NRGBA{0xdd, 0xdf, 0xe0, 0xff} // an exclusion
	offHatch = color.NRGBA{0x70, 0x75, 0x79, 0xff}
	below    = color.NRGBA{0x1f, 0x4e, 0x8c, 0xff}
	above    = color.NRGBA{0xee, 0x9b, 0x2e, 0xff}
)

// lightest is the part of a ramp that is used: its light end is too close to the
// white of the ground without values for a printer without colours.
const lightest = 0.95

// shade returns the colour for t from 0, dark, to 1, light.
func shade(r raster.Ramp, t float64) color.NRGBA { return r.At(t * lightest) }

// classColours returns the colours of n classes, dark to light.
func classColours(r raster.Ramp, n int) []color.NRGBA {
	out := make([]color.NRGBA, n)
	for i := range out {
		t := 0.5
		if n > 1 {
			t = float64(i) / float64(n-1)
		}
		out[i] = shade(r, t)
	}
	return out
}

// inkOn returns white or ink for letters on a ground of colour c, whichever
// stands out more.
func inkOn(c color.NRGBA) color.NRGBA {
	// Luminance, with the square for the curve of sRGB.
	square := func(b uint8) int { return int(b) * int(b) }
	if 2126*square(c.R)+7152*square(c.G)+722*square(c.B) < 2100*square(255) {
		return white
	}
	return ink
}
