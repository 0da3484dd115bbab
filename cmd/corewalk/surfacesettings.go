package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/interp"
	"corewalk/interp/variogram"
)

// surfaceParameters say how surfaces are made.
type surfaceParameters struct {
	Analytes []string // as the user names them; empty for all
	Pixel    float64  // m
	Method   method
	IDW      interp.IDW
	Choice   interp.Choice // of the settings in IDW
	// Variogram of kriging.
	Kinds       []variogram.Kind // none for the best fitting
	Estimator   variogram.Estimator
	Detect      bool    // look for an anisotropy
	Azimuth     float64 // of a known one
	Ratio       float64 // 0 for none
	Extrapolate bool
	Split       bool // ground that exclusions cut apart is kept apart
	Formats     []string
	US          bool // feet on pictures
}

// method is how figures are interpolated.
type method string

const (
	byDistance method = "idw"
	byKriging  method = "kriging"
	byAuto     method = "auto"
)

const (
	defaultPixel = 5.0
	defaultPower = 2.0
	defaultNear  = 12
	// Fewer composites than these make no surface: one is a figure, and two
	// are a line between figures.
	fewestComposites = 3
	// Under these a variogram says little (common practice; Webster and Oliver
	// 2007, Geostatistics for Environmental Scientists, ask for 100, from
	// memory).
	fewestForVariogram = 30
)

func defaultSurface() *surfaceParameters {
	return &surfaceParameters{
		Pixel: defaultPixel, Method: byDistance, IDW: interp.IDW{Power: defaultPower, Near: defaultNear}, Formats: []string{"tif"},
	}
}

func (p surfaceParameters) validate() error { return p.IDW.Validate() }

// surfaceSettings lists the choices of surfaces in the order of the help.
func surfaceSettings() []setting[surfaceParameters] {
	type P = surfaceParameters
	return []setting[P]{
		{"analytes", "names", "analytes to map, with commas between", "all", commas, to(parseNames, func(p *P) *[]string { return &p.Analytes })},
		{"pixel", "length", "side of a pixel", "5m", single, to(geo.ParseLength, func(p *P) *float64 { return &p.Pixel })},
		{"method", "method", "idw (inverse distance weighting), kriging (ordinary), or auto: kriging where leaving out says that it is better", "idw", single, to(parseMethod, func(p *P) *method { return &p.Method })},
		{"power", "number|auto", "of the distance; auto is chosen by leaving out", "2", single, setPower},
		{"near", "number|all|auto", "nearest composites that count", "12", single, setNear},
		{"radius", "length|none|auto", "no composite further off counts", "none", single, setRadius},
		{"variogram", "model|auto", "of kriging: spherical, exponential, gaussian, or the best fitting of them", "auto", single, setVariogram},
		{"estimator", "name", "of the experimental variogram: matheron, or cressie-hawkins, which odd figures move less", "matheron", single, to(parseEstimator, func(p *P) *variogram.Estimator { return &p.Estimator })},
		{"anisotropy", "azimuth,ratio|auto|none", "direction in which figures are alike furthest, and the range across it to that along it", "none", commas, setAnisotropy},
		{"extrapolate", "bool", "give ground that lies further than half a cell beyond the composites a value, too", "no", single, to(parseYes, func(p *P) *bool { return &p.Extrapolate })},
		{"split-by-exclusions", "bool", "keep ground apart that exclusions cut apart: no value reaches across", "no", single, to(parseYes, func(p *P) *bool { return &p.Split })},
		{"formats", "names", "tif, asc (ESRI ASCII grid), png and svg (pictures), with commas between", "tif", commas, to(parseFormats, func(p *P) *[]string { return &p.Formats })},
	}
}

func parseNames(s string) ([]string, error) {
	var out []string
	for _, name := range strings.Split(s, ",") {
		if name = strings.TrimSpace(name); name != "" {
			out = append(out, name)
		}
	}
	return out, nil
}

func parseMethod(s string) (method, error) {
	if m := method(s); m == byDistance || m == byKriging || m == byAuto {
		return m, nil
	}
	return "", fmt.Errorf("method %q is not known; take idw, kriging or auto", s)
}

func setPower(p *surfaceParameters, s string) error {
	if p.Choice.Power = s == "auto"; p.Choice.Power {
		p.IDW.Power = defaultPower
		return nil
	}
	v, err := parseNumber(s)
	if err == nil {
		err = interp.IDW{Power: v}.Validate()
	}
	if err == nil {
		p.IDW.Power = v
	}
	return err
}

