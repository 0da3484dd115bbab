package season

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"io"
	"strconv"

	"github.com/paulmach/orb"
)

// exported is what record.json says of the files beside it.
type exported struct {
	Format int               `json:"format"`
	Digest string            `json:"digest"`
	Files  map[string]string `json:"files,omitempty"` // sha256 of each, to say which was changed; since format 2
}

// exportFormat is that of the files that are written; 1 is read as well: it has no
// plans, and its tables are those of schema version 2.
const exportFormat = 2

const (
	exportFile = "record.json"
	seasonsCSV = "seasons.csv"
	plansCSV   = "plans.csv"
)

// Export writes the files that hold all of a record: plain tables as CSV, layers
// as GeoJSON (RFC 7946), every number to its last digit. Import makes the same
// record of them. create is called for one file after the other; nothing is to be
// kept of them where Export fails, which it does where somebody has edited the
// record.
func (r *Record) Export(ctx context.Context, create func(name string, write func(io.Writer) error) error) error {
	seasons, err := r.Seasons(ctx)
	if err != nil {
		return err
	}
	head := exported{exportFormat, digestOf(seasons), map[string]string{}}
	put := func(name string, write func(io.Writer) error) error {
		return create(name, func(w io.Writer) error {
			sum := sha256.New()
			b := bufio.NewWriterSize(io.MultiWriter(w, sum), 1<<16)
			if err := write(b); err != nil {
				return err
			}
			if err := b.Flush(); err != nil {
				return err
			}
			head.Files[name] = hex.EncodeToString(sum.Sum(nil))
			return nil
		})
	}
	x := newSums(SchemaVersion)
	for _, t := range tables() {
		writeAll := writeTable
		if t.geometry != "" {
			writeAll = writeLayer
		}
		if err := put(t.file(), func(w io.Writer) error {
			return writeAll(w, t, func(do func(string, int, []any) error) error {
				for _, s := range seasons {
					if err := each(ctx, r.db, SchemaVersion, t, s.Name, func(plan int, row []any) error {
						x.row(s.Name, plan, t, row)
						return do(s.Name, plan, row)
					}); err != nil {
						return r.fault(err)
					}
				}
				return nil
			})
		}); err != nil {
			return err
		}
	}
	rounds := [][]string{{"name", "date", "lab", "program", "hash"}}
	parts := [][]string{{"season", "plan", "hash"}}
	for _, s := range seasons {
		plans, err := plansOf(ctx, r.db, s.Name)
		if err != nil {
			return r.fault(err)
		}
		if !x.check(s, plans) {
			return r.edited(s)
		}
		rounds = append(rounds, []string{s.Name, s.Date, s.Lab, s.Program, s.Hash})
		for i, h := range plans {
			parts = append(parts, []string{s.Name, strconv.Itoa(i + 1), h})
		}
	}
	if err := put(seasonsCSV, func(w io.Writer) error { return csv.NewWriter(w).WriteAll(rounds) }); err != nil {
		return err
	}
	if err := put(plansCSV, func(w io.Writer) error { return csv.NewWriter(w).WriteAll(parts) }); err != nil {
		return err
	}
	return create(exportFile, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(head)
	})
}

func (t table) file() string {
	if t.geometry == "" {
		return t.name + ".csv"
	}
	return t.name + ".geojson"
}

// all gives the rows of all seasons in a table.
type all func(do func(season string, plan int, row []any) error) error

func writeTable(w io.Writer, t table, rows all) error {
	c := csv.NewWriter(w)
	line := []string{"season", "plan"}
	for _, x := range t.columns {
		line = append(line, x.name)
	}
	if err := c.Write(line); err != nil {
		return err
	}
	if err := rows(func(season string, plan int, row []any) error {
		line = append(line[:0], season, strconv.Itoa(plan))
		for _, v := range row {
			line = append(line, written(v))
		}
		return c.Write(line)
	}); err != nil {
		return err
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

func writeLayer(w io.Writer, t table, rows all) error {
	var names [][]byte // of columns, as they stand in the file
	for _, c := range t.columns {
		name, err := appendJSON([]byte{','}, c.name)
		if err != nil {
			return err
		}
		names = append(names, append(name, ':'))
	}
	line := []byte("{\"type\":\"FeatureCollection\",\"features\":[")
	first := true
	if err := rows(func(season string, plan int, row []any) error {
		if !first {
			line = append(line, ',')
		}
		first = false
		line = append(line, "\n{\"type\":\"Feature\",\"properties\":{\"season\":"...)
		var err error
		if line, err = appendJSON(line, season); err != nil {
			return err
		}
		line = strconv.AppendInt(append(line, `,"plan":`...), int64(plan), 10)
		var shape geometry
		for i := range t.columns {
			if g, ok := row[i].(geometry); ok {
				shape = g
				continue
			}
			if line, err = appendJSON(append(line, names[i]...), row[i]); err != nil {
				return err
			}
		}
		line = append(line, `},"geometry":`...)
		line = append(shape.appendJSON(line), '}')
		_, err = w.Write(line)
		line = line[:0]
		return err
	}); err != nil {
		return err
	}
	_, err := w.Write(append(line, "\n]}\n"...))
	return err
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
