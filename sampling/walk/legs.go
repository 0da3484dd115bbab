package walk

import "corewalk/geo/plane"

const (
	// tableStops is up to how many stops all distances are kept: 18 MB.
	tableStops = 1500
	// memory is how many of the distances that were asked for last are kept
	// of more stops than that, a power of two: 32 MB.
	memory = 1 << 20
)

// distances are the ways between the stops of a walk, found when asked for.
type distances struct {
	ground *Ground
	stops  []plane.XY
	table  []float64 // by pair, those with no stop first; -1 for one not yet found
	row    int       // of table
	pairs  []uint64  // or the last pair with a place in memory, plus one,
	metres []float64 // and its distance
	far    float64   // without a table, beyond this the crow's way is good enough
}

func newDistances(g *Ground, stops []plane.XY) distances {
	d := distances{ground: g, stops: stops}
	switch n := len(stops); {
	case n <= tableStops:
		d.row = n + 1
		d.table = make([]float64, d.row*d.row)
		for i := 1; i <= n; i++ {
			for j := 1; j <= n; j++ {
				if i != j {
					d.table[i*d.row+j] = -1
				}
			}
		}
	case g != nil && len(g.edges) > 0:
		d.pairs, d.metres = make([]uint64, memory), make([]float64, memory)
	}
	return d
}

// farLegs is how many times as far as a neighbour counts as far.
const farLegs = 10

// d returns the way in metres between two stops; none, as before the first and
// after the last, is no way off.
func (d *distances) d(i, j int32) float64 {
	if v := d.known(i, j); v >= 0 {
		return v
	}
	return d.find(i, j)
}

// known returns the way if it is in the table, else -1.
func (d *distances) known(i, j int32) float64 {
	if d.table == nil {
		return -1
	}
	return d.table[int(i+1)*d.row+int(j+1)]
}

// find works out what is not in the table, if there is one.
func (d *distances) find(i, j int32) float64 {
	if i < 0 || j < 0 || i == j {
		return 0
	}
	if i > j { // so that both directions have the same digits
		i, j = j, i
	}
	if d.table != nil {
		v := d.ground.Distance(d.stops[i], d.stops[j])
		d.table[int(i+1)*d.row+int(j+1)], d.table[int(j+1)*d.row+int(i+1)] = v, v
		return v
	}
	if crow := distance(d.stops[i], d.stops[j]); d.pairs == nil || crow > d.far {
		return crow
	}
	pair := uint64(i)<<32 | uint64(j)
	k := pair * 0x9e3779b97f4a7c15 >> 44
	if d.pairs[k] != pair+1 {
		d.pairs[k], d.metres[k] = pair+1, d.ground.Distance(d.stops[i], d.stops[j])
	}
	return d.metres[k]
}

// least returns a length that the way between two stops is not shorter than:
// the way itself, where it is in the table.
func (d *distances) least(i, j int32) float64 {
	if v := d.known(i, j); v >= 0 {
		return v
	}
	if i < 0 || j < 0 {
		return 0
	}
	return distance(d.stops[i], d.stops[j])
}
