// Package gpx writes and reads GPX 1.1 files (www.topografix.com/GPX/1/1): the
// waypoints and routes by which a handheld receiver leads to the cores, and the
// waypoints and tracks that it brings back. Positions are WGS 84 degrees.
package gpx

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"corewalk/geo/crs"
)

// Waypoint is a named place.
type Waypoint struct {
	At          crs.LonLat
	Name        string    // what the receiver shows
	Comment     string    // second line on many receivers; may be empty
	Description string    // for programs rather than receivers; may be empty
	Time        time.Time // UTC, zero where there is none; read and not written
}

// Route is a list of places to be passed in order.
type Route struct {
	Name      string
	Waypoints []Waypoint
}

// Track is where a receiver has been. Between two segments it had lost its
// position or was switched off.
type Track struct {
	Name     string // may be empty
	Segments [][]TrackPoint
}

// TrackPoint is a place of a track.
type TrackPoint struct {
	At   crs.LonLat
	Time time.Time // UTC; zero where there is none
}

// Document is the content of one file. Order is kept.
type Document struct {
	Creator           string // the program that wrote the file
	Name, Description string // of the file as a whole; may be empty
	Waypoints         []Waypoint
	Routes            []Route
	Tracks            []Track // read and not written
}

// check returns an error for what the format or receivers do not take.
func (d Document) check() error {
	for _, f := range []struct{ what, text string }{
		{"creator", d.Creator}, {"name of the file", d.Name}, {"description of the file", d.Description},
	} {
		if err := checkText(f.text); err != nil {
			return fmt.Errorf("%s: %w", f.what, err)
		}
	}
	if strings.TrimSpace(d.Creator) == "" {
		return fmt.Errorf("creator is empty: name the program that writes the file")
	}
	places := make(map[string]crs.LonLat, len(d.Waypoints))
	for i, w := range d.Waypoints {
		where := func() string { return fmt.Sprintf("waypoint %d (%q)", i+1, w.Name) }
		if err := w.check(); err != nil {
			return fmt.Errorf("%s: %w", where(), err)
		}
		if _, twice := places[w.Name]; twice {
			return fmt.Errorf("%s: another waypoint has the same name: give each its own", where())
		}
		places[w.Name] = w.At
	}
	for i, r := range d.Routes {
		if err := checkName(r.Name); err != nil {
			return fmt.Errorf("route %d (%q): %w", i+1, r.Name, err)
		}
		for j, w := range r.Waypoints {
			where := func() string { return fmt.Sprintf("route %d (%q), waypoint %d (%q)", i+1, r.Name, j+1, w.Name) }
			if err := w.check(); err != nil {
				return fmt.Errorf("%s: %w", where(), err)
			}
			if at, known := places[w.Name]; known && at != w.At {
				return fmt.Errorf("%s: the same name stands for another place: give each its own", where())
			}
			places[w.Name] = w.At
		}
	}
	return nil
}

func (w Waypoint) check() error {
	if err := checkPosition(w.At); err != nil {
		return err
	}
	if err := checkName(w.Name); err != nil {
		return err
	}
	if err := checkText(w.Comment); err != nil {
		return fmt.Errorf("comment: %w", err)
	}
	if err := checkText(w.Description); err != nil {
		return fmt.Errorf("description: %w", err)
	}
	return nil
}

// checkPosition holds a position against the ranges of the GPX 1.1 schema, which
// has longitude -180 but not 180.
func checkPosition(p crs.LonLat) error {
	if !(p.Lon() >= -180 && p.Lon() < 180) {
		return fmt.Errorf("longitude %g: it must be from -180 to below 180 degrees", p.Lon())
	}
	if !(p.Lat() >= -90 && p.Lat() <= 90) {
		return fmt.Errorf("latitude %g: it must be from -90 to 90 degrees", p.Lat())
	}
	return nil
}

func checkName(s string) error {
	switch {
	case strings.TrimSpace(s) == "":
		return fmt.Errorf("name is empty: give it one")
	case strings.TrimSpace(s) != s:
		return fmt.Errorf("name has space at its ends: take it away")
	case strings.ContainsAny(s, "\n\t"):
		return fmt.Errorf("name has a line end or tab in it: take it out")
	}
	return checkText(s)
}

// checkText refuses what XML cannot hold or receivers choke on. Line feeds and
// tabs are let through.
func checkText(s string) error {
	if !utf8.ValidString(s) {
		return fmt.Errorf("text %.40q is not UTF-8: convert it", s)
	}
	for _, r := range s {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || r == 0xfffe || r == 0xffff {
			return fmt.Errorf("text %.40q holds the control character %U: take it out", s, r)
		}
	}
	return nil
}

// parseDegrees reads a decimal number as XML Schema writes it: no exponent, no
// hexadecimal, no NaN, all of which strconv would take.
func parseDegrees(s string) (float64, error) {
	s = strings.TrimSpace(s)
	digits := strings.TrimLeft(s, "+-")
	if len(s)-len(digits) > 1 || strings.Trim(digits, "0123456789.") != "" {
		return math.NaN(), fmt.Errorf("%.40q is not a number of degrees", s)
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return math.NaN(), fmt.Errorf("%.40q is not a number of degrees", s)
	}
	return v, nil
}
