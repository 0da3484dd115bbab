package variogram

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"corewalk/geo/plane"
)

// soil reads one column of a file in testdata/soil; rows without a figure are
// left out.
func soil(t testing.TB, file, x, y, value string) []Point {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "soil", file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	number := func(row []string, name string) float64 {
		v, err := strconv.ParseFloat(row[slices.Index(rows[0], name)], 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var out []Point
	for _, row := range rows[1:] {
		if row[slices.Index(rows[0], value)] != "NA" {
			out = append(out, Point{At: plane.XY{number(row, x), number(row, y)}, Value: number(row, value)})
		}
	}
	return out
}

func logZinc(t testing.TB) []Point {
	points := soil(t, "meuse.csv", "x", "y", "zinc")
	for i := range points {
		points[i].Value = math.Log(points[i].Value)
	}
	return points
}

// patchy makes a field with structure: n places, their figures a sum of waves
// along random directions, longer by stretch along the azimuth.
func patchy(r *rand.Rand, n int, azimuth, stretch float64) []Point {
	east, north := direction(azimuth)
	type wave struct{ u, v, phase float64 }
	var waves [40]wave
	for i := range waves {
		length := 80 + 250*r.Float64()
		a := 2 * math.Pi * r.Float64()
		waves[i] = wave{math.Cos(a) / length, math.Sin(a) / length, r.Float64()}
	}
	out := make([]Point, n)
	for i := range out {
		x, y := 600*r.Float64(), 400*r.Float64()
		u, v := (x*east+y*north)/stretch, x*north-y*east
		value := 20 + r.NormFloat64()
		for _, w := range waves {
			value += 0.5 * math.Sin(2*math.Pi*(u*w.u+v*w.v+w.phase))
		}
		out[i] = Point{At: plane.XY{x, y}, Value: value}
	}
	return out
}

func near(a, b, share float64) bool { return math.Abs(a-b) <= share*max(math.Abs(a), math.Abs(b)) }
