package season

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"github.com/paulmach/orb"
)

// querier is a database or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// chunk is what rows are handed on in from the goroutine that reads them.
const chunk = 256

type numbered struct {
	plan int
	row  []any
}

// each does something with every row of a season in a table, in their order. The
// next rows are read meanwhile; do must not use the database.
func each(ctx context.Context, q querier, version int, t table, season string, do func(plan int, row []any) error) error {
	names := []string{"0"}
	if version > 2 {
		names[0] = "coalesce(plan, 0)"
	}
	for _, c := range t.columns {
		// Of an expression the driver does not ask the declared type, for each text anew.
		names = append(names, "+"+quoted(c.name))
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	rows, err := q.QueryContext(ctx, fmt.Sprintf("SELECT %s FROM %s WHERE season = ? ORDER BY fid", strings.Join(names, ", "), quoted(t.name)), season)
	if err != nil {
		return fmt.Errorf("table %s: %w", t.name, err)
	}
	chunks, failed := make(chan []numbered, 4), make(chan error, 1)
	go func() {
		defer close(chunks)
		failed <- scan(ctx, rows, t, season, chunks)
	}()
	var fault error
	for list := range chunks {
		for _, x := range list {
			if fault == nil {
				if fault = do(x.plan, x.row); fault != nil {
					cancel()
				}
			}
		}
	}
	if err := <-failed; fault == nil {
		fault = err
	}
	return fault
}

// scan reads rows and sends them on in chunks.
func scan(ctx context.Context, rows *sql.Rows, t table, season string, to chan<- []numbered) error {
	defer rows.Close()
	values, targets := make([]any, len(t.columns)), make([]any, len(t.columns)+1)
	var plan int
	targets[0] = &plan
	for i := range values {
		targets[i+1] = &values[i]
	}
	var list []numbered
	send := func() error {
		select {
		case to <- list:
			list = make([]numbered, 0, chunk)
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	for rows.Next() {
		if err := rows.Scan(targets...); err != nil {
			return fmt.Errorf("table %s: %w", t.name, err)
		}
		row := make([]any, len(t.columns))
		for i, c := range t.columns {
			var err error
			if row[i], err = typed(c, values[i]); err != nil {
				return fmt.Errorf("table %s, season %s: %w", t.name, season, err)
			}
		}
		if list = append(list, numbered{plan, row}); len(list) == chunk {
			if err := send(); err != nil {
				return err
			}
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("table %s: %w", t.name, err)
	}
	return send()
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

// atOnce is how many rows an inserter puts into a statement. The driver parses each
// statement anew, and looks for each of its values among all others.
const atOnce = 8

// inserter writes rows into the tables of a schema version. A goroutine of its own
// hands them to the database, so nothing else may use the transaction before close.
type inserter struct {
	version int
	bounds  map[string]orb.Bound

	season  string
	plan    int
	table   table
	rows    [][]any
	batches chan<- batch
	failed  <-chan error
	err     error
}

type batch struct {
	statement string
	values    []any
}

func newInserter(ctx context.Context, tx *sql.Tx, version int) *inserter {
	batches, failed := make(chan batch, 64), make(chan error, 1)
	go func() {
		var err error
		for b := range batches {
			if err != nil {
				continue
			}
			if _, err = tx.ExecContext(ctx, b.statement, b.values...); err != nil {
				failed <- err
			}
		}
		close(failed)
	}()
	return &inserter{version: version, bounds: map[string]orb.Bound{}, batches: batches, failed: failed}
}

// add takes a row. An error of the database comes with a later one, or with close.
func (w *inserter) add(season string, plan int, t table, row []any) error {
	if len(w.rows) == atOnce || season != w.season || plan != w.plan || t.name != w.table.name {
		w.flush()
		w.season, w.plan, w.table = season, plan, t
	}
	w.rows = append(w.rows, row)
	if w.err == nil {
		select {
		case w.err = <-w.failed:
		default:
		}
	}
	return w.err
}

// close waits until all rows are in the database. It may be called again.
func (w *inserter) close() error {
	if w.batches == nil {
		return w.err
	}
	w.flush()
	close(w.batches)
	w.batches = nil
	for err := range w.failed {
		w.err = err
	}
	return w.err
}

// flush sends the rows on. Columns in which none of them has a value are left out.
// Season and plan stand in the statement.
func (w *inserter) flush() {
	if len(w.rows) == 0 {
		return
	}
	var used []int
	var names, marks strings.Builder
	for i, c := range w.table.columns {
		for _, row := range w.rows {
			if g, ok := row[i].(geometry); row[i] != nil && (!ok || !g.empty()) {
				used = append(used, i)
				names.WriteString(quoted(c.name) + ",")
				marks.WriteString("?,")
				break
			}
		}
	}
	names.WriteString("season")
	fmt.Fprintf(&marks, "'%s'", literal(w.season))
	if w.version > 2 {
		names.WriteString(",plan")
		fmt.Fprintf(&marks, ",%d", w.plan)
	}
	values := make([]any, 0, len(used)*len(w.rows))
	for _, row := range w.rows {
		for _, i := range used {
			v := row[i]
			if g, ok := v.(geometry); ok {
				if v = nil; !g.empty() {
					v = g.appendBlob(nil)
					w.widen(g)
				}
			}
			values = append(values, v)
		}
	}
	// Without "or fail" SQLite keeps what a statement changes for the case that one
	// of its rows is refused; here nothing is kept then.
	one := "(" + marks.String() + ")"
	w.batches <- batch{fmt.Sprintf("INSERT OR FAIL INTO %s (%s) VALUES %s%s", quoted(w.table.name), names.String(), strings.Repeat(one+",", len(w.rows)-1), one), values}
	w.rows = w.rows[:0]
}

func (w *inserter) widen(g geometry) {
	b, ok := g.bound()
	if !ok {
		return
	}
	if old, some := w.bounds[w.table.name]; some {
		b = old.Union(b)
	}
	w.bounds[w.table.name] = b
}
