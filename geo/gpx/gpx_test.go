package gpx

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"corewalk/geo/crs"
)

func at(lon, lat float64) crs.LonLat { return crs.LonLat{lon, lat} }

func sample() Document {
	first := Waypoint{at(-93.1234567, 41.7654321), "01A", "unit 1 <north> & \"so\" on", "line one\nline two\tend"}
	second := Waypoint{at(12.5, -0.0000001), "02 Grünfeld", "", ""}
	return Document{
		Creator: "a test", Name: "North & south", Description: "two <fields>",
		Waypoints: []Waypoint{first, second, {at(-180, 90), "03", "≥ 3 m", ""}, {at(0, 0), "04", "", ""}},
		Routes:    []Route{{"walk", []Waypoint{second, first, second}}, {"nowhere", nil}},
	}
}

func encode(t testing.TB, d Document) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestRoundTrip(t *testing.T) {
	for _, d := range []Document{sample(), {Creator: "x"}} {
		got, err := Read(bytes.NewReader(encode(t, d)))
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, d) {
			t.Errorf("got %+v\nwant %+v", got, d)
		}
	}
}

func TestBytes(t *testing.T) {
	d := Document{Creator: "a test", Name: "N", Waypoints: []Waypoint{{at(-93.12345678901, 41.5), "01", "c", "d"}}, Routes: []Route{{"r", nil}}}
	want := `<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="a test" xmlns="http://www.topografix.com/GPX/1/1" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="http://www.topografix.com/GPX/1/1 http://www.topografix.com/GPX/1/1/gpx.xsd">
 <metadata>
  <name>N</name>
 </metadata>
 <wpt lat="41.5" lon="-93.1234568">
  <name>01</name>
  <cmt>c</cmt>
  <desc>d</desc>
 </wpt>
 <rte>
  <name>r</name>
 </rte>
</gpx>
`
	for range 3 {
		if got := string(encode(t, d)); got != want {
			t.Fatalf("got\n%s\nwant\n%s", got, want)
		}
	}
}

func TestRound(t *testing.T) {
	for _, c := range []struct{ in, want crs.LonLat }{
		{at(179.99999999, 89.99999999), at(-180, 90)},
		{at(-179.99999999, -89.99999999), at(-180, -90)},
		{at(1.00000004, 1.00000006), at(1, 1.0000001)},
		{at(-1e-9, math.Copysign(0, -1)), at(0, 0)},
	} {
		got := round(c.in)
		if got != c.want || math.Signbit(got[0]) && got[0] == 0 || math.Signbit(got[1]) && got[1] == 0 {
			t.Errorf("%v: got %v, want %v", c.in, got, c.want)
		}
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		p := at(-180+360*rng.Float64(), -90+180*rng.Float64())
		d := Document{Creator: "x", Waypoints: []Waypoint{{At: p, Name: "a"}}}
		text := encode(t, d)
		back, err := Read(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		q := back.Waypoints[0].At
		if math.Abs(q.Lon()-p.Lon()) > 0.500001e-7 || math.Abs(q.Lat()-p.Lat()) > 0.500001e-7 {
			t.Fatalf("%v came back as %v", p, q)
		}
		if !bytes.Equal(encode(t, back), text) {
			t.Fatalf("%v: the second file differs from the first", p)
		}
	}
}

func TestWriteRefuses(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		part  string
		spoil func(d *Document)
	}{
		{"creator is empty", func(d *Document) { d.Creator = " " }},
		{"creator: text", func(d *Document) { d.Creator = "\x00" }},
		{"name of the file: text", func(d *Document) { d.Name = "\xff" }},
		{"description of the file: text", func(d *Document) { d.Description = "\r" }},
		{`waypoint 2 (""): name is empty`, func(d *Document) { d.Waypoints[1].Name = "" }},
		{`waypoint 2 (" \t"): name is empty`, func(d *Document) { d.Waypoints[1].Name = " \t" }},
		{`waypoint 2 ("b "): name has space`, func(d *Document) { d.Waypoints[1].Name = "b " }},
		{`waypoint 1 ("a\nb"): name has a line end`, func(d *Document) { d.Waypoints[0].Name = "a\nb" }},
		{`waypoint 1 ("a\x1b"): text`, func(d *Document) { d.Waypoints[0].Name = "a\x1b" }},
		{`waypoint 1 ("a\u0085b"): text`, func(d *Document) { d.Waypoints[0].Name = "a\u0085b" }},
		{`another waypoint has the same name`, func(d *Document) { d.Waypoints[2].Name = "01A" }},
		{`waypoint 1 ("01A"): comment`, func(d *Document) { d.Waypoints[0].Comment = "\x07" }},
		{`waypoint 1 ("01A"): description`, func(d *Document) { d.Waypoints[0].Description = "\uffff" }},
		{`waypoint 1 ("01A"): longitude 180`, func(d *Document) { d.Waypoints[0].At = at(180, 0) }},
		{`longitude -180.1`, func(d *Document) { d.Waypoints[0].At = at(-180.1, 0) }},
		{`longitude NaN`, func(d *Document) { d.Waypoints[0].At = at(nan, 0) }},
		{`latitude 90.1`, func(d *Document) { d.Waypoints[0].At = at(0, 90.1) }},
		{`latitude -Inf`, func(d *Document) { d.Waypoints[0].At = at(0, math.Inf(-1)) }},
		{`latitude NaN`, func(d *Document) { d.Waypoints[0].At = at(0, nan) }},
		{`route 1 (""): name is empty`, func(d *Document) { d.Routes[0].Name = "" }},
		{`route 1 ("walk"), waypoint 3 ("02 Grünfeld"): the same name stands for another place`, func(d *Document) { d.Routes[0].Waypoints[2].At = at(1, 1) }},
		{`route 1 ("walk"), waypoint 3 (""): name is empty`, func(d *Document) { d.Routes[0].Waypoints[2].Name = "" }},
	} {
		d := sample()
		c.spoil(&d)
		var b bytes.Buffer
		err := Write(&b, d)
		if err == nil || !strings.Contains(err.Error(), c.part) || b.Len() != 0 {
			t.Errorf("got error %v and %d bytes, want %q", err, b.Len(), c.part)
		}
	}
}

