package lab

import (
	"strings"
	"testing"
)

// The expected accounts were worked out by hand from the files.
func TestFiles(t *testing.T) {
	for _, c := range []struct {
		file, why           string
		samples             string // id, or id@depth
		encoding, delimiter string
		header, units       int
		want                string
	}{
		{"plain.csv", `nothing out of the ordinary`,
			"AB01C AB02D AB03E", "utf-8", ",", 1, 0, `
2 joined AB01C
3 joined AB02D
4 joined AB03E
AB01C | pH 6.5 | P 12 | K 140
AB02D | pH 6.1 | P 8 | K 122
AB03E | pH 5.8 | P 30 | K 201
`},
		{"case.csv", `a misspelt id, a duplicate, a blank value, a blank row, "<0.5", text among numbers, an id in no plan`,
			"AB01C AB02D AB03E AB04F AB05G AB06H AB07J", "utf-8", ",", 1, 0, `
2 joined AB01C
3 unmatched: sample id AB02X is in no plan -> AB02D
4 joined AB03E
5 replicate AB03E: sample AB03E is in row 4 already; averaged
6 joined AB04F
7 refused: empty row
8 joined AB05G
9 joined AB06H
10 unmatched: sample id ZZ99Q is in no plan
AB02D missing: no row has its id
AB07J missing: no row has its id
AB01C | pH 6.5 | P 12 mg/kg | K 140 mg/kg | Zn 1.2 mg/kg
AB03E | pH 5.9 n=2 range 0.2 | P 35 mg/kg n=2 range 10 ! | K 202 mg/kg n=2 range 2 | Zn 1.2 mg/kg n=2 range 0.2 !
AB04F | pH 6.2 | K 150 mg/kg | Zn 0.8 mg/kg
AB05G | pH 6.4 | P 15 mg/kg | K 160 mg/kg | Zn <0.25 mg/kg
AB06H | pH 6.3 | P 16 mg/kg | Zn 0.7 mg/kg
6/P (ppm) missing "": no value
8/Zn (ppm) censored "<0.5": below the limit 0.5; computed with half of it, 0.25
9/K (ppm) problem "see note": is not a number
`},
		{"semicolon_comma.csv", `Windows-1252, CRLF, decimal commas, which settle 1,234 but not 1.250`,
			"AB01C AB02D AB03E", "windows-1252", ";", 1, 0, `
2 joined AB01C
3 joined AB02D
4 joined AB03E
AB01C | pH 6.5 | P 12.25 mg/kg | Zn 0.75 mg/kg
AB02D | pH 6.1 | P 1008.5 mg/kg | Zn 1.234 mg/kg
AB03E | pH 5.8 | Zn <0.25 mg/kg
4/P (mg/kg) problem 1.250: is ambiguous in a table with decimal commas: write 1250 or 1,250
4/Zn [µg/g] censored "<0,5": below the limit 0.5; computed with half of it, 0.25
`},
		{"tab_utf16le.csv", `UTF-16, tabs, decimal commas, a true minus sign`,
			"AB01C AB02D AB03E", "utf-16le", "\t", 1, 0, `
2 joined AB01C
3 joined AB02D
4 joined AB03E
AB01C | pH 6.5 | OM 3.2 % | CEC 14 meq/100 g
AB02D | pH 6.1 | OM 2.9 %
AB03E | pH 5.8 | OM 4 % | CEC 12.5 meq/100 g
3/CEC (meq/100g) problem "−1": is below zero, which no CEC can be; a code for no value?
`},
		{"semicolon_utf16be.csv", `UTF-16 big-endian, semicolons with decimal points`,
			"AB01C AB02D", "utf-16be", ";", 1, 0, `
2 joined AB01C
3 joined AB02D
AB01C | pH 6.5 | Ca 1400 mg/kg
AB02D | pH 6.1 | Ca >5000 mg/kg
3/Ca_mg_kg censored ">5000": above the limit 5000; computed with the limit
`},
		{"bom_quoted.csv", `byte order mark before a quoted header, spaces outside the quotes`,
			"AB01C AB02D", "utf-8", ",", 1, 0, `
2 joined AB01C
3 joined AB02D
AB01C | pH 6.5 | P 12 mg/kg [Mehlich-3]
AB02D | pH 6.1 | P 1008.5 mg/kg [Mehlich-3]
`},
		{"sep_line.csv", `sep= line, which is no row of the spreadsheet`,
			"AB01C AB02D", "utf-8", ";", 1, 0, `
2 joined AB01C
3 refused: empty row
4 joined AB02D
AB01C | pH 6.5 | Mg 140 mg/kg
AB02D | pH 6.1
4/Mg ppm missing n.d.: below detection or not determined, no limit given
`},
		{"letterhead.csv", `letterhead, group row, row of units, totals and a footnote`,
			"AB01C AB02D AB03E", "utf-8", ",", 6, 7, `
8 joined AB01C
9 joined AB02D
10 refused: empty row
11 joined AB03E
12 refused: a total or average, not a sample
13 refused: a total or average, not a sample
14 refused: no sample id
AB01C | pH 6.5 [water] | P 12 mg/kg | K 140 mg/kg | S 9 lb/ac
AB02D | pH 6.1 [water] | P 8 mg/kg | K 122 mg/kg | S 11 lb/ac
AB03E | pH 5.8 [water] | P 30 mg/kg | K 201 mg/kg | S 10 lb/ac
`},
		{"cr_only.csv", `CR ends the rows`,
			"AB01C AB02D", "utf-8", ",", 1, 0, `
2 joined AB01C
3 joined AB02D
AB01C | pH 6.5 | NO3-N 12 mg/kg
AB02D | pH 6.1 | NO3-N 8 mg/kg
`},
		{"lab_checks.csv", `the lab's blanks and check samples, one of which is in the plan`,
			"AB01C AB02D QC-2", "utf-8", ",", 1, 0, `
2 set aside: lab check sample
3 joined QC-2
4 joined AB01C
5 set aside: lab check sample
6 joined AB02D
7 set aside: lab check sample
AB01C | pH 6.5 | P 12
AB02D | pH 6.1 | P 8
QC-2 | pH 6.8 | P 22
`},
		{"ragged.csv", `rows too long, too short, and with blank cells to spare`,
			"AB01C AB02D AB03E AB04F", "utf-8", ",", 1, 0, `
2 refused: has 5 cells, the header 4
3 joined AB02D
4 refused: has 5 cells, the header 4
5 joined AB04F
AB01C missing: row 2 may be its own, but was refused
AB03E missing: row 4 may be its own, but was refused
AB02D | pH 6.1
AB04F | pH 6.2 | P 9 | K 150
3/P missing "": no value
3/K missing "": no value
`},
		{"methods.csv", `one analyte by several methods, other bases that must not be taken for it`,
			"AB01C", "utf-8", ",", 1, 0, `
2 joined AB01C
AB01C | pH 6.5 | salt pH 6 [CaCl2] | buffer pH 6.8 [SMP] | P 12 mg/kg [Bray-1] | P 9 mg/kg [Olsen] | P2O5 lb/ac 55 lb/ac | K 140 mg/kg | K saturation 3.1 % | Mg 230.898 mg/kg | Ca 2800 lb/ac | OM 3.2 % [loss on ignition] | soluble salts 0.2 dS/m [1:2] | sand 40 % | Total P 510 | Lead 14
`},
		{"depths.csv", `depth tells rows, and samples, of one id apart`,
			"AB01C@0-8in AB02D@0-8in N24@0-20cm N24@8-24in", "utf-8", ",", 1, 0, `
2 joined AB01C
3 refused: depth 8-24 is not the depth in the plan of sample AB01C
4 joined AB02D
5 joined N24
6 joined N24
7 refused: sample id N24 fits 2 samples of the plan, and its depth doesn't tell which
AB01C | NO3-N 12
AB02D | NO3-N 9
N24 | NO3-N 7
N24 | NO3-N 5
note row 4: depth 0-6, in the plan 0-8in; joined all the same
`},
		{"ids.csv", `ids in other spellings, and those that must not be confused`,
			"AB01C A-1-11 b7 B7 007 9", "utf-8", ",", 1, 0, `
2 joined AB01C: "ab-01 c" read as AB01C
3 joined A-1-11
4 unmatched: sample id A-11-1 is in no plan -> A-1-11
5 refused: sample id "B 7" fits 2 samples of the plan, and its depth doesn't tell which
6 joined 007
7 unmatched: sample id 7 is in no plan -> 007
8 unmatched: sample id "Ä9" is in no plan
b7 missing: row 5 may be its own, but was refused
B7 missing: row 5 may be its own, but was refused
9 missing: no row has its id
AB01C | pH 6.5
A-1-11 | pH 6
007 | pH 6.3
`},
		{"lab_number_only.csv", `the lab's number is the only id`,
			"AB01C", "utf-8", ",", 1, 0, `
2 joined AB01C
3 unmatched: sample id AB02D is in no plan -> AB01C
AB01C | pH 6.5 | P 12
`},
		{"multiline.csv", `line breaks and doubled quotes in cells`,
			"AB01C AB02D", "utf-8", ",", 1, 0, `
2 joined AB01C
3 joined AB02D
4 unmatched: sample id AB09Z is in no plan
AB01C | pH 6.5 | P 12 mg/kg
AB02D | pH 6.1 | P 8 mg/kg
`},
		{"pages.csv", `blank rows and a repeated header between pages, one header twice, blank lines at the end`,
			"AB01C AB02D", "utf-8", ";", 1, 2, `
3 joined AB01C
4 refused: empty row
5 refused: empty row
6 refused: the header again
7 joined AB02D
AB01C | pH 6.5 | P 12 mg/kg | P 24 lb/ac
AB02D | pH 6.1 | P 8 mg/kg | P 16 lb/ac
`},
		{"nondetects.csv", `all the ways of giving no number`,
			"AB01C AB02D AB03E AB04F AB05G AB06H AB07J", "utf-8", ",", 1, 0, `
2 joined AB01C
3 joined AB02D
4 joined AB03E
5 joined AB04F
6 joined AB05G
7 joined AB06H
8 joined AB07J
AB06H answered: its rows hold no value
AB07J answered: its rows hold no value
AB01C | Cadmium <0.25 | Cu 0.5
AB02D | Cadmium <0.2
AB03E | Cadmium >200
AB04F | Cadmium <0.1
AB05G | Cadmium 0.3
AB06H
AB07J
2/Cadmium censored "<0.5": below the limit 0.5; computed with half of it, 0.25
2/Zn missing ND: below detection or not determined, no limit given
3/Cadmium censored "< 0.4": below the limit 0.4; computed with half of it, 0.2
3/Zn missing BDL: below detection, no limit given
3/Cu missing -: no value
4/Cadmium censored ">200": above the limit 200; computed with the limit
4/Zn missing n.d.: below detection or not determined, no limit given
4/Cu missing NA: no value
5/Cadmium censored "≤0.2": below the limit 0.2; computed with half of it, 0.1
5/Zn missing tr: a trace, no figure given
5/Cu problem NaN: is not a number
6/Zn missing "Not tested": not tested
6/Cu problem -0.1: is below zero, which no Cu can be; a code for no value?
7/Cadmium problem "<-1": is a limit below zero
7/Zn problem 0x1F: is not a number
7/Cu problem 1_000: is not a number
8/Cadmium problem "<": is not a number
8/Zn problem 1e400: is out of all range
8/Cu problem "#VALUE!": is not a number
`},
		{"thousands.csv", `commas inside the numbers of a comma-separated file`,
			"AB01C AB02D AB03E", "utf-8", ",", 1, 0, `
2 joined AB01C
3 joined AB02D
4 joined AB03E
AB01C | Mg 1234.5
AB02D | Mg 1.23457e+06
AB03E | Mg 1.234
2/Ca problem "1,234": is ambiguous: write 1234 or 1.234
3/Ca problem "12,5": has a decimal comma in a comma-separated file: write 12.5
4/Ca problem "12,34,5": is not a number
`},
	} {
		t.Run(strings.TrimSuffix(c.file, ".csv"), func(t *testing.T) {
			table := readTestdata(t, c.file)
			if table.Encoding != c.encoding || table.Delimiter != c.delimiter || table.HeaderRow != c.header || table.UnitsRow != c.units {
				t.Errorf("%s: got %s %q header row %d units row %d", c.why, table.Encoding, table.Delimiter, table.HeaderRow, table.UnitsRow)
			}
			r := Join(refs(c.samples), table)
			if err := r.Check(); err != nil {
				t.Error(err)
			}
			if got := digest(r); got != strings.TrimPrefix(c.want, "\n") {
				t.Errorf("%s: got\n%s\nwant%s", c.why, got, c.want)
			}
		})
	}
}
