//go:build reference

package main

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// GDAL opens every layer of a record, with its geometry, count and system.
func TestReferenceRecordInGDAL(t *testing.T) {
	folder := seasonFolder(t)
	record := filepath.Join(t.TempDir(), "farm.gpkg")
	mustCall(t, "season", "add", record, folder, "--season", "2026")
	out := tool(t, "ogrinfo", "-so", "-al", record)
	if strings.Contains(out, "ERROR") || strings.Contains(out, "Warning") {
		t.Error(out)
	}
	for layer, want := range map[string]string{
		"fields": "Multi Polygon\nFeature Count: 3", "parts": "Unknown (any)\nFeature Count: 7", "units": "Multi Polygon\nFeature Count: 59", "cores": "Point\nFeature Count: 708",
		"composites": "Point\nFeature Count: 59", "rates": "Multi Polygon\nFeature Count: 88", "seasons": "None\nFeature Count: 1", "results": "None\nFeature Count: 346", "files": "None\nFeature Count: 3", "plans": "None\nFeature Count: 1",
	} {
		_, part, ok := strings.Cut(out, "Layer name: "+layer+"\n")
		part, _, _ = strings.Cut(part, "Layer name: ")
		if !ok || !strings.Contains(part, "Geometry: "+want+"\n") {
			t.Errorf("layer %s: %.200q, want %q", layer, part, want)
		}
		if !strings.HasPrefix(want, "None") && !strings.Contains(part, `ID["EPSG",4326]`) {
			t.Errorf("layer %s has no WGS 84", layer)
		}
	}
	// Areas by GDAL are those that the units say (its geodesic area is of 3.9 on; the
	// frame's plane serves here).
	var layer struct {
		Features []struct {
			Properties struct {
				Area float64 `json:"area_ha"`
				Flat float64 `json:"flat"`
			} `json:"properties"`
		} `json:"features"`
	}
	text := tool(t, "ogr2ogr", "-f", "GeoJSON", "/vsistdout/", record, "-dialect", "SQLite", "-sql", "SELECT area_ha, ST_Area(ST_Transform(geom, 32615)) / 10000.0 AS flat FROM units")
	if err := json.Unmarshal([]byte(text), &layer); err != nil || len(layer.Features) != 59 {
		t.Fatalf("%d units, %v", len(layer.Features), err)
	}
	for _, f := range layer.Features {
		if p := f.Properties; p.Flat/p.Area < 0.999 || p.Flat/p.Area > 1.001 {
			t.Errorf("a unit of %v ha has %v in GDAL", p.Area, p.Flat)
		}
	}
}

// The requirements of OGC 12-128 that SQL can tell of; their numbers are from
// memory.
func TestReferenceGeoPackageRequirements(t *testing.T) {
	folder := seasonFolder(t)
	path := filepath.Join(t.TempDir(), "farm.gpkg")
	mustCall(t, "season", "add", path, folder, "--season", "2026")
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: path}).String())
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	one := func(query string, args ...any) string {
		t.Helper()
		var v any
		if err := db.QueryRow(query, args...).Scan(&v); err != nil {
			t.Fatalf("%s: %v", query, err)
		}
		return fmt.Sprint(v)
	}
	head, err := os.ReadFile(path)
	if err != nil || string(head[:16]) != "SQLite format 3\x00" { // requirement 1
		t.Error("no SQLite file")
	}
	for _, c := range []struct{ number, query, want string }{
		{"2", "PRAGMA application_id", fmt.Sprint(0x47504B47)},
		{"2", "PRAGMA user_version", "10300"},
		{"6", "PRAGMA integrity_check", "ok"},
		{"7", "SELECT count(*) FROM pragma_foreign_key_check", "0"},
		{"10", "SELECT count(*) FROM pragma_table_info('gpkg_spatial_ref_sys') WHERE name IN ('srs_name','srs_id','organization','organization_coordsys_id','definition','description')", "6"},
		{"11", "SELECT count(*) FROM gpkg_spatial_ref_sys WHERE srs_id IN (-1, 0, 4326)", "3"},
		{"11", "SELECT organization || organization_coordsys_id FROM gpkg_spatial_ref_sys WHERE srs_id = 4326", "EPSG4326"},
		{"12", "SELECT count(*) FROM gpkg_contents WHERE srs_id NOT IN (SELECT srs_id FROM gpkg_spatial_ref_sys)", "0"},
		{"13", "SELECT count(*) FROM pragma_table_info('gpkg_contents') WHERE name IN ('table_name','data_type','identifier','description','last_change','min_x','min_y','max_x','max_y','srs_id')", "10"},
		{"14", "SELECT count(*) FROM gpkg_contents WHERE table_name NOT IN (SELECT name FROM sqlite_master WHERE type = 'table')", "0"},
		{"14", "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'gpkg_%' AND name NOT LIKE 'sqlite_%' AND name NOT IN (SELECT table_name FROM gpkg_contents)", "0"},
		{"15", "SELECT count(*) FROM gpkg_contents WHERE strftime('%Y', last_change) IS NULL OR last_change NOT LIKE '____-__-__T__:__:__.___Z'", "0"},
		{"21", "SELECT count(*) FROM pragma_table_info('gpkg_geometry_columns') WHERE name IN ('table_name','column_name','geometry_type_name','srs_id','z','m')", "6"},
		{"22", "SELECT count(*) FROM gpkg_contents WHERE data_type = 'features' AND table_name NOT IN (SELECT table_name FROM gpkg_geometry_columns)", "0"},
		{"23", "SELECT count(*) FROM gpkg_geometry_columns WHERE table_name NOT IN (SELECT table_name FROM gpkg_contents WHERE data_type = 'features')", "0"},
		{"25", "SELECT count(*) FROM gpkg_geometry_columns WHERE geometry_type_name NOT IN ('GEOMETRY','POINT','MULTIPOLYGON')", "0"},
		{"26", "SELECT count(*) FROM gpkg_geometry_columns g JOIN gpkg_contents c USING (table_name) WHERE g.srs_id <> c.srs_id", "0"},
		{"27", "SELECT count(*) FROM gpkg_geometry_columns WHERE z NOT IN (0, 1, 2) OR m NOT IN (0, 1, 2)", "0"},
	} {
		if got := one(c.query); got != c.want {
			t.Errorf("requirement %s: %s gives %s, want %s", c.number, c.query, got, c.want)
		}
	}
	for layer, kind := range map[string]string{"fields": "MULTIPOLYGON", "parts": "GEOMETRY", "units": "MULTIPOLYGON", "cores": "POINT", "composites": "POINT", "rates": "MULTIPOLYGON"} {
		// 29: one integer primary key; 31: the column has the type that is registered.
		if got := one("SELECT group_concat(name || ' ' || type) FROM pragma_table_info(?) WHERE pk > 0", layer); got != "fid INTEGER" {
			t.Errorf("layer %s has the key %s", layer, got)
		}
		if got := one("SELECT type FROM pragma_table_info(?) WHERE name = 'geom'", layer); got != kind {
			t.Errorf("layer %s has geometries of type %s", layer, got)
		}
		// 19: the blob begins with GP, version 0, and the system that is registered.
		if got := one("SELECT count(*) FROM " + layer + " WHERE geom IS NOT NULL AND (hex(substr(geom, 1, 3)) <> '475000' OR hex(substr(geom, 5, 4)) <> 'E6100000')"); got != "0" {
			t.Errorf("layer %s: %s geometries have another head", layer, got)
		}
		if got := one("SELECT min_x < max_x AND min_y < max_y FROM gpkg_contents WHERE table_name = ?", layer); got != "1" {
			t.Errorf("layer %s has no bounds", layer)
		}
	}
}

