package lab

import (
	"regexp"
	"slices"
	"strings"
)

// analyteNames gives the spellings of each analyte, flattened, with spaces and
// punctuation taken out. The forms on which fertiliser is sold (P2O5, K2O) and
// total contents are other figures than the soil test value and have no
// spelling here: such columns keep their own names.
var analyteNames = byName(map[string][]string{
	"pH":            {"ph", "phw", "phwater", "waterph", "phinwater", "phh2o", "h2oph", "soilreaction"},
	"salt pH":       {"phs", "phsalt", "saltph", "phcacl2", "cacl2ph", "phkcl"},
	"buffer pH":     {"bufferph", "phbuffer", "bph", "phb", "bufph", "phbuf", "buffph", "buffer"},
	"P":             {"p", "p1", "p2", "phos", "phosphorus", "phosphorous", "phosphor"},
	"K":             {"k", "pot", "potassium"},
	"Ca":            {"ca", "calcium"},
	"Mg":            {"mg", "magnesium"},
	"S":             {"s", "so4s", "sulfur", "sulphur", "sulfates", "sulphates", "sulfatesulfur", "sulphatesulphur"},
	"Zn":            {"zn", "zinc"},
	"Cu":            {"cu", "copper"},
	"Mn":            {"mn", "manganese"},
	"Fe":            {"fe", "iron"},
	"B":             {"b", "boron"},
	"Na":            {"na", "sodium"},
	"Al":            {"al", "aluminum", "aluminium"},
	"H":             {"h", "hydrogen"},
	"Cl":            {"cl", "chloride"},
	"OM":            {"om", "organicmatter", "orgmatter", "som", "humus"},
	"CEC":           {"cec", "cationexchangecapacity", "ecec"},
	"NO3-N":         {"no3n", "n03n", "nitraten", "nitratenitrogen"},
	"NH4-N":         {"nh4n", "ammoniumn", "ammoniumnitrogen", "ammonian"},
	"soluble salts": {"solublesalts", "solsalts", "ssalts", "salts", "ec", "electricalconductivity", "conductivity"},
	"sand":          {"sand"},
	"silt":          {"silt"},
	"clay":          {"clay"},
})

func byName(spellings map[string][]string) map[string]string {
	names := map[string]string{}
	for key, all := range spellings {
		for _, s := range all {
			names[s] = key
		}
	}
	return names
}

// fillers are words beside an analyte's name that don't change what it is.
var fillers = []string{"soil", "test", "available", "avail", "avail.", "extractable", "extr", "ext", "exch", "exch.", "exchangeable", "result", "value", "level", "conc", "conc.", "concentration", "by"}

// methodSpellings: the extraction or the buffer, as headers name it.
var methodSpellings = []struct {
	method string
	re     *regexp.Regexp
}{
	{"Bray-2", word(`bray[ -]*p?[ -]*(?:2|ii)|strong bray`)},
	{"Bray-1", word(`(?:weak )?bray[ -]*p?[ -]*(?:1|i)|weak bray|bray`)},
	{"Mehlich-3", word(`mehlich[ -]*p?[ -]*(?:3|iii)|m[ -]?(?:3|iii)`)},
	{"Mehlich-1", word(`mehlich[ -]*p?[ -]*(?:1|i)|m[ -]?1`)},
	{"Mehlich", word(`mehlich`)},
	{"Olsen", word(`olsen|bicarb|bicarbonate|nahco3`)},
	{"DTPA", word(`dtpa`)},
	{"hot water", word(`hot water|hws`)},
	{"ammonium acetate", word(`nh4oac|amm?\.? acet?\.?|ammonium acetate`)},
	{"SMP", word(`smp`)},
	{"Sikora", word(`sikora`)},
	{"Woodruff", word(`woodruff|wdrf`)},
	{"Adams-Evans", word(`adams[ -]evans|a-e|ae`)},
	{"CaCl2", word(`cacl2`)},
	{"KCl", word(`kcl`)},
	{"salt", word(`salt`)},
	{"water", word(`water|h2o`)},
	{"loss on ignition", word(`loi|loss on ignition`)},
	{"Walkley-Black", word(`walkley[ -]black|w-b`)},
	{"saturated paste", word(`saturated paste|sat\.? paste`)},
	{"summation", word(`sum|summation|calc\.?|calculated|estimated|est\.?`)},
}

// dilution is the soil to liquid ratio or the strength of the liquid.
var dilution = word(`1:[0-9]+(?:\.[0-9]+)?|0?\.01 ?m`)

// understood is what a header says about its column.
type understood struct {
	key, unit, method string
	saturation        bool // a share of the exchange capacity, not an amount
}

