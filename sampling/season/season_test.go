package season

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
)

var background = context.Background()

// invented is a season of n composites in square cells, with names that are
// awkward in tables.
func invented(n int, level float64) *Bundle {
	b := &Bundle{From: "a run", Program: "corewalk test", rows: map[string][][]any{}}
	name := "Home, \"east\"\nand 畑"
	var all crs.LonLatShape
	for i := range n {
		x, y := 10+0.001*float64(i%50), 52+0.001*float64(i/50)
		cell := crs.LonLatShape{{orb.Ring{{x, y}, {x + 0.001, y}, {x + 0.001, y + 0.001}, {x, y + 0.001}, {x, y}}}}
		all = append(all, cell...)
		at := geo.LonLat{x + 0.0005, y + 1.0/3000}
		id := fmt.Sprintf("S%05d", i)
		b.rows["units"] = append(b.rows["units"], []any{geometry{shape: cell}, id, name, int64(i + 1), nil, nil, "=1+1", 1.0 / 3, nil, int64(12), "0-8in", `{"a":"b"}`})
		b.rows["cores"] = append(b.rows["cores"], []any{geometry{point: &at}, id + "01", id, nil, int64(1), name, int64(i + 1), "0-8in", "taken", at[0], at[1], nil})
		b.rows["composites"] = append(b.rows["composites"], []any{geometry{point: &at}, id, name, nil, "=1+1", int64(i + 1), int64(1), nil, nil, "0-8in", nil, nil, nil, "a; b", int64(i + 1)})
		b.rows["results"] = append(b.rows["results"],
			[]any{id, name, "pH", nil, nil, nil, "water", level + math.Pi*float64(i%7), nil, nil, int64(1), nil, "0-8in", int64(i + 1)},
			[]any{id, name, "P", nil, "P1", "mg/kg", "Mehlich-3", 1e-7 * float64(i), "<", nil, int64(2), 0.1, "0-8in", int64(i + 1)})
	}
	b.rows["files"] = [][]any{{"plan.geojson", `{"seed":18446744073709551615}`}}
	b.rows["fields"] = [][]any{{geometry{shape: all}, name, "EPSG:32632", 1.5, nil, 10.0, nil}}
	b.rows["parts"] = [][]any{
		{geometry{line: crs.LonLatLine{{10, 52}, {10.1, 52.1}}}, "exclusion", "lane", name, nil, nil},
		{geometry{}, "exclusion", nil, name, nil, nil},
	}
	b.rows["rates"] = [][]any{{geometry{shape: all}, "unit", "S00000", name, nil, nil, "lime", "CaCO3", 2000.0, "lb/ac", int64(1), int64(1), 2241.7, 1e3, 1.5, nil}}
	return b
}

func nothing(*Record) error { return nil }

// these are bundles in a row.
func these(list ...*Bundle) iter.Seq2[*Bundle, error] {
	return func(yield func(*Bundle, error) bool) {
		for _, b := range list {
			if !yield(b, nil) {
				return
			}
		}
	}
}

func create(t *testing.T) (*Record, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "farm ?#%.gpkg")
	if err := Create(background, path, nothing); err != nil {
		t.Fatal(err)
	}
	r, err := Open(background, path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r, path
}

func add(t *testing.T, r *Record, s Season, b *Bundle, replace, want bool) {
	t.Helper()
	if added, err := r.Add(background, s, these(b), replace); err != nil || added != want {
		t.Fatalf("added %v, %v", added, err)
	}
}

