package crs

import "github.com/paulmach/orb"

// LonLat is a position in degrees on WGS 84, longitude first (east positive),
// as in GeoJSON. It is a type of its own so that degrees are never taken for
// metres: plane.XY is the other one.
type LonLat orb.Point

// Lon returns the longitude in degrees, east positive.
func (p LonLat) Lon() float64 { return p[0] }

// Lat returns the latitude in degrees, north positive.
func (p LonLat) Lat() float64 { return p[1] }

// LonLatShape is a set of polygons in WGS 84 degrees. Each polygon is a list
// of closed rings, its shell first. Which way the rings turn is not promised.
type LonLatShape orb.MultiPolygon

// LonLatLine is a line in WGS 84 degrees.
type LonLatLine orb.LineString
