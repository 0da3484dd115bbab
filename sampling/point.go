package sampling

import (
	"math"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// offsets returns where in a cell of a grid, by column and row, its point lies,
// as shares of its sides: in the middle or, unaligned, off by one random share
// for each row and one for each column, so that no two points of a row or a
// column stand in line with it (stratified systematic unaligned sampling:
// Quenouille 1949, Annals of Mathematical Statistics 20:355-375; Berry 1962;
// from memory).
func offsets(field string, p Params) func(column, row int) (a, b float64) {
	if !p.Unaligned {
		return func(int, int) (float64, float64) { return 0.5, 0.5 }
	}
	// The share along a row is one for all of the row, the share across it one
	// for all of the column.
	return func(column, row int) (a, b float64) {
		return stream(p.Seed, field, "row", row).Float64(), stream(p.Seed, field, "column", column).Float64()
	}
}

// around returns the part of a unit's sampleable ground that the cores are
// taken from, round its point. A point off that ground is moved to it, and that
// is said.
func (fp *FieldPlan) around(u *Unit, radius float64) (plane.Shape, error) {
	if !plane.NewLocator(u.Sampleable).Contains(*u.Point) {
		moved := nearestPlace(u.Sampleable, *u.Point)
		scale := fp.Field.Frame.Scale(*u.Point)
		u.note("its point lay off the ground that may be sampled and was moved by %.1f m", moved.Distance(*u.Point)/scale)
		u.Point = &moved
	}
	disc, err := plane.BufferPoint(*u.Point, radius*fp.Field.Frame.Scale(*u.Point))
	if err != nil {
		return nil, err
	}
	return plane.Intersect(u.Sampleable, disc)
}

// nearestPlace is the place of a shape's outline that is nearest to p.
func nearestPlace(s plane.Shape, p geo.XY) geo.XY {
	var best geo.XY
	least := math.Inf(1)
	for _, polygon := range s {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				a, b := geo.XY(ring[i-1]), geo.XY(ring[i])
				dx, dy := b[0]-a[0], b[1]-a[1]
				t := 0.0
				if l := dx*dx + dy*dy; l > 0 {
					t = math.Max(0, math.Min(1, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/l))
				}
				q := geo.XY{a[0] + t*dx, a[1] + t*dy}
				if d := q.Distance(p); d < least-1e-9 {
					best, least = q, d
				}
			}
		}
	}
	return best
}
