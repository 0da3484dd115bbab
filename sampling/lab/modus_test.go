package lab

import "testing"

// The expected tables were held against the files by hand.
func TestModusFiles(t *testing.T) {
	testTables(t, []tableCase{
		{file: "modus_plain.xml", why: `one depth, methods by code, places, a value below a limit, recommendations that are no results`, samples: "AB01C AB02D", last: 2, want: `
A Sample ID: sample id
B Depth: depth
C SampleNumber: text
D SampleContainerID: text
E ReportID: text
F pH water: analyte pH [water]
G BpH Sikora: analyte buffer pH [Sikora]
H OM loss on ignition %: analyte OM (%) [loss on ignition]
I P Mehlich-3 ICP ppm: analyte P (ppm) [Mehlich-3 ICP]
J P Bray-1 ppm: analyte P (ppm) [Bray-1]; 1 of the values were calculated by the lab from others, not measured
K K ammonium acetate ppm: analyte K (ppm) [ammonium acetate]
L CEC summation meq/100 g: analyte CEC (meq/100 g) [summation]
M K base saturation calculated %: analyte K saturation (%) [calculated]
1: | AB01C | 0-8 in | 1 | c-1 | 1 | F 6.5 | G 6.9 | H 2.8 | I 31 | J 22 | K 140 | L 10.4 | M 3.4 @ [-93.1 42]
2: | AB02D | 0-8 in | 2 | F 6.1 | I <5 @ [-93.2 42.05]
note rows are numbered by sample and depth, in the order of the file
note the sample ids come from FMISSampleID (of 2 samples)
`},
		{file: "modus_depths.xml", why: `a name space, depths described after the samples and in several units, a second value, two events`, samples: "N24@0-20cm N24@20-60cm N25", last: 5, want: `
A Sample ID: sample id
B Depth: depth
C SampleNumber: text
D SampleContainerID: text
E ReportID: text
F NO3-N KCl ppm: analyte NO3-N (ppm) [KCl]
G P Olsen ICP mg/kg: analyte P (mg/kg) [Olsen ICP]
H P Olsen ppm: analyte P (ppm) [Olsen]
1: | N24 | 0-20 cm | F 12 | G 9
2: | N24 | 0-20 cm | F 14
3: | N24 | 20-60 cm | F 7
4: | N24 | 60-90 cm
5: | N25 | plough layer | H 11
note rows are numbered by sample and depth, in the order of the file
note the sample ids come from FMISSampleID (of 2 samples)
note the file has 2 events, read one after the other
`},
		{file: "modus_odd.xml", why: `qualifiers, codes not known, texture, no ids, a plant sample, places that are none`, samples: "AB03E 8", last: 3, want: `
A Sample ID: sample id
B Depth: depth
C SampleNumber: text
D SampleContainerID: text
E ReportID: text
F P Olsen ppm: analyte P (ppm) [Olsen]
G Zn DTPA ppm: analyte Zn (ppm) [DTPA]
H Cu S-CU-XYZ.99 ppm: analyte Cu (ppm) [S-CU-XYZ.99]
I Respiration mg CO2-C: number (mg CO2-C)
J pH CaCl2: analyte salt pH [CaCl2]
K clay %: analyte clay (%)
L silt %: analyte silt (%)
M sand %: analyte sand (%)
N pH: analyte pH
1: | AB03E | 7 | AB03E | F <5 | G "ND" below detection or not determined, no limit given | H 0.8 | I 41 | J 6 | K 20 | L 40 | M 40
2: | 8 | 8
3: | 3 | N "see note" is not a number
note rows are numbered by sample and depth, in the order of the file
note the sample ids come from SampleContainerID (of 1 samples), SampleNumber (of 1 samples), no element (of 1 samples)
note not of soil and not read: 1 plantsample
note the geometry of 2 samples is no point in longitude and latitude and is not read
note method codes not known here, taken as they stand: S-CU-XYZ.99
note L_MODV2_SOIL_P_045 stands for Olsen P read by colour and by ICP alike; the file doesn't say which
note sample AB03E, Cu: the value 0.8 has the qualifier J, which is not read
`},
		{file: "modus_latin1.xml", why: `an old encoding, decimal commas`, samples: "Äcker-1", last: 1, want: `
A Sample ID: sample id
B Depth: depth
C SampleNumber: text
D SampleContainerID: text
E ReportID: text
F P Mehlich-3 colorimetric mg/kg: analyte P (mg/kg) [Mehlich-3 colorimetric]
G K Mehlich-3 cmol/kg: analyte K (cmol/kg) [Mehlich-3]
H Zn Mehlich-3 ug/g: analyte Zn (ug/g) [Mehlich-3]
1: | Äcker-1 | F 12.25 | G 1.234 | H 0.5
note rows are numbered by sample and depth, in the order of the file
note the sample ids come from FMISSampleID (of 1 samples)
`},
	}, FormatModus)
}