// readAnalyte reads a flattened header such as "p bray-1 ppm".
func readAnalyte(flat string) (u understood, ok bool) {
	u.unit, flat = takeUnit(flat)
	flat = squeeze(dilution.ReplaceAllString(flat, " "))
	if u.key, u.saturation = lookAnalyte(flat); u.key != "" {
		if u.key == "salt pH" || u.key == "pH" { // the name may hold the method, as in "pH CaCl2"
			for _, m := range methodSpellings {
				if m.re.MatchString(flat) {
					u.method = m.method
					break
				}
			}
		}
		return u, true
	}
	var methods []string
	for _, m := range methodSpellings {
		if at := m.re.FindStringIndex(flat); at != nil {
			methods = append(methods, m.method)
			flat = squeeze(flat[:at[0]] + " " + flat[at[1]:])
		}
	}
	if len(methods) == 0 {
		return u, false
	}
	u.method = methods[0]
	has := func(names ...string) bool {
		return slices.ContainsFunc(names, func(n string) bool { return slices.Contains(methods, n) })
	}
	if flat == "" {
		switch {
		case has("Bray-1", "Bray-2", "Olsen"):
			u.key = "P" // these extract phosphorus and nothing else
		case has("SMP", "Sikora", "Woodruff"):
			u.key = "buffer pH"
		}
		return u, u.key != ""
	}
	u.key, u.saturation = lookAnalyte(flat)
	if u.key == "pH" {
		switch {
		case has("SMP", "Sikora", "Woodruff", "Adams-Evans", "Mehlich", "Mehlich-1", "Mehlich-3"):
			u.key = "buffer pH"
		case has("CaCl2", "KCl", "salt"):
			u.key = "salt pH"
		}
	}
	return u, u.key != ""
}

var punctuation = strings.NewReplacer(".", "", "-", "", ":", "", "/", "", "#", "")

// lookAnalyte looks a name up, without filler words, and, for names of data
// sets such as PHOS1 or CEC1, without one trailing digit.
func lookAnalyte(flat string) (key string, saturation bool) {
	var kept []string
	for w := range strings.FieldsSeq(flat) {
		switch w = strings.Trim(w, ".-:/#"); {
		case w == "base" || w == "sat" || w == "saturation" || w == "bs":
			saturation = true
		case w != "" && !slices.Contains(fillers, w):
			kept = append(kept, w)
		}
	}
	name := punctuation.Replace(strings.Join(kept, ""))
	if key, ok := analyteNames[name]; ok {
		return key, saturation
	}
	if n := len(name) - 1; n >= 2 && name[n] >= '0' && name[n] <= '9' {
		if key, ok := analyteNames[name[:n]]; ok {
			return key, saturation
		}
	}
	return "", false
}

func squeeze(s string) string { return strings.Join(strings.Fields(s), " ") }

// Ranks of a column as the holder of sample ids, best first.
const (
	notAnID   = iota
	idSample  // "Sample ID", "Grower sample no."
	idBare    // "Sample"
	idGeneral // "ID", "Point ID"
	idLab     // the lab's own number
)

// idRank tells how well a flattened header names the column of sample ids.
func idRank(flat string) int {
	if flat == "smp" {
		return notAnID // the buffer
	}
	var sample, label, owner, lab, place, general bool
	for _, w := range strings.FieldsFunc(flat, func(r rune) bool { return strings.ContainsRune(" ./:-#", r) }) {
		for _, start := range []string{"sample", "samp", "smpl", "smp", "lab", "point"} {
			if after, ok := strings.CutPrefix(w, start); ok && slices.Contains([]string{"id", "no", "num", "number", "name"}, after) {
				w = start
				label = true
				break
			}
		}
		switch w {
		case "sample", "samp", "smpl", "smp", "bag":
			sample = true
		case "id", "identification", "identifier", "label":
			label, general = true, true
		case "no", "num", "number", "nbr", "nr", "name", "code", "ref", "reference":
			label = true
		case "grower", "client", "customer", "your", "field", "farmer", "user", "producer", "sender", "soil":
			owner = true
		case "lab", "laboratory":
			lab = true
		case "point", "site", "station":
			place = true
		default:
			return notAnID
		}
	}
	hash := strings.Contains(flat, "#")
	switch {
	case lab && !owner && (sample || label || hash):
		return idLab
	case sample && (label || owner || hash):
		return idSample
	case sample:
		return idBare
	case place && !owner && (label || hash), general && !owner && !lab:
		return idGeneral
	}
	return notAnID
}

// readDepth tells whether a flattened header names the sampling depth as a range,
// and in which unit.
func readDepth(flat string) (unit string, ok bool) {
	unit, rest := takeUnit(flat)
	for w := range strings.FieldsSeq(rest) {
		switch strings.Trim(w, ".-:/#") {
		case "depth", "depths":
			ok = true
		case "depthcm":
			unit, ok = "cm", true
		case "depthin":
			unit, ok = "in", true
		case "in":
			unit = "in"
		case "sample", "sampling", "soil", "range", "layer", "core", "":
		default:
			return "", false
		}
	}
	return unit, ok
}
