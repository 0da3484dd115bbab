package visits

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"corewalk/geo"
)

// lattice returns n by n cores, spacing metres apart.
func lattice(n int, spacing float64) []Core {
	var cores []Core
	for i := range n * n {
		cores = append(cores, Core{fmt.Sprintf("BC%05d", i), i / n, xy(float64(i%n)*spacing, float64(i/n)*spacing)})
	}
	return cores
}

// away returns a place from least to most metres off p.
func away(rng *rand.Rand, p geo.XY, least, most float64) geo.XY {
	sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
	d := least + (most-least)*rng.Float64()
	return geo.XY{p[0] + d*sin, p[1] + d*cos}
}

// Every core marked at less than a third of the spacing is found, with its name
// or without it; those left out are missed, and nothing else is.
func TestEachCoreIsFound(t *testing.T) {
	const spacing = 9.0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 1))
		cores := lattice(15, spacing)
		var marks []Mark
		var missed, core []int
		for i, c := range cores {
			if rng.IntN(4) == 0 {
				missed = append(missed, i)
				continue
			}
			name := c.Name
			if rng.IntN(2) == 0 {
				name = fmt.Sprint(i)
			}
			marks, core = append(marks, Mark{name, away(rng, c.At, 0.06, spacing/3)}), append(core, i)
		}
		got := Match(cores, nil, marks, nil, spacing)
		if !slices.Equal(got.Missed, missed) || len(got.Visits) != len(marks) || got.Strays != nil {
			t.Fatalf("seed %d: %d visits of %d, missed %v, want %v", seed, len(got.Visits), len(marks), got.Missed, missed)
		}
		for _, v := range got.Visits {
			if core[v.Mark] != v.Core || v.At != marks[v.Mark].At || v.Off > spacing/3+1e-9 || v.Far {
				t.Fatalf("seed %d: %+v is core %d", seed, v, core[v.Mark])
			}
		}
	}
}

// muddle returns cores and marks on few positions, so that many distances are
// the same, with names that are right, wrong, twice and none.
func muddle(rng *rand.Rand) ([]Core, []Mark) {
	place := func() geo.XY { return xy(float64(rng.IntN(8)), float64(rng.IntN(8))) }
	var cores []Core
	var marks []Mark
	for i := range rng.IntN(40) {
		cores = append(cores, Core{fmt.Sprint("C", i), rng.IntN(3), place()})
	}
	for range rng.IntN(40) {
		marks = append(marks, Mark{[]string{fmt.Sprint("c", rng.IntN(40)), fmt.Sprint(rng.IntN(5)), ""}[rng.IntN(3)], away(rng, place(), 0.1, 0.1)})
		if rng.IntN(2) == 0 {
			last := &marks[len(marks)-1]
			last.At = place()
			last.At[0] += 0.5
		}
	}
	return cores, marks
}

// The outcome is that of looking at every pair, nearest first, and each core and
// waypoint is in it once.
func TestAgainstEveryPair(t *testing.T) {
	for seed := range uint64(500) {
		rng := rand.New(rand.NewPCG(seed, 2))
		cores, marks := muddle(rng)
		reach := []float64{0.5, 1.5, 3, 100}[rng.IntN(4)]
		got := Match(cores, nil, marks, nil, reach)

		type pair struct {
			d          float64
			core, mark int
		}
		var pairs []pair
		visited, used := map[int]int{}, map[int]bool{}
		for _, v := range got.Visits {
			if v.By == ByName {
				visited[v.Core] = v.Mark
			}
		}
		named := map[string]bool{}
		for _, c := range cores {
			named[folded(c.Name)] = true
		}
		for i, c := range cores {
			for k, m := range marks {
				if d := distance2(c.At, m.At); d <= reach*reach && !named[folded(m.Name)] {
					pairs = append(pairs, pair{d, i, k})
				}
			}
		}
		slices.SortFunc(pairs, func(a, b pair) int {
			p, q := marks[a.mark], marks[b.mark]
			return cmp.Or(cmp.Compare(a.d, b.d), cmp.Compare(a.core, b.core), compare(p.At, q.At), cmp.Compare(p.Name, q.Name), cmp.Compare(a.mark, b.mark))
		})
		for _, p := range pairs {
			if _, ok := visited[p.core]; !ok && !used[p.mark] {
				visited[p.core] = p.mark
				used[p.mark] = true
			}
		}
		if len(visited) != len(got.Visits) {
			t.Fatalf("seed %d: %d visits, want %d", seed, len(got.Visits), len(visited))
		}
		for _, v := range got.Visits {
			if visited[v.Core] != v.Mark {
				t.Fatalf("seed %d: %+v, want mark %d", seed, v, visited[v.Core])
			}
		}
		partition(t, got, len(cores), len(marks))
	}
}

func partition(t *testing.T, o Outcome, cores, marks int) {
	t.Helper()
	c := slices.Concat(o.Unmoved, o.Missed)
	m := slices.Concat(o.Returned, o.Spare, o.Strays)
	for _, v := range o.Visits {
		c = append(c, v.Core)
		if v.Mark >= 0 {
			m = append(m, v.Mark)
		}
	}
	for _, all := range []struct {
		got  []int
		want int
	}{{c, cores}, {m, marks}} {
		slices.Sort(all.got)
		for i, v := range all.got {
			if i != v {
				t.Fatalf("%d is twice or missing in %+v", i, o)
			}
		}
		if len(all.got) != all.want {
			t.Fatalf("%d of %d in %+v", len(all.got), all.want, o)
		}
	}
}

