package lab

import (
	"strings"
	"testing"
)

// spellings are headers as labs in North America and Europe write them, invented
// after their habits, with what is to be understood: analyte | unit | method |
// form. "-" is a column that must keep its own name.
const spellings = `
pH                                | pH
Soil pH 1:1                       | pH
pH (1:2.5 H2O)                    | pH || water
pH-Wert                           | pH
pH eau                            | pH || water
pH_water                          | pH || water
pH 1:5 water                      | pH || water
pHw                               | pH
pH (CaCl2)                        | salt pH || CaCl2
pHCaCl2                           | salt pH || CaCl2
pH CaCl2 0.01 M                   | salt pH || CaCl2
pH KCl                            | salt pH || KCl
pH (1 M KCl)                      | salt pH || KCl
pHKCl                             | salt pH || KCl
pH salt                           | salt pH || salt
Buffer pH                         | buffer pH
pH Buffer                         | buffer pH
Buffer                            | buffer pH
BpH                               | buffer pH
SMP pH                            | buffer pH || SMP
pH (SMP)                          | buffer pH || SMP
SMP Buffer                        | buffer pH || SMP
Sikora Buffer pH                  | buffer pH || Sikora
Buffer pH (Sikora-2)              | buffer pH || Sikora
Moore-Sikora buffer               | buffer pH || Sikora
Woodruff Buffer                   | buffer pH || Woodruff
Adams-Evans buffer pH             | buffer pH || Adams-Evans
A-E Buffer pH                     | buffer pH || Adams-Evans
Mehlich Buffer pH                 | buffer pH || Mehlich
Modified Mehlich buffer pH        | buffer pH || Modified Mehlich
P                                 | P
P ppm                             | P | ppm
P (ppm)                           | P | ppm
P, mg/kg                          | P | mg/kg
P mg·kg⁻¹                         | P | mg/kg
mg P/kg                           | P | mg/kg
P (mg P kg-1)                     | P | mg/kg
Phosphorus (lb/acre)              | P | lb/ac
P #/ac                            | P | lb/ac
P lbs/A                           | P | lb/ac
lbs P per acre                    | P | lb/ac
P kg/ha                           | P | kg/ha
P mg/100g                         | P | mg/100 g
P mg/L                            | P | mg/L
P mg/dm³                          | P | mg/dm3
Bray P                            | P || Bray-1
Bray 1 P                          | P || Bray-1
Bray-1 P ppm                      | P | ppm | Bray-1
Bray P1 (ppm)                     | P | ppm | Bray-1
P Bray I                          | P || Bray-1
PBray1                            | P || Bray-1
P1 (Weak Bray) ppm                | P | ppm | Bray-1
Weak Bray                         | P || Bray-1
Bray II P                         | P || Bray-2
P2 (Strong Bray) ppm              | P | ppm | Bray-2
Bray P2                           | P || Bray-2
Mehlich-3 P                       | P || Mehlich-3
Mehlich III Phosphorus (ppm)      | P | ppm | Mehlich-3
M3 P                              | P || Mehlich-3
M3P_ppm                           | P | ppm | Mehlich-3
P_M3                              | P || Mehlich-3
P (M3-ICP) ppm                    | P | ppm | Mehlich-3 ICP
Mehlich-3 ICP P                   | P || Mehlich-3 ICP
Mehlich 3 P by ICP-OES            | P || Mehlich-3 ICP
M3 Col P                          | P || Mehlich-3 colorimetric
Mehlich-3 colorimetric P          | P || Mehlich-3 colorimetric
P Mehlich 3 (molybdenum blue)     | P || Mehlich-3 colorimetric
Mehlich-1 P                       | P || Mehlich-1
P (double acid)                   | P || Mehlich-1
M1 P lb/ac                        | P | lb/ac | Mehlich-1
Olsen P                           | P || Olsen
OlsenP                            | P || Olsen
P-Olsen mg/kg                     | P | mg/kg | Olsen
Olsen (bicarb) P ppm              | P | ppm | Olsen
P (NaHCO3)                        | P || Olsen
Sodium bicarbonate P              | P || Olsen
Olsen P (mg P/kg)                 | P | mg/kg | Olsen
Morgan P                          | P || Morgan
Modified Morgan P                 | P || modified Morgan
Kelowna P                         | P || Kelowna
Lancaster P                       | P || Lancaster
H3A P                             | P || H3A
P resin                           | P || resin
P-AL                              | P || ammonium lactate
P-AL mg/100g                      | P | mg/100 g | ammonium lactate
P (CAL) mg/100 g                  | P | mg/100 g | calcium acetate lactate
P2O5 (CAL) mg/100g                | P | mg/100 g | calcium acetate lactate | P2O5
P2O5 DL                           | P || double lactate | P2O5
P2O5 lb/ac                        | P | lb/ac || P2O5
P2O5 (Olsen) mg/kg                | P | mg/kg | Olsen | P2O5
P as P2O5 (ppm)                   | P | ppm || P2O5
Phosphorus (mg P2O5/kg)           | P | mg/kg || P2O5
lbs P2O5/acre                     | P | lb/ac || P2O5
PO4-P ppm                         | P | ppm
K                                 | K
Potassium ppm                     | K | ppm
Exch. K (meq/100 g)               | K | meq/100 g
Exchangeable K cmol(+)/kg         | K | cmol/kg
K cmolc kg-1                      | K | cmol/kg
K mmol(+)/kg                      | K | mmolc/kg
K mmol/kg                         | K | mmol/kg
K (1 N NH4OAc)                    | K || ammonium acetate
K NH4Ac ppm                       | K | ppm | ammonium acetate
K Am. Acet.                       | K || ammonium acetate
Ammonium Acetate K (ppm)          | K | ppm | ammonium acetate
K (NH4NO3) mg/l                   | K | mg/L | ammonium nitrate
M3-K                              | K || Mehlich-3
Mehlich 3 Potassium               | K || Mehlich-3
K2O lb/ac                         | K | lb/ac || K2O
K2O (CAL) mg/100 g                | K | mg/100 g | calcium acetate lactate | K2O
Kalium                            | K
K-AL                              | K || ammonium lactate
%K                                | K saturation | %
K % Sat.                          | K saturation | %
K Base Sat (%)                    | K saturation | %
K (% of CEC)                      | K saturation | %
Sat. K                            | K saturation
Base Saturation K %               | K saturation | %
Ca                                | Ca
Calcium, ppm                      | Ca | ppm
Ca lb/ac                          | Ca | lb/ac
Ca meq/100g                       | Ca | meq/100 g
Ca cmolc/dm3                      | Ca | cmol/dm3
CaO mg/kg                         | Ca | mg/kg || CaO
% Ca Saturation                   | Ca saturation | %
Mg                                | Mg
Magnesium (M3) ppm                | Mg | ppm | Mehlich-3
Mg mg/kg                          | Mg | mg/kg
mg Mg/kg                          | Mg | mg/kg
Mg CaCl2 mg/100 g                 | Mg | mg/100 g | CaCl2
MgO mg/100g                       | Mg | mg/100 g || MgO
Mg Sat %                          | Mg saturation | %
Na ppm                            | Na | ppm
Sodium meq/100g                   | Na | meq/100 g
ESP                               | Na saturation
Exchangeable sodium percentage    | Na saturation
Na %                              | Na saturation | %
H meq/100 g                       | H | meq/100 g
H %                               | H saturation | %
Hydrogen Sat. (%)                 | H saturation | %
Exch. Al (cmol+/kg)               | Al | cmol/kg
Aluminum (M3)                     | Al || Mehlich-3
Al KCl ppm                        | Al | ppm | KCl
Base Saturation %                 | base saturation | %
Total base sat.                   | base saturation
CEC                               | CEC
C.E.C. (meq/100g)                 | CEC | meq/100 g
CEC me/100g                       | CEC | meq/100 g
Est. CEC                          | CEC || summation
CEC (sum of cations)              | CEC || summation
CEC by summation                  | CEC || summation
CEC cmol(c)/kg                    | CEC | cmol/kg
CEC (mmolc/kg)                    | CEC | mmolc/kg
CEC Metson                        | CEC || Metson
ECEC                              | CEC
TEC                               | CEC
OM                                | OM
OM %                              | OM | %
OM_LOI_pct                        | OM | % | loss on ignition
Organic Matter (LOI) %            | OM | % | loss on ignition
Organic matter, Walkley-Black     | OM || Walkley-Black
SOM g/kg                          | OM | g/kg
Humus %                           | OM | %
Matière organique (%)             | OM | %
S                                 | S
SO4-S ppm                         | S | ppm
Sulfate-S (MCP)                   | S || monocalcium phosphate
S (KCl-40) mg/kg                  | S | mg/kg | KCl-40
Sulphur mg/l                      | S | mg/L
Sulfate as SO4 ppm                | S | ppm || SO4
SO4 (ppm)                         | -
Zn (DTPA) ppm                     | Zn | ppm | DTPA
DTPA Zinc                         | Zn || DTPA
Zn HCl                            | Zn || HCl
Cu EDTA mg/l                      | Cu | mg/L | EDTA
Kupfer mg/kg                      | Cu | mg/kg
Mn M3 ppm                         | Mn | ppm | Mehlich-3
Manganese                         | Mn
Fe AB-DTPA                        | Fe || AB-DTPA
Iron (ppm)                        | Fe | ppm
B (hot water) ppm                 | B | ppm | hot water
Hot-water boron                   | B || hot water
B DTPA/Sorbitol                   | B || DTPA-sorbitol
Cl ppm                            | Cl | ppm
NO3-N                             | NO3-N
NO3-N lb/ac                       | NO3-N | lb/ac
N-NO3 mg/kg                       | NO3-N | mg/kg
Nitrate-N (KCl) ppm               | NO3-N | ppm | KCl
Nitrate Nitrogen                  | NO3-N
Nitrate as N                      | NO3-N
Nitrate (mg N/kg)                 | NO3-N | mg/kg
Nitrate as NO3 (ppm)              | NO3-N | ppm || NO3
mg NO3/kg                         | -
NO3 ppm                           | -
NH4-N ppm                         | NH4-N | ppm
N-NH4                             | NH4-N
Ammonium-N 2 M KCl                | NH4-N || KCl
Ammonium as NH4 mg/kg             | NH4-N | mg/kg || NH4
Soluble Salts mmhos/cm            | soluble salts | mmho/cm
EC 1:2 (dS/m)                     | soluble salts | dS/m | 1:2
EC1:5 mS/cm                       | soluble salts | mS/cm | 1:5
E.C. µS/cm                        | soluble salts | uS/cm
EC umhos/cm                       | soluble salts | uS/cm
EC mS/m                           | soluble salts | mS/m
EC saturated paste dS/m           | soluble salts | dS/m | saturated paste
ECe                               | soluble salts
Soluble salts (ppm)               | soluble salts | ppm
Sand %                            | sand | %
Sand (0.05-2 mm) %                | sand | %
Silt (%)                          | silt | %
Clay <2 µm g/kg                   | clay | g/kg
% Clay (hydrometer)               | clay | % | hydrometer
Argile                            | clay
Total N %                         | -
Total P ppm                       | -
P Index                           | -
P recommendation P2O5 lb/ac       | -
K2O needed                        | -
Lime requirement ton/ac           | -
Lime index                        | -
SMP index                         | -
Organic carbon %                  | -
C/N                               | -
Ca/Mg ratio                       | -
Mo                                | -
Texture class                     | -
Bulk density g/cm3                | -
Phosphate                         | -
Potash                            | -
P rating                          | -
Date sampled                      | -
`

func TestSpellings(t *testing.T) {
	n := 0
	for line := range strings.Lines(spellings) {
		parts := strings.Split(strings.TrimSpace(line), "|")
		if len(parts) < 2 {
			continue
		}
		n++
		for len(parts) < 5 {
			parts = append(parts, "")
		}
		for i := range parts {
			parts[i] = strings.TrimSpace(parts[i])
		}
		c := understand([]string{parts[0]})[0]
		got := []string{c.Analyte, c.Unit, c.Method, c.Form}
		want := parts[1:]
		if want[0] == "-" {
			got, want = got[:1], []string{""}
		}
		if strings.Join(got, "|") != strings.Join(want, "|") {
			t.Errorf("%s: got %q, want %q", parts[0], got, want)
		}
	}
	if n < 150 {
		t.Errorf("only %d spellings", n)
	}
}
