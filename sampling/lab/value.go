package lab

import "strings"

// Value is one cell of a number column.
type Value struct {
	// Number is the value, or the limit where Censored is set. It is 0 where
	// Missing or Problem is set.
	Number float64 `json:"number"`
	// Censored is "<" where the lab could only say that the value lies below
	// Number, ">" where above, else "".
	Censored string `json:"censored,omitempty"`
	// Text is the cell as it stands in the file.
	Text string `json:"text"`
	// Missing: the cell gives no value. Problem then holds the reason, if there
	// is one beyond the cell being blank.
	Missing bool `json:"missing,omitempty"`
	// Problem says what is wrong with a cell that is neither a value nor blank.
	Problem string `json:"problem,omitempty"`
}

// OK tells whether the cell gives a value, censored or not.
func (v Value) OK() bool { return !v.Missing && v.Problem == "" }

// Computed is the number to compute with: the value itself, half the limit
// where the value lies below one, the limit where it lies above. Half the limit
// is an accepted substitution if few values need it, and biases what is made
// from it (ITRC, Incremental Sampling Methodology, ISM-1, sec. 4.2.3).
func (v Value) Computed() float64 {
	if v.Censored == "<" {
		return v.Number / 2
	}
	return v.Number
}

// scaled returns the value in another unit, the limit with it.
func (v Value) scaled(factor float64) Value {
	v.Number = scale(v.Number, factor)
	return v
}

// missingTexts are the ways of saying that there is no value, in upper case and
// without points and spaces, with the reason where one is known.
var missingTexts = map[string]string{
	"": "", "-": "", "--": "", "---": "", "–": "", "—": "", "NA": "", "N/A": "", "#N/A": "", "NULL": "", "NONE": "",
	"ND":            "below detection or not determined, no limit given",
	"BDL":           "below detection, no limit given",
	"BLD":           "below detection, no limit given",
	"LOD":           "below detection, no limit given",
	"<LOD":          "below detection, no limit given",
	"<DL":           "below detection, no limit given",
	"<LOQ":          "below the limit of quantitation, no limit given",
	"BQL":           "below the limit of quantitation, no limit given",
	"NOTDETECTED":   "below detection, no limit given",
	"TR":            "a trace, no figure given",
	"TRACE":         "a trace, no figure given",
	"NT":            "not tested",
	"NOTTESTED":     "not tested",
	"NOTANALYZED":   "not analysed",
	"NOTANALYSED":   "not analysed",
	"NR":            "not requested or not reported",
	"NOTREQUESTED":  "not requested",
	"INSUFFICIENT":  "too little soil",
	"NOTDETERMINED": "not determined",
}

// parseValue reads one cell of a number column.
func parseValue(cell string, d decimals) Value {
	v := Value{Text: cell}
	s := tidy(cell)
	if reason, ok := missingText(s); ok {
		v.Missing, v.Problem = true, reason
		return v
	}
	for _, c := range []struct{ mark, censored string }{{"<=", "<"}, {">=", ">"}, {"≤", "<"}, {"≥", ">"}, {"<", "<"}, {">", ">"}} {
		if rest, ok := strings.CutPrefix(s, c.mark); ok {
			v.Censored, s = c.censored, tidy(rest)
			break
		}
	}
	number, err := parseNumber(s, d)
	switch {
	case err != nil:
		v.Censored, v.Problem = "", err.Error()
	case v.Censored != "" && number < 0:
		v.Censored, v.Problem = "", "is a limit below zero"
	default:
		v.Number = number
	}
	return v
}

func missingText(s string) (reason string, ok bool) {
	if len(s) > 20 || s != "" && s[0] >= '0' && s[0] <= '9' {
		return "", false
	}
	s = strings.ToUpper(strings.Join(strings.Fields(strings.ReplaceAll(s, ".", " ")), ""))
	reason, ok = missingTexts[s]
	return reason, ok
}