// In another order the waypoints, the tracks, and the points of each segment
// backwards, give the same outcome.
func TestOrderDoesNotMatter(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 3))
		cores, marks := muddle(rng)
		var tracks []Track
		for range 3 {
			var segment []geo.XY
			for range rng.IntN(4) {
				segment = append(segment, xy(float64(rng.IntN(8)), float64(rng.IntN(8))))
			}
			tracks = append(tracks, Track{segment})
		}
		for i := range min(len(cores), rng.IntN(5)) {
			marks = append(marks, Mark{cores[i].Name, cores[i].At})
		}
		want := plain(Match(cores, west, marks, tracks, 1), marks)
		rng.Shuffle(len(marks), func(i, j int) { marks[i], marks[j] = marks[j], marks[i] })
		rng.Shuffle(len(tracks), func(i, j int) { tracks[i], tracks[j] = tracks[j], tracks[i] })
		for _, track := range tracks {
			slices.Reverse(track[0])
		}
		o := Match(cores, west, marks, tracks, 1)
		partition(t, o, len(cores), len(marks))
		if got := plain(o, marks); !reflect.DeepEqual(got, want) {
			t.Fatalf("seed %d:\ngot  %v\nwant %v", seed, got, want)
		}
	}
}

// plain returns an outcome with the waypoints themselves for their indices.
func plain(o Outcome, marks []Mark) []string {
	var out []string
	for _, v := range o.Visits {
		name := "-"
		if v.Mark >= 0 {
			name = marks[v.Mark].Name
		}
		v.Mark = 0
		out = append(out, fmt.Sprintf("%+v %q", v, name))
	}
	out = append(out, fmt.Sprint(o.Unmoved, o.Missed))
	for _, list := range [][]int{o.Returned, o.Spare, o.Strays} {
		var texts []string
		for _, k := range list {
			texts = append(texts, fmt.Sprintf("%+v", marks[k]))
		}
		slices.Sort(texts)
		out = append(out, texts...)
	}
	return out
}

// The nearest place of a track is that of looking at every leg, and no place along
// it is nearer.
func TestNearestOfTrack(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for range 200 {
		var track Track
		for range 1 + rng.IntN(5) {
			var segment []geo.XY
			for range 1 + rng.IntN(10) {
				segment = append(segment, xy(100*rng.Float64(), 100*rng.Float64()))
			}
			track = append(track, segment)
		}
		core := Core{"A", 1, xy(100*rng.Float64(), 100*rng.Float64())}
		got := Match([]Core{core}, nil, nil, []Track{track}, 1000)
		if len(got.Visits) != 1 || math.Abs(got.Visits[0].At.Distance(core.At)-got.Visits[0].Off) > 1e-9 {
			t.Fatalf("got %+v", got)
		}
		least, on := math.Inf(1), math.Inf(1)
		for _, segment := range track {
			for i := range segment {
				a := segment[max(i-1, 0)]
				for s := range 1001 {
					f := float64(s) / 1000
					q := geo.XY{a[0] + f*(segment[i][0]-a[0]), a[1] + f*(segment[i][1]-a[1])}
					least = min(least, q.Distance(core.At))
					on = min(on, q.Distance(got.Visits[0].At))
				}
			}
		}
		if off := got.Visits[0].Off; off > least+1e-9 || least > off+0.08 || on > 0.08 {
			t.Fatalf("off %g, a place of the track is at %g; the visit lies %g off the track", off, least, on)
		}
	}
}

func BenchmarkMatch(b *testing.B) {
	const n = 316 // squared about 100,000
	rng := rand.New(rand.NewPCG(5, 5))
	cores := lattice(n, 10)
	walk := make([]geo.XY, 500_000)
	p := xy(0, 0)
	for i := range walk {
		walk[i] = p
		p[0] += rng.NormFloat64() * 3
		p[1] += rng.NormFloat64()*3 + 0.005
	}
	marks := func(place func(c Core) Mark) []Mark {
		var out []Mark
		for _, c := range cores {
			out = append(out, place(c))
		}
		return out
	}
	for _, c := range []struct {
		name  string
		marks []Mark
		reach float64
	}{
		{"named", marks(func(c Core) Mark { return Mark{c.Name, away(rng, c.At, 0, 3)} }), 10},
		{"near", marks(func(c Core) Mark { return Mark{"", away(rng, c.At, 0, 8)} }), 10},
		{"everywhere", marks(func(Core) Mark { return Mark{"", xy(3160*rng.Float64(), 3160*rng.Float64())} }), 10000},
		{"one-place", marks(func(Core) Mark { return Mark{"", xy(1580.5, 1580.5)} })[:10_000], 10000},
		{"track-only", nil, 10},
		{"track-only-wide", nil, 10000},
	} {
		b.Run(fmt.Sprintf("%s/cores=%d/marks=%d/track=%d", c.name, len(cores), len(c.marks), len(walk)), func(b *testing.B) {
			for b.Loop() {
				Match(cores, west, c.marks, []Track{{walk}}, c.reach)
			}
		})
	}
}
