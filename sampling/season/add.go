package season

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
)

// errUnchanged ends a transaction in which nothing was to be done.
var errUnchanged = errors.New("unchanged")

// Add adds a season of one plan or more, each with what belongs to it, and reports
// whether anything was changed: plans that the season has are left as they are. A
// bundle that comes twice is taken once. Plans are taken one after the other, so
// that one is in memory at a time; all of them are one transaction.
//
// It fails where the record has a season of the same name with other plans, unless
// replace is set, and then the old one goes; and where sampling units of two plans
// have the same id.
func (r *Record) Add(ctx context.Context, s Season, plans iter.Seq2[*Bundle, error], replace bool) (added bool, err error) {
	for _, text := range []*string{&s.Name, &s.Date, &s.Lab, &s.Program} {
		*text = kept(*text)
	}
	if strings.TrimSpace(s.Name) == "" || strings.Contains(s.Name, "\x00") {
		return false, errors.New("a season needs a name")
	}
	var refused error // of a plan, not of the record
	err = r.change(ctx, func(tx *sql.Tx) error {
		a := adding{Season: s, ids: map[string]owner{}}
		there, err := a.find(ctx, tx)
		if err != nil {
			return err
		}
		if there && replace {
			if err := removeRows(ctx, tx, s.Name); err != nil {
				return err
			}
		}
		if !there || replace {
			a.to = newInserter(ctx, tx, SchemaVersion)
			defer a.to.close()
		}
		for b, err := range plans {
			sum := ""
			if err == nil {
				if sum = b.hash(); slices.Contains(a.hashes, sum) {
					continue
				}
				err = a.claim(b)
			}
			if err != nil {
				refused = err
				return err
			}
			if err := a.take(b, sum); err != nil {
				return err
			}
		}
		if len(a.hashes) == 0 {
			refused = errors.New("there is nothing to add")
			return refused
		}
		a.Hash = seasonHash(a.Season, a.hashes)
		switch {
		case there && a.old.Hash == a.Hash:
			return errUnchanged
		case there && !replace:
			if a.partOf() {
				return errUnchanged
			}
			return fmt.Errorf("it has another season %q; give a name of its own, or replace that one with all of its folders at once", s.Name)
		}
		return a.finish(ctx, tx, there)
	})
	switch {
	case errors.Is(err, errUnchanged):
		return false, nil
	case refused != nil:
		return false, refused
	case err != nil:
		return false, r.fault(err)
	}
	return true, nil
}

// adding is a season on its way into a record.
type adding struct {
	Season
	old    Season   // of that name
	had    []string // hashes of its plans
	hashes []string // of those that come
	ids    map[string]owner
	to     *inserter // nil where nothing is to be written
}

// owner is where a sample is from.
type owner struct {
	from string
	unit bool // a sampling unit; points may share ids
}

// find looks for the season of the name.
func (a *adding) find(ctx context.Context, tx *sql.Tx) (bool, error) {
	seasons, err := seasonsOf(ctx, tx)
	if err != nil {
		return false, err
	}
	i := slices.IndexFunc(seasons, func(s Season) bool { return s.Name == a.Name })
	if i < 0 {
		return false, nil
	}
	a.old = seasons[i]
	a.had, err = plansOf(ctx, tx, a.Name)
	return true, err
}

// partOf tells whether the season has all these plans.
func (a *adding) partOf() bool {
	if a.old.Date != a.Date || a.old.Lab != a.Lab || a.old.Program != a.Program {
		return false
	}
	for _, h := range a.hashes {
		if !slices.Contains(a.had, h) {
			return false
		}
	}
	return true
}

func (a *adding) take(b *Bundle, sum string) error {
	a.hashes = append(a.hashes, sum)
	if a.Program == "" {
		a.Program = kept(b.Program)
	}
	if a.to == nil {
		return nil
	}
	for _, t := range tables() {
		for _, row := range b.rows[t.name] {
			if err := a.to.add(a.Name, len(a.hashes), t, row); err != nil {
				return err
			}
		}
	}
	return nil
}

// claim notes the samples of a plan, which no other may have.
func (a *adding) claim(b *Bundle) error {
	own := map[string]bool{}
	for _, t := range tables() {
		if t.name != "units" && t.name != "composites" {
			continue
		}
		id, unit := t.at("id"), t.at("unit")
		for _, row := range b.rows[t.name] {
			name, _ := row[id].(string)
			own[name] = own[name] || row[unit] != nil
		}
	}
	var clash []string
	for name, unit := range own {
		if x, taken := a.ids[name]; taken && (unit || x.unit) {
			clash = append(clash, name)
			continue
		}
		a.ids[name] = owner{b.From, unit}
	}
	if len(clash) > 0 {
		slices.Sort(clash)
		more := ""
		if len(clash) > 1 {
			more = fmt.Sprintf(" (and %d more)", len(clash)-1)
		}
		return fmt.Errorf("sample %s%s is both in %s and in %s; give one of them a season of its own", clash[0], more, a.ids[clash[0]].from, b.From)
	}
	return nil
}

// finish writes what is known when all plans are in.
func (a *adding) finish(ctx context.Context, tx *sql.Tx, replaced bool) error {
	if err := a.to.close(); err != nil {
		return err
	}
	if err := insertSeason(ctx, tx, a.Season, a.hashes); err != nil {
		return err
	}
	if replaced {
		if err := fit(ctx, tx); err != nil {
			return err
		}
	} else if err := widen(ctx, tx, a.to.bounds); err != nil {
		return err
	}
	return touch(ctx, tx)
}

func insertSeason(ctx context.Context, tx *sql.Tx, s Season, plans []string) error {
	if _, err := tx.ExecContext(ctx, "INSERT INTO seasons (name, date, lab, program, hash) VALUES (?, ?, ?, ?, ?)", s.Name, told(s.Date), told(s.Lab), told(s.Program), s.Hash); err != nil {
		return err
	}
	for i, h := range plans {
		if _, err := tx.ExecContext(ctx, "INSERT INTO plans (season, plan, hash) VALUES (?, ?, ?)", s.Name, i+1, h); err != nil {
			return err
		}
	}
	return nil
}

// removeRows takes a season out, with all that belongs to it.
func removeRows(ctx context.Context, tx *sql.Tx, season string) error {
	for _, t := range append(tables(), table{name: "plans"}) {
		if _, err := tx.ExecContext(ctx, fmt.Sprintf("DELETE FROM %s WHERE season = ?", quoted(t.name)), season); err != nil {
			return err
		}
	}
	_, err := tx.ExecContext(ctx, "DELETE FROM seasons WHERE name = ?", season)
	return err
}

// Remove takes a season out, in one transaction. It fails where there is none of
// that name, and names those that are there.
func (r *Record) Remove(ctx context.Context, season string) error {
	err := r.change(ctx, func(tx *sql.Tx) error {
		seasons, err := seasonsOf(ctx, tx)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(seasons, func(s Season) bool { return s.Name == season }) {
			return missing(season, seasons)
		}
		if err := removeRows(ctx, tx, season); err != nil {
			return err
		}
		if err := fit(ctx, tx); err != nil {
			return err
		}
		return touch(ctx, tx)
	})
	if err != nil {
		return r.fault(err)
	}
	return nil
}

// missing says that there is no season of a name.
func missing(season string, seasons []Season) error {
	if len(seasons) == 0 {
		return fmt.Errorf("it has no season %q, nor any other", season)
	}
	names := make([]string, len(seasons))
	for i, s := range seasons {
		names[i] = s.Name
	}
	return fmt.Errorf("it has no season %q; it has: %s", season, strings.Join(names, ", "))
}
