package lab

import (
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// idKey is the form in which two spellings of one sample id agree; see the
// package comment for the rule.
func idKey(id string) string {
	id = tidy(id)
	if isKey(id) {
		return id
	}
	var b strings.Builder
	var last rune // last character kept that is no hyphen
	gap := false
	for _, r := range strings.ToUpper(id) {
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

// isKey tells whether an id is seen at a glance to be its own key.
func isKey(id string) bool {
	for i := range len(id) {
		if c := id[i]; c <= ' ' || c >= 'a' && c <= 'z' || c >= utf8.RuneSelf || c == '-' || c == '_' {
			return false
		}
	}
	return true
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
