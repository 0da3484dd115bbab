package season

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

// Bundle is the content of a season: rows by table, their values in the order of
// its columns.
type Bundle struct {
	rows map[string][][]any
}

// Names of the files that a season is read from.
const (
	planFile    = "plan.geojson"
	walkedFile  = "walked.geojson"
	resultsFile = "results.geojson"
	ratesFile   = "rates.geojson"
	joinFile    = "join.json"
)

// ReadFolder reads the files that a run of the program has left in a folder: the
// plan, the cores as walked, the results with what the lab's file said of them,
// and the rates; each may be missing, but not both of plan and results.
func ReadFolder(dir string) (Bundle, string, error) {
	b := Bundle{rows: map[string][][]any{}}
	program := ""
	read := func(name string) (*vector.Layer, error) {
		layer, err := vector.Read(filepath.Join(dir, name), vector.Options{})
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		if head := layer.Foreign["corewalk"]; head != nil {
			var made struct{ Program string }
			if json.Unmarshal(head, &made) == nil && program == "" {
				program = made.Program
			}
			var tight bytes.Buffer
			if err := json.Compact(&tight, head); err != nil {
				return nil, fmt.Errorf("%s: its member corewalk cannot be read: %w", layer.Path, err)
			}
			b.rows["files"] = append(b.rows["files"], []any{name, tight.String()})
		}
		return layer, nil
	}
	plan, err := read(planFile)
	if err != nil {
		return b, "", err
	}
	results, err := read(resultsFile)
	if err != nil {
		return b, "", err
	}
	if plan == nil && results == nil {
		return b, "", fmt.Errorf("%s has no %s and no %s; give the folder of a run", dir, planFile, resultsFile)
	}
	walked, err := read(walkedFile)
	if err != nil {
		return b, "", err
	}
	rates, err := read(ratesFile)
	if err != nil {
		return b, "", err
	}
	if plan != nil {
		b.layer(plan, map[string]string{"field": "fields", "exclusion": "parts", "management": "parts", "problem": "parts", "unit": "units", "core": "cores"})
	} else {
		b.layer(results, map[string]string{"field": "fields", "exclusion": "parts", "management": "parts", "problem": "parts"})
	}
	if walked != nil {
		b.rows["cores"] = nil
		b.layer(walked, map[string]string{"core": "cores", "waypoint": "cores"})
	}
	if rates != nil {
		b.layer(rates, map[string]string{"zone": "rates", "unit": "rates"})
	}
	if results != nil {
		if err := b.results(dir, results); err != nil {
			return b, "", err
		}
	}
	return b, program, nil
}

// layer puts features into the tables of their kinds.
func (b *Bundle) layer(l *vector.Layer, to map[string]string) {
	byName := map[string]table{}
	for _, t := range tables() {
		byName[t.name] = t
	}
	for i := range l.Features {
		f := &l.Features[i]
		kind, _ := l.Text(f, "kind")
		t, ok := byName[to[kind]]
		if !ok {
			continue
		}
		b.rows[t.name] = append(b.rows[t.name], row(t, l, f))
	}
}

// row puts a feature into the columns of a table; what has none of its own goes
// into more.
func row(t table, l *vector.Layer, f *vector.Feature) []any {
	out := make([]any, len(t.columns))
	if i := t.at(geometryColumn); i >= 0 {
		out[i] = geometryOf(f)
	}
	var left bytes.Buffer
	for i, v := range f.Values {
		if v == nil {
			continue
		}
		name := l.Columns[i].Name
		if at := t.at(name); at >= 0 && name != more && name != geometryColumn {
			if x, ok := fitting(t.columns[at].kind, v); ok {
				out[at] = x
				continue
			}
		}
		if name == "kind" && t.at("kind") < 0 {
			continue
		}
		key, err := json.Marshal(name)
		value, bad := json.Marshal(v)
		if err != nil || bad != nil {
			continue // a number that is none
		}
		left.WriteByte(map[bool]byte{true: '{', false: ','}[left.Len() == 0])
		left.Write(key)
		left.WriteByte(':')
		left.Write(value)
	}
	if i := t.at(more); i >= 0 && left.Len() > 0 {
		out[i] = left.String() + "}"
	}
	return out
}

