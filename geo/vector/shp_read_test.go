package vector

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

// loadSet reads the files of one shapefile into memory.
func loadSet(t testing.TB, stem string) map[string][]byte {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(folder, stem+".*"))
	if err != nil || len(found) < 4 {
		t.Fatalf("%s: %d files, %v", stem, len(found), err)
	}
	files := map[string][]byte{}
	for _, path := range found {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		files[filepath.Base(path)] = b
	}
	return files
}

// changed returns the set with one file replaced, or removed where b is nil.
func changed(files map[string][]byte, name string, b []byte) map[string][]byte {
	out := maps.Clone(files)
	delete(out, name)
	if b != nil {
		out[name] = b
	}
	return out
}

// poke returns b with 4 bytes replaced.
func poke(b []byte, at int, order binary.ByteOrder, v int32) []byte {
	b = bytes.Clone(b)
	order.PutUint32(b[at:], uint32(v))
	return b
}

func TestShapefilePointsAndLines(t *testing.T) {
	l := mustRead(t, "points.shp")
	if len(l.Features) != 3 || len(l.Features[1].Points) != 1 || len(l.Features[1].Shape) != 0 || l.CRSFrom != "points.prj" {
		t.Errorf("%+v", l)
	}
	p := l.Features[0]
	x, y, err := l.CRS.Forward(p.Points[0])
	if err != nil || math.Hypot(x-p.Native[0][0], y-p.Native[0][1]) > 1e-6 {
		t.Errorf("native %v, forward %g %g %v", p.Native, x, y, err)
	}
	if id, _ := l.Text(&p, "ID"); id != "0012" {
		t.Errorf("id %q", id)
	}
	l = mustRead(t, "lines.shp")
	if len(l.Features) != 3 || len(l.Features[0].Lines) != 1 || len(l.Features[0].Lines[0]) != 5 {
		t.Errorf("%+v", l.Features)
	}
}

