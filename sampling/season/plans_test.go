package season

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// renamed is a bundle whose samples begin with a text.
func renamed(b *Bundle, from, prefix string) *Bundle {
	b.From = from
	for name, column := range map[string]string{"units": "id", "cores": "sample", "composites": "id", "results": "sample", "rates": "id"} {
		for _, row := range b.rows[name] {
			row[tableNamed(name).at(column)] = prefix + row[tableNamed(name).at(column)].(string)
		}
	}
	return b
}

func home() *Bundle { return renamed(invented(6, 6), "home", "H") }
func slip() *Bundle { return renamed(invented(4, 5), "slip", "L") }

func TestPlansOfASeason(t *testing.T) {
	r, path := create(t)
	s := Season{Name: "2026", Date: "2026-04-17"}
	if added, err := r.Add(background, s, these(home(), slip(), home()), false); err != nil || !added {
		t.Fatal(added, err)
	}
	one := digest(t, r)
	x, err := r.Summary(background, "2026")
	if err != nil || x.Plans != 2 || x.Units != 10 || x.Results != 20 || x.Season.Program != "corewalk test" {
		t.Errorf("%+v, %v", x, err)
	}
	// All of them, or some of them, once more.
	for _, again := range [][]*Bundle{{home(), slip()}, {slip()}, {home(), home()}} {
		if added, err := r.Add(background, s, these(again...), false); err != nil || added {
			t.Errorf("%d plans again: %v, %v", len(again), added, err)
		}
	}
	for _, other := range [][]*Bundle{{home(), renamed(invented(2, 5), "bottom", "B")}, {renamed(invented(2, 5), "bottom", "B")}} {
		if _, err := r.Add(background, s, these(other...), false); err == nil || !strings.Contains(err.Error(), `another season "2026"`) {
			t.Errorf("other plans: %v", err)
		}
	}
	if _, err := r.Add(background, Season{Name: "2026", Date: "2026-04-18"}, these(slip()), false); err == nil {
		t.Error("a plan of the season was found in it under another date")
	}
	if digest(t, r) != one {
		t.Error("what was refused left something")
	}
	// Replaced by the same is unchanged, by fewer is changed.
	add(t, r, s, home(), true, true)
	if added, err := r.Add(background, s, these(home(), slip()), true); err != nil || !added || digest(t, r) != one {
		t.Errorf("put back: %v, %v", added, err)
	}
	if added, err := r.Add(background, s, these(home(), slip()), true); err != nil || added {
		t.Errorf("replaced by itself: %v, %v", added, err)
	}
	_, all, err := r.Observations(background)
	if err != nil || len(all) != 20 || all[0].Sample != "HS00000" || all[19].Sample != "LS00003" || len(all[19].Shape) != 1 {
		t.Errorf("%d observations, %v", len(all), err)
	}
	again := filepath.Join(t.TempDir(), "again.gpkg")
	if err := Import(background, export(t, r), again); err != nil {
		t.Fatal(err)
	}
	other, err := Open(background, again)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if digest(t, other) != one {
		t.Errorf("%s was imported as another record", path)
	}
}

