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

// lengthValue, sizeValue, bearingValue and unitsValue are flag values
// that are refused with the reason while the command line is read.
type lengthValue float64

func (v *lengthValue) Set(s string) (err error) { return set((*float64)(v), geo.ParseLength, s) }
func (v *lengthValue) String() string           { return strconv.FormatFloat(float64(*v), 'f', -1, 64) + "m" }
func (v *lengthValue) Type() string             { return "length" }

func set[T any](to *T, parse func(string) (T, error), s string) error {
	v, err := parse(s)
	if err == nil {
		*to = v
	}
	return err
}

// sizeValue is width by length in metres.
type sizeValue struct{ width, length float64 }

func (v *sizeValue) Set(s string) error { return set(v, parseSize, s) }
func (v *sizeValue) Type() string       { return "size" }
func (v *sizeValue) String() string     { return "" }

// parseSize reads 4ftx8ft or 1.2m x 6m.
func parseSize(s string) (sizeValue, error) {
	w, l, ok := strings.Cut(strings.ToLower(s), "x")
	if !ok {
		return sizeValue{}, fmt.Errorf("%q is not a size; write width x length, as in 4ftx8ft", s)
	}
	width, err := geo.ParseLength(w)
	if err != nil {
		return sizeValue{}, err
	}
	length, err := geo.ParseLength(l)
	if err == nil && !(width > 0 && width <= 1000 && length > 0 && length <= 1000) {
		err = fmt.Errorf("%q is out of range; take sides up to 1000 m", s)
	}
	return sizeValue{width, length}, err
}

type bearingValue float64

func (v *bearingValue) Set(s string) error { return set((*float64)(v), geo.ParseBearing, s) }
func (v *bearingValue) String() string     { return plain(float64(*v)) }
func (v *bearingValue) Type() string       { return "degrees" }

// kindSetbacks reads KIND=LENGTH.
func kindSetbacks(list []string) (map[string]float64, error) {
	out := map[string]float64{}
	for _, s := range list {
		kind, length, ok := strings.Cut(s, "=")
		kind = strings.ToLower(strings.Join(strings.Fields(kind), " "))
		if !ok || kind == "" {
			return nil, fmt.Errorf("%q is not a setback of a kind; write KIND=LENGTH, as in waterway=30m", s)
		}
		v, err := geo.ParseLength(length)
		if err != nil {
			return nil, fmt.Errorf("setback of kind %s: %w", kind, err)
		}
		out[kind] = v
	}
	return out, nil
}

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

func (m measure) distance(metres float64) string {
	if m.us {
		return fmt.Sprintf("%.2f mi", metres/(5280*geo.Foot))
	}
	return fmt.Sprintf("%.2f km", metres/1000)
}

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
	return strings.TrimRight(b.String()[:min(b.Len(), longestSlug)], "-")
}

// longestSlug leaves room for what is put before and behind within the 255 bytes
// of a name on any system.
const longestSlug = 80

// slugs gives every name a slug of its own, whatever the letter case of the
// file system.
func slugs(names []string) []string {
	out := make([]string, len(names))
	next := map[string]int{} // by slug: the number to be tried for the next of that name
	for i, n := range names {
		s := slug(n)
		base := strings.ToLower(s)
		for k := next[base]; k > 0; k++ {
			s = fmt.Sprintf("%s-%d", slug(n), k)
			if next[strings.ToLower(s)] == 0 {
				next[base] = k + 1
				break
			}
		}
		next[strings.ToLower(s)] = max(2, next[strings.ToLower(s)])
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

// columns sets rows in columns, to the left or, as numbers stand, to the right.
func columns(rows [][]string, right bool) []string {
	widths := make([]int, len(rows[0]))
	for _, r := range rows {
		for i, c := range r {
			widths[i] = max(widths[i], len([]rune(c)))
		}
	}
	var out []string
	for _, r := range rows {
		line := ""
		for i, c := range r {
			width := -widths[i]
			if right {
				width = widths[i]
			}
			line += fmt.Sprintf("  %*s", width, c)
		}
		out = append(out, strings.TrimRight(line, " "))
	}
	return out
}
