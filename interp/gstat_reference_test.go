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

// gstatScript reads sets of x,y,v of samples and of x,y of places from standard
// input, each table followed by a line of dashes. For every set and every pair
// of power and number of neighbours it writes the predictions at the places and
// then the leave-one-out ones.
const gstatScript = `
suppressMessages({library(sp); library(gstat)})
lines <- readLines(file("stdin"))
cut <- c(0, which(lines == "---"))
table <- function(i) read.csv(text = lines[(cut[i] + 1):(cut[i + 1] - 1)])
settings <- table(1)
for (s in seq(2, length(cut) - 1, 2)) {
  d <- table(s); coordinates(d) <- ~x+y
  p <- table(s + 1); coordinates(p) <- ~x+y
  for (i in seq_len(nrow(settings))) {
    near <- if (settings$near[i] == 0) Inf else settings$near[i]
    o <- idw(v ~ 1, d, p, idp = settings$power[i], nmax = near, debug.level = 0)$var1.pred
    k <- krige.cv(v ~ 1, d, set = list(idp = settings$power[i]), nmax = near, debug.level = 0, verbose = FALSE)
    write(sprintf("%.17g", c(o, k$observed - k$residual)), stdout(), ncolumns = 1)
  }
}
`

// TestReferenceGstat compares with R's gstat. It takes any of the samples that are
// equally near where only so many are wanted; those places are passed over.
func TestReferenceGstat(t *testing.T) {
	type set struct {
		name    string
		samples []Sample
		places  []plane.XY
	}
	var sets []set
	for _, v := range []string{"PH1", "PHOS1", "POT1", "MG1"} {
		sets = append(sets, set{name: "oxford " + v, samples: oxford(t, v)})
	}
	for _, v := range []string{"zinc", "om"} {
		sets = append(sets, set{name: "meuse " + v, samples: meuse(t, v)})
	}
	settings := []IDW{{Power: 1, Near: 0}, {Power: 2, Near: 0}, {Power: 2.7, Near: 0}, {Power: 4, Near: 0}, {Power: 2, Near: 8}, {Power: 3.5, Near: 12}}
	in := bytes.NewBufferString("power,near\n")
	for _, idw := range settings {
		fmt.Fprintf(in, "%v,%d\n", idw.Power, idw.Near)
	}
	fmt.Fprintln(in, "---")
	for i := range sets {
		s := &sets[i]
		s.places = around(s.samples)
		fmt.Fprintln(in, "x,y,v")
		for _, v := range s.samples {
			fmt.Fprintf(in, "%v,%v,%v\n", v.At.X(), v.At.Y(), v.Value)
		}
		fmt.Fprintln(in, "---\nx,y")
		for _, p := range s.places {
			fmt.Fprintf(in, "%v,%v\n", p.X(), p.Y())
		}
		fmt.Fprintln(in, "---")
	}
	cmd := exec.Command("Rscript", "-e", gstatScript)
	cmd.Stdin = in
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("gstat: %v\n%s", err, &stderr)
	}
	rows := strings.Fields(string(out))
	for _, s := range sets {
		for _, idw := range settings {
			n := len(s.places) + len(s.samples)
			if len(rows) < n {
				t.Fatal("gstat wrote too few rows")
			}
			t.Run(fmt.Sprintf("%s power %g near %d", s.name, idw.Power, idw.Near), func(t *testing.T) {
				against(t, rows[:n], s.samples, s.places, idw)
			})
			rows = rows[n:]
		}
	}
	if len(rows) > 0 {
		t.Errorf("gstat wrote %d rows too many", len(rows))
	}
}

// around returns random places in and round the samples, and one on a sample.
func around(samples []Sample) []plane.XY {
	west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range samples {
		west, east = min(west, s.At.X()), max(east, s.At.X())
		south, north = min(south, s.At.Y()), max(north, s.At.Y())
	}
	r := rand.New(rand.NewPCG(5, 6))
	places := []plane.XY{samples[7].At}
	for range 300 {
		places = append(places, plane.XY{west + (1.2*r.Float64()-0.1)*(east-west), south + (1.2*r.Float64()-0.1)*(north-south)})
	}
	return places
}

// against compares with gstat's predictions at the places and at the samples.
func against(t *testing.T, rows []string, samples []Sample, places []plane.XY, idw IDW) {
	m := model(t, samples, idw)
	compared, worst := 0, 0.0
	check := func(what string, got float64, row int) {
		want, err := strconv.ParseFloat(rows[row], 64)
		if err != nil {
			t.Fatal(err)
		}
		compared++
		worst = max(worst, math.Abs(got-want)/math.Abs(want))
		if math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s: %.15g, gstat %.15g", what, got, want)
		}
	}
	for i, p := range places {
		if !tied(samples, p, "", idw.Near) {
			got, _ := m.At(p, 0)
			check(fmt.Sprint(p), got, i)
		}
	}
	byID := map[string]float64{}
	for _, e := range m.CrossValidate().Each {
		byID[e.ID] = e.Predicted
	}
	for i, s := range samples {
		if !tied(samples, s.At, s.ID, idw.Near) {
			check("leave-one-out "+s.ID, byID[s.ID], len(places)+i)
		}
	}
	if compared < 300 {
		t.Errorf("only %d places compared", compared)
	}
	t.Logf("%d places, worst %.1e", compared, worst)
}

// tied reports whether the choice of the nearest samples is not a clear one.
func tied(samples []Sample, p plane.XY, without string, near int) bool {
	var sq []float64
	for _, s := range samples {
		if s.ID != without {
			sq = append(sq, squared(s.At.X()-p.X(), s.At.Y()-p.Y()))
		}
	}
	slices.Sort(sq)
	return near > 0 && near < len(sq) && sq[near] <= sq[near-1]*(1+1e-6)
}
