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
	"time"

	"corewalk/geo/crs"
)

func at(lon, lat float64) crs.LonLat { return crs.LonLat{lon, lat} }

func point(at crs.LonLat, name, comment, description string) Waypoint {
	return Waypoint{At: at, Name: name, Comment: comment, Description: description}
}

func sample() Document {
	first := point(at(-93.1234567, 41.7654321), "01A", "unit 1 <north> & \"so\" on", "line one\nline two\tend")
	second := point(at(12.5, -0.0000001), "02 Grünfeld", "", "")
	return Document{
		Creator: "a test", Name: "North & south", Description: "two <fields>",
		Waypoints: []Waypoint{first, second, point(at(-180, 90), "03", "≥ 3 m", ""), point(at(0, 0), "04", "", "")},
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
	d := Document{Creator: "a test", Name: "N", Waypoints: []Waypoint{point(at(-93.12345678901, 41.5), "01", "c", "d")}, Routes: []Route{{"r", nil}}}
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
	only := func(attributes string) string { return open + "<wpt " + attributes + "/></gpx>" }
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
		{"no lat", only(`lon="1"`), "lat is missing"},
		{"no lon", only(`lat="1"`), "lon is missing"},
		{"empty lat", only(`lat="" lon="1"`), `"" is not a number`},
		{"word", only(`lat="north" lon="1"`), `"north" is not a number`},
		{"not a number", only(`lat="NaN" lon="1"`), `"NaN" is not a number`},
		{"hexadecimal", only(`lat="0x1p4" lon="1"`), "not a number"},
		{"exponent", only(`lat="1e1" lon="1"`), "not a number"},
		{"decimal comma", only(`lat="41,5" lon="1"`), "not a number"},
		{"two signs", only(`lat="--1" lon="1"`), "not a number"},
		{"two points", only(`lat="1.2.3" lon="1"`), "not a number"},
		{"twice", only(`lat="1" lat="2" lon="1"`), "twice"},
		{"lat too large", only(`lat="4599999.5" lon="1"`), "latitude"},
		{"lon too large", only(`lat="1" lon="180"`), "longitude"},
		{"second waypoint", open + `<wpt lat="1" lon="1"/>` + "\n" + `<wpt lat="1"/></gpx>`, "line 2: waypoint 2: lon is missing"},
		{"route point", open + `<rte><rtept lat="1" lon="1"/><rtept lat="91" lon="1"/></rte></gpx>`, "route 1: waypoint 2: latitude"},
		{"time", open + `<wpt lat="1" lon="1"><time>noon</time></wpt></gpx>`, "waypoint 1"},
		{"encoding", `<?xml version="1.0" encoding="klingon"?>` + open + "</gpx>", "unknown encoding"},
		{"control character", open + "<wpt lat='1' lon='1'><name>\x01</name></wpt></gpx>", "illegal character"},
		{"deep", open + strings.Repeat("<metadata>", 200000), "more than 100 deep"},
		{"deep in a waypoint", open + "<wpt lat='1' lon='1'>" + strings.Repeat("<link>", 200000), "more than 100 deep"},
		{"long text", open + strings.Repeat(" ", 2*maxToken), "above 1 MiB"},
		{"long tag", open + "<wpt" + strings.Repeat(" ", 2*maxToken) + "/>", "above 1 MiB"},
		{"many attributes", open + "<wpt" + strings.Repeat(` a=""`, maxAttributes+1) + "/>", "attributes"},
		{"track without its end", open + `<trk><trkseg><trkpt lat="1" lon="1"><time>`, "unexpected EOF"},
		{"wrong end", open + `<trk></rte></gpx>`, `element "rte" ends`},
		{"end first", "</gpx>", `element "gpx" ends`},
		{"track point", open + `<trk/><trk><trkseg><trkpt lat="1" lon="1"/></trkseg>` + "\n" + `<trkseg><trkpt lat="1" lon="1"/><trkpt lat="1" lon="200"/></trkseg></trk></gpx>`, "line 2: track 2: segment 2: point 2: longitude 200"},
		{"track time", open + `<trk><trkseg><trkpt lat="1" lon="1"><time>2024-13-01T00:00:00Z</time></trkpt></trkseg></trk></gpx>`, `time "2024-13-01T00:00:00Z" cannot be read`},
	} {
		_, err := Read(strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.part) || !strings.HasPrefix(err.Error(), "gpx: ") {
			t.Errorf("%s: got error %v, want one with %q", c.name, err, c.part)
		}
	}
}