func setNear(p *surfaceParameters, s string) error {
	p.Choice.Near = s == "auto"
	switch s {
	case "auto", "all":
		p.IDW.Near = 0
		return nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 {
		return fmt.Errorf("near %q is not a number of composites from 1 up; nor all, nor auto", s)
	}
	p.IDW.Near = n
	return nil
}

func setRadius(p *surfaceParameters, s string) error {
	p.Choice.Radius = s == "auto"
	switch s {
	case "auto", "none":
		p.IDW.Radius = 0
		return nil
	}
	v, err := geo.ParseLength(s)
	if err == nil && !(v > 0) {
		err = fmt.Errorf("a radius of %q holds no composite; give a longer one, or none for any distance", s)
	}
	if err == nil {
		p.IDW.Radius = v
	}
	return err
}

func setVariogram(p *surfaceParameters, s string) error {
	if p.Kinds = nil; s == "auto" {
		return nil
	}
	if k := variogram.Kind(s); slices.Contains(variogram.Kinds(), k) {
		p.Kinds = []variogram.Kind{k}
		return nil
	}
	return fmt.Errorf("variogram model %q is not known; take spherical, exponential, gaussian or auto", s)
}

func parseEstimator(s string) (variogram.Estimator, error) {
	switch s {
	case "matheron":
		return variogram.Matheron, nil
	case "cressie-hawkins":
		return variogram.CressieHawkins, nil
	}
	return 0, fmt.Errorf("estimator %q is not known; take matheron or cressie-hawkins", s)
}

func setAnisotropy(p *surfaceParameters, s string) error {
	p.Detect, p.Azimuth, p.Ratio = s == "auto", 0, 0
	if s == "auto" || s == "none" {
		return nil
	}
	azimuth, ratio, _ := strings.Cut(s, ",")
	a, err := parseNumber(strings.TrimSpace(azimuth))
	b, err2 := parseNumber(strings.TrimSpace(ratio))
	if err != nil || err2 != nil || !(a >= 0 && a < 360 && b >= variogram.SmallestRatio && b <= 1) {
		return fmt.Errorf("anisotropy %q is not known; write degrees from north and the ratio of ranges up to 1, as in 30,0.5; or auto, or none", s)
	}
	p.Azimuth, p.Ratio = a, b
	return nil
}

func parseFormats(s string) ([]string, error) {
	out := []string{"tif"} // the later steps read these
	for _, f := range strings.Split(s, ",") {
		f = strings.ToLower(strings.TrimSpace(f))
		switch {
		case !slices.Contains([]string{"tif", "asc", "png", "svg"}, f):
			return nil, fmt.Errorf("format %q is not known; take tif, asc, png and svg", f)
		case !slices.Contains(out, f):
			out = append(out, f)
		}
	}
	return out, nil
}

// text writes how surfaces are made for a person.
func (p surfaceParameters) text(us bool) string {
	auto := func(chosen bool, text string) string {
		if chosen {
			return "chosen by leaving out"
		}
		return text
	}
	out := map[method]string{
		byDistance: "inverse distance weighting", byKriging: "ordinary kriging",
		byAuto: "inverse distance weighting, or ordinary kriging where leaving out says that it is better",
	}[p.Method]
	out += ", power " + auto(p.Choice.Power, plain(p.IDW.Power)) + ", nearest composites " + auto(p.Choice.Near, fmt.Sprint(nearText(p.IDW.Near)))
	if p.Choice.Radius || p.IDW.Radius > 0 {
		out += ", radius " + auto(p.Choice.Radius, lengthText(p.IDW.Radius, us))
	}
	return out + ", pixel " + lengthText(p.Pixel, us)
}

// variogramText writes a model for a person.
func variogramText(m variogram.Model) string {
	if m.PartialSill == 0 {
		return fmt.Sprintf("pure nugget %.3g", m.Nugget)
	}
	text := fmt.Sprintf("%s variogram with nugget %.3g, partial sill %.3g, range %.0f m", m.Kind, m.Nugget, m.PartialSill, m.Range)
	if m.Ratio > 0 && m.Ratio < 1 {
		text += fmt.Sprintf(" along %.0f degrees and %.0f m across", m.Azimuth, m.Range*m.Ratio)
	}
	return text
}
