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
)

// gstatScript reads sets from standard input, each of three tables that end in
// a line of dashes: settings, samples and places. For every set and each of its
// settings it writes the predictions at the places and, where loo says so, the
// leave-one-out ones.
const gstatScript = `
suppressMessages({library(sp); library(gstat)})
lines <- readLines(file("stdin"))
cut <- c(0, which(lines == "---"))
table <- function(i) read.csv(text = lines[(cut[i] + 1):(cut[i + 1] - 1)])
for (s in seq(1, length(cut) - 1, 3)) {
  settings <- table(s)
  d <- table(s + 1); coordinates(d) <- ~x+y
  p <- table(s + 2); coordinates(p) <- ~x+y
  for (i in seq_len(nrow(settings))) {
    near <- if (settings$near[i] == 0) Inf else as.numeric(settings$near[i])
    radius <- if (settings$radius[i] == 0) Inf else as.numeric(settings$radius[i])
    o <- idw(v ~ 1, d, p, idp = settings$power[i], nmax = near, maxdist = radius, debug.level = 0)$var1.pred
    if (settings$loo[i]) {
      k <- krige.cv(v ~ 1, d, set = list(idp = settings$power[i]), nmax = near, maxdist = radius, debug.level = 0, verbose = FALSE)
      o <- c(o, k$observed - k$residual)
    }
    write(sprintf("%.17g", o), stdout(), ncolumns = 1)
  }
}
`

// gstatSet is a set of samples of one division, and what gstat is asked about.
type gstatSet struct {
	name     string
	samples  []Sample
	places   []plane.XY
	settings []IDW
	loo      bool
}

// TestReferenceGstat compares with R's gstat. It takes any of the samples that are
// equally near where only so many are wanted; those places are passed over.
func TestReferenceGstat(t *testing.T) {
	settings := []IDW{
		{Power: 1, Near: 0}, {Power: 2, Near: 0}, {Power: 2.7, Near: 0}, {Power: 4, Near: 0}, {Power: 2, Near: 8}, {Power: 3.5, Near: 12},
		{Power: 2, Radius: 400}, {Power: 2, Near: 5, Radius: 250},
	}
	var sets []gstatSet
	for _, v := range []string{"PH1", "PHOS1", "POT1", "MG1"} {
		sets = append(sets, gstatSet{name: "oxford " + v, samples: oxford(t, v), settings: settings, loo: true})
	}
	for _, v := range []string{"zinc", "om"} {
		sets = append(sets, gstatSet{name: "meuse " + v, samples: meuse(t, v), settings: settings, loo: true})
	}
	for i := range sets {
		sets[i].places = around(sets[i].samples, 300)
	}
	compared := againstGstat(t, sets)
	if compared < 10_000 {
		t.Errorf("only %d figures compared", compared)
	}
}

// TestReferenceGstatRandom does it with 200 sets of random size and settings.
func TestReferenceGstatRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	var sets []gstatSet
	for i := range 200 {
		n := 2 + int(400*math.Pow(r.Float64(), 3))
		side := math.Pow(10, 1+3*r.Float64())
		samples := invented(n, side, uint64(i))
		for k := range samples {
			samples[k].At[0] += 500000
			samples[k].At[1] += 5400000
		}
		idw := IDW{Power: 0.25 + 5.75*r.Float64()}
		if i%3 == 0 {
			idw.Power = float64(1 + i/3%4)
		}
		if i%4 > 0 {
			idw.Near = 1 + r.IntN(20)
		}
		if i%5 > 2 {
			idw.Radius = side * (0.02 + 0.4*r.Float64())
		}
		sets = append(sets, gstatSet{
			name: fmt.Sprintf("%d places in %.0f m", n, side), samples: samples, places: around(samples, 100), settings: []IDW{idw},
		})
	}
	compared := againstGstat(t, sets)
	if compared < 15_000 {
		t.Errorf("only %d figures compared", compared)
	}
}

