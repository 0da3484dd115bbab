package main

import (
	"database/sql"
	"net/url"
	"testing"

	_ "modernc.org/sqlite"
)

// integrity is what SQLite says of a file.
func integrity(t *testing.T, path string) string {
	t.Helper()
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Path: path}).String())
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var said string
	if err := db.QueryRow("PRAGMA integrity_check").Scan(&said); err != nil {
		t.Fatal(err)
	}
	return said
}
