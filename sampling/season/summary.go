package season

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
)

// Summary says what a season holds.
type Summary struct {
	Season     Season
	Plans      int
	Fields     []string
	Units      int // samples of sampling units
	Cores      int
	Composites int
	Results    int
	Rates      int
	Analytes   []string // with unit, method and depth
}

// Summary says what a season holds. It fails where there is none of that name, and
// names those that are there.
func (r *Record) Summary(ctx context.Context, season string) (Summary, error) {
	seasons, err := r.Seasons(ctx)
	if err != nil {
		return Summary{}, err
	}
	i := slices.IndexFunc(seasons, func(s Season) bool { return s.Name == season })
	if i < 0 {
		return Summary{}, r.fault(missing(season, seasons))
	}
	out := Summary{Season: seasons[i]}
	for _, c := range []struct {
		table string
		to    *int
	}{{"plans", &out.Plans}, {"units", &out.Units}, {"cores", &out.Cores}, {"composites", &out.Composites}, {"results", &out.Results}, {"rates", &out.Rates}} {
		if err := r.db.QueryRowContext(ctx, fmt.Sprintf("SELECT count(*) FROM %s WHERE season = ?", c.table), season).Scan(c.to); err != nil {
			return Summary{}, r.fault(err)
		}
	}
	if out.Fields, err = r.texts(ctx, "SELECT name FROM fields WHERE season = ? AND name IS NOT NULL GROUP BY name ORDER BY min(fid)", season); err != nil {
		return Summary{}, r.fault(err)
	}
	out.Analytes, err = r.texts(ctx, `SELECT analyte || coalesce(', ' || unit, '') || coalesce(', ' || method, '') || coalesce(', ' || depth, '')
		FROM results WHERE season = ? AND analyte IS NOT NULL GROUP BY analyte, unit, method, depth ORDER BY min(fid)`, season)
	if err != nil {
		return Summary{}, r.fault(err)
	}
	return out, nil
}

// texts returns the one column that a query gives.
func (r *Record) texts(ctx context.Context, query string, args ...any) ([]string, error) {
	rows, err := r.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var s sql.NullString
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		out = append(out, s.String)
	}
	return out, rows.Err()
}
