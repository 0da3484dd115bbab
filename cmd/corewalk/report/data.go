// Package report writes the page that a run ends with: one HTML file with
// everything in it, no request to anywhere.
package report

import (
	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/interp"
	"corewalk/sampling/lab"
)

// Data is all that the page shows. Shapes and places are in metres in the frame
// of their field; areas are true square metres.
type Data struct {
	Farm       string
	US         bool   // show acres, feet and inches first
	Parameters []Fact // how the plan and the surfaces were made, in order
	Fields     []Field
	Reckoning  *lab.Reckoning // nil when there are no results yet
	Notices    []string       // what was mended or assumed on the way
	Cautions   []string       // of rates, in the order to be read
	Seasons    *Seasons       // nil where there is no earlier one
}

// Seasons is what changed from earlier seasons to this one.
type Seasons struct {
	Names   []string // from the earliest
	Changes []Change // of fields, then of grounds
	Apart   []string // what was not compared, and why
	Notes   []string
}

// Change is what became of one figure of a field or a ground, in words.
type Change struct {
	Field, Sample, Part string // Sample is empty for the whole field
	Analyte, Unit       string
	Values              []string // by season, as Names has them; empty where there is none
	Since, Yearly       string   // since the season before; each year, where that is known
	Expected            string   // since the season before, by what crops take off; may be empty
	Told                bool     // since the season before, from noise
	Notes               []string
}

// Fact is a labelled line.
type Fact struct{ Label, Text string }

// Field is one field with its units and its maps.
type Field struct {
	Name           string
	System         string                             // of the frame, as "WGS 84 / UTM zone 15N (EPSG:32615)"
	LonLat         func(plane.XY) (geo.LonLat, error) // out of the frame; nil where that is not known
	Boundary       plane.Shape
	Exclusions     []geo.Exclusion
	Divisions      []geo.Division
	Area           float64 // inside the boundary
	SampleableArea float64
	Units          []Unit
	Analytes       []Analyte // empty when there are no results yet
	Means          []Mean
	Comparisons    []Comparison
	Meetings       []Meeting
	Rates          []Rate  // one for each product
	Walk           float64 // true metres of the planned walk; 0 without a plan
	Time           float64 // seconds for it and the cores
	Notes          []string
}

// Mean is that of one analyte over the healthy ground of a field or of one of
// its management units. SE, Low and High are NaN where there is none.
type Mean struct {
	Analyte, Unit       string
	Part                string // management unit, empty for the field
	Mean, SE, Low, High float64
	Confidence, Covered float64
	Units, Composites   int
	Method              string
}

// Comparison holds a problem area against the healthy ground beside it. Main is
// the mean of the ground round both, NaN where there is none.
type Comparison struct {
	Problem, Analyte, Unit           string
	Samples, With                    []string
	Value, Healthy, Difference, Main float64
}

// Unit is a sampling unit, or a composite that brought its own coordinates (no
// Shape, no Cores).
type Unit struct {
	ID       string
	Division string // "management unit corn", "problem area bare patch" or ""
	Problem  bool   // it is a problem area
	Beside   string // of healthy ground, the problem area that it is compared with
	Depth    string // where the plan has several layers
	Shape    plane.Shape
	Cores    []plane.XY
	At       plane.XY // the place the composite stands for
	Area     float64
	Notes    []string
	Missing  bool // it is in the plan, and the lab's file has no row for it
}

// Analyte is one figure over one field.
type Analyte struct {
	Name, Unit, Method string
	Values             []Value      // by composite, those that have one
	Grid               *raster.Grid // nil when no surface was made
	How                string       // settings of the surface in words
	Chosen             []string     // those of them that were found by leaving out composites
	Masked             float64      // share of the ground without a value, too far from the composites
	CrossValidation    interp.CrossValidation
	Supported          bool
	Drawings           []Drawing // of what leaving out composites showed
	Basis              string    // of patches and zones: "surface" or "sampling units"
	Patches            []PatchSet
	Zoning             *Zoning // nil when there are no zones
}

