//go:build reference

package interp

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"slices"
	"strconv"
	"testing"

	"corewalk/geo/plane"
)

// gstatScript reads x,y,v of the samples, a line of dashes, and x,y of the
// places from standard input, and writes the predictions at the places and
// then the leave-one-out ones.
const gstatScript = `
suppressMessages({library(sp); library(gstat)})
power <- %g; near <- %s
lines <- readLines(file("stdin"))
cut <- which(lines == "---")
d <- read.csv(text = lines[1:(cut - 1)]); coordinates(d) <- ~x+y
p <- read.csv(text = lines[(cut + 1):length(lines)]); coordinates(p) <- ~x+y
o <- idw(v ~ 1, d, p, idp = power, nmax = near, debug.level = 0)$var1.pred
k <- krige.cv(v ~ 1, d, set = list(idp = power), nmax = near, debug.level = 0, verbose = FALSE)
write(formatC(c(o, k$observed - k$residual), digits = 17, format = "g"), stdout(), ncolumns = 1)
`

// TestGstat compares with R's gstat. It takes any of the samples that are
// equally near where only so many are wanted; those places are passed over.
func TestGstat(t *testing.T) {
	type set struct {
		name    string
		samples []Sample
	}
	var sets []set
	for _, v := range []string{"PH1", "PHOS1", "POT1", "MG1"} {
		sets = append(sets, set{"oxford " + v, oxford(t, v)})
	}
	for _, v := range []string{"zinc", "cadmium", "lead", "om"} {
		sets = append(sets, set{"meuse " + v, meuse(t, v)})
	}
	for _, s := range sets {
		for _, idw := range []IDW{{0.5, 0}, {1, 0}, {2, 0}, {2.7, 0}, {3, 0}, {4, 0}, {8, 0}, {2, 8}, {2, 12}, {3.5, 8}} {
			t.Run(fmt.Sprintf("%s power %g near %d", s.name, idw.Power, idw.Near), func(t *testing.T) {
				againstGstat(t, s.samples, idw)
			})
		}
	}
}

func againstGstat(t *testing.T, samples []Sample, idw IDW) {
	r := rand.New(rand.NewPCG(5, 6))
	var in bytes.Buffer
	fmt.Fprintln(&in, "x,y,v")
	west, south, east, north := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range samples {
		fmt.Fprintf(&in, "%v,%v,%v\n", s.At.X(), s.At.Y(), s.Value)
		west, east = min(west, s.At.X()), max(east, s.At.X())
		south, north = min(south, s.At.Y()), max(north, s.At.Y())
	}
	fmt.Fprintln(&in, "---\nx,y")
	var places []plane.XY
	for range 300 {
		p := plane.XY{west + (1.2*r.Float64()-0.1)*(east-west), south + (1.2*r.Float64()-0.1)*(north-south)}
		places = append(places, p)
		fmt.Fprintf(&in, "%v,%v\n", p.X(), p.Y())
	}
	places = append(places, samples[7].At)
	fmt.Fprintf(&in, "%v,%v\n", samples[7].At.X(), samples[7].At.Y())

	near := "Inf"
	if idw.Near > 0 {
		near = strconv.Itoa(idw.Near)
	}
	cmd := exec.Command("Rscript", "-e", fmt.Sprintf(gstatScript, idw.Power, near))
	cmd.Stdin = &in
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("gstat: %v\n%s", err, &stderr)
	}
	rows, err := csv.NewReader(bytes.NewReader(bytes.ReplaceAll(out, []byte(" "), nil))).ReadAll()
	if err != nil || len(rows) != len(places)+len(samples) {
		t.Fatalf("gstat wrote %d rows (%v), want %d", len(rows), err, len(places)+len(samples))
	}
	m := model(t, samples, idw)
	compared, worst := 0, 0.0
	check := func(what string, got float64, row int) {
		want, err := strconv.ParseFloat(rows[row][0], 64)
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
		if tied(samples, p, "", idw.Near) {
			continue
		}
		got, _ := m.At(p, 0)
		check(fmt.Sprint(p), got, i)
	}
	byID := map[string]float64{}
	for _, e := range m.CrossValidate().Each {
		byID[e.ID] = e.Predicted
	}
	for i, s := range samples {
		if tied(samples, s.At, s.ID, idw.Near) {
			continue
		}
		check("leave-one-out "+s.ID, byID[s.ID], len(places)+i)
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
