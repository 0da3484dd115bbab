package sampling

import (
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// bins are parts of a shape of equal area: it is cut in two by a line from south
// to north, each half by one from west to east, and so on.
type bins struct {
	axis   int
	at     float64
	halves [2]*bins // nil: a bin
	number int
}

// cut cuts a shape so many times and returns its bins, of which there are count
// so far.
func cut(t testing.TB, s plane.Shape, times, axis int, count *int) *bins {
	t.Helper()
	b := &bins{axis: axis, number: *count}
	if times == 0 {
		*count++
		return b
	}
	whole := s.Bound()
	half := func(at float64, upper int) plane.Shape {
		box := whole
		if upper == 1 {
			box.Min[axis] = at
		} else {
			box.Max[axis] = at
		}
		part, err := plane.Intersect(s, plane.Shape{box.ToPolygon()})
		if err != nil {
			t.Fatal(err)
		}
		return part
	}
	low, high := whole.Min[axis], whole.Max[axis]
	for high-low > 1e-5 {
		b.at = (low + high) / 2
		if half(b.at, 0).Area() < s.Area()/2 {
			low = b.at
		} else {
			high = b.at
		}
	}
	for k := range b.halves {
		part := half(b.at, k)
		if !about(part.Area(), s.Area()/2, 0.01) {
			t.Fatalf("a half of %.3f m² is %.3f m²", s.Area(), part.Area())
		}
		b.halves[k] = cut(t, part, times-1, 1-axis, count)
	}
	return b
}

func (b *bins) find(p geo.XY) int {
	for b.halves[0] != nil {
		if p[b.axis] < b.at {
			b = b.halves[0]
		} else {
			b = b.halves[1]
		}
	}
	return b.number
}

const cuts = 6 // makes 64 bins

// unevenness is the chi-squared of counts that should be alike.
func unevenness(counts []int) (sum float64) {
	n := 0
	for _, c := range counts {
		n += c
	}
	expected := float64(n) / float64(len(counts))
	for _, c := range counts {
		sum += (float64(c) - expected) * (float64(c) - expected) / expected
	}
	return sum
}

// limit is what unevenness exceeds once in a thousand times by chance.
func limit(counts []int) float64 {
	return distuv.ChiSquared{K: float64(len(counts) - 1)}.Quantile(0.999)
}

// setBack is an L with a hole, 10 m inside its edges.
func setBack(t testing.TB) *geo.Field {
	o := bent(t)
	o.Setback = 10
	return mustMap(t, o)
}

// Each place of the sampleable area is as likely as any other to become a core.
func TestCoresAreUniformOverTheSampleableArea(t *testing.T) {
	f := setBack(t)
	count := 0
	parts := cut(t, f.Sampleable, cuts, 0, &count)
	const cores, plans = 40, 840
	all := make([]int, count)
	for _, first := range []uint64{0, 1 << 20, 1 << 63} {
		counts := make([]int, count)
		for seed := range uint64(plans) {
			plan := mustMake(t, Params{Design: Units, Cores: cores, Setback: f.Setback, Seed: first + seed}, f)
			for _, c := range plan.Fields[0].Units[0].Cores {
				counts[parts.find(c.At)]++
				all[parts.find(c.At)]++
			}
		}
		got := unevenness(counts)
		t.Logf("seeds from %d: chi-squared %.1f of %d bins, limit %.1f", first, got, count, limit(counts))
		if got > limit(counts) {
			t.Errorf("seeds from %d: chi-squared is %.1f, limit %.1f", first, got, limit(counts))
		}
	}
	got := unevenness(all)
	t.Logf("all %d cores: chi-squared %.1f", 3*cores*plans, got)
	if got > limit(all) {
		t.Errorf("all seeds: chi-squared is %.1f, limit %.1f", got, limit(all))
	}
}

// What would be wrong with placement shows by the same measure, with a third as
// many cores as above.
func TestUnevenPlacementShows(t *testing.T) {
	f := setBack(t)
	count := 0
	parts := cut(t, f.Sampleable, cuts, 0, &count)
	inside := plane.NewLocator(f.Sampleable)
	sampleable, boundary := plane.NewDrawer(f.Sampleable), plane.NewDrawer(f.Boundary)
	b := f.Sampleable.Bound()
	r := rand.New(rand.NewPCG(12, 21))
	draw := func(d *plane.Drawer) geo.XY {
		p, _ := d.Draw(r)
		return p
	}
	for name, c := range map[string]struct {
		place func() geo.XY
		even  bool
	}{
		"uniform": {func() geo.XY { return draw(sampleable) }, true},
		// Columns are alike however long they are.
		"by column": {func() geo.XY {
			x := b.Min[0] + r.Float64()*(b.Max[0]-b.Min[0])
			for {
				if p := (geo.XY{x, b.Min[1] + r.Float64()*(b.Max[1]-b.Min[1])}); inside.Contains(p) {
					return p
				}
			}
		}, false},
		// Places in the setback go to the sampleable place that is nearest of ten.
		"moved out of the setback": {func() geo.XY {
			p := draw(boundary)
			if inside.Contains(p) {
				return p
			}
			best := draw(sampleable)
			for range 9 {
				if q := draw(sampleable); q.Distance(p) < best.Distance(p) {
					best = q
				}
			}
			return best
		}, false},
		// One core in ten is the more southerly of two.
		"drawn south": {func() geo.XY {
			p, q := draw(sampleable), draw(sampleable)
			if r.IntN(10) == 0 && q[1] < p[1] {
				return q
			}
			return p
		}, false},
	} {
		counts := make([]int, count)
		for range 33_600 {
			counts[parts.find(c.place())]++
		}
		got := unevenness(counts)
		t.Logf("%s: chi-squared %.1f of %d bins, limit %.1f", name, got, count, limit(counts))
		if (got <= limit(counts)) != c.even {
			t.Errorf("%s: chi-squared is %.1f, limit %.1f", name, got, limit(counts))
		}
	}
}
