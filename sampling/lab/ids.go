package lab

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// idKey is the form in which two spellings of one sample id agree; see the
// package comment for the rule.
func idKey(id string) string {
	var b strings.Builder
	var last rune // last character kept that is no hyphen
	gap := false
	for _, r := range strings.ToUpper(tidy(id)) {
		if unicode.IsSpace(r) || strings.ContainsRune("-_‐‑‒–—−", r) {
			gap = true
			continue
		}
		if gap && isDigit(last) && isDigit(r) {
			b.WriteByte('-')
		}
		b.WriteRune(r)
		last, gap = r, false
	}
	return b.String()
}

func isDigit(r rune) bool { return r >= '0' && r <= '9' }

// distance is the number of insertions, deletions, substitutions and swaps of
// neighbours that turn a into b, each character being edited once at most
// (optimal string alignment, the restricted form of F. J. Damerau's distance,
// doi:10.1145/363958.363994).
func distance(a, b []rune) int {
	n := len(b) + 1
	buf := make([]int, 3*n)
	before, prev, cur := buf[:n], buf[n:2*n], buf[2*n:]
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], before[j-2]+1)
			}
		}
		before, prev, cur = prev, cur, before
	}
	return prev[len(b)]
}

// farthest is the greatest distance at which an id is offered for another.
const farthest = 2

// finder looks for the ids nearest to one that is in no plan. Its budget of
// compared characters keeps a file of strangers from taking hours.
type finder struct {
	ids      []string
	keys     [][]rune
	unpadded []string
	budget   int
	known    map[string][]string
}

func newFinder(samples []SampleRef) *finder {
	f := &finder{budget: 100_000_000, known: map[string][]string{}}
	seen := map[string]bool{}
	for _, s := range samples {
		id := tidy(s.ID)
		if id == "" || len(id) > 64 || seen[id] {
			continue
		}
		seen[id] = true
		f.ids = append(f.ids, id)
		key := idKey(id)
		f.keys = append(f.keys, []rune(key))
		f.unpadded = append(f.unpadded, unpad(key))
	}
	return f
}

// nearest returns the ids that are one edit away, at most three in the order of
// the plan; failing that, the one that is two edits away, if only one is. Ids
// that differ only in leading zeros count as one edit apart.
func (f *finder) nearest(id string) []string {
	if len(id) > 64 {
		return nil
	}
	key := idKey(id)
	if near, ok := f.known[key]; ok {
		return near
	}
	var near []string
	best := farthest
	runes, unpadded := []rune(key), unpad(key)
	for i, other := range f.keys {
		if f.budget -= 8 + len(runes)*len(other); f.budget < 0 {
			return nil
		}
		d := farthest + 1
		if gap := len(runes) - len(other); gap >= -farthest && gap <= farthest {
			d = distance(runes, other)
		}
		if d >= len(runes) || d >= len(other) {
			d = farthest + 1 // nothing of the id is left
		}
		if d > 1 && f.unpadded[i] == unpadded {
			d = 1
		}
		if d > best {
			continue
		}
		if d < best {
			near, best = nil, d
		}
		if len(near) < 3 {
			near = append(near, f.ids[i])
		}
	}
	if best > 1 && len(near) > 1 {
		near = nil // in a run of numbers, everything is two edits from everything
	}
	f.known[key] = near
	return near
}

var zeros = regexp.MustCompile(`(^|[^0-9])0+([0-9])`)

func unpad(key string) string { return zeros.ReplaceAllString(key, "$1$2") }

// summaryWords stand in the id column of rows that sum up others.
var summaryWords = []string{
	"TOTAL", "TOTALS", "SUM", "MEAN", "MEANS", "AVERAGE", "AVERAGES", "AVG", "MEDIAN", "MIN", "MINIMUM", "MAX",
	"MAXIMUM", "STDDEV", "STDEV", "STANDARDDEVIATION", "CV", "CV%", "%CV", "COUNT", "GRANDTOTAL", "OVERALLAVERAGE",
	"FIELDAVERAGE", "FARMAVERAGE", "FIELDMEAN", "SUBTOTAL",
}

var spacing = strings.NewReplacer(".", "", ":", "", " ", "", "-", "")

func isSummary(text string) bool {
	text = tidy(text)
	if len(text) > 30 {
		return false
	}
	return slices.Contains(summaryWords, spacing.Replace(strings.ToUpper(text)))
}

// labCheck matches the ids that labs give to their own blanks and check soils.
// Common practice, no source.
var labCheck = regexp.MustCompile(`^(?:LAB|METHOD|REAGENT)?(?:BLANK|BLK|CHECK|CHK|QC|QA|QAQC|STD|STANDARD|CONTROL)(?:SAMPLE|SOIL)?[#.:]?[0-9-]*[A-Z]?$`)

func isLabCheck(text string) bool { return len(text) <= 40 && labCheck.MatchString(idKey(text)) }
