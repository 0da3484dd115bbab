// Package zone turns the classes of a surface, and the patches of it that lie
// beyond a critical limit, into polygons that partition the field exactly.
//
// Positions are metres in the frame of one field, areas square metres of that
// plane. A zone never reaches from one division into another.
//
// The ground is first cut along the sides of the pixels into cells (Grounds);
// that is done once for a field. A zone is a set of cells, and its polygon what
// is left when the lines between cells of one zone are taken away. No overlay is
// made for a zone, so that neighbours have the same vertices, and the outline of
// the ground keeps its own to the last bit. Only the places where a line between
// pixels meets the outline are rounded.
package zone
