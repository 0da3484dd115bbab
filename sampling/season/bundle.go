package season

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

// Bundle is a plan with what belongs to it: rows by table, their values in the order
// of its columns.
type Bundle struct {
	From    string // where it was read from
	Program string // that made it
	rows    map[string][][]any
}

// Names of the files that a season is read from.
const (
	planFile    = "plan.geojson"
	walkedFile  = "walked.geojson"
	resultsFile = "results.geojson"
	ratesFile   = "rates.geojson"
	joinFile    = "join.json"
)

// Folders reads folders one after the other.
func Folders(dirs ...string) iter.Seq2[*Bundle, error] {
	return func(yield func(*Bundle, error) bool) {
		for _, dir := range dirs {
			if !yield(ReadFolder(dir)) {
				return
			}
		}
	}
}

// ReadFolder reads the files that a run of the program has left in a folder: the
// plan, the cores as walked, the results with what the lab's file said of them,
// and the rates; each may be missing, but not both of plan and results. It fails
// where results or walked cores are of another plan, or rates of other results.
func ReadFolder(dir string) (*Bundle, error) {
	b, plan, results, err := readFigures(dir)
	if err != nil {
		return nil, err
	}
	walked, err := b.read(walkedFile)
	if err != nil {
		return nil, err
	}
	if walked != nil {
		if err := walked.madeOf(plan, "join the walk to this plan"); err != nil {
			return nil, err
		}
		b.rows["cores"] = nil
		b.layer(walked.Layer, map[string]string{"core": "cores", "waypoint": "cores"})
	}
	rates, err := b.read(ratesFile)
	if err != nil {
		return nil, err
	}
	if rates != nil {
		if err := rates.madeOf(results, "make the rates anew"); err != nil {
			return nil, err
		}
		b.layer(rates.Layer, map[string]string{"zone": "rates", "unit": "rates"})
	}
	return b, nil
}

// ReadFigures reads the plan and the results of a folder alone, as ReadFolder does.
func ReadFigures(dir string) (*Bundle, error) {
	b, _, _, err := readFigures(dir)
	return b, err
}

// readFigures returns a bundle, and the plan and the results as files, each nil
// where it is not there.
func readFigures(dir string) (b *Bundle, plan, results *file, err error) {
	info, err := os.Stat(dir)
	if err != nil {
		return nil, nil, nil, err
	}
	if !info.IsDir() {
		return nil, nil, nil, fmt.Errorf("%s is a file; give the folder of a run", dir)
	}
	b = &Bundle{From: dir, rows: map[string][][]any{}}
	if plan, err = b.read(planFile); err != nil {
		return nil, nil, nil, err
	}
	if results, err = b.read(resultsFile); err != nil {
		return nil, nil, nil, err
	}
	if plan == nil && results == nil {
		if info, err := os.Stat(filepath.Join(dir, "fields")); err == nil && info.IsDir() {
			return nil, nil, nil, fmt.Errorf("%s has no %s and no %s of its own; give the folders of its fields, which lie in %s", dir, planFile, resultsFile, filepath.Join(dir, "fields"))
		}
		return nil, nil, nil, fmt.Errorf("%s has no %s and no %s; give the folder of a run", dir, planFile, resultsFile)
	}
	ids := map[string]bool{}
	if plan != nil {
		b.layer(plan.Layer, map[string]string{"field": "fields", "exclusion": "parts", "management": "parts", "problem": "parts", "unit": "units", "core": "cores"})
		units := tableNamed("units")
		for _, row := range b.rows["units"] {
			id, _ := row[units.at("id")].(string)
			ids[id] = true
		}
		if err := results.madeOf(plan, "join the lab's file to this plan"); err != nil {
			return nil, nil, nil, err
		}
	} else {
		b.layer(results.Layer, map[string]string{"field": "fields", "exclusion": "parts", "management": "parts", "problem": "parts"})
	}
	if results != nil {
		if err := b.results(results.Layer, ids, plan != nil); err != nil {
			return nil, nil, nil, err
		}
	}
	return b, plan.forget(), results.forget(), nil
}

// file is one of a folder, with its own sha256 and those of what it was made of.
type file struct {
	*vector.Layer
	sum    string
	inputs []string
}

// forget keeps nothing but the hash.
func (f *file) forget() *file {
	if f == nil {
		return nil
	}
	return &file{Layer: &vector.Layer{Path: f.Path}, sum: f.sum}
}

// madeOf fails where a file was made of another one than that. Either may be
// missing.
func (f *file) madeOf(of *file, what string) error {
	if f == nil || of == nil || slices.Contains(f.inputs, of.sum) {
		return nil
	}
	name := filepath.Base(of.Path)
	return fmt.Errorf("%s was made of another %s than the one beside it; %s, or give the folder where both are of one run", f.Path, name, what)
}

