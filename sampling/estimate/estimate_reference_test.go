//go:build reference

package estimate

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strconv"
	"strings"
	"testing"
)

// inR runs a script, which must print so many numbers.
func inR(t *testing.T, script string, want int) []float64 {
	t.Helper()
	c := exec.Command("Rscript", "--vanilla", "-")
	c.Stdin = strings.NewReader(script)
	var complaint bytes.Buffer
	c.Stderr = &complaint
	out, err := c.Output()
	if err != nil {
		t.Fatalf("Rscript: %v: %s", err, complaint.String())
	}
	var numbers []float64
	s := bufio.NewScanner(bytes.NewReader(out))
	for s.Scan() {
		x, err := strconv.ParseFloat(strings.TrimSpace(s.Text()), 64)
		if err != nil {
			t.Fatalf("Rscript: %v", err)
		}
		numbers = append(numbers, x)
	}
	if len(numbers) != want {
		t.Fatalf("Rscript gave %d numbers, want %d", len(numbers), want)
	}
	return numbers
}

func vector(x []float64) string {
	parts := make([]string, len(x))
	for i, v := range x {
		parts[i] = strconv.FormatFloat(v, 'g', 17, 64)
	}
	return "c(" + strings.Join(parts, ",") + ")"
}

func TestReferenceQuantiles(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	var confidences, dfs []float64
	for range 20_000 {
		confidences = append(confidences, 0.5+0.4999*r.Float64())
		dfs = append(dfs, math.Pow(10, 9*r.Float64()))
	}
	for _, c := range []float64{0.5, 0.8, 0.9, 0.95, 0.99, 0.999, 0.9999} {
		for _, df := range []float64{1, 1.5, 2, 3, 10, 4999, 5000, 5001, 1e6, 1e9, 1e15} {
			confidences, dfs = append(confidences, c), append(dfs, df)
		}
	}
	script := fmt.Sprintf("p <- (1-%s)/2; df <- %s; cat(sprintf('%%.17g\\n', -c(qt(p, df), qnorm(p))), sep='')", vector(confidences), vector(dfs))
	want := inR(t, script, 2*len(dfs))
	worst := 0.0
	for i, df := range dfs {
		for what, c := range map[string]struct{ got, want float64 }{
			"t": {tQuantile(confidences[i], df), want[i]}, "u": {uQuantile(confidences[i]), want[i+len(dfs)]},
		} {
			worst = max(worst, math.Abs(c.got/c.want-1))
			if !within(c.got, c.want, 1e-9) {
				t.Errorf("%s of confidence %v, %v degrees of freedom: %v, R %v", what, confidences[i], df, c.got, c.want)
			}
		}
	}
	t.Logf("%d quantiles, worst relative difference %.1e", len(want), worst)
}

func TestReferenceMean(t *testing.T) {
	// The estimator anew, of lists of values y, sizes a and populations N, by R's
	// own mean, var and qt.
	const estimator = `
est <- function(y, a, N, conf) {
  w <- a/sum(a); n <- lengths(y); f <- ifelse(N > 0, 1-n/N, 1)
  k <- w^2*f/n; v <- c(); df <- c(); done <- rep(FALSE, length(y))
  one <- which(n == 1 & f > 0)
  if (length(one) == 1) {
    g <- if (one == 1) c(1, 2) else c(one-1, one)
    x <- unlist(y[g]); v <- c(v, sum(k[g])*var(x)); df <- c(df, length(x)-1); done[g] <- TRUE
  } else if (length(one) > 1) {
    id <- pmin((seq_along(one)-1) %/% 2, length(one) %/% 2 - 1)
    gk <- tapply(k[one], id, sum); gv <- tapply(unlist(y[one]), id, var); gd <- tapply(one, id, length)-1
    v <- c(v, sum(gk*gv)); df <- c(df, sum(gk)^2/sum(gk^2/gd)); done[one] <- TRUE
  }
  for (h in which(!done & f > 0)) { v <- c(v, k[h]*var(y[[h]])); df <- c(df, n[h]-1) }
  m <- sum(w*sapply(y, mean)); V <- sum(v); d <- if (V > 0) V^2/sum(v^2/df) else 0
  e <- if (V > 0) qt(1-(1-conf)/2, d)*sqrt(V) else 0
  cat(sprintf("%.17g\n", c(m, sqrt(V), d, m-e, m+e)), sep="")
}
`
	r := rand.New(rand.NewPCG(20, 26))
	var script strings.Builder
	script.WriteString(estimator)
	var got []Estimate
	methods := map[Method]int{}
	for range 200 {
		strata := random(r)
		confidence := []float64{0.8, 0.9, 0.95, 0.99}[r.IntN(4)]
		e := mustMean(t, strata, confidence)
		if e.SE == 0 {
			continue
		}
		methods[e.Method]++
		got = append(got, e)
		var values []string
		var sizes, populations []float64
		for _, s := range strata {
			values = append(values, vector(s.Values))
			sizes, populations = append(sizes, s.Size), append(populations, float64(s.Population))
		}
		fmt.Fprintf(&script, "est(list(%s), %s, %s, %g)\n", strings.Join(values, ","), vector(sizes), vector(populations), confidence)
	}
	want := inR(t, script.String(), 5*len(got))
	worst := 0.0
	for i, e := range got {
		w := want[5*i : 5*i+5]
		for k, g := range []float64{e.Mean, e.SE, e.DF, e.Low, e.High} {
			worst = max(worst, math.Abs(g-w[k])/(1+math.Abs(w[k])))
			if math.Abs(g-w[k]) > 1e-9*(1+math.Abs(w[k])) {
				t.Errorf("case %d: %+v, R %v", i, e, w)
			}
		}
	}
	t.Logf("%v, worst difference %.1e", methods, worst)
	for _, m := range []Method{SimpleRandom, Stratified, Collapsed} {
		if methods[m] < 10 {
			t.Errorf("only %d cases were a %s", methods[m], m)
		}
	}
}

func TestReferenceSizes(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	var cvs, errs, confidences []float64
	var got []int
	for range 1000 {
		cv, e, confidence := 0.05+r.Float64(), 0.02+0.3*r.Float64(), 0.5+0.4999*r.Float64()
		n, err := Size(cv, e, confidence)
		if err != nil {
			t.Fatal(err)
		}
		cvs, errs, confidences, got = append(cvs, cv), append(errs, e), append(confidences, confidence), append(got, n)
	}
	script := fmt.Sprintf(`n <- 2:200000; cat(mapply(function(cv, e, p) n[which(n >= (qt(1-(1-p)/2, n-1)*cv/e)^2)[1]], %s, %s, %s), sep="\n")`, vector(cvs), vector(errs), vector(confidences))
	// R's qt of so many is slow; as far as any of them goes is enough.
	most := 0
	for _, n := range got {
		most = max(most, n)
	}
	script = strings.Replace(script, "200000", strconv.Itoa(most), 1)
	for i, w := range inR(t, script, len(got)) {
		if float64(got[i]) != w {
			t.Errorf("variation %v, error %v, confidence %v: %d, R %v", cvs[i], errs[i], confidences[i], got[i], w)
		}
	}
}
