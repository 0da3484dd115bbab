package lab

import (
	"regexp"
	"slices"
	"strings"
)

// methodSpellings: the extraction or the buffer, as headers name it, in lower
// case. The earlier ones hold the later ones' words.
var methodSpellings = []struct {
	method string
	re     *regexp.Regexp
}{
	{"Bray-2", word(`bray[ -]*p?[ -]*(?:2|ii)|strong bray`)},
	{"Bray-1", word(`(?:weak )?bray[ -]*p?[ -]*(?:1|i)|weak bray|bray`)},
	{"Modified Mehlich", word(`mod(?:ified|\.)? mehlich`)},
	{"Mehlich-3", word(`mehlich[ -]*p?[ -]*(?:3|iii)|m[ -]?(?:3|iii)`)},
	{"Mehlich-1", word(`mehlich[ -]*p?[ -]*(?:1|i)|m[ -]?1|double acid`)},
	{"Mehlich", word(`mehlich`)},
	{"Olsen", word(`(?:olsen ?)?(?:bicarb\.?|(?:sodium )?bicarbonate|nahco3)|olsen`)},
	{"AB-DTPA", word(`ab[ -]dtpa`)},
	{"DTPA-sorbitol", word(`dtpa[ -/]*sorbitol`)},
	{"DTPA", word(`dtpa`)},
	{"EDTA", word(`edta`)},
	{"hot water", word(`hot[ -]water|hws|hw`)},
	{"ammonium lactate", word(`ammonium[ -]lactate`)},
	{"calcium acetate lactate", word(`cal|calcium[ -]acetate[ -]lactate`)},
	{"double lactate", word(`dl|double[ -]lactate`)},
	{"ammonium acetate", word(`(?:1 ?[nm] )?(?:nh4o?ac|amm?\.? ?acet?\.?|am ?oac|ammonium acetate)`)},
	{"ammonium nitrate", word(`nh4no3|ammonium nitrate`)},
	{"modified Morgan", word(`mod(?:ified|\.)? morgan`)},
	{"Morgan", word(`morgan`)},
	{"Kelowna", word(`(?:mod(?:ified|\.)? )?kelowna`)},
	{"Lancaster", word(`lancaster`)},
	{"H3A", word(`h3a(?:-[0-9])?`)},
	{"resin", word(`resin|aem`)},
	{"Pw", word(`pw`)},
	{"SMP", word(`smp`)},
	{"Sikora", word(`(?:moore[ -])?sikora(?:[ -]?[12])?`)},
	{"Woodruff", word(`woodruff|n?wdrf`)},
	{"Adams-Evans", word(`adams[ -]evans|a-e|ae`)},
	{"barium chloride", word(`bacl2|barium chloride`)},
	{"cobaltihexammine", word(`cobaltihexammine|cohex`)},
	{"Metson", word(`metson`)},
	{"monocalcium phosphate", word(`mcp|monocalcium phosphate`)},
	{"KCl-40", word(`kcl[ -]?40`)},
	{"CaCl2", word(`cacl2|calcium chloride`)},
	{"KCl", word(`(?:[12] ?[nm] )?kcl`)},
	{"HCl", word(`(?:0\.1 ?[nm] )?hcl`)},
	{"saturated paste", word(`saturated paste|sat\.? paste|saturation extract|paste`)},
	{"salt", word(`salt`)},
	{"water", word(`water|h2o|eau`)},
	{"loss on ignition", word(`loi|loss[ -]on[ -]ign(?:ition|\.)?`)},
	{"Walkley-Black", word(`walkley[ -]black|w-b`)},
	{"hydrometer", word(`hydrometer|bouyoucos`)},
	{"pipette", word(`pipette`)},
	{"laser", word(`laser(?: diffraction)?`)},
	{byICP, word(`icp(?:-?(?:oes|aes|ms))?|icap`)},
	{byColour, word(`colou?r(?:imetr(?:ic|y))?|col\.?|spectrophotometr(?:ic|y)|molybdate|molybdenum blue`)},
	{"summation", word(`sum of (?:cations|bases)|sum|summation|calc\.?|calculated|estimated|est\.?`)},
}

// Ways of measuring, not of extracting. They make two tests of Mehlich-3 P:
// the same soils gave 31 mg/kg by ICP and 19 by colour (Mallarino 2003, Soil
// Sci. Soc. Am. J. 67:1928).
const (
	byICP    = "ICP"
	byColour = "colorimetric"
)

