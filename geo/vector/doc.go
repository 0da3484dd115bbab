// Package vector reads and writes the map files that growers have: GeoJSON,
// shapefiles, and a zip with one of either.
//
// Reading ends in WGS 84 longitude and latitude in degrees, longitude first,
// whatever the file was in. Nothing is guessed: a coordinate that is missing
// or not a number, a record that is cut short, or a layer that does not say
// what its numbers mean is an error that names the place. What was mended on
// the way (an open ring, say) is told in Layer.Notices.
//
// Rings are handed on as drawn. Whether they cross themselves or each other is
// not looked at here.
package vector
