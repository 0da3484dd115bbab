package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"
)

// oxfordRows are the Oxford data (P. A. Burrough, as distributed with R's gstat):
// profile, easting, northing, pH, P, K, OM, CEC.
func oxfordRows(t *testing.T) [][]string {
	t.Helper()
	f, err := os.Open("../../testdata/soil/oxford.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// TestOxfordInEveryDress writes the Oxford data as a European lab would: in
// pounds to the acre, with decimal commas, semicolons and Windows-1252, one row
// to a figure. It must join to the very figures of the plain file.
func TestOxfordInEveryDress(t *testing.T) {
	rows := oxfordRows(t)
	column := map[string]int{}
	for i, h := range rows[0] {
		column[h] = i
	}
	dir := t.TempDir()
	plainText := "Sample ID;X;Y;Depth;pH;P ppm;K ppm;OM %;CEC meq/100g\n"
	long := "Prøve laboratory (invented)\nSample ID;X;Y;Depth;Analyte;Result;Unit\n"
	comma := func(s string) string { return strings.ReplaceAll(s, ".", ",") }
	for _, r := range rows[1:] {
		get := func(h string) string { return r[column[h]] }
		head := fmt.Sprintf("P%s;%s;%s;0-10in", get("PROFILE"), get("XCOORD"), get("YCOORD"))
		plainText += strings.Join([]string{head, get("PH1"), get("PHOS1"), get("POT1"), get("OM1"), get("CEC1")}, ";") + "\n"
		for _, a := range []struct{ name, value, unit string }{
			{"pH", get("PH1"), ""}, {"P", perAcre(t, get("PHOS1")), "lb/ac"}, {"K", perAcre(t, get("POT1")), "lb/ac"},
			{"Organic matter", get("OM1"), "%"}, {"CEC", get("CEC1"), "meq/100g"},
		} {
			long += strings.Join([]string{head, a.name, comma(a.value), a.unit}, ";") + "\n"
		}
	}
	latin, err := charmap.Windows1252.NewEncoder().String(long)
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "plain.csv"), plainText)
	write(t, filepath.Join(dir, "long.csv"), latin)
	figures := func(name string) map[string]map[string]float64 {
		out := filepath.Join(dir, name+".out")
		mustCall(t, "join", "--points", filepath.Join(dir, name+".csv"), "--x", "X", "--y", "Y", "--points-crs", "EPSG:32630", "--out", out)
		r, err := readResults(filepath.Join(out, resultsFile))
		if err != nil {
			t.Fatal(err)
		}
		all := map[string]map[string]float64{}
		for _, c := range r.Composites {
			all[c.ID] = map[string]float64{"x": c.Native.X, "y": c.Native.Y}
			for _, f := range c.Figures {
				all[c.ID][f.Analyte] = f.Value
			}
		}
		return all
	}
	a, b := figures("plain"), figures("long")
	if len(a) != 126 || len(b) != 126 {
		t.Fatalf("%d and %d composites of 126", len(a), len(b))
	}
	for id, want := range a {
		if len(want) != 7 || len(b[id]) != 7 {
			t.Fatalf("sample %s has %v and %v", id, want, b[id])
		}
		for name, v := range want {
			if b[id][name] != v {
				t.Errorf("sample %s: %s is %v, want %v", id, name, b[id][name], v)
			}
		}
	}
}

// perAcre writes ppm as pounds to the acre of ten inches, 3 million pounds of
// soil (2 million in 6 2/3 in).
func perAcre(t *testing.T, ppm string) string {
	t.Helper()
	var v float64
	if _, err := fmt.Sscan(ppm, &v); err != nil {
		t.Fatal(err)
	}
	return plain(decimals(3*v, 6))
}

// labPlan plans a small field and returns its folder and the ids.
func labPlan(t *testing.T) (dir string, ids []string) {
	t.Helper()
	dir = t.TempDir()
	field := write(t, filepath.Join(dir, "f.geojson"), inventedField)
	mustCall(t, "plan", "--boundary", field, "--cell", "8ha", "--cores", "3", "--out", dir)
	for _, u := range planned(t, dir) {
		ids = append(ids, u.ID)
	}
	return dir, ids
}

func TestDryRun(t *testing.T) {
	dir, ids := labPlan(t)
	lab := write(t, filepath.Join(dir, "lab.csv"), "Sample ID,pH,P Bray-1 lb/ac,Widget\n"+ids[0]+",6.5,40,blue\n")
	out := filepath.Join(dir, "never")
	stdout := mustCall(t, "join", "--plan", filepath.Join(dir, planFile), "--results", lab, "--dry-run", "--out", out)
	for _, want := range []string{"nothing is written", "Bray-1", "lb/ac", "mg/kg", "sample id", "Widget", "blue", "not given"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the dry run does not say %q: %s", want, stdout)
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("the dry run wrote something")
	}
}

