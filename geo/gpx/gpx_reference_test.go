//go:build reference

package gpx

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"testing"
	"time"
)

func run(t *testing.T, name string, args ...string) []byte {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v: %s", name, args, err, out)
	}
	return out
}

func written(t *testing.T, d Document) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "points.gpx")
	if err := os.WriteFile(name, encode(t, d), 0o644); err != nil {
		t.Fatal(err)
	}
	return name
}

// The schema of GPX 1.1 lies in the folder COREWALK_SCHEMAS, by default the one
// named shared/schemas beside the checkout.
func TestReferenceSchema(t *testing.T) {
	folder := os.Getenv("COREWALK_SCHEMAS")
	if folder == "" {
		folder = "../../../shared/schemas"
	}
	schema := filepath.Join(folder, "gpx-1.1.xsd")
	if _, err := os.Stat(schema); err != nil {
		t.Fatalf("set COREWALK_SCHEMAS to the folder with gpx-1.1.xsd: %v", err)
	}
	noMetadata := sample()
	noMetadata.Name, noMetadata.Description = "", ""
	for _, d := range []Document{sample(), noMetadata, {Creator: "x"}, {Creator: "x", Description: "only"}} {
		run(t, "xmllint", "--noout", "--nonet", "--schema", schema, written(t, d))
	}
	// The check can fail.
	bad := filepath.Join(t.TempDir(), "bad.gpx")
	text := bytes.Replace(encode(t, sample()), []byte(`lat="90"`), []byte(`lat="91"`), 1)
	if err := os.WriteFile(bad, text, 0o644); err != nil {
		t.Fatal(err)
	}
	if exec.Command("xmllint", "--noout", "--nonet", "--schema", schema, bad).Run() == nil {
		t.Error("latitude 91 passes the schema")
	}
}

// gpsbabel keeps what a receiver needs, by way of GPX and of KML.
func TestReferenceGpsbabel(t *testing.T) {
	d := sample()
	d.Waypoints[3].At = at(-0.0000003, 0.0000007)
	name := written(t, d)
	folder := t.TempDir()
	direct, kml, back := filepath.Join(folder, "a.gpx"), filepath.Join(folder, "b.kml"), filepath.Join(folder, "c.gpx")
	run(t, "gpsbabel", "-w", "-r", "-i", "gpx", "-f", name, "-o", "gpx", "-F", direct)
	compare(t, d.Waypoints, waypointsOf(t, direct), true)

	text, err := os.ReadFile(direct)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Read(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Routes) == 0 || got.Routes[0].Name != "walk" {
		t.Fatalf("routes %+v", got.Routes)
	}
	compare(t, d.Routes[0].Waypoints, got.Routes[0].Waypoints, true)

	// KML has one text for a place, into which the comment goes; the points of
	// routes would come back as further places.
	d.Routes = nil
	run(t, "gpsbabel", "-w", "-i", "gpx", "-f", written(t, d), "-o", "kml,prec=9", "-F", kml)
	run(t, "gpsbabel", "-w", "-i", "kml", "-f", kml, "-o", "gpx", "-F", back)
	compare(t, d.Waypoints, waypointsOf(t, back), false)
}

// A track comes back as gpsbabel writes it, from a table of places of its own.
func TestReferenceGpsbabelTrack(t *testing.T) {
	const table = `lat,lon,name,utc_d,utc_t
41.7654321,-93.1234567,a,2024/05/01,09:30:00
41.7655,-93.1235,b,2024/05/01,09:30:01.5
-0.0000002,179.9999999,c,2024/05/01,23:59:59
`
	day := time.Date(2024, 5, 1, 0, 0, 0, 0, time.UTC)
	want := []TrackPoint{
		{at(-93.1234567, 41.7654321), day.Add(9*time.Hour + 30*time.Minute)},
		{at(-93.1235, 41.7655), day.Add(9*time.Hour + 30*time.Minute + 1500*time.Millisecond)},
		{at(179.9999999, -0.0000002), day.Add(24*time.Hour - time.Second)},
	}
	folder := t.TempDir()
	in := filepath.Join(folder, "track.csv")
	if err := os.WriteFile(in, []byte(table), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, version := range []string{"1.0", "1.1"} {
		out := filepath.Join(folder, version+".gpx")
		run(t, "gpsbabel", "-t", "-i", "unicsv", "-f", in, "-x", "transform,trk=wpt", "-x", "track,pack,title=walk", "-o", "gpx,gpxver="+version, "-F", out)
		text, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Contains(text, []byte(`version="`+version+`"`)) {
			t.Fatalf("not version %s: %s", version, text)
		}
		d, err := Read(bytes.NewReader(text))
		if err != nil || len(d.Tracks) != 1 || len(d.Tracks[0].Segments) != 1 {
			t.Fatalf("version %s: %+v, %v in %s", version, d, err, text)
		}
		if d.Tracks[0].Name != "walk" || !reflect.DeepEqual(d.Tracks[0].Segments[0], want) {
			t.Errorf("version %s: got %+v\nwant %+v", version, d.Tracks[0], want)
		}
	}
}

func waypointsOf(t *testing.T, name string) []Waypoint {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	d, err := Read(bytes.NewReader(text))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return d.Waypoints
}

func compare(t *testing.T, want, got []Waypoint, descriptions bool) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d waypoints, want %d: %+v", len(got), len(want), got)
	}
	for i, w := range want {
		g := got[i]
		if g.Name != w.Name || math.Abs(g.At.Lon()-w.At.Lon()) > 1e-7 || math.Abs(g.At.Lat()-w.At.Lat()) > 1e-7 {
			t.Errorf("waypoint %d: got %+v, want %+v", i+1, g, w)
		}
		// Where there is none, gpsbabel puts the name in.
		if w.Comment != "" && g.Comment != w.Comment {
			t.Errorf("waypoint %d: comment %q, want %q", i+1, g.Comment, w.Comment)
		}
		if descriptions && w.Description != "" && g.Description != w.Description {
			t.Errorf("waypoint %d: description %q, want %q", i+1, g.Description, w.Description)
		}
	}
}
