package sampling

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Depth is a layer of soil, from the surface down: 0-8in, 0-20cm.
type Depth struct {
	From, To float64 // in Unit
	Unit     string  // "in" or "cm"
}

var depthForm = regexp.MustCompile(`^\s*(\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(\d+(?:\.\d+)?)\s*(in|cm|inch|inches|")\s*$`)

// ParseDepth reads a depth written as 0-8in or 0-20cm.
func ParseDepth(s string) (Depth, error) {
	m := depthForm.FindStringSubmatch(strings.ToLower(s))
	if m == nil {
		return Depth{}, fmt.Errorf("%q is not a depth; write it as 0-8in or 0-20cm", s)
	}
	from, _ := strconv.ParseFloat(m[1], 64)
	to, _ := strconv.ParseFloat(m[2], 64)
	d := Depth{From: from, To: to, Unit: "in"}
	if m[3] == "cm" {
		d.Unit = "cm"
	}
	if d.From >= d.To {
		return Depth{}, fmt.Errorf("depth %q has no thickness or runs upwards; write the upper limit first, as in 0-8in", s)
	}
	if d.Metres() > 3 {
		return Depth{}, fmt.Errorf("depth %q goes below 3 m; check the unit", s)
	}
	return d, nil
}

// Metres returns the lower limit in metres.
func (d Depth) Metres() float64 {
	if d.Unit == "cm" {
		return d.To / 100
	}
	return d.To * 0.0254
}

// String writes the depth as ParseDepth reads it.
func (d Depth) String() string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	return number(d.From) + "-" + number(d.To) + d.Unit
}
