package sampling

import (
	"math/rand/v2"
	"slices"
	"testing"

	"corewalk/geo"
)

func way(stops []geo.XY, order []int) (sum float64) {
	for i := 1; i < len(order); i++ {
		sum += stops[order[i]].Distance(stops[order[i-1]])
	}
	return sum
}

// nearestNeighbour is the walk always on to the nearest stop left, by itself.
func nearestNeighbour(stops []geo.XY) []int {
	order := []int{0}
	been := map[int]bool{0: true}
	for len(order) < len(stops) {
		at, best := order[len(order)-1], -1
		for k := range stops {
			if !been[k] && (best < 0 || stops[k].Distance(stops[at]) < stops[best].Distance(stops[at])) {
				best = k
			}
		}
		been[best] = true
		order = append(order, best)
	}
	return order
}

func TestOpenWalk(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 3))
	var longer, nearest float64
	for _, n := range []int{0, 1, 2, 3, 4, 7, 20, 60, 150, 300} {
		for range 8 {
			stops := make([]geo.XY, n)
			for i := range stops {
				stops[i] = geo.XY{r.Float64() * 500, r.Float64() * 300}
				if n%2 == 1 { // on a lattice, where many ways are equal
					stops[i] = geo.XY{float64(r.IntN(9)) * 50, float64(r.IntN(9)) * 50}
				}
			}
			before := slices.Clone(stops)
			order := openWalk(stops)
			sorted := slices.Sorted(slices.Values(order))
			for i, k := range sorted {
				if i != k {
					t.Fatalf("n=%d: the walk is no permutation: %v", n, order)
				}
			}
			if len(order) != n || n > 0 && order[0] != 0 {
				t.Fatalf("n=%d: the walk %v does not begin with the first", n, order)
			}
			if n == 0 {
				continue
			}
			got, plain := way(stops, order), way(stops, nearestNeighbour(stops))
			if got > plain+1e-6 {
				t.Errorf("n=%d: %.1f m, nearest neighbour %.1f m", n, got, plain)
			}
			longer, nearest = longer+got, nearest+plain
			if !slices.Equal(order, openWalk(stops)) || !slices.Equal(stops, before) {
				t.Errorf("n=%d: the walk is not the same twice, or the stops were changed", n)
			}
		}
	}
	t.Logf("walks are %.1f %% shorter than nearest neighbour", 100*(1-longer/nearest))
	if longer > 0.97*nearest {
		t.Errorf("walks of %.0f m hardly improve on nearest neighbour's %.0f m", longer, nearest)
	}
}

// By hand: from 0 along a line, the nearest neighbour walks to and fro.
func TestOpenWalkByHand(t *testing.T) {
	stops := []geo.XY{{0, 0}, {-3, 0}, {2, 0}, {6, 0}}
	// 0 2 -3 6 is 16 long; 0 -3 2 6 is 12.
	if got := openWalk(stops); !slices.Equal(got, []int{0, 1, 2, 3}) {
		t.Errorf("walk %v, want 0 1 2 3", got)
	}
}

func TestOrderCores(t *testing.T) {
	cores := []Core{{At: geo.XY{90, 0}}, {At: geo.XY{10, 0}}, {At: geo.XY{50, 0}}}
	end := orderCores(cores, geo.XY{0, 5})
	for i, want := range []float64{10, 50, 90} {
		if cores[i].At[0] != want || cores[i].Number != i+1 {
			t.Errorf("core %d stands at %v as number %d, want %g", i+1, cores[i].At, cores[i].Number, want)
		}
	}
	if end != (geo.XY{90, 0}) {
		t.Errorf("the walk ends at %v", end)
	}
	if end := orderCores(nil, geo.XY{1, 2}); end != (geo.XY{1, 2}) {
		t.Errorf("no cores end at %v", end)
	}
}

func BenchmarkOpenWalk(b *testing.B) {
	r := rand.New(rand.NewPCG(2, 3))
	stops := make([]geo.XY, MaxUnits)
	for i := range stops {
		stops[i] = geo.XY{r.Float64() * 5000, r.Float64() * 5000}
	}
	for b.Loop() {
		openWalk(stops)
	}
}
