package lab

import "testing"

// The expected tables were held against the files by hand.
func TestLongFiles(t *testing.T) {
	testTables(t, []tableCase{
		{file: "long_methods.csv", why: `letterhead, methods told apart, two spellings of one analyte, a lab number`, samples: "AB01C AB02D", last: 14, want: `
A Lab No: lab number
B Sample ID: sample id
C Remark: text
D pH water: analyte pH (pH) [water]
E Phosphorus Bray-1 ppm: analyte P (ppm) [Bray-1]
F Phosphorus Mehlich-3 ICP ppm: analyte P (ppm) [Mehlich-3 ICP]
G P Mehlich-3 colorimetric mg/kg: analyte P (mg/kg) [Mehlich-3 colorimetric]
H K ammonium acetate ppm: analyte K (ppm) [ammonium acetate]
I Lead EPA 3050 ppm: number (ppm) [EPA 3050]
J pH SMP: analyte buffer pH (pH) [SMP]
K K %: analyte K saturation (%)
5 of [5 6 7 8 9 10]: | 5001 | AB01C | D 6.5 | E 14 | F 31 | G 26 | H 140 | I <0.5
11 of [11 12 13 14]: | 5002 | AB02D | D 6.1 | E 8 | J 6.8 | K 3.1
`},
		{file: "long_semicolon.csv", why: `decimal commas, an empty column, samples out of order`, samples: "AB01C AB02D", last: 7, want: `
A Sample: sample id
B Wert: text
C pH: analyte pH
D P mg/kg: analyte P (mg/kg)
E Zn mg/kg: analyte Zn (mg/kg)
2 of [2 3 7]: | AB01C | C 6.5 | D 12.25 | E 1.234
4 of [4 5 6]: | AB02D | C 6.1 | D 1008.5 | E 0.75
`},
		{file: "long_depths.csv", why: `depths from two columns, a replicate, a blank value, the unit in the header`, samples: "N24@0-8in N24@8-24in N25", last: 8, want: `
A Point ID: sample id
B Depth: depth
C NO3-N ppm: analyte NO3-N (ppm)
D P ppm: analyte P (ppm)
2 of [2 5]: | N24 | 0-8 in | C 12 | D 21
3 of [3 7]: | N24 | 8-24 in | C 7 | D 4
4 of [4 6]: | N24 | 0-8 in | C 13
8 of [8]: | N25 | C 9
`},
		{file: "long_faults.csv", why: `rows that hold no value of a sample`, samples: "AB01C AB02D AB03E AB04F", last: 15, want: `
A Sample ID: sample id
B pH: analyte pH
C P ppm: analyte P (ppm)
D K ppm: analyte K (ppm)
2 of [2 3]: | AB01C | B 6.5 | C 12
4 of [4]: ! empty row
5 of [5]: | D 140
6 of [6]: | AB02D ! names no analyte
7 of [7]: | Sample ID ! the header again
8 of [8 11]: | AB02D | C 8 | D "see note" is not a number
9 of [9]: | AB02D ! has 6 cells, the header 4
10 of [10]: | QC-1 | C 50
12 of [12]: | Average | C 10
13 of [13]: ! a total or average, not a sample
14 of [14]: | Printed on dry basis ! names no analyte
15 of [15]: | AB03E | C 9
`},
	}, FormatText)
}
