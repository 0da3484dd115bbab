package season

import (
	"bufio"
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	"github.com/paulmach/orb"

	"corewalk/geo"
)

// exported is what record.json says of the files beside it.
type exported struct {
	Format int    `json:"format"`
	Digest string `json:"digest"`
}

const (
	exportFormat = 1
	exportFile   = "record.json"
	seasonsCSV   = "seasons.csv"
)

// File is a file of an export.
type File struct {
	Name  string
	Write func(io.Writer) error
}

// Export returns the files that hold all of a record: plain tables as CSV, layers
// as GeoJSON (RFC 7946), every number to its last digit. Import makes the same
// record of them.
func (r *Record) Export(ctx context.Context) ([]File, error) {
	digest, err := r.Digest(ctx)
	if err != nil {
		return nil, err
	}
	seasons, err := r.Seasons(ctx)
	if err != nil {
		return nil, err
	}
	files := []File{
		{exportFile, func(w io.Writer) error {
			e := json.NewEncoder(w)
			e.SetIndent("", "  ")
			return e.Encode(exported{exportFormat, digest})
		}},
		{seasonsCSV, func(w io.Writer) error {
			c := csv.NewWriter(w)
			rows := [][]string{{"name", "date", "lab", "program", "hash"}}
			for _, s := range seasons {
				rows = append(rows, []string{s.Name, s.Date, s.Lab, s.Program, s.Hash})
			}
			return c.WriteAll(rows)
		}},
	}
	for _, t := range tables() {
		files = append(files, File{t.file(), func(w io.Writer) error {
			if t.geometry == "" {
				return r.exportTable(ctx, w, t, seasons)
			}
			return r.exportLayer(ctx, w, t, seasons)
		}})
	}
	return files, nil
}

func (t table) file() string {
	if t.geometry == "" {
		return t.name + ".csv"
	}
	return t.name + ".geojson"
}

