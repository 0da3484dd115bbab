package lab

import (
	"encoding/json"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
)

func TestIDKey(t *testing.T) {
	for _, c := range []struct{ a, b string }{
		{"AB07K", "ab07k"}, {"AB07K", " ab-07 K "}, {"AB07K", "AB_07_K"}, {"AB07K", "AB–07\u00a0K"}, {"A-1-11", "A1 11"}, {"A-1-11", "a1--11"},
	} {
		if idKey(c.a) != idKey(c.b) {
			t.Errorf("%q and %q differ: %q, %q", c.a, c.b, idKey(c.a), idKey(c.b))
		}
	}
	for _, c := range []struct{ a, b string }{
		{"A-1-11", "A-11-1"}, {"7", "007"}, {"AB07K", "AB0 7K"}, {"A.1", "A1"}, {"AB07K", "AB07"}, {"", "A"},
	} {
		if idKey(c.a) == idKey(c.b) {
			t.Errorf("%q and %q agree: %q", c.a, c.b, idKey(c.a))
		}
	}
}

func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "AB", 2}, {"AB07K", "AB07K", 0}, {"AB07X", "AB07K", 1}, {"AB70K", "AB07K", 1}, {"A07K", "AB07K", 1}, {"AB007K", "AB07K", 1}, {"CA", "ABC", 3}, {"BA7", "AB07", 2}} {
		if got := distance([]rune(c.a), []rune(c.b)); got != c.want {
			t.Errorf("%q to %q is %d, want %d", c.a, c.b, got, c.want)
		}
		if got := distance([]rune(c.b), []rune(c.a)); got != c.want {
			t.Errorf("%q to %q is %d, want %d", c.b, c.a, got, c.want)
		}
	}
}

// Every single slip of the pen is traced back to the id it was made in.
func TestNearestAfterASlip(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	const letters = "ABCDEFGHJKLMNPQRSTUVWXYZ0123456789"
	id := func() string {
		b := make([]byte, 7)
		for i := range b {
			b[i] = letters[rng.IntN(len(letters))]
		}
		return string(b)
	}
	for range 300 {
		var samples []SampleRef
		for range 30 {
			samples = append(samples, SampleRef{ID: id()})
		}
		right := samples[rng.IntN(len(samples))].ID
		at := rng.IntN(len(right) - 1)
		slip := ""
		switch rng.IntN(4) {
		case 0:
			slip = right[:at] + "Z" + right[at+1:]
		case 1:
			slip = right[:at] + right[at+1:]
		case 2:
			slip = right[:at] + "5" + right[at:]
		default:
			slip = right[:at] + right[at+1:at+2] + right[at:at+1] + right[at+2:]
		}
		if near := newFinder(samples).nearest(slip); !slices.Contains(near, right) {
			t.Fatalf("%s, a slip for %s, gives %v", slip, right, near)
		}
	}
}

func TestNearest(t *testing.T) {
	f := newFinder(refs("AB01C AB02D AB03E S001 Q"))
	for _, c := range []struct{ id, want string }{
		{"AB01X", "AB01C"}, {"AB0C", "AB01C"}, {"S1", "S001"}, {"AB0", ""}, {"AB1", "AB01C"}, {"R", ""}, {"XX01C", "AB01C"}, {"AB09Z", ""},
		{strings.Repeat("A", 1000), ""},
	} {
		if got := strings.Join(f.nearest(c.id), " "); got != c.want {
			t.Errorf("%.20s: got %q, want %q", c.id, got, c.want)
		}
	}
	f.budget = 10
	if got := f.nearest("AB03X"); got != nil {
		t.Errorf("got %v without a budget", got)
	}
}

func TestSummaryAndCheckIDs(t *testing.T) {
	for _, id := range []string{"Total", "TOTALS:", "Average", "avg.", "Mean", "Std. Dev.", "Grand total"} {
		if !isSummary(id) {
			t.Errorf("%q is no summary", id)
		}
	}
	for _, id := range []string{"BLANK", "blank 1", "QC-12", "STD", "Std #2", "Check Sample", "Control", "method blank"} {
		if !isLabCheck(id) {
			t.Errorf("%q is no lab check", id)
		}
	}
	for _, id := range []string{"AB01C", "MEANDER", "TOTAL1", "CHECKERS", "STDX12", "BLANKET", "QC12345KL", "", "M"} {
		if isSummary(id) || isLabCheck(id) {
			t.Errorf("%q is taken for a total or a check", id)
		}
	}
}

