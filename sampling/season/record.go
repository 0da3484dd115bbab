package season

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite"
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
	// Every change is on the disk before it counts, and no journal stays beside.
	r, err := open(path, "journal_mode(DELETE)", "synchronous(FULL)")
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
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return fmt.Errorf("%s is a folder; give the file of a record, as farm.gpkg", path)
	}
	head := make([]byte, 100)
	if _, err := io.ReadFull(f, head); err != nil || !bytes.HasPrefix(head, []byte("SQLite format 3\x00")) {
		return fmt.Errorf("%s is not a GeoPackage; give the record that season add has made", path)
	}
	return nil
}

func open(path string, pragmas ...string) (*Record, error) {
	if err := registerFunctions(); err != nil {
		return nil, err
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	name := filepath.ToSlash(abs)
	if !strings.HasPrefix(name, "/") {
		name = "/" + name // a drive letter
	}
	// Whoever deletes a season deletes its rows; the check of every row that it has a
	// season would cost as much as to write it.
	q := url.Values{"_pragma": append(pragmas, "busy_timeout(5000)", "foreign_keys(0)"), "_txlock": {"immediate"}}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: name, RawQuery: q.Encode()}).String())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, plain(err))
	}
	db.SetMaxOpenConns(1)
	return &Record{db, path}, nil
}

// plain takes SQLite's own words of a full disk and the like to those of a person.
func plain(err error) error {
	var own *sqlite.Error
	if !errors.As(err, &own) {
		return err
	}
	s := own.Error()
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
	if err := r.change(ctx, func(tx *sql.Tx) error { return migrate(ctx, tx, version, SchemaVersion) }); err != nil {
		return fmt.Errorf("its tables are of an earlier version and cannot be brought up to date: %w", plain(err))
	}
	return nil
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

// Create makes a record at path, which must not be there, and fills it. It is whole
// or not there at all, whatever happens on the way. Who calls keeps others from
// making it meanwhile.
func Create(ctx context.Context, path string, fill func(*Record) error) error {
	return build(ctx, path, SchemaVersion, fill)
}

// build makes a record beside path, with tables of an earlier version that are
// brought up to date after they are filled, and puts it in its place.
func build(ctx context.Context, path string, version int, fill func(*Record) error) error {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s is there already", path)
	}
	// What one that was killed left behind goes first.
	beside := "." + filepath.Base(path) + "-"
	if entries, err := os.ReadDir(filepath.Dir(path)); err == nil {
		for _, e := range entries {
			if e.IsDir() && strings.HasPrefix(e.Name(), beside) {
				os.RemoveAll(filepath.Join(filepath.Dir(path), e.Name()))
			}
		}
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), beside)
	if err != nil {
		return fmt.Errorf("%s cannot be made: %w", path, err)
	}
	defer os.RemoveAll(dir)
	temporary := filepath.Join(dir, "record.gpkg")
	// A file that is not filled to the end is thrown away, so it needs no journal.
	r, err := open(temporary, "journal_mode(OFF)", "synchronous(OFF)")
	if err != nil {
		return err
	}
	r.path = path
	err = r.change(ctx, func(tx *sql.Tx) error {
		for _, statements := range [][]string{standardTables(), createTables(), register()} {
			if err := execute(ctx, tx, statements); err != nil {
				return err
			}
		}
		return migrate(ctx, tx, 1, version)
	})
	if err != nil {
		err = fmt.Errorf("%s cannot be made: %w", path, plain(err))
	}
	if err == nil {
		err = fill(r)
	}
	if err == nil {
		err = r.check(ctx)
	}
	if closed := r.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return err
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
	out, err := seasonsOf(ctx, r.db)
	if err != nil {
		return nil, r.fault(err)
	}
	return out, nil
}

// fault says which record it is about.
func (r *Record) fault(err error) error { return fmt.Errorf("%s: %w", r.path, plain(err)) }

func seasonsOf(ctx context.Context, q querier) ([]Season, error) {
	rows, err := q.QueryContext(ctx, "SELECT name, coalesce(date, ''), coalesce(lab, ''), coalesce(program, ''), hash FROM seasons ORDER BY coalesce(date, name), name")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []Season
	for rows.Next() {
		var s Season
		if err := rows.Scan(&s.Name, &s.Date, &s.Lab, &s.Program, &s.Hash); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, rows.Err()
}

// plansOf returns the hashes of the plans of a season.
func plansOf(ctx context.Context, q querier, season string) ([]string, error) {
	rows, err := q.QueryContext(ctx, "SELECT plan, hash FROM plans WHERE season = ? ORDER BY plan", season)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var n int
		var hash string
		if err := rows.Scan(&n, &hash); err != nil {
			return nil, err
		}
		if out = append(out, hash); n != len(out) {
			return nil, fmt.Errorf("season %s has no plan %d", season, len(out))
		}
	}
	return out, rows.Err()
}

// Digest is a hash of all content: two records with the same one are the same,
// whatever their files look like. It fails where somebody has edited the file.
func (r *Record) Digest(ctx context.Context) (string, error) {
	seasons, err := r.Seasons(ctx)
	if err != nil {
		return "", err
	}
	for _, s := range seasons {
		plans, err := plansOf(ctx, r.db, s.Name)
		if err != nil {
			return "", r.fault(err)
		}
		x := newSums(SchemaVersion)
		if err := x.read(ctx, r.db, s); err != nil {
			return "", r.fault(err)
		}
		if !x.check(s, plans) {
			return "", r.edited(s)
		}
	}
	return digestOf(seasons), nil
}

func (r *Record) edited(s Season) error {
	return fmt.Errorf("%s: season %s is not as it was added: another program has edited the file; put the season in anew with season add --replace", r.path, s.Name)
}
