package report

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"golang.org/x/net/html"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/interp"
	"corewalk/sampling/lab"
)

func whole(t *testing.T, d Data) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

var inBoth = regexp.MustCompile(`<(?:t?span) class="us">([^<]*)</t?span><t?span class="me">([^<]*)</t?span>`)

// write returns the page as its first reader sees it: in one system of units,
// and without the script.
func write(t *testing.T, d Data) string {
	t.Helper()
	page, rest, ok := strings.Cut(whole(t, d), "<script>")
	_, after, closed := strings.Cut(rest, "</script>")
	if !ok || !closed {
		t.Fatal("the page has no script")
	}
	page += after
	if d.US {
		return inBoth.ReplaceAllString(page, "$1")
	}
	return inBoth.ReplaceAllString(page, "$2")
}

// planned is invented before there are results.
func planned() Data {
	d := invented()
	d.Reckoning = nil
	for i := range d.Fields {
		d.Fields[i].Analytes = nil
		for k := range d.Fields[i].Units {
			d.Fields[i].Units[k].Missing = false
		}
	}
	return d
}

// odd has what should not come: no places, figures that are no numbers, grids
// that do not fit, ids that no unit has.
func odd() Data {
	nan := math.NaN()
	return Data{Fields: []Field{
		{},
		{Name: "one place", Units: []Unit{{ID: "A", At: at(5, 5)}, {ID: "A", At: plane.XY{nan, math.Inf(1)}}}},
		{
			Name: strings.Repeat("long", 200), Boundary: plane.Shape{{}, {orb.Ring{}}, {orb.Ring{{nan, 1}, {2, 3}}}, rect(0, 0, 0, 50)[0]},
			Area: nan, SampleableArea: math.Inf(-1),
			Exclusions: []geo.Exclusion{{}, {Name: "no place", Lines: []plane.Line{{}, {{1, 2}}}, Points: []plane.XY{{nan, 0}}}},
			Divisions:  []geo.Division{{}, {Name: "empty"}},
			Analytes: []Analyte{
				{},
				{Name: "x", Supported: true, Grid: &raster.Grid{Geometry: raster.Geometry{Width: 3, Height: 3, Pixel: 1}}},
				{Name: "y", Supported: true, Grid: &raster.Grid{Geometry: raster.Geometry{Width: 1, Height: 1, Pixel: 1}, Data: []float32{raster.NoData}},
					Values:          []Value{{ID: "Q", Value: nan}, {ID: "Q", Value: math.Inf(1), Censored: "<"}},
					CrossValidation: interp.CrossValidation{N: 9, Bias: nan, MAE: nan, RMSE: nan, Skill: nan, SkillWithin: nan},
					How:             "guessing", Masked: nan, Drawings: []Drawing{{}, {Alt: "nothing"}},
					Zoning: &Zoning{Ground: nan, Sum: math.Inf(1), Classes: []ZoneClass{{Area: nan, Mean: nan}}, Zones: []Zone{{}, {Class: 7, Area: nan}, {Class: -3, Shape: plane.Shape{{orb.Ring{{nan, 1}, {2, 3}}}}}}},
					Patches: []PatchSet{{Limit: "y < 1", Patches: []Patch{{ID: "P1", Chance: nan, Without: math.Inf(1), Figures: Figures{nan, nan, nan, nan, 1, nan}}},
						Rest: Figures{0, nan, nan, nan, 0, nan}}}},
			},
		},
		{Name: "empty zones", Analytes: []Analyte{{Zoning: &Zoning{}}, {Zoning: &Zoning{Zones: []Zone{{Class: 0, Shape: rect(0, 0, 1, 1)}}}}}, Meetings: []Meeting{{}, {Patches: [2]string{"none", "of these"}, Area: nan}}},
	}, Reckoning: &lab.Reckoning{}}
}

// samples are the pages that every rule is tried on.
func samples() map[string]Data {
	metric := invented()
	metric.US = false
	return map[string]Data{"invented": invented(), "metric": metric, "planned": planned(), "odd": odd(), "nothing": {}}
}

var void = map[string]bool{"meta": true, "br": true, "img": true, "input": true}

