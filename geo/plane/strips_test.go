package plane

import (
	"errors"
	"slices"
	"testing"

	"github.com/paulmach/orb"
)

func TestPairs(t *testing.T) {
	rnd := random(8)
	for _, long := range []float64{0, 1, 30, 500} {
		var boxes []orb.Bound
		for range 300 {
			p := orb.Point{float64(rnd.IntN(200)), float64(rnd.IntN(200))}
			boxes = append(boxes, orb.Bound{Min: p, Max: orb.Point{p[0] + long*rnd.Float64(), p[1] + long*rnd.Float64()}})
		}
		type pair [2]int32
		var got, want []pair
		budget := 1_000_000
		if err := pairs(boxes, &budget, func(i, j int32) bool {
			got = append(got, pair{min(i, j), max(i, j)})
			return true
		}); err != nil {
			t.Fatal(err)
		}
		for i := range boxes {
			for j := range i {
				if boxes[i].Intersects(boxes[j]) {
					want = append(want, pair{int32(j), int32(i)})
				}
			}
		}
		order := func(a, b pair) int { return slices.Compare(a[:], b[:]) }
		slices.SortFunc(got, order)
		slices.SortFunc(want, order)
		if !slices.Equal(got, want) {
			t.Errorf("length %g: %d pairs, want %d", long, len(got), len(want))
		}
		n := 0
		budget = 1_000_000
		if err := pairs(boxes, &budget, func(_, _ int32) bool { n++; return false }); err != nil || n > 1 {
			t.Errorf("went on after it was told to stop: %d, %v", n, err)
		}
	}
	// Boxes that all lie over each other end at the budget.
	boxes := make([]orb.Bound, 50_000)
	for i := range boxes {
		boxes[i] = orb.Bound{Max: orb.Point{float64(i), 1e6}}
	}
	budget := 1_000_000
	if err := pairs(boxes, &budget, func(_, _ int32) bool { return true }); !errors.Is(err, errTooTangled) {
		t.Errorf("%v", err)
	}
}

// A field of long level or upright edges takes little memory.
func TestStripsMemory(t *testing.T) {
	const teeth = 100_000
	var r orb.Ring
	for i := range teeth {
		x := float64(i)
		r = append(r, orb.Point{x, 0.5}, orb.Point{x + 0.5, 1000})
	}
	r = append(r, orb.Point{teeth, 0}, orb.Point{0, 0}, r[0])
	l := NewLocator(Shape{{r}})
	if n := len(l.edges); n > 12*len(r)+1<<18 {
		t.Errorf("%d edges in the strips of %d", n, len(r))
	}
	for i := range 100 {
		x := float64(i * teeth / 100)
		if !l.Contains(XY{x + 0.5, 999}) || l.Contains(XY{x + 1, 999}) {
			t.Fatalf("wrong at tooth %d", i)
		}
	}
}