func TestParseDepth(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		want       depthRange
	}{
		{"0-8", "in", depthRange{0, 8, "in"}}, {"0-8in", "", depthRange{0, 8, "in"}}, {`0" - 6"`, "", depthRange{0, 6, "in"}}, {"0 to 20 cm", "", depthRange{0, 20, "cm"}},
		{"8–24 inches", "cm", depthRange{8, 24, "in"}}, {"15", "cm", depthRange{0, 15, "cm"}}, {"0-7,5", "", depthRange{0, 7.5, ""}},
	} {
		if got, ok := parseDepth(c.text, c.unit); !ok || got != c.want {
			t.Errorf("%q: got %+v, %v, want %+v", c.text, got, ok, c.want)
		}
	}
	for _, text := range []string{"", "top", "8-0", "0-0", "-5", "0--8", "8-Jan", "1e3", "0-8-16", strings.Repeat("9", 1000)} {
		if got, ok := parseDepth(text, ""); ok {
			t.Errorf("%q is taken for %+v", text, got)
		}
	}
	same := func(a, b string) bool {
		x, _ := parseDepth(a, "")
		y, _ := parseDepth(b, "")
		return x.same(y) && y.same(x)
	}
	if !same("0-8in", "0-20cm") || !same("0-8", "0-8in") || !same("0-24in", "0-60cm") || same("0-6in", "0-20cm") || same("0-6", "0-8") || same("0-15cm", "0-15in") {
		t.Error("depths are compared wrongly")
	}
}

func TestPlanFaults(t *testing.T) {
	table := NewTable("f", []string{"ID", "pH"}, [][]string{{"A1", "6"}, {"B2", "7"}})
	for _, c := range []struct{ samples, want string }{
		{"A1 A1 B2", "A1 missing: its id is in the plan more than once"},
		{"~ A1 B2", " missing: has no id in the plan"},
	} {
		r := Join(refs(c.samples), table)
		if err := r.Check(); err != nil {
			t.Error(err)
		}
		if !strings.Contains(digest(r), c.want) {
			t.Errorf("%s: got\n%s", c.samples, digest(r))
		}
	}
	for _, r := range []Reckoning{Join(nil, table), Join(refs("A1"), NewTable("f", nil, nil)), Join(nil, NewTable("f", []string{"x", "y"}, [][]string{{"1", "2"}}))} {
		if err := r.Check(); err != nil {
			t.Error(err)
		}
	}
}

func TestDepthWithoutPlan(t *testing.T) {
	table := NewTable("f", []string{"ID", "Depth", "pH"}, [][]string{{"A1", "0-8", "6"}, {"A1", "8-24", "7"}, {"A1", "", "6.2"}})
	r := Join(refs("A1"), table)
	want := `1 joined A1
2 refused: depth 8-24 is not the depth in the sample's first row of sample A1
3 replicate A1: sample A1 is in row 1 already; averaged
A1 | pH 6.1 n=2 range 0.2
`
	if got := digest(r); got != want || r.Check() != nil {
		t.Errorf("got\n%s%v", got, r.Check())
	}
}

