package rate

import (
	"errors"
	"math"
	"testing"
)

func table(t *testing.T, name string) *Table {
	t.Helper()
	all, err := readEmbedded()
	if err != nil {
		t.Fatal(err)
	}
	found, err := Find(all, name)
	if err != nil {
		t.Fatal(err)
	}
	return &found
}

func recommend(t *testing.T, tab *Table, f Figures, c Conditions) Recommendation {
	t.Helper()
	r, err := tab.Recommend(f, c)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// why returns why a table refused, "" where it didn't.
func why(err error) string {
	var r *Refusal
	if errors.As(err, &r) {
		return r.Why
	}
	return ""
}

func ph(x, buffer float64, method string) Figures {
	return Figures{"pH": {Value: x}, "buffer pH": {Value: buffer, Method: method}}
}

func acid(x, h float64) Figures {
	return Figures{"pH": {Value: x}, "H": {Value: h, Unit: "meq/100 g", Method: "Mehlich"}}
}

func potash(k, cec float64, method string) Figures {
	return Figures{"K": {Value: k, Unit: "mg/kg", Method: method}, "CEC": {Value: cec, Unit: "meq/100 g"}}
}

func phosphorus(p float64, method string) Figures {
	return Figures{"P": {Value: p, Unit: "mg/kg", Method: method}}
}

func corn(yield float64, inches float64) Conditions {
	return Conditions{Sample: Layer{0, inches}, Crop: "corn", Yield: yield, YieldUnit: "bu/ac"}
}
