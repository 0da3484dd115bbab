package task

import (
	"fmt"
	"math"

	"corewalk/geo/crs"
)

// File is the task data of one farm.
type File struct {
	Farm, Customer string // either may be empty
	// Program and Version name what made the file; an empty Program is corewalk.
	Program, Version string
	// Notes go into a comment at the top of the file, below Caution; such as the
	// source of the rates. They are not read back.
	Notes    []string
	Fields   []Field
	Products []Product
	Tasks    []Task
}

// Field is a mapped field. Its boundary may be empty; rings are closed.
type Field struct {
	Name     string
	Boundary crs.LonLatShape
	Area     float64 // m², written as whole ones
}

// Product is what is spread.
type Product struct {
	Name    string
	Density float64 // kg/m³, bulk, written in steps of 0.001; 0 where not known
}

// Task is one product on one field: by zones or by a grid, never both.
type Task struct {
	Name           string
	Field, Product int  // which of the file's, counted from 0
	Unit           Unit // that the terminal shows rates in
	Zones          []Zone
	Grid           *Grid
	Outside        Outside
}

// Zone is ground of one rate. Every part of its shape is written as a treatment
// zone of its own, and read back as a Zone.
type Zone struct {
	Name  string  // may be empty
	Rate  float64 // mg/m²; see Setpoint
	Shape crs.LonLatShape
}

// Outside has the rates in mg/m² where no zone applies: nothing, unless said.
type Outside struct {
	Default      float64 // within the field, but in no zone
	PositionLost float64
	OutOfField   float64
}

// KgPerHa is one kilogram to the hectare in mg/m².
const KgPerHa = 100.0

// Caution stands at the top of every file. A line short enough for a terminal
// stands with every task.
const Caution = "Rates are advice, to be checked against the recommendations of the place and by a certified adviser. " +
	"Local nutrient rules, setbacks, slopes and frozen ground come first. " +
	"Dust of lime and fertiliser needs eye and lung protection. " +
	"Nothing here replaces a nutrient-management plan that the law asks for."

// comment is Caution within the 32 characters of a comment of a task.
const comment = "advice: ask a certified adviser"

// Unit is a unit in which a terminal shows rates. The file holds mg/m²
// whatever the unit.
type Unit int

// The units: kilograms and tonnes (1000 kg) to the hectare, pounds and short
// tons (2000 lb) to the acre, the international ones (4046.8564224 m²,
// 0.45359237 kg).
const (
	KgHa Unit = iota
	TonneHa
	LbAc
	TonAc
	units
)

// presentation tells how a terminal makes figures in u of those in mg/m².
func (u Unit) presentation() (name string, scale float64, decimals int) {
	const lbAc = 4046.8564224 / 453592.37 // lb/ac in 1 mg/m²
	switch u {
	case KgHa:
		return "kg/ha", 0.01, 1
	case TonneHa:
		return "t/ha", 0.00001, 3
	case LbAc:
		return "lb/ac", lbAc, 1
	default:
		return "ton/ac", lbAc / 2000, 3
	}
}

// String returns the unit as terminals show it.
func (u Unit) String() string {
	if u < 0 || u >= units {
		return fmt.Sprintf("unit %d", int(u))
	}
	name, _, _ := u.presentation()
	return name
}

// Setpoint returns what the machine is told for a rate in mg/m²: the nearest
// whole one (0.01 kg/ha), halves up. Totals made from it are those of the file.
// It fails for rates below 0, not finite, or above 2147483647 (21474 t/ha).
func Setpoint(rate float64) (int32, error) {
	switch r := math.Round(rate); {
	case math.IsNaN(rate) || math.IsInf(rate, 0):
		return 0, fmt.Errorf("a rate of %g mg/m² is not a number that a machine can be told", rate)
	case rate < 0:
		return 0, fmt.Errorf("a rate of %g mg/m² is below 0", rate)
	case r > math.MaxInt32:
		return 0, fmt.Errorf("a rate of %g mg/m² is above 2147483647, the most that a task file holds", rate)
	default:
		return int32(r), nil
	}
}
