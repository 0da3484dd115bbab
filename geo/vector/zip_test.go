package vector

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"errors"
	"io"
	"strings"
	"testing"
)

type packed struct {
	name string
	data []byte
}

func pack(t testing.TB, files ...packed) []byte {
	t.Helper()
	var buf bytes.Buffer
	w := zip.NewWriter(&buf)
	for _, f := range files {
		e, err := w.Create(f.name)
		if err == nil {
			_, err = e.Write(f.data)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func readZipped(data []byte) (*Layer, error) {
	return readMemory("a.zip", map[string][]byte{"a.zip": data}, Options{})
}

func TestZip(t *testing.T) {
	utm := loadSet(t, "utm")
	point := []byte(`{"type":"Point","coordinates":[1,2]}`)
	shp := func(dir, stem string) []packed {
		return []packed{{dir + stem + ".shp", utm["utm.shp"]}, {dir + strings.ToUpper(stem) + ".PRJ", utm["utm.prj"]}, {dir + stem + ".dbf", utm["utm.dbf"]}}
	}
	for _, c := range []struct {
		name     string
		files    []packed
		features int
		from     string
		err      string
	}{
		{"geojson", []packed{{"x/a.geojson", point}, {"x/style.json", []byte("7")}}, 1, "GeoJSON (RFC 7946)", ""},
		{"json", []packed{{"a.JSON", point}}, 1, "GeoJSON (RFC 7946)", ""},
		{"shapefile", append(shp("deep/er/", "f"), packed{"f.prj", []byte("not this one")}), 3, "F.PRJ", ""},
		{"shapefile with json", append(shp("", "f"), packed{"f.json", []byte("7")}), 3, "F.PRJ", ""},
		{"hidden", append(shp("", "f"), packed{"__MACOSX/._f.shp", nil}, packed{".hidden.shp", nil}, packed{"dir.shp/", nil}), 3, "F.PRJ", ""},
		{"climbing", shp("../../", "f"), 3, "F.PRJ", ""},
		{"nothing", []packed{{"a.txt", point}}, 0, "", "a.zip: no .shp and no .geojson file in it"},
		{"no file", nil, 0, "", "a.zip: no .shp"},
		{"two", append(shp("", "f"), packed{"b.geojson", point}), 0, "", `a.zip: 2 layers in it ("f.shp", "b.geojson" ...)`},
		{"same name", []packed{{"a.geojson", point}, {"a.geojson", point}}, 0, "", `two files in it are called "a.geojson"`},
		{"no prj", shp("", "f")[:1], 0, "", "a.zip/f.shp: no .prj file"},
		{"zip in zip", []packed{{"a.shp", pack(t, packed{"a.geojson", point})}}, 0, "", "a.zip/a.shp: not a shapefile"},
	} {
		l, err := readZipped(pack(t, c.files...))
		switch {
		case c.err != "":
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: error %v, want %q", c.name, err, c.err)
			}
		case err != nil:
			t.Errorf("%s: %v", c.name, err)
		case len(l.Features) != c.features || l.CRSFrom != c.from:
			t.Errorf("%s: %d features, from %q", c.name, len(l.Features), l.CRSFrom)
		}
	}
}

func TestZipBomb(t *testing.T) {
	raw := func(size uint64) []byte {
		var buf bytes.Buffer
		w := zip.NewWriter(&buf)
		// One megabyte of blanks, whatever size is stated.
		var body bytes.Buffer
		d, err := flate.NewWriter(&body, 9)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := d.Write(bytes.Repeat([]byte{' '}, 1<<20)); err != nil {
			t.Fatal(err)
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		e, err := w.CreateRaw(&zip.FileHeader{Name: "a.geojson", Method: zip.Deflate,
			UncompressedSize64: size, CompressedSize64: uint64(body.Len())})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := e.Write(body.Bytes()); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return buf.Bytes()
	}
	if _, err := readZipped(raw(1 << 40)); err == nil || !strings.Contains(err.Error(), "larger than 256 MB") {
		t.Errorf("error %v", err)
	}
	// A size that is stated too small does not get more through either.
	if _, err := readZipped(raw(100)); err == nil || !strings.Contains(err.Error(), "not a valid zip file") {
		t.Errorf("error %v", err)
	}
}

func TestZipPassword(t *testing.T) {
	data := pack(t, packed{"a.geojson", []byte("{}")})
	at := bytes.Index(data, []byte("PK\x01\x02"))
	data[at+8] |= 1
	if _, err := readZipped(data); err == nil || !strings.Contains(err.Error(), "password") {
		t.Errorf("error %v", err)
	}
	data = pack(t, packed{"a.geojson", []byte(`{"type":"Point","coordinates":[1,2]}`)})
	for i := range data {
		cut := bytes.Clone(data[:i])
		if _, err := readZipped(cut); err == nil {
			t.Errorf("cut to %d bytes was read", i)
		}
	}
}

func TestReadAtMost(t *testing.T) {
	if b, err := readAtMost(strings.NewReader("1234"), 4, 0); err != nil || string(b) != "1234" {
		t.Errorf("%q %v", b, err)
	}
	if _, err := readAtMost(strings.NewReader("12345"), 4, 0); err == nil {
		t.Error("more than the most was read")
	}
	if _, err := readAtMost(strings.NewReader("1"), 4, 5); err == nil {
		t.Error("a size beyond the most was let pass")
	}
	broken := errors.New("broken")
	if _, err := readAtMost(io.MultiReader(strings.NewReader("1"), errReader{broken}), 4, 1); !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
}

type errReader struct{ err error }

func (r errReader) Read([]byte) (int, error) { return 0, r.err }