// Where GDAL has made spatial indexes, seasons are removed and added as before, and
// the indexes follow.
func TestReferenceRecordWithSpatialIndex(t *testing.T) {
	folder := seasonFolder(t)
	record := filepath.Join(t.TempDir(), "farm.gpkg")
	add := []string{"season", "add", record, folder, "--season", "2026"}
	mustCall(t, add...)
	want := recordDigest(t, record)
	layers := map[string]string{"units": "59", "cores": "708", "rates": "88"}
	for layer := range layers {
		tool(t, "ogrinfo", "-q", record, "-sql", "SELECT CreateSpatialIndex('"+layer+"', 'geom')")
	}
	mustCall(t, "season", "remove", record, "2026")
	mustCall(t, add...)
	if recordDigest(t, record) != want || integrity(t, record) != "ok" {
		t.Error("another record")
	}
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: record}).String())
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for layer, want := range layers {
		var got string
		if err := db.QueryRow("SELECT count(*) FROM rtree_" + layer + "_geom r JOIN " + layer + " ON r.id = fid").Scan(&got); err != nil || got != want {
			t.Errorf("the index of %s has %s of %s features, %v", layer, got, want, err)
		}
	}
}

// A disk that fills up while a season is added: one clear line, and the record as
// it was. Mounting a small disk needs root.
func TestReferenceFullDisk(t *testing.T) {
	folder := seasonFolder(t)
	disk := t.TempDir()
	tool(t, "mount", "-t", "tmpfs", "-o", "size=20m", "tmpfs", disk)
	t.Cleanup(func() { tool(t, "umount", disk) })
	record := filepath.Join(disk, "farm.gpkg")
	mustCall(t, "season", "add", record, folder, "--season", "2025")
	before := recordDigest(t, record)
	for _, left := range []int{0, 4, 16, 64, 128, 250} {
		fill(t, filepath.Join(disk, "fill"), left)
		_, said, status := call(t, "season", "add", record, folder, "--season", "2026")
		if status != exitFailed || !strings.Contains(said, "full") && !strings.Contains(said, "no space left") || strings.Count(strings.TrimSpace(said), "\n") > 0 {
			t.Errorf("with %d kB left: status %d, %q", left, status, said)
		}
		if err := os.Remove(filepath.Join(disk, "fill")); err != nil {
			t.Fatal(err)
		}
		if integrity(t, record) != "ok" || recordDigest(t, record) != before {
			t.Errorf("with %d kB left: the record is another one", left)
		}
	}
	// A run into a full folder leaves nothing half written, and what was there.
	job := write(t, filepath.Join(t.TempDir(), "job.yaml"), "boundary: {file: "+filepath.Join(filepath.Dir(folder), "fields.shp")+", name: NAME}\nplan: {design: grid, cell: 1ha, seed: 3}\nout: "+filepath.Join(disk, "out")+"\n")
	fill(t, filepath.Join(disk, "fill"), 40)
	_, said, status := call(t, "run", job)
	if status != exitFailed || !strings.Contains(said, "no space left") || strings.Count(strings.TrimSpace(said), "\n") > 0 {
		t.Errorf("a run: status %d, %q", status, said)
	}
	if err := os.Remove(filepath.Join(disk, "fill")); err != nil {
		t.Fatal(err)
	}
	mustCall(t, "run", job)
	if recordDigest(t, record) != before {
		t.Error("the record is another one")
	}
}

// fill leaves so many kB on the disk that the file is on.
func fill(t *testing.T, path string, left int) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	size := int64(0)
	for block := make([]byte, 1024); ; size += 1024 {
		if _, err := f.Write(block); err != nil {
			break
		}
	}
	if err := f.Truncate(max(size-int64(left)*1024, 0)); err != nil {
		t.Fatal(err)
	}
}
