package task

import (
	"fmt"
	"slices"
	"strconv"

	"github.com/paulmach/orb"
)

// treatment is a treatment zone as it stands in the file; its code is its place
// among the others.
type treatment struct {
	name    string
	rate    int32
	polygon orb.Polygon // nil where it has none
}

// coding is a task's treatment zones.
type coding struct {
	zones                              []treatment
	standard, positionLost, outOfField int // codes
	template                           int // code that says what the cells of a grid hold; -1 for none
}

// treatments codes the zones of t: first what applies outside of them, by rate.
func (t *Task) treatments() (*coding, error) {
	var outside [3]int32
	for i, o := range []struct {
		what string
		rate float64
	}{{"default rate", t.Outside.Default}, {"rate without position", t.Outside.PositionLost}, {"rate out of the field", t.Outside.OutOfField}} {
		s, err := Setpoint(o.rate)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", o.what, err)
		}
		outside[i] = s
	}
	rates := slices.Clone(outside[:])
	slices.Sort(rates)
	rates = slices.Compact(rates)
	c := &coding{template: -1}
	for _, r := range rates {
		c.zones = append(c.zones, treatment{name: "outside, " + t.Unit.show(r), rate: r})
	}
	code := func(r int32) int { i, _ := slices.BinarySearch(rates, r); return i }
	c.standard, c.positionLost, c.outOfField = code(outside[0]), code(outside[1]), code(outside[2])
	if t.Grid != nil {
		return c, t.codeGrid(c)
	}
	for _, z := range t.Zones {
		rate, err := Setpoint(z.Rate)
		if err != nil {
			return nil, err
		}
		for _, p := range z.Shape {
			c.zones = append(c.zones, treatment{name: z.Name, rate: rate, polygon: p})
		}
	}
	if n := len(c.zones); n > maxCode+1 {
		return nil, fmt.Errorf("%d parts of zones, those outside counted: a task holds %d; join small ones or write a grid", n, maxCode+1)
	}
	return c, nil
}

func (t *Task) codeGrid(c *coding) error {
	if !t.Grid.Coded {
		c.template = len(c.zones)
		c.zones = append(c.zones, treatment{name: "rates of the grid"})
		return nil
	}
	known := map[int32]bool{}
	for _, z := range c.zones {
		known[z.rate] = true
	}
	var rates []int32
	for _, v := range t.Grid.Values {
		if !known[v] {
			known[v] = true
			rates = append(rates, v)
			if len(known) > maxCode+1 {
				return fmt.Errorf("grid: more than %d different rates: class them, or write a grid that is not coded", maxCode+1)
			}
		}
	}
	slices.Sort(rates)
	for _, r := range rates {
		c.zones = append(c.zones, treatment{name: t.Unit.show(r), rate: r})
	}
	return nil
}

// show returns a setpoint as a terminal shows it.
func (u Unit) show(rate int32) string {
	name, scale, decimals := u.presentation()
	return strconv.FormatFloat(float64(rate)*scale, 'f', decimals, 64) + " " + name
}
