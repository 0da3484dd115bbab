package sampling

import (
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/plane"
)

const (
	strataStarts    = 5     // of which the most compact is kept
	rasterPerUnit   = 100   // places that stand for one stratum while it takes form
	rasterLeast     = 2000  // places to a division, at least
	rasterMost      = 20000 // and at most
	lloydRounds     = 40
	balanceRounds   = 60
	equalWithin     = 0.002 // share by which the area of a stratum may be off
	polishingRounds = 200
)

// strata splits ground into n compact strata of equal area.
//
// The strata are the k-means clusters of a fine raster of places (Brus,
// Spatjens and de Gruijter 1999, Geoderma 89:129-148, doi:10.1016/S0016-7061(98)00132-X;
// Walvoort, Brus and de Gruijter 2010, Computers & Geosciences 36:1261-1267,
// doi:10.1016/j.cageo.2010.04.005) under the side condition of equal size. The
// clusters that have least mean squared distance to their centres under that
// condition are the cells of a power diagram (Aurenhammer, Hoffmann and Aronov
// 1998, Algorithmica 20:61-76), so each stratum is the ground nearest to its
// centre with a weight taken off the squared distance, and its edges are
// straight lines instead of the steps of the raster. DOIs are from memory.
func strata(ground plane.Shape, n int, r *rand.Rand) ([]plane.Shape, error) {
	if n <= 1 || ground.Empty() {
		return []plane.Shape{ground}, nil
	}
	if area := ground.Area(); area/float64(n) < 1 {
		return nil, fmt.Errorf("%d strata of %s would be smaller than 1 m² each; take fewer samples", n, areaText(area))
	}
	places := rasterise(ground, min(max(rasterPerUnit*n, rasterLeast), rasterMost))
	if len(places) < 2*n {
		return nil, fmt.Errorf("%d strata are too many for ground this narrow; take fewer samples", n)
	}
	var best *clusters
	bestSpread := math.Inf(1)
	for range strataStarts {
		c := newClusters(places, n, ground.Area(), r)
		c.settle()
		if s := c.spread(); s < bestSpread {
			best, bestSpread = c, s
		}
	}
	return best.shapes(ground)
}

