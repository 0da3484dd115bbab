package zone

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// partition checks that patches are valid, lie in their ground, do not
// overlap, and with the rest make up the ground.
func partition(t *testing.T, ground []Ground, r Result) {
	t.Helper()
	var whole, patches float64
	for _, gr := range ground {
		whole += gr.Shape.Area()
	}
	dust := 1e-9*whole + 1e-9
	byDivision := make([]plane.Shape, len(ground))
	for i, p := range r.Patches {
		if _, mended, err := plane.New(orb.MultiPolygon(p.Shape)); err != nil || mended.Crossing || len(p.Shape) != 1 {
			t.Errorf("patch %d is not one valid polygon: %+v, %v", p.Number, mended, err)
		}
		for k, ring := range p.Shape[0] {
			if (plane.SignedArea(ring) > 0) != (k == 0) {
				t.Errorf("patch %d: ring %d turns the wrong way", p.Number, k)
			}
		}
		if p.Number != i+1 || i > 0 && p.Area > r.Patches[i-1].Area+0.02 {
			t.Errorf("patch %d of %.3f m2 stands at place %d", p.Number, p.Area, i+1)
		}
		if p.Area != p.Shape.Area() {
			t.Errorf("patch %d: %g m2, shape of %g", p.Number, p.Area, p.Shape.Area())
		}
		patches += p.Area
		byDivision[p.Division] = append(byDivision[p.Division], p.Shape...)
	}
	var rest float64
	for i, s := range byDivision {
		in, err := plane.Intersect(s, ground[i].Shape)
		if err != nil || math.Abs(in.Area()-s.Area()) > dust {
			t.Errorf("division %d: %.9f m2 of patches, %.9f in it (%v)", i, s.Area(), in.Area(), err)
		}
		// As one, patches that overlapped would have less.
		var each []plane.Shape
		for k := range s {
			each = append(each, s[k:k+1])
		}
		union, err := plane.Union(each...)
		if err != nil || math.Abs(union.Area()-s.Area()) > dust {
			t.Errorf("division %d: %.9f m2 of patches, %.9f as one (%v)", i, s.Area(), union.Area(), err)
		}
		left, err := plane.Subtract(ground[i].Shape, union)
		if err != nil {
			t.Error(err)
		}
		rest += left.Area()
	}
	if math.Abs(rest-r.Rest.Area) > dust || math.Abs(patches+rest-whole) > dust {
		t.Errorf("%.9f m2 in patches, %.9f left, said to be %.9f, of %.9f", patches, rest, r.Rest.Area, whole)
	}
}

// field makes rough ground with a hole, cut into divisions.
func field(t *testing.T, r *rand.Rand, size float64) []Ground {
	star := func(x, y, radius, rough float64, n int) plane.Shape {
		var ring orb.Ring
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			d := radius * (1 - rough*r.Float64())
			ring = append(ring, orb.Point{x + d*math.Cos(a), y + d*math.Sin(a)})
		}
		return plane.Shape{{append(ring, ring[0])}}
	}
	cx, cy := west+size/2, north-size/2
	whole := star(cx, cy, size/2, 0.7*r.Float64(), 3+r.IntN(60))
	if r.IntN(4) == 0 { // along pixel edges
		whole = box(size/10, 0, 9*size/10, size*0.8)
	}
	whole, err := plane.Subtract(whole, star(cx+size/8, cy, size/9, 0.5, 3+r.IntN(9)))
	if err != nil {
		t.Fatal(err)
	}
	var ground []Ground
	for i := range r.IntN(3) {
		cutter := star(cx+(r.Float64()-0.5)*size, cy+(r.Float64()-0.5)*size, size/2.5, 0.3, 3+r.IntN(8))
		part, err := plane.Intersect(whole, cutter)
		if err == nil {
			whole, err = plane.Subtract(whole, cutter)
		}
		if err != nil {
			t.Fatal(err)
		}
		ground = append(ground, Ground{fmt.Sprint("part ", i), part})
	}
	return append(ground, Ground{"rest", whole})
}

// values makes a surface: waves, noise, or blocks, with gaps at times.
func values(r *rand.Rand, g *raster.Grid) {
	a, b, c := r.Float64(), r.Float64(), r.Float64()
	kind, gaps := r.IntN(3), r.IntN(3) == 0
	for px := range g.Data {
		col, row := float64(px%g.Width), float64(px/g.Width)
		switch kind {
		case 0:
			g.Data[px] = float32(6 + math.Sin(col*a)*math.Cos(row*b) + c*math.Sin((col+row)/5))
		case 1:
			g.Data[px] = float32(5 + 2*r.Float64())
		default:
			g.Data[px] = float32(5 + (px%g.Width/3+px/g.Width/2)%2*2)
		}
		if gaps && r.IntN(10) == 0 {
			g.Data[px] = raster.NoData
		}
	}
}

