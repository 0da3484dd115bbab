package kit

import (
	"bytes"
	"errors"
	"regexp"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// planFile is the content of a plan's file.
func planFile(t testing.TB, p *sampling.Plan) []byte {
	t.Helper()
	features, err := p.Features()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := vector.WriteGeoJSON(&b, vector.Collection{Features: features}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func packet(t testing.TB, p *sampling.Plan) *Packet {
	t.Helper()
	out, err := ReadPacket("plan.geojson", planFile(t, p))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func fonts(t testing.TB) *Fonts {
	t.Helper()
	f, err := NewFonts(FontOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// sheetOf is a plain sheet of labels.
func sheetOf(p Paper, columns, rows int) LabelSheet {
	return LabelSheet{Paper: p, Columns: columns, Rows: rows, Top: 10, Right: 8, Bottom: 10, Left: 8, Start: 1}
}

func work(t testing.TB, p Paper, columns, rows int) Paperwork {
	return Paperwork{
		Farm: "Larkspur Bottom", Tests: []string{"pH", "buffer pH", "P", "K"}, US: p == Letter(),
		Paper: p, Labels: sheetOf(p, columns, rows), Fonts: fonts(t),
	}
}

// long is a name that has room nowhere.
var long = strings.TrimSpace(strings.Repeat("Long Meadow beside the river ", 5))[:120]

// foreignPlan has fields with letters beyond those of English, and a long name.
func foreignPlan(t testing.TB) *sampling.Plan {
	var fields []*geo.Field
	for i, name := range []string{"Ærø", "Łąka", "畑", long} {
		f, err := geo.Map(geo.Outline{
			Name: name, Boundary: box(0, float64(7*i), 5),
			Exclusions: []geo.Part{{Name: "Teich " + name, Shape: box(2.3, float64(7*i)+2.2, 0.8), Setback: 5}},
			Management: []geo.Part{{Name: "corn", Where: "corn", Shape: box(0, float64(7*i), 3)}},
			Problems:   []geo.Part{{Name: "wet spot", Where: "wet", Shape: box(3.4, float64(7*i)+3.4, 0.8)}},
		})
		if err != nil {
			t.Fatal(err)
		}
		fields = append(fields, f)
	}
	made, err := sampling.Make(fields, sampling.Params{
		Design: sampling.Grid, Cell: 30000, Cores: 12, Spacing: 8, Depths: []sampling.Depth{{To: 8, Unit: "in"}}, Seed: 2,
		Starts: []geo.LonLat{{-93.0005, 42.0002}},
	})
	if err != nil {
		t.Fatal(err)
	}
	return made
}

type maker func(p *Packet, o Paperwork) ([]byte, error)

// makers are the PDFs of the kit.
func makers() map[string]maker {
	return map[string]maker{
		"labsheet.pdf": func(p *Packet, o Paperwork) ([]byte, error) {
			var b bytes.Buffer
			err := p.LabSheet(&b, o)
			return b.Bytes(), err
		},
		"fieldsheet.pdf": func(p *Packet, o Paperwork) ([]byte, error) {
			var b bytes.Buffer
			err := p.FieldSheet(&b, o)
			return b.Bytes(), err
		},
		"labels.pdf": func(p *Packet, o Paperwork) ([]byte, error) {
			var b bytes.Buffer
			err := p.Labels(&b, o)
			return b.Bytes(), err
		},
	}
}

func made(t testing.TB, m maker, p *Packet, o Paperwork) []byte {
	t.Helper()
	b, err := m(p, o)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

var pageObject = regexp.MustCompile(`/Type /Page\b`)

func pages(pdf []byte) int { return len(pageObject.FindAll(pdf, -1)) }

func TestPacketIsThePlan(t *testing.T) {
	p := oddPlan(t)
	got := packet(t, p)
	if !regexp.MustCompile(`^[0-9A-F]{8}$`).MatchString(got.Hash) {
		t.Errorf("hash %q", got.Hash)
	}
	for i, fp := range p.Fields {
		f := got.Fields[i]
		if f.Field.Name != fp.Field.Name || len(f.Units) != len(fp.Units) || f.Samples() != fp.Samples() || f.Cores() != fp.Cores() {
			t.Fatalf("field %q has %d units, %d samples and %d cores, want %q with %d, %d and %d",
				f.Field.Name, len(f.Units), f.Samples(), f.Cores(), fp.Field.Name, len(fp.Units), fp.Samples(), fp.Cores())
		}
		n := 0
		for k, u := range fp.Units {
			x := f.Units[k]
			if x.Number != u.Number || x.Samples[0].ID != u.ID() || x.Samples[0].From != n+1 || x.Samples[0].To != n+len(u.Cores) || x.Part != part(fp, u) {
				t.Errorf("unit %+v", x)
			}
			for j, c := range u.Cores {
				n++
				if y := x.Cores[j]; y.Name != c.Name || y.Number != n || y.At.Distance(c.At) > 0.02 {
					t.Errorf("core %+v, want %s, number %d at %v", y, c.Name, n, c.At)
				}
			}
		}
	}
}

// Depth layers and composites are bags of their own.
func TestPacketOfLayersAndComposites(t *testing.T) {
	p := packet(t, plan(t, sampling.Params{
		Design: sampling.Units, Cores: 3, Composites: 2, Depths: []sampling.Depth{{To: 2, Unit: "in"}, {From: 2, To: 8, Unit: "in"}},
	}, geo.Outline{Name: "Home", Boundary: box(0, 0, 2)}))
	if len(p.Fields[0].Units) != 1 || p.Samples() != 4 || p.Fields[0].Cores() != 6 {
		t.Fatalf("%d units, %d samples, %d cores", len(p.Fields[0].Units), p.Samples(), p.Fields[0].Cores())
	}
	for _, s := range p.Fields[0].Units[0].Samples {
		if s.Cores != 3 {
			t.Errorf("sample %+v", s)
		}
	}
}

func TestPacketHasTheGate(t *testing.T) {
	p := foreignPlan(t)
	got := packet(t, p)
	for i, fp := range p.Fields {
		switch at := got.Fields[i].Start; {
		case at == nil || at.Distance(*fp.Start) > 0.02:
			t.Errorf("field %s starts at %v, want %v", fp.Field.Name, at, fp.Start)
		}
	}
	if packet(t, oddPlan(t)).Fields[0].Start != nil {
		t.Error("a field without a gate has one")
	}
}

func TestPacketRefuses(t *testing.T) {
	good := string(planFile(t, oddPlan(t)))
	for name, c := range map[string]struct{ text, want string }{
		"not a plan":    {`{"type":"FeatureCollection","features":[]}`, "no feature"},
		"nothing":       {"", ""},
		"stray field":   {strings.Replace(good, `"field":"=1+1"`, `"field":"none"`, -1), "none"},
		"start is text": {strings.Replace(good, `"setback_m":0`, `"setback_m":0,"start_lon":"x"`, 1), "start_lon"},
		"start far off": {strings.Replace(good, `"setback_m":0`, `"setback_m":0,"start_lon":1,"start_lat":400`, 1), "no place on the earth"},
	} {
		if _, err := ReadPacket("plan.geojson", []byte(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A full disk is told.
func TestPagesTellOfAFullDisk(t *testing.T) {
	if err := packet(t, oddPlan(t)).Labels(fullDisk{}, work(t, Letter(), 2, 5)); !errors.Is(err, errFull) {
		t.Errorf("error %v, want %v", err, errFull)
	}
}

func oneUnit() sampling.Params {
	return sampling.Params{Design: sampling.Units, Cores: 2, Depths: []sampling.Depth{{To: 8, Unit: "in"}}}
}

func home() geo.Outline { return geo.Outline{Name: "Home", Boundary: box(0, 0, 2)} }

// The same plan gives the same bytes.
func TestPagesAreTheSameEveryTime(t *testing.T) {
	data := planFile(t, foreignPlan(t))
	first := map[string][]byte{}
	for range 4 {
		p, err := ReadPacket("plan.geojson", data)
		if err != nil {
			t.Fatal(err)
		}
		for name, m := range makers() {
			b := made(t, m, p, work(t, A4(), 2, 5))
			if first[name] == nil {
				first[name] = b
			}
			if !bytes.Equal(b, first[name]) {
				t.Errorf("%s differs from one time to the next", name)
			}
			if !bytes.HasPrefix(b, []byte("%PDF-")) || !bytes.HasSuffix(bytes.TrimSpace(b), []byte("%%EOF")) || bytes.Contains(b, []byte("NaN")) {
				t.Errorf("%s is no whole PDF", name)
			}
		}
	}
}
