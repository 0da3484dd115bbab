package sampling

import (
	"fmt"
	"math"
	"slices"

	"corewalk/geo"
)

// Design is the way in which a field is split into sampling units.
type Design string

const (
	Grid   Design = "grid"   // cells of one area
	Strata Design = "strata" // compact strata of equal area
	Units  Design = "units"  // one composite for each management unit, or the whole field
)

// Designs lists what Params.Design may be.
func Designs() []Design { return []Design{Grid, Strata, Units} }

// At is where the cores of a unit may lie.
type At string

const (
	AtCell   At = "cell"   // anywhere over the unit
	AtPoint  At = "point"  // round the point of a grid cell
	AtStrata At = "strata" // one in each of as many compact strata of equal area of the unit
)

// Ats lists what Params.At may be.
func Ats() []At { return []At{AtCell, AtPoint, AtStrata} }

// Origin is where a grid begins.
type Origin struct {
	Random bool        // anywhere within one cell
	At     *geo.LonLat // a corner of cells; nil with Random false: the corner of the field's bound along the grid
}

// Params are what a plan is made by. Lengths are true metres, areas true square
// metres. The zero value of what is not said to be needed is a choice of its
// own.
type Params struct {
	Design  Design
	Cell    float64 // area of a grid cell; 0: the field's area over Samples
	Samples int     // units to a field, of a grid about; 0: the field's area over Cell

	// Of a grid. Without LongSide and Bearing it lies along the axes of the
	// frame.
	LongSide  bool     // its rows run along the longest side of the field
	Bearing   *float64 // or on this bearing, degrees clockwise from true north
	Origin    Origin
	Merge     float64 // share of a cell under which a clipped one joins a neighbour; 0: a quarter, below 0: none joins
	Even      bool    // cells of one field are equalised in area
	Unaligned bool    // with AtPoint: the points are off by one random share for each row and each column

	At         At      // "": AtCell
	Radius     float64 // with AtPoint, of the cores about it
	Cores      int     // to a composite
	Composites int     // to a unit, each of its own cores; 0: one
	Depths     []Depth // layers, each a sample of its own; none: not said
	Spacing    float64 // least distance between the cores of a unit
	// KeepSpacing has a plan refused, instead of the spacing relaxed and that
	// said, when no unit at all is large enough for it.
	KeepSpacing bool
	Setback     float64 // from the boundary; the fields were mapped with it

	ProblemBuffer float64 // that no other unit has round a problem area
	Comparison    bool    // a band of healthy ground is sampled beside each problem area

	Starts []geo.LonLat // gates; a field's walk begins at the one that is nearest
	Pace   Pace
	Seed   uint64
}

// Pace is how long the work takes.
type Pace struct {
	Walk float64 // metres a second
	Core float64 // seconds a core
}

// DefaultPace is 4 km/h over stubble and a minute for a core with everything
// about it (common practice, no source).
func DefaultPace() Pace { return Pace{Walk: 4 / 3.6, Core: 60} }

// Duration returns the seconds for a walk with cores.
func (p Pace) Duration(metres float64, cores int) float64 {
	return metres/p.Walk + float64(cores)*p.Core
}

const (
	// MaxUnits bounds the sampling units of one field, as a guard against a
	// cell given in the wrong unit.
	MaxUnits = 20_000
	// MaxCores bounds the cores of a plan.
	MaxCores = 500_000

	maxDepths     = 6
	maxComposites = 9
	maxCores      = 200 // to a composite
	// longestName is what handhelds show of the name of a waypoint (common
	// practice, no source).
	longestName = 10
)

// complete fills in what the zero value stands for.
func (p Params) complete() Params {
	if p.At == "" {
		p.At = AtCell
	}
	if p.Composites == 0 {
		p.Composites = 1
	}
	if len(p.Depths) == 0 {
		p.Depths = []Depth{{}}
	}
	if p.Merge == 0 {
		p.Merge = 0.25
	}
	if p.Pace == (Pace{}) {
		p.Pace = DefaultPace()
	}
	return p
}