var errFull = errors.New("disk full")

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }
func (fullDisk) Read([]byte) (int, error)  { return 0, errFull }

func TestDiskErrors(t *testing.T) {
	if err := Write(fullDisk{}, sample()); !errors.Is(err, errFull) {
		t.Errorf("writing: %v", err)
	}
	if _, err := Read(fullDisk{}); !errors.Is(err, errFull) {
		t.Errorf("reading: %v", err)
	}
}

const open = `<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">`

func TestReadRefuses(t *testing.T) {
	point := func(attributes string) string { return open + "<wpt " + attributes + "/></gpx>" }
	for _, c := range []struct{ name, text, part string }{
		{"empty", "", "no gpx element"},
		{"only a comment", "<!-- x -->", "no gpx element"},
		{"json", `{"type":"Point"}`, "not GPX"},
		{"text first", "hello " + open + "</gpx>", "not GPX"},
		{"other element", "<kml/>", `outer element is "kml"`},
		{"other schema", `<gpx xmlns="http://www.topografix.com/GPX/2/0"/>`, "version 1.0 or 1.1"},
		{"cut short", open + `<wpt lat="1" lon="2">`, "unexpected EOF"},
		{"cut in a name", open + `<wpt lat="1" lon="2"><name>A`, "unexpected EOF"},
		{"second root", open + "</gpx><gpx/>", "more data"},
		{"text after", open + "</gpx> more", "more data"},
		{"no lat", point(`lon="1"`), "lat is missing"},
		{"no lon", point(`lat="1"`), "lon is missing"},
		{"empty lat", point(`lat="" lon="1"`), `"" is not a number`},
		{"word", point(`lat="north" lon="1"`), `"north" is not a number`},
		{"not a number", point(`lat="NaN" lon="1"`), `"NaN" is not a number`},
		{"hexadecimal", point(`lat="0x1p4" lon="1"`), "not a number"},
		{"exponent", point(`lat="1e1" lon="1"`), "not a number"},
		{"decimal comma", point(`lat="41,5" lon="1"`), "not a number"},
		{"two signs", point(`lat="--1" lon="1"`), "not a number"},
		{"two points", point(`lat="1.2.3" lon="1"`), "not a number"},
		{"twice", point(`lat="1" lat="2" lon="1"`), "twice"},
		{"lat too large", point(`lat="4599999.5" lon="1"`), "latitude"},
		{"lon too large", point(`lat="1" lon="180"`), "longitude"},
		{"second waypoint", open + `<wpt lat="1" lon="1"/>` + "\n" + `<wpt lat="1"/></gpx>`, "line 2: waypoint 2: lon is missing"},
		{"route point", open + `<rte><rtept lat="1" lon="1"/><rtept lat="91" lon="1"/></rte></gpx>`, "route 1: waypoint 2: latitude"},
		{"time", open + `<wpt lat="1" lon="1"><time>noon</time></wpt></gpx>`, "waypoint 1"},
		{"encoding", `<?xml version="1.0" encoding="klingon"?>` + open + "</gpx>", "unknown encoding"},
		{"control character", open + "<wpt lat='1' lon='1'><name>\x01</name></wpt></gpx>", "illegal character"},
		{"deep", open + strings.Repeat("<metadata>", 200000), "unexpected EOF"},
		{"deep in a waypoint", open + "<wpt lat='1' lon='1'>" + strings.Repeat("<link>", 200000), "unexpected EOF"},
		{"large", open + strings.Repeat(" ", maxSize), "above 16 MiB"},
	} {
		_, err := Read(strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.part) || !strings.HasPrefix(err.Error(), "gpx: ") {
			t.Errorf("%s: got error %v, want one with %q", c.name, err, c.part)
		}
	}
}

// What other programs write: see testdata/README.md.
func TestReadFilesOfOthers(t *testing.T) {
	want := Document{
		Creator: "by hand", Name: "Survey", Description: "of a field",
		Waypoints: []Waypoint{
			{at(-93.5, 41.25), "Weg é", "first", "the gate"},
			{at(179.9, -41), "", "", ""},
			{at(0.5, 1), "Weg é", "", ""},
		},
		Routes: []Route{{"", []Waypoint{{at(1, 2), "R1", "", ""}}}},
	}
	files, err := filepath.Glob("testdata/*.gpx")
	if err != nil || len(files) != 3 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Read(bytes.NewReader(b))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: got %+v\nwant %+v", name, got, want)
		}
	}
}

// Whatever the bytes: no panic, and what is read and can be written comes back
// the same, to the rounding.
func FuzzRead(f *testing.F) {
	f.Add(encode(f, sample()))
	files, err := filepath.Glob("testdata/*.gpx")
	if err != nil || len(files) == 0 {
		f.Fatalf("no files: %v", err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		d, err := Read(bytes.NewReader(b))
		if err != nil {
			return
		}
		var once bytes.Buffer
		if Write(&once, d) != nil {
			return // names that are empty or not of their own may be read
		}
		back, err := Read(bytes.NewReader(once.Bytes()))
		if err != nil {
			t.Fatalf("%v in\n%s", err, once.Bytes())
		}
		if !bytes.Equal(encode(t, back), once.Bytes()) {
			t.Fatalf("came back changed from\n%s", once.Bytes())
		}
	})
}
