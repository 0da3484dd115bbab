package rate

// kgPerHaOfLbPerAc is 1 lb/ac in kg/ha, 1.120851156, exact by the definitions of
// the international pound and acre.
const kgPerHaOfLbPerAc = 0.45359237 / 0.40468564224

// KgPerShortTon is the mass of a US ton of 2000 lb in kg.
const KgPerShortTon = 2000 * 0.45359237

// poundsPerInch is the weight in million pounds of an acre of mineral soil to the
// depth of an inch: 2 million lb in 6 2/3 inches; 2.4 in 8 (UC Davis, seen).
const poundsPerInch = 0.3

// KgPerHa returns what one of a unit of rates is in kg/ha: lb/ac, ton/ac (of
// 2000 lb), lb/1000 ft2, kg/ha, t/ha. ok is false for any other.
func KgPerHa(unit string) (kg float64, ok bool) {
	switch unit {
	case "lb/ac":
		return kgPerHaOfLbPerAc, true
	case "ton/ac":
		return 2000 * kgPerHaOfLbPerAc, true
	case "lb/1000 ft2":
		return 43.56 * kgPerHaOfLbPerAc, true // 43560 ft2 to the acre
	case "kg/ha":
		return 1, true
	case "t/ha":
		return 1000, true
	}
	return 0, false
}

// Nutrient returns the form in which rates of a nutrient are counted, and how
// much of it is in one of the form given: P is 2.2914 of P2O5, K 1.2046 of K2O,
// MgO 1/1.6583 of Mg, CaO 1/1.3992 of Ca (from molar masses). ok is false for
// what is no nutrient here.
func Nutrient(form string) (name string, factor float64, ok bool) {
	switch form {
	case "P":
		return "P2O5", 2.2914, true
	case "K":
		return "K2O", 1.2046, true
	case "MgO":
		return "Mg", 1 / 1.6583, true
	case "CaO":
		return "Ca", 1 / 1.3992, true
	case "N", "P2O5", "K2O", "Ca", "Mg", "S", "Zn", "B", "Cu", "Mn", "Fe":
		return form, 1, true
	}
	return "", 0, false
}
