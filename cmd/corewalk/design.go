package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"corewalk/geo"
	"corewalk/sampling"
)

// Defaults where neither flag nor job says otherwise. 2.5-acre cells are the
// most common (Crops & Soils, July-August 2021, ASA/CSSA/SSSA); about 15 cores
// to such a cell are advised (Ohio State University Extension, tri-state
// recommendations of 2020); cores round a point are taken within 15 to 30 ft of
// it (NC State Extension); spacing and buffer are common practice, no source.
const (
	defaultCell    = 2.5 * geo.Acre
	defaultCores   = 15
	defaultSpacing = 5.0
	defaultRadius  = 8.0
	defaultBuffer  = 5.0
	defaultSeed    = 1
)

func defaultDepth(units string) sampling.Depth {
	if units == "us" {
		return sampling.Depth{To: 8, Unit: "in"}
	}
	return sampling.Depth{To: 20, Unit: "cm"}
}

// defaultParams are what a plan is made by when nothing is said.
func defaultParams() sampling.Params {
	return sampling.Params{
		Design: sampling.Grid, LongSide: true, Cores: defaultCores, Spacing: defaultSpacing,
		ProblemBuffer: defaultBuffer, Comparison: true, Pace: sampling.DefaultPace(), Seed: defaultSeed,
	}
}

// completed fills in what depends on other choices.
func completed(p sampling.Params, units string) sampling.Params {
	if p.Cell == 0 && p.Samples == 0 {
		p.Cell = defaultCell
	}
	if len(p.Depths) == 0 {
		p.Depths = []sampling.Depth{defaultDepth(units)}
	}
	if p.Unaligned && p.At == "" {
		p.At = sampling.AtPoint
	}
	if p.At == sampling.AtPoint && p.Radius == 0 {
		p.Radius = defaultRadius
	}
	return p
}

// planSettings lists the choices of a plan in the order of the help.
func planSettings() []setting[sampling.Params] {
	type P = sampling.Params
	return []setting[P]{
		{"design", "design", "grid, strata or units", "grid", single, to(parseDesign, func(p *P) *sampling.Design { return &p.Design })},
		{"cell", "area", "area of a grid cell; with strata, the area to aim at", "2.5ac, unless samples are given", single, to(geo.ParseArea, func(p *P) *float64 { return &p.Cell })},
		{"samples", "number", "units to a field; of a grid about, and only where no cell is given", "", single, to(parseCount, func(p *P) *int { return &p.Samples })},
		{"bearing", "degrees", "bearing of the rows of a grid: long for the longest side of the field, or degrees from true north", "long", single, setBearing},
		{"origin", "origin", "where a grid begins: corner, random, or LON,LAT of a corner of cells", "corner", commas, to(parseOrigin, func(p *P) *sampling.Origin { return &p.Origin })},
		{"merge", "share", "a cell clipped under this share of a full one joins a neighbour", "25%", single, setMerge},
		{"even", "bool", "make the cells of a grid equal in area, the clipped ones too", "no", single, to(parseYes, func(p *P) *bool { return &p.Even })},
		{"at", "place", "where a unit's cores lie: cell (anywhere over it), point (round the point of a grid cell) or strata (one in each of as many compact parts of equal area)", "cell", single, to(parseAt, func(p *P) *sampling.At { return &p.At })},
		{"radius", "length", "with at point: how far from it the cores may lie", "8m", single, to(geo.ParseLength, func(p *P) *float64 { return &p.Radius })},
		{"unaligned", "bool", "with at point: move the points by one random share for each row and one for each column, so that none stand in line", "no", single, to(parseYes, func(p *P) *bool { return &p.Unaligned })},
		{"cores", "number", "cores to a composite", "15", single, to(parseCount, func(p *P) *int { return &p.Cores })},
		{"composites", "number", "composites to a unit, each of cores of its own; two or more tell the spread within units", "1", single, to(parseCount, func(p *P) *int { return &p.Composites })},
		{"depth", "layers", "depth of the cores, as 0-8in or 0-20cm; several layers, as 0-2in,2-8in, are samples of their own from the same holes", "0-20cm, in US units 0-8in", commas, to(sampling.ParseDepths, func(p *P) *[]sampling.Depth { return &p.Depths })},
		{"spacing", "length", "least distance between the cores of a unit", "5m", single, setSpacing},
		{"problem-buffer", "length", "no other unit comes nearer to a problem area than this", "5m", single, to(geo.ParseLength, func(p *P) *float64 { return &p.ProblemBuffer })},
		{"comparison", "bool", "sample a band of healthy ground beside each problem area to compare it with", "yes", single, to(parseYes, func(p *P) *bool { return &p.Comparison })},
		{"start", "lon,lat", "gate that the walk begins at; may be repeated, a field takes the nearest", "", places, setStart},
		{"pace", "speed", "of walking, as 4km/h or 2.5mph", "4km/h", single, to(parseSpeed, func(p *P) *float64 { return &p.Pace.Walk })},
		{"core-time", "time", "for one core with everything about it, as 60s or 1m30s", "1m", single, to(parseCoreTime, func(p *P) *float64 { return &p.Pace.Core })},
		{"seed", "number", "seed of every random choice; the same seed gives the same plan", "1", single, to(parseSeed, func(p *P) *uint64 { return &p.Seed })},
	}
}

