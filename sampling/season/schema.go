package season

import (
	"fmt"
	"slices"
	"strings"
)

// SchemaVersion is that of the tables that this program writes.
const SchemaVersion = 3

// kind is what a column holds. A missing value is NULL; there are no empty texts,
// which files of tables could not tell from missing ones.
type kind string

const (
	text  kind = "TEXT"
	whole kind = "INTEGER"
	float kind = "REAL"
	shape kind = "geometry"
)

type column struct {
	name  string
	kind  kind
	since int // schema version; 0 is 1
}

// table is a table of the record besides those that the standard prescribes. They
// begin with the column fid; season and plan stand in all of them.
type table struct {
	name, about string
	geometry    string // MULTIPOLYGON, POINT or GEOMETRY; empty for a plain table
	columns     []column
}

// at returns the place of a column in the rows of the table.
func (t table) at(name string) int {
	for i, c := range t.columns {
		if c.name == name {
			return i
		}
	}
	return -1
}

const geometryColumn = "geom"

// more is the column for properties that have none of their own: a JSON object.
const more = "more"

// tables are in the order in which they are written and hashed. A column that is
// added goes to the end of its table, and needs a migration.
func tables() []table { return tablesAt(SchemaVersion) }

// tablesAt are the tables as a schema version has them.
func tablesAt(version int) []table {
	out := allTables()
	for i := range out {
		out[i].columns = slices.DeleteFunc(out[i].columns, func(c column) bool { return c.since > version })
	}
	return out
}

func tablesByName() map[string]table {
	out := map[string]table{}
	for _, t := range tables() {
		out[t.name] = t
	}
	return out
}

func tableNamed(name string) table { return tablesByName()[name] }

func allTables() []table {
	geometry := column{geometryColumn, shape, 0}
	return []table{
		{"files", "what the files of a season say of themselves: settings, seed, inputs", "", []column{{"file", text, 0}, {"head", text, 0}}},
		{"fields", "fields as mapped", "MULTIPOLYGON", []column{
			geometry, {"name", text, 0}, {"crs", text, 0}, {"area_ha", float, 0}, {"sampleable_ha", float, 0}, {"setback_m", float, 0}, {more, text, 0},
		}},
		{"parts", "exclusions, management units and problem areas as drawn", "GEOMETRY", []column{
			geometry, {"kind", text, 0}, {"name", text, 0}, {"field", text, 0}, {"setback_m", float, 0}, {more, text, 0},
		}},
		{"units", "sampling units, once for each of their samples", "MULTIPOLYGON", []column{
			geometry, {"id", text, 0}, {"field", text, 0}, {"unit", whole, 0}, {"composite", whole, 0}, {"management", text, 0}, {"problem", text, 0},
			{"area_ha", float, 0}, {"sampleable_ha", float, 0}, {"cores", whole, 0}, {"depth", text, 0}, {more, text, 0},
		}},
		{"cores", "cores where they were taken, or planned where that is not known", "POINT", []column{
			geometry, {"name", text, 0}, {"sample", text, 0}, {"samples", text, 0}, {"core", whole, 0}, {"field", text, 0}, {"unit", whole, 0}, {"depth", text, 0},
			{"status", text, 0}, {"planned_lon", float, 0}, {"planned_lat", float, 0}, {more, text, 0},
		}},
		{"composites", "composites at the places that they stand for", "POINT", []column{
			geometry, {"id", text, 0}, {"field", text, 0}, {"management", text, 0}, {"problem", text, 0}, {"unit", whole, 0}, {"composite", whole, 0},
			{"comparison_of", text, 0}, {"compare_with", text, 0}, {"depth", text, 0}, {"x", float, 0}, {"y", float, 0}, {"crs", text, 0}, {"notes", text, 0}, {"number", whole, 3},
		}},
		{"results", "the lab's figures, by the number of their composite", "", []column{
			{"sample", text, 0}, {"field", text, 0}, {"analyte", text, 0}, {"of", text, 0}, {"column", text, 0}, {"unit", text, 0}, {"method", text, 0},
			{"value", float, 0}, {"censored", text, 0}, {"mixed", text, 0}, {"replicates", whole, 2}, {"spread", float, 2}, {"depth", text, 3}, {"number", whole, 3},
		}},
		{"rates", "rates that were advised", "MULTIPOLYGON", []column{
			geometry, {"kind", text, 0}, {"id", text, 0}, {"field", text, 0}, {"management", text, 0}, {"problem", text, 0}, {"product", text, 0}, {"of", text, 0},
			{"rate", float, 0}, {"rate_unit", text, 0}, {"pass", whole, 0}, {"passes", whole, 0}, {"kg_per_ha", float, 0}, {"kg", float, 0}, {"area_ha", float, 0},
			{more, text, 0},
		}},
	}
}

func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

// createTables are the statements that make the tables of schema version 1.
func createTables() []string {
	out := []string{
		`CREATE TABLE corewalk_record (id INTEGER PRIMARY KEY CHECK (id = 1), version INTEGER NOT NULL)`,
		`CREATE TABLE seasons (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, name TEXT NOT NULL UNIQUE, date TEXT, lab TEXT, program TEXT, hash TEXT NOT NULL UNIQUE)`,
		`INSERT INTO corewalk_record VALUES (1, 1)`,
	}
	for _, t := range tablesAt(1) {
		var b strings.Builder
		fmt.Fprintf(&b, "CREATE TABLE %s (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL", quoted(t.name))
		for _, c := range t.columns {
			if c.kind == shape {
				fmt.Fprintf(&b, ", %s %s", quoted(c.name), t.geometry)
			} else {
				fmt.Fprintf(&b, ", %s %s", quoted(c.name), c.kind)
			}
		}
		b.WriteString(", season TEXT NOT NULL REFERENCES seasons (name) ON DELETE CASCADE)")
		out = append(out, b.String())
	}
	return out
}
