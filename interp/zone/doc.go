// Package zone finds the patches of a surface that lie beyond a critical limit
// and draws them as polygons that, with the rest, partition the field exactly.
//
// Positions are metres in the frame of one field, areas square metres of that
// plane. A patch never reaches from one division into another.
package zone
