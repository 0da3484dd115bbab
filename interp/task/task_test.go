package task

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

// box is an upright rectangle as a closed ring.
func box(w, s, e, n float64) orb.Ring { return orb.Ring{{w, s}, {e, s}, {e, n}, {w, n}, {w, s}} }

func zoned() *File {
	return &File{
		Farm: "Hill & Dale <farm>", Customer: "Ö. \"Quote\"", Program: "corewalk", Version: "1.2", Notes: []string{"source: table -- of 1999 --->"},
		Fields: []Field{
			{Name: "North", Area: 123456.4, Boundary: crs.LonLatShape{{box(9, 52, 9.01, 52.01), box(9.002, 52.002, 9.003, 52.003)}, {box(9.02, 52, 9.03, 52.01)}}},
			{Name: "South"},
		},
		Products: []Product{{Name: "Lime", Density: 1350.5}, {Name: "0-0-60"}},
		Tasks: []Task{
			{Name: "Lime on North", Zones: []Zone{
				{Name: "zone 1", Rate: 250000, Shape: crs.LonLatShape{{box(9, 52, 9.005, 52.01)}}},
				{Name: "zone 2", Rate: 12345.5, Shape: crs.LonLatShape{{box(9.005, 52, 9.01, 52.01), box(9.006, 52.001, 9.007, 52.002)}, {box(9.02, 52, 9.03, 52.01)}}},
			}},
			{Name: "Potash", Product: 1, Unit: LbAc, Outside: Outside{Default: 5, PositionLost: 7, OutOfField: 0}, Zones: []Zone{
				{Rate: 0, Shape: crs.LonLatShape{{box(9, 52, 9.005, 52.01)}}},
			}},
		},
	}
}

func gridded(coded bool) *File {
	f := zoned()
	f.Tasks = []Task{{Name: "grid", Field: 1, Unit: TonneHa, Grid: &Grid{
		South: 52.123456789, West: -9.5, CellNorth: 1.25e-5, CellEast: 2.5e-5, Columns: 3, Rows: 2,
		Values: []int32{0, 1, math.MaxInt32, 256, 65536, 7}, Coded: coded,
	}}}
	return f
}

