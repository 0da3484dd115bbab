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

// listedTable is a table as --json lists it.
type listedTable struct {
	tableRecord
	Kind    string   `json:"kind"`
	Crops   []string `json:"crops"`
	Needs   []string `json:"needs"`
	DepthIn float64  `json:"depth_in,omitempty"` // none where the source does not state it
}

func tableListing(tables []rate.Table) []listedTable {
	out := []listedTable{}
	for _, t := range tables {
		x := listedTable{
			tableRecord: tableRecord{t.Name, t.Out.Of, t.Region, t.Source.String(), t.Verified, t.Note},
			Kind:        t.Kind, Crops: []string{}, Needs: needsOf(t), DepthIn: t.Depth.Inches,
		}
		for _, c := range t.Crops {
			x.Crops = append(x.Crops, c.Name)
		}
		out = append(out, x)
	}
	return out
}

func needsOf(t rate.Table) []string {
	needs := []string{}
	for _, i := range t.Inputs {
		text := i.Analyte
		if len(i.Methods) > 0 {
			text += " (" + strings.Join(i.Methods, " or ") + ")"
		}
		needs = append(needs, text)
	}
	return needs
}

// listTables lists tables for a person.
func listTables(tables []rate.Table) []string {
	rows := [][]string{{"TABLE", "KIND", "REGION", "NEEDS", "DEPTH", "VERIFIED", "SOURCE"}}
	for _, t := range tables {
		depth := "not stated"
		if t.Depth.Inches > 0 {
			depth = plain(t.Depth.Inches) + " in"
		}
		rows = append(rows, []string{t.Name, t.Kind, t.Region, strings.Join(needsOf(t), ", "), depth, t.Verified, t.Source.String()})
	}
	return columns(rows, false)
}
