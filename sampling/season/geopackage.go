package season

import (
	"context"
	"database/sql"
	"fmt"

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

// register names the tables of the record in those of the standard.
func register(ctx context.Context, tx *sql.Tx) error {
	insert := func(name, about, geometry string) error {
		if geometry == "" {
			_, err := tx.ExecContext(ctx, `INSERT INTO gpkg_contents (table_name, data_type, identifier, description) VALUES (?, 'attributes', ?, ?)`, name, name, about)
			return err
		}
		if _, err := tx.ExecContext(ctx, `INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) VALUES (?, 'features', ?, ?, ?)`, name, name, about, srsID); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, 0, 0)`, name, geometryColumn, geometry, srsID)
		return err
	}
	if err := insert("corewalk_record", "version of the tables of this record", ""); err != nil {
		return err
	}
	if err := insert("seasons", "rounds of sampling", ""); err != nil {
		return err
	}
	for _, t := range tables() {
		if err := insert(t.name, t.about, t.geometry); err != nil {
			return err
		}
	}
	return nil
}

// updateContents writes the bounds of the layers and the time of the change.
func updateContents(ctx context.Context, tx *sql.Tx) error {
	const now = `last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now')`
	for _, t := range append(tables(), table{name: "seasons"}) {
		if t.geometry == "" {
			if _, err := tx.ExecContext(ctx, `UPDATE gpkg_contents SET `+now+` WHERE table_name = ?`, t.name); err != nil {
				return err
			}
			continue
		}
		bound, some, err := boundOf(ctx, tx, t)
		if err != nil {
			return fmt.Errorf("layer %s: %w", t.name, err)
		}
		corners := []any{nil, nil, nil, nil, t.name}
		if some {
			corners = []any{bound.Min[0], bound.Min[1], bound.Max[0], bound.Max[1], t.name}
		}
		if _, err := tx.ExecContext(ctx, `UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ?, `+now+` WHERE table_name = ?`, corners...); err != nil {
			return err
		}
	}
	return nil
}

func boundOf(ctx context.Context, tx *sql.Tx, t table) (bound orb.Bound, some bool, err error) {
	rows, err := tx.QueryContext(ctx, fmt.Sprintf(`SELECT fid, %s FROM %s WHERE %s IS NOT NULL`, geometryColumn, quoted(t.name), geometryColumn))
	if err != nil {
		return bound, false, err
	}
	defer rows.Close()
	for rows.Next() {
		var fid int64
		var blob []byte
		if err := rows.Scan(&fid, &blob); err != nil {
			return bound, false, err
		}
		g, err := parseGeometry(blob)
		if err != nil {
			return bound, false, fmt.Errorf("row %d: %w", fid, err)
		}
		b, ok := g.bound()
		if !ok {
			continue
		}
		if !some {
			bound, some = b, true
			continue
		}
		bound = bound.Union(b)
	}
	return bound, some, rows.Err()
}
