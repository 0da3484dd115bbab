package rate

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Spreader is what a machine, and good sense, allow; all in the unit of the rates
// that it is asked for (kg/ha of product). 0 stands for no such limit.
type Spreader struct {
	Largest float64 // largest single dressing: a larger rate is split into equal ones
	Least   float64 // least rate that it can spread
	Step    float64 // rates are multiples of it
	// LiftBelowLeast: a dressing below Least is spread at Least. Without it, half
	// of Least and more is spread at Least, and less is not spread at all.
	LiftBelowLeast bool
}

// Dressing is how a rate is spread.
type Dressing struct {
	Times  int     // dressings; 0: nothing is spread
	Each   float64 // rate of each
	Total  float64 // Times × Each
	Change float64 // Total less the rate that was asked for
	Notes  []string
}

// Dress splits a rate into dressings of the same size that the machine can
// spread, and tells by how much the total changes. A rate that no number, and a
// machine whose limits leave no rate, are errors.
func (s Spreader) Dress(rate float64, unit string) (Dressing, error) {
	for _, x := range []float64{s.Largest, s.Least, s.Step} {
		if !(x >= 0) || math.IsInf(x, 0) {
			return Dressing{}, fmt.Errorf("the spreader's largest dressing, least rate and step are %g, %g and %g; none is below 0", s.Largest, s.Least, s.Step)
		}
	}
	low := s.up(s.Least) // least and highest that are multiples of the step
	high := s.Largest
	if s.Largest > 0 && s.Step > 0 {
		high = math.Floor(s.Largest/s.Step+1e-9) * s.Step
	}
	switch {
	case s.Largest > 0 && (high <= 0 || high < low):
		return Dressing{}, fmt.Errorf("no rate is a multiple of the spreader's step %s, at least %s and at most %s; change one of them", number(s.Step), number(s.Least), number(s.Largest))
	case !(rate >= 0) || rate > 1e9:
		return Dressing{}, fmt.Errorf("the rate is %g %s; a rate is a number from 0 up", rate, unit)
	case rate == 0:
		return Dressing{}, nil
	case rate < s.Least && !s.LiftBelowLeast && rate < s.Least/2:
		return Dressing{Change: -rate, Notes: []string{fmt.Sprintf("%s %s is less than half of the least rate of %s: nothing is spread", number(rate), unit, number(s.Least))}}, nil
	}
	d := Dressing{Times: 1}
	if s.Largest > 0 {
		n := math.Ceil(rate/s.Largest - 1e-9)
		if n > 100 {
			return Dressing{}, fmt.Errorf("the rate of %s %s would take %s dressings; look at the rate and at the largest dressing", number(rate), unit, number(n))
		}
		d.Times = max(int(n), 1)
	}
	each := rate / float64(d.Times)
	if d.Times > 1 {
		d.Notes = append(d.Notes, fmt.Sprintf("%s %s is above the largest dressing of %s: %d dressings of %s", number(rate), unit, number(s.Largest), d.Times, number(each)))
	}
	d.Each = each
	if s.Step > 0 {
		d.Each = math.Floor(each/s.Step+0.5) * s.Step
		if s.Largest > 0 && d.Each > high {
			d.Each = high
		}
	}
	if d.Each < low {
		d.Each = low
	}
	if d.Each = rounded(d.Each); d.Each == 0 {
		return Dressing{Change: -rate, Notes: []string{fmt.Sprintf("%s %s is less than half a step of %s: nothing is spread", number(rate), unit, number(s.Step))}}, nil
	}
	if rounded(d.Each) != rounded(each) {
		d.Notes = append(d.Notes, fmt.Sprintf("%s %s is spread at %s, which the machine can do", number(each), unit, number(d.Each)))
	}
	d.Total = rounded(float64(d.Times) * d.Each)
	if d.Change = rounded(d.Total - rate); math.Abs(d.Change) <= 1e-9*rate {
		d.Change = 0
		return d, nil
	}
	d.Notes = append(d.Notes, fmt.Sprintf("in all %s %s instead of %s", number(d.Total), unit, number(rate)))
	return d, nil
}

// up rounds up to the step.
func (s Spreader) up(x float64) float64 {
	if s.Step == 0 {
		return x
	}
	return math.Ceil(x/s.Step-1e-9) * s.Step
}

// plainNumber reads digits with at most one point, from 0 to 1000.
func plainNumber(text string) (float64, bool) {
	if text == "" || len(text) > 12 || strings.Trim(text, "0123456789.") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	return x, err == nil && x <= 1000
}
