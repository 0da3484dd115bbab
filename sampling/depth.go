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

// ParseDepths reads one or more layers, parted by commas: 0-2in,2-8in.
func ParseDepths(s string) ([]Depth, error) {
	var out []Depth
	for part := range strings.SplitSeq(s, ",") {
		d, err := ParseDepth(part)
		if err != nil {
			return nil, err
		}
		out = append(out, d)
	}
	return out, nil
}

// DepthsText writes layers as ParseDepths reads them.
func DepthsText(depths []Depth) string {
	var out []string
	for _, d := range depths {
		out = append(out, d.String())
	}
	return strings.Join(out, ",")
}

// String writes the depth as ParseDepth reads it; nothing for the zero value.
func (d Depth) String() string {
	if d == (Depth{}) {
		return ""
	}
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	return number(d.From) + "-" + number(d.To) + d.Unit
}