// read reads a file of the folder; nil where it is not there. What the file says of
// itself becomes a row.
func (b *Bundle) read(name string) (*file, error) {
	path := filepath.Join(b.From, name)
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	f := &file{}
	if f.Layer, err = vector.Parse(path, data); err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	f.sum = hex.EncodeToString(sum[:])
	head := f.Foreign["corewalk"]
	if head == nil {
		return nil, fmt.Errorf("%s does not say what made it (its member corewalk is missing); give the files as the program wrote them", path)
	}
	var made struct {
		Program string
		Inputs  []struct{ SHA256 string }
	}
	if err := json.Unmarshal(head, &made); err != nil {
		return nil, fmt.Errorf("%s: its member corewalk cannot be read: %w", path, err)
	}
	if b.Program == "" {
		b.Program = made.Program
	}
	for _, in := range made.Inputs {
		f.inputs = append(f.inputs, in.SHA256)
	}
	var tight bytes.Buffer
	if err := json.Compact(&tight, head); err != nil {
		return nil, fmt.Errorf("%s: its member corewalk cannot be read: %w", path, err)
	}
	b.rows["files"] = append(b.rows["files"], []any{name, tight.String()})
	return f, nil
}

// hash is that of all rows.
func (b *Bundle) hash() string {
	x := newSums(SchemaVersion)
	for _, t := range tables() {
		for _, row := range b.rows[t.name] {
			x.row("", 1, t, row)
		}
	}
	return x.plan("", 1)
}

// layer puts features into the tables of their kinds.
func (b *Bundle) layer(l *vector.Layer, to map[string]string) {
	byName := tablesByName()
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
			return x + 0, true // not -0, which the database does not keep
		case k == whole && x == math.Trunc(x) && math.Abs(x) < 1<<53:
			return int64(x), true
		}
	}
	return nil, false
}

// told is a text as the record keeps it; NULL where there is none.
func told(s string) any {
	if s = kept(s); s == "" {
		return nil
	}
	return s
}

// kept is a text with what files of tables and of JSON keep of it: of UTF-8 alone,
// and with ends of lines that are one character.
func kept(s string) string {
	return strings.ToValidUTF8(strings.ReplaceAll(s, "\r\n", "\n"), "\uFFFD")
}

// results takes the composites and their figures. Where there is a plan, its
// samples are ids, and others are refused.
func (b *Bundle) results(l *vector.Layer, ids map[string]bool, planned bool) error {
	r, err := sampling.ReadResults(l)
	if err != nil {
		return err
	}
	replicates, err := readReplicates(filepath.Join(b.From, joinFile))
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
		if planned && !ids[c.ID] {
			return fmt.Errorf("%s has the sample %s, which is not in the %s beside it; give the folder where both are of one run", l.Path, c.ID, planFile)
		}
		at, nth := c.At, int64(i+1)
		var x, y, system any
		if c.Native != nil {
			x, y, system = c.Native.X+0, c.Native.Y+0, told(c.Native.CRS)
		}
		b.rows["composites"] = append(b.rows["composites"], []any{
			geometry{point: &at}, told(c.ID), told(c.Field), told(c.Management), told(c.Problem), number(c.Unit), number(c.Composite),
			told(c.ComparisonOf), told(c.CompareWith), told(c.Depth), x, y, system, told(strings.Join(c.Notes, "; ")), nth,
		})
		for _, f := range c.Figures {
			if math.IsNaN(f.Value) || math.IsInf(f.Value, 0) {
				continue
			}
			a := analytes[f.Analyte]
			a.Name = plainAnalyte(a.Name, c.Depth)
			n := replicates[replicateKey{c.ID, c.Depth, a.Name, a.Column}]
			if n.count == 0 {
				n = replicates[replicateKey{c.ID, "", a.Name, a.Column}]
			}
			var spread any
			if n.count > 1 {
				spread = n.spread
			}
			b.rows["results"] = append(b.rows["results"], []any{
				told(c.ID), told(c.Field), told(a.Name), told(a.Of), told(a.Column), told(a.Unit), told(a.Method), f.Value + 0, told(f.Censored), told(a.Mixed),
				number(max(n.count, 1)), spread, told(c.Depth), nth,
			})
		}
	}
	return nil
}

// plainAnalyte takes the depth off a name: in the results of a plan with depth
// layers each layer has analytes of its own, as "pH 0-2in".
func plainAnalyte(name, depth string) string {
	if short, cut := strings.CutSuffix(name, " "+depth); cut && depth != "" && short != "" {
		return short
	}
	return name
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