// planKeys are the keys of a job's plan.
func planKeys() []string { return append([]string{"setback"}, keys(planSettings())...) }

func setBearing(p *sampling.Params, text string) error {
	if text == "long" {
		p.LongSide, p.Bearing = true, nil
		return nil
	}
	b, err := geo.ParseBearing(text)
	if err != nil {
		return fmt.Errorf("%w; or long for the longest side of the field", err)
	}
	p.LongSide, p.Bearing = false, &b
	return nil
}

func setMerge(p *sampling.Params, text string) error {
	v, err := parseShare(text)
	if err == nil {
		p.Merge = v
		if v == 0 {
			p.Merge = -1 // 0 would be what is not said
		}
	}
	return err
}

// setSpacing also has a plan refused that holds the spacing nowhere: it was
// asked for.
func setSpacing(p *sampling.Params, text string) error {
	v, err := geo.ParseLength(text)
	if err == nil {
		p.Spacing, p.KeepSpacing = v, true
	}
	return err
}

func setStart(p *sampling.Params, text string) error {
	at, err := parseLonLat(text)
	if err == nil {
		p.Starts = append(p.Starts, at)
	}
	return err
}

func parseLonLat(s string) (geo.LonLat, error) {
	lon, lat, ok := strings.Cut(s, ",")
	x, errX := parseNumber(strings.TrimSpace(lon))
	y, errY := parseNumber(strings.TrimSpace(lat))
	if !ok || errX != nil || errY != nil {
		return geo.LonLat{}, fmt.Errorf("%q is not a place; write it as longitude,latitude in degrees, as in -93.65,42.03", s)
	}
	if math.Abs(x) > 180 || math.Abs(y) > 90 {
		return geo.LonLat{}, fmt.Errorf("%q is no place on the earth; write longitude,latitude in degrees, the longitude first", s)
	}
	return geo.LonLat{x, y}, nil
}

func parseOrigin(s string) (sampling.Origin, error) {
	switch s {
	case "corner":
		return sampling.Origin{}, nil
	case "random":
		return sampling.Origin{Random: true}, nil
	}
	at, err := parseLonLat(s)
	if err != nil {
		return sampling.Origin{}, fmt.Errorf("origin %q is not known; take corner, random, or longitude,latitude of a corner of cells", s)
	}
	return sampling.Origin{At: &at}, nil
}

func parseAt(s string) (sampling.At, error) {
	if a := sampling.At(s); slices.Contains(sampling.Ats(), a) {
		return a, nil
	}
	return "", fmt.Errorf("cores at %q are not known; take cell, point or strata", s)
}

// parseShare reads 25% or 0.25.
func parseShare(s string) (float64, error) {
	text, percent := strings.CutSuffix(strings.TrimSpace(s), "%")
	v, err := parseNumber(strings.TrimSpace(text))
	if percent {
		v /= 100
	}
	if err != nil || !(v >= 0 && v <= 1) {
		return 0, fmt.Errorf("%q is not a share; write it as 25%%", s)
	}
	return v, nil
}

func parseYes(s string) (bool, error) {
	switch strings.ToLower(s) {
	case "yes", "true", "on":
		return true, nil
	case "no", "false", "off":
		return false, nil
	}
	return false, fmt.Errorf("%q is neither yes nor no", s)
}

