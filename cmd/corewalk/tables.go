package main

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"corewalk/interp/rate"
)

// readTables returns the tables of the program and of files of one's own.
func readTables(own []string) ([]rate.Table, error) {
	out := rate.Tables()
	for _, path := range own {
		data, err := os.ReadFile(path)
		if err != nil {
			return nil, readError(err)
		}
		tables, err := rate.Read(data)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		for _, t := range tables {
			if slices.ContainsFunc(out, func(o rate.Table) bool { return strings.EqualFold(o.Name, t.Name) }) {
				return nil, fmt.Errorf("%s: there is a table %q already; give yours another name", path, t.Name)
			}
			out = append(out, t)
		}
	}
	return out, nil
}
