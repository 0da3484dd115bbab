package season

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	_ "modernc.org/sqlite" // SQLite in Go
)

// Record is an open record. It is for one goroutine at a time.
type Record struct {
	db   *sql.DB
	path string
}

// Open opens a record, rolls back what a crash left half done, and brings tables
// of an earlier version of the program up to date. It fails where the file is no
// record, or one of a later version. Close it after use.
func Open(ctx context.Context, path string) (*Record, error) {
	if err := looksRight(path); err != nil {
		return nil, err
	}
	r, err := open(path)
	if err != nil {
		return nil, err
	}
	if err := r.check(ctx); err != nil {
		r.Close()
		return nil, fmt.Errorf("%s: %w", path, plain(err))
	}
	return r, nil
}

// looksRight looks at the head of a file before SQLite does.
func looksRight(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, 100)
	if _, err := io.ReadFull(f, head); err != nil || !bytes.HasPrefix(head, []byte("SQLite format 3\x00")) {
		return fmt.Errorf("%s is not a GeoPackage; give the record that season add has made", path)
	}
	return nil
}

func open(path string) (*Record, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	name := filepath.ToSlash(abs)
	if !strings.HasPrefix(name, "/") {
		name = "/" + name // a drive letter
	}
	// Every change is on the disk before it counts, and no journal stays beside.
	q := url.Values{"_pragma": {"busy_timeout(5000)", "journal_mode(DELETE)", "synchronous(FULL)", "foreign_keys(1)"}, "_txlock": {"immediate"}}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: name, RawQuery: q.Encode()}).String())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, plain(err))
	}
	db.SetMaxOpenConns(1)
	return &Record{db, path}, nil
}

// plain takes SQLite's own words of a full disk and the like to those of a person.
func plain(err error) error {
	if err == nil {
		return nil
	}
	s := err.Error()
	for _, c := range [][2]string{
		{"disk is full", "the disk is full; nothing was changed"},
		{"disk I/O error", "it cannot be read or written to the end (is the disk full, or gone?); nothing was changed"},
		{"readonly", "it is read-only; nothing was changed"},
		{"malformed", "it is damaged: give a copy of it, or what season export wrote to season import"},
		{"not a database", "it is not a GeoPackage"},
		{"locked", "another program is using it; wait until it is done"},
	} {
		if strings.Contains(s, c[0]) {
			return errors.New(c[1])
		}
	}
	return err
}

// Close closes the record.
func (r *Record) Close() error { return r.db.Close() }

// check looks at what the file is, and migrates it.
func (r *Record) check(ctx context.Context) error {
	var id int64
	if err := r.db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return err
	}
	var n int
	if err := r.db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name IN ('corewalk_record', 'seasons', 'gpkg_contents')").Scan(&n); err != nil {
		return err
	}
	if id != applicationID || n != 3 {
		return errors.New("it is a database, but not a record of seasons; give the file that season add has made")
	}
	var version int
	if err := r.db.QueryRowContext(ctx, "SELECT version FROM corewalk_record").Scan(&version); err != nil {
		return err
	}
	switch {
	case version > SchemaVersion:
		return fmt.Errorf("it was written by a later version of the program (tables of version %d, and %d are known); take that one", version, SchemaVersion)
	case version < 1:
		return fmt.Errorf("its tables are of version %d, which is none", version)
	case version == SchemaVersion:
		return nil
	}
	return r.change(ctx, func(tx *sql.Tx) error {
		for _, step := range migrations()[version-1:] {
			if err := execute(ctx, tx, step); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, "UPDATE corewalk_record SET version = ?", SchemaVersion)
		return err
	})
}

func execute(ctx context.Context, tx *sql.Tx, statements []string) error {
	for _, s := range statements {
		if _, err := tx.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// change does something in one transaction.
func (r *Record) change(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := r.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := do(tx); err != nil {
		tx.Rollback()
		return err
	}
	return tx.Commit()
}

// Create makes an empty record at path, which must not be there. It is whole or
// not there at all, whatever happens on the way.
func Create(ctx context.Context, path string) (*Record, error) {
	if err := build(ctx, path, func(*Record) error { return nil }); err != nil {
		return nil, err
	}
	return Open(ctx, path)
}

// build makes a record beside path, fills it and puts it in its place.
func build(ctx context.Context, path string, fill func(*Record) error) error {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s is there already", path)
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), ".corewalk-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	temporary := filepath.Join(dir, "record.gpkg")
	r, err := open(temporary)
	if err != nil {
		return err
	}
	err = r.change(ctx, func(tx *sql.Tx) error {
		if err := execute(ctx, tx, standardTables()); err != nil {
			return err
		}
		if err := execute(ctx, tx, createTables()); err != nil {
			return err
		}
		if err := register(ctx, tx); err != nil {
			return err
		}
		return updateContents(ctx, tx)
	})
	if err == nil {
		err = r.check(ctx)
	}
	if err == nil {
		err = fill(r)
	}
	if closed := r.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return fmt.Errorf("%s cannot be made: %w", path, plain(err))
	}
	if err := os.Chmod(temporary, 0o644); err != nil {
		return err
	}
	if err := syncFile(temporary); err != nil {
		return err
	}
	// A link fails where somebody else was faster; a rename would not.
	if err := os.Link(temporary, path); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return fmt.Errorf("%s is there already", path)
		}
		return os.Rename(temporary, path)
	}
	return nil
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	err = f.Sync()
	if e := f.Close(); err == nil {
		err = e
	}
	return err
}