// againstGstat compares with gstat's answers and returns how many figures were
// compared.
func againstGstat(t *testing.T, sets []gstatSet) (compared int) {
	var in bytes.Buffer
	for _, s := range sets {
		fmt.Fprintln(&in, "power,near,radius,loo")
		for _, idw := range s.settings {
			fmt.Fprintf(&in, "%v,%d,%v,%s\n", idw.Power, idw.Near, idw.Radius, strings.ToUpper(strconv.FormatBool(s.loo)))
		}
		fmt.Fprintln(&in, "---\nx,y,v")
		for _, v := range s.samples {
			fmt.Fprintf(&in, "%v,%v,%v\n", v.At.X(), v.At.Y(), v.Value)
		}
		fmt.Fprintln(&in, "---\nx,y")
		for _, p := range s.places {
			fmt.Fprintf(&in, "%v,%v\n", p.X(), p.Y())
		}
		fmt.Fprintln(&in, "---")
	}
	cmd := exec.Command("Rscript", "-e", gstatScript)
	cmd.Stdin = &in
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("gstat: %v\n%s", err, &stderr)
	}
	rows := strings.Fields(string(out))
	worst := 0.0
	for _, s := range sets {
		for _, idw := range s.settings {
			n := len(s.places)
			if s.loo {
				n += len(s.samples)
			}
			if len(rows) < n {
				t.Fatal("gstat wrote too few rows")
			}
			t.Run(fmt.Sprintf("%s %+v", s.name, idw), func(t *testing.T) {
				c, w := against(t, rows[:n], s, idw)
				compared, worst = compared+c, max(worst, w)
			})
			rows = rows[n:]
		}
	}
	if len(rows) > 0 {
		t.Errorf("gstat wrote %d rows too many", len(rows))
	}
	t.Logf("%d figures, worst %.1e", compared, worst)
	return compared
}

// around returns n random places in and round the samples, and one on a sample.
func around(samples []Sample, n int) []plane.XY {
	west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range samples {
		west, east = min(west, s.At.X()), max(east, s.At.X())
		south, north = min(south, s.At.Y()), max(north, s.At.Y())
	}
	r := rand.New(rand.NewPCG(5, 6))
	places := []plane.XY{samples[len(samples)/2].At}
	for range n {
		places = append(places, plane.XY{west + (1.2*r.Float64()-0.1)*(east-west), south + (1.2*r.Float64()-0.1)*(north-south)})
	}
	return places
}

// against compares with gstat's predictions at the places and at the samples,
// and returns how many and the largest difference, by ratio.
func against(t *testing.T, rows []string, s gstatSet, idw IDW) (compared int, worst float64) {
	m := model(t, s.samples, idw)
	check := func(what string, got float64, ok bool, row int) {
		compared++
		if rows[row] == "NA" || !ok {
			if rows[row] != "NA" || ok {
				t.Errorf("%s: %g, %v, gstat %s", what, got, ok, rows[row])
			}
			return
		}
		want, err := strconv.ParseFloat(rows[row], 64)
		if err != nil {
			t.Fatal(err)
		}
		worst = max(worst, math.Abs(got-want)/math.Abs(want))
		if math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s: %.15g, gstat %.15g", what, got, want)
		}
	}
	for i, p := range s.places {
		if !tied(s.samples, p, "", idw) {
			got, ok := m.At(p, 0)
			check(fmt.Sprint(p), got, ok, i)
		}
	}
	if !s.loo {
		return compared, worst
	}
	byID := map[string]float64{}
	for _, e := range m.CrossValidate().Each {
		byID[e.ID] = e.Predicted
	}
	for i, v := range s.samples {
		if !tied(s.samples, v.At, v.ID, idw) {
			got, ok := byID[v.ID]
			check("leave-one-out "+v.ID, got, ok, len(s.places)+i)
		}
	}
	return compared, worst
}

// tied reports whether the choice of samples is not a clear one.
func tied(samples []Sample, p plane.XY, without string, idw IDW) bool {
	var sq []float64
	for _, s := range samples {
		if s.ID != without {
			q := squared(s.At.X()-p.X(), s.At.Y()-p.Y())
			if math.Abs(q/(idw.Radius*idw.Radius)-1) < 1e-6 {
				return true
			}
			sq = append(sq, q)
		}
	}
	slices.Sort(sq)
	near := idw.Near
	return near > 0 && near < len(sq) && sq[near] <= sq[near-1]*(1+1e-6)
}
