package sampling

import (
	"math"
	"math/rand/v2"
	"testing"

	"corewalk/geo"
	"corewalk/geo/plane"
)

// surface is a known one: a slope, a bowl and waves.
func surface(p geo.XY) float64 {
	x, y := (p[0]-574_600)/400, (p[1]-4_653_500)/400
	return 5 + 1.5*x - y + 2*x*x + math.Sin(7*x)*math.Cos(5*y)
}

// mean takes the mean of the surface over a shape on a raster of half a metre.
func mean(s plane.Shape) float64 {
	inside := plane.NewLocator(s)
	b := s.Bound()
	sum, n := 0.0, 0
	for y := b.Min[1] + 0.25; y < b.Max[1]; y += 0.5 {
		for x := b.Min[0] + 0.25; x < b.Max[0]; x += 0.5 {
			if p := (geo.XY{x, y}); inside.Contains(p) {
				sum += surface(p)
				n++
			}
		}
	}
	return sum / float64(n)
}

// One core in each of equal strata: the plain mean of the values is unbiased
// for the mean of the field, and it varies less than that of as many cores
// anywhere (de Gruijter, Brus, Bierkens and Knotters 2006, Sampling for Natural
// Resource Monitoring, chapter 7; from memory).
func TestStratifiedMeanIsUnbiased(t *testing.T) {
	f := mustMap(t, bent(t))
	want := mean(f.Sampleable)
	spread := map[Design]float64{}
	for _, c := range []struct {
		design       Design
		units, cores int
	}{{Strata, 12, 1}, {Units, 1, 12}} {
		p := Params{Design: c.design, Samples: 12, Cores: c.cores, Seed: 77}
		fp, err := split(f, p)
		if err != nil {
			t.Fatal(err)
		}
		if len(fp.Units) != c.units {
			t.Fatalf("%s: %d units, want %d", c.design, len(fp.Units), c.units)
		}
		const draws = 2000
		var sum, squares float64
		r := rand.New(rand.NewPCG(5, 55))
		for range draws {
			var m float64
			for _, u := range fp.Units {
				drawn := Unit{Shape: u.Shape, Sampleable: u.Sampleable}
				if err := fp.place(&drawn, p, r); err != nil {
					t.Fatal(err)
				}
				for _, c := range drawn.Cores {
					m += surface(c.At) / 12
				}
			}
			sum += m
			squares += m * m
		}
		got := sum / draws
		spread[c.design] = math.Sqrt(squares/draws - got*got)
		se := spread[c.design] / math.Sqrt(draws)
		t.Logf("%s: mean %.5f of %d draws, %+.2f standard errors from %.5f; a draw varies by %.4f", c.design, got, draws, (got-want)/se, want, spread[c.design])
		if math.Abs(got-want) > 3*se {
			t.Errorf("%s: mean %.5f of %d draws lies more than 3 standard errors of %.5f from %.5f", c.design, got, draws, se, want)
		}
	}
	if spread[Strata] > 0.6*spread[Units] {
		t.Errorf("the mean over strata varies by %.4f, over the field by %.4f", spread[Strata], spread[Units])
	}
}