func geometryOf(f *vector.Feature) geometry {
	switch {
	case len(f.Shape) > 0:
		return geometry{shape: f.Shape}
	case len(f.Lines) > 0 && len(f.Lines[0]) > 1:
		return geometry{line: f.Lines[0]}
	case len(f.Points) > 0:
		return geometry{point: &f.Points[0]}
	}
	return geometry{}
}

// fitting brings a value to the kind of a column; an empty text is none.
func fitting(k kind, v any) (any, bool) {
	switch x := v.(type) {
	case string:
		if k == text {
			return told(x), true
		}
	case int64:
		switch k {
		case whole:
			return x, true
		case float:
			return float64(x), true
		case text:
			return fmt.Sprint(x), true
		}
	case float64:
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil, true
		}
		switch {
		case k == float:
			return x, true
		case k == whole && x == math.Trunc(x) && math.Abs(x) < 1<<53:
			return int64(x), true
		}
	}
	return nil, false
}

// told is a text as the record keeps it: NULL where there is none, and with ends of
// lines that tables of text keep.
func told(s string) any {
	if s = strings.ReplaceAll(s, "\r\n", "\n"); s == "" {
		return nil
	}
	return s
}

func (b *Bundle) results(dir string, l *vector.Layer) error {
	r, err := sampling.ReadResults(l)
	if err != nil {
		return err
	}
	replicates, err := readReplicates(filepath.Join(dir, joinFile))
	if err != nil {
		return err
	}
	analytes := map[string]sampling.Analyte{}
	for _, a := range r.Analytes {
		analytes[a.Name] = a
	}
	number := func(n int) any {
		if n == 0 {
			return nil
		}
		return int64(n)
	}
	for i := range r.Composites {
		c := &r.Composites[i]
		at := c.At
		var x, y, system any
		if c.Native != nil {
			x, y, system = c.Native.X, c.Native.Y, told(c.Native.CRS)
		}
		b.rows["composites"] = append(b.rows["composites"], []any{
			geometry{point: &at}, told(c.ID), told(c.Field), told(c.Management), told(c.Problem), number(c.Unit), number(c.Composite),
			told(c.ComparisonOf), told(c.CompareWith), told(c.Depth), x, y, system, told(strings.Join(c.Notes, "; ")),
		})
		for _, f := range c.Figures {
			if math.IsNaN(f.Value) || math.IsInf(f.Value, 0) {
				continue
			}
			a := analytes[f.Analyte]
			n := replicates[replicateKey{c.ID, c.Depth, a.Name, a.Column}]
			if n.count == 0 {
				n = replicates[replicateKey{c.ID, "", a.Name, a.Column}]
			}
			var spread any
			if n.count > 1 {
				spread = n.spread
			}
			b.rows["results"] = append(b.rows["results"], []any{
				told(c.ID), told(c.Field), told(f.Analyte), told(a.Of), told(a.Column), told(a.Unit), told(a.Method), f.Value, told(f.Censored), told(a.Mixed), number(max(n.count, 1)), spread,
			})
		}
	}
	return nil
}

type replicateKey struct{ id, depth, analyte, column string }

type replicate struct {
	count  int
	spread float64
}

// readReplicates reads how many rows of the lab's file the figures come from.
func readReplicates(path string) (map[replicateKey]replicate, error) {
	out := map[replicateKey]replicate{}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	var r lab.Reckoning
	if err := json.Unmarshal(data, &r); err != nil {
		return nil, fmt.Errorf("%s is not what the join writes: %w", path, err)
	}
	for _, x := range r.Results {
		for _, m := range x.Values {
			n := replicate{m.N, m.Spread}
			for _, depth := range slices.Compact([]string{x.Depth, ""}) {
				out[replicateKey{x.ID, depth, m.Analyte, ""}] = n
				out[replicateKey{x.ID, depth, m.Analyte, m.Column}] = n
				out[replicateKey{x.ID, depth, m.Column, ""}] = n
			}
		}
	}
	return out, nil
}

