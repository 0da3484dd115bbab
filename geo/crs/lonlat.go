package crs

import (
	"math"

	"github.com/paulmach/orb"
)

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

// Rounded returns the shape with all vertices rounded to so many decimals of
// degrees. Vertices that fall together stay, each where it is.
func (s LonLatShape) Rounded(decimals int) LonLatShape {
	step := math.Pow10(decimals)
	out := make(LonLatShape, len(s))
	for i, polygon := range s {
		out[i] = make(orb.Polygon, len(polygon))
		for j, ring := range polygon {
			out[i][j] = make(orb.Ring, len(ring))
			for k, p := range ring {
				out[i][j][k] = orb.Point{math.Round(p[0]*step)/step + 0, math.Round(p[1]*step)/step + 0} // not -0
			}
		}
	}
	return out
}
