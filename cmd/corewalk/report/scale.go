package report

import (
	"math"
	"strconv"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// The size of a map in its own units, which are pixels where the page is wide.
const (
	widestMap  = 720.0
	tallestMap = 640.0
	leastWidth = 300.0
	margin     = 16.0
	footing    = 40.0 // below the ground: scale bar and north arrow
)

// box is an upright rectangle, empty until it has been stretched.
type box struct {
	west, south, east, north float64
	any                      bool
}

func (b *box) stretch(x, y float64) {
	if !finite(x) || !finite(y) {
		return
	}
	if !b.any {
		*b = box{x, y, x, y, true}
		return
	}
	b.west, b.east = min(b.west, x), max(b.east, x)
	b.south, b.north = min(b.south, y), max(b.north, y)
}

func (b *box) stretchShape(s plane.Shape) {
	for _, polygon := range s {
		for _, ring := range polygon {
			for _, p := range ring {
				b.stretch(p[0], p[1])
			}
		}
	}
}

// view turns metres in the frame of a field, y to the north, into places on its
// map, y down the page.
type view struct {
	width, height float64 // of the map, with its margins
	scale         float64 // map units to the metre
	west, north   float64 // metres at the place left, top
	left, top     float64
}

// newView fits the ground in. ok is false where there is no ground.
func newView(b box) (v view, ok bool) {
	w, h := b.east-b.west, b.north-b.south
	if !b.any || !finite(w) || !finite(h) {
		return view{}, false
	}
	// A single place is shown with ten metres round it.
	if w == 0 && h == 0 {
		b.west, b.east, b.south, b.north = b.west-10, b.east+10, b.south-10, b.north+10
		w, h = 20, 20
	}
	v.scale = math.Inf(1)
	if w > 0 {
		v.scale = min(v.scale, (widestMap-2*margin)/w)
	}
	if h > 0 {
		v.scale = min(v.scale, (tallestMap-2*margin)/h)
	}
	v.width = max(w*v.scale+2*margin, leastWidth)
	v.height = h*v.scale + 2*margin + footing
	v.west, v.north = b.west, b.north
	v.left, v.top = (v.width-w*v.scale)/2, margin
	return v, true
}

func (v view) x(east float64) float64  { return v.left + (east-v.west)*v.scale }
func (v view) y(north float64) float64 { return v.top + (v.north-north)*v.scale }

// coord writes a place on a map: a tenth of a pixel is as fine as one sees.
func coord(x float64) string {
	s := strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// scaleBar is a bar of a round length.
type scaleBar struct {
	Class                        string // of those who read it: us or me
	Metres                       string // in its unit
	Name                         string // of the unit
	X0, XMid, X1, Y, YTop, YText string
	Label                        string
}

func (v view) scaleBar(us bool) scaleBar {
	unit, name, class := 1.0, "m", "me"
	if us {
		unit, name, class = geo.Foot, "ft", "us"
	}
	length := roundBelow(min(v.width*0.35, 220) / v.scale / unit)
	label := strconv.FormatFloat(length, 'f', -1, 64) + " " + name
	if !us && length >= 1000 {
		label = strconv.FormatFloat(length/1000, 'f', -1, 64) + " km"
	}
	x1 := margin + length*unit*v.scale
	y := v.height - 12
	return scaleBar{
		Class: class, Metres: strconv.FormatFloat(unit, 'g', -1, 64), Name: name,
		X0: coord(margin), XMid: coord((margin + x1) / 2), X1: coord(x1),
		Y: coord(y), YTop: coord(y - 6), YText: coord(y - 10), Label: label,
	}
}

// roundBelow returns the greatest 1, 2 or 5 times a power of ten that is not
// above v.
func roundBelow(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range [3]float64{5, 2, 1} {
		if m*power <= v {
			return m * power
		}
	}
	return power
}

// tick is a value on a ramp, at a percentage of its length.
type tick struct {
	Label string
	At    float64
}

// ticks returns round values from lo to hi, about five of them, and where they
// stand between the two.
func ticks(lo, hi float64) []tick {
	span := hi - lo
	if !(span > 0) || !finite(span) {
		return nil
	}
	step := roundBelow(span / 2.5)
	if span/step > 7 {
		step *= 2
	}
	places := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var out []tick
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+step*1e-9 && len(out) < 12; i++ {
		at := math.Round(1000*(i*step-lo)/span) / 10
		out = append(out, tick{fixed(i*step, places), min(max(at, 0), 100)})
	}
	return out
}