func TestShapefileRefused(t *testing.T) {
	set := loadSet(t, "utm")
	main := set["utm.shp"]
	be, le := binary.BigEndian, binary.LittleEndian
	const first = 108 // content of record 1: type, box, parts at 36, points at 40, part starts at 44
	for _, c := range []struct {
		name string
		set  map[string][]byte
		want string
	}{
		{"magic", changed(set, "utm.shp", poke(main, 0, be, 9995)), "utm.shp: not a shapefile"},
		{"header cut", changed(set, "utm.shp", main[:60]), "the header is cut short"},
		{"version", changed(set, "utm.shp", poke(main, 28, le, 999)), "version 999"},
		{"multipatch", changed(set, "utm.shp", poke(main, 32, le, 31)), "records of type 31 are not read"},
		{"no such type", changed(set, "utm.shp", poke(main, 32, le, -1)), "records of type -1"},
		{"negative length", changed(set, "utm.shp", poke(main, 24, be, -4)), "the header says"},
		{"record cut", changed(set, "utm.shp", main[:len(main)-5]), "record 3 is cut short"},
		{"record head cut", changed(set, "utm.shp", main[:first-4]), "record 1 is cut short"},
		{"cut between records", changed(set, "utm.shp", main[:first+int(2*be.Uint32(main[104:]))]), "cut short after record 1"},
		{"record of negative length", changed(set, "utm.shp", poke(main, 104, be, -4)), "record 1 states a length of -8 bytes"},
		{"record of no length", changed(set, "utm.shp", poke(main, 104, be, 0)), "record 1 states a length of 0 bytes"},
		{"record of huge length", changed(set, "utm.shp", poke(main, 104, be, math.MaxInt32)), "record 1 is cut short"},
		{"another type", changed(set, "utm.shp", poke(main, first, le, 3)), "record 1 is of type 3 in a file of type 5"},
		{"huge points", changed(set, "utm.shp", poke(main, first+40, le, math.MaxInt32)), "record 1 is too short for what it says it holds"},
		{"negative points", changed(set, "utm.shp", poke(main, first+40, le, -1)), "record 1 states 2 parts of -1 points"},
		{"huge parts", changed(set, "utm.shp", poke(main, first+36, le, math.MaxInt32)), "record 1 states"},
		{"no parts", changed(set, "utm.shp", poke(main, first+36, le, 0)), "record 1 states 10 points in no part"},
		{"first part", changed(set, "utm.shp", poke(main, first+44, le, 1)), "record 1 has part 1 begin at point 2 of 10"},
		{"part beyond", changed(set, "utm.shp", poke(main, first+48, le, 99999)), "record 1 has part 2 begin at point 100000 of 10"},
		{"index cut", changed(set, "utm.shx", set["utm.shx"][:116]), "utm.shx: lists 2 records, the .shp file holds 3"},
		{"index elsewhere", changed(set, "utm.shx", poke(set["utm.shx"], 100, be, 52)), "utm.shx: record 1 lies elsewhere"},
		{"index empty", changed(set, "utm.shx", []byte{}), "utm.shx: not the index of a shapefile"},
		{"table of another", changed(set, "utm.dbf", poke(set["utm.dbf"], 4, le, 2)), "utm.dbf: 2 rows for 3 records"},
		{"table cut", changed(set, "utm.dbf", set["utm.dbf"][:len(set["utm.dbf"])-20]), "utm.dbf: row 3 of 3 is cut short"},
		{"table empty", changed(set, "utm.dbf", []byte{}), "utm.dbf: the header is cut short"},
		{"no prj", changed(set, "utm.prj", nil), "utm.shp: no .prj file beside it; give --crs, as in --crs EPSG:26915"},
		{"prj of blanks", changed(set, "utm.prj", []byte(" \n")), "no .prj file"},
		{"prj not understood", changed(set, "utm.prj", []byte("LOCAL_CS[\"x\"]")), "utm.shp: utm.prj: "},
		{"wrong prj", changed(set, "utm.prj", loadSet(t, "latin1")["latin1.prj"]), "but the layer is in degrees (utm.prj: "},
		{"coordinate", changed(set, "utm.shp", poke(main, first+52+4, le, 0x7ff80000)), "record 1: ring 1: coordinate (NaN"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := readMemory("utm.shp", c.set, Options{})
			if err == nil {
				t.Fatal("no error")
			}
			if !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("error %q, want %q in it", err, c.want)
			}
		})
	}
	geographic := changed(loadSet(t, "latin1"), "latin1.prj", nil)
	if _, err := readMemory("latin1.shp", geographic, Options{}); err == nil || !strings.Contains(err.Error(), "would fit longitude and latitude") {
		t.Errorf("error %v", err)
	}
	if _, err := readMemory("latin1.shp", geographic, Options{CRS: "EPSG:4326"}); err != nil {
		t.Error(err)
	}
}

// Every cut of a shapefile is refused, whatever lies beside it.
func TestShapefileEveryCut(t *testing.T) {
	for _, stem := range []string{"utm", "z25d", "points", "lines"} {
		set := loadSet(t, stem)
		for _, beside := range []bool{true, false} {
			if !beside {
				delete(set, stem+".shx")
				delete(set, stem+".dbf")
			}
			for n := range len(set[stem+".shp"]) {
				cut := changed(set, stem+".shp", set[stem+".shp"][:n:n])
				if _, err := readMemory(stem+".shp", cut, Options{}); err == nil {
					t.Fatalf("%s cut to %d bytes was read", stem, n)
				}
			}
		}
	}
}