// The ids of a table with one row to a figure stand in the column named.
func TestLongTableByNamedColumn(t *testing.T) {
	dir, ids := labPlan(t)
	text := "Sample ID,Tag,Analyte,Result,Unit\n"
	for i, id := range ids {
		text += fmt.Sprintf("x,%s,pH,6.%d,\nx,%s,P,%d,ppm\n", id, i%10, id, 20+i)
	}
	file := write(t, filepath.Join(dir, "long.csv"), text)
	out := filepath.Join(dir, "out")
	mustCall(t, "join", "--plan", filepath.Join(dir, planFile), "--results", file, "--id", "Tag", "--strict", "--out", out)
	r, err := readResults(filepath.Join(out, resultsFile))
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range r.Composites {
		if f, ok := c.Figure("P"); !ok || f.Value != float64(20+i) {
			t.Errorf("sample %s has P %v, want %d", c.ID, f, 20+i)
		}
	}
}

func TestStrict(t *testing.T) {
	dir, ids := labPlan(t)
	text := "Sample ID,pH\n"
	for _, id := range ids {
		text += id + ",6.5\n"
	}
	plan := filepath.Join(dir, planFile)
	clean := write(t, filepath.Join(dir, "clean.csv"), text+"\nTOTAL,\nBLANK,7.0\n")
	mustCall(t, "join", "--plan", plan, "--results", clean, "--strict", "--out", filepath.Join(dir, "out"))
	for name, c := range map[string]struct{ text, want string }{
		"unknown id": {text + "ZZZZ9,6.1\n", "ZZZZ9"},
		"missing":    {strings.Replace(text, ids[1]+",6.5\n", "", 1), ids[1] + " missing"},
		"unread":     {strings.Replace(text, ids[1]+",6.5", ids[1]+",wet", 1), "wet"},
	} {
		bad := write(t, filepath.Join(dir, "bad.csv"), c.text)
		out := filepath.Join(dir, "never")
		_, stderr, status := call(t, "join", "--plan", plan, "--results", bad, "--strict", "--out", out)
		if status != exitFailed || !strings.Contains(stderr, "unaccounted for") || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: status %d: %s", name, status, stderr)
		}
		if _, err := os.Stat(out); err == nil {
			t.Errorf("%s: something was written", name)
		}
	}
}

// Points are held to it as well: none is lost outside of the fields.
func TestStrictPoints(t *testing.T) {
	dir := t.TempDir()
	field := write(t, filepath.Join(dir, "f.geojson"), inventedField)
	text := "ID,lon,lat,pH\nA1,10.001,48.001,6.5\nA2,10.003,48.002,6.6\n"
	base := []string{"join", "--x", "lon", "--y", "lat", "--points-crs", "EPSG:4326", "--boundary", field, "--strict", "--points"}
	mustCall(t, append(base, write(t, filepath.Join(dir, "in.csv"), text), "--out", filepath.Join(dir, "out"))...)
	off := write(t, filepath.Join(dir, "off.csv"), text+"A3,11.5,48.1,6.7\n")
	out := filepath.Join(dir, "never")
	_, stderr, status := call(t, append(base, off, "--out", out)...)
	if status != exitFailed || !strings.Contains(stderr, "unaccounted for") || !strings.Contains(stderr, "lies in no field") {
		t.Errorf("status %d: %s", status, stderr)
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("something was written")
	}
	if _, stderr, status := call(t, append(base, off, "--check", "QC*", "--out", out)...); status != exitUsage || !strings.Contains(stderr, "go with a plan") {
		t.Errorf("status %d: %s", status, stderr)
	}
}

// What a file can't say by itself a job says of its columns; two methods stay
// apart unless a relation is given.
func TestMappingAndMethods(t *testing.T) {
	dir, ids := labPlan(t)
	text := "Sample ID,P1,P Olsen ppm,Strange\n"
	for i, id := range ids {
		if i%2 == 0 {
			text += fmt.Sprintf("%s,%d,,7.%d\n", id, 20+i, i%10)
		} else {
			text += fmt.Sprintf("%s,,%d,7.%d\n", id, 10+i, i%10)
		}
	}
	write(t, filepath.Join(dir, "lab.csv"), text)
	job := `boundary: f.geojson
plan: {cell: 8ha, cores: 3}
results: {file: lab.csv, columns: {P1: {analyte: P, unit: ppm, method: Bray-1}, Strange: {analyte: pH}}%s}
surface: {analytes: [P], pixel: 20m}
out: %s
`
	write(t, filepath.Join(dir, "two.yaml"), fmt.Sprintf(job, "", "two"))
	_, stderr, status := call(t, "run", filepath.Join(dir, "two.yaml"))
	if status != exitFailed || !strings.Contains(stderr, "different methods are not mixed") {
		t.Errorf("status %d: %s", status, stderr)
	}
	write(t, filepath.Join(dir, "one.yaml"), strings.Replace(fmt.Sprintf(job, `, relation: "P1 = 2 + 1.5 * P Olsen ppm"`, "one"), "[P]", "[P1]", 1))
	stdout, stderr, status := call(t, "run", filepath.Join(dir, "one.yaml"))
	if status != exitDone || !strings.Contains(stderr, "have their P1 from the relation") {
		t.Fatalf("status %d: %s %s", status, stdout, stderr)
	}
	r, err := readResults(filepath.Join(dir, "one", resultsFile))
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range r.Composites {
		f, ok := c.Figure("P1")
		want := float64(20 + i)
		if i%2 > 0 {
			want = 2 + 1.5*float64(10+i)
		}
		if !ok || f.Value != want {
			t.Errorf("sample %s: P1 %v, want %v", c.ID, f, want)
		}
	}
	page, err := os.ReadFile(filepath.Join(dir, "one", reportFile))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(page), "1.5 * P Olsen ppm") {
		t.Error("the page does not print the relation")
	}
}

