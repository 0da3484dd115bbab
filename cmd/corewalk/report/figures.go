package report

// label names an analyte with its method, without its unit.
func (a *Analyte) label() string {
	if a.Method == "" {
		return a.Name
	}
	return a.Name + " (" + a.Method + ")"
}

// figures writes those of one analyte alike.
type figures struct {
	unit   string
	values int // decimals of the lab's values: as the lab gave them
	means  int // of what was computed from them: three digits of the greatest
}

func figuresOf(a *Analyte) figures {
	greatest := 0.0
	for _, v := range a.Values {
		if x := v.Value; finite(x) {
			greatest = max(greatest, x, -x)
		}
	}
	f := figures{unit: a.Unit, means: decimals(greatest, 3)}
	for _, v := range a.Values {
		if v.Censored != "" {
			continue
		}
		f.values = max(f.values, neededDecimals(v.Value, f.means+1))
	}
	return f
}

// limitOf returns the lab's limit of a censored value, which stands at half of
// a lower limit and at an upper limit itself.
func limitOf(v Value) float64 {
	if v.Censored == "<" {
		return 2 * v.Value
	}
	return v.Value
}

// value writes a lab's value, or its limit.
func (f figures) value(v Value) string {
	if v.Censored != "" {
		limit := limitOf(v)
		return v.Censored + " " + fixed(limit, neededDecimals(limit, f.means+1))
	}
	return fixed(v.Value, f.values)
}

// figure writes what was computed.
func (f figures) figure(v float64) string { return fixed(v, f.means) }

// withUnit is figure with the unit behind.
func (f figures) withUnit(v float64) string {
	if f.unit == "" || !finite(v) {
		return f.figure(v)
	}
	return f.figure(v) + " " + f.unit
}

func valuesByID(a *Analyte) map[string]Value {
	out := make(map[string]Value, len(a.Values))
	for _, v := range a.Values {
		if _, twice := out[v.ID]; !twice {
			out[v.ID] = v
		}
	}
	return out
}
