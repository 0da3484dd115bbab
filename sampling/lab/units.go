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
	{"meq/100 g", word(`(?:meq|me|mval|milliequivalents?) ?(?:/|per)? ?100 ?g(?:rams?|m)?|meq ?%|me%`)},
	{"meq/L", word(`(?:meq|me) ?(?:/|per) ?(?:l|dm3)`)},
	{"meq/100 g", word(`meq`)},
	{"cmol/dm3", word(`cmolc? ?(?:/|per)? ?dm3?(?: ?-3)?`)},
	{"cmol/kg", word(`cmolc? ?(?:/|per)? ?kg(?: ?-1)?`)},
	{"mmolc/dm3", word(`mmolc? ?(?:/|per)? ?dm3?(?: ?-3)?`)},
	{"mmolc/kg", word(`mmolc ?(?:/|per)? ?kg(?: ?-1)?`)},
	{"mmol/kg", word(`mmol ?(?:/|per)? ?kg(?: ?-1)?`)},
	{"mg/100 mL", word(`mg ?(?:/|per) ?100 ?(?:ml|cm3)`)},
	{"mg/100 g", word(`mg ?(?:/|per)? ?100 ?g(?:rams?|m)?`)},
	{"mg/kg", word(`mg ?(?:/|per) ?kg|mg ?kg ?-1|mg kg$`)},
	{"mg/dm3", word(`mg ?(?:/|per) ?dm3|mg ?dm ?-3`)},
	{"mg/L", word(`mg ?(?:/|per) ?l|mg ?l ?-1`)},
	{"g/100 g", word(`g ?(?:/|per) ?100 ?g|(?:% ?|percent )(?:w/w|m/m|by (?:weight|mass))|(?:wt|mass|weight)\.?[ -]?%`)},
	{"g/kg", word(`g ?(?:/|per) ?kg|g ?kg ?-1`)},
	{"ug/g", word(`(?:[uμ]g|mcg) ?(?:/|per) ?g|[uμ]g ?g ?-1`)},
	{"g/dm3", word(`g ?(?:/|per) ?(?:dm3|l)`)},
	{"ppm", word(`ppm|parts per million`)},
	{"lb/ac", word(`(?:lbs?|pounds?|#)\.? ?(?:/|per)? ?(?:acre|ac|a)\.?|lbac`)},
	{"kg/ha", word(`kg ?(?:/|per)? ?ha(?: ?-1)?`)},
	{"ton/ac", word(`(?:tons?|t) ?(?:/|per) ?(?:acre|ac|a)`)},
	{"dS/m", word(`ds ?(?:/|per) ?m|ds ?m ?-1`)},
	{"mmho/cm", word(`mmhos? ?(?:/|per) ?cm`)},
	{"mS/cm", word(`ms ?(?:/|per) ?cm|ms ?cm ?-1`)},
	{"uS/cm", word(`[uμ](?:s|mhos?) ?(?:/|per) ?cm|[uμ]s ?cm ?-1`)},
	{"mS/m", word(`ms ?(?:/|per) ?m|ms ?m ?-1`)},
	{"g/cm3", word(`g ?(?:/|per) ?(?:cm3|cc)`)},
	{"pH", word(`s\.u\.|std\.? units?|standard units?|ph units?`)},
	{"%", regexp.MustCompile(`%|(?:^|[^a-z0-9])(?:percent|pct)(?:$|[^a-z0-9])`)},
	{"in", word(`inch(?:es)?`)},
	{"cm", word(`cm`)},
}

// byVolume are amounts in a volume of soil, or of its extract.
var byVolume = map[string]bool{"mg/L": true, "mg/dm3": true, "mg/100 mL": true, "g/dm3": true, "cmol/dm3": true, "mmolc/dm3": true, "meq/L": true}

// insideUnit finds what is named inside of a unit: mg P/kg, lbs P2O5 per acre.
var insideUnit = regexp.MustCompile(`(^|[^a-z0-9])(mg|g|ug|μg|lbs?|pounds?|kg|meq|me|cmolc?|mmolc?) ?(p2o5|k2o|mgo|cao|na2o|so3|so4|no3-n|nh4-n|no3|nh4|po4-p|so4-s|p|k|ca|mg|s|zn|cu|mn|fe|b|na|al|cl|n|h)( ?/| per| kg ?-1| ha ?-1)`)

// outOfUnit takes what is named inside of a unit out of it: "mg p/kg" becomes
// "mg/kg" and "p".
func outOfUnit(flat string) (rest, inside string) {
	at := insideUnit.FindStringSubmatchIndex(flat)
	if at == nil {
		return flat, ""
	}
	return squeeze(flat[:at[6]] + flat[at[7]:]), flat[at[6]:at[7]]
}

// word makes a pattern that matches only between characters that are neither
// letters nor digits.
func word(alternatives string) *regexp.Regexp {
	return regexp.MustCompile(`(?:^|[^a-z0-9])(?:` + alternatives + `)(?:$|[^a-z0-9])`)
}

// charges brings the spellings of moles of charge to one.
var charges = strings.NewReplacer("mol(+)", "molc", "mol+", "molc", "mol(c)", "molc")

// flatten brings a column name to lower case, plain characters and single
// spaces. Brackets and most punctuation become spaces.
func flatten(s string) string {
	if len(s) > 400 {
		s = s[:400]
	}
	s = strings.ToLower(norm.NFKC.String(s))
	s = charges.Replace(s)
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

// isUnit reads a whole cell as a unit. What may be named with it, as in "ppm P",
// is passed over; see readUnit.
func isUnit(cell string) (string, bool) {
	unit, _, ok := readUnit(cell)
	return unit, ok
}

// readUnit reads a whole cell as a unit, with the form that it may name: "lb/ac
// P2O5", "mg NO3/kg".
func readUnit(cell string) (unit, form string, ok bool) {
	flat, inside := outOfUnit(flatten(cell))
	unit, rest := takeUnit(flat)
	rest = strings.Trim(strings.TrimPrefix(rest, "as "), " -./")
	if rest == "" {
		rest = inside
	}
	if unit != "" && (rest == "" || symbols[rest]) {
		return unit, formNamed(rest), true
	}
	switch flat {
	case "ph", "su":
		return "pH", "", true
	case "m", "ft", "in":
		return flat, "", true // lengths; in a header, these letters are other words
	}
	return "", "", false
}

// symbols are the short names of analytes and forms, flattened.
var symbols = func() map[string]bool {
	all := map[string]bool{"n": true, "po4-p": true, "so4-s": true}
	for s := range elements {
		all[strings.ToLower(s)] = true
	}
	for s := range forms {
		all[strings.ToLower(s)] = true
	}
	return all
}()

// formNamed returns the form of that name in any case, "" if it is none.
func formNamed(name string) string {
	for f := range forms {
		if strings.EqualFold(f, name) {
			return f
		}
	}
	return ""
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
		case "mg/dm3":
			return "mg/L"
		}
		return u
	}
	return plain(a) == plain(b)
}
