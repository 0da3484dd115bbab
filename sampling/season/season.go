package season

import (
	"corewalk/geo"
	"corewalk/geo/crs"
)

// Season is one round of sampling.
type Season struct {
	Name    string // as "2026 spring", unique in a record
	Date    string // of the sampling, YYYY-MM-DD; empty where it is not known
	Lab     string // empty where it is not known
	Program string // that made it
	Hash    string // sha256 of its content in hex: the same season is not added twice
}

// Observation is one figure of one composite, with the ground that it stands
// for.
type Observation struct {
	Season, Field, Sample string
	UnitNumber            int    // of the sampling unit in its field; 0 where there is none
	Management, Problem   string // part of the field; at most one is there
	Depth                 string // as "0-8in"; empty where it is not known
	Cores                 int    // that went into the composite; 0 where it is not known

	Analyte    string
	Unit       string // of Value
	Method     string // empty where it is not known
	Lab        string // of the season
	Value      float64
	Censored   string  // "<" or ">" where the lab gave a limit; Value is what was computed with
	Replicates int     // rows of the lab that Value is the mean of, at least 1
	Spread     float64 // greatest less least of them

	At    geo.LonLat
	Shape crs.LonLatShape // of the sampling unit; empty where the composite brought its own place
}