func TestLines(t *testing.T) {
	r := Join(refs("AB01C AB02D AB03E AB04F AB05G AB06H AB07J"), readTestdata(t, "case.csv"))
	want := `case.csv: 9 data rows = 5 joined + 1 replicate + 2 unmatched + 1 refused
plan: 7 samples = 5 answered + 2 missing
row 3: sample id AB02X is in no plan; nearest is AB02D
row 5: sample AB03E is in row 4 already; averaged
row 7: refused: empty row
row 10: sample id ZZ99Q is in no plan
sample AB02D missing: no row has its id
sample AB07J missing: no row has its id
sample AB03E, "P (ppm)": mean 35 mg/kg, range 10; the 2 replicates range over more than 10 % of their mean
sample AB03E, "Zn (ppm)": mean 1.2 mg/kg, range 0.2; the 2 replicates range over more than 10 % of their mean
row 6, "P (ppm)", sample AB04F: no value
row 8, "Zn (ppm)", sample AB05G: "<0.5" below the limit 0.5; computed with half of it, 0.25
row 9, "K (ppm)", sample AB06H: "see note" is not a number`
	if got := strings.Join(r.Lines(), "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	r = Join(refs("AB01C AB02D"), readTestdata(t, "pages.csv"))
	if got := r.Lines()[2]; got != "rows 4 to 5: refused: empty row" {
		t.Errorf("a run of empty rows is %q", got)
	}
	rows := make([][]string, 250)
	for i := range rows {
		rows[i] = []string{"Q" + letters(i) + "77777", "1"}
	}
	lines := Join(nil, NewTable("f", []string{"ID", "pH"}, rows)).Lines()
	if len(lines) != 1+maxLines+1 || lines[len(lines)-1] != "... and 150 more of these" {
		t.Errorf("%d lines, the last %q", len(lines), lines[len(lines)-1])
	}
}

// The account is written with names in snake case, empty lists as [], and reads
// back the same.
func TestJSON(t *testing.T) {
	r := Join(refs("AB01C AB02D AB03E AB04F AB05G AB06H AB07J"), readTestdata(t, "case.csv"))
	out, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"counts":{"rows":9,"joined":5,`, `{"row":3,"id":"AB02X","fate":"unmatched","reason":"sample id AB02X is in no plan","nearest":["AB02D"]}`, `"sample_id":"AB03E"`} {
		if !strings.Contains(string(out), want) {
			t.Errorf("%s is not in %s", want, out)
		}
	}
	var back Reckoning
	if err := json.Unmarshal(out, &back); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(r, back) || back.Check() != nil {
		t.Errorf("got back %+v", back)
	}
	empty, err := json.Marshal(Join(nil, NewTable("f", []string{"ID", "pH"}, nil)))
	if err != nil || !strings.Contains(string(empty), `"rows":[],"samples":[],"results":[],"cells":[]`) {
		t.Errorf("%v: %s", err, empty)
	}
}

// Check notices every kind of false account.
func TestCheckNotices(t *testing.T) {
	for name, spoil := range map[string]func(*Reckoning){
		"a row dropped":          func(r *Reckoning) { r.Rows = r.Rows[1:] },
		"a row twice":            func(r *Reckoning) { r.Rows[1] = r.Rows[0] },
		"another fate":           func(r *Reckoning) { r.Rows[0].Fate = Refused },
		"no fate":                func(r *Reckoning) { r.Rows[0].Fate = "" },
		"no reason":              func(r *Reckoning) { r.Rows[1].Reason = "" },
		"a wrong count":          func(r *Reckoning) { r.Counts.Joined++ },
		"a sample dropped":       func(r *Reckoning) { r.Samples = r.Samples[1:] },
		"a sample without rows":  func(r *Reckoning) { r.Samples[0].Rows = nil },
		"a result dropped":       func(r *Reckoning) { r.Results = r.Results[1:] },
		"a result of another":    func(r *Reckoning) { r.Results[0].Rows[0] = 4 },
		"a row used twice":       func(r *Reckoning) { r.Results[1].Rows = []int{4, 4} },
		"a cell dropped":         func(r *Reckoning) { r.Cells = r.Cells[1:] },
		"a result without a row": func(r *Reckoning) { r.Results[1].Rows = nil },
	} {
		r := Join(refs("AB01C AB02D AB03E AB04F AB05G AB06H AB07J"), readTestdata(t, "case.csv"))
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		spoil(&r)
		if r.Check() == nil {
			t.Errorf("%s goes unnoticed", name)
		}
	}
}

// Random files of good and bad rows: the account adds up, each row has the fate
// it was made for, and the same input gives the same account.
func TestJoinRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		var samples []SampleRef
		for i := range 1 + rng.IntN(20) {
			samples = append(samples, SampleRef{ID: "F" + letters(i+30) + "0"})
		}
		seen := map[string]bool{}
		var rows [][]string
		var want []Fate
		for range rng.IntN(40) {
			id := samples[rng.IntN(len(samples))].ID
			fate := Joined
			cells := []string{id, "6.5", "12"}
			switch rng.IntN(8) {
			case 0:
				cells, fate = []string{"", " ", ""}, Refused
			case 1:
				cells, fate = []string{"ZZ" + id + "99", "6", "1"}, Unmatched
			case 2:
				cells, fate = append(cells, "x"), Refused
			case 3:
				cells, fate = []string{"Average", "6", "1"}, Refused
			case 4:
				cells[0] = strings.ToLower(id[:1] + "-" + id[1:])
			}
			if fate == Joined && seen[id] {
				fate = Replicate
			}
			if fate == Joined {
				seen[id] = true
			}
			rows, want = append(rows, cells), append(want, fate)
		}
		table := NewTable("f", []string{"ID", "pH", "P"}, rows)
		r := Join(samples, table)
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		for i, f := range r.Rows {
			if f.Fate != want[i] {
				t.Fatalf("row %q is %s (%s), want %s", rows[i], f.Fate, f.Reason, want[i])
			}
		}
		if r.Counts.Answered != len(seen) {
			t.Fatalf("%d samples answered, want %d", r.Counts.Answered, len(seen))
		}
		if !reflect.DeepEqual(r, Join(samples, table)) {
			t.Fatal("a second join differs")
		}
	}
}
