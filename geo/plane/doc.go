// Package plane does polygon work in metres: overlay, buffer, containment,
// distance, repair, and drawing uniform random places. It knows nothing of
// longitude and latitude; a geo.Frame brings those into metres and back.
//
// Overlay and buffer are simplefeatures' port of JTS. Repair, which that lacks,
// and everything that decides whether a core may stand where it stands
// (containment, distance, the uniform draw) is written here, so that it can be
// checked against GEOS as a second opinion.
package plane
