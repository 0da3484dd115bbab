// Package strata splits ground into compact parts of equal area.
package strata

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"corewalk/geo/plane"
)

const (
	Most          = 300
	placesPerUnit = 30 // places that stand for one stratum while it takes form
	placesBesides = 100
	lloydRounds   = 8
	formsAtMost   = 8       // that are tried on the ground itself
	searchWork    = 160_000 // cells worked out after which the search ends; a second or so
)

// effort is how many forms are tried in search of the most compact one.
type effort struct {
	starts int // from scratch
	shifts int // of one centre of the best so far
}

// The mean squared distance that single starts end with is up to 3 % above the
// least. That of thirty forms is within 1 % of it, of five within 1 or 2 %
// (measured on long, bent, rough, pierced and parted fields with 3 to 100 strata).
var (
	thorough = effort{starts: 8, shifts: 24}
	quick    = effort{starts: 3, shifts: 2}
)

// Compact splits ground into n compact strata of equal area.
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
// Random places give rough forms of it, of which the search takes the best; the
// diagram itself is then cut from the ground and evened out. The areas are equal
// within 1e-4, on the most awkward ground within 5e-3.
//
// The ground is one stratum when n is less than 2 or there is none of it.
func Compact(ground plane.Shape, n int, r *rand.Rand) ([]plane.Shape, error) {
	return stratify(ground, n, r, thorough)
}

// Quick is Compact in a quarter to a third of the time: of areas as equal, but
// up to 1 or 2 % less compact.
func Quick(ground plane.Shape, n int, r *rand.Rand) ([]plane.Shape, error) {
	return stratify(ground, n, r, quick)
}

func stratify(ground plane.Shape, n int, r *rand.Rand, e effort) ([]plane.Shape, error) {
	if n <= 1 || ground.Empty() {
		return []plane.Shape{ground}, nil
	}
	area := ground.Area()
	if n > Most {
		return nil, fmt.Errorf("%d strata are more than can be formed (%d); take fewer samples, or a grid", n, Most)
	}
	if area/float64(n) < 1 {
		return nil, fmt.Errorf("%d strata of %.0f m² would be smaller than 1 m² each; take fewer samples", n, area)
	}
	l := newLand(ground)
	forms := search(l, n, e, r)
	var failed error
	for _, f := range forms[:min(len(forms), formsAtMost)] {
		d := newDiagram(l, f.centers, f.weights)
		if failed = d.settle(); failed == nil {
			return d.shapes(ground)
		}
	}
	return nil, failed
}

// form is a diagram that may become the strata.
type form struct {
	centers []plane.XY
	weights []float64
	value   float64 // mean squared distance to the centres, m²
}

// search returns forms of n strata, the most compact first.
//
// A form at rest is the most compact of those near it only. So several are
// taken from scratch, and then one centre of the best is taken away and put
// down anywhere, over and over (random swap: Franti 2018, Journal of Big Data
// 5:13, doi:10.1186/s40537-018-0122-y, from memory).
func search(l *land, n int, e effort, r *rand.Rand) []form {
	places := drawPlaces(l, placesPerUnit*n+placesBesides, r)
	coarse := l.coarse(math.Sqrt(l.area / float64(n)))
	// A cell costs as much again for each thousand vertices it must be cut from.
	budget := searchWork / (1 + coarse.ground.Vertices()/1000)
	var forms []form
	best, least := 0, math.Inf(1)
	try := func(centers []plane.XY, weights []float64) {
		d := newDiagram(coarse, slices.Clone(centers), slices.Clone(weights))
		d.most = budget
		value := d.relax(1e-2, 3e-5, least)
		budget -= d.work
		if math.IsInf(value, 1) {
			// What it has become is no use; what it was may be on the ground itself.
			d.centers, d.weights = centers, weights
		}
		forms = append(forms, form{d.centers, d.weights, value})
		if value < least {
			best, least = len(forms)-1, value
		}
	}
	for i := 0; i < e.starts && (i == 0 || budget > 0); i++ {
		c := newClusters(places, n, l.area, r)
		c.settle()
		try(c.centers, c.weights)
	}
	for i := 0; i < e.shifts && budget > 0; i++ {
		centers := slices.Clone(forms[best].centers)
		k := r.IntN(n)
		to := places.at[r.IntN(len(places.at))]
		if i%3 > 0 {
			// Parts mostly have their right number already, and it takes long to even
			// out a wrong one.
			part := places.part[places.nearest(centers[k])]
			first, _ := slices.BinarySearch(places.part, part)
			last, _ := slices.BinarySearch(places.part, part+1)
			to = places.at[first+r.IntN(last-first)]
		}
		centers[k] = to
		// Without weights every cell holds its own centre, wherever that is.
		try(centers, make([]float64, n))
	}
	slices.SortStableFunc(forms, func(a, b form) int { return cmp.Compare(a.value, b.value) })
	return forms
}

