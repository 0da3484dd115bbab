package task

import (
	"archive/zip"
	"bytes"
	"io"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

type entry struct{ name, content string }

func archived(t testing.TB, list ...entry) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, e := range list {
		w, err := z.Create(e.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, e.content); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const (
	head     = `<ISO11783_TaskData VersionMajor="4" VersionMinor="0" ManagementSoftwareManufacturer="m" ManagementSoftwareVersion="v" DataTransferOrigin="1">`
	foot     = `</ISO11783_TaskData>`
	lists    = `<PDT A="PDT1" B="lime"/><PFD A="PFD1" C="field" D="1"/>`
	told     = `<PDV A="0006" B="5" C="PDT1"/>`
	outline  = `<PLN A="2"><LSG A="1">` + corners + `</LSG></PLN>`
	corners  = `<PNT A="2" C="0" D="0"/><PNT A="2" C="0" D="1"/><PNT A="2" C="1" D="1"/>`
	gridAttr = `A="0" B="0" C="0.1" D="0.1" E="1" F="2" G="GRD00000"`
)

func inTask(s string) string {
	return head + lists + `<TSK A="TSK1" E="PFD1" G="1">` + s + `</TSK>` + foot
}

// What others may write differently and means the same.
func TestReadsOther(t *testing.T) {
	xml := head + `<TSK A="TSK1" E="PFD1" G="1"><TIM A="2020-01-01T00:00:00" D="1"/><TZN A="3">` + told + `<PLN A="2">` +
		`<LSG A="2">` + strings.ReplaceAll(corners, `="1"`, `="0.5"`) + `</LSG><LSG A="1">` + corners + `</LSG></PLN></TZN></TSK>` +
		`<WKR A="WKR1" B="w"/><VPN A="VPN1" B="0" C="1" D="0" E="stone/rood"/>` + lists + foot
	for _, name := range []string{"TASKDATA/TASKDATA.XML", "taskdata/taskdata.xml", "TASKDATA.XML", "a/b/TaskData.xml"} {
		f := unpack(t, archived(t, entry{"__MACOSX/TASKDATA.XML", "x"}, entry{name, xml}))
		want := []Task{{Name: "TSK1", Zones: []Zone{{Rate: 5, Shape: crs.LonLatShape{{
			orb.Ring{{0, 0}, {1, 0}, {1, 1}, {0, 0}}, orb.Ring{{0, 0}, {0.5, 0}, {0.5, 0.5}, {0, 0}},
		}}}}}}
		if !reflect.DeepEqual(f.Tasks, want) {
			t.Errorf("%s: %+v", name, f.Tasks)
		}
	}
	// The grid stands beside its file.
	z := unpack(t, archived(t, entry{"x/taskdata.xml", inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="1"/>`)}, entry{"x/grd00000.bin", "\x01\x01"}))
	if g := z.Tasks[0].Grid; !g.Coded || !reflect.DeepEqual(g.Values, []int32{5, 5}) {
		t.Errorf("%+v", g)
	}
}

func TestReadRefuses(t *testing.T) {
	two := strings.Repeat
	for _, c := range []struct {
		xml, bin, want string
	}{
		{"", "", "no element ISO11783_TaskData"},
		{"<a/>", "", `element "a" where`},
		{strings.Replace(head, `Major="4"`, `Major="3"`, 1) + foot, "", `version "3"; only version 4`},
		{head, "", "unexpected EOF"},
		{head + "<PFD>" + foot, "", "line 1: XML syntax error"},
		{strings.Replace(head, "<ISO", `<?xml version="1.0" encoding="UTF-16"?><ISO`, 1) + foot, "", "encoding"},
		{head + two("<x>", 20), "", "more than 16 elements in one another"},
		{head + `<CTR B="` + two("x", maxTag) + `"/>` + foot, "", "a tag or text of more than 65536 bytes"},
		{head + two(`<FRM A="FRM1" B="x"/>`, 2) + foot, "", "more than one farm"},
		{head + two(`<CTR A="CTR1" B="x"/>`, 2) + foot, "", "more than one farm or customer"},
		{head + two(`<PDT A="PDT1" B="x"/>`, 2) + foot, "", `PDT: identifier "PDT1" is there twice`},
		{head + two(`<PFD A="PFD1" C="x" D="0"/>`, 2) + foot, "", `PFD: identifier "PFD1" is there twice`},
		{head + lists + two(`<TSK A="TSK1" E="PFD1" G="1"/>`, 2) + foot, "", `TSK: identifier "TSK1" is there twice`},
		{head + `<PDT B="x"/>` + foot, "", "PDT: attribute A"},
		{head + `<PDT A="PDT1" H="-1"/>` + foot, "", "PDT: attribute H"},
		{head + `<PFD A="PFD1" C="x"/>` + foot, "", "PFD: attribute D"},
		{head + `<PFD A="PFD1" C="x" D="4294967295"/>` + foot, "", "PFD: attribute D"},
		{head + `<XFR A="TSK00001" B="1"/>` + foot, "", "other files (XFR)"},
		{inTask(""), "", `task TSK1: product "" is not in the file`},
		{inTask(`<TZN A="1">` + told + `</TZN>`), "", "nothing to spread"},
		{inTask(`<TZN A="1">` + outline + `</TZN>`), "", "treatment zone 1: no value"},
		{inTask(`<TZN A="1">` + two(told, 2) + `</TZN>`), "", "treatment zone 1: two values"},
		{inTask(two(`<TZN A="1">`+told+outline+`</TZN>`, 2)), "", "two treatment zones have the code 1"},
		{inTask(two(`<TZN A="1">`+told+outline+`</TZN>`, 256)), "", "more than 255 treatment zones"},
		{inTask(`<TZN A="255"/>`), "", "TZN: attribute A"},
		{inTask(`<TZN A="1"><PDV A="0001" B="5" C="PDT1"/></TZN>`), "", "only 0006"},
		{inTask(`<TZN A="1"><PDV A="0006" B="-5" C="PDT1"/></TZN>`), "", "PDV: attribute B"},
		{inTask(`<TZN A="1"><PDV A="0006" B="2147483648" C="PDT1"/></TZN>`), "", "PDV: attribute B"},
		{inTask(`<TZN A="1"><PDV A="0006" B="1.5" C="PDT1"/></TZN>`), "", "PDV: attribute B"},
		{inTask(`<TZN A="1"><PDV A="0006" B="5" C="PDT2"/></TZN>`), "", `product "PDT2"`},
		{inTask(`<TZN A="1">` + told + `</TZN><TZN A="2"><PDV A="0006" B="5" C="PDT2"/></TZN>`), "", "only tasks with one product"},
		{strings.Replace(inTask(`<TZN A="1">`+told+outline+`</TZN>`), `E="PFD1"`, `E="PFD2"`, 1), "", `field "PFD2"`},
		{strings.Replace(inTask(`<TZN A="1">`+told+outline+`</TZN>`), `G="1"`, `G="1" H="7"`, 1), "", "treatment zone 7, for where no other"},
		{inTask(`<TZN A="1"><PLN A="2"/></TZN>`), "", "without an outer ring"},
		{inTask(`<TZN A="1"><PLN A="2"><LSG A="5">` + corners + `</LSG></PLN></TZN>`), "", `type "5"`},
		{inTask(`<TZN A="1"><PLN A="2">` + two(`<LSG A="1">`+corners+`</LSG>`, 2) + `</PLN></TZN>`), "", "two outer rings"},
		{inTask(`<TZN A="1"><PLN A="2"><LSG A="1"/></PLN></TZN>`), "", "0 vertices"},
		{inTask(`<TZN A="1"><PLN A="2"><LSG A="1"><PNT C="91" D="0"/></LSG></PLN></TZN>`), "", "PNT: attribute C"},
		{inTask(`<TZN A="1"><PLN A="2"><LSG A="1"><PNT C="0" D="NaN"/></LSG></PLN></TZN>`), "", "PNT: attribute D"},
		{inTask(`<TZN A="1"><PLN A="2"><LSG A="1"><PNT C="0x1p3" D="0"/></LSG></PLN></TZN>`), "", "PNT: attribute C"},
		{inTask(`<TZN A="1"><PLN A="2"><LSG A="1"><PNT C="1"/></LSG></PLN></TZN>`), "", "PNT: attribute D"},

		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="2" J="1"/>`), "1234567", "7 bytes for 2 cells of 4"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="2" J="1"/>`), "123456789", "9 bytes unpacked, which is more than the 8"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="2" J="1"/>`), "", "GRD00000.BIN: not in the archive"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="2" J="1"/>`), "1234567\xff", "below 0"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` H="9" I="2" J="1"/>`), "12345678", "9 bytes are said for 2 cells"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="2" J="2"/>`), "12345678", "treatment zone 2, which says"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="2"/>`), "12345678", "treatment zone -1, which says"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="1"/>`), "\x01\x02", "row 2 from the south, column 1: treatment zone 2 is not there"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="3"/>`), "", "GRD: attribute I"},
		{inTask(`<TZN A="1">` + told + outline + `</TZN><GRD ` + gridAttr + ` I="1"/>`), "\x01\x01", "with outlines and a grid"},
		{inTask(`<TZN A="1">` + told + `</TZN>` + two(`<GRD `+gridAttr+` I="1"/>`, 2)), "\x01\x01", "two grids in one task"},
		{inTask(`<GRD ` + strings.Replace(gridAttr, "GRD00000", "../../00", 1) + ` I="1"/>`), "", "GRD: attribute G"},
		{inTask(`<GRD ` + strings.Replace(gridAttr, `E="1"`, `E="0"`, 1) + ` I="1"/>`), "", "GRD: attribute E"},
		{inTask(`<GRD ` + strings.Replace(gridAttr, `F="2"`, `F="4294967295"`, 1) + ` I="1"/>`), "", "GRD: attribute F"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + strings.NewReplacer(`E="1"`, `E="16777216"`).Replace(gridAttr) + ` I="1"/>`), "\x01", "at most 16777216 cells"},
		{inTask(`<TZN A="1">` + told + `</TZN><GRD ` + strings.Replace(gridAttr, `C="0.1"`, `C="1e-300"`, 1) + ` I="1"/>`), "", "GRD: attribute C"},
	} {
		list := []entry{{"TASKDATA/TASKDATA.XML", c.xml}}
		if c.bin != "" {
			list = append(list, entry{"TASKDATA/GRD00000.BIN", c.bin})
		}
		data := archived(t, list...)
		_, err := Read(bytes.NewReader(data), int64(len(data)))
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") || len(err.Error()) > 400 {
			t.Errorf("%.300s\n%v does not say %q", c.xml, err, c.want)
		}
	}
}

func TestReadArchives(t *testing.T) {
	xml := entry{"TASKDATA/TASKDATA.XML", head + foot}
	grid := inTask(`<TZN A="1">` + told + `</TZN><GRD ` + gridAttr + ` I="1"/>`)
	bomb := archived(t, entry{"TASKDATA/TASKDATA.XML", head + strings.Repeat("<x/>", maxXML/4) + foot})
	if len(bomb) > 1<<20 {
		t.Errorf("a bomb of %d bytes is none", len(bomb))
	}
	// A directory that lies about the size of an entry.
	liar := archived(t, entry{"TASKDATA/TASKDATA.XML", grid}, entry{"TASKDATA/GRD00000.BIN", strings.Repeat("\x01", 5000)})
	liar = bytes.ReplaceAll(liar, []byte{0x88, 0x13, 0, 0}, []byte{2, 0, 0, 0})
	locked := archived(t, xml)
	locked[bytes.Index(locked, []byte("PK\x01\x02"))+8] |= 1
	for _, c := range []struct {
		data []byte
		want string
	}{
		{nil, "not a valid zip"},
		{[]byte("PK\x05\x06"), "not a valid zip"},
		{archived(t), "no TASKDATA.XML"},
		{archived(t, xml, xml), "two files in it are called"},
		{archived(t, xml, entry{"taskdata/taskdata.xml", ""}), "two files in it are called"},
		{archived(t, xml, entry{"other/taskdata.xml", ""}), "give one of them"},
		{bomb, "more than the 67108864 expected"},
		{liar, "GRD00000.BIN: "},
		{locked, "password"},
	} {
		_, err := Read(bytes.NewReader(c.data), int64(len(c.data)))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "task file: ") {
			t.Errorf("%v does not say %q", err, c.want)
		}
	}
}

// FuzzRead: whatever the bytes, an error or a file that is written and read as
// itself.
func FuzzRead(f *testing.F) {
	for _, file := range []*File{zoned(), gridded(false), gridded(true), {}} {
		f.Add(pack(f, file))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := Read(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return
		}
		checkAgain(t, file)
	})
}

// FuzzReadXML is FuzzRead with the archive taken for granted, which random bytes
// hardly ever make.
func FuzzReadXML(f *testing.F) {
	for _, file := range []*File{zoned(), gridded(false), gridded(true), {}} {
		_, content := entries(f, pack(f, file))
		f.Add(string(content["TASKDATA/TASKDATA.XML"]), content["TASKDATA/GRD00000.BIN"])
	}
	f.Add(inTask(`<TZN A="1">`+told+outline+outline+`</TZN>`), []byte{})
	f.Fuzz(func(t *testing.T, xml string, bin []byte) {
		data := archived(t, entry{"TASKDATA.XML", xml}, entry{"GRD00000.BIN", string(bin)})
		file, err := Read(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			return
		}
		checkAgain(t, file)
	})
}

func checkAgain(t *testing.T, file *File) {
	first := pack(t, file)
	again := unpack(t, first)
	if !bytes.Equal(first, pack(t, again)) {
		t.Fatalf("%+v is written otherwise once read", file)
	}
}
