package vector

import (
	"fmt"
	"regexp"
	"strings"
)

// authorityCode finds the authority and code in the ways that files write
// them: EPSG:26915, urn:ogc:def:crs:EPSG::26915, urn:ogc:def:crs:EPSG:6.9:26915,
// http://www.opengis.net/def/crs/EPSG/0/26915,
// http://www.opengis.net/gml/srs/epsg.xml#26915, and the same with OGC and
// CRS84.
var authorityCode = regexp.MustCompile(`(?i)^(?:urn:(?:x-)?ogc:def:crs:|https?://www\.opengis\.net/def/crs/|https?://www\.opengis\.net/gml/srs/)?(EPSG|OGC)(?:[:/][0-9.]*[:/]|[:/]|\.xml#)(CRS84|CRS83|CRS27|[0-9]{1,9})$`)

// crsMember reads the crs member that GeoJSON had before RFC 7946, in the form
// {"type":"name","properties":{"name":...}} or
// {"type":"EPSG","properties":{"code":...}}, and returns EPSG:n. An EPSG code of
// degrees is read as longitude, latitude here, whatever its own axis order, as
// every reader does.
func crsMember(text []byte) (string, error) {
	bad := fmt.Errorf("%s is not understood", excerpt(text))
	if !isObject(text) {
		return "", bad
	}
	m, err := members(text)
	if err != nil {
		return "", err
	}
	kind, err := typeOf(m)
	if err != nil || !isObject(m["properties"]) {
		return "", bad
	}
	p, err := members(m["properties"])
	if err != nil {
		return "", err
	}
	var name string
	switch {
	case strings.EqualFold(kind, "name") && !isNull(p["name"]):
		if name, err = stringOf(p["name"]); err != nil {
			return "", err
		}
	case strings.EqualFold(kind, "EPSG") && isNumber(p["code"]):
		name = "EPSG:" + string(p["code"])
	case strings.EqualFold(kind, "EPSG") && !isNull(p["code"]):
		if name, err = stringOf(p["code"]); err != nil {
			return "", err
		}
		name = "EPSG:" + strings.TrimPrefix(name, "EPSG:")
	default:
		return "", bad
	}
	parts := authorityCode.FindStringSubmatch(strings.TrimSpace(name))
	if parts == nil {
		return "", fmt.Errorf("%q is not understood", excerpt([]byte(name)))
	}
	authority, code := strings.ToUpper(parts[1]), strings.ToUpper(parts[2])
	switch {
	case code == "CRS84":
		return "EPSG:4326", nil
	case code == "CRS83":
		return "EPSG:4269", nil
	case code == "CRS27":
		return "EPSG:4267", nil
	case authority == "OGC":
		return "", fmt.Errorf("%q is not understood", name)
	}
	return "EPSG:" + code, nil
}