// places are drawn on the ground to stand for it.
type places struct {
	at   []plane.XY
	part []int // of the ground, in order: the number of the polygon
}

// drawPlaces draws n places, to each polygon its share.
func drawPlaces(l *land, n int, r *rand.Rand) *places {
	p := &places{}
	var sum float64
	for i, polygon := range l.ground {
		drawer := plane.NewDrawer(plane.Shape{polygon})
		sum += drawer.Area()
		for len(p.at) < min(n, int(math.Round(float64(n)*sum/l.area))) {
			at, _ := drawer.Draw(r)
			p.at, p.part = append(p.at, at), append(p.part, i)
		}
	}
	return p
}

// nearest returns the number of the place nearest to q.
func (p *places) nearest(q plane.XY) int {
	best := 0
	for i, at := range p.at {
		if squared(at, q) < squared(p.at[best], q) {
			best = i
		}
	}
	return best
}

// quotas shares n centres among the parts by the number of their places,
// rounded up or down at random.
func (p *places) quotas(n int, r *rand.Rand) []int {
	out := make([]int, p.part[len(p.part)-1]+1)
	u := r.Float64()
	done := 0
	for i, part := range p.part {
		if i == len(p.part)-1 {
			u = 0.5
		}
		if want := int(float64(n)*float64(i+1)/float64(len(p.at)) + u); want > done {
			out[part] += want - done
			done = want
		}
	}
	return out
}

// clusters are the strata while they take form.
type clusters struct {
	places  []plane.XY
	share   float64 // area that one place stands for, m²
	target  float64 // area of a stratum, m²
	centers []plane.XY
	weights []float64 // m²
	member  []int32
}

// newClusters spreads the first centres by k-means++ (Arthur and Vassilvitskii
// 2007): each next one far from those before it. Parts of the ground get as many
// as is their share, for centres hardly find the way from one to another.
func newClusters(p *places, n int, area float64, r *rand.Rand) *clusters {
	c := &clusters{
		places: p.at, share: area / float64(len(p.at)), target: area / float64(n),
		weights: make([]float64, n), member: make([]int32, len(p.at)),
	}
	near := make([]float64, len(p.at))
	for i := range near {
		near[i] = 1
	}
	left := p.quotas(n, r)
	for range n {
		var sum float64
		for i, d := range near {
			if left[p.part[i]] > 0 {
				sum += d
			}
		}
		pick := r.Float64() * sum
		k := -1
		for i, d := range near {
			if left[p.part[i]] > 0 {
				k = i
				if pick -= d; pick < 0 {
					break
				}
			}
		}
		left[p.part[k]]--
		for i, at := range p.at {
			if d := squared(at, p.at[k]); len(c.centers) == 0 || d < near[i] {
				near[i] = d
			}
		}
		c.centers = append(c.centers, p.at[k])
	}
	return c
}

func squared(p, q plane.XY) float64 {
	dx, dy := p[0]-q[0], p[1]-q[1]
	return dx*dx + dy*dy
}

// settle alternates between moving centres to the middle of their places and
// evening out the areas, a few times. The rest is for the diagram to do.
func (c *clusters) settle() {
	for range lloydRounds {
		c.balance(c.assign(), 0.3)
		c.center()
	}
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

// center moves every centre to the mean of its places.
func (c *clusters) center() {
	sums := make([]plane.XY, len(c.centers))
	counts := make([]float64, len(c.centers))
	for i, p := range c.places {
		k := c.member[i]
		sums[k][0] += p[0]
		sums[k][1] += p[1]
		counts[k]++
	}
	for k, n := range counts {
		if n > 0 {
			c.centers[k] = plane.XY{sums[k][0] / n, sums[k][1] / n}
		}
	}
}
