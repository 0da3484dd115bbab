// Package season keeps the rounds of sampling of a farm, so that years can be
// compared.
//
// A record is one GeoPackage file (OGC 12-128r17, version 1.3: a SQLite database
// with the tables that the standard prescribes), which any GIS opens. Each season
// lies in it as rows of feature layers (fields, parts of them, sampling units,
// cores, composites, rates; all in WGS 84 degrees, longitude first) and of plain
// tables (seasons, their plans, results, what the files say of themselves). A season
// has one plan or more, as of the fields of a farm; every row tells its own.
//
// A change is one transaction: after a crash or with a full disk the record is as
// it was before or as it was to be. SQLite rolls back what a crash left half done
// when the record is opened next. A single program may write at a time; callers
// see to that with a lock of their own.
package season
