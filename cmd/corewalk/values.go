package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/sampling"
)

// lengthValue, areaValue, depthValue, designValue and unitsValue are flag values
// that are refused with the reason while the command line is read.
type lengthValue float64

func (v *lengthValue) Set(s string) (err error) { return set((*float64)(v), geo.ParseLength, s) }
func (v *lengthValue) String() string           { return strconv.FormatFloat(float64(*v), 'f', -1, 64) + "m" }
func (v *lengthValue) Type() string             { return "length" }

type areaValue float64

func (v *areaValue) Set(s string) error { return set((*float64)(v), geo.ParseArea, s) }
func (v *areaValue) Type() string       { return "area" }
func (v *areaValue) String() string {
	if *v == 0 {
		return ""
	}
	return strconv.FormatFloat(float64(*v), 'f', -1, 64) + "m2"
}

func set[T any](to *T, parse func(string) (T, error), s string) error {
	v, err := parse(s)
	if err == nil {
		*to = v
	}
	return err
}

type depthValue sampling.Depth

func (v *depthValue) Set(s string) error { return set((*sampling.Depth)(v), sampling.ParseDepth, s) }
func (v *depthValue) Type() string       { return "depth" }
func (v *depthValue) String() string {
	if v.To == 0 {
		return ""
	}
	return sampling.Depth(*v).String()
}

type designValue sampling.Design

func (v *designValue) Set(s string) error { return set((*sampling.Design)(v), parseDesign, s) }
func (v *designValue) String() string     { return string(*v) }
func (v *designValue) Type() string       { return "design" }

func parseDesign(s string) (sampling.Design, error) {
	if d := sampling.Design(s); slices.Contains(sampling.Designs(), d) {
		return d, nil
	}
	return "", fmt.Errorf("design %q is not known; take grid, strata or units", s)
}

type unitsValue string

func (v *unitsValue) Set(s string) error { return set((*string)(v), parseUnits, s) }
func (v *unitsValue) String() string     { return string(*v) }
func (v *unitsValue) Type() string       { return "us|metric" }

func parseUnits(s string) (string, error) {
	if s == "us" || s == "metric" {
		return s, nil
	}
	return "", fmt.Errorf("units %q are not known; take us or metric", s)
}

// nearValue is a number of neighbours, 0 for all.
type nearValue int

func (v *nearValue) Set(s string) error { return set((*int)(v), parseNear, s) }
func (v *nearValue) Type() string       { return "number|all" }
func (v *nearValue) String() string {
	if *v == 0 {
		return "all"
	}
	return strconv.Itoa(int(*v))
}

func parseNear(s string) (int, error) {
	if s == "all" {
		return 0, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 {
		return 0, fmt.Errorf("near %q is neither a number of composites from 1 up nor all", s)
	}
	return n, nil
}

// splitSetback takes a setback off the end of an exclusion's name: wet.shp@15m.
func splitSetback(s string) (path string, setback float64, given bool) {
	if i := strings.LastIndexByte(s, '@'); i > 0 {
		if v, err := geo.ParseLength(s[i+1:]); err == nil {
			return s[:i], v, true
		}
	}
	return s, 0, false
}

// measure writes lengths and areas for a person.
type measure struct{ us bool }

func (m measure) area(m2 float64) string {
	if m.us {
		return fmt.Sprintf("%.2f ac", m2/geo.Acre)
	}
	return fmt.Sprintf("%.2f ha", m2/geo.Hectare)
}

// slug makes a name fit for a file on any system.
func slug(s string) string {
	var b strings.Builder
	dash := false
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9':
			if dash && b.Len() > 0 {
				b.WriteByte('-')
			}
			dash = false
			b.WriteRune(r)
		default:
			dash = true
		}
	}
	if b.Len() == 0 {
		return "field"
	}
	return b.String()
}

// slugs gives every name a slug of its own, whatever the letter case of the
// file system.
func slugs(names []string) []string {
	out := make([]string, len(names))
	taken := map[string]bool{}
	for i, n := range names {
		s := slug(n)
		for k := 2; taken[strings.ToLower(s)]; k++ {
			s = fmt.Sprintf("%s-%d", slug(n), k)
		}
		taken[strings.ToLower(s)] = true
		out[i] = s
	}
	return out
}

// plain writes a number with a point and without exponent.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// decimals rounds to n decimals.
func decimals(v float64, n int) float64 {
	p := math.Pow(10, float64(n))
	return math.Round(v*p) / p
}
