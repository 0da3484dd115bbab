package vector_test

import (
	"fmt"
	"os"

	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

func ExampleRead() {
	layer, err := vector.Read("../../testdata/vector/utm.shp", vector.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(layer.CRS.Name(), "from", layer.CRSFrom)
	for i := range layer.Features {
		f := &layer.Features[i]
		id, _ := layer.Text(f, "id")
		fmt.Printf("%s: %d polygons, first vertex %.4f %.4f\n", id, len(f.Shape), f.Shape[0][0][0][0], f.Shape[0][0][0][1])
	}
	// Output:
	// NAD_1983_UTM_Zone_15N from utm.prj
	// 0012: 1 polygons, first vertex -93.6500 42.0200
	// 0013: 2 polygons, first vertex -93.6400 42.0200
	// 0014: 1 polygons, first vertex -93.6300 42.0200
}

func ExampleWriteGeoJSON() {
	err := vector.WriteGeoJSON(os.Stdout, vector.Collection{
		Members: []vector.Member{{Name: "corewalk", Value: map[string]int{"seed": 7}}},
		Features: []vector.OutFeature{{
			Point:      &crs.LonLat{-93.64, 42.02},
			Properties: []vector.Property{{Name: "kind", Value: "core"}, {Name: "depth_cm", Value: 20.0}},
		}},
	})
	if err != nil {
		fmt.Println(err)
	}
	// Output:
	// {"type":"FeatureCollection",
	// "corewalk":{"seed":7},
	// "features":[
	// {"type":"Feature","properties":{"kind":"core","depth_cm":20},"geometry":{"type":"Point","coordinates":[-93.64,42.02]}}
	// ]}
}
