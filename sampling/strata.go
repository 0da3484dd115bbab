package sampling

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"corewalk/geo"
	"corewalk/geo/plane"
)

const (
	maxStrata       = 300
	strataStarts    = 8     // of which the most compact is kept
	placesPerUnit   = 100   // places that stand for one stratum while it takes form
	placesLeast     = 2000  // places to a division, at least
	placesMost      = 20000 // and at most
	lloydRounds     = 40
	balanceRounds   = 20
	distancesAtMost = 500_000_000 // from places to centres, measured in all
)

// strata splits ground into n compact strata of equal area.
//
// The strata are the k-means clusters of places on the ground (Brus, Spatjens
// and de Gruijter 1999, Geoderma 89:129-148, doi:10.1016/S0016-7061(98)00132-X;
// Walvoort, Brus and de Gruijter 2010, Computers & Geosciences 36:1261-1267,
// doi:10.1016/j.cageo.2010.04.005) under the side condition of equal size. The
// clusters that have least mean squared distance to their centres under that
// condition are the cells of a power diagram (Aurenhammer, Hoffmann and Aronov
// 1998, Algorithmica 20:61-76), so each stratum is the ground nearest to its
// centre with a weight taken off the squared distance, and its edges are
// straight lines instead of the steps of a raster. DOIs are from memory.
//
// Random places give a rough form; the diagram itself is then cut from the
// ground and evened out.
func strata(ground plane.Shape, n int, r *rand.Rand) ([]plane.Shape, error) {
	if n <= 1 || ground.Empty() {
		return []plane.Shape{ground}, nil
	}
	area := ground.Area()
	if n > maxStrata {
		return nil, fmt.Errorf("%d strata are more than can be formed (%d); take fewer samples, or a grid", n, maxStrata)
	}
	if area/float64(n) < 1 {
		return nil, fmt.Errorf("%d strata of %s would be smaller than 1 m² each; take fewer samples", n, areaText(area))
	}
	d, err := compact(ground, rough(ground, n, strataStarts, r))
	if err != nil {
		return nil, err
	}
	return d.shapes(ground)
}

// compact evens out the most compact of the rough forms and returns the best
// diagram. Evening out costs the more the more strata there are, and changes
// their order the less; so of few strata every form is tried, of many the first
// that can be evened out is taken.
func compact(ground plane.Shape, forms []*clusters) (*diagram, error) {
	const few = 12
	var best *diagram
	var failed error
	least := math.Inf(1)
	for _, c := range forms {
		d := newDiagram(ground, c)
		if err := d.settle(); err != nil {
			failed = err
			continue
		}
		if s := d.meanSquare(); s < least {
			best, least = d, s
		}
		if len(c.centers) > few {
			break
		}
	}
	if best == nil {
		return nil, failed
	}
	return best, nil
}

// rough returns n clusters of places drawn on ground, from several starts, the
// most compact first.
func rough(ground plane.Shape, n, starts int, r *rand.Rand) []*clusters {
	drawer := plane.NewDrawer(ground)
	places := make([]geo.XY, min(max(placesPerUnit*n, placesLeast), placesMost))
	for i := range places {
		places[i], _ = drawer.Draw(r)
	}
	most := distancesAtMost / (len(places) * n) // rounds that can be afforded
	starts = min(max(1, most/(lloydRounds+balanceRounds)), starts)
	rounds := min(max(10, most/starts-balanceRounds), lloydRounds)
	var forms []*clusters
	spreads := map[*clusters]float64{}
	for range starts {
		c := newClusters(places, n, ground.Area(), r)
		c.settle(rounds)
		spreads[c] = c.spread()
		forms = append(forms, c)
	}
	slices.SortStableFunc(forms, func(a, b *clusters) int { return cmp.Compare(spreads[a], spreads[b]) })
	return forms
}

// clusters are the strata while they take form.
type clusters struct {
	places  []geo.XY
	share   float64 // area that one place stands for, m²
	target  float64 // area of a stratum, m²
	centers []geo.XY
	weights []float64 // m²
	member  []int32
}

// newClusters spreads the first centres by k-means++ (Arthur and Vassilvitskii
// 2007): each next one far from those before it.
func newClusters(places []geo.XY, n int, area float64, r *rand.Rand) *clusters {
	c := &clusters{
		places: places, share: area / float64(len(places)), target: area / float64(n),
		weights: make([]float64, n), member: make([]int32, len(places)),
	}
	near := make([]float64, len(places))
	for i := range near {
		near[i] = math.Inf(1)
	}
	c.centers = append(c.centers, places[r.IntN(len(places))])
	for len(c.centers) < n {
		last := c.centers[len(c.centers)-1]
		var sum float64
		for i, p := range places {
			near[i] = min(near[i], squared(p, last))
			sum += near[i]
		}
		pick := r.Float64() * sum
		k := 0
		for k < len(places)-1 && pick >= near[k] {
			pick -= near[k]
			k++
		}
		c.centers = append(c.centers, places[k])
	}
	return c
}

func squared(p, q geo.XY) float64 {
	dx, dy := p[0]-q[0], p[1]-q[1]
	return dx*dx + dy*dy
}

// settle alternates between moving centres to the middle of their places and
// evening out the areas, then evens them out with the centres at rest.
func (c *clusters) settle(rounds int) {
	for range rounds {
		c.balance(c.assign(), 0.3)
		if c.center() < 1e-2*math.Sqrt(c.target) {
			break
		}
	}
	for range balanceRounds {
		c.balance(c.assign(), 0.25)
	}
	c.assign()
}

// assign gives every place to its stratum and returns the areas.
func (c *clusters) assign() []float64 {
	areas := make([]float64, len(c.centers))
	// The squared distance less the square of the place itself, which is the
	// same for every centre. Reckoned about one place for the sake of the digits.
	o := c.places[0]
	type side struct{ x, y, rest float64 }
	sides := make([]side, len(c.centers))
	for k, q := range c.centers {
		x, y := q[0]-o[0], q[1]-o[1]
		sides[k] = side{2 * x, 2 * y, x*x + y*y - c.weights[k]}
	}
	for i, p := range c.places {
		x, y := p[0]-o[0], p[1]-o[1]
		best, least := 0, math.Inf(1)
		for k, s := range sides {
			if d := s.rest - s.x*x - s.y*y; d < least {
				best, least = k, d
			}
		}
		c.member[i] = int32(best)
		areas[best] += c.share
	}
	return areas
}

// balance moves the weights towards equal areas. The area of a stratum grows
// with its weight by half of the sum of edge length over distance between
// centres: about 1.7 for regular hexagons, 2 for squares.
func (c *clusters) balance(areas []float64, step float64) {
	for k, a := range areas {
		c.weights[k] += step * (c.target - a)
	}
}

// center moves every centre to the mean of its places and returns the longest
// move in metres.
func (c *clusters) center() (moved float64) {
	sums := make([]geo.XY, len(c.centers))
	counts := make([]float64, len(c.centers))
	for i, p := range c.places {
		k := c.member[i]
		sums[k][0] += p[0]
		sums[k][1] += p[1]
		counts[k]++
	}
	for k := range c.centers {
		if counts[k] == 0 {
			continue
		}
		to := geo.XY{sums[k][0] / counts[k], sums[k][1] / counts[k]}
		moved = max(moved, to.Distance(c.centers[k]))
		c.centers[k] = to
	}
	return moved
}

// spread is the sum of squared distances to the middles of the strata.
func (c *clusters) spread() float64 {
	c.center()
	var sum float64
	for i, p := range c.places {
		sum += squared(p, c.centers[c.member[i]])
	}
	return sum
}
