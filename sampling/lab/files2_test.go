package lab

import (
	"strings"
	"testing"
)

// Shapes of files in pairs. The expected accounts were worked out by hand from
// the files; rows is how many a spreadsheet shows, strict how many statements a
// strict join fails on.
func TestFilesInPairs(t *testing.T) {
	for _, c := range []struct {
		file, why           string
		samples             string // id, or id@depth
		checks              []string
		encoding, delimiter string
		header, units, rows int
		strict              int
		want                string
	}{
		{"pair_letterhead_1252.csv", `letterhead, semicolons, decimal commas, Windows-1252`,
			"BC01P BC02Q BC03R BC04T", nil, "windows-1252", ";", 4, 0, 7, 1, `
5 joined BC01P
6 joined BC02Q
7 joined BC03R
BC04T missing: no row has its id
BC01P | salt pH 5.9 [CaCl2] | P 65 mg/kg | K 120 mg/kg
BC02Q | salt pH 6.2 [CaCl2] | P <5 mg/kg | K 145 mg/kg
BC03R | P 71 mg/kg | K 110 mg/kg
6/P mg/100g censored "< 1,0": below the limit 1; computed with half of it, 0.5
7/pH (CaCl2) missing "": no value
`},
		{"pair_units_totals.csv", `row of units, means and totals below`,
			"BC01P BC02Q", nil, "utf-8", ",", 1, 2, 7, 0, `
3 joined BC01P
4 joined BC02Q
5 refused: a total or average, not a sample
6 refused: a total or average, not a sample
7 refused: a total or average, not a sample
BC01P | pH 6.4 | P 18 mg/kg | K 155 mg/kg | OM 3.1 %
BC02Q | pH 6.6 | P 22 mg/kg | K 170 mg/kg | OM 2.8 %
`},
		{"pair_utf16_letterhead.csv", `UTF-16, tabs, letterhead`,
			"BC01P BC02Q", nil, "utf-16le", "\t", 4, 0, 6, 0, `
5 joined BC01P
6 joined BC02Q
BC01P | pH 6.4 | Mg 210 mg/kg | S 11 mg/kg
BC02Q | pH 6.6 | S 9 mg/kg
6/Mg (ppm) missing "": no value
`},
		{"pair_bom_units.csv", `byte order mark, row of units that is named so`,
			"BC01P BC02Q", nil, "utf-8", ",", 1, 2, 4, 0, `
3 joined BC01P
4 joined BC02Q: bc02q read as BC02Q
BC01P | pH 6.4 | P 18 mg/kg | Zn 1.1 mg/kg
BC02Q | pH 6.6 | P 22 mg/kg | Zn <0.1 mg/kg
4/Zn censored "<0.2": below the limit 0.2; computed with half of it, 0.1
`},
		{"pair_breaks_totals.csv", `line breaks in quotes, in the header and beside a mean`,
			"BC01P BC02Q", nil, "utf-8", ",", 1, 0, 4, 0, `
2 joined BC01P
3 joined BC02Q
4 refused: a total or average, not a sample
BC01P | pH 6.4 | P 18 mg/kg
BC02Q | pH 6.6 | P 22 mg/kg
`},
		{"two_headers.csv", `a header of two lines, the second of which names the columns`,
			"BC01P BC02Q", nil, "utf-8", ",", 2, 0, 4, 0, `
3 joined BC01P
4 joined BC02Q
BC01P | pH 6.4 | P 18 mg/kg | K 155 mg/kg | Ca 1450 mg/kg
BC02Q | pH 6.6 | P 22 mg/kg | K 170 mg/kg | Ca 1620 mg/kg
`},
		{"pair_thousands_comma.csv", `points and hard spaces between thousands, decimal commas`,
			"BC01P BC02Q BC03R BC04T", nil, "utf-8", ";", 1, 0, 5, 1, `
2 joined BC01P
3 joined BC02Q
4 joined BC03R
5 joined BC04T
BC01P | pH 6.4 | Ca 1450.5 mg/kg | Mg 12345 mg/kg | Zn 0.75 mg/kg
BC02Q | pH 6.6 | Ca 1.23457e+06 mg/kg | Mg 210 mg/kg | Zn 1.25 mg/kg
BC03R | pH 6.1 | Mg 199.5 mg/kg | Zn 0.9 mg/kg
BC04T | pH 6 | Ca 1620.5 mg/kg | Mg 180 mg/kg | Zn 1.1 mg/kg
4/Ca mg/kg problem 2.100: is ambiguous in a table with decimal commas: write 2100 or 2,100
`},
		{"blocks.csv", `blank lines between blocks and at the end`,
			"BC01P BC02Q BC03R BC04T", nil, "utf-8", ",", 1, 0, 8, 0, `
2 joined BC01P
3 joined BC02Q
4 refused: empty row
5 joined BC03R
6 refused: empty row
7 refused: empty row
8 joined BC04T
BC01P | pH 6.4 | P 18
BC02Q | pH 6.6 | P 22
BC03R | pH 6.1 | P 9
BC04T | pH 6 | P 14
`},
		{"pages_units.csv", `header and units again on every page, page numbers`,
			"BC01P BC02Q BC03R", nil, "utf-8", ",", 1, 2, 9, 0, `
3 joined BC01P
4 joined BC02Q
5 refused: no sample id
6 refused: the header again
7 refused: the row of units again
8 joined BC03R
9 refused: no sample id
BC01P | pH 6.4 | P 18 mg/kg | K 155 mg/kg
BC02Q | pH 6.6 | P 22 mg/kg | K 170 mg/kg
BC03R | pH 6.1 | P 9 mg/kg | K 120 mg/kg
`},
		{"lab_number_first.csv", `ids in the second column; in one row the two are swapped`,
			"BC01P BC02Q BC03R", nil, "utf-8", ",", 1, 0, 4, 2, `
2 joined BC02Q
3 joined BC01P
4 unmatched: sample id 1003 is in no plan
BC03R missing: no row has its id
BC01P | pH 6.4 | P 36 lb/ac [Bray-1]
BC02Q | pH 6.6 | P 44 lb/ac [Bray-1]
`},
		{"footers.csv", `remarks below the table; one of a single word may be an id`,
			"BC01P BC02Q", nil, "utf-8", ",", 1, 0, 8, 1, `
2 joined BC01P
3 joined BC02Q
4 refused: empty row
5 refused: a remark, not a sample
6 refused: a remark, not a sample
7 unmatched: sample id Signed is in no plan
8 refused: a remark, not a sample
BC01P | pH 6.4 | P 18 mg/kg | K 155 mg/kg
BC02Q | pH 6.6 | P 22 mg/kg | K 170 mg/kg
`},
		{"trailing.csv", `delimiters at the ends of rows, with and without something behind`,
			"BC01P BC02Q BC03R BC04T", nil, "utf-8", ";", 1, 0, 5, 4, `
2 joined BC01P
3 joined BC02Q
4 refused: has 5 cells, the header 3
5 refused: has 6 cells, the header 3
BC03R missing: row 4 may be its own, but was refused
BC04T missing: row 5 may be its own, but was refused
BC01P | pH 6.4 | P 18 mg/kg
BC02Q | pH 6.6 | P 22 mg/kg
`},
		{"pair_cr_units.csv", `CR ends the rows, row of units`,
			"BC01P BC02Q", nil, "utf-8", ",", 1, 2, 4, 0, `
3 joined BC01P
4 joined BC02Q
BC01P | pH 6.4 | P 36 lb/ac | B 0.5 mg/kg
BC02Q | pH 6.6 | P 44 lb/ac
4/B missing ND: below detection or not determined, no limit given
`},
		{"pair_utf16be_totals.csv", `UTF-16 big-endian, semicolons, decimal commas, a mean`,
			"BC01P BC02Q", nil, "utf-16be", ";", 1, 0, 4, 0, `
2 joined BC01P
3 joined BC02Q
4 refused: a total or average, not a sample
BC01P | pH 6.4 | OM 3.1 % | CEC 12.5 meq/100 g
BC02Q | pH 6.6 | OM 2.8 % | CEC >40 meq/100 g
3/CEC meq/100g censored "> 40,0": above the limit 40; computed with the limit
`},
		{"pair_sep_letterhead.csv", `sep= line above a letterhead, decimal commas`,
			"BC01P BC02Q", nil, "utf-8", ";", 4, 0, 6, 0, `
5 joined BC01P
6 joined BC02Q
BC01P | pH 6.4 [water] | P 18.5 mg/kg
BC02Q | pH 6.6 [water] | P 22 mg/kg
`},
		{"conflicts.csv", `replicates that agree, differ, can't be one soil, and lie on both sides of a limit`,
			"BC01P BC02Q BC03R BC04T", nil, "utf-8", ",", 1, 0, 9, 6, `
2 joined BC01P
3 refused: of sample BC02Q rows 3 and 5 are in conflict: "P (ppm)" is 22 and 60, more than a factor of 2 apart
4 replicate BC01P: sample BC01P is in row 2 already; averaged
5 refused: of sample BC02Q rows 3 and 5 are in conflict: "P (ppm)" is 22 and 60, more than a factor of 2 apart
6 refused: of sample BC03R rows 6 and 7 are in conflict: pH is 5.2 and 6.3, more than 1.0 apart
7 refused: of sample BC03R rows 6 and 7 are in conflict: pH is 5.2 and 6.3, more than 1.0 apart
8 joined BC04T
9 replicate BC04T: sample BC04T is in row 8 already; averaged
BC02Q missing: rows 3 and 5 are in conflict: "P (ppm)" is 22 and 60, more than a factor of 2 apart; strike the wrong row, or allow their mean
BC03R missing: rows 6 and 7 are in conflict: pH is 5.2 and 6.3, more than 1.0 apart; strike the wrong row, or allow their mean
BC01P | pH 6.45 n=2 range 0.1 | P 19 mg/kg n=2 range 2 ! | K 152.5 mg/kg n=2 range 5 | Zn 1.15 mg/kg n=2 range 0.1 | Batch 5 n=2 range 8 !
BC04T | pH 6.05 n=2 range 0.1 | P 14.5 mg/kg n=2 range 1 | K 129 mg/kg n=2 range 2 | Zn 0.575 mg/kg n=2 range 0.65 ! | Batch 1 n=2 range 0
8/Zn (ppm) censored "<0.5": below the limit 0.5; computed with half of it, 0.25
`},
		{"pair_checks_1252.csv", `the lab's checks, one of them by the caller's pattern, Windows-1252`,
			"BC01P BC02Q", []string{"STD?", "ref soil*"}, "windows-1252", ";", 1, 0, 6, 0, `
2 set aside: lab check sample
3 joined BC01P
4 set aside: lab check sample
5 set aside: lab check sample
6 joined BC02Q
BC01P | pH 6.4 | P 18 mg/kg
BC02Q | pH 6.6 | P 22 mg/kg
`},
		{"pair_quoted_thousands.csv", `quoted ids with spaces, commas between thousands in a comma-separated file`,
			"BC01P BC02Q BC03R", nil, "utf-8", ",", 1, 0, 4, 1, `
2 joined BC01P: "bc-01 p" read as BC01P
3 joined BC02Q
4 joined BC03R: "BC 03R" read as BC03R
BC01P | pH 6.4 | Ca 1450 mg/kg | Mg 210 mg/kg
BC02Q | pH 6.6 | Mg 2210.5 mg/kg
BC03R | pH 6.1 | Ca 980 mg/kg | Mg 1.995e+06 mg/kg
3/Ca (ppm) problem "1,620": is ambiguous: write 1620 or 1.620
`},
		{"mistyped.csv", `slips of every kind, and one id from elsewhere`,
			"BC01P BC02Q BC03R BC04T BC05V BC06W", nil, "utf-8", ",", 1, 0, 7, 12, `
2 unmatched: sample id BC0IP is in no plan -> BC01P
3 unmatched: sample id BC20Q is in no plan -> BC02Q
4 unmatched: sample id BC3R is in no plan -> BC03R
5 unmatched: sample id CF07W is in no plan
6 unmatched: sample id BC05VV is in no plan -> BC05V
7 unmatched: sample id B-C-0-6-W is in no plan -> BC06W
BC01P missing: no row has its id
BC02Q missing: no row has its id
BC03R missing: no row has its id
BC04T missing: no row has its id
BC05V missing: no row has its id
BC06W missing: no row has its id
`},
		{"no_id_rows.csv", `figures without an id, a remark without one, a depth that nobody asked for`,
			"BC01P@0-20cm BC02Q@0-20cm BC03R@0-20cm", nil, "utf-8", ",", 1, 0, 6, 3, `
2 joined BC01P
3 refused: no sample id
4 joined BC03R
5 refused: depth 20-40 is not the depth in the plan of sample BC03R
6 refused: no sample id
BC02Q missing: no row has its id
BC01P | pH 6.4 | P 18 mg/kg
BC03R | pH 6.1 | P 9 mg/kg
`},
		{"pair_tab_group.csv", `tabs, a row of groups above the header, quoted thousands`,
			"BC01P BC02Q", nil, "utf-8", "\t", 2, 0, 4, 1, `
3 joined BC01P
4 joined BC02Q
BC01P | pH 6.4 | P 18 mg/kg | K 155 mg/kg | Zn 1.1 mg/kg | Mn 12 mg/kg
BC02Q | pH 6.6 | P 22 mg/kg | K 1170.5 mg/kg | Zn 0.9 mg/kg
4/Mn ppm problem "1,012": is ambiguous: write 1012 or 1.012
`},
		{"comma_in_comma.csv", `decimal commas in quotes in a comma-separated file`,
			"BC01P BC02Q", nil, "utf-8", ",", 1, 0, 3, 3, `
2 joined BC01P
3 joined BC02Q
BC01P | K 155 mg/kg
BC02Q | pH 6.6 | K 1170.5 mg/kg
2/pH problem "6,4": has a decimal comma in a comma-separated file: write 6.4
2/P (mg/kg) problem "18,5": has a decimal comma in a comma-separated file: write 18.5
3/P (mg/kg) problem "22,25": has a decimal comma in a comma-separated file: write 22.25
`},
	} {
		t.Run(strings.TrimSuffix(c.file, ".csv"), func(t *testing.T) {
			table := readTestdata(t, c.file)
			if table.Encoding != c.encoding || table.Delimiter != c.delimiter || table.HeaderRow != c.header || table.UnitsRow != c.units {
				t.Errorf("%s: got %s %q header row %d units row %d", c.why, table.Encoding, table.Delimiter, table.HeaderRow, table.UnitsRow)
			}
			r := JoinWith(refs(c.samples), table, JoinOptions{Checks: c.checks})
			if err := r.Check(); err != nil {
				t.Error(err)
			}
			if got := max(c.header, c.units) + r.Counts.Rows; got != c.rows {
				t.Errorf("%d rows of the file are accounted for, there are %d", got, c.rows)
			}
			if got := r.Unaccounted(); len(got) != c.strict {
				t.Errorf("a strict join fails on %d statements, want %d:\n%s", len(got), c.strict, strings.Join(got, "\n"))
			}
			if got := digest(r); got != strings.TrimPrefix(c.want, "\n") {
				t.Errorf("%s: got\n%s\nwant%s", c.why, got, c.want)
			}
		})
	}
}
