package vector

import (
	"encoding/json"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

// Type is the kind of value that a column holds.
type Type int

// The kinds of columns. A GeoJSON property that has values of several kinds is
// Text; whole and broken numbers together are Float.
const (
	Text  Type = iota // string
	Int               // int64
	Float             // float64
	Bool              // bool
	Date              // string, as 2006-01-02
)

func (t Type) String() string {
	switch t {
	case Text:
		return "text"
	case Int:
		return "whole number"
	case Float:
		return "number"
	case Bool:
		return "yes or no"
	case Date:
		return "date"
	}
	return "type " + strconv.Itoa(int(t))
}

// Column is one attribute of a layer.
type Column struct {
	Name string
	Type Type
}

// Format is what a layer was read from.
type Format string

// The formats, for a person to read.
const (
	GeoJSON   Format = "GeoJSON"
	Shapefile Format = "shapefile"
)

// Layer is one file, read.
type Layer struct {
	// Path is the file as it was given to Read.
	Path   string
	Format Format
	// CRS is the system that the file's own coordinates are in.
	CRS *crs.System
	// CRSFrom says how CRS was found: the name of a .prj file, "crs member",
	// "GeoJSON (RFC 7946)" or "given".
	CRSFrom string
	Columns []Column
	// Features are in the order of the file.
	Features []Feature
	// Notices tell, one line for each kind, what was mended or left out.
	Notices []string
	// Faults are the same one by one, in the order of the file; the first
	// 10,000 of them.
	Faults []Fault
	// Foreign holds the members of a GeoJSON collection that RFC 7946 does
	// not know, by name. It is nil when there are none.
	Foreign map[string]json.RawMessage
}

// Fault is one thing that was mended or left out.
type Fault struct {
	Place string // as "feature 3 (North), ring 2"; "" for the file as a whole
	What  string
}

const maxFaults = 10_000

// Feature is one record. A feature without geometry has no Shape, Lines or
// Points.
type Feature struct {
	// Index is the place in the file, counted from 1. Rows marked as deleted
	// are counted too.
	Index int
	// ID is the GeoJSON id as text, or "".
	ID string
	// Shape has the polygons, rings as drawn but closed, the shell first.
	Shape crs.LonLatShape
	Lines []crs.LonLatLine
	// Points has single points and the points of multipoints.
	Points []crs.LonLat
	// Native has Points in the layer's own coordinates and unit, in the same
	// order.
	Native []orb.Point
	// Values has one value for each of the layer's columns: string, int64,
	// float64, bool or nil. A Float column may hold int64 too. A GeoJSON whole number beyond int64, an object
	// and an array are strings that hold their JSON text.
	Values []any
}

// Column returns the place of the column called name in Columns, or -1. A name
// in the same letter case wins over one that differs in case only.
func (l *Layer) Column(name string) int {
	found := -1
	for i, c := range l.Columns {
		if c.Name == name {
			return i
		}
		if found < 0 && strings.EqualFold(c.Name, name) {
			found = i
		}
	}
	return found
}

// Text returns the value of a column as text, numbers without exponent and
// without needless decimals (12, not 12.0). It is false when there is no such
// column, in any letter case, or no value.
func (l *Layer) Text(f *Feature, column string) (string, bool) {
	i := l.Column(column)
	if i < 0 || i >= len(f.Values) {
		return "", false
	}
	switch v := f.Values[i].(type) {
	case string:
		return v, true
	case int64:
		return strconv.FormatInt(v, 10), true
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64), true
	case bool:
		return strconv.FormatBool(v), true
	}
	return "", false
}