func TestShapefileTolerated(t *testing.T) {
	set := loadSet(t, "utm")
	t.Run("only shp and prj", func(t *testing.T) {
		l, err := readMemory("utm.shp", map[string][]byte{"utm.shp": set["utm.shp"], "utm.prj": set["utm.prj"]}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Features) != 3 || len(l.Columns) != 0 || len(l.Notices) != 1 || !strings.Contains(l.Notices[0], "no .dbf file") {
			t.Errorf("%d features, %v, %v", len(l.Features), l.Columns, l.Notices)
		}
	})
	t.Run("bytes after the end", func(t *testing.T) {
		l, err := readMemory("utm.shp", changed(set, "utm.shp", append(bytes.Clone(set["utm.shp"]), 1, 2, 3)), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Features) != 3 || fmt.Sprint(l.Notices) != "[utm.shp: 3 bytes after the end that its header states; not read]" {
			t.Errorf("%v", l.Notices)
		}
	})
	t.Run("null record", func(t *testing.T) {
		l, err := readMemory("utm.shp", changed(set, "utm.shp", poke(set["utm.shp"], 108, binary.LittleEndian, 0)), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Features) != 3 || l.Features[0].Shape != nil || fmt.Sprint(l.Notices) != "[utm.shp: record 1: no geometry]" {
			t.Errorf("%v", l.Notices)
		}
	})
	t.Run("deleted row", func(t *testing.T) {
		table := bytes.Clone(set["utm.dbf"])
		head, width := int(binary.LittleEndian.Uint16(table[8:])), int(binary.LittleEndian.Uint16(table[10:]))
		table[head+width] = '*'
		l, err := readMemory("utm.shp", changed(set, "utm.dbf", table), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Features) != 2 || l.Features[1].Index != 3 || len(l.Notices) != 1 {
			t.Fatalf("%d features, %v", len(l.Features), l.Notices)
		}
		if id, _ := l.Text(&l.Features[1], "id"); id != "0014" {
			t.Errorf("id %q", id)
		}
	})
}

// kinds of record with height and measure, and with height alone.
func TestShapefilePlainRecords(t *testing.T) {
	at := []orb.Point{{0, 0}, {0, 1}, {1, 1}, {0, 0}}
	for _, c := range []struct {
		kind int32
		tail int // bytes after the plain record
	}{{5, 0}, {15, 48}, {15, 96}, {25, 0}, {25, 48}, {3, 0}, {13, 48}, {13, 96}, {23, 48},
		{8, 0}, {18, 48}, {18, 96}, {28, 48}, {1, 0}, {11, 8}, {11, 16}, {21, 8}, {21, 0}} {
		body := binary.LittleEndian.AppendUint32(nil, uint32(c.kind))
		pts := at
		if plain := c.kind % 10; plain == 1 {
			pts = at[1:2]
		} else {
			body = append(body, make([]byte, 32)...)
			if plain != 8 {
				body = binary.LittleEndian.AppendUint32(body, 1)
			}
			body = binary.LittleEndian.AppendUint32(body, uint32(len(at)))
			if plain != 8 {
				body = binary.LittleEndian.AppendUint32(body, 0)
			}
		}
		for _, p := range pts {
			body = binary.LittleEndian.AppendUint64(body, math.Float64bits(p[0]))
			body = binary.LittleEndian.AppendUint64(body, math.Float64bits(p[1]))
		}
		body = append(body, bytes.Repeat([]byte{0xff}, c.tail)...)
		file := make([]byte, 100)
		binary.BigEndian.PutUint32(file, 9994)
		binary.LittleEndian.PutUint32(file[28:], 1000)
		binary.LittleEndian.PutUint32(file[32:], uint32(c.kind))
		for range 2 {
			file = binary.BigEndian.AppendUint32(file, 1)
			file = binary.BigEndian.AppendUint32(file, uint32(len(body)/2))
			file = append(file, body...)
		}
		binary.BigEndian.PutUint32(file[24:], uint32(len(file)/2))
		l, err := readMemory("a.shp", map[string][]byte{"a.shp": file}, Options{CRS: "EPSG:4326"})
		if err != nil {
			t.Errorf("type %d, tail %d: %v", c.kind, c.tail, err)
			continue
		}
		for _, f := range l.Features {
			var got any
			switch c.kind % 10 {
			case 5:
				got = f.Shape[0][0]
			case 3:
				got = f.Lines[0]
			default:
				got = f.Points
			}
			if fmt.Sprint(got) != fmt.Sprint(pts) {
				t.Errorf("type %d, tail %d: %v, want %v", c.kind, c.tail, got, pts)
			}
		}
		if c.kind/10 == 1 { // a record that lacks its heights is cut
			short := bytes.Clone(file[:100+8+len(body)-c.tail])
			binary.BigEndian.PutUint32(short[104:], uint32((len(body)-c.tail)/2))
			binary.BigEndian.PutUint32(short[24:], uint32(len(short)/2))
			if _, err := readMemory("a.shp", map[string][]byte{"a.shp": short}, Options{CRS: "EPSG:4326"}); err == nil {
				t.Errorf("type %d without heights was read", c.kind)
			}
		}
	}
}