func (r *Record) exportTable(ctx context.Context, w io.Writer, t table, seasons []Season) error {
	c := csv.NewWriter(w)
	head := []string{"season"}
	for _, x := range t.columns {
		head = append(head, x.name)
	}
	if err := c.Write(head); err != nil {
		return err
	}
	for _, s := range seasons {
		if err := r.each(ctx, t, s.Name, func(row []any) error {
			out := []string{s.Name}
			for _, v := range row {
				out = append(out, written(v))
			}
			return c.Write(out)
		}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func written(v any) string {
	switch x := v.(type) {
	case string:
		return x
	case int64:
		return strconv.FormatInt(x, 10)
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return ""
}

func (r *Record) exportLayer(ctx context.Context, w io.Writer, t table, seasons []Season) error {
	b := bufio.NewWriter(w)
	b.WriteString("{\"type\":\"FeatureCollection\",\"features\":[")
	first := true
	for _, s := range seasons {
		if err := r.each(ctx, t, s.Name, func(row []any) error {
			if !first {
				b.WriteByte(',')
			}
			first = false
			b.WriteString("\n{\"type\":\"Feature\",\"properties\":{\"season\":")
			line, err := appendJSON(nil, s.Name)
			if err != nil {
				return err
			}
			var shape geometry
			for i, c := range t.columns {
				if g, ok := row[i].(geometry); ok {
					shape = g
					continue
				}
				line = append(line, ',')
				if line, err = appendJSON(line, c.name); err == nil {
					line, err = appendJSON(append(line, ':'), row[i])
				}
				if err != nil {
					return err
				}
			}
			line = append(line, `},"geometry":`...)
			line = append(shape.appendJSON(line), '}')
			_, err = b.Write(line)
			return err
		}); err != nil {
			return err
		}
	}
	b.WriteString("\n]}\n")
	return b.Flush()
}

func appendJSON(b []byte, v any) ([]byte, error) {
	switch x := v.(type) {
	case nil:
		return append(b, "null"...), nil
	case int64:
		return strconv.AppendInt(b, x, 10), nil
	case float64:
		return strconv.AppendFloat(b, x, 'g', -1, 64), nil
	case string:
		if plainText(x) {
			return append(append(append(b, '"'), x...), '"'), nil
		}
	}
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return append(b, bytes.TrimRight(out.Bytes(), "\n")...), nil
}

// plainText tells that a text stands in JSON as it is.
func plainText(s string) bool {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' {
			return false
		}
	}
	return true
}

func (g geometry) appendJSON(b []byte) []byte {
	position := func(p orb.Point) {
		b = append(b, '[')
		b = strconv.AppendFloat(b, p[0], 'f', -1, 64)
		b = append(b, ',')
		b = strconv.AppendFloat(b, p[1], 'f', -1, 64)
		b = append(b, ']')
	}
	list := func(n int, each func(int)) {
		b = append(b, '[')
		for i := range n {
			if i > 0 {
				b = append(b, ',')
			}
			each(i)
		}
		b = append(b, ']')
	}
	switch {
	case g.point != nil:
		b = append(b, `{"type":"Point","coordinates":`...)
		position(orb.Point(*g.point))
	case len(g.line) > 0:
		b = append(b, `{"type":"LineString","coordinates":`...)
		list(len(g.line), func(i int) { position(g.line[i]) })
	case len(g.shape) > 0:
		b = append(b, `{"type":"MultiPolygon","coordinates":`...)
		list(len(g.shape), func(i int) {
			list(len(g.shape[i]), func(k int) {
				list(len(g.shape[i][k]), func(m int) { position(g.shape[i][k][m]) })
			})
		})
	default:
		return append(b, "null"...)
	}
	return append(b, '}')
}

// Import makes a record at path, which must not be there, of the files that Export
// has written into dir. It fails where they are not whole or were changed; then
// there is no record.
func Import(ctx context.Context, dir, path string) error {
	var head exported
	data, err := os.ReadFile(filepath.Join(dir, exportFile))
	if err != nil {
		return err
	}
	if err := json.Unmarshal(data, &head); err != nil || head.Format != exportFormat {
		return fmt.Errorf("%s is not what season export has written", filepath.Join(dir, exportFile))
	}
	seasons, err := importSeasons(filepath.Join(dir, seasonsCSV))
	if err != nil {
		return err
	}
	bundles := map[string]*Bundle{}
	for _, s := range seasons {
		bundles[s.Name] = &Bundle{rows: map[string][][]any{}}
	}
	for _, t := range tables() {
		name := filepath.Join(dir, t.file())
		f, err := os.Open(name)
		if err != nil {
			return err
		}
		take := func(season string, row []any) error {
			b := bundles[season]
			if b == nil {
				return fmt.Errorf("season %q is not in %s", season, seasonsCSV)
			}
			b.rows[t.name] = append(b.rows[t.name], row)
			return nil
		}
		if t.geometry == "" {
			err = importTable(f, t, take)
		} else {
			err = importLayer(f, t, take)
		}
		f.Close()
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	return build(ctx, path, func(r *Record) error {
		for _, s := range seasons {
			b := bundles[s.Name]
			if b.hash(s) != s.Hash {
				return fmt.Errorf("season %s in %s is not as it was exported: a file was changed or is cut off", s.Name, dir)
			}
			if _, err := r.Add(ctx, s, *b, false); err != nil {
				return err
			}
		}
		digest, err := r.Digest(ctx)
		if err == nil && digest != head.Digest {
			err = fmt.Errorf("the files in %s are not those of one export", dir)
		}
		return err
	})
}

func importSeasons(path string) ([]Season, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) == 0 || len(rows[0]) != 5 {
		return nil, fmt.Errorf("%s is not a table of seasons: %w", path, errors.Join(err))
	}
	var out []Season
	for _, r := range rows[1:] {
		out = append(out, Season{r[0], r[1], r[2], r[3], r[4]})
	}
	return out, nil
}

func importTable(f io.Reader, t table, take func(string, []any) error) error {
	c := csv.NewReader(bufio.NewReader(f))
	head, err := c.Read()
	if err != nil {
		return err
	}
	if len(head) != len(t.columns)+1 {
		return fmt.Errorf("it has %d columns, not %d", len(head), len(t.columns)+1)
	}
	for {
		cells, err := c.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		row := make([]any, len(t.columns))
		for i, x := range t.columns {
			if row[i], err = parsed(x, cells[i+1]); err != nil {
				line, _ := c.FieldPos(i + 1)
				return fmt.Errorf("line %d: %w", line, err)
			}
		}
		if err := take(cells[0], row); err != nil {
			return err
		}
	}
}

func parsed(c column, s string) (any, error) {
	if s == "" {
		return nil, nil
	}
	var v any = s
	var err error
	switch c.kind {
	case whole:
		v, err = strconv.ParseInt(s, 10, 64)
	case float:
		v, err = strconv.ParseFloat(s, 64)
	}
	if err != nil {
		return nil, fmt.Errorf("column %s has %q, which is no number", c.name, s)
	}
	return v, nil
}

// importLayer reads features one by one.
func importLayer(f io.Reader, t table, take func(string, []any) error) error {
	d := json.NewDecoder(bufio.NewReader(f))
	bad := errors.New("it is not a layer that season export has written")
	for _, want := range []any{json.Delim('{'), "type", "FeatureCollection", "features", json.Delim('[')} {
		if token, err := d.Token(); err != nil || token != want {
			return bad
		}
	}
	for n := 1; d.More(); n++ {
		var x struct {
			Properties map[string]json.RawMessage
			Geometry   *struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
		if err := d.Decode(&x); err != nil {
			return fmt.Errorf("feature %d: %w", n, err)
		}
		var season string
		if err := json.Unmarshal(x.Properties["season"], &season); err != nil {
			return fmt.Errorf("feature %d has no season", n)
		}
		row := make([]any, len(t.columns))
		for i, c := range t.columns {
			var err error
			switch raw := x.Properties[c.name]; {
			case c.kind == shape:
				g := geometry{}
				if x.Geometry != nil {
					g, err = parseJSON(x.Geometry.Type, x.Geometry.Coordinates)
				}
				row[i] = g
			case len(raw) == 0 || string(raw) == "null":
			case c.kind == text:
				var s string
				err = json.Unmarshal(raw, &s)
				row[i] = s
			default:
				row[i], err = parsed(c, string(raw))
			}
			if err != nil {
				return fmt.Errorf("feature %d, %s: %w", n, c.name, err)
			}
		}
		if err := take(season, row); err != nil {
			return fmt.Errorf("feature %d: %w", n, err)
		}
	}
	for _, want := range []any{json.Delim(']'), json.Delim('}')} {
		if token, err := d.Token(); err != nil || token != want {
			return bad
		}
	}
	return nil
}

// parseJSON reads coordinates, and checks them as those of a blob.
func parseJSON(kind string, raw json.RawMessage) (geometry, error) {
	var g geometry
	var err error
	switch kind {
	case "Point":
		var p [2]float64
		if err = json.Unmarshal(raw, &p); err == nil {
			at := geo.LonLat(p)
			g.point = &at
		}
	case "LineString":
		err = json.Unmarshal(raw, &g.line)
	case "MultiPolygon":
		err = json.Unmarshal(raw, &g.shape)
	default:
		err = fmt.Errorf("a geometry of type %q", kind)
	}
	if err != nil || g.empty() {
		return geometry{}, errors.Join(err)
	}
	return parseGeometry(g.appendBlob(nil))
}