// Every start tag has its end tag, in order; ids are there once; and what is
// referred to is there.
func TestMarkup(t *testing.T) {
	for name, d := range samples() {
		page := whole(t, d)
		var open []string
		ids := map[string]int{}
		var wanted []string
		z := html.NewTokenizer(strings.NewReader(page))
		for {
			kind := z.Next()
			if kind == html.ErrorToken {
				if !errors.Is(z.Err(), io.EOF) {
					t.Fatalf("%s: %v", name, z.Err())
				}
				break
			}
			token := z.Token()
			for _, a := range token.Attr {
				switch a.Key {
				case "id":
					ids[a.Val]++
				case "aria-labelledby":
					wanted = append(wanted, strings.Fields(a.Val)...)
				case "href":
					if rest, ok := strings.CutPrefix(a.Val, "#"); ok {
						wanted = append(wanted, rest)
					}
				}
			}
			switch {
			case kind == html.StartTagToken && !void[token.Data]:
				open = append(open, token.Data)
			case kind == html.EndTagToken:
				if len(open) == 0 || open[len(open)-1] != token.Data {
					t.Fatalf("%s: end of %s while %v is open", name, token.Data, open)
				}
				open = open[:len(open)-1]
			}
		}
		if len(open) > 0 {
			t.Errorf("%s: %v is never closed", name, open)
		}
		for _, m := range regexp.MustCompile(`url\(#([^)]*)\)`).FindAllStringSubmatch(page, -1) {
			wanted = append(wanted, m[1])
		}
		for id, n := range ids {
			if n > 1 {
				t.Errorf("%s: id %s is there %d times", name, id, n)
			}
		}
		for _, id := range wanted {
			if ids[id] == 0 {
				t.Errorf("%s: nothing has the id %s that is referred to", name, id)
			}
		}
	}
}

// drawings returns the outermost svg elements of a page.
func drawings(page string) []string {
	var out []string
	depth, from := 0, 0
	for _, m := range regexp.MustCompile(`<svg[ >]|</svg>`).FindAllStringIndex(page, -1) {
		if page[m[0]+1] != '/' {
			if depth == 0 {
				from = m[0]
			}
			depth++
		} else if depth--; depth == 0 {
			out = append(out, page[from:m[1]])
		}
	}
	return out
}

func TestDrawingsAreXML(t *testing.T) {
	for name, d := range samples() {
		for i, drawing := range drawings(write(t, d)) {
			decoder := xml.NewDecoder(strings.NewReader(drawing))
			for {
				if _, err := decoder.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Fatalf("%s: drawing %d: %v", name, i, err)
				}
			}
			if strings.Contains(drawing, "NaN") || strings.Contains(drawing, "Inf") {
				t.Errorf("%s: drawing %d holds a number that is none", name, i)
			}
			if strings.Contains(drawing, `role="img"`) && (!strings.Contains(drawing, "<title ") || !strings.Contains(drawing, "<desc ")) {
				t.Errorf("%s: drawing %d has no title or description", name, i)
			}
		}
	}
}

// The page must ask nothing of any other place.
func TestAsksForNothing(t *testing.T) {
	for name, d := range samples() {
		page := whole(t, d)
		for _, no := range []string{"http:", "https:", "@import", "<script src", "<link", "fetch(", "XMLHttpRequest", "WebSocket", "sendBeacon", "EventSource", "import("} {
			if strings.Contains(page, no) {
				t.Errorf("%s: the page has %q: it may ask for something outside", name, no)
			}
		}
		if !strings.Contains(page, `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:;`) {
			t.Errorf("%s: the browser is not told to ask for nothing", name)
		}
		for _, m := range regexp.MustCompile(`(?:src|href|data|action)="([^"]*)"`).FindAllStringSubmatch(page, -1) {
			if !strings.HasPrefix(m[1], "#") && !strings.HasPrefix(m[1], "data:image/png;base64,") && !strings.HasPrefix(html.UnescapeString(m[1]), "data:image/svg+xml;base64,") {
				t.Errorf("%s: refers to %.60s", name, m[1])
			}
		}
		if strings.Contains(page, "ZgotmplZ") {
			t.Errorf("%s: the template refused a value", name)
		}
	}
}

