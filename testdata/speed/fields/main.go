// Command fields writes an invented farm of many fields of 3 to 24 ha, on average
// 10 ha, with outlines of every kind: of four corners and of fifty, square, long,
// bent, cut off at a corner. Every third field has a pond or a ditch that is kept
// off. testdata/speed/fields.sh measures with it.
//
//	go run ./testdata/speed/fields FIELDS FOLDER
package main

import (
	"bufio"
	"errors"
	"fmt"
	"log"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"corewalk/geo/crs"
)

const (
	apart   = 1100.0 // metres between the south-west corners of neighbours
	perRow  = 150    // fields: 165 km, within one zone
	east    = 400000.0
	north   = 4500000.0
	hectare = 1e4
)

const job = `farm: Long Prairie (invented)
boundary: {file: fields.geojson, name: name}
exclude: [{file: wet.geojson, setback: 10m}]
plan: {design: grid, cell: 2.5ac, cores: 10, setback: 10m, depth: 0-8in, seed: 42}
`

func main() {
	if len(os.Args) != 3 {
		log.Fatal("fields FIELDS FOLDER")
	}
	n, err := strconv.Atoi(os.Args[1])
	if err != nil || n < 1 {
		log.Fatalf("%q is not a number of fields", os.Args[1])
	}
	if err := write(n, os.Args[2]); err != nil {
		log.Fatal(err)
	}
}

func write(n int, dir string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	r := rand.New(rand.NewPCG(17, 10_000))
	var fields, wet collection
	for i := range n {
		x, y := east+apart*float64(i%perRow), north+apart*float64(i/perRow)
		ring := outline(r, 3*hectare*math.Pow(8, r.Float64()))
		if err := fields.add(fmt.Sprintf("Field %05d", i+1), "Polygon", moved(ring, x, y)); err != nil {
			return err
		}
		if i%3 != 0 {
			continue
		}
		c := r.IntN(len(ring))
		a, b := ring[c], ring[(c+len(ring)/2)%len(ring)]
		var err error
		if i%2 == 0 {
			err = wet.add("ditch", "LineString", moved([]point{a, b}, x, y))
		} else {
			middle := point{0.6*a[0] + 0.4*b[0], 0.6*a[1] + 0.4*b[1]}
			err = wet.add("pond", "Polygon", moved(round(r, middle, 15+20*r.Float64()), x, y))
		}
		if err != nil {
			return err
		}
	}
	return errors.Join(
		os.WriteFile(filepath.Join(dir, "job.yaml"), []byte(job), 0o666),
		fields.write(filepath.Join(dir, "fields.geojson")), wet.write(filepath.Join(dir, "wet.geojson")),
	)
}

type point [2]float64

// outline is one of the kinds of outlines, of an area in square metres.
func outline(r *rand.Rand, area float64) []point {
	long := 1 + 1.2*r.Float64()
	w, h := math.Sqrt(area/long), math.Sqrt(area*long)
	var ring []point
	switch r.IntN(4) {
	case 0: // a plain quadrangle
		ring = []point{{0, 0}, {w, 0.1 * h * r.Float64()}, {w * (0.9 + 0.1*r.Float64()), h}, {0.1 * w * r.Float64(), h * (0.9 + 0.1*r.Float64())}}
	case 1: // bent about a corner that is another's
		ring = []point{{0, 0}, {1.15 * w, 0}, {1.15 * w, 0.6 * h}, {0.6 * w, 0.65 * h}, {0.6 * w, 1.15 * h}, {0, 1.15 * h}}
	case 2: // along a stream
		ring = []point{{0, 0}, {w, 0}}
		for k := range 25 {
			t := float64(k) / 24
			ring = append(ring, point{w * (1 - t), h * (1 + 0.08*math.Sin(9*t) + 0.02*r.Float64())})
		}
	default: // walked with a receiver
		ring = round(r, point{w / 2, h / 2}, math.Sqrt(area/math.Pi))
	}
	turn := r.Float64()
	for i, p := range ring {
		ring[i] = point{100 + p[0]*math.Cos(turn*0.3) + p[1]*math.Sin(turn*0.3), 100 + p[1]*math.Cos(turn*0.3) - p[0]*math.Sin(turn*0.3)}
	}
	return ring
}

// round is a ring about a place.
func round(r *rand.Rand, at point, radius float64) []point {
	var ring []point
	a, b := 6*r.Float64(), 6*r.Float64()
	for k := range 40 {
		t := 2 * math.Pi * float64(k) / 40
		d := radius * (1 + 0.15*math.Sin(2*t+a) + 0.07*math.Sin(3*t+b) + 0.01*r.Float64())
		ring = append(ring, point{at[0] + d*math.Cos(t), at[1] + d*math.Sin(t)})
	}
	return ring
}

func moved(ring []point, x, y float64) []point {
	out := make([]point, len(ring))
	for i, p := range ring {
		out[i] = point{p[0] + x, p[1] + y}
	}
	return out
}

// collection is a GeoJSON file in the making.
type collection struct{ features []string }

var utm = crs.UTM(15, false)

func (c *collection) add(name, kind string, ring []point) error {
	if kind == "Polygon" {
		ring = append(ring, ring[0])
	}
	var places []string
	for _, p := range ring {
		ll, err := utm.Inverse(p[0], p[1])
		if err != nil {
			return err
		}
		places = append(places, fmt.Sprintf("[%.7f,%.7f]", ll.Lon(), ll.Lat()))
	}
	text := "[" + strings.Join(places, ",") + "]"
	if kind == "Polygon" {
		text = "[" + text + "]"
	}
	c.features = append(c.features, fmt.Sprintf(`{"type":"Feature","properties":{"name":%q},"geometry":{"type":%q,"coordinates":%s}}`, name, kind, text))
	return nil
}

func (c *collection) write(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	w.WriteString(`{"type":"FeatureCollection","features":[` + "\n")
	for i, s := range c.features {
		if i > 0 {
			w.WriteString(",\n")
		}
		w.WriteString(s)
	}
	w.WriteString("\n]}\n")
	return errors.Join(w.Flush(), f.Close())
}
