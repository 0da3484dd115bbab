package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/sampling"
	"corewalk/sampling/estimate"
)

// adviceFlags are those of what a plan costs and buys.
type adviceFlags struct {
	advise                   bool
	labCost, hourCost        float64
	budget                   float64
	cv, tolerated, confident shareValue
}

// Assumed where nothing is said: within a field the variation of P and K is
// mostly larger than this, that of pH smaller (common practice, no source).
const (
	assumedCV         = 0.3
	defaultTolerated  = 0.2
	defaultConfidence = 0.95
)

type shareValue float64

func (v *shareValue) Set(s string) error { return set((*float64)(v), parseShareAbove, s) }
func (v *shareValue) Type() string       { return "share" }
func (v *shareValue) String() string {
	return strconv.FormatFloat(math.Round(float64(*v)*1e4)/100, 'f', -1, 64) + "%"
}

// parseShareAbove reads a share above zero, which a coefficient of variation
// may have above 100 %.
func parseShareAbove(s string) (float64, error) {
	text, percent := strings.CutSuffix(strings.TrimSpace(s), "%")
	v, err := parseNumber(strings.TrimSpace(text))
	if percent {
		v /= 100
	}
	if err != nil || !(v > 0 && v <= 10) {
		return 0, fmt.Errorf("%q is not a share above zero; write it as 30%%", s)
	}
	return v, nil
}

func (f *adviceFlags) add(c *cobra.Command) {
	f.cv, f.tolerated, f.confident = assumedCV, defaultTolerated, defaultConfidence
	c.Flags().BoolVar(&f.advise, "advise", false, "write nothing; print what cell sizes and numbers of cores cost and buy")
	c.Flags().Float64Var(&f.labCost, "lab-cost", 0, "`PRICE` of one sample at the laboratory, in any currency")
	c.Flags().Float64Var(&f.hourCost, "hour-cost", 0, "`PRICE` of an hour of walking and coring")
	c.Flags().Float64Var(&f.budget, "budget", 0, "`AMOUNT` to spend: the densest design that it pays for is taken")
	c.Flags().Var(&f.cv, "cv", "coefficient of variation between single cores of a unit")
	c.Flags().Var(&f.tolerated, "error", "tolerated error of a unit's mean, half the width of its interval")
	c.Flags().Var(&f.confident, "confidence", "of that interval")
}

func (f adviceFlags) wanted() bool { return f.advise || f.budget != 0 }

func (f adviceFlags) prices() sampling.Prices {
	return sampling.Prices{Sample: f.labCost, Hour: f.hourCost}
}

// advice is what --json prints.
type advice struct {
	Design     sampling.Design `json:"design"`
	CV         float64         `json:"cv"`
	Confidence float64         `json:"confidence"`
	Error      float64         `json:"error"`
	Needed     int             `json:"cores_for_error"`
	Options    []option        `json:"options"`
	Chosen     *option         `json:"chosen,omitempty"`
	Widths     []width         `json:"half_widths"`
	Notes      []string        `json:"notes"`
}

// option is one design with what it costs and buys.
type option struct {
	CellM2    float64 `json:"cell_m2,omitempty"`
	Units     int     `json:"units"`
	Samples   int     `json:"samples"`
	Cores     int     `json:"cores_to_a_composite"`
	Holes     int     `json:"cores"`
	LabCost   float64 `json:"lab_cost"`
	WorkCost  float64 `json:"work_cost"`
	WalkM     float64 `json:"walk_m"`
	Minutes   float64 `json:"walk_and_core_min"`
	HalfWidth float64 `json:"half_width"`

	seconds float64
}

// width is half of an interval, as a share of the mean.
type width struct {
	Cores     int     `json:"cores"`
	HalfWidth float64 `json:"half_width"`
}

// manyCores is where only one number of cores is tried with each cell.
const manyCores = 20_000

