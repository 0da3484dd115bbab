package sampling

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// everyID calls f with the ids of plans of 500 fields.
func everyID(t *testing.T, f func(id string)) {
	t.Helper()
	for field := range 500 {
		for _, unit := range []int{1, 2, 7, 10, 12, 21, 55, 89, 98, 99} {
			for _, of := range []int{1, 12} {
				id, err := sampleID(field, unit, 2, field%of, of)
				if err != nil {
					t.Fatal(err)
				}
				f(id)
			}
		}
		for _, unit := range []int{1, 1021, 9999, MaxUnits} {
			id, err := sampleID(field, unit, 5, 0, 1)
			if err != nil {
				t.Fatal(err)
			}
			f(id)
		}
	}
}

func TestIDsCatchEveryWrongCharacter(t *testing.T) {
	const keyboard = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	everyID(t, func(id string) {
		if !ValidID(id) {
			t.Fatalf("%s is not valid itself", id)
		}
		for i := range id {
			for _, c := range []byte(keyboard) {
				if wrong := id[:i] + string(c) + id[i+1:]; c != id[i] && ValidID(wrong) {
					t.Fatalf("%s for %s passes", wrong, id)
				}
			}
		}
	})
}

func TestIDsCatchEverySwap(t *testing.T) {
	everyID(t, func(id string) {
		for i := range id {
			for j := range i {
				b := []byte(id)
				b[i], b[j] = b[j], b[i]
				if id[i] != id[j] && ValidID(string(b)) {
					t.Fatalf("%s for %s passes", b, id)
				}
			}
		}
	})
}

// The rule with 11 in place of 29 is that of ISBN-10; by hand for ids: values
// B 10, C 11, 0, 7, weighted 5 4 3 2, make 50+44+0+14 = 108 = 3*29+21, and 8
// more make a multiple of 29.
func TestCheckCharacterByHand(t *testing.T) {
	if c, err := CheckCharacter("BC07"); err != nil || c != '8' {
		t.Errorf("BC07 has %c, %v, want 8", c, err)
	}
	for _, bad := range []string{"", "bc07", "BC-07", "BA07", "BCé", strings.Repeat("B", 28)} {
		if c, err := CheckCharacter(bad); err == nil {
			t.Errorf("%q has the check character %c, want an error", bad, c)
		}
	}
	for _, bad := range []string{"", "8", "BC07", "bc078", "BC079", "BC07 8", " BC078"} {
		if ValidID(bad) {
			t.Errorf("%q is valid", bad)
		}
	}
}

func TestIDsAreUniqueShortAndPlain(t *testing.T) {
	// What a spreadsheet might take for a number, a date or a truth: by its
	// first letters, in any of the languages that have names of months without
	// a vowel (CLDR, from memory).
	traps := regexp.MustCompile(`^[0-9.]+(E[0-9]+)?$|^(JAN|FEB|MAR|MRT|MRZ|APR|MAY|MAI|JUN|JUL|AUG|SEP|OCT|OKT|NOV|DEC|DEZ|WRZ|TRV|SRP|TRUE|FALSE)`)
	seen := map[string]bool{}
	for field := range 500 {
		for unit := 1; unit <= 99; unit++ {
			id, err := sampleID(field, unit, 2, 0, 1)
			if err != nil {
				t.Fatal(err)
			}
			if seen[id] {
				t.Fatalf("%s comes twice", id)
			}
			seen[id] = true
			if len(id) > 10 || traps.MatchString(id) {
				t.Fatalf("%s is not plain", id)
			}
		}
	}
	if id, err := sampleID(19_999, MaxUnits, 5, 0, 1); err != nil || len(id) > 10 {
		t.Errorf("the longest id is %s, %v", id, err)
	}
}

func TestFieldCodes(t *testing.T) {
	seen := map[string]bool{}
	for n := range 20_000 {
		c := fieldCode(n)
		if seen[c] || strings.Trim(c, codeLetters) != "" || len(c) < 2 || len(c) > 4 {
			t.Fatalf("code %d is %s", n, c)
		}
		seen[c] = true
	}
	for n, want := range map[int]string{0: "BB", 1: "BC", 18: "CB", 323: "XX", 324: "BBB", 324 + 18*18*18: "BBBB"} {
		if got := fieldCode(n); got != want {
			t.Errorf("code %d is %s, want %s", n, got, want)
		}
	}
}

func TestPlaceOf(t *testing.T) {
	for _, n := range []int{0, 1, 17, 18, 323, 324, 6155, 6156, 20_000, 111_131, 111_132, 3_000_000} {
		id, err := sampleID(n, 7, 2, 0, 1)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := PlaceOf(id); !ok || got != n {
			t.Errorf("%s is of place %d, %v, want %d", id, got, ok, n)
		}
	}
	for _, id := range []string{"", "B", "BB", "B07X", "07BBX", "bb07X", "BBBBBBB07", "BA07X", "BBX"} {
		if n, ok := PlaceOf(id); ok {
			t.Errorf("%q is of place %d, want none", id, n)
		}
	}
}

func TestSlips(t *testing.T) {
	if got := Slips("B0B5J"); !slices.Equal(got, []string{"BB05J"}) {
		t.Errorf("B0B5J may be %v", got)
	}
	n := 0
	everyID(t, func(id string) {
		if n++; n%17 > 0 {
			return
		}
		wrong := []string{"8" + id[1:], id[1:2] + id[:1] + id[2:], id[:1] + "0" + id[1:], id[:2] + "O" + id[3:]}
		for _, w := range wrong {
			if got := Slips(w); w != id && !slices.Contains(got, id) {
				t.Fatalf("%s for %s may be %v", w, id, got)
			}
		}
	})
	for _, none := range []string{"", "7", "GARDEN1", "ä", strings.Repeat("B", 200), "\xff\x00"} {
		if got := Slips(none); len(got) > 0 {
			t.Errorf("%q may be %v", none, got)
		}
	}
}

func ExampleValidID() {
	fmt.Println(ValidID("BC078"), ValidID("CB078"), ValidID("BC087"))
	// Output: true false false
}
