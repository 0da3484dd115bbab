package lab

import (
	"regexp"
	"slices"
	"strings"
)

// analyteNames gives the spellings of each analyte, flattened, with spaces and
// punctuation taken out. Total contents are other figures than the soil test
// value and have no spelling here, nor have names that may mean an ion or the
// element in it (nitrate, NO3): such columns keep their own names.
var analyteNames = byName(map[string][]string{
	"pH":              {"ph", "phw", "phwater", "waterph", "phinwater", "phh2o", "h2oph", "soilreaction", "phwert", "pheau", "activeph", "soilwaterph", "phsoil"},
	"salt pH":         {"phs", "phsalt", "saltph", "phcacl2", "cacl2ph", "phkcl", "kclph", "phca"},
	"buffer pH":       {"bufferph", "phbuffer", "bph", "phb", "bufph", "phbuf", "buffph", "phbuff", "buffer", "bufferedph", "soilbufferph", "phbuffered"},
	"P":               {"p", "p1", "p2", "phos", "phosphorus", "phosphorous", "phosphor", "phosphore", "fosforo", "fósforo", "po4p", "ppo4", "phosphatep", "orthop"},
	"K":               {"k", "pot", "potassium", "kalium", "potasio"},
	"Ca":              {"ca", "calcium", "kalzium", "calcio"},
	"Mg":              {"mg", "magnesium", "magnésium", "magnesio"},
	"S":               {"s", "so4s", "sso4", "sulfur", "sulphur", "sulfates", "sulphates", "sulfatesulfur", "sulphatesulphur", "sulfates", "sulfaten", "schwefel", "soufre", "azufre", "sulfurs", "sulfursulfate"},
	"Zn":              {"zn", "zinc", "zink"},
	"Cu":              {"cu", "copper", "kupfer", "cuivre", "cobre"},
	"Mn":              {"mn", "manganese", "mangan", "manganèse", "manganeso"},
	"Fe":              {"fe", "iron", "eisen", "fer", "hierro"},
	"B":               {"b", "boron", "bor", "bore", "boro"},
	"Na":              {"na", "sodium", "natrium", "sodio"},
	"Al":              {"al", "aluminum", "aluminium"},
	"H":               {"h", "hydrogen"},
	"Cl":              {"cl", "chloride", "chlorid"},
	"OM":              {"om", "organicmatter", "orgmatter", "som", "humus", "organicm", "soilorganicmatter", "orgmat", "matièreorganique", "materiaorganica", "organicmattercontent", "omcontent"},
	"CEC":             {"cec", "cationexchangecapacity", "ecec", "effectivecec", "cationexchcapacity", "cationexchcap", "cic", "kak", "tec", "totalexchangecapacity", "exchangecapacity"},
	"NO3-N":           {"no3n", "n03n", "nno3", "nitraten", "nitratenitrogen", "nitrogennitrate", "nitricnitrogen"},
	"NH4-N":           {"nh4n", "nnh4", "ammoniumn", "ammoniumnitrogen", "ammonian", "ammonianitrogen"},
	"soluble salts":   {"solublesalts", "solsalts", "solublesalt", "ssalts", "salts", "ec", "electricalconductivity", "electricalcond", "conductivity", "electroconductivity", "ece", "salinity", "elecconductivity", "eleccond", "totalsolublesalts"},
	"sand":            {"sand", "totalsand", "sandcontent", "sable", "arena"},
	"silt":            {"silt", "totalsilt", "siltcontent", "schluff"},
	"clay":            {"clay", "totalclay", "claycontent", "argile", "arcilla"},
	"base saturation": {"basesaturation", "basesat", "totalbasesaturation", "totalbasesat", "sumofbasesaturation"},
	"Na saturation":   {"esp", "sodiumpercentage", "exchangeablesodiumpercentage", "exchangeablesodiumpercent"},
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

// bases are the cations that may be given as shares of the exchange capacity.
var bases = []string{"K", "Ca", "Mg", "Na", "H", "Al"}

func isSaturation(analyte string) bool {
	cation, ok := strings.CutSuffix(analyte, " saturation")
	return ok && slices.Contains(bases, cation)
}

// ionNames are those of ions that hold an analyte. They name it only together
// with what they are given as: "nitrate as NO3".
var ionNames = map[string]string{"nitrate": "NO3-N", "nitrates": "NO3-N", "no3": "NO3-N", "sulfate": "S", "sulphate": "S", "so4": "S", "ammonium": "NH4-N", "nh4": "NH4-N", "phosphate": "P", "potash": "K"}

// ionNote says what is unclear about a column that an ion names, "" about any
// other.
func ionNote(flat string) string {
	_, rest := takeUnit(flat)
	switch analyte := ionNames[bareName(rest)]; analyte {
	case "NO3-N":
		return "may be nitrate or the nitrogen in it, 4.43 times apart: name it NO3-N, or nitrate as NO3"
	case "S":
		return "may be sulfate or the sulfur in it, 3.00 times apart: name it SO4-S, or sulfate as SO4"
	case "NH4-N":
		return "may be ammonium or the nitrogen in it, 1.29 times apart: name it NH4-N, or ammonium as NH4"
	case "P":
		return "may be phosphorus or an oxide or ion of it: name it P or P2O5"
	case "K":
		return "may be potassium or its oxide: name it K or K2O"
	}
	return ""
}

// fillers are words beside an analyte's name that don't change what it is.
var fillers = []string{"soil", "test", "available", "avail", "extractable", "extr", "extract", "ext", "exch", "exchangeable", "result", "value", "level", "conc", "concentration", "by", "as", "in", "of", "plant-available", "mineral"}

// understood is what a header says about its column.
type understood struct {
	key, unit, method string
	form              string // one of forms, "" for the analyte itself
	saturation        bool   // a share of the exchange capacity, not an amount
}

// glued puts a space where headers leave one out: M3P, OlsenP, EC1:5.
var glued = []struct {
	re  *regexp.Regexp
	put string
}{
	{regexp.MustCompile(`(^| )(m[13])(p|k|ca|mg|zn|cu|mn|fe|b|s|na|al)($| )`), "$1$2 $3$4"},
	{regexp.MustCompile(`(^| )(olsen|bray|bray[12]|mehlich[13]?)p($| )`), "$1$2 p$3"},
	{regexp.MustCompile(`(^| )p(olsen|bray[12]?|mehlich[13]?)($| )`), "${1}p $2$3"},
	{regexp.MustCompile(`(^| )(ec|ph)(1:)`), "$1$2 $3"},
	{regexp.MustCompile(`(^| )ph(cacl2|kcl|h2o)($| )`), "${1}ph $2$3"},
	{regexp.MustCompile(`(^| )(p|k|ca|mg|na|p2o5|k2o|mgo|cao)[ -]al($| )`), "${1}$2 ammonium-lactate$3"},
}

// dilution is the soil to liquid ratio or the strength of the liquid.
var dilution = word(`1:[0-9]+(?:\.[0-9]+)?(?: ?\(?[vw][/:][vw]\)?)?|0?\.01 ?m`)

// grain is the size of the grains of a texture class.
var grain = word(`[0-9.]+(?: ?- ?[0-9.]+)? ?(?:mm|[uμ]m)`)

// shareOfCEC says that a cation is given as a share of the exchange capacity.
var shareOfCEC = word(`(?:of|/) ?(?:the )?c\.?e\.?c\.?`)

// readAnalyte reads a flattened header such as "p bray-1 ppm".
func readAnalyte(flat string) (u understood, ok bool) {
	flat, inside := outOfUnit(flat)
	u.unit, flat = takeUnit(flat)
	for _, g := range glued {
		flat = g.re.ReplaceAllString(flat, g.put)
	}
	ratio := strings.Trim(dilution.FindString(flat), " -")
	flat = squeeze(grain.ReplaceAllString(dilution.ReplaceAllString(flat, " "), " "))
	flat = squeeze(shareOfCEC.ReplaceAllString(flat, " sat "))
	if flat == "%" || flat == "" {
		flat, inside = inside, ""
	}
	if u.look(flat, inside); u.key != "" {
		if u.key == "salt pH" || u.key == "pH" { // the name may hold the method, as in "pH CaCl2"
			u.method = firstMethod(flat)
		}
		u.dilute(ratio)
		return u, true
	}
	methods, flat := takeMethods(flat)
	if len(methods) == 0 {
		return u, false
	}
	u.method = mainMethod(methods)
	has := func(names ...string) bool {
		return slices.ContainsFunc(names, func(n string) bool { return slices.Contains(methods, n) })
	}
	if flat == "" && inside == "" {
		switch {
		case has("Bray-1", "Bray-2", "Olsen", "Pw"):
			u.key = "P" // these extract phosphorus and nothing else
		case has("SMP", "Sikora", "Woodruff"):
			u.key = "buffer pH"
		}
		return u, u.key != ""
	}
	if flat == "" {
		flat, inside = inside, ""
	}
	u.look(flat, inside)
	if u.key == "pH" {
		switch {
		case has("SMP", "Sikora", "Woodruff", "Adams-Evans", "Modified Mehlich", "Mehlich", "Mehlich-1", "Mehlich-3"):
			u.key = "buffer pH"
		case has("CaCl2", "KCl", "salt"):
			u.key = "salt pH"
		}
	}
	u.dilute(ratio)
	return u, u.key != ""
}

// dilute makes the ratio of soil to water the method of soluble salts, whose
// figure goes by it.
func (u *understood) dilute(ratio string) {
	if u.key == "soluble salts" && u.method == "" && strings.HasPrefix(ratio, "1:") {
		u.method = ratio
	}
}

// look looks up a name, with what was named inside of its unit.
func (u *understood) look(flat, inside string) {
	u.key, u.form, u.saturation = lookAnalyte(flat)
	switch {
	case inside == "":
	case u.key == "":
		u.key, u.form, u.saturation = lookAnalyte(flat + " " + inside)
	case forms[formNamed(inside)].analyte == u.key:
		u.form = formNamed(inside)
	}
}

var punctuation = strings.NewReplacer(".", "", "-", "", ":", "", "/", "", "#", "")

// lookAnalyte looks a name up, without filler words, and, for names of data
// sets such as PHOS1 or CEC1, without one trailing digit.
func lookAnalyte(flat string) (key, form string, saturation bool) {
	if key, ok := analyteNames[bareName(flat)]; ok {
		return key, "", false
	}
	var kept []string
	for w := range strings.FieldsSeq(flat) {
		switch w = strings.Trim(w, ".-:/#"); {
		case w == "base" || w == "sat" || w == "saturation" || w == "bs" || w == "saturated":
			saturation = true
		case w != "":
			kept = append(kept, w)
		}
	}
	name := bareName(strings.Join(kept, " "))
	if key, ok := analyteNames[name]; ok {
		return key, "", saturation
	}
	if form = formOf(name); form != "" {
		return forms[form].analyte, form, saturation
	}
	if n := len(name) - 1; n >= 2 && name[n] >= '0' && name[n] <= '9' {
		if key, ok := analyteNames[name[:n]]; ok {
			return key, "", saturation
		}
	}
	return "", "", false
}

// bareName takes filler words, spaces and punctuation out of a flattened name.
func bareName(flat string) string {
	var kept []string
	for w := range strings.FieldsSeq(flat) {
		if w = strings.Trim(w, ".-:/#"); w != "" && !slices.Contains(fillers, w) {
			kept = append(kept, w)
		}
	}
	return punctuation.Replace(strings.Join(kept, ""))
}

// formOf reads a bare name as a form: p2o5, phosphorusp2o5, nitrateno3.
func formOf(name string) string {
	for f, is := range forms {
		before, ok := strings.CutSuffix(name, strings.ToLower(f))
		if !ok {
			continue
		}
		if before == "" && is.nameAlone || before != "" && (analyteNames[before] == is.analyte || ionNames[before] == is.analyte) {
			return f
		}
	}
	return ""
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
