package vector

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
)

// Values are written as encoding/json does.
func TestValuesAsJSON(t *testing.T) {
	values := []any{
		"", "plain", "ä ≥ 3 m", "a\"b", `a\b`, "\x7f", "\x00", "\n\t", "\xff", "\ufffd", "\u2028", "\u2029", "<a&b>", "🌾",
		0, -7, math.MaxInt, int64(-3), true, nil, []string{"<"}, 0.0, 1e-6, 9.99e-7, -1e-6, 1e21, 9.99e20, -1e21, 1.0 / 3, math.MaxFloat64, 5e-324,
	}
	r := rand.New(rand.NewPCG(3, 5))
	for range 10_000 {
		values = append(values, math.Float64frombits(r.Uint64()), math.Round(r.Float64()*1e6)/1e3, string([]rune{rune(r.IntN(0x3000)), rune(r.IntN(128))}))
	}
	for _, v := range values {
		var want bytes.Buffer
		enc := json.NewEncoder(&want)
		enc.SetEscapeHTML(false)
		wantErr := enc.Encode(v)
		got, err := appendValue(nil, v)
		if (err == nil) != (wantErr == nil) || err == nil && string(got)+"\n" != want.String() {
			t.Errorf("%#v: got %s, %v, want %s, %v", v, got, err, want.String(), wantErr)
		}
	}
}

func TestNamesOfProperties(t *testing.T) {
	for _, n := range []int{2, fewNames, fewNames + 1, 100} {
		f := OutFeature{}
		for i := range n {
			f.Properties = append(f.Properties, Property{Name: string(rune('a' + i))})
		}
		if err := f.checkNames(); err != nil {
			t.Errorf("%d names: %v", n, err)
		}
		f.Properties[n-1].Name = "a"
		if err := f.checkNames(); err == nil {
			t.Errorf("%d names, one twice: no error", n)
		}
	}
}
