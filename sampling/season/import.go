package season

import (
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
)

// Import makes a record at path, which must not be there, of the files that Export
// has written into dir. It fails where they are not whole or were changed; then
// there is no record.
func Import(ctx context.Context, dir, path string) error {
	x := importing{dir: dir}
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return fmt.Errorf("%s is a file; give the folder that season export has written", dir)
	}
	data, err := os.ReadFile(filepath.Join(dir, exportFile))
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s has no %s; give the folder that season export has written", dir, exportFile)
	}
	if err != nil {
		return err
	}
	if err := json.Unmarshal(data, &x.head); err != nil || x.head.Format < 1 || x.head.Digest == "" {
		return fmt.Errorf("%s is not what season export has written", filepath.Join(dir, exportFile))
	}
	x.version = SchemaVersion
	switch {
	case x.head.Format == 1:
		x.version = 2
	case x.head.Format > exportFormat:
		return fmt.Errorf("%s was written by a later version of the program (format %d, and %d are known); take that one", filepath.Join(dir, exportFile), x.head.Format, exportFormat)
	}
	if err := x.readSeasons(); err != nil {
		return err
	}
	return build(ctx, path, x.version, func(r *Record) error {
		return r.change(ctx, func(tx *sql.Tx) error { return x.into(ctx, tx) })
	})
}

// importing is an export on its way into a record.
type importing struct {
	dir     string
	head    exported
	version int // of the tables
	seasons []Season
	plans   map[string][]string // hashes of the plans of each season
}

func (x *importing) readSeasons() error {
	x.plans = map[string][]string{}
	if err := x.csv(seasonsCSV, []string{"name", "date", "lab", "program", "hash"}, func(c []string) error {
		if _, twice := x.plans[c[0]]; twice || c[0] == "" {
			return fmt.Errorf("the season %q stands there twice, or has no name", c[0])
		}
		x.plans[c[0]] = nil
		x.seasons = append(x.seasons, Season{c[0], c[1], c[2], c[3], c[4]})
		return nil
	}); err != nil || x.version < 3 {
		return err
	}
	return x.csv(plansCSV, []string{"season", "plan", "hash"}, func(c []string) error {
		list, known := x.plans[c[0]]
		if !known {
			return fmt.Errorf("the season %q is not in %s", c[0], seasonsCSV)
		}
		if c[1] != strconv.Itoa(len(list)+1) {
			return fmt.Errorf("season %s has no plan %d", c[0], len(list)+1)
		}
		x.plans[c[0]] = append(list, c[2])
		return nil
	})
}

// into reads the files into the tables.
func (x *importing) into(ctx context.Context, tx *sql.Tx) error {
	to := newInserter(ctx, tx, x.version)
	defer to.close()
	sums := newSums(x.version)
	for _, s := range x.seasons {
		sums.begin(s)
	}
	for _, t := range tablesAt(x.version) {
		sums.table(t)
		take := func(season string, plan int, row []any) error {
			plans, known := x.plans[season]
			switch {
			case !known:
				return fmt.Errorf("the season %q is not in %s", season, seasonsCSV)
			case x.version > 2 && (plan < 1 || plan > len(plans)):
				return fmt.Errorf("season %s has no plan %d", season, plan)
			}
			sums.row(season, plan, t, row)
			return to.add(season, plan, t, row)
		}
		if t.geometry != "" {
			if err := x.layer(t, take); err != nil {
				return err
			}
			continue
		}
		names, from := []string{"season"}, 1
		if x.version > 2 {
			names, from = append(names, "plan"), 2
		}
		for _, c := range t.columns {
			names = append(names, c.name)
		}
		if err := x.csv(t.file(), names, func(cells []string) error {
			plan, err := 0, error(nil)
			if from > 1 {
				if plan, err = strconv.Atoi(cells[1]); err != nil {
					return fmt.Errorf("the plan %q is no number", cells[1])
				}
			}
			row := make([]any, len(t.columns))
			for i, c := range t.columns {
				if row[i], err = parsed(c, cells[from+i]); err != nil {
					return err
				}
			}
			return take(cells[0], plan, row)
		}); err != nil {
			return err
		}
	}
	if err := to.close(); err != nil {
		return err
	}
	for _, s := range x.seasons {
		if !sums.check(s, x.plans[s.Name]) {
			return x.changed(s)
		}
		plans := x.plans[s.Name]
		if err := insertSeason(ctx, tx, s, plans); err != nil {
			return err
		}
	}
	if digestOf(x.seasons) != x.head.Digest {
		return fmt.Errorf("the files in %s are not those of one export: %s and %s do not go together", x.dir, exportFile, seasonsCSV)
	}
	return widen(ctx, tx, to.bounds)
}

// changed says that a season is not as it was exported, and which file tells so.
func (x *importing) changed(s Season) error {
	names := []string{seasonsCSV, plansCSV}
	for _, t := range tables() {
		names = append(names, t.file())
	}
	for _, name := range names {
		want, known := x.head.Files[name]
		if !known {
			continue // of an earlier format
		}
		f, err := x.open(name)
		if err != nil {
			return err
		}
		sum := sha256.New()
		_, err = io.Copy(sum, f)
		f.Close()
		if err == nil && hex.EncodeToString(sum.Sum(nil)) != want {
			return fmt.Errorf("season %s is not as it was exported: %s was changed or is cut off", s.Name, f.Name())
		}
	}
	return fmt.Errorf("season %s in %s is not as it was exported: a file was changed or is cut off", s.Name, x.dir)
}

func (x *importing) open(name string) (*os.File, error) {
	f, err := os.Open(filepath.Join(x.dir, name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s is missing; the export is not whole", filepath.Join(x.dir, name))
	}
	return f, err
}

// csv reads a table row by row. Its head must have these names.
func (x *importing) csv(name string, names []string, take func(cells []string) error) error {
	f, err := x.open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	path := filepath.Join(x.dir, name)
	c := csv.NewReader(bufio.NewReaderSize(f, 1<<16))
	c.FieldsPerRecord, c.ReuseRecord = -1, true
	for n := 0; ; n++ {
		cells, err := c.Read()
		if errors.Is(err, io.EOF) && n > 0 {
			return nil
		}
		if errors.Is(err, io.EOF) {
			return fmt.Errorf("%s is empty; the export is not whole", path)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		line, _ := c.FieldPos(0)
		switch {
		case n == 0 && !slices.Equal(cells, names):
			return fmt.Errorf("%s has other columns than season export writes; export anew", path)
		case n == 0:
			continue
		case len(cells) != len(names):
			return fmt.Errorf("%s: line %d has %d columns, not %d", path, line, len(cells), len(names))
		}
		if err := take(cells); err != nil {
			return fmt.Errorf("%s: line %d: %w", path, line, err)
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

// layer reads the features of a layer one by one.
func (x *importing) layer(t table, take func(season string, plan int, row []any) error) error {
	f, err := x.open(t.file())
	if err != nil {
		return err
	}
	defer f.Close()
	path := filepath.Join(x.dir, t.file())
	d := newFeatures(f)
	for n := 1; ; n++ {
		feature, err := d.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if errors.Is(err, errLayer) {
			return fmt.Errorf("%s %w", path, err)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		season, plan, row, err := featureRow(feature, t, x.version)
		if err == nil {
			err = take(season, plan, row)
		}
		if err != nil {
			return fmt.Errorf("%s: feature %d: %w", path, n, err)
		}
	}
}
