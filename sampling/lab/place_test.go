package lab

import (
	"strings"
	"testing"
)

func TestUnplace(t *testing.T) {
	table, err := ReadTable(strings.NewReader("id,x,y,pH\na,1,1,6\nb,9,9,\nc,2,2,7\nd,,3,7\n"), "t.csv")
	if err != nil {
		t.Fatal(err)
	}
	_, r, err := ReadPoints(table, "x", "y")
	if err != nil {
		t.Fatal(err)
	}
	r.Unplace(map[int]string{3: "lies in no field", 5: "refused already", 99: "not there"})
	if err := r.Check(); err != nil {
		t.Fatal(err)
	}
	if c := r.Counts; c.Rows != 4 || c.Joined != 2 || c.Unmatched != 1 || c.Refused != 1 {
		t.Errorf("%+v", c)
	}
	if f := r.Rows[1]; f.Fate != Unmatched || f.Reason != "lies in no field" || f.SampleID != "" {
		t.Errorf("%+v", f)
	}
	if len(r.Results) != 2 || r.Results[1].ID != "c" {
		t.Errorf("%+v", r.Results)
	}
}

func TestTypingDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"cell", "cel", 1}, {"cell", "clel", 1}, {"boundry", "boundary", 1}, {"ä", "a", 1}, {"plan", "zone", 4}} {
		if got := TypingDistance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
}
