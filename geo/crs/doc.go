// Package crs knows coordinate systems: it reads an EPSG code or the WKT text
// of a .prj file, and carries positions between WGS 84 longitude and latitude
// in degrees and the system's own coordinates.
//
// A coordinate pair is always easting (or longitude) first, whatever order the
// authority gives the axes. Heights are left out everywhere: a vertical part
// of a compound system is ignored.
//
// Nothing is guessed. A datum, a projection or a parameter that is not known
// here is an error that names it. Two kinds of datum are known: those that the
// EPSG Dataset ties to WGS 84 by a null shift of a few metres at most, which
// are taken as WGS 84 (System.Accuracy tells the figure), and a few that it
// ties by a published similarity transformation.
//
// The table of systems, epsg.csv, and of datums, datums.csv, are made from the
// EPSG Dataset by make_epsg.py.
package crs
