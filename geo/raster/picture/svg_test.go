package picture

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"strings"
	"testing"
)

// read parses an SVG document and returns the texts of its elements by name, and
// the number of elements of each name. It fails on anything that is not well
// formed, on a number that is none, and on a picture that cannot be read.
func read(t *testing.T, document []byte) (texts map[string][]string, count map[string]int) {
	t.Helper()
	texts, count = make(map[string][]string), make(map[string]int)
	d := xml.NewDecoder(bytes.NewReader(document))
	var open []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well formed: %v\n%.2000s", err, document)
		}
		switch e := token.(type) {
		case xml.StartElement:
			open = append(open, e.Name.Local)
			count[e.Name.Local]++
			texts[e.Name.Local] = append(texts[e.Name.Local], "")
			for _, a := range e.Attr {
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Errorf("<%s %s=%.60q>", e.Name.Local, a.Name.Local, a.Value)
				}
				if data, ok := strings.CutPrefix(a.Value, "data:image/png;base64,"); ok {
					raw, err := base64.StdEncoding.DecodeString(data)
					if err != nil {
						t.Fatal(err)
					}
					if _, err := png.Decode(bytes.NewReader(raw)); err != nil {
						t.Fatalf("picture within: %v", err)
					}
				} else if strings.Contains(a.Value, "://") && a.Name.Local != "xmlns" {
					t.Errorf("<%s> asks for %.60q", e.Name.Local, a.Value)
				}
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				name := open[len(open)-1]
				texts[name][len(texts[name])-1] += string(e)
			}
		}
	}
	if count["svg"] != 1 || len(open) > 0 {
		t.Fatalf("%d svg elements, %d left open", count["svg"], len(open))
	}
	return texts, count
}

// squeezed joins the lines of a picture without spaces, so that a text broken
// into lines is found again.
func squeezed(lines []string) string {
	return strings.Join(strings.Fields(strings.Join(lines, "")), "")
}

func svgOf(t *testing.T, d drawing) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := d.SVG(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestEveryTextIsThere(t *testing.T) {
	s, z, r, c := surfaceFixture(), zoneFixture(), residualFixture(), scatterFixture()
	r.Subtitle = `<script>alert("1")</script> & ]]> 'so'`
	want := map[string][]string{
		"surface":   append([]string{s.Title, s.Subtitle, s.Legend, s.Unit, "no value made here", "field boundary", "waterway, not sampled", "M1", "N", "200 ft", "sample, with its value", "10", "35"}, s.Footer...),
		"zones":     append([]string{z.Title, z.Subtitle, "low, below 15", "medium, 15 – 25", "high, 25 and above", "P1", "patch, below 10 mg/kg", "50 m"}, z.Footer...),
		"residuals": {r.Title, r.Subtitle, r.Notes[0], "observed less predicted", "above, up to 5.99", "about right, within 0.6", "below, down to −6", "−5.9"},
		"scatter":   {c.Title, c.Subtitle, "observed, mg/kg", "predicted, mg/kg", "1:1", c.Footer[0]},
	}
	for _, p := range s.Points {
		want["surface"] = append(want["surface"], p.Label)
	}
	for name, d := range map[string]drawing{"surface": s, "zones": z, "residuals": r, "scatter": c} {
		texts, _ := read(t, svgOf(t, d))
		all := squeezed(texts["text"])
		for _, w := range want[name] {
			if !strings.Contains(all, squeezed([]string{w})) {
				t.Errorf("%s: %q is not written", name, w)
			}
		}
		if len(texts["title"]) == 0 || texts["title"][0] == "" || texts["desc"][0] == "" {
			t.Errorf("%s: no title or description for those who cannot see it", name)
		}
	}
	if _, count := read(t, svgOf(t, r)); count["script"] > 0 {
		t.Error("a text became an element")
	}
}

// Every point and every mark is drawn, whatever happens to its text.
func TestNoPointIsDropped(t *testing.T) {
	m := surfaceFixture()
	m.Points = nil
	for i := range 3000 {
		at := fieldPoints()[i%5].At
		at[0] += float64(i % 7)
		m.Points = append(m.Points, Point{At: at, Label: "12.5", ID: "x"})
	}
	texts, count := read(t, svgOf(t, m))
	if n := count["circle"]; n != 3000+1 { // and one in the legend
		t.Errorf("%d circles for 3000 points", n)
	}
	if all := squeezed(texts["text"]); !strings.Contains(all, "valueshavenoroom") {
		t.Error("nothing tells that values are left out")
	}
}

func TestTextOfEveryKind(t *testing.T) {
	nasty := []string{
		"", " ", "\x00\x01\x1f", "a\u0000b", "\xff\xfe\xfd", "\ufffe\uffff", "<&>\"'", "]]>", "\u2028line\u2029", "日本語の畑", "حقل القمح", "e\u0301\u0302\u0303",
		"👩‍🌾🌽", "\U0010ffff", "\u200d\u202e\u2066", strings.Repeat("W", 5000), strings.Repeat("wide words ", 900), strings.Repeat("\u0301", 3000), "%s%d%!", "a\nb\tc",
	}
	for _, text := range nasty {
		for _, m := range []*Map{surfaceFixture(), zoneFixture(), residualFixture()} {
			m.Title, m.Subtitle, m.Legend, m.Unit, m.NoData, m.PointKey = text, text, text, text, text, text
			m.Notes, m.Footer = []string{text, text}, []string{text}
			m.Marks.Label, m.Marks.Unit = text, text
			for i := range m.Points {
				m.Points[i].Label, m.Points[i].ID = text, text
			}
			for i := range m.Outlines {
				m.Outlines[i].Label, m.Outlines[i].Key = text, text
			}
			for i := range m.Classes {
				m.Classes[i].Mark, m.Classes[i].Name = text, text
			}
			for i := range m.Marks.Items {
				m.Marks.Items[i].Label = text
			}
			read(t, svgOf(t, m))
			var b bytes.Buffer
			if err := m.PNG(&b, 200); err != nil {
				t.Errorf("%.20q: %v", text, err)
			}
		}
		s := scatterFixture()
		s.Title, s.Subtitle, s.Unit, s.Observed, s.Predicted, s.Footer = text, text, text, text, text, []string{text}
		read(t, svgOf(t, s))
	}
}
