package task

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// nameLength is the most characters of a designator.
const nameLength = 32

// plain returns s as XML can hold it on one line: control characters, bytes that
// are no UTF-8 and the two characters that XML has not become blanks.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || r == 0xFFFE || r == 0xFFFF || unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s)
}

// designator returns s as it is written: plain, without blanks at its ends, and
// cut to 32 characters, not between a letter and the accents that belong to it.
func designator(s string) string {
	s = strings.TrimSpace(plain(s))
	n := 0
	for i := range s {
		if n < nameLength {
			n++
			continue
		}
		for i > 0 {
			r, _ := utf8.DecodeRuneInString(s[i:])
			if !unicode.Is(unicode.M, r) {
				break
			}
			_, size := utf8.DecodeLastRuneInString(s[:i])
			i -= size
		}
		if i == 0 { // accents all through
			i = len(string([]rune(s)[:nameLength]))
		}
		return strings.TrimSpace(s[:i])
	}
	return s
}

// Notices tells, one line each, which names Write writes other than they are
// (cut to 32 characters, or with blanks for what XML can't hold), and which
// fields, products or tasks can't be told apart by what is left.
func (f *File) Notices() []string {
	var out []string
	one := func(what, name string) {
		if d := designator(name); d != name {
			out = append(out, fmt.Sprintf("%s %q is written as %q: a task file holds names of %d characters on one line", what, name, d, nameLength))
		}
	}
	one("customer", f.Customer)
	one("farm", f.Farm)
	list := func(what string, n int, name func(i int) string) {
		seen := map[string]int{}
		for i := range n {
			one(what, name(i))
			d := designator(name(i))
			if first, ok := seen[d]; ok {
				out = append(out, fmt.Sprintf("%s %d and %s %d are both called %q in the task file", what, first+1, what, i+1, d))
				continue
			}
			seen[d] = i
		}
	}
	list("field", len(f.Fields), func(i int) string { return f.Fields[i].Name })
	list("product", len(f.Products), func(i int) string { return f.Products[i].Name })
	list("task", len(f.Tasks), func(i int) string { return f.Tasks[i].Name })
	for _, t := range f.Tasks {
		for _, z := range t.Zones {
			one("zone", z.Name)
		}
	}
	return out
}
