//go:build reference

package interp

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"

	"corewalk/geo/plane"
	"corewalk/interp/variogram"
)

// gstatKriging reads sets of three tables, each followed by a line of dashes: a
// model with its number of neighbours, samples x,y,v and places x,y. For every
// set it writes predictions and variances at the places, then, if asked to, those
// at each sample left out.
const gstatKriging = `
suppressMessages({library(sp); library(gstat)})
lines <- readLines(file("stdin"))
cut <- c(0, which(lines == "---"))
table <- function(i) read.csv(text = lines[(cut[i] + 1):(cut[i + 1] - 1)])
out <- function(x) write(sprintf("%.17g", x), stdout(), ncolumns = 1)
for (s in seq(1, length(cut) - 1, 3)) {
  o <- table(s)
  d <- table(s + 1); coordinates(d) <- ~x+y
  p <- table(s + 2); coordinates(p) <- ~x+y
  near <- if (o$near == 0) Inf else o$near
  m <- vgm(o$sill, o$kind, o$range, o$nugget, anis = c(o$azimuth, o$ratio))
  k <- krige(v ~ 1, d, p, m, nmax = near, debug.level = 0)
  out(rbind(k$var1.pred, k$var1.var))
  if (o$leave == 0) next
  k <- krige.cv(v ~ 1, d, m, nmax = near, debug.level = 0, verbose = FALSE)
  out(rbind(k$observed - k$residual, k$var1.var))
}
`

// TestReferenceKriging compares with R's gstat. It takes any of the samples that
// are equally near where only so many are wanted; those places are passed over.
func TestReferenceKriging(t *testing.T) {
	type set struct {
		name    string
		samples []Sample
		places  []plane.XY
		k       Kriging
		leave   int // 1: each sample out in turn, which takes gstat long
	}
	var sets []set
	r := rand.New(rand.NewPCG(41, 42))
	add := func(name string, samples []Sample, places int, k Kriging, leave bool) {
		s := set{name: name, samples: samples, k: k}
		if leave {
			s.leave = 1
		}
		x, y, _ := columns(samples, 0)
		west, east, south, north := slices.Min(x), slices.Max(x), slices.Min(y), slices.Max(y)
		s.places = append(s.places, samples[0].At)
		for range places {
			s.places = append(s.places, plane.XY{west + (1.2*r.Float64()-0.1)*(east-west), south + (1.2*r.Float64()-0.1)*(north-south)})
		}
		sets = append(sets, s)
	}
	variance := func(samples []Sample) float64 {
		_, _, z := columns(samples, 0)
		var mean, v float64
		for _, z := range z {
			mean += z / float64(len(samples))
		}
		for _, z := range z {
			v += (z - mean) * (z - mean) / float64(len(samples))
		}
		return v
	}
	for _, f := range []struct {
		name    string
		samples []Sample
		reach   float64
	}{{"oxford PH1", oxford(t, "PH1"), 400}, {"oxford MG1", oxford(t, "MG1"), 500}, {"meuse zinc", meuse(t, "zinc"), 500}, {"meuse ln zinc", logZinc(t), 600}} {
		for _, kind := range variogram.Kinds() {
			for _, near := range []int{0, 12} {
				for _, ratio := range []float64{1, 0.4} {
					v := variance(f.samples)
					add(fmt.Sprint(f.name, kind, near, ratio), f.samples, 100, Kriging{Near: near, Variogram: variogram.Model{
						Kind: kind, Nugget: 0.2 * v, PartialSill: 0.8 * v, Range: f.reach, Azimuth: 40, Ratio: ratio}}, kind == variogram.Spherical && ratio < 1)
				}
			}
		}
	}
	for i := range 200 {
		samples, v := field(r, 20+r.IntN(70), 1)
		v.Azimuth = math.Mod(v.Azimuth, 180)
		if v.Kind != variogram.Gaussian && r.IntN(3) == 0 {
			v.Nugget = 0
		}
		add(fmt.Sprint("random ", i), samples, 20, Kriging{Variogram: v, Near: []int{0, 0, 8, 15}[r.IntN(4)]}, i%5 == 0)
	}
	in := &bytes.Buffer{}
	for _, s := range sets {
		v := s.k.Variogram
		ratio := v.Ratio
		if ratio == 0 {
			ratio = 1
		}
		kind := map[variogram.Kind]string{variogram.Spherical: "Sph", variogram.Exponential: "Exp", variogram.Gaussian: "Gau"}[v.Kind]
		fmt.Fprintf(in, "kind,nugget,sill,range,azimuth,ratio,near,leave\n%s,%v,%v,%v,%v,%v,%d,%d\n---\nx,y,v\n", kind, v.Nugget, v.PartialSill, v.Range, v.Azimuth, ratio, s.k.Near, s.leave)
		for _, p := range s.samples {
			fmt.Fprintf(in, "%v,%v,%v\n", p.At[0], p.At[1], p.Value)
		}
		fmt.Fprintln(in, "---\nx,y")
		for _, p := range s.places {
			fmt.Fprintf(in, "%v,%v\n", p[0], p[1])
		}
		fmt.Fprintln(in, "---")
	}
	cmd := exec.Command("Rscript", "-e", gstatKriging)
	cmd.Stdin = in
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("gstat: %v\n%s", err, &stderr)
	}
	numbers := strings.Fields(string(out))
	next := func() float64 {
		if len(numbers) == 0 {
			t.Fatal("gstat wrote too few numbers")
		}
		v, err := strconv.ParseFloat(numbers[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		numbers = numbers[1:]
		return v
	}
	compared, passed, worst := 0, 0, 0.0
	for _, s := range sets {
		m := kriging(t, s.samples, s.k)
		check := func(what string, p plane.XY, without string, value, variance float64) {
			wantValue, wantVariance := next(), next()
			if unclear(s.samples, p, without, s.k.Near) {
				passed++
				return
			}
			compared++
			off := max(math.Abs(value-wantValue)/math.Abs(wantValue), math.Abs(variance-wantVariance)/max(wantVariance, 1e-6*s.k.Variogram.Sill()))
			worst = max(worst, off)
			if !(off <= 1e-8) {
				t.Errorf("%s, %+v, %s: %.15g %.15g, gstat %.15g %.15g", s.name, s.k, what, value, variance, wantValue, wantVariance)
			}
		}
		for _, p := range s.places {
			value, e, _ := m.AtWithError(p, 0)
			check(fmt.Sprint(p), p, "", value, e*e)
		}
		if s.leave == 0 {
			continue
		}
		c, errs := m.CrossValidateWithErrors()
		at := map[string]int{}
		for i, e := range c.Each {
			at[e.ID] = i
		}
		for _, p := range s.samples {
			i := at[p.ID]
			check("without "+p.ID, p.At, p.ID, c.Each[i].Predicted, errs[i]*errs[i])
		}
	}
	if len(numbers) > 0 {
		t.Errorf("gstat wrote %d numbers too many", len(numbers))
	}
	t.Logf("%d figures with variances, worst %.1e; %d passed over for ties", compared, worst, passed)
	if compared < 10_000 {
		t.Errorf("only %d compared", compared)
	}
}

// unclear reports whether the choice of the nearest samples is not a clear one.
func unclear(samples []Sample, p plane.XY, without string, near int) bool {
	var far []float64
	for _, s := range samples {
		if s.ID != without {
			far = append(far, s.At.Distance(p))
		}
	}
	slices.Sort(far)
	return near > 0 && near < len(far) && far[near] <= far[near-1]*(1+1e-6)
}