func TestNamesAreEscaped(t *testing.T) {
	const bad = `</title></style></svg><script>alert(1)</script><b x="'` + "`&{{.}}"
	d := invented()
	d.Farm = bad
	d.Parameters = []Fact{{bad, bad}}
	d.Notices = []string{bad}
	r := d.Reckoning
	r.Table, r.Notes = bad, []string{bad}
	r.Rows = append(r.Rows, lab.RowFate{Row: 99, ID: bad, Fate: lab.Unmatched, SampleID: bad, Reason: bad, Nearest: []string{bad}})
	r.Cells = append(r.Cells, lab.CellNote{Row: 99, Column: bad, SampleID: bad, Kind: lab.CellProblem, Text: bad, Note: bad})
	r.Columns = append(r.Columns, lab.Column{Name: bad, Header: bad, Letter: bad, Analyte: bad, Unit: bad, Method: bad, Note: bad})
	r.Samples = append(r.Samples, lab.SampleFate{ID: bad, Depth: bad, Fate: lab.Missing, Reason: bad})
	f := &d.Fields[0]
	f.Name, f.System, f.Notes = bad, bad, []string{bad}
	f.Exclusions[0].Name, f.Divisions[0].Name, f.Divisions[2].Name = bad, bad, bad
	f.Units[0].ID, f.Units[0].Division, f.Units[0].Notes = bad, bad, []string{bad}
	a := &f.Analytes[0]
	a.Name, a.Unit, a.Method, a.Values[0].ID = bad, bad, bad, bad
	a.How, a.Chosen, a.Drawings[0].Alt = bad, []string{bad}, bad
	a.Zoning.Source, a.Zoning.Classes[0].Name, a.Zoning.Classes[0].Limits = bad, bad, bad
	f.Meetings[0].Patches = [2]string{bad, bad}
	a.Patches[0].Limit, a.Patches[0].Patches[0].ID, a.Patches[0].Patches[0].Samples = bad, bad, []string{bad}
	page := write(t, d)
	for _, raw := range []string{"<script>", "<b x", "alert(1)</script>", "</title></style>"} {
		if strings.Contains(page, raw) {
			t.Errorf("%q stands in the page as markup", raw)
		}
	}
	if n := strings.Count(page, "&lt;script&gt;alert(1)"); n < 30 {
		t.Errorf("the name is there %d times only", n)
	}
}

func TestSameBytes(t *testing.T) {
	first, second := write(t, invented()), write(t, invented())
	if first != second {
		t.Error("the same data gave different bytes")
	}
}

func TestPlanOnly(t *testing.T) {
	page := write(t, planned())
	for _, want := range []string{"There are no results yet.", "Soil sampling plan", `id="f1-plan-t"`, "HF20R", "Before you act on it", "buried lines", "20260417"} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
	for _, no := range []string{"What was found", "NOT supported", "The lab’s file, row", `class="analyte"`, "data:image/png"} {
		if strings.Contains(page, no) {
			t.Errorf("%q stands on a page without results", no)
		}
	}
}

// top returns what stands above the first field.
func top(t *testing.T, d Data) string {
	t.Helper()
	before, _, ok := strings.Cut(write(t, d), `<section class="field"`)
	if !ok {
		t.Fatal("no field on the page")
	}
	_, before, _ = strings.Cut(before, "<header>")
	return before
}

func TestFindingsStandAtTheTop(t *testing.T) {
	d := invented()
	first := top(t, d)
	for _, want := range []string{
		"Hollow Creek Farm", "Sampled: 2 fields of 29.9 ac (12.1 ha), with 24 composites of 240 cores in all.",
		"4 patches lie beyond a limit, in 1 of 2 fields",
		"pH &lt; 5.5</strong> in the northwest of <strong>North Forty",
		"1.24 ac (0.50 ha), 4\u00a0% of the field", "5.31 on average, 0.93 lower than the 6.24 of the rest",
		"No composite was taken inside it", "K &lt; 100 mg/kg in North Forty",
		"NOT supported", "P (Mehlich 3) (skill −0.12)", "pH (only 4 could be compared)", "North Forty: pH (1:1 water) and K",
	} {
		if !strings.Contains(first, want) {
			t.Errorf("%q is not at the top", want)
		}
	}
	for _, f := range d.Fields {
		for _, a := range f.Analytes {
			for _, set := range a.Patches {
				for _, p := range set.Patches {
					if !strings.Contains(first, ">"+p.ID+"</a>") {
						t.Errorf("patch %s is not at the top", p.ID)
					}
				}
			}
		}
	}
	for i := range d.Fields {
		for k := range d.Fields[i].Analytes {
			d.Fields[i].Analytes[k].Supported = true
		}
	}
	if strings.Contains(top(t, d), "NOT supported") {
		t.Error("every surface is supported, and the page says otherwise")
	}
}

