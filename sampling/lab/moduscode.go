package lab

import "strings"

// modusMethods gives the method of codes of the open Modus exchange standard.
//
// Source: the soil method lists of AgGateway's public repository "Modus" (the
// nomenclature of Modus 1 and the list that leads from its codes to those of
// Modus 2.0). A code of Modus 1 is built S-<element>-<extraction>.<reading>
// .<chemistry>, with reading 01 by colour, 02 by electrode, 04 and 05 by ICP, 15
// by weight, 16 by combustion, 19 calculated. The extraction may hold points and
// colons itself, so codes are looked up whole and never taken apart. Phosphorus
// read by colour and by ICP is told apart; of metals it isn't. Modus 2.1 gives
// new numbers to many methods; those are not in this table.
var modusMethods = modusTable([]modusRow{
	{"water", "S-PH-1:1.02.07 S-PH-1:2.02.07 S-PH-1:2.5.02.07 S-PH-1:5H2O.02", "PH_005 PH_006 PH_007 PH_008"},
	{"CaCl2", "S-PH-1:1.02.08 S-PH-1:2.02.08 S-PH-1:5.02.08", "PH_002 PH_003 PH_011"},
	{"KCl", "S-PH-1:1KCL.02 S-PH-1:5KCL.02", "PH_010 PH_012"},
	{"saturated paste", "S-PH-SP.02 S-EC-SP.03", "PH_013 EC_004"},
	{"SMP", "S-BPH-SMPB.02", "BPH_009"},
	{"Sikora", "S-BPH-SIK1.02 S-BPH-SIK2.02", "BPH_007 BPH_008"},
	{"Mehlich", "S-BPH-MEB.02", "BPH_004"},
	{"Adams-Evans", "S-BPH-AEB.02", "BPH_001"},
	{"Woodruff", "S-BPH-WB.02", "BPH_010"},
	{"loss on ignition", "S-SOM-LOI.15", "OM_004"},
	{"Walkley-Black", "S-SOM-WB.01.09 S-SOM-WB.12.09", "OM_005 OM_006"},
	{"summation", "S-CEC.19", "CEC_008"},
	{"Bray-1", "S-P-B1-1:10.01.03 S-P-B1-1:7.01.03", "P_004 P_005"},
	{"Bray-2", "S-P-B2-1:10.01.03 S-P-B2-1:7.01.03", "P_006 P_007"},
	{"Mehlich-1 " + byICP, "S-P-M1.04", "P_026"},
	{"Mehlich-3 " + byColour, "S-P-M3.01.03", "P_032"},
	{"Mehlich-3 " + byICP, "S-P-M3.04", "P_033"},
	{"Olsen", "S-P-BIC.01.03", ""},
	{"Olsen " + byICP, "S-P-BIC.04", ""},
	{"Olsen", "", modusOlsen}, // Modus 2 has one number for both
	{"ammonium acetate", "S-K-NH4AC.05 S-CA-NH4AC.05 S-MG-NH4AC.05 S-NA-NH4AC.05 S-S-NH4AC.04 S-S-NH4AC.05", "K_002 CA_003 MG_002 NA_001 S_001 S_002"},
	{"Mehlich-3", "S-K-M3.05 S-CA-M3.05 S-MG-M3.05 S-NA-M3.05 S-S-M3.05 S-B-M3.04 S-ZN-M3.05 S-CU-M3.05 S-MN-M3.05 S-FE-M3.05 S-AL-M3.05", "K_031 CA_021 MG_022 NA_013 S_026 B_017 ZN_015 CU_014 MN_015 FE_015 AL_012"},
	{"Mehlich-1", "S-K-M1.05 S-CA-M1.05 S-MG-M1.05 S-NA-M1.05 S-ZN-M1.05 S-CU-M1.05 S-MN-M1.05", "K_029 CA_018 MG_019 NA_011 ZN_012 CU_012 MN_012"},
	{"DTPA", "S-ZN-DTPA.05 S-CU-DTPA.05 S-MN-DTPA.05 S-FE-DTPA.05", "ZN_002 CU_002 MN_002 FE_003"},
	{"hot water", "S-B-HW.05 S-B-HW.01.10", "B_004 B_003"},
	{"KCl", "S-NO3-1:5.01.01 S-NO3-KCL.01.01 S-NH4-KCL.01.05", "NO3N_010 NO3N_013 NH4N_005"},
	{"1:1 water", "S-EC-1:1.03", "EC_001"},
	{"1:2 water", "S-EC-1:2.03", "EC_002"},
	{"calculated from Mehlich-3", "S-P-M3BRAYP1.19", "P_011"},
	{"calculated", "S-BS-CA.19 S-BS-MG.19 S-BS-K.19 S-BS-NA.19 S-BS-H.19", ""},
})

// modusOlsen is the number of Modus 2 for Olsen P read in either way.
const modusOlsen = "P_045"

type modusRow struct {
	method string
	v1     string // codes of Modus 1
	v2     string // of Modus 2.0, without L_MODV2_SOIL_
}

const modus2 = "L_MODV2_SOIL_"

func modusTable(rows []modusRow) map[string]string {
	methods := map[string]string{}
	for _, r := range rows {
		for code := range strings.FieldsSeq(r.v1) {
			methods[code] = r.method
		}
		for code := range strings.FieldsSeq(r.v2) {
			methods[modus2+code] = r.method
		}
	}
	return methods
}

// modusMethod returns the method of a code of Modus.
func modusMethod(code string) (string, bool) {
	m, ok := modusMethods[strings.ToUpper(code)]
	return m, ok
}