// advise prints what designs cost and buy, and with a budget returns the
// parameters of the densest that it pays for; done is true when nothing is to
// be planned.
func (a *app) advise(files mapFiles, p sampling.Params, f adviceFlags, given []string, m measure) (done bool, chosen sampling.Params, err error) {
	switch {
	case f.labCost < 0 || f.hourCost < 0 || f.budget < 0:
		return true, p, usageError{fmt.Errorf("costs and budgets are not below zero")}
	case f.budget > 0 && f.labCost == 0 && f.hourCost == 0:
		return true, p, usageError{fmt.Errorf("--budget needs --lab-cost, the price of one sample, or --hour-cost")}
	case f.budget > 0 && (slices.Contains(given, "cell") || slices.Contains(given, "samples")):
		return true, p, usageError{fmt.Errorf("--budget chooses the cell; leave --cell and --samples out")}
	}
	fields, notices, err := files.fields()
	if err != nil {
		return true, p, err
	}
	step := geo.Hectare
	if m.us {
		step = geo.Acre
	}
	var picked *option
	if f.budget > 0 {
		if p, _, err = sampling.Densest(fields, p, f.prices(), f.budget, step); err != nil {
			return true, p, err
		}
		if !f.advise {
			return false, p, nil
		}
		o, err := optionOf(fields, p, f)
		if err != nil {
			return true, p, err
		}
		picked = &o
	}
	out, err := adviceFor(fields, p, f, step)
	if err != nil {
		return true, p, err
	}
	out.Chosen = picked
	return true, p, a.report(out, out.lines(f, m), notices, nil)
}

// optionOf plans and reckons what the plan costs.
func optionOf(fields []*geo.Field, p sampling.Params, f adviceFlags) (option, error) {
	plan, err := sampling.Make(fields, p)
	if err != nil {
		return option{}, err
	}
	o := option{Cores: p.Cores}
	if p.Design != sampling.Units {
		o.CellM2 = p.Cell
	}
	for _, fp := range plan.Fields {
		o.Units += len(fp.Units)
		o.Samples += fp.Samples()
		o.Holes += fp.Cores()
		o.WalkM += fp.Walk
		o.seconds += fp.Time
	}
	o.LabCost, o.WorkCost = float64(o.Samples)*f.labCost, o.seconds/3600*f.hourCost
	o.WalkM, o.Minutes = decimals(o.WalkM, 1), decimals(o.seconds/60, 1)
	o.HalfWidth, err = estimate.HalfWidth(p.Cores, float64(f.cv), float64(f.confident))
	if math.IsInf(o.HalfWidth, 0) {
		o.HalfWidth = 0 // not known from one core
	}
	return o, err
}

// adviceFor tries the usual cells, and the one asked for.
func adviceFor(fields []*geo.Field, p sampling.Params, f adviceFlags, step float64) (advice, error) {
	out := advice{Design: p.Design, CV: float64(f.cv), Confidence: float64(f.confident), Error: float64(f.tolerated)}
	var err error
	if out.Needed, err = estimate.Size(out.CV, out.Error, out.Confidence); err != nil {
		return out, err
	}
	var largest float64
	for _, x := range fields {
		largest = max(largest, x.Frame.Area(x.Ground))
	}
	cells := []float64{0.4 * step, step, 2 * step, 4 * step, 8 * step}
	if step == geo.Acre {
		cells = []float64{step, 2.5 * step, 5 * step, 10 * step, 20 * step}
	}
	cells = slices.DeleteFunc(cells, func(c float64) bool { return c > largest })
	switch {
	case p.Design == sampling.Units:
		cells = []float64{0}
	case p.Samples > 0 && p.Cell == 0:
		cells = append(cells, largest/float64(p.Samples))
	case p.Cell <= largest:
		cells = append(cells, p.Cell)
	}
	slices.Sort(cells)
	cells = slices.CompactFunc(cells, func(a, b float64) bool { return math.Abs(a-b) < 1e-6*b })
	cores := []int{8, 12, 16, 20, p.Cores}
	slices.Sort(cores)
	cores = slices.Compact(cores)
	for _, cell := range cells {
		q := p
		q.Cell, q.KeepSpacing = cell, false
		if cell > 0 {
			q.Samples = 0
		}
		o, err := optionOf(fields, q, f)
		if err != nil {
			return out, err
		}
		for _, n := range cores {
			if n == p.Cores {
				out.Options = append(out.Options, o)
				continue
			}
			if o.Holes > manyCores {
				continue
			}
			r := q
			r.Cores = n
			other, err := optionOf(fields, r, f)
			if err != nil {
				return out, err
			}
			out.Options = append(out.Options, other)
		}
	}
	for _, n := range append([]int{5, 10, 15, 20, 30}, out.Needed) {
		w, err := estimate.HalfWidth(n, out.CV, out.Confidence)
		if err != nil {
			return out, err
		}
		out.Widths = append(out.Widths, width{n, decimals(w, 4)})
	}
	slices.SortFunc(out.Widths, func(a, b width) int { return a.Cores - b.Cores })
	out.Widths = slices.Compact(out.Widths)
	out.Notes = f.notes(out, fields, p)
	return out, nil
}