// takeMethods finds the methods that a flattened name holds, and returns it
// without them.
func takeMethods(flat string) (methods []string, rest string) {
	for _, m := range methodSpellings {
		if at := m.re.FindStringIndex(flat); at != nil {
			methods = append(methods, m.method)
			flat = squeeze(flat[:at[0]] + " " + flat[at[1]:])
		}
	}
	return methods, flat
}

// mainMethod is the extraction among methods. Of Mehlich-3 it tells how it was
// measured, if that is said.
func mainMethod(methods []string) string {
	for _, m := range methods {
		switch {
		case m == byICP || m == byColour:
			continue
		case m == "Mehlich-3" && slices.Contains(methods, byICP):
			return m + " " + byICP
		case m == "Mehlich-3" && slices.Contains(methods, byColour):
			return m + " " + byColour
		}
		return m
	}
	return ""
}

// firstMethod is the first of methodSpellings in a flattened name, "" if none is.
func firstMethod(flat string) string {
	for _, m := range methodSpellings {
		if m.re.MatchString(flat) {
			return m.method
		}
	}
	return ""
}

// readMethod reads a cell as a method: one known here, else the text itself.
func readMethod(cell string) string {
	text := squeeze(tidy(cell))
	if len(text) > 60 {
		return ""
	}
	if _, none := missingText(text); none {
		return ""
	}
	methods, _ := takeMethods(flatten(text))
	if m := mainMethod(methods); m != "" {
		return m
	}
	return text
}

// methodWords end the header of a column that names the method row by row.
var methodWords = []string{"method", "extractant", "extraction", "extractor", "procedure"}

// readMethodHeader returns the analyte whose methods a column names: "P
// method", "Buffer type". An extractant alone is that of P.
func readMethodHeader(flat string) (analyte string, ok bool) {
	words := strings.Fields(flat)
	n := len(words)
	if n == 0 {
		return "", false
	}
	last := words[n-1]
	switch {
	case n == 1 && last == "extractant":
		return "P", true
	case n == 2 && words[0] == "buffer" && (last == "type" || last == "name"):
		return "buffer pH", true
	case n < 2 || !slices.Contains(methodWords, last):
		return "", false
	}
	u, ok := readAnalyte(strings.Join(words[:n-1], " "))
	return u.key, ok && !u.saturation
}

// methodMatters tells of which analytes the figure goes by the method, so that
// a missing one is worth a note.
func methodMatters(analyte string) bool {
	switch analyte {
	case "P", "K", "Ca", "Mg", "S", "Zn", "Cu", "Mn", "Fe", "B", "Al", "buffer pH", "soluble salts":
		return true
	}
	return false
}

// Mixed says which analytes can't be taken for one set of figures: those that
// are in columns of different methods, or in a column whose rows are of
// different methods or ended in different units. A method that isn't given
// counts as another one. Figures of different extractants measure different
// things and are not to be mapped together or put through one table of rates
// (SERA-IEG-6 no. 5, 2005). One line to an analyte; none if nothing is mixed.
// The rows' methods and units are known after Reckoning.Examine.
func Mixed(columns Columns) []string {
	var lines []string
	done := map[string]bool{}
	for i, c := range columns {
		if c.Role != RoleAnalyte || done[c.Analyte] {
			continue
		}
		done[c.Analyte] = true
		var all, methods []string
		for _, d := range columns[i:] {
			if d.Role != RoleAnalyte || d.Analyte != c.Analyte {
				continue
			}
			switch {
			case len(d.Methods) > 1:
				lines = append(lines, c.Analyte+": the rows of column "+show(d.Name)+" are by different methods: "+strings.Join(named(d.Methods), ", "))
			case len(d.Units) > 1:
				lines = append(lines, c.Analyte+": the values of column "+show(d.Name)+" are in different units: "+strings.Join(d.Units, ", "))
			}
			m := named([]string{d.Method})[0]
			all = append(all, show(d.Name)+" ("+m+")")
			if !slices.Contains(methods, m) {
				methods = append(methods, m)
			}
		}
		if len(methods) > 1 {
			lines = append(lines, c.Analyte+" is in columns of different methods: "+strings.Join(all, ", "))
		}
	}
	return lines
}

// noMethod stands for a method that the file doesn't give.
const noMethod = "method not given"

func named(methods []string) []string {
	out := slices.Clone(methods)
	for i, m := range out {
		if m == "" {
			out[i] = noMethod
		}
	}
	return out
}
