// Idw is the part of idw.sh that is done in Go: the points, our surface, and
// the comparison of values.
//
//	idw points FILE.csv              writes the points
//	idw radius FILE.csv              prints a radius that holds 12 points round every pixel
//	idw time FILE.csv                prints the seconds of one surface: interpolation, writing
//	idw compare FILE.csv GDAL GSTAT  compares raw rasters: float32, float64, from the north-west
package main

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"time"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/interp"
)

const (
	points = 1000
	side   = 2000 // pixels of a metre
	near   = 12
)

var ground = raster.Geometry{North: side, Pixel: 1, Width: side, Height: side, EPSG: 32632}

func main() {
	err := fmt.Errorf("usage: see the comment of main.go")
	switch args := os.Args[1:]; {
	case len(args) == 2 && args[0] == "points":
		err = write(args[1])
	case len(args) == 2 && args[0] == "radius":
		err = radius(args[1])
	case len(args) == 2 && args[0] == "time":
		err = clock(args[1])
	case len(args) == 4 && args[0] == "compare":
		err = compare(args[1], args[2], args[3])
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "idw:", err)
		os.Exit(1)
	}
}

// write writes invented points: anywhere, with any figure from 5 to 8.
func write(file string) error {
	r := rand.New(rand.NewPCG(1, 1))
	var out bytes.Buffer
	fmt.Fprintln(&out, "x,y,v")
	for range points {
		fmt.Fprintf(&out, "%.3f,%.3f,%.4f\n", side*r.Float64(), side*r.Float64(), 5+3*r.Float64())
	}
	return os.WriteFile(file, out.Bytes(), 0o644)
}

func read(file string) ([]interp.Sample, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, err
	}
	var samples []interp.Sample
	for i, row := range rows[1:] {
		var v [3]float64
		for k := range v {
			if v[k], err = strconv.ParseFloat(row[k], 64); err != nil {
				return nil, err
			}
		}
		samples = append(samples, interp.Sample{ID: strconv.Itoa(i), At: plane.XY{v[0], v[1]}, Value: v[2]})
	}
	return samples, nil
}

func radius(file string) error {
	samples, err := read(file)
	if err != nil {
		return err
	}
	var most float64
	for row := 0; row <= side; row += 20 {
		for col := 0; col <= side; col += 20 {
			most = max(most, offs(samples, plane.XY{float64(col), float64(row)})[near-1])
		}
	}
	// The 12th point of a pixel lies no farther than that of a place asked
	// about and the way there, at most half the diagonal of 20 m.
	fmt.Println(math.Ceil(most + 10*math.Sqrt2))
	return nil
}

// offs are the distances of all samples from p, least first.
func offs(samples []interp.Sample, p plane.XY) []float64 {
	var out []float64
	for _, s := range samples {
		out = append(out, s.At.Distance(p))
	}
	slices.Sort(out)
	return out
}

func surface(file string) ([]interp.Sample, *interp.Model, *raster.Grid, time.Duration, error) {
	samples, err := read(file)
	if err != nil {
		return nil, nil, nil, 0, err
	}
	division := make([]int32, side*side)
	start := time.Now()
	m, err := interp.NewModel(samples, interp.IDW{Power: 2, Near: near})
	if err != nil {
		return nil, nil, nil, 0, err
	}
	grid, err := m.Surface(ground, division, 0)
	return samples, m, grid, time.Since(start), err
}

func clock(file string) error {
	_, _, grid, took, err := surface(file)
	if err != nil {
		return err
	}
	start := time.Now()
	if err := raster.WriteGeoTIFF(io.Discard, grid); err != nil {
		return err
	}
	fmt.Printf("%.4f %.4f\n", took.Seconds(), time.Since(start).Seconds())
	return nil
}

func compare(file, gdal, gstat string) error {
	samples, m, grid, _, err := surface(file)
	if err != nil {
		return err
	}
	theirs := make([]float32, side*side)
	if err := raw(gdal, theirs); err != nil {
		return err
	}
	exact := make([]float64, side*side)
	if err := raw(gstat, exact); err != nil {
		return err
	}
	var offGdal, offGstat, offExact float64
	ties, beyond, asked := 0, 0, 0
	for i, v := range grid.Data {
		x, y := grid.Center(i%side, i/side)
		p := plane.XY{x, y}
		a := math.Abs(float64(theirs[i])/float64(v) - 1)
		b := math.Abs(exact[i]/float64(v) - 1)
		if max(a, b) > 2e-7 { // more than the last bit of a float32
			// gstat was seen to take the farther of two that differ by up to
			// 4e-8, as if it chose by single precision.
			slack := 1e-9
			if a <= 2e-7 {
				slack = 1e-7
			}
			if d := offs(samples, p); d[near] <= d[near-1]*(1+slack) {
				ties++
			} else {
				beyond++
			}
			continue
		}
		offGdal, offGstat = max(offGdal, a), max(offGstat, b)
		if i%37 == 0 { // before it is rounded to a float32
			at, _ := m.At(p, 0)
			offExact = max(offExact, math.Abs(exact[i]/at-1))
			asked++
		}
	}
	fmt.Printf("largest difference from gdal_grid, float32: %.1e; from gstat, ours rounded to float32: %.1e; not rounded, at %d pixels: %.1e\n", offGdal, offGstat, asked, offExact)
	fmt.Printf("left out: %d pixels where the 12th and the 13th point are equally far (for gstat: to 1e-7) and theirs takes the other\n", ties)
	if beyond > 0 || !(offExact <= 1e-8) {
		return fmt.Errorf("%d pixels differ by more than the last bit of a float32, and the worst of all not rounded by %.1e", beyond, offExact)
	}
	return nil
}

// raw reads a file that holds exactly the numbers of out, little-endian.
func raw(file string, out any) error {
	b, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	if len(b) != binary.Size(out) {
		return fmt.Errorf("%s: %d bytes, want %d", file, len(b), binary.Size(out))
	}
	_, err = binary.Decode(b, binary.LittleEndian, out)
	return err
}
