package lab

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// slowNearest compares an id with every one of the plan.
func slowNearest(samples []SampleRef, id string) []string {
	zeros := regexp.MustCompile(`(^|[^0-9])0+([0-9])`)
	bare := func(key string) string { return zeros.ReplaceAllString(key, "$1$2") }
	key := []rune(idKey(id))
	var one, padded, two []string
	for _, s := range samples {
		other := []rune(idKey(s.ID))
		d := distance(key, other)
		if d >= len(key) || d >= len(other) {
			d = 99
		}
		switch {
		case d <= 1:
			one = append(one, s.ID)
		case bare(string(key)) == bare(string(other)):
			padded = append(padded, s.ID)
		case d == 2:
			two = append(two, s.ID)
		}
	}
	near := append(one, padded...)
	switch {
	case len(near) > 0:
		return near[:min(3, len(near))]
	case len(two) == 1:
		return two
	}
	return nil
}

// The index gives what a look at every id gives.
func TestNearestAsSlow(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	found := [4]int{}
	for round := range 160 {
		letters := []string{"01", "ABé0", "0123456789", "ABCDEFGHKLMNPQRTVWX0123456789"}[round%4]
		stem := []string{"", "", "FARM2024-", "N40-"}[rng.IntN(4)]
		end := []string{"", "", "-2024 NORTH"}[rng.IntN(3)]
		width := 1 + rng.IntN(12)
		word := func() string {
			var b strings.Builder
			for range 1 + rng.IntN(width) {
				r := []rune(letters)
				b.WriteRune(r[rng.IntN(len(r))])
			}
			return stem + b.String() + end
		}
		var samples []SampleRef
		seen := map[string]bool{}
		for i := range 1 + rng.IntN(60) {
			id := word()
			if rng.IntN(3) == 0 {
				id = fmt.Sprintf("%s%03d", stem, i) + end
			}
			if !seen[id] {
				seen[id] = true
				samples = append(samples, SampleRef{ID: id})
			}
		}
		f := newFinder(samples)
		for range 30 {
			id := []rune(samples[rng.IntN(len(samples))].ID)
			for range rng.IntN(4) {
				at := rng.IntN(len(id))
				r := []rune(letters)[rng.IntN(len([]rune(letters)))]
				switch rng.IntN(4) {
				case 0:
					id[at] = r
				case 1:
					id = slices.Insert(id, at, r)
				case 2:
					if len(id) > 1 {
						id = slices.Delete(id, at, at+1)
					}
				default:
					if at > 0 {
						id[at], id[at-1] = id[at-1], id[at]
					}
				}
			}
			id2 := string(id)
			if rng.IntN(4) == 0 {
				id2 = word()
			}
			if slices.ContainsFunc(samples, func(s SampleRef) bool { return idKey(s.ID) == idKey(id2) }) {
				continue // is in the plan
			}
			got, want := f.nearest(id2), slowNearest(samples, id2)
			if !slices.Equal(got, want) {
				t.Fatalf("round %d, %q in %q: got %q, want %q", round, id2, samples, got, want)
			}
			found[len(want)]++
		}
	}
	if slices.Min(found[:]) < 80 {
		t.Errorf("%v answers of 0 to 3 ids: too few of a kind to test much", found)
	}
}

func TestUnpad(t *testing.T) {
	for key, want := range map[string]string{"": "", "0": "0", "000": "0", "007": "7", "A007B0": "A7B0", "10A001": "10A1", "A-01-010": "A-1-10", "é0é01": "é0é1", "100": "100"} {
		if got := unpad(key); got != want {
			t.Errorf("%q: got %q, want %q", key, got, want)
		}
	}
}

// What idKey makes of an id at a glance is what it makes of it with a spelling
// that takes the long way.
func TestIDKeyBothWays(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 24))
	for range 2000 {
		var b strings.Builder
		for range rng.IntN(8) {
			b.WriteByte("AB01./#9"[rng.IntN(8)])
		}
		id := b.String()
		if got, want := idKey(id), strings.TrimSuffix(idKey(id+"é"), "É"); got != want {
			t.Fatalf("%q: got %q, want %q", id, got, want)
		}
	}
}
