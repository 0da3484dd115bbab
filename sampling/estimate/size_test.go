package estimate

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// Constructed: the least n that fulfils n >= (t cv/e)², reckoned with R's qt, and
// (u cv/e)² rounded up.
func TestSizes(t *testing.T) {
	for _, c := range []struct {
		confidence, cv float64
		t, u           [3]int // for errors of 10, 15 and 20 %
	}{
		{0.95, 0.3, [3]int{38, 18, 12}, [3]int{35, 16, 9}},
		{0.95, 0.5, [3]int{99, 46, 27}, [3]int{97, 43, 25}},
		{0.90, 0.3, [3]int{27, 13, 9}, [3]int{25, 11, 7}},
		{0.90, 0.5, [3]int{70, 32, 19}, [3]int{68, 31, 17}},
		{0.80, 0.3, [3]int{17, 9, 6}, [3]int{15, 7, 4}},
		{0.80, 0.5, [3]int{43, 20, 12}, [3]int{42, 19, 11}},
	} {
		for i, e := range []float64{0.1, 0.15, 0.2} {
			n, err := Size(c.cv, e, c.confidence)
			if err != nil || n != c.t[i] {
				t.Errorf("confidence %g, variation %g, error %g: %d, %v; want %d", c.confidence, c.cv, e, n, err, c.t[i])
			}
			if n, err = SizeNormal(c.cv, e, c.confidence); err != nil || n != c.u[i] {
				t.Errorf("confidence %g, variation %g, error %g by the normal: %d, %v; want %d", c.confidence, c.cv, e, n, err, c.u[i])
			}
			// In percent it is the same.
			if n, err = Size(100*c.cv, 100*e, c.confidence); err != nil || n != c.t[i] {
				t.Errorf("confidence %g, variation %g %%, error %g %%: %d, %v; want %d", c.confidence, 100*c.cv, 100*e, n, err, c.t[i])
			}
		}
	}
}

// needed is (q cv/e)², with the quantile q.
func needed(q, cv, e float64) float64 { return (q * cv / e) * (q * cv / e) }

// Where the formula put into itself goes to and fro: 37 asks for 38, and 38 for
// 37 (constructed, R's qt).
func TestWhereIterationOscillates(t *testing.T) {
	if got := needed(tQuantile(0.95, 36), 0.3, 0.1); !near(got, "37.018") {
		t.Errorf("37 samples ask for %v", got)
	}
	if got := needed(tQuantile(0.95, 37), 0.3, 0.1); !near(got, "36.95") {
		t.Errorf("38 samples ask for %v", got)
	}
}

// Brus 2022, Spatial Sampling with R, chapter 12 (seen): a variation of 0.5 to
// within 10 % at 95 % takes 96.036, so 97. The other two are constructed.
func TestBrus(t *testing.T) {
	if u := uQuantile(0.95); !near(u, "1.959964") || !near(needed(u, 0.5, 0.1), "96.036") {
		t.Errorf("u is %v", u)
	}
	if n, err := SizeNormal(0.5, 0.1, 0.95); err != nil || n != 97 {
		t.Errorf("%d, %v", n, err)
	}
	if x := 97 / (1 + 97/500.); !near(x, "81.24") || Finite(97, 500) != 82 {
		t.Errorf("of 500: %d", Finite(97, 500))
	}
	if got := needed(2, 0.5, 0.2); got != 25 {
		t.Errorf("with t = 2: %v", got)
	}
}

