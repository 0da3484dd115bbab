package interp

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"corewalk/geo/plane"
)

// soil reads one column of a file in testdata/soil; rows without a figure are
// left out. The id of a sample is its row, from 1.
func soil(t testing.TB, file, x, y, value string) []Sample {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "soil", file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var samples []Sample
	number := func(row []string, name string) float64 {
		v, err := strconv.ParseFloat(row[slices.Index(rows[0], name)], 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for i, row := range rows[1:] {
		if row[slices.Index(rows[0], value)] == "NA" {
			continue
		}
		samples = append(samples, Sample{
			ID:    strconv.Itoa(i + 1),
			At:    plane.XY{number(row, x), number(row, y)},
			Value: number(row, value),
		})
	}
	return samples
}

func oxford(t testing.TB, value string) []Sample {
	return soil(t, "oxford.csv", "XCOORD", "YCOORD", value)
}

func meuse(t testing.TB, value string) []Sample { return soil(t, "meuse.csv", "x", "y", value) }

func model(t testing.TB, samples []Sample, idw IDW) *Model {
	t.Helper()
	m, err := NewModel(samples, idw)
	if err != nil {
		t.Fatal(err)
	}
	return m
}