// rasterise returns about n places on a square lattice inside ground.
func rasterise(ground plane.Shape, n int) []geo.XY {
	inside := plane.NewLocator(ground)
	b := ground.Bound()
	pitch := math.Sqrt(ground.Area() / float64(n))
	// Ground much narrower than it is long can fall between the places.
	for range 6 {
		var out []geo.XY
		for y := b.Min[1] + pitch/2; y < b.Max[1]; y += pitch {
			for x := b.Min[0] + pitch/2; x < b.Max[0]; x += pitch {
				if p := (geo.XY{x, y}); inside.Contains(p) {
					out = append(out, p)
				}
			}
		}
		if len(out) >= n/2 {
			return out
		}
		pitch /= 1.5
	}
	return nil
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

// assign gives every place to its stratum and returns the areas.
func (c *clusters) assign() []float64 {
	areas := make([]float64, len(c.centers))
	for i, p := range c.places {
		best, least := 0, math.Inf(1)
		for k, q := range c.centers {
			if d := squared(p, q) - c.weights[k]; d < least {
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
func (c *clusters) balance(areas []float64, step float64) (worst float64) {
	for k, a := range areas {
		off := c.target - a
		worst = max(worst, math.Abs(off)/c.target)
		c.weights[k] += step * off
	}
	return worst
}

// settle alternates between moving centres to the middle of their strata and
// evening out the areas, then evens them out with the centres at rest.
func (c *clusters) settle() {
	for range lloydRounds {
		areas := c.assign()
		c.balance(areas, 0.3)
		moved := c.center()
		if moved < 1e-3*math.Sqrt(c.target) {
			break
		}
	}
	for range balanceRounds {
		if c.balance(c.assign(), 0.25) < 2*c.share/c.target {
			break
		}
	}
	c.assign()
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

// shapes evens the areas out exactly and returns the strata, south to north.
func (c *clusters) shapes(ground plane.Shape) ([]plane.Shape, error) {
	frame := ground.Bound().Pad(10)
	areas := make([]float64, len(c.centers))
	cells := make([]orb.Ring, len(c.centers))
	step := 0.25
	before := math.Inf(1)
	for range polishingRounds {
		for k := range c.centers {
			cells[k] = c.cell(k, frame)
			areas[k] = clippedArea(ground, cells[k])
		}
		worst := 0.0
		for _, a := range areas {
			worst = max(worst, math.Abs(a-c.target)/c.target)
		}
		if worst < equalWithin {
			break
		}
		if worst > before {
			step *= 0.9
		}
		before = worst
		c.balance(areas, step)
	}
	var out []plane.Shape
	for _, cell := range cells {
		if len(cell) < 4 {
			continue
		}
		s, err := plane.Intersect(ground, plane.Shape{{cell}})
		if err != nil {
			return nil, err
		}
		if !s.Empty() {
			out = append(out, s)
		}
	}
	return out, nil
}

// cell returns the convex cell of centre k in the power diagram, cut to a
// frame; empty when its neighbours leave it nothing.
func (c *clusters) cell(k int, frame orb.Bound) orb.Ring {
	cell := []geo.XY{geo.XY(frame.Min), {frame.Max[0], frame.Min[1]}, geo.XY(frame.Max), {frame.Min[0], frame.Max[1]}}
	p := c.centers[k]
	for j, q := range c.centers {
		if j == k {
			continue
		}
		// Ground is ours where |x-p|² - wp <= |x-q|² - wq, a half plane.
		nx, ny := q[0]-p[0], q[1]-p[1]
		limit := (squared(p, q) + c.weights[k] - c.weights[j]) / 2
		cell = clip(cell, func(x geo.XY) float64 { return (x[0]-p[0])*nx + (x[1]-p[1])*ny - limit })
		if len(cell) == 0 {
			return nil
		}
	}
	out := make(orb.Ring, 0, len(cell)+1)
	for _, x := range cell {
		out = append(out, orb.Point(x))
	}
	return append(out, out[0])
}

// clip keeps the part of a ring (not closed) where side is not above zero
// (Sutherland and Hodgman 1974).
func clip(ring []geo.XY, side func(geo.XY) float64) []geo.XY {
	var out []geo.XY
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		a, b := side(p), side(q)
		if a <= 0 {
			out = append(out, p)
		}
		if (a < 0 && b > 0) || (a > 0 && b < 0) {
			t := a / (a - b)
			out = append(out, geo.XY{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1])})
		}
	}
	return out
}

// clippedArea returns the area of ground inside a convex counter-clockwise
// cell. Clipping leaves doubled edges where ground falls apart, which carry no
// area, so no overlay is needed.
func clippedArea(ground plane.Shape, cell orb.Ring) float64 {
	if len(cell) < 4 {
		return 0
	}
	var sum float64
	for _, polygon := range ground {
		for _, ring := range polygon {
			part := make([]geo.XY, 0, len(ring))
			for _, p := range ring[:len(ring)-1] {
				part = append(part, geo.XY(p))
			}
			for i := 1; i < len(cell) && len(part) > 0; i++ {
				a, b := cell[i-1], cell[i]
				part = clip(part, func(x geo.XY) float64 { return (b[1]-a[1])*(x[0]-a[0]) - (b[0]-a[0])*(x[1]-a[1]) })
			}
			if len(part) > 2 {
				closed := make(orb.Ring, 0, len(part)+1)
				for _, p := range part {
					closed = append(closed, orb.Point(p))
				}
				sum += plane.SignedArea(append(closed, closed[0]))
			}
		}
	}
	return sum
}