// A surface that knows nothing must not be drawn unless patches were asked for
// on it all the same, and then it must be marked.
func TestUnsupportedSurface(t *testing.T) {
	d := invented()
	d.Fields = d.Fields[:1]
	d.Fields[0].Analytes = d.Fields[0].Analytes[1:2]
	if page := write(t, d); strings.Contains(page, "data:image/png") || !strings.Contains(page, `<use href="#f1-u3" fill="#`) {
		t.Error("the sampling units should be coloured instead of the surface")
	}
	d.Fields[0].Analytes[0].Basis = "surface"
	page := write(t, d)
	if !strings.Contains(page, "data:image/png") || !strings.Contains(page, "NOT supported: trust the figures") || !strings.Contains(page, "drawn on the surface all the same") {
		t.Error("the surface that was asked for is not drawn and marked")
	}
}

// Results without a surface step are no reason for a warning.
func TestNoSurfaceAskedFor(t *testing.T) {
	d := invented()
	for i := range d.Fields {
		for k, a := range d.Fields[i].Analytes {
			d.Fields[i].Analytes[k] = Analyte{Name: a.Name, Unit: a.Unit, Values: a.Values}
		}
	}
	page := write(t, d)
	if strings.Contains(strings.ToLower(page), "not supported") || !strings.Contains(page, "No surface was made") || !strings.Contains(page, "No limit was set") {
		t.Error("the page does not say plainly that no surface and no limit was asked for")
	}
}

func TestEveryRowIsAccountedFor(t *testing.T) {
	page := write(t, invented())
	_, page, _ = strings.Cut(page, `id="lab"`)
	for _, want := range []string{
		"28 data rows = 19 joined &#43; 1 replicate &#43; 1 unmatched &#43; 7 refused.", "20 samples of the plan = 19 answered &#43; 1 missing.",
		`<th scope="row" class="n">23</th><td>hf-03n</td><td>replicate to HF03N</td>`,
		`<th scope="row" class="n">24</th><td>HF99Z</td><td>unmatched</td><td>its check character does not fit</td><td>HF09T</td>`,
		`<th scope="row" class="n">25</th><td>&lt;b&gt;average&lt;/b&gt;</td><td>refused</td><td>a row of sums</td>`,
		`<th scope="row" class="n">26 to 31</th>`, "the row is empty",
		"7 (HF04O)", "computed with half of it, 1.5", "11 (HF09T)", "not a number", "ppm is taken as mg/kg", "M3-P ppm",
		"<strong>HF08S</strong>, 0-8in: no row has this id", "differ by more than a tenth",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
}

func TestCensoredAndMissing(t *testing.T) {
	page := write(t, invented())
	for _, want := range []string{
		"&lt; 3</text>", `<td class="n">&lt; 3</td>`, "&gt; 250</text>", "missing: no row in the lab’s file",
		"off by 0.21 on average (RMSE 0.27), on balance 0.03 too low", "70\u00a0% less than", "41\u00a0% less than", "12\u00a0% more than",
		"1 patch was smaller than the smallest size",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
}

// Twice the units make a page of about twice the size.
func TestGrowth(t *testing.T) {
	farm := func(fields, side int) Data {
		var d Data
		for i := range fields {
			f := Field{Name: fmt.Sprintf("F%d", i), Boundary: rect(0, 0, 400, 400), Area: 160000}
			for k := range side * side {
				w := 400 / float64(side)
				x, y := w*float64(k%side), w*float64(k/side)
				f.Units = append(f.Units, Unit{ID: fmt.Sprintf("F%dU%d", i, k), Shape: rect(x, y, x+w, y+w), At: at(x+w/2, y+w/2), Cores: []plane.XY{at(x, y), at(x+1, y+1)}})
			}
			f.Analytes = []Analyte{analyte(&f, "pH", "", "", false, func(x, y float64) float64 { return x }, 1)}
			f.Analytes[0].Basis = ""
			d.Fields = append(d.Fields, f)
		}
		return d
	}
	base := len(write(t, farm(1, 1)))
	few, more, wider := len(write(t, farm(1, 8)))-base, len(write(t, farm(1, 16)))-base, len(write(t, farm(8, 8)))-base
	if float64(more) > 4.6*float64(few) || float64(wider) > 9*float64(few)+8*float64(base)/4 {
		t.Errorf("8x8 units: %d bytes, 16x16: %d, eight fields: %d", few, more, wider)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func TestWriteError(t *testing.T) {
	if err := Write(full{}, invented()); err == nil || !strings.Contains(err.Error(), "no space left") {
		t.Errorf("got error %v", err)
	}
}