func TestReadFiles(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct{ name, content, want string }{
		{"a.dbf", "x", "a.dbf: this is a part of a shapefile; give the .shp file"},
		{"b.shp", "x", "b.shp: not a shapefile"},
		{"c.txt", "x", "c.txt: neither GeoJSON nor a shapefile nor a zip of one"},
		{"d.shx", "\x00\x00\x27\x0a", "d.shx: this is the index of a shapefile"},
		{"e.geojson", "7", "e.geojson: not GeoJSON: the text is not an object"},
		{"f.zip", "PK\x03\x04", "f.zip: zip: not a valid zip file"},
	} {
		path := filepath.Join(dir, c.name)
		if err := os.WriteFile(path, []byte(c.content), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := Read(path, Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := Read(dir, Options{}); err == nil || !strings.Contains(err.Error(), "is a folder") {
		t.Errorf("folder: %v", err)
	}
	if _, err := Read(filepath.Join(dir, "none.shp"), Options{}); !os.IsNotExist(err) {
		t.Errorf("missing file: %v", err)
	}
	// The content decides, not the name.
	path := filepath.Join(dir, "g.shp")
	if err := os.WriteFile(path, []byte(`{"type":"Point","coordinates":[1,2]}`), 0o666); err != nil {
		t.Fatal(err)
	}
	if l, err := Read(path, Options{}); err != nil || l.Path != path || len(l.Features) != 1 {
		t.Errorf("%+v %v", l, err)
	}
}

func TestPickSidecar(t *testing.T) {
	for _, c := range []struct {
		names           []string
		base, ext, want string
	}{
		{[]string{"a.shp", "a.dbf"}, "a.shp", ".dbf", "a.dbf"},
		{[]string{"a.DBF", "a.dbf"}, "a.shp", ".dbf", "a.dbf"},
		{[]string{"a.dbf", "a.DBF"}, "a.SHP", ".dbf", "a.DBF"},
		{[]string{"A.dbf", "a.DBF"}, "a.shp", ".dbf", "a.DBF"},
		{[]string{"A.Dbf"}, "a.shp", ".dbf", "A.Dbf"},
		{[]string{"a.shp.dbf", "ab.dbf", "dbf", ".dbf"}, "a.shp", ".dbf", ""},
		{[]string{"a.b.prj", "a.prj"}, "a.b.shp", ".prj", "a.b.prj"},
	} {
		if got := pickSidecar(c.names, c.base, c.ext); got != c.want {
			t.Errorf("%v, %s%s: %q, want %q", c.names, c.base, c.ext, got, c.want)
		}
	}
}

// TestContradiction reads a shapefile whose numbers are degrees under a .prj in
// metres.
func TestContradiction(t *testing.T) {
	dir := t.TempDir()
	square := orb.Polygon{{{10, 48}, {10.01, 48}, {10.01, 48.01}, {10, 48.01}, {10, 48}}}
	geographic, err := crs.FromEPSG(4326)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "f.shp")
	if err := WriteShapefile(path, geographic, nil, []OutFeature{{Shape: crs.LonLatShape{square}}}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "f.prj"), []byte(crs.UTM(32, false).WKT()), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err = Read(path, Options{})
	if err == nil || !strings.Contains(err.Error(), "f.prj") || !strings.Contains(err.Error(), "--crs EPSG:4326") {
		t.Errorf("%v", err)
	}
	if _, err := Read(path, Options{CRS: "EPSG:4326"}); err != nil {
		t.Errorf("with the system given: %v", err)
	}
}