// Seasons lists the seasons by date, those without one by their name, which mostly
// begins with the year.
func (r *Record) Seasons(ctx context.Context) ([]Season, error) {
	rows, err := r.db.QueryContext(ctx, "SELECT name, coalesce(date, ''), coalesce(lab, ''), coalesce(program, ''), hash FROM seasons ORDER BY coalesce(date, name), name")
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.path, plain(err))
	}
	defer rows.Close()
	var out []Season
	for rows.Next() {
		var s Season
		if err := rows.Scan(&s.Name, &s.Date, &s.Lab, &s.Program, &s.Hash); err != nil {
			return nil, fmt.Errorf("%s: %w", r.path, plain(err))
		}
		out = append(out, s)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", r.path, plain(err))
	}
	return out, nil
}

// Add adds a season, and reports whether it was not there yet: one of the same
// content is left as it is. It fails where the record has a season of the same name
// with other content, unless replace is set, and then the old one goes. All of it is
// one transaction.
func (r *Record) Add(ctx context.Context, s Season, b Bundle, replace bool) (added bool, err error) {
	if strings.TrimSpace(s.Name) == "" {
		return false, errors.New("a season needs a name")
	}
	s.Hash = b.hash(s)
	err = r.change(ctx, func(tx *sql.Tx) error {
		var name, hash string
		switch err := tx.QueryRowContext(ctx, "SELECT name, hash FROM seasons WHERE hash = ? OR name = ? ORDER BY hash = ? DESC", s.Hash, s.Name, s.Hash).Scan(&name, &hash); {
		case errors.Is(err, sql.ErrNoRows):
		case err != nil:
			return err
		case hash == s.Hash:
			return nil
		case !replace:
			return fmt.Errorf("it has another season %q; give a name of its own, or replace that one", s.Name)
		default:
			if _, err := tx.ExecContext(ctx, "DELETE FROM seasons WHERE name = ?", s.Name); err != nil {
				return err
			}
		}
		added = true
		if err := insert(ctx, tx, s, b); err != nil {
			return err
		}
		return updateContents(ctx, tx)
	})
	if err != nil {
		return false, fmt.Errorf("%s: %w", r.path, plain(err))
	}
	return added, nil
}

func orNull(s string) any {
	if s == "" {
		return nil
	}
	return s
}

func insert(ctx context.Context, tx *sql.Tx, s Season, b Bundle) error {
	if _, err := tx.ExecContext(ctx, "INSERT INTO seasons (name, date, lab, program, hash) VALUES (?, ?, ?, ?, ?)", s.Name, orNull(s.Date), orNull(s.Lab), orNull(s.Program), s.Hash); err != nil {
		return err
	}
	for _, t := range tables() {
		var names, marks []string
		for _, c := range t.columns {
			names, marks = append(names, quoted(c.name)), append(marks, "?")
		}
		// Many rows to a statement: each statement is parsed anew.
		const atOnce = 50
		start := fmt.Sprintf("INSERT INTO %s (%s, season) VALUES ", quoted(t.name), strings.Join(names, ", "))
		one := "(" + strings.Join(marks, ", ") + ", ?)"
		for rows := range slices.Chunk(b.rows[t.name], atOnce) {
			var values []any
			for _, row := range rows {
				for _, v := range row {
					if g, ok := v.(geometry); ok {
						if v = nil; !g.empty() {
							v = g.appendBlob(nil)
						}
					}
					values = append(values, v)
				}
				values = append(values, s.Name)
			}
			if _, err := tx.ExecContext(ctx, start+strings.Repeat(one+", ", len(rows)-1)+one, values...); err != nil {
				return err
			}
		}
	}
	return nil
}

