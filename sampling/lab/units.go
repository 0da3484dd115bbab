package lab

import (
	"regexp"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// unitSpellings gives the spellings of each unit, in a name already flattened
// by flatten. Longer ones come first so that "mg/kg" isn't read as "mg".
var unitSpellings = []struct {
	unit string
	re   *regexp.Regexp
}{
	{"meq/100 g", word(`(?:meq|me|milliequivalents?) ?(?:/|per)? ?100 ?g(?:rams?|m)?|meq`)},
	{"cmol/kg", word(`cmolc? ?(?:/|per)? ?kg(?: ?-1)?`)},
	{"mmol/kg", word(`mmolc? ?(?:/|per)? ?kg(?: ?-1)?`)},
	{"mg/100 g", word(`mg ?(?:/|per) ?100 ?g`)},
	{"mg/kg", word(`mg ?(?:/|per) ?kg|mg ?kg ?-1|mg kg$`)},
	{"mg/L", word(`mg ?(?:/|per) ?(?:l|dm3)`)},
	{"g/kg", word(`g ?(?:/|per) ?kg|g ?kg ?-1`)},
	{"ug/g", word(`[uμ]g ?(?:/|per) ?g`)},
	{"ppm", word(`ppm|parts per million`)},
	{"lb/ac", word(`(?:lbs?|pounds?)\.? ?(?:/|per)? ?(?:acre|ac|a)|lbac`)},
	{"kg/ha", word(`kg ?(?:/|per)? ?ha(?: ?-1)?`)},
	{"ton/ac", word(`(?:tons?|t) ?(?:/|per) ?(?:acre|ac|a)`)},
	{"dS/m", word(`ds ?(?:/|per) ?m|ds ?m-1`)},
	{"mmho/cm", word(`mmhos? ?(?:/|per) ?cm`)},
	{"mS/cm", word(`ms ?(?:/|per) ?cm`)},
	{"uS/cm", word(`[uμ]s ?(?:/|per) ?cm`)},
	{"g/cm3", word(`g ?(?:/|per) ?(?:cm3|cc)`)},
	{"pH", word(`s\.u\.|std\.? units?|standard units?|ph units?`)},
	{"%", regexp.MustCompile(`%|(?:^|[^a-z0-9])(?:percent|pct)(?:$|[^a-z0-9])`)},
	{"in", word(`inch(?:es)?`)},
	{"cm", word(`cm`)},
}

// word makes a pattern that matches only between characters that are neither
// letters nor digits.
func word(alternatives string) *regexp.Regexp {
	return regexp.MustCompile(`(?:^|[^a-z0-9])(?:` + alternatives + `)(?:$|[^a-z0-9])`)
}

// flatten brings a column name to lower case, plain characters and single
// spaces. Brackets and most punctuation become spaces.
func flatten(s string) string {
	if len(s) > 400 {
		s = s[:400]
	}
	s = strings.ToLower(norm.NFKC.String(s))
	s = strings.ReplaceAll(s, "cmol(+)", "cmolc")
	s = strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', strings.ContainsRune("%/.:-#μ", r):
			return r
		case r == '−' || r == '–' || r == '‐' || r == '‑':
			return '-'
		case r > 127 && !strings.ContainsRune("—·•°", r):
			return r
		}
		return ' '
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// takeUnit finds the first known unit in a flattened name and returns the name
// without it.
func takeUnit(flat string) (unit, rest string) {
	for _, u := range unitSpellings {
		if at := u.re.FindStringIndex(flat); at != nil {
			return u.unit, strings.Join(strings.Fields(flat[:at[0]]+" "+flat[at[1]:]), " ")
		}
	}
	return "", flat
}

// isUnit reads a whole cell as a unit.
func isUnit(cell string) (string, bool) {
	flat := flatten(cell)
	unit, rest := takeUnit(flat)
	if unit != "" && strings.Trim(rest, " -./") == "" {
		return unit, true
	}
	switch flat {
	case "ph", "su":
		return "pH", true
	case "m", "ft", "in":
		return flat, true // lengths; in a header, these letters are other words
	}
	return "", false
}

// sameUnit tells whether two names of units mean the same amount.
func sameUnit(a, b string) bool {
	plain := func(u string) string {
		switch u {
		case "mg/kg", "ug/g":
			return "ppm"
		case "cmol/kg": // 1 cmol of charge per kg is 1 meq per 100 g
			return "meq/100 g"
		case "mmho/cm", "mS/cm": // 1 mho is 1 S
			return "dS/m"
		}
		return u
	}
	return plain(a) == plain(b)
}