// Validate says what is wrong with the parameters.
func (p Params) Validate() error {
	p = p.complete()
	switch p.Design {
	case Grid, Strata:
		if p.Cell <= 0 && p.Samples <= 0 {
			return fmt.Errorf("design %s needs a cell (such as 2.5ac) or a number of samples", p.Design)
		}
	case Units:
	default:
		return fmt.Errorf("design %q is not known; take grid, strata or units", p.Design)
	}
	if p.Cell != 0 && !(p.Cell >= 1) {
		return fmt.Errorf("a cell of %g m² is too small to walk in; check its unit", p.Cell)
	}
	if p.Samples < 0 || p.Samples > MaxUnits {
		return fmt.Errorf("%d samples to a field are out of range; take 1 to %d", p.Samples, MaxUnits)
	}
	if p.Cores < 1 || p.Cores > maxCores {
		return fmt.Errorf("%d cores to a composite are out of range; take 1 to %d (10 to 20 is common practice)", p.Cores, maxCores)
	}
	if p.Composites < 1 || p.Composites > maxComposites {
		return fmt.Errorf("%d composites to a unit are out of range; take 1 to %d", p.Composites, maxComposites)
	}
	for _, l := range []struct {
		what  string
		value float64
	}{{"spacing", p.Spacing}, {"setback", p.Setback}, {"buffer round problem areas", p.ProblemBuffer}, {"radius", p.Radius}} {
		if !(l.value >= 0 && l.value <= 1000) {
			return fmt.Errorf("a %s of %g m is out of range; take 0 to 1000 m", l.what, l.value)
		}
	}
	if !(p.Pace.Walk >= 0.1 && p.Pace.Walk <= 20) || !(p.Pace.Core >= 0 && p.Pace.Core <= 3600) {
		return fmt.Errorf("a pace of %g m/s and %g s a core is out of range; take 0.4 to 70 km/h and up to an hour", p.Pace.Walk, p.Pace.Core)
	}
	for _, s := range p.Starts {
		if !(math.Abs(s.Lon()) <= 180 && math.Abs(s.Lat()) <= 90) {
			return fmt.Errorf("the start %g,%g is no longitude and latitude", s.Lon(), s.Lat())
		}
	}
	if err := p.validateLayers(); err != nil {
		return err
	}
	return p.validateGrid()
}

func (p Params) validateLayers() error {
	if len(p.Depths) > maxDepths {
		return fmt.Errorf("%d depth layers are too many; take up to %d", len(p.Depths), maxDepths)
	}
	for i, d := range p.Depths[1:] {
		above := p.Depths[i]
		if d.Unit != above.Unit {
			return fmt.Errorf("the depth layers %s and %s are in two units; write both in one", above, d)
		}
		if d.From < above.To {
			return fmt.Errorf("the depth layers %s and %s overlap or are not in order; write them from the surface down, as in 0-2in,2-8in", above, d)
		}
	}
	return nil
}

func (p Params) validateGrid() error {
	if !slices.Contains(Ats(), p.At) {
		return fmt.Errorf("cores at %q are not known; take cell, point or strata", p.At)
	}
	if p.Bearing != nil && !(*p.Bearing >= -360 && *p.Bearing <= 360) {
		return fmt.Errorf("a bearing of %g degrees is out of range; take 0 to 360", *p.Bearing)
	}
	if !(p.Merge >= -1 && p.Merge <= 0.9) {
		return fmt.Errorf("merging cells under %g of a full one is out of range; take 0 to 0.9", p.Merge)
	}
	if at := p.Origin.At; at != nil && !(math.Abs(at.Lon()) <= 180 && math.Abs(at.Lat()) <= 90) {
		return fmt.Errorf("the origin %g,%g is no longitude and latitude", at.Lon(), at.Lat())
	}
	switch {
	case p.At == AtPoint && p.Design != Grid:
		return fmt.Errorf("cores round a point need cells, which design %s has not; take design grid, or cores at cell or strata", p.Design)
	case p.At == AtPoint && p.Radius == 0:
		return fmt.Errorf("cores round a point need a radius (such as 10m)")
	case p.Unaligned && p.At != AtPoint:
		return fmt.Errorf("unaligned moves the points of cells, and the cores are not taken round points; take them at point")
	}
	return nil
}