// parseSpeed reads 4km/h, 2.5mph or 1.1m/s and returns metres a second.
func parseSpeed(s string) (float64, error) {
	for _, u := range []struct {
		unit   string
		factor float64
	}{{"km/h", 1 / 3.6}, {"mph", 5280 * geo.Foot / 3600}, {"m/s", 1}} {
		text, ok := strings.CutSuffix(strings.TrimSpace(s), u.unit)
		if !ok {
			continue
		}
		if v, err := parseNumber(strings.TrimSpace(text)); err == nil && v > 0 {
			return v * u.factor, nil
		}
	}
	return 0, fmt.Errorf("%q is not a speed; write it with its unit, as in 4km/h or 2.5mph", s)
}

func parseCoreTime(s string) (float64, error) {
	d, err := time.ParseDuration(strings.ReplaceAll(s, " ", ""))
	if err != nil || d < 0 {
		return 0, fmt.Errorf("%q is not a time; write it with its unit, as in 60s or 1m30s", s)
	}
	return d.Seconds(), nil
}

// planParameters are written into the plan. Read back, they are the parameters
// of a plan to come back to.
type planParameters struct {
	Design         sampling.Design `json:"design"`
	CellM2         float64         `json:"cell_m2,omitempty"`
	Samples        int             `json:"samples,omitempty"`
	Bearing        string          `json:"bearing,omitempty"`
	Origin         string          `json:"origin,omitempty"`
	Merge          float64         `json:"merge,omitempty"`
	Even           bool            `json:"even,omitempty"`
	At             sampling.At     `json:"at"`
	RadiusM        float64         `json:"radius_m,omitempty"`
	Unaligned      bool            `json:"unaligned,omitempty"`
	Cores          int             `json:"cores"`
	Composites     int             `json:"composites"`
	SpacingM       float64         `json:"spacing_m"`
	SetbackM       float64         `json:"setback_m"`
	Depth          string          `json:"depth"`
	ProblemBufferM float64         `json:"problem_buffer_m"`
	Comparison     bool            `json:"comparison"`
	WalkMS         float64         `json:"pace_m_s"`
	CoreS          float64         `json:"core_time_s"`
	Start          []geo.LonLat    `json:"start,omitempty"`
	Placement      string          `json:"placement"`
}

func parametersOf(p sampling.Params) planParameters {
	out := planParameters{
		Design: p.Design, CellM2: p.Cell, Samples: p.Samples, At: cmp.Or(p.At, sampling.AtCell), Cores: p.Cores, Composites: max(1, p.Composites),
		SpacingM: p.Spacing, SetbackM: p.Setback, Depth: sampling.DepthsText(p.Depths), ProblemBufferM: p.ProblemBuffer, Comparison: p.Comparison,
		WalkMS: decimals(p.Pace.Walk, 4), CoreS: p.Pace.Core, Start: p.Starts, Placement: placement(p),
	}
	if out.At == sampling.AtPoint {
		out.RadiusM, out.Unaligned = p.Radius, p.Unaligned
	}
	if p.Design != sampling.Grid {
		return out
	}
	out.Even, out.Merge = p.Even, p.Merge
	switch {
	case p.Bearing != nil:
		out.Bearing = plain(*p.Bearing)
	case p.LongSide:
		out.Bearing = "long"
	}
	switch {
	case p.Origin.Random:
		out.Origin = "random"
	case p.Origin.At != nil:
		out.Origin = plain(p.Origin.At.Lon()) + "," + plain(p.Origin.At.Lat())
	default:
		out.Origin = "corner"
	}
	return out
}

// placement says how cores were placed, and where that is not a simple random
// sample.
func placement(p sampling.Params) string {
	var out string
	switch p.At {
	case sampling.AtPoint:
		out = "uniform at random within the radius of each cell's point, kept to the sampleable part of the cell; the points are a systematic sample"
		switch {
		case p.Unaligned:
			out += ", unaligned by random shares for each row and each column"
		case p.Origin.Random:
			out += " with a random origin"
		default:
			out += " from a fixed origin, so that they are no probability sample of the field"
		}
	case sampling.AtStrata:
		out = "one core of each composite uniform at random in each of as many compact strata of equal area of the unit's sampleable part (stratified random)"
	default:
		out = "uniform at random over the sampleable part of each unit"
	}
	if p.Spacing > 0 {
		out += "; each core kept at least the spacing from those before it (sequential inhibition): where cores are dense this evens them out, so that it is not strictly a simple random sample"
	}
	return out
}

// hours writes a time for a person.
func hours(seconds float64) string {
	m := int(math.Round(seconds / 60))
	if m < 60 {
		return strconv.Itoa(m) + " min"
	}
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}