func TestSizeIsTheLeast(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 88))
	for range 300 {
		cv, e, confidence := 0.05+r.Float64(), 0.05+0.3*r.Float64(), 0.5+0.4999*r.Float64()
		n, err := Size(cv, e, confidence)
		if err != nil {
			t.Fatal(err)
		}
		least := 2
		for float64(least) < needed(tQuantile(confidence, float64(least-1)), cv, e) {
			least++
		}
		if n != least {
			t.Errorf("variation %v, error %v, confidence %v: %d, by trying one after the other %d", cv, e, confidence, n, least)
		}
		if u, err := SizeNormal(cv, e, confidence); err != nil || u > n {
			t.Errorf("variation %v, error %v, confidence %v: %d, by the normal %d, %v", cv, e, confidence, n, u, err)
		}
	}
	// Far up, where one more or less is in the ninth digit.
	for _, e := range []float64{1e-2, 1e-3, 1e-4, 7e-5} {
		n, err := Size(1, e, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		at := func(n int) float64 { w, _ := HalfWidth(n, 1, 0.95); return w }
		if !(at(n) <= e && at(n-1) > e) {
			t.Errorf("error %g: %d gives %v, one less %v", e, n, at(n), at(n-1))
		}
		// t² is u² + u²(u²+1)/(2 df) and smaller terms, so n is by so much more.
		u := uQuantile(0.95)
		if more := float64(n) - needed(u, 1, e); more < (u*u+1)/2 || more > (u*u+1)/2+1.01 {
			t.Errorf("error %g: %d is %v more than the normal one", e, n, more)
		}
	}
}

func TestHalfWidth(t *testing.T) {
	last := math.Inf(1)
	for n := 2; n < 20_000; n++ {
		w, err := HalfWidth(n, 0.3, 0.95)
		if err != nil || !(w < last) {
			t.Fatalf("%d: %v after %v, %v", n, w, last, err)
		}
		last = w
	}
	for _, n := range []int{-5, 0, 1} {
		if w, err := HalfWidth(n, 0.3, 0.95); err != nil || !math.IsInf(w, 1) {
			t.Errorf("%d: %v, %v", n, w, err)
		}
	}
	// 12.706 is the t of tables for one degree of freedom, from memory.
	if w, err := HalfWidth(2, math.Sqrt2, 0.95); err != nil || !near(w, "12.706") {
		t.Errorf("2: %v, %v", w, err)
	}
}

func TestSizesRefuse(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		cv, e, confidence float64
		want              string
	}{
		{0, 0.1, 0.95, "a coefficient of variation of 0 is not above 0"},
		{-1, 0.1, 0.95, "variation of -1"}, {nan, 0.1, 0.95, "variation of NaN"}, {inf, 0.1, 0.95, "variation of +Inf"},
		{0.3, 0, 0.95, "an error of 0 is not above 0"}, {0.3, nan, 0.95, "error of NaN"}, {0.3, inf, 0.95, "error of +Inf"},
		{0.3, 0.1, 0, "a confidence of 0 is out"}, {0.3, 0.1, 1, "confidence of 1 is"}, {0.3, 0.1, nan, "confidence of NaN"}, {0.3, 0.1, 95, "confidence of 95"},
		{0.3, 1e-9, 0.95, "takes more than 1000000000 samples"}, {1e300, 1e-300, 0.95, "takes more than"},
	} {
		for name, size := range map[string]func(cv, e, confidence float64) (int, error){"Size": Size, "SizeNormal": SizeNormal} {
			if n, err := size(c.cv, c.e, c.confidence); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s(%g, %g, %g): %d, %v", name, c.cv, c.e, c.confidence, n, err)
			}
		}
	}
	if w, err := HalfWidth(5, nan, 0.95); err == nil {
		t.Errorf("half-width %v", w)
	}
	for name, size := range map[string]func(cv, e, confidence float64) (int, error){"Size": Size, "SizeNormal": SizeNormal} {
		if n, err := size(1e-300, 1e300, 0.5); err != nil || n != map[string]int{"Size": 2, "SizeNormal": 1}[name] {
			t.Errorf("%s of next to nothing: %d, %v", name, n, err)
		}
	}
}

func TestFinite(t *testing.T) {
	for _, c := range []struct {
		n          int
		population float64
		want       int
	}{
		{10, 0, 10}, {10, -1, 10}, {10, math.NaN(), 10}, {10, math.Inf(1), 10}, {0, 5, 0}, {-3, 5, 0},
		{1, 1, 1}, {10, 10, 5}, {MaxSize, 7, 7}, {10, 0.5, 1},
	} {
		if got := Finite(c.n, c.population); got != c.want {
			t.Errorf("%d of %g: %d, want %d", c.n, c.population, got, c.want)
		}
	}
}
