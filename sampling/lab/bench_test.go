package lab

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
)

const (
	idLetters = "BCDFGHJKLMNPQRTVWX"
	idAlpha   = "0123456789" + idLetters
)

// checked adds a check character of the tests' own making to the body of an id:
// a weighted sum, so that a wrong character and a swap both show.
func checked(body string) string {
	sum := 0
	for i := range len(body) {
		sum += (i + 2) * strings.IndexByte(idAlpha, body[i])
	}
	return body + string(idAlpha[sum%len(idAlpha)])
}

// planOf makes n samples of many fields, with ids in the way of a plan.
func planOf(n int) []SampleRef {
	samples := make([]SampleRef, n)
	for i := range samples {
		field, unit := i/300, i%300
		code := string([]byte{idLetters[field/18%18], idLetters[field%18]})
		if field >= 18*18 {
			code = string(idLetters[field/324%18]) + code
		}
		samples[i].ID = checked(fmt.Sprintf("%s%03d", code, unit+1))
	}
	return samples
}

// labRows gives every sample of a plan one row of eight analytes. One id in a
// hundred of them is misspelt and one replaced by a stranger, if so wanted.
func labRows(samples []SampleRef, slips bool) (header []string, rows [][]string) {
	rng := rand.New(rand.NewPCG(11, 12))
	header = []string{"Sample ID", "pH", "P (ppm)", "K (ppm)", "Ca (ppm)", "Mg (ppm)", "S (ppm)", "Zn (ppm)", "OM %"}
	rows = make([][]string, len(samples))
	for i, s := range samples {
		id := s.ID
		if slips && i%100 == 17 {
			at := rng.IntN(len(id) - 1)
			id = id[:at] + string(idAlpha[rng.IntN(len(idAlpha))]) + id[at+1:]
		} else if slips && i%100 == 59 {
			id = "XW" + id[1:] + "7"
		}
		f := func(low, high float64) string { return fmt.Sprintf("%.1f", low+rng.Float64()*(high-low)) }
		rows[i] = []string{id, f(5, 8), f(2, 90), f(80, 400), f(500, 4000), f(50, 600), f(3, 30), f(0.3, 9), f(1, 6)}
		if i%50 == 3 {
			rows[i][7] = "<0.5"
		}
	}
	return header, rows
}

func labFile(header []string, rows [][]string) []byte {
	var b bytes.Buffer
	for _, row := range append([][]string{header}, rows...) {
		b.WriteString(strings.Join(row, ",") + "\n")
	}
	return b.Bytes()
}

// BenchmarkJoin100k joins 100,000 rows to a plan of 100,000 samples.
func BenchmarkJoin100k(b *testing.B) {
	samples := planOf(100_000)
	for _, slips := range []bool{false, true} {
		header, rows := labRows(samples, slips)
		table := NewTable("f", header, rows)
		b.Run(fmt.Sprintf("slips=%v", slips), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if r := Join(samples, table); r.Counts.Rows != len(samples) {
					b.Fatal(r.Counts)
				}
			}
		})
	}
}

// BenchmarkReadJoin100k does the same from the bytes of a file.
func BenchmarkReadJoin100k(b *testing.B) {
	samples := planOf(100_000)
	for _, slips := range []bool{false, true} {
		raw := labFile(labRows(samples, slips))
		b.Run(fmt.Sprintf("slips=%v", slips), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				table, err := ReadTable(bytes.NewReader(raw), "f")
				if err != nil {
					b.Fatal(err)
				}
				if r := Join(samples, table); r.Counts.Rows != len(samples) {
					b.Fatal(r.Counts)
				}
			}
		})
	}
}
