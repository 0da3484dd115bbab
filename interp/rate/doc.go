// Package rate turns the figures of one piece of ground (a zone, a sampling
// unit, a pixel) into a rate of lime or of a nutrient, and that into product.
//
// A Table is one published recommendation: what it is for, the analytes and
// methods it takes, its depth of sample, formula, valid ranges and source. Tables
// are data (YAML); some come with the program, others are read with Read. A table
// refuses what it is not made for: figures by another method, outside its range,
// from another depth without a rule for it.
//
// Units: figures are in mg/kg, meq/100 g, % or pH as results have them; depths in
// inches; rates in the unit of the table and in kg/ha; sieves in US mesh; shares
// in %. Every number of a calculation is rounded to 10 significant digits before
// the next one is made from it, so that what Explain prints can be followed with
// a pocket calculator.
//
// Nothing here is a recommendation of its own: every rate carries the cautions
// below.
package rate

// Cautions that every page and file with rates carries.
const (
	CautionAdvice = "Advice only: check every rate against the recommendations of your state or country and with a certified or licensed adviser before anything is spread."
	CautionRules  = "Local nutrient rules and setbacks come first: keep off waterways, wells, inlets and slopes as they say, and off frozen, snow-covered or saturated ground."
	CautionPlan   = "This does not replace a nutrient management plan that the law asks for."
	CautionDust   = "Dust of lime and fertiliser harms eyes, skin and lungs, burnt and hydrated lime most: wear goggles, gloves, long sleeves and a dust mask, and read the safety data sheet."
	CautionRunoff = "Phosphorus runs off into water: none above what the crop needs, none ahead of heavy rain, and worked in or banded where that can be done."
	CautionMemory = "The figures of this table are from memory and were not seen in print: check them against the source before use."
)

// LargestLimeDressing is the largest dressing of lime to spread at once, in
// kg/ha of product: 2 tons/ac (Hoorman 2022, seen; more is to be split).
const LargestLimeDressing = 2 * 2000 * kgPerHaOfLbPerAc
