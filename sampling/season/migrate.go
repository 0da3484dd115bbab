package season

import (
	"context"
	"database/sql"
	"fmt"
)

// migrate brings a record from a schema version to a later one.
func migrate(ctx context.Context, tx *sql.Tx, from, to int) error {
	steps := []func(context.Context, *sql.Tx) error{toTwo, toThree}
	for _, step := range steps[from-1 : to-1] {
		if err := step(ctx, tx); err != nil {
			return err
		}
	}
	_, err := tx.ExecContext(ctx, "UPDATE corewalk_record SET version = ?", to)
	return err
}

// The steps never change.

func toTwo(ctx context.Context, tx *sql.Tx) error {
	statements := []string{`ALTER TABLE results ADD COLUMN replicates INTEGER`, `ALTER TABLE results ADD COLUMN spread REAL`}
	for _, name := range []string{"files", "fields", "parts", "units", "cores", "composites", "results", "rates"} {
		statements = append(statements, fmt.Sprintf("CREATE INDEX %s_by_season ON %s (season)", name, name))
	}
	return execute(ctx, tx, statements)
}

// toThree lets a season have several plans, ties results to composites by number,
// and parts the depth from the analyte. What was in a season becomes its plan 1. A
// season that somebody has edited keeps the hash that tells so.
func toThree(ctx context.Context, tx *sql.Tx) error {
	seasons, err := seasonsOf(ctx, tx)
	if err != nil {
		return err
	}
	edited := map[string]bool{}
	for _, s := range seasons {
		sums := newSums(2)
		if err := sums.read(ctx, tx, s); err != nil {
			return err
		}
		edited[s.Name] = sums.season(s, nil) != s.Hash
	}
	statements := []string{
		`CREATE TABLE plans (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, season TEXT NOT NULL, plan INTEGER NOT NULL, hash TEXT NOT NULL, UNIQUE (season, plan))`,
		`INSERT INTO gpkg_contents (table_name, data_type, identifier, description) VALUES ('plans', 'attributes', 'plans', 'the plans of a season, with the hash of what belongs to each')`,
		`ALTER TABLE composites ADD COLUMN number INTEGER`,
		`ALTER TABLE results ADD COLUMN depth TEXT`,
		`ALTER TABLE results ADD COLUMN number INTEGER`,
	}
	for _, name := range []string{"files", "fields", "parts", "units", "cores", "composites", "results", "rates"} {
		statements = append(statements, fmt.Sprintf("ALTER TABLE %s ADD COLUMN plan INTEGER", name), fmt.Sprintf("UPDATE %s SET plan = 1", name))
	}
	statements = append(statements,
		`UPDATE composites SET number = n.k FROM (SELECT fid, row_number() OVER (PARTITION BY season ORDER BY fid) AS k FROM composites) AS n WHERE n.fid = composites.fid`,
		`CREATE INDEX composites_by_id ON composites (season, id, field, number)`,
		`UPDATE results SET number = (SELECT min(number) FROM composites c WHERE c.season = results.season AND c.id = results.sample AND c.field IS results.field)`,
		`DROP INDEX composites_by_id`,
		`CREATE INDEX composites_by_number ON composites (season, number)`,
		`UPDATE results SET depth = (SELECT depth FROM composites c WHERE c.season = results.season AND c.number = results.number)`,
		`DROP INDEX composites_by_number`,
		`UPDATE results SET analyte = substr(analyte, 1, length(analyte) - length(depth) - 1) WHERE length(analyte) > length(depth) + 1 AND substr(analyte, -length(depth) - 1) = ' ' || depth`,
	)
	if err := execute(ctx, tx, statements); err != nil {
		return err
	}
	for _, s := range seasons {
		sums := newSums(3)
		if err := sums.read(ctx, tx, s); err != nil {
			return err
		}
		plan, hash := sums.plan(s.Name, 1), s.Hash
		if !edited[s.Name] {
			hash = sums.season(s, []string{plan})
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO plans (season, plan, hash) VALUES (?, 1, ?)", s.Name, plan); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE seasons SET hash = ? WHERE name = ?", hash, s.Name); err != nil {
			return err
		}
	}
	return nil
}