func pack(t testing.TB, f *File) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, f); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func unpack(t testing.TB, data []byte) *File {
	t.Helper()
	f, err := Read(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func entries(t testing.TB, data []byte) (names []string, content map[string][]byte) {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	content = map[string][]byte{}
	for _, e := range z.File {
		r, err := e.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, e.Name)
		content[e.Name] = b
	}
	return names, content
}

// expected is f as it comes back: rounded, cleaned, parts of zones apart.
func expected(f *File) *File {
	shape := func(s crs.LonLatShape) crs.LonLatShape {
		var out crs.LonLatShape
		for _, p := range s {
			var q orb.Polygon
			for _, r := range p {
				var ring orb.Ring
				for _, v := range r {
					v = orb.Point{math.Round(v[0]*1e9) / 1e9, math.Round(v[1]*1e9) / 1e9}
					if len(ring) == 0 || ring[len(ring)-1] != v {
						ring = append(ring, v)
					}
				}
				q = append(q, ring)
			}
			out = append(out, q)
		}
		return out
	}
	out := &File{Farm: designator(f.Farm), Customer: designator(f.Customer), Program: f.Program, Version: f.Version}
	for _, x := range f.Fields {
		out.Fields = append(out.Fields, Field{designator(x.Name), shape(x.Boundary), math.Round(x.Area)})
	}
	for _, x := range f.Products {
		out.Products = append(out.Products, Product{designator(x.Name), math.Round(x.Density*1000) / 1000})
	}
	for _, x := range f.Tasks {
		y := Task{Name: designator(x.Name), Field: x.Field, Product: x.Product, Unit: x.Unit}
		y.Outside = Outside{math.Round(x.Outside.Default), math.Round(x.Outside.PositionLost), math.Round(x.Outside.OutOfField)}
		for _, z := range x.Zones {
			for _, p := range shape(z.Shape) {
				y.Zones = append(y.Zones, Zone{designator(z.Name), math.Round(z.Rate), crs.LonLatShape{p}})
			}
		}
		if x.Grid != nil {
			g := *x.Grid
			g.South, g.West = math.Round(g.South*1e9)/1e9, math.Round(g.West*1e9)/1e9
			y.Grid = &g
		}
		out.Tasks = append(out.Tasks, y)
	}
	return out
}

func TestRoundTrip(t *testing.T) {
	for _, f := range []*File{zoned(), gridded(false), gridded(true)} {
		if got, want := unpack(t, pack(t, f)), expected(f); !reflect.DeepEqual(got, want) {
			t.Errorf("came back as\n%+v, not\n%+v", got, want)
		}
	}
}

// The bytes of a terminal: which elements stand where, and the cells.
func TestWritten(t *testing.T) {
	names, content := entries(t, pack(t, zoned()))
	if fmt.Sprint(names) != "[TASKDATA/TASKDATA.XML]" {
		t.Errorf("archive holds %v", names)
	}
	xml := string(content["TASKDATA/TASKDATA.XML"])
	for _, want := range []string{
		`<?xml version="1.0" encoding="UTF-8"?>` + "\n<!--\nRates are advice, to be checked",
		"source: table - - of 1999 - - ->\n-->\n",
		`<CTR A="CTR1" B="Ö. &#34;Quote&#34;"/>`,
		`<FRM A="FRM1" B="Hill &amp; Dale &lt;farm&gt;" I="CTR1"/>`,
		`<VPN A="VPN1" B="0" C="0.01" D="1" E="kg/ha"/>`,
		`<PDT A="PDT1" B="Lime" H="1350500"/>` + "\n" + `<PDT A="PDT2" B="0-0-60"/>`,
		`<PFD A="PFD1" C="North" D="123456" E="CTR1" F="FRM1">` + "\n" + `<PLN A="1">` + "\n" + `<LSG A="1">` + "\n" + `<PNT A="2" C="52" D="9"/>`,
		`<TSK A="TSK1" B="Lime on North" C="CTR1" D="FRM1" E="PFD1" G="1" H="0" I="0" J="0">` + "\n" +
			`<TZN A="0" B="outside, 0.0 kg/ha">` + "\n" + `<PDV A="0006" B="0" C="PDT1" E="VPN1"/>` + "\n</TZN>\n" + `<TZN A="1" B="zone 1">` + "\n" + `<PLN A="2">`,
		`<PDV A="0006" B="12346" C="PDT1" E="VPN1"/>`,
		`<TZN A="3" B="zone 2">`,
		`G="1" H="1" I="2" J="0">`,
		`<CAN C="advice: ask a certified adviser"/>`,
	} {
		if !strings.Contains(xml, want) {
			t.Errorf("%s\nis not in\n%s", want, xml)
		}
	}
	if len(comment) > nameLength {
		t.Errorf("%q is too long for a comment", comment)
	}

	names, content = entries(t, pack(t, gridded(false)))
	if fmt.Sprint(names) != "[TASKDATA/GRD00000.BIN TASKDATA/TASKDATA.XML]" {
		t.Errorf("archive holds %v", names)
	}
	var cells []byte
	for _, v := range gridded(false).Tasks[0].Grid.Values {
		cells = binary.LittleEndian.AppendUint32(cells, uint32(v))
	}
	if !bytes.Equal(content["TASKDATA/GRD00000.BIN"], cells) {
		t.Errorf("cells % x, not % x", content["TASKDATA/GRD00000.BIN"], cells)
	}
	want := `<GRD A="52.123456789" B="-9.5" C="0.0000125" D="0.000025" E="3" F="2" G="GRD00000" H="24" I="2" J="1"/>`
	if !strings.Contains(string(content["TASKDATA/TASKDATA.XML"]), want) {
		t.Errorf("%s is not in\n%s", want, content["TASKDATA/TASKDATA.XML"])
	}
	_, content = entries(t, pack(t, gridded(true)))
	if got := content["TASKDATA/GRD00000.BIN"]; !bytes.Equal(got, []byte{0, 1, 5, 3, 4, 2}) {
		t.Errorf("codes % x", got)
	}
}

func TestDeterministic(t *testing.T) {
	for _, f := range []*File{zoned(), gridded(true)} {
		a := pack(t, f)
		for range 3 {
			if !bytes.Equal(a, pack(t, f)) {
				t.Fatal("the same file gave other bytes")
			}
		}
		// What was read is written as it was, but for the notes.
		f.Notes = nil
		if a := pack(t, f); !bytes.Equal(a, pack(t, unpack(t, a))) {
			t.Error("what was read is written otherwise")
		}
	}
}

func randomFile(r *rand.Rand) *File {
	name := func() string {
		out := []rune{rune('a' + r.IntN(26))}
		for range r.IntN(50) {
			out = append(out, []rune{'<', '&', '"', '\'', '>', '\n', 0, 0xFFFE, 'é', 0x301, 0x1F33E, ']', '-', rune(r.IntN(0x3000))}[r.IntN(14)])
		}
		return string(out)
	}
	rate := func() float64 { return r.Float64() * []float64{0, 1, 1000, 1e6, math.MaxInt32}[r.IntN(5)] }
	shape := func(n int) (s crs.LonLatShape) {
		for range n {
			w, b := r.Float64()*350-180, r.Float64()*170-90
			p := orb.Polygon{box(w, b, w+r.Float64()+1e-6, b+r.Float64()+1e-6)}
			for range r.IntN(3) {
				p = append(p, box(w, b, w+1e-6, b+1e-7))
			}
			s = append(s, p)
		}
		return s
	}
	f := &File{Farm: name(), Customer: name(), Program: "x", Version: "y"}
	for range 1 + r.IntN(3) {
		f.Fields = append(f.Fields, Field{name(), shape(r.IntN(3)), r.Float64() * 1e7})
		f.Products = append(f.Products, Product{name(), float64(r.IntN(3)) * r.Float64() * 1000})
	}
	for range r.IntN(4) {
		t := Task{Name: name(), Field: r.IntN(len(f.Fields)), Product: r.IntN(len(f.Products)), Unit: Unit(r.IntN(int(units)))}
		if r.IntN(2) == 0 {
			t.Outside = Outside{rate(), rate(), rate()}
		}
		if r.IntN(2) == 0 {
			for range 1 + r.IntN(5) {
				t.Zones = append(t.Zones, Zone{name(), rate(), shape(1 + r.IntN(3))})
			}
		} else {
			g := &Grid{West: r.Float64()*300 - 180, South: r.Float64()*150 - 90, CellNorth: r.Float64()*0.1 + 1e-8, CellEast: r.Float64()*0.1 + 1e-8,
				Columns: 1 + r.IntN(20), Rows: 1 + r.IntN(12), Coded: r.IntN(2) == 0}
			for range g.Columns * g.Rows {
				g.Values = append(g.Values, int32(rate()))
			}
			t.Grid = g
		}
		f.Tasks = append(f.Tasks, t)
	}
	return f
}

func TestRandomFiles(t *testing.T) {
	r := rand.New(rand.NewPCG(11783, 10))
	for i := range 400 {
		f := randomFile(r)
		data := pack(t, f)
		got, want := unpack(t, data), expected(f)
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("file %d came back as\n%+v, not\n%+v", i, got, want)
		}
		if !bytes.Equal(data, pack(t, got)) {
			t.Fatalf("file %d is written otherwise once read", i)
		}
		// The mass told is the mass read, zone by zone and cell by cell.
		for j, task := range f.Tasks {
			var told, read float64
			k := 0
			for _, z := range task.Zones {
				s, err := Setpoint(z.Rate)
				if err != nil {
					t.Fatal(err)
				}
				for range z.Shape {
					told += float64(s) * float64(k+1)
					read += got.Tasks[j].Zones[k].Rate * float64(k+1)
					k++
				}
			}
			if task.Grid != nil {
				g := *task.Grid
				g.South, g.West = round9(g.South), round9(g.West)
				told, read = g.Mass(), got.Tasks[j].Grid.Mass()
			}
			if told != read {
				t.Errorf("file %d, task %d: %g was told, %g read", i, j, told, read)
			}
		}
	}
}

