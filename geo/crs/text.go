package crs

import (
	"fmt"
	"strconv"
	"strings"
)

// FromText returns the system that a text names or describes: an EPSG code
// ("EPSG:26915", "26915", "urn:ogc:def:crs:EPSG::26915",
// "http://www.opengis.net/def/crs/EPSG/0/26915"), WGS 84 longitude and latitude
// under its OGC name ("OGC:CRS84", "urn:ogc:def:crs:OGC:1.3:CRS84"), or WKT
// (see FromWKT).
func FromText(s string) (*System, error) {
	t := strings.TrimSpace(strings.TrimPrefix(s, "\uFEFF"))
	if t == "" {
		return nil, fmt.Errorf("coordinate system: the text is empty")
	}
	if strings.ContainsAny(t, "[(") {
		return FromWKT(t)
	}
	if strings.HasPrefix(t, "+") || strings.HasPrefix(t, "{") {
		return nil, fmt.Errorf("coordinate system %q: give an EPSG code or WKT", clip(t))
	}
	// What is left are words and numbers with one of : / # between them.
	parts := strings.FieldsFunc(strings.ToLower(t), func(r rune) bool { return strings.ContainsRune(":/#", r) })
	if len(parts) == 0 {
		return nil, fmt.Errorf("coordinate system %q: give an EPSG code or WKT", clip(t))
	}
	last := parts[len(parts)-1]
	switch {
	case last == "crs84", last == "84" && parts[0] == "crs" && len(parts) == 2:
		return FromEPSG(4326)
	case len(parts) > 1 && !authority(parts[:len(parts)-1]):
		return nil, fmt.Errorf("coordinate system %q: only codes of EPSG are known", clip(t))
	}
	code, err := strconv.Atoi(last)
	if err != nil || code <= 0 || last[0] == '+' {
		return nil, fmt.Errorf("coordinate system %q: %q is not an EPSG code", clip(t), clip(last))
	}
	return FromEPSG(code)
}

func authority(parts []string) bool {
	for _, p := range parts {
		if p == "epsg" || p == "epsg.xml" {
			return true
		}
	}
	return false
}

// clip keeps a quotation of a file short.
func clip(s string) string {
	const most = 60
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "..."
}
