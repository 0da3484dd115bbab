package zone

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Limit is a critical limit: a figure of the analyte for which Op holds
// against Value is beyond it.
type Limit struct {
	Analyte string
	Op      string // "<", "<=", ">" or ">="
	Value   float64
}

// number leaves out what strconv takes beyond plain decimals: names,
// hexadecimals and underscores.
var number = regexp.MustCompile(`^[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?$`)

// ParseLimit reads a limit such as "pH < 6.0" or "P<15". The number stands
// with a point and without its unit.
func ParseLimit(s string) (Limit, error) {
	fail := func(what string, args ...any) (Limit, error) {
		return Limit{}, fmt.Errorf("limit %q: %s; write it like \"pH < 6.0\"", s, fmt.Sprintf(what, args...))
	}
	i := strings.IndexAny(s, "<>")
	if i < 0 {
		return fail("there is no <, <=, > or >=")
	}
	op, rest := s[i:i+1], s[i+1:]
	if strings.HasPrefix(rest, "=") {
		op, rest = op+"=", rest[1:]
	}
	analyte, value := strings.TrimSpace(s[:i]), strings.TrimSpace(rest)
	switch {
	case analyte == "":
		return fail("the analyte is missing before %s", op)
	case number.MatchString(analyte):
		return fail("the analyte comes first and the number last")
	case strings.HasSuffix(analyte, "="):
		return fail("=%s is not known, only <, <=, > and >=", op)
	case value == "":
		return fail("the number is missing after %s", op)
	case strings.ContainsAny(value, "<>="):
		return fail("give one comparison at a time")
	case strings.Contains(value, ","):
		return fail("write %q with a decimal point", value)
	case !number.MatchString(value):
		return fail("%q is not a plain number without a unit", value)
	}
	v, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return fail("%s is too large a number", value)
	}
	return Limit{analyte, op, v}, nil
}

// String writes the limit the way that ParseLimit reads it.
func (l Limit) String() string {
	return l.Analyte + " " + l.Op + " " + strconv.FormatFloat(l.Value, 'f', -1, 64)
}

// Beyond reports whether a figure is beyond the limit. NaN never is.
func (l Limit) Beyond(v float64) bool {
	switch l.Op {
	case "<":
		return v < l.Value
	case "<=":
		return v <= l.Value
	case ">":
		return v > l.Value
	case ">=":
		return v >= l.Value
	}
	return false
}

// Low reports whether the limit is one that figures fall below.
func (l Limit) Low() bool { return strings.HasPrefix(l.Op, "<") }

func (l Limit) validate() error {
	switch l.Op {
	case "<", "<=", ">", ">=":
	default:
		return fmt.Errorf("limit on %s: %q is not known, only <, <=, > and >=", l.Analyte, l.Op)
	}
	if math.IsNaN(l.Value) || math.IsInf(l.Value, 0) {
		return fmt.Errorf("limit on %s: %g is not a number", l.Analyte, l.Value)
	}
	return nil
}

// single is the limit in the precision of a surface, so that a surface of 5.9
// throughout equals a limit of 5.9.
func (l Limit) single() Limit {
	l.Value = float64(float32(l.Value))
	return l
}