// What is read and not written does not change what is written.
func TestTracksAndTimesAreNotWritten(t *testing.T) {
	d := sample()
	plain := encode(t, d)
	d.Waypoints[0].Time = time.Unix(1e9, 0)
	d.Routes[0].Waypoints[0].Time = time.Unix(1e9, 0)
	d.Tracks = []Track{{"T", [][]TrackPoint{{{At: at(1, 2)}}}}}
	if got := encode(t, d); !bytes.Equal(got, plain) {
		t.Errorf("got\n%s\nwant\n%s", got, plain)
	}
}

// As much as the limits allow is read, and no more.
func TestReadLimits(t *testing.T) {
	most := limits{size: 2 << 20, places: 100}
	end := `<trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk></gpx>`
	for _, start := range []string{open, "\ufeff" + open, `<?xml version="1.0" encoding="ISO-8859-1"?>` + open} {
		text := start + strings.Repeat(" ", maxToken/2) + "<!---->" + strings.Repeat(" ", maxToken/2) + "<!---->"
		text += strings.Repeat(" ", most.size-len(text)-len(end)) + end
		if d, err := read(strings.NewReader(text), most); err != nil || len(d.Tracks) != 1 {
			t.Errorf("%d tracks, error %v", len(d.Tracks), err)
		}
		if _, err := read(strings.NewReader(text+"\n"), most); err == nil || !strings.Contains(err.Error(), "above 2 MiB") {
			t.Errorf("one byte more: %v", err)
		}
	}
	for _, c := range []struct {
		place string
		each  int
	}{
		{`<wpt lat="1" lon="2"/>`, 1}, {"<rte/>", 1}, {`<rte><rtept lat="1" lon="2"/></rte>`, 2}, {"<trk/>", 1},
		{`<trk><trkseg/><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1" lon="2"/></trkseg><trkseg/></trk>`, 4},
	} {
		text := open + strings.Repeat(c.place, most.places/c.each)
		if _, err := read(strings.NewReader(text+"</gpx>"), most); err != nil {
			t.Errorf("%s: %v", c.place, err)
		}
		if _, err := read(strings.NewReader(text+c.place+"</gpx>"), most); err == nil || !strings.Contains(err.Error(), "more than 100 waypoints") {
			t.Errorf("one %s more: %v", c.place, err)
		}
	}
}

func BenchmarkReadTrack(b *testing.B) {
	point := `<trkpt lat="-41.1234567" lon="-93.1234567"><ele>250.1</ele><time>2024-05-01T10:00:00Z</time></trkpt>` + "\n"
	text := open + "<trk><trkseg>" + strings.Repeat(point, 100_000) + "</trkseg></trk></gpx>"
	b.Run("n=100000", func(b *testing.B) {
		for b.Loop() {
			if _, err := Read(strings.NewReader(text)); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// What other programs write: see testdata/README.md.
func TestReadFilesOfOthers(t *testing.T) {
	ten := time.Date(2024, 5, 1, 10, 0, 0, 0, time.UTC)
	want := Document{
		Creator: "by hand", Name: "Survey", Description: "of a field",
		Waypoints: []Waypoint{
			{at(-93.5, 41.25), "Weg é", "first", "the gate", ten},
			point(at(179.9, -41), "", "", ""),
			point(at(0.5, 1), "Weg é", "", ""),
		},
		Routes: []Route{{"", []Waypoint{point(at(1, 2), "R1", "", "")}}},
		Tracks: []Track{
			{"T", [][]TrackPoint{
				{{At: at(1, 1)}},
				{{at(-0.25, 1.5), ten.Add(time.Second / 2)}, {at(2, -1), ten.Add(time.Second)}},
			}},
			{},
		},
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
	for _, track := range []string{
		`<trkseg><trkpt lat="90" lon="-180"><time/></trkpt></trkseg>`,
		`<trkseg><trkpt lat="1" lon="2"><time>2024-05-01T10<x>00</x>:00:00Z</time></trkpt></trkseg><trkseg/>`,
		`<name>a</name><trkseg><trkpt lat="1" lon="180"/></trkseg>`,
		`<trkseg><trkpt lat="1" lon="2"><time>0000-01-01T00:00:00-23:59</time>`,
	} {
		f.Add([]byte("<gpx><trk>" + track + "</trk></gpx>"))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		d, err := Read(bytes.NewReader(b))
		if err != nil {
			return
		}
		for _, track := range d.Tracks {
			for _, segment := range track.Segments {
				if len(segment) == 0 {
					t.Fatal("a segment without points")
				}
				for _, p := range segment {
					if checkPosition(p.At) != nil || p.Time.Location() != time.UTC {
						t.Fatalf("track point %v", p)
					}
				}
			}
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