func randomCase(t *testing.T, seed uint64) (*raster.Grid, []Ground, []int32) {
	r := rand.New(rand.NewPCG(seed, 7))
	n := 5 + r.IntN(35)
	pixel := [...]float64{1, 2.5, 5, 10, 1 / 3.}[r.IntN(5)]
	ground := field(t, r, float64(n)*pixel)
	g := &raster.Grid{Geometry: raster.Geometry{West: west, North: north, Pixel: pixel, Width: n, Height: n, EPSG: 32632}}
	g.Data = make([]float32, n*n)
	values(r, g)
	return g, ground, divide(g, ground)
}

const rounds = 150

func TestPartition(t *testing.T) {
	limit := Limit{"pH", "<", 6}
	found, dropped, places := 0, 0, 0
	for seed := range uint64(rounds) {
		g, ground, division := randomCase(t, seed)
		opt := Options{Smallest: float64(seed%3) * g.Pixel * g.Pixel}
		res, err := Patches(g, ground, division, limit, opt)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		partition(t, ground, res)
		if opt.Smallest == 0 {
			places += compare(t, seed, g, ground, division, res)
		}
		again, err := Patches(g, ground, division, limit, opt)
		if err != nil || !reflect.DeepEqual(res, again) {
			t.Errorf("seed %d: another result the second time (%v)", seed, err)
		}
		found += len(res.Patches)
		dropped += res.Dropped
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
	if found < 10*rounds || dropped < rounds || places < 100*rounds {
		t.Errorf("only %d patches, %d dropped, %d places compared", found, dropped, places)
	}
}

// compare decides for random places of the ground, by the rule in words,
// whether they are beyond the limit. It returns how many it compared.
func compare(t *testing.T, seed uint64, g *raster.Grid, ground []Ground, division []int32, res Result) int {
	r := rand.New(rand.NewPCG(seed, 8))
	places := 0
	for i, gr := range ground {
		if gr.Shape.Empty() {
			continue
		}
		var here plane.Shape
		for _, p := range res.Patches {
			if p.Division == i {
				here = append(here, p.Shape...)
			}
		}
		in, patched := plane.NewLocator(gr.Shape), plane.NewLocator(here)
		var outline plane.Edges
		outline.AddShape(gr.Shape)
		b := gr.Shape.Bound()
		for range 400 {
			p := plane.XY{b.Min[0] + r.Float64()*(b.Max[0]-b.Min[0]), b.Min[1] + r.Float64()*(b.Max[1]-b.Min[1])}
			u, v := (p.X()-g.West)/g.Pixel, (g.North-p.Y())/g.Pixel
			if !in.Contains(p) || outline.Within(p, 1e-5) || math.Abs(u-math.Round(u)) < 1e-5 || math.Abs(v-math.Round(v)) < 1e-5 {
				continue
			}
			best, least := -1, math.MaxInt
			for px, d := range division {
				dc, dr := px%g.Width-int(u), px/g.Width-int(v)
				if q := dc*dc + dr*dr; int(d) == i && q < least {
					best, least = px, q
				}
			}
			want := best >= 0 && g.Data[best] != raster.NoData && g.Data[best] < 6
			if got := patched.Contains(p); got != want {
				t.Errorf("seed %d: (%.3f, %.3f) of %s in a patch: %v, want %v", seed, u, v, gr.Name, got, want)
			}
			places++
		}
	}
	return places
}

func BenchmarkPatches(b *testing.B) {
	for _, kind := range []string{"waves", "noise"} {
		b.Run(kind, func(b *testing.B) {
			r := rand.New(rand.NewPCG(9, 9))
			const n = 500
			g := &raster.Grid{Geometry: raster.Geometry{West: west, North: north, Pixel: 2, Width: n, Height: n}}
			for px := range n * n {
				v := 6 + math.Sin(float64(px%n)/30)*math.Cos(float64(px/n)/40)
				if kind == "noise" {
					v = 5 + 2*r.Float64()
				}
				g.Data = append(g.Data, float32(v))
			}
			var ring orb.Ring
			for i := range 1000 {
				a := 2 * math.Pi * float64(i) / 1000
				d := 499 - 2*r.Float64()
				ring = append(ring, orb.Point{west + 500 + d*math.Cos(a), north - 500 + d*math.Sin(a)})
			}
			ground := []Ground{{"all", plane.Shape{{append(ring, ring[0])}}}}
			division := divide(g, ground)
			for b.Loop() {
				if _, err := Patches(g, ground, division, Limit{"pH", "<", 6}, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
