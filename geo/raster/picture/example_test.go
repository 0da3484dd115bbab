package picture_test

import (
	"bytes"
	"fmt"
	"log"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
	"corewalk/geo/raster/picture"
)

func ExampleMap() {
	field := plane.Shape{orb.Polygon{orb.Ring{{0, 0}, {300, 0}, {300, 200}, {0, 200}, {0, 0}}}}
	grid := &raster.Grid{Geometry: raster.Geometry{West: 0, North: 200, Pixel: 10, Width: 30, Height: 20, EPSG: 32615}}
	for i := range 600 {
		grid.Data = append(grid.Data, 5.4+float32(i%30)/20)
	}
	m := &picture.Map{
		Title: "pH, home field", Subtitle: "Sampled 14 October 2025, 0–15 cm",
		Grid: grid, Legend: "Soil pH in water", Ramp: raster.Heather,
		Outlines: []picture.Outline{{Kind: picture.Boundary, Shape: field}},
		Points:   []picture.Point{{At: plane.XY{80, 90}, Label: "5.9", ID: "HF-1"}},
		Notes:    []string{"NOT SUPPORTED: the surface is no better than the mean of the samples."},
		Footer:   []string{"Inverse distance weighting; leave-one-out error 0.31."},
	}
	var svg, png bytes.Buffer
	if err := m.SVG(&svg); err != nil {
		log.Fatal(err)
	}
	if err := m.PNG(&png, 0); err != nil {
		log.Fatal(err)
	}
	fmt.Println(svg.Len() > 2000, png.Len() > 20000)
	// Output: true true
}