// notes say what the figures rest on.
func (f adviceFlags) notes(out advice, fields []*geo.Field, p sampling.Params) []string {
	// A probe of an inch takes 5 cm² (common practice, no source).
	const hole = math.Pi / 4 * 0.0254 * 0.0254
	var smallest float64 = math.Inf(1)
	for _, x := range fields {
		smallest = min(smallest, x.Frame.Area(x.Sampleable))
	}
	if p.Design != sampling.Units && p.Cell > 0 {
		smallest = min(smallest, p.Cell)
	}
	places := smallest / hole
	notes := []string{
		"the half-width is t CV/√n of n cores mixed into one composite, for the mean of their unit; the laboratory's own error comes on top of it, and more cores do not lessen that",
		fmt.Sprintf("a finite population changes nothing here: a unit of %.0f m² has some %.2g places for a one-inch probe, and n/(1+n/N) rounds up to the same n (%d for ±%s)", smallest, places, estimate.Finite(out.Needed, places), &f.tolerated),
		"the walk and its time are those of a plan with the seed given, made and thrown away",
	}
	if f.cv == assumedCV {
		notes = append(notes, "the coefficient of variation is assumed; give your own (--cv) from single cores of such ground")
	}
	return notes
}

// lines says the advice for a person.
func (a advice) lines(f adviceFlags, m measure) []string {
	out := []string{"Nothing is written. What a plan costs and buys, half-width at " + f.confident.String() + " confidence and a CV of " + f.cv.String() + ":", ""}
	head := []string{"cell", "units", "samples", "cores each", "cores", "lab cost", "walk", "time", "unit mean"}
	if f.hourCost > 0 {
		head = slices.Insert(head, 6, "work cost")
	}
	rows := [][]string{head}
	row := func(o option) []string {
		cell := "unit"
		if o.CellM2 > 0 {
			cell = m.area(o.CellM2)
		}
		lab := "?"
		if f.labCost > 0 {
			lab = fmt.Sprintf("%.2f", o.LabCost)
		}
		half := "?"
		if o.HalfWidth > 0 {
			half = fmt.Sprintf("±%.0f %%", 100*o.HalfWidth)
		}
		r := []string{cell, strconv.Itoa(o.Units), strconv.Itoa(o.Samples), strconv.Itoa(o.Cores), strconv.Itoa(o.Holes), lab, m.distance(o.WalkM), hours(o.seconds), half}
		if f.hourCost > 0 {
			r = slices.Insert(r, 6, fmt.Sprintf("%.2f", o.WorkCost))
		}
		return r
	}
	for _, o := range a.Options {
		rows = append(rows, row(o))
	}
	out = append(out, columns(rows, true)...)
	out = append(out, "")
	text := "Cores to a composite and the half-width of the unit's mean:"
	for i, w := range a.Widths {
		if i > 0 {
			text += ","
		}
		text += fmt.Sprintf(" %d ±%.0f %%", w.Cores, 100*w.HalfWidth)
	}
	out = append(out, text)
	out = append(out, fmt.Sprintf("For ±%s it takes %d cores, the smallest n with n >= (t CV/E)².", &f.tolerated, a.Needed))
	if a.Chosen != nil {
		out = append(out, "", fmt.Sprintf("The densest design that %s pays for (run again without --advise to plan it):", plain(f.budget)))
		out = append(out, columns([][]string{head, row(*a.Chosen)}, true)...)
	}
	out = append(out, "")
	for _, n := range a.Notes {
		out = append(out, "Note: "+n+".")
	}
	return out
}