func TestClashes(t *testing.T) {
	r, _ := create(t)
	before := digest(t, r)
	other := renamed(invented(3, 5), "other", "H")
	for _, list := range [][]*Bundle{{home(), other}, {slip(), other, home()}} {
		_, err := r.Add(background, Season{Name: "2026"}, these(list...), false)
		if err == nil || !strings.Contains(err.Error(), "sample HS00000 (and 2 more) is both in ") || !strings.Contains(err.Error(), "home") || !strings.Contains(err.Error(), "other") {
			t.Errorf("%v", err)
		}
	}
	// A folder that cannot be read undoes those before it.
	broken := errors.New("broken")
	if _, err := r.Add(background, Season{Name: "2026"}, func(yield func(*Bundle, error) bool) {
		_ = yield(home(), nil) && yield(nil, broken)
	}, false); !errors.Is(err, broken) {
		t.Error(err)
	}
	if _, err := r.Add(background, Season{Name: "2026"}, these(), false); err == nil {
		t.Error("a season of nothing was added")
	}
	if digest(t, r) != before {
		t.Error("what was refused left something")
	}
	// Points may share ids.
	points := func(from string, level float64) *Bundle {
		b := invented(3, level)
		b.From = from
		delete(b.rows, "units")
		for _, row := range b.rows["composites"] {
			row[tableNamed("composites").at("unit")] = nil
			row[tableNamed("composites").at("id")] = "r1"
		}
		for _, row := range b.rows["results"] {
			row[tableNamed("results").at("sample")] = "r1"
		}
		return b
	}
	if added, err := r.Add(background, Season{Name: "2026"}, these(points("a", 5), points("b", 6)), false); err != nil || !added {
		t.Fatal(added, err)
	}
	_, all, err := r.Observations(background)
	if err != nil || len(all) != 12 || all[4].At != *points("a", 5).rows["composites"][2][0].(geometry).point || all[0].At == all[4].At {
		t.Errorf("%d figures, %v", len(all), err)
	}
}

func TestRemove(t *testing.T) {
	r, _ := create(t)
	s := Season{Name: "2025", Date: "2025-04-01", Lab: "Brook"}
	add(t, r, Season{Name: "2024", Date: "2024-04-01"}, home(), false, true)
	without := digest(t, r)
	add(t, r, s, slip(), false, true)
	with := digest(t, r)
	if err := r.Remove(background, "2026"); err == nil || !strings.HasSuffix(err.Error(), `it has no season "2026"; it has: 2024, 2025`) {
		t.Error(err)
	}
	if err := r.Remove(background, "2025"); err != nil || digest(t, r) != without {
		t.Errorf("removed, and the record is another one, %v", err)
	}
	for _, x := range append(tables(), table{name: "plans"}) {
		var n int
		if err := r.db.QueryRow("SELECT count(*) FROM " + x.name + " WHERE season = '2025'").Scan(&n); err != nil || n > 0 {
			t.Errorf("%s has %d rows of it, %v", x.name, n, err)
		}
	}
	add(t, r, s, slip(), false, true)
	if digest(t, r) != with {
		t.Error("removed and added again, the record is another one")
	}
	for range 2 {
		if err := r.Remove(background, "2024"); err != nil && !strings.Contains(err.Error(), "it has: 2025") {
			t.Error(err)
		}
	}
	if err := r.Remove(background, "2025"); err != nil {
		t.Fatal(err)
	}
	var bounds int
	if err := r.db.QueryRow("SELECT count(*) FROM gpkg_contents WHERE min_x IS NOT NULL").Scan(&bounds); err != nil || bounds > 0 {
		t.Errorf("an empty record has %d bounds, %v", bounds, err)
	}
	if err := r.Remove(background, "2025"); err == nil || !strings.Contains(err.Error(), "nor any other") {
		t.Error(err)
	}
}

// The bounds that the file tells are those of its rows, however they came there.
func TestBounds(t *testing.T) {
	r, _ := create(t)
	bounds := func() string {
		rows, err := r.db.Query("SELECT table_name, min_x, min_y, max_x, max_y FROM gpkg_contents ORDER BY table_name")
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		out := ""
		for rows.Next() {
			var name string
			var v [4]sql.NullFloat64
			if err := rows.Scan(&name, &v[0], &v[1], &v[2], &v[3]); err != nil {
				t.Fatal(err)
			}
			out += fmt.Sprintln(name, v)
		}
		return out
	}
	add(t, r, Season{Name: "2024"}, invented(8, 6), false, true)
	add(t, r, Season{Name: "2025"}, invented(160, 6), false, true)
	said := bounds()
	if err := r.change(background, func(tx *sql.Tx) error { return fit(background, tx) }); err != nil || bounds() != said || !strings.Contains(said, "52.004") {
		t.Errorf("%v: by rows\n%s, and was\n%s", err, bounds(), said)
	}
}

