// Command farm writes an invented farm of many fields: boundaries, exclusions,
// management units, and a table of composites with eight figures each, with
// coordinates of their own. testdata/speed/farm.sh measures with it.
//
//	go run ./testdata/speed/farm FIELDS FOLDER
package main

import (
	"bufio"
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
	side      = 806.0 // metres: 65 ha, 26,000 pixels of 5 m
	apart     = 1000.0
	perSide   = 6 // composites, 36 to a field
	east      = 420000.0
	north     = 4600000.0
	fieldsRow = 40
)

func main() {
	if len(os.Args) != 3 {
		log.Fatal("farm FIELDS FOLDER")
	}
	n, err := strconv.Atoi(os.Args[1])
	if err != nil || n < 1 {
		log.Fatalf("%q is not a number of fields", os.Args[1])
	}
	dir := os.Args[2]
	if err := os.MkdirAll(dir, 0o777); err != nil {
		log.Fatal(err)
	}
	r := rand.New(rand.NewPCG(65, 8))
	fields, exclusions, crops := begin(dir, "fields.geojson"), begin(dir, "wet.geojson"), begin(dir, "crops.geojson")
	table, err := os.Create(filepath.Join(dir, "soil.csv"))
	if err != nil {
		log.Fatal(err)
	}
	rows := bufio.NewWriter(table)
	fmt.Fprintln(rows, "ID,EAST,NORTH,pH,P Mehlich-3 mg/kg,K Mehlich-3 mg/kg,Mg mg/kg,Ca mg/kg,S mg/kg,Zn mg/kg,OM %")
	for i := range n {
		x, y := east+apart*float64(i%fieldsRow), north+apart*float64(i/fieldsRow)
		name := fmt.Sprintf("Field %d", i+1)
		fields.add(name, outline(r, x, y, x+side, y+side))
		exclusions.add("pond", outline(r, x+300, y+180, x+370, y+240))
		crops.add("corn", []point{{x - 9, y - 9}, {x + side + 9, y - 9}, {x + side + 9, y + side/2}, {x - 9, y + side/2}})
		crops.add("grass", []point{{x - 9, y + side/2}, {x + side + 9, y + side/2}, {x + side + 9, y + side + 9}, {x - 9, y + side + 9}})
		a, b := r.Float64()*6, r.Float64()*6
		for k := range perSide * perSide {
			px := x + side*(float64(k%perSide)+0.2+0.6*r.Float64())/perSide
			py := y + side*(float64(k/perSide)+0.2+0.6*r.Float64())/perSide
			wave := math.Sin((px-x)/170+a) * math.Cos((py-y)/210+b)
			fmt.Fprintf(rows, "F%dS%d,%.2f,%.2f", i+1, k+1, px, py)
			for _, f := range [][3]float64{{6.2, 0.5, 0.12}, {25, 10, 3}, {150, 40, 12}, {140, 30, 10}, {1500, 200, 90}, {9, 2, 1}, {1.2, 0.4, 0.1}, {3, 0, 0.4}} {
				fmt.Fprintf(rows, ",%.3g", f[0]+f[1]*wave+f[2]*r.NormFloat64())
			}
			fmt.Fprintln(rows)
		}
	}
	for _, c := range []*collection{fields, exclusions, crops} {
		c.end()
	}
	if err := rows.Flush(); err != nil {
		log.Fatal(err)
	}
	if err := table.Close(); err != nil {
		log.Fatal(err)
	}
}

type point [2]float64

// outline is a rough rectangle of 60 corners.
func outline(r *rand.Rand, x0, y0, x1, y1 float64) []point {
	var out []point
	rough := (x1 - x0) / 100
	corners := []point{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}
	for i := 1; i < len(corners); i++ {
		a, b := corners[i-1], corners[i]
		for k := range 15 {
			t := float64(k) / 15
			out = append(out, point{a[0] + t*(b[0]-a[0]) + rough*(r.Float64()-0.5), a[1] + t*(b[1]-a[1]) + rough*(r.Float64()-0.5)})
		}
	}
	return out
}

type collection struct {
	file *os.File
	w    *bufio.Writer
	some bool
}

func begin(dir, name string) *collection {
	f, err := os.Create(filepath.Join(dir, name))
	if err != nil {
		log.Fatal(err)
	}
	c := &collection{file: f, w: bufio.NewWriter(f)}
	c.w.WriteString(`{"type":"FeatureCollection","features":[`)
	return c
}

func (c *collection) add(name string, ring []point) {
	var b strings.Builder
	for _, p := range append(ring, ring[0]) {
		ll, err := crs.UTM(15, false).Inverse(p[0], p[1])
		if err != nil {
			log.Fatal(err)
		}
		fmt.Fprintf(&b, ",[%.7f,%.7f]", ll[0], ll[1])
	}
	if c.some {
		c.w.WriteString(",")
	}
	c.some = true
	fmt.Fprintf(c.w, "\n{\"type\":\"Feature\",\"properties\":{\"name\":%q},\"geometry\":{\"type\":\"Polygon\",\"coordinates\":[[%s]]}}", name, b.String()[1:])
}

func (c *collection) end() {
	c.w.WriteString("\n]}\n")
	if err := c.w.Flush(); err != nil {
		log.Fatal(err)
	}
	if err := c.file.Close(); err != nil {
		log.Fatal(err)
	}
}
