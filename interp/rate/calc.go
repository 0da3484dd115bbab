package rate

import (
	"math"
	"strconv"
	"strings"
)

// digits to which every number of a calculation is rounded: what a pocket
// calculator of ten digits shows.
const digits = 10

// rounded rounds to digits significant ones.
func rounded(x float64) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return x + 0 // no negative zero
	}
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', digits-1, 64), 64)
	if err != nil {
		return x
	}
	return y
}

// number writes a number with all of its digits, and without an exponent.
func number(x float64) string { return strconv.FormatFloat(rounded(x), 'f', -1, 64) }

// told is a figure in a sentence: that of a surface or a zone has more digits than
// anybody reads.
func told(x float64) string {
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', 4, 64), 64)
	return number(x)
}

// expr is a number and how it was made, so that what is printed and what is
// computed can't part.
type expr struct {
	op    byte // 'n' for a number, 'r' for a square root, else + - * /
	a, b  *expr
	value float64
}

func num(x float64) *expr      { x = rounded(x); return &expr{op: 'n', value: x} }
func add(a, b *expr) *expr     { return &expr{'+', a, b, a.value + b.value} }
func sub(a, b *expr) *expr     { return &expr{'-', a, b, a.value - b.value} }
func mul(a, b *expr) *expr     { return &expr{'*', a, b, a.value * b.value} }
func div(a, b *expr) *expr     { return &expr{'/', a, b, a.value / b.value} }
func squareRoot(a *expr) *expr { return &expr{'r', a, nil, math.Sqrt(a.value)} }

// sum adds the terms that are not zero; it is 0 of none.
func sum(terms ...*expr) *expr {
	var total *expr
	for _, t := range terms {
		switch {
		case t.value == 0:
		case total == nil:
			total = t
		case t.op == 'n' && t.value < 0:
			total = sub(total, num(-t.value))
		case t.op == '*' && t.a.op == 'n' && t.a.value < 0:
			total = sub(total, mul(num(-t.a.value), t.b))
		default:
			total = add(total, t)
		}
	}
	if total == nil {
		return num(0)
	}
	return total
}

// strength tells how tight an operation binds.
func (e *expr) strength() int {
	switch {
	case e.op == '+' || e.op == '-' || e.op == 'n' && e.value < 0:
		return 1
	case e.op == '*' || e.op == '/':
		return 2
	}
	return 3
}

func (e *expr) write(w *strings.Builder, least int) {
	if e.strength() < least {
		w.WriteByte('(')
		defer w.WriteByte(')')
	}
	switch e.op {
	case 'n':
		w.WriteString(number(e.value))
	case 'r':
		w.WriteString("sqrt(")
		e.a.write(w, 0)
		w.WriteByte(')')
	default:
		own := e.strength()
		e.a.write(w, own)
		sign := " " + string(e.op) + " "
		if e.op == '*' {
			sign = " × "
		}
		w.WriteString(sign)
		e.b.write(w, own+1)
	}
}

// Step is one step of a calculation. Its result is rounded to 10 significant
// digits, and later steps go on from that.
type Step struct {
	Text   string  // what is found: "exchangeable acidity"
	Result float64 // in Unit
	Unit   string
	how    *expr
}

// Formula is the calculation with its numbers, as "(6.6 - 6.3) × 4"; "" for a
// number that is only set down.
func (s Step) Formula() string {
	if s.how == nil || s.how.op == 'n' {
		return ""
	}
	var w strings.Builder
	s.how.write(&w, 0)
	return w.String()
}

// String writes the step in a line: "exchangeable acidity: (6.6 - 6.3) × 4 = 1.2
// meq/100 cm3".
func (s Step) String() string {
	line := s.Text + ": "
	if f := s.Formula(); f != "" {
		line += f + " = "
	}
	line += number(s.Result)
	if s.Unit != "" && s.Unit != "pH" {
		line += " " + s.Unit
	}
	return line
}

// steps collects the steps of one calculation.
type steps []Step

// do sets down a step and returns its result, rounded, to go on with.
func (s *steps) do(text, unit string, e *expr) *expr {
	result := num(e.value)
	*s = append(*s, Step{text, result.value, unit, e})
	return result
}

// lines writes steps one to a line.
func lines(all []Step) []string {
	out := make([]string, len(all))
	for i, s := range all {
		out[i] = s.String()
	}
	return out
}
