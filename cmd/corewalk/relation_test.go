package main

import "testing"

func TestParseRelation(t *testing.T) {
	for text, want := range map[string]relation{
		"P Bray-1 = 3 + 1.6 * P Olsen":  {To: "P Bray-1", Offset: 3, Factor: 1.6, From: "P Olsen"},
		"P = 0.5*P (column D)":          {To: "P", Factor: 0.5, From: "P (column D)"},
		"pH = -1.5 + 1 * salt pH":       {To: "pH", Offset: -1.5, Factor: 1, From: "salt pH"},
		"pH water = 12 - 0.9 * old pH":  {To: "pH water", Offset: 12, Factor: -0.9, From: "old pH"},
		"K Mehlich-3 =2+ 1.1 * K (old)": {To: "K Mehlich-3", Offset: 2, Factor: 1.1, From: "K (old)"},
	} {
		got, err := parseRelation(text)
		if err != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, err)
			continue
		}
		if again, err := parseRelation(got.String()); err != nil || again != want {
			t.Errorf("%q is written as %q, which reads as %+v, %v", text, got, again, err)
		}
	}
	for _, bad := range []string{"", "P", "P = Q", "P = 2 * P", "P = 0 * Q", "P = 1 + Q", "= 2 * Q", "P = 1e3 * Q", "P = 2 *"} {
		if got, err := parseRelation(bad); err == nil {
			t.Errorf("%q reads as %+v", bad, got)
		}
	}
}
