package datafile

import (
	"strings"
	"testing"
)

func TestDecode(t *testing.T) {
	var list []struct{ A int }
	if err := Decode([]byte("\ufeff- {a: 1}\n- {a: 2}\n"), &list); err != nil || len(list) != 2 || list[1].A != 2 {
		t.Errorf("%v, %v", list, err)
	}
	for name, text := range map[string]string{
		"a stray tag":   "! {a: 1}",
		"unknown key":   "- {a: 1, b: 2}",
		"not a list":    "a: [",
		"brackets":      strings.Repeat("[", 200_000),
		"a long line":   "[" + strings.Repeat("1,", 60_000) + "1]",
		"deep":          strings.Repeat("- ", 3000) + "1",
		"many bytes":    strings.Repeat("# nothing\n", 1<<16),
		"braces":        strings.Repeat("{a: ", 100),
		"two documents": "- {a: 1}\n---\n- {a: 2}\n",
		"an indent":     strings.Repeat(" ", 3000) + "a: 1",
		"lines of dash": strings.Repeat("-\n ", 50_000),
	} {
		err := Decode([]byte(text), &list)
		if err == nil && name != "lines of dash" || err != nil && strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// FuzzDecode: whatever the bytes, an error or a value, and never a panic.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{"- {a: 1}", "! {a: 1}", "a: &x [1]\nb: *x", "- - - 1", "? a\n: b", "%YAML 1.2\n---\n- a: 0x1"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var list []struct{ A int }
		if err := Decode(data, &list); err != nil && strings.Contains(err.Error(), "\n") {
			t.Errorf("%q", err)
		}
	})
}