// Observations returns the figures of a bundle, as those of a season, with their
// ground. It fails where a figure has no composite, or a composite no place.
func (b Bundle) Observations(s Season) ([]Observation, error) {
	t := map[string]table{}
	for _, x := range tables() {
		t[x.name] = x
	}
	get := func(name string, row []any, column string) any { return row[t[name].at(column)] }
	str := func(v any) string { s, _ := v.(string); return s }
	num := func(v any) int { n, _ := v.(int64); return int(n) }
	shapes := map[string]geometry{}
	cores := map[string]int{}
	for _, row := range b.rows["units"] {
		id := str(get("units", row, "id"))
		shapes[id], _ = get("units", row, geometryColumn).(geometry)
		cores[id] = num(get("units", row, "cores"))
	}
	composites := map[[2]string][]any{}
	for _, row := range b.rows["composites"] {
		composites[[2]string{str(get("composites", row, "field")), str(get("composites", row, "id"))}] = row
	}
	var out []Observation
	for _, row := range b.rows["results"] {
		x := func(column string) any { return get("results", row, column) }
		id, field := str(x("sample")), str(x("field"))
		c, ok := composites[[2]string{field, id}]
		if !ok {
			return nil, fmt.Errorf("season %s has a figure of sample %s, which is not there", s.Name, id)
		}
		of := func(column string) any { return get("composites", c, column) }
		value, ok := x("value").(float64)
		if !ok || str(x("mixed")) != "" {
			continue // of two methods or in two units: no one figure
		}
		spread, _ := x("spread").(float64)
		o := Observation{
			Season: s.Name, Field: field, Sample: id, UnitNumber: num(of("unit")), Management: str(of("management")), Problem: str(of("problem")),
			Depth: str(of("depth")), Cores: cores[id], Analyte: str(x("analyte")), Unit: str(x("unit")), Method: str(x("method")), Lab: s.Lab,
			Value: value, Censored: str(x("censored")), Replicates: max(num(x("replicates")), 1), Spread: spread, Shape: shapes[id].shape,
		}
		g, _ := of(geometryColumn).(geometry)
		if g.point == nil {
			return nil, fmt.Errorf("season %s: sample %s has no place", s.Name, id)
		}
		o.At = *g.point
		out = append(out, o)
	}
	return out, nil
}

// Summary says what a season holds.
type Summary struct {
	Season     Season
	Fields     []string
	Units      int
	Cores      int
	Composites int
	Results    int
	Rates      int
	Analytes   []string // with unit and method
}

// Summary returns what a bundle holds.
func (b Bundle) Summary(s Season) Summary {
	out := Summary{Season: s, Units: len(b.rows["units"]), Cores: len(b.rows["cores"]), Composites: len(b.rows["composites"]), Results: len(b.rows["results"]), Rates: len(b.rows["rates"])}
	var fields, results table
	for _, t := range tables() {
		switch t.name {
		case "fields":
			fields = t
		case "results":
			results = t
		}
	}
	for _, row := range b.rows["fields"] {
		name, _ := row[fields.at("name")].(string)
		out.Fields = append(out.Fields, name)
	}
	seen := map[string]bool{}
	for _, row := range b.rows["results"] {
		name, _ := row[results.at("analyte")].(string)
		for _, c := range []string{"unit", "method"} {
			if v, _ := row[results.at(c)].(string); v != "" {
				name += ", " + v
			}
		}
		if !seen[name] {
			seen[name] = true
			out.Analytes = append(out.Analytes, name)
		}
	}
	return out
}