func TestSetpoint(t *testing.T) {
	for _, c := range []struct {
		rate float64
		want int32
		bad  bool
	}{
		{rate: 0}, {rate: 0.49}, {rate: 0.5, want: 1}, {rate: 112085.1, want: 112085}, {rate: 2147483647.4, want: math.MaxInt32}, {rate: 3 * KgPerHa, want: 300},
		{rate: 2147483647.5, bad: true}, {rate: -0.1, bad: true}, {rate: math.NaN(), bad: true}, {rate: math.Inf(1), bad: true}, {rate: math.Inf(-1), bad: true},
	} {
		got, err := Setpoint(c.rate)
		if got != c.want || (err != nil) != c.bad {
			t.Errorf("%g gives %d, %v", c.rate, got, err)
		}
	}
}

// 1 kg/ha is 100 mg/m²; 1 lb/ac is 1.1208511 kg/ha (NIST Handbook 44, appendix C:
// 0.45359237 kg, 4046.8564224 m²).
func TestUnits(t *testing.T) {
	for u, want := range map[Unit]string{KgHa: "1120.9 kg/ha", TonneHa: "1.121 t/ha", LbAc: "1000.0 lb/ac", TonAc: "0.500 ton/ac"} {
		if got := u.show(112085); got != want {
			t.Errorf("%s, not %s", got, want)
		}
	}
	if s := units.String(); s != "unit 4" {
		t.Error(s)
	}
}

// Every reference is to an identifier of the file, and no identifier is there twice.
func TestReferences(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	files := []*File{zoned(), gridded(false), gridded(true)}
	for range 50 {
		files = append(files, randomFile(r))
	}
	attribute := regexp.MustCompile(`([A-Z])="((CTR|FRM|PFD|PDT|VPN|TSK|GRD)[0-9]+)"`)
	element := regexp.MustCompile(`<([A-Z]{3}) [^>]*>`)
	for _, f := range files {
		names, content := entries(t, pack(t, f))
		known := map[string]bool{}
		var referred []string
		for _, e := range element.FindAllStringSubmatch(string(content["TASKDATA/TASKDATA.XML"]), -1) {
			for _, a := range attribute.FindAllStringSubmatch(e[0], -1) {
				switch {
				case e[1] == "GRD" && !slices.Contains(names, "TASKDATA/"+a[2]+".BIN"):
					t.Errorf("%s has no file", e[0])
				case e[1] != a[3] || a[1] != "A" && e[1] != "GRD":
					referred = append(referred, a[2])
				case known[a[2]]:
					t.Errorf("%s is there twice", a[2])
				default:
					known[a[2]] = true
				}
			}
		}
		for _, id := range referred {
			if !known[id] {
				t.Errorf("%s is referred to, but not there", id)
			}
		}
		if len(f.Tasks) > 0 && len(referred) < 3 {
			t.Errorf("only %v referred to", referred)
		}
	}
}