func digest(t *testing.T, r *Record) string {
	t.Helper()
	d, err := r.Digest(background)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// into writes the files of an export.
func into(dir string) func(string, func(io.Writer) error) error {
	return func(name string, write func(io.Writer) error) error {
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		defer f.Close()
		return write(f)
	}
}

// export writes the files of a record into a new folder.
func export(t *testing.T, r *Record) string {
	t.Helper()
	dir := t.TempDir()
	if err := r.Export(background, into(dir)); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestAddIsIdempotent(t *testing.T) {
	r, _ := create(t)
	s := Season{Name: "2025", Date: "2025-04-01", Lab: "Brook", Program: "corewalk test"}
	add(t, r, s, invented(30, 6), false, true)
	one := digest(t, r)
	add(t, r, s, invented(30, 6), false, false)
	if digest(t, r) != one {
		t.Error("adding again changed the record")
	}
	if _, err := r.Add(background, s, these(invented(30, 6.5)), false); err == nil || !strings.Contains(err.Error(), `another season "2025"`) {
		t.Errorf("other content under the same name: %v", err)
	}
	if digest(t, r) != one {
		t.Error("a refused season left something")
	}
	add(t, r, s, invented(20, 6.5), true, true)
	all, err := r.Seasons(background)
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	x, err := r.Summary(background, "2025")
	if err != nil || fmt.Sprint(x.Units, x.Cores, x.Results, len(x.Fields), x.Composites, x.Plans) != "20 20 40 1 20 1" {
		t.Errorf("after it was replaced: %+v, %v", x, err)
	}
	if _, err := r.Add(background, Season{Name: " "}, these(invented(1, 6)), false); err == nil {
		t.Error("a season without a name was added")
	}
}

// What comes back is what was put in, to the last bit.
func TestRoundTrips(t *testing.T) {
	r, _ := create(t)
	add(t, r, Season{Name: "2024", Date: "2024-04-01"}, invented(120, 6), false, true)
	add(t, r, Season{Name: "2025 \"b\"\nc", Date: "2025-04-01", Lab: "Brook, Ltd"}, invented(70, 6.5), false, true)
	want := invented(120, 6)
	for _, x := range tables() {
		var got [][]any
		if err := each(background, r.db, SchemaVersion, x, "2024", func(_ int, row []any) error {
			got = append(got, row)
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(got) != fmt.Sprint(want.rows[x.name]) && x.geometry == "" || len(got) != len(want.rows[x.name]) {
			t.Errorf("%s: the record gives back something else", x.name)
		}
	}
	dir := export(t, r)
	path := filepath.Join(t.TempDir(), "again.gpkg")
	if err := Import(background, dir, path); err != nil {
		t.Fatal(err)
	}
	again, err := Open(background, path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if digest(t, r) != digest(t, again) {
		t.Error("what was exported and imported is another record")
	}
	second := export(t, again)
	files, _ := os.ReadDir(dir)
	if len(files) != 11 {
		t.Errorf("%d files", len(files))
	}
	for _, f := range files {
		a, _ := os.ReadFile(filepath.Join(dir, f.Name()))
		b, _ := os.ReadFile(filepath.Join(second, f.Name()))
		if !bytes.Equal(a, b) || len(a) == 0 {
			t.Errorf("%s is exported in another way", f.Name())
		}
	}
	if err := Import(background, dir, path); err == nil || !strings.Contains(err.Error(), "there already") {
		t.Errorf("over a record that is there: %v", err)
	}
}

// A file of an export that was changed or cut off makes no record.
func TestImportOfSpoiltFiles(t *testing.T) {
	r, _ := create(t)
	add(t, r, Season{Name: "2024"}, invented(12, 6), false, true)
	dir := export(t, r)
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		name := filepath.Join(dir, f.Name())
		whole, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for what, data := range map[string][]byte{
			"cut off": whole[:len(whole)*2/3], "empty": nil, "garbage": []byte("\x00\xff{[,\n"), "changed": bytes.Replace(whole, []byte("6"), []byte("7"), 1),
		} {
			if bytes.Equal(data, whole) {
				continue
			}
			if err := os.WriteFile(name, data, 0o644); err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), "r.gpkg")
			err := Import(background, dir, path)
			if err == nil {
				t.Errorf("%s, %s: a record was made", f.Name(), what)
			}
			if _, missing := os.Stat(path); !errors.Is(missing, fs.ErrNotExist) {
				t.Errorf("%s, %s: something was left", f.Name(), what)
			}
		}
		if err := os.WriteFile(name, whole, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	// Which file it is, is said.
	for _, c := range []struct{ file, old, new, want string }{
		{"cores.geojson", `"taken"`, `"missed"`, "cores.geojson was changed"},
		{"seasons.csv", "corewalk test", "corewalk 9", "seasons.csv was changed"},
		{"results.csv", ",S00003,", ",", "results.csv: line "},
		{"results.csv", "season,plan", "season,plans", "results.csv has other columns"},
		{"units.geojson", `"plan":1`, `"plan":2`, "units.geojson: feature 1: season 2024 has no plan 2"},
		{"units.geojson", `"unit":1`, `"unit":"a"`, `units.geojson: feature 1: unit: column unit has "\"a\"", which is no number`},
		{"units.geojson", `"unit":1`, `"einheit":1`, "units.geojson: feature 1: einheit is no column"},
		{"units.geojson", `[[[[`, `[[[`, "units.geojson: feature 1"},
		{"units.geojson", `,52`, `,152`, "no place in degrees"},
	} {
		name := filepath.Join(dir, c.file)
		whole, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, bytes.Replace(whole, []byte(c.old), []byte(c.new), 1), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := Import(background, dir, filepath.Join(t.TempDir(), "r.gpkg")); err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s, %s: %v", c.file, c.new, err)
		}
		if err := os.WriteFile(name, whole, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	// Written anew by another program, with the same content, it is the same.
	name := filepath.Join(dir, "units.geojson")
	whole, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var pretty bytes.Buffer
	if err := json.Indent(&pretty, whole, "", "  "); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, pretty.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := Import(background, dir, filepath.Join(t.TempDir(), "r.gpkg")); err != nil {
		t.Error(err)
	}
	if err := os.Remove(filepath.Join(dir, "units.geojson")); err != nil {
		t.Fatal(err)
	}
	if err := Import(background, dir, filepath.Join(t.TempDir(), "r.gpkg")); err == nil {
		t.Error("a missing file was not missed")
	}
}

func TestObservations(t *testing.T) {
	r, _ := create(t)
	add(t, r, Season{Name: "2025", Date: "2025-04-01", Lab: "Brook"}, invented(3, 6), false, true)
	add(t, r, Season{Name: "2024", Date: "2024-04-01", Lab: "Hill"}, invented(3, 5), false, true)
	seasons, all, err := r.Observations(background)
	if err != nil || len(seasons) != 2 || seasons[0].Name != "2024" || len(all) != 12 {
		t.Fatalf("%v, %d, %v", seasons, len(all), err)
	}
	o := all[7]
	if o.Season != "2025" || o.Lab != "Brook" || o.Sample != "S00000" || o.UnitNumber != 1 || o.Problem != "=1+1" || o.Depth != "0-8in" || o.Cores != 12 ||
		o.Analyte != "P" || o.Unit != "mg/kg" || o.Method != "Mehlich-3" || o.Value != 0 || o.Censored != "<" || o.Replicates != 2 || o.Spread != 0.1 || len(o.Shape) != 1 {
		t.Errorf("%+v", o)
	}
}

// A record of the first version of the tables is brought up to date when it is
// opened; one of a later version is left alone.
func TestVersions(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.gpkg")
	r, err := open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.change(background, func(tx *sql.Tx) error {
		return execute(background, tx, append(append(append(standardTables(), createTables()...), register()...),
			`INSERT INTO seasons (name, date, hash) VALUES ('2019', '2019-05-01', 'x')`,
			`INSERT INTO composites (id, field, unit, season, geom) VALUES ('A1', 'Home', 1, '2019', x'`+hex.EncodeToString(geometry{point: &geo.LonLat{10, 52}}.appendBlob(nil))+`')`,
			`INSERT INTO results (sample, field, analyte, method, value, season) VALUES ('A1', 'Home', 'pH', 'water', 6.25, '2019')`))
	}); err != nil {
		t.Fatal(err)
	}
	r.Close()
	if r, err = Open(background, path); err != nil {
		t.Fatal(err)
	}
	_, all, err := r.Observations(background)
	if err != nil || len(all) != 1 || all[0].Value != 6.25 || all[0].Replicates != 1 {
		t.Errorf("%+v, %v", all, err)
	}
	var version, indexes int
	if err := r.db.QueryRow("SELECT (SELECT version FROM corewalk_record), (SELECT count(*) FROM sqlite_master WHERE type = 'index' AND name LIKE '%_by_season')").Scan(&version, &indexes); err != nil || version != SchemaVersion || indexes != 8 {
		t.Errorf("version %d, %d indexes, %v", version, indexes, err)
	}
	if _, err := r.db.Exec("UPDATE corewalk_record SET version = 99"); err != nil {
		t.Fatal(err)
	}
	r.Close()
	if _, err := Open(background, path); err == nil || !strings.Contains(err.Error(), "later version of the program") {
		t.Errorf("version 99: %v", err)
	}
}

func TestWhatIsNoRecord(t *testing.T) {
	dir := t.TempDir()
	whole, path := create(t)
	add(t, whole, Season{Name: "2024"}, invented(200, 6), false, true)
	whole.Close()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "other.db")
	db, err := sql.Open("sqlite", other)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE t (a)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	torn := bytes.Clone(data)
	for i := 8192; i < len(torn); i += 4096 {
		copy(torn[i:], bytes.Repeat([]byte{0xa5}, 2000))
	}
	for name, content := range map[string][]byte{"empty": nil, "text": []byte(strings.Repeat("id,pH\n", 100)), "head only": data[:100], "half": data[:len(data)/2], "torn": torn} {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o644); err != nil {
			t.Fatal(err)
		}
		r, err := Open(background, filepath.Join(dir, name))
		if err == nil {
			_, err = r.Digest(background)
			r.Close()
		}
		if err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, p := range []string{other, filepath.Join(dir, "nowhere")} {
		if _, err := Open(background, p); err == nil {
			t.Errorf("%s was opened", p)
		}
	}
	if _, err := Open(background, filepath.Join(dir, "nowhere")); !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
	if err := Create(background, path, nothing); err == nil {
		t.Error("a record was made over another")
	}
}

// A season that somebody edited in a GIS is noticed.
func TestEditsAreNoticed(t *testing.T) {
	r, _ := create(t)
	add(t, r, Season{Name: "2024"}, invented(5, 6), false, true)
	if _, err := r.db.Exec("UPDATE results SET value = 7 WHERE sample = 'S00002'"); err != nil {
		t.Fatal(err)
	}
	if _, err := r.Digest(background); err == nil || !strings.Contains(err.Error(), "edited") {
		t.Error(err)
	}
}

func FuzzFeature(f *testing.F) {
	f.Add([]byte(`{"type":"Feature","properties":{"season":"a\\u00e9","plan":1,"unit":2,"more":"{\"a\":[1]}"},"geometry":{"type":"Point","coordinates":[1,2e0]}}`))
	f.Add([]byte(` { "properties" : { } , "geometry" : null , "x" : [ { "y" : "]}" } , 1 ] } `))
	f.Add([]byte(`{"properties":{"season":"a","plan":1},"geometry":{"type":"MultiPolygon","coordinates":[[[[0,0],[1,0],[1,1],[0,0]]]]}}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		featureRow(b, tableNamed("units"), SchemaVersion)
		for d := newFeatures(bytes.NewReader(append([]byte(`{"type":"FeatureCollection","features":[`), b...))); ; {
			if _, err := d.next(); err != nil {
				break
			}
		}
		var members map[string]json.RawMessage
		if !json.Valid(b) || json.Unmarshal(b, &members) != nil || members == nil {
			return
		}
		n := 0
		if err := (&reader{b}).object(func(name string, value []byte) error {
			n++
			if !json.Valid(value) {
				t.Errorf("%q: %q has the value %q", b, name, value)
			}
			return nil
		}); err != nil || n < len(members) {
			t.Errorf("%q: %d of %d members, %v", b, n, len(members), err)
		}
	})
}

func FuzzGeometry(f *testing.F) {
	for _, row := range invented(2, 6).rows["parts"] {
		if g := row[0].(geometry); !g.empty() {
			f.Add(g.appendBlob(nil))
		}
	}
	f.Add(invented(2, 6).rows["units"][0][0].(geometry).appendBlob(nil))
	f.Add([]byte("GP\x00\x01\xe6\x10\x00\x00\x01\x06\x00\x00\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, b []byte) {
		g, err := parseGeometry(b)
		if err != nil || g.empty() {
			return
		}
		again, err := parseGeometry(g.appendBlob(nil))
		if err != nil || !bytes.Equal(again.appendBlob(nil), g.appendBlob(nil)) {
			t.Errorf("%x is read as %+v and then as %+v, %v", b, g, again, err)
		}
	})
}

// What a program that was killed while it made a record left behind goes when the
// record is made after all, and nothing else does.
func TestLeftoversOfARecord(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{".farm.gpkg-123", ".other.gpkg-5", ".corewalk-9"} {
		if err := os.MkdirAll(filepath.Join(dir, name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name, "record.gpkg"), []byte("half"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := Create(background, filepath.Join(dir, "farm.gpkg"), nothing); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var left []string
	for _, e := range entries {
		left = append(left, e.Name())
	}
	if got := strings.Join(left, " "); got != ".corewalk-9 .other.gpkg-5 farm.gpkg" {
		t.Errorf("there is %s", got)
	}
}