// Drawing is a whole SVG document.
type Drawing struct {
	Alt string // what it shows, for those who do not see it
	SVG []byte
}

// Value is the figure of one composite. Where the lab gave a limit, it is the
// one that was computed with: half of a lower limit, an upper limit itself.
type Value struct {
	ID       string
	Value    float64
	Censored string // "<" or ">" when the lab gave a limit
}

// PatchSet is what lies beyond one limit, and the field without it.
type PatchSet struct {
	Limit   string // as "pH < 6.0"
	Patches []Patch
	Rest    Figures
	Dropped int // patches under the smallest size
}

// Patch is contiguous ground beyond a limit.
type Patch struct {
	ID      string
	Shape   plane.Shape
	Samples []string // composites taken inside
	Chance  float64  // that a place in it is beyond the limit, NaN where it is not known
	Without float64  // mean of the field without it, NaN where there is none
	Figures
}

// Meeting is ground that patches of two analytes share.
type Meeting struct {
	Patches [2]string // ids
	Area    float64
}

// Zoning is a field cut into zones of one analyte.
type Zoning struct {
	Source  string // of the limits; empty where they were given
	Classes []ZoneClass
	Zones   []Zone
	Merged  int     // that were too small or too narrow and joined a neighbour
	Ground  float64 // what is to be covered
	Sum     float64 // of the areas of the zones
}

// ZoneClass is one class of an analyte and what lies in it. All classes are
// there, from low to high, also those without a zone.
type ZoneClass struct {
	Limits string // as "5.5 to 6"
	Name   string // may be empty
	Zones  int
	Area   float64
	Mean   float64 // NaN where there is none
}

// Zone is contiguous ground of one class. Where Class is none of those there
// are, as -1, its ground has no value.
type Zone struct {
	Class int // in Zoning.Classes
	Shape plane.Shape
	Area  float64
}

// Figures are those of a surface over some ground. Mean, Least and Greatest are
// NaN where there is none.
type Figures struct {
	Area                  float64
	Mean, Least, Greatest float64
	Composites            int     // taken inside
	CompositesMean        float64 // NaN when there is none
}

// Rate is what one product is spread at over one field.
type Rate struct {
	Product string // empty where none was chosen: rates are of what Of says
	Of      string // what tables count: CaCO3, P2O5
	Basis   string // how the ground was cut: "zones of pH", "sampling units"
	Tables  []RateTable
	Grounds []RatedGround
	Money   string  // currency, may be empty
	Balance         // with a rate by ground
	Uniform float64 // kg/ha, the one rate from the mean of the field; NaN where there is none, or it differs by crop
	Notes   []string
}

// RateTable is a recommendation table that rates come from.
type RateTable struct {
	Name, Source, Verified, Note string
}

// RatedGround is a zone or sampling unit with its rate.
type RatedGround struct {
	ID       string
	Division string // as in Unit
	Crop     string // with its yield goal; may be empty
	Shape    plane.Shape
	Area     float64
	Rate     float64 // kg/ha of product, all dressings together; NaN where there is none
	Passes   int     // dressings that it is spread in
	Uniform  float64 // kg/ha that one rate would put here; NaN where there is none
	Needs    string  // what the tables ask for: "2100 lb/ac of CaCO3"
	Class    string  // of the soil test, where the table has classes
	Reason   string  // why the rate is 0
	Refused  string  // why there is none
}

// Balance compares rates by ground with one rate for all of it. Masses are kg
// of product, areas true square metres.
type Balance struct {
	Area, NoRate        float64 // with a rate and without
	Mass, UniformMass   float64
	Cost, UniformCost   float64 // NaN where the product has no price
	Over, Under         float64 // mass that the one rate would spread too much, and leave out
	OverArea, UnderArea float64 // where it would
}