// A column whose rows are of two methods makes no surface and no mean.
func TestRowsOfTwoMethods(t *testing.T) {
	dir, ids := labPlan(t)
	text := "Sample ID,pH,P ppm,P method\n"
	for i, id := range ids {
		text += fmt.Sprintf("%s,6.%d,%d,%s\n", id, i%10, 20+i, []string{"Bray P1", "Olsen"}[i%2])
	}
	write(t, filepath.Join(dir, "lab.csv"), text)
	job := "boundary: f.geojson\nplan: {cell: 8ha, cores: 3}\nresults: {file: lab.csv}\nsurface: {pixel: 20m%s}\nout: %s\n"
	write(t, filepath.Join(dir, "all.yaml"), fmt.Sprintf(job, "", "all"))
	_, stderr, status := call(t, "run", filepath.Join(dir, "all.yaml"))
	if status != exitDone || !strings.Contains(stderr, "no surface is made of P: its rows are of different methods") {
		t.Errorf("status %d: %s", status, stderr)
	}
	means, err := os.ReadFile(filepath.Join(dir, "all", "means.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(means), ",P,") || !strings.Contains(string(means), ",pH,") {
		t.Errorf("means of %s", means)
	}
	write(t, filepath.Join(dir, "p.yaml"), fmt.Sprintf(job, ", analytes: [P]", "p"))
	if _, stderr, status := call(t, "run", filepath.Join(dir, "p.yaml")); status != exitFailed || !strings.Contains(stderr, "different methods") {
		t.Errorf("status %d: %s", status, stderr)
	}
}

// A Modus 1 file joins by id and, without ids, by the places that it gives.
func TestModusByIDAndPlace(t *testing.T) {
	dir, ids := labPlan(t)
	units := planned(t, dir)
	for _, byID := range []bool{true, false} {
		var b strings.Builder
		b.WriteString(`<?xml version="1.0"?><ModusResult Version="1.0"><Event><EventMetaData><EventCode>E1</EventCode></EventMetaData><LabMetaData><LabName>invented</LabName></LabMetaData><EventSamples><Soil><DepthRefs><DepthRef DepthID="1"><StartingDepth>0</StartingDepth><EndingDepth>20</EndingDepth><DepthUnit>cm</DepthUnit></DepthRef></DepthRefs>`)
		for i, u := range units {
			id := fmt.Sprint("LAB", 900+i)
			if byID {
				id = ids[i]
			}
			at := u.Cores[0].At
			fmt.Fprintf(&b, `<SoilSample><SampleMetaData><SampleNumber>%d</SampleNumber><FMISSampleID>%s</FMISSampleID><Geometry><wkt>POINT(%.7f %.7f)</wkt></Geometry></SampleMetaData><Depths><Depth DepthID="1"><NutrientResults><NutrientResult><Element>pH</Element><Value>6.%d</Value><ModusTestID>S-PH-1:1.02.07</ModusTestID></NutrientResult><NutrientResult><Element>P</Element><Value>%d</Value><ValueUnit>ppm</ValueUnit><ModusTestID>S-P-B1-1:10.01.03</ModusTestID></NutrientResult></NutrientResults></Depth></Depths></SoilSample>`, i+1, id, at.Lon(), at.Lat(), i%10, 10+i)
		}
		b.WriteString(`</Soil></EventSamples></Event></ModusResult>`)
		file := write(t, filepath.Join(dir, "lab.xml"), b.String())
		out := filepath.Join(dir, fmt.Sprint("out", byID))
		var s joinSummary
		if err := json.Unmarshal([]byte(mustCall(t, "join", "--plan", filepath.Join(dir, planFile), "--results", file, "--out", out, "--json")), &s); err != nil {
			t.Fatal(err)
		}
		if s.Counts.Joined != len(ids) || s.Counts.Answered != len(ids) {
			t.Errorf("by id %v: %+v", byID, s.Counts)
		}
		r, err := readResults(filepath.Join(out, resultsFile))
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range r.Composites {
			if f, ok := c.Figure("P"); !ok || f.Value != float64(10+i) {
				t.Errorf("by id %v: sample %s has P %v, want %d", byID, c.ID, f, 10+i)
			}
		}
		if a := r.Analytes[1]; a.Name != "P" || a.Method != "Bray-1" || a.Unit != "mg/kg" {
			t.Errorf("analyte %+v", a)
		}
	}
}