// An export of an earlier version makes a record, in which analyte and depth are
// apart, and which is that of the same seasons added now.
func TestEarlierFormat(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.gpkg")
	if err := Import(background, filepath.Join("testdata", "format1"), path); err != nil {
		t.Fatal(err)
	}
	r, err := Open(background, path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	digest(t, r)
	_, all, err := r.Observations(background)
	if err != nil || len(all) != 10 {
		t.Fatalf("%d, %v", len(all), err)
	}
	for i, o := range all {
		if o.Analyte != []string{"pH", "P"}[i%2] || o.Depth != "0-8in" || len(o.Shape) != 1 {
			t.Errorf("%+v", o)
		}
	}
	now := invented(2, 6.5)
	for _, name := range []string{"fields", "rates"} {
		for _, row := range now.rows[name] {
			g := row[0].(geometry)
			g.shape = g.shape[:2]
			row[0] = g
		}
	}
	if added, err := r.Add(background, Season{Name: "2025 \"b\"\nc", Date: "2025-04-01", Lab: "Brook, Ltd", Program: "corewalk test"}, these(now), false); err != nil || added {
		t.Errorf("the same season now: %v, %v", added, err)
	}
	// One that was changed is noticed.
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("testdata", "format1"))); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, "results.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "results.csv"), []byte(strings.Replace(string(data), "9.14", "9.15", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := Import(background, dir, filepath.Join(dir, "r.gpkg")); err == nil || !strings.Contains(err.Error(), "not as it was exported") {
		t.Error(err)
	}
}

// A season that was edited before its tables were brought up to date stays so.
func TestEditedBeforeMigration(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.gpkg")
	if err := build(background, path, 2, func(r *Record) error {
		return r.change(background, func(tx *sql.Tx) error {
			return execute(background, tx, []string{`INSERT INTO seasons (name, hash) VALUES ('2019', 'of something else')`, `INSERT INTO files (file, head, season) VALUES ('plan.geojson', '{}', '2019')`})
		})
	}); err != nil {
		t.Fatal(err)
	}
	r, err := Open(background, path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if _, err := r.Digest(background); err == nil || !strings.Contains(err.Error(), "edited") {
		t.Error(err)
	}
	if err := r.Export(background, into(t.TempDir())); err == nil || !strings.Contains(err.Error(), "edited") {
		t.Error(err)
	}
}

// Texts that files of tables or of JSON would change are changed before they are
// hashed.
func TestTextsThatFilesChange(t *testing.T) {
	r, _ := create(t)
	b := invented(2, 6)
	for _, row := range b.rows["composites"] {
		row[tableNamed("composites").at("notes")] = told("a\r\nb\rc\xffd\x00\u2028\t")
	}
	add(t, r, Season{Name: "20\xff26\r\nx", Lab: "Brook\r\n& \xfe Sons"}, b, false, true)
	path := filepath.Join(t.TempDir(), "again.gpkg")
	if err := Import(background, export(t, r), path); err != nil {
		t.Fatal(err)
	}
	again, err := Open(background, path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if digest(t, again) != digest(t, r) {
		t.Error("another record")
	}
}

func TestPlainAnalyte(t *testing.T) {
	for _, c := range [][3]string{
		{"pH 0-2in", "0-2in", "pH"}, {"pH 0-2in", "2-8in", "pH 0-2in"}, {"pH", "0-2in", "pH"}, {"buffer pH 0-20cm", "0-20cm", "buffer pH"},
		{"pH ", "", "pH "}, {" 0-2in", "0-2in", " 0-2in"}, {"pH0-2in", "0-2in", "pH0-2in"},
	} {
		if got := plainAnalyte(c[0], c[1]); got != c[2] {
			t.Errorf("%q in %q: %q", c[0], c[1], got)
		}
	}
}
