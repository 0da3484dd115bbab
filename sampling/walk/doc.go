// Package walk finds short walks: in what order to take sampling units and
// their cores, and how far it is from one place to another round exclusions
// that cannot be walked across, such as ponds. Everything is in metres on the
// plane of one field (easting, northing).
//
// A Ground knows the obstacles and answers with shortest ways; Shortest puts
// stops in order. Both give the same answer to the same question every time.
package walk
