package season

import (
	"context"
	"database/sql"
	"fmt"
	"strings"

	"github.com/paulmach/orb"
)

// What the header of a GeoPackage file says: "GPKG", and version 1.3, which
// programs of some years ago know as well.
const (
	applicationID = 0x47504B47
	userVersion   = 10300
)

// srsID is that of all geometries: WGS 84 longitude and latitude.
const srsID = 4326

const wgs84 = `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]`

// standardTables are those of the standard, as its annex on table definitions
// has them (written from memory, held against GDAL in the reference checks).
func standardTables() []string {
	return []string{
		fmt.Sprintf("PRAGMA application_id = %d", applicationID),
		fmt.Sprintf("PRAGMA user_version = %d", userVersion),
		`CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT)`,
		`INSERT INTO gpkg_spatial_ref_sys VALUES
			('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', 'undefined Cartesian coordinate reference system'),
			('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system'),
			('WGS 84 geodetic', 4326, 'EPSG', 4326, '` + wgs84 + `', 'longitude/latitude coordinates in decimal degrees on the WGS 84 spheroid')`,
		`CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')), min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER, CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))`,
		`CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name), CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name), CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id))`,
	}
}

// register names the tables of schema version 1 in those of the standard.
func register() []string {
	attributes := func(name, about string) string {
		return fmt.Sprintf("INSERT INTO gpkg_contents (table_name, data_type, identifier, description) VALUES ('%s', 'attributes', '%s', '%s')", name, name, literal(about))
	}
	out := []string{attributes("corewalk_record", "version of the tables of this record"), attributes("seasons", "rounds of sampling")}
	for _, t := range tablesAt(1) {
		if t.geometry == "" {
			out = append(out, attributes(t.name, t.about))
			continue
		}
		out = append(out,
			fmt.Sprintf("INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) VALUES ('%s', 'features', '%s', '%s', %d)", t.name, t.name, literal(t.about), srsID),
			fmt.Sprintf("INSERT INTO gpkg_geometry_columns VALUES ('%s', '%s', '%s', %d, 0, 0)", t.name, geometryColumn, t.geometry, srsID))
	}
	return out
}

// literal is what stands between the quotes of a text in SQL.
func literal(s string) string { return strings.ReplaceAll(s, "'", "''") }

// touch writes the time of a change.
func touch(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, `UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now')`)
	return err
}

// widen makes the bounds of layers hold those of rows that were added.
func widen(ctx context.Context, tx *sql.Tx, bounds map[string]orb.Bound) error {
	for _, t := range tables() {
		b, some := bounds[t.name]
		if !some {
			continue
		}
		if _, err := tx.ExecContext(ctx, `UPDATE gpkg_contents SET min_x = min(coalesce(min_x, ?1), ?1), min_y = min(coalesce(min_y, ?2), ?2), max_x = max(coalesce(max_x, ?3), ?3), max_y = max(coalesce(max_y, ?4), ?4) WHERE table_name = ?5`,
			b.Min[0], b.Min[1], b.Max[0], b.Max[1], t.name); err != nil {
			return err
		}
	}
	return nil
}

// fit makes the bounds of layers those of the rows that are there.
func fit(ctx context.Context, tx *sql.Tx) error {
	if _, err := tx.ExecContext(ctx, `UPDATE gpkg_contents SET min_x = NULL, min_y = NULL, max_x = NULL, max_y = NULL WHERE data_type = 'features' AND table_name IN (SELECT table_name FROM gpkg_geometry_columns)`); err != nil {
		return err
	}
	bounds := map[string]orb.Bound{}
	for _, t := range tables() {
		if t.geometry == "" {
			continue
		}
		b, some, err := boundOf(ctx, tx, t)
		if err != nil {
			return fmt.Errorf("layer %s: %w", t.name, err)
		}
		if some {
			bounds[t.name] = b
		}
	}
	return widen(ctx, tx, bounds)
}

func boundOf(ctx context.Context, tx *sql.Tx, t table) (bound orb.Bound, some bool, err error) {
	rows, err := tx.QueryContext(ctx, fmt.Sprintf(`SELECT fid, %s FROM %s WHERE %s IS NOT NULL`, geometryColumn, quoted(t.name), geometryColumn))
	if err != nil {
		return bound, false, err
	}
	defer rows.Close()
	for rows.Next() {
		var fid int64
		var blob sql.RawBytes
		if err := rows.Scan(&fid, &blob); err != nil {
			return bound, false, err
		}
		g, err := parseGeometry(blob)
		if err != nil {
			return bound, false, fmt.Errorf("row %d: %w", fid, err)
		}
		if b, ok := g.bound(); ok {
			if some {
				b = bound.Union(b)
			}
			bound, some = b, true
		}
	}
	return bound, some, rows.Err()
}