// Bundle reads a season back.
func (r *Record) Bundle(ctx context.Context, name string) (Bundle, error) {
	b := Bundle{rows: map[string][][]any{}}
	for _, t := range tables() {
		if err := r.each(ctx, t, name, func(row []any) error {
			b.rows[t.name] = append(b.rows[t.name], row)
			return nil
		}); err != nil {
			return b, err
		}
	}
	return b, nil
}

// each does something with every row of a season in a table, in their order.
func (r *Record) each(ctx context.Context, t table, season string, do func([]any) error) error {
	var names []string
	for _, c := range t.columns {
		names = append(names, quoted(c.name))
	}
	rows, err := r.db.QueryContext(ctx, fmt.Sprintf("SELECT %s FROM %s WHERE season = ? ORDER BY fid", strings.Join(names, ", "), quoted(t.name)), season)
	if err != nil {
		return fmt.Errorf("%s: table %s: %w", r.path, t.name, plain(err))
	}
	defer rows.Close()
	for rows.Next() {
		row, targets := make([]any, len(t.columns)), make([]any, len(t.columns))
		for i := range row {
			targets[i] = &row[i]
		}
		if err := rows.Scan(targets...); err != nil {
			return fmt.Errorf("%s: table %s: %w", r.path, t.name, plain(err))
		}
		for i, c := range t.columns {
			if row[i], err = typed(c, row[i]); err != nil {
				return fmt.Errorf("%s: table %s, season %s: %w", r.path, t.name, season, err)
			}
		}
		if err := do(row); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("%s: table %s: %w", r.path, t.name, plain(err))
	}
	return nil
}

// typed brings a value of the database to what its column holds.
func typed(c column, v any) (any, error) {
	switch x := v.(type) {
	case nil:
		if c.kind == shape {
			return geometry{}, nil
		}
		return nil, nil
	case []byte:
		if c.kind == shape {
			return parseGeometry(x)
		}
		if c.kind == text {
			return string(x), nil
		}
	case string:
		if c.kind == text {
			return x, nil
		}
	case int64:
		switch c.kind {
		case whole:
			return x, nil
		case float:
			return float64(x), nil
		}
	case float64:
		if c.kind == float {
			return x, nil
		}
	}
	return nil, fmt.Errorf("column %s has a value of another kind (%T)", c.name, v)
}

// Digest is a hash of all content: two records with the same one are the same,
// whatever their files look like.
func (r *Record) Digest(ctx context.Context) (string, error) {
	seasons, err := r.Seasons(ctx)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	for _, s := range seasons {
		b, err := r.Bundle(ctx, s.Name)
		if err != nil {
			return "", err
		}
		h := b.hash(s)
		if h != s.Hash {
			return "", fmt.Errorf("%s: season %s is not as it was added: somebody has edited the file", r.path, s.Name)
		}
		fmt.Fprintln(sum, h)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// hash is that of a season's name, date, lab, program and content.
func (b Bundle) hash(s Season) string {
	sum := hasher{Hash: sha256.New()}
	for _, v := range []string{s.Name, s.Date, s.Lab, s.Program} {
		sum.value(v)
	}
	for _, t := range tables() {
		sum.value(t.name)
		for _, row := range b.rows[t.name] {
			for _, v := range row {
				sum.value(v)
			}
		}
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// hasher takes values with their kinds and lengths.
type hasher struct {
	hash.Hash
	head, body []byte
}

func (h *hasher) value(v any) {
	kind := byte('n')
	h.body = h.body[:0]
	switch x := v.(type) {
	case string:
		kind, h.body = 't', append(h.body, x...)
	case int64:
		kind, h.body = 'i', binary.LittleEndian.AppendUint64(h.body, uint64(x))
	case float64:
		kind, h.body = 'f', binary.LittleEndian.AppendUint64(h.body, math.Float64bits(x))
	case geometry:
		if !x.empty() {
			kind, h.body = 'g', x.appendBlob(h.body)
		}
	}
	h.head = binary.LittleEndian.AppendUint64(append(h.head[:0], kind), uint64(len(h.body)))
	h.Write(h.head)
	h.Write(h.body)
}

// Observations returns the figures of all seasons, in their order.
func (r *Record) Observations(ctx context.Context) ([]Season, []Observation, error) {
	seasons, err := r.Seasons(ctx)
	if err != nil {
		return nil, nil, err
	}
	var out []Observation
	for _, s := range seasons {
		b, err := r.Bundle(ctx, s.Name)
		if err != nil {
			return nil, nil, err
		}
		of, err := b.Observations(s)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", r.path, err)
		}
		out = append(out, of...)
	}
	return seasons, out, nil
}
