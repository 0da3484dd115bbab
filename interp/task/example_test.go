package task_test

import (
	"bytes"
	"fmt"
	"log"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/interp/task"
)

func ExampleWrite() {
	shape := func(w, s, e, n float64) crs.LonLatShape {
		return crs.LonLatShape{{orb.Ring{{w, s}, {e, s}, {e, n}, {w, n}, {w, s}}}}
	}
	f := &task.File{
		Farm:     "Hillside",
		Notes:    []string{"rates: table of the state, 1999"},
		Fields:   []task.Field{{Name: "North", Area: 754321, Boundary: shape(9, 52, 9.01, 52.01)}},
		Products: []task.Product{{Name: "Ground limestone"}},
		Tasks: []task.Task{{
			Name: "Lime on North",
			Unit: task.TonneHa,
			Zones: []task.Zone{
				{Name: "zone 1", Rate: 2500 * task.KgPerHa, Shape: shape(9, 52, 9.005, 52.01)},
				{Name: "zone 2", Rate: 1234.567 * task.KgPerHa, Shape: shape(9.005, 52, 9.01, 52.01)},
			},
		}},
	}
	var file bytes.Buffer
	if err := task.Write(&file, f); err != nil {
		log.Fatal(err)
	}
	back, err := task.Read(bytes.NewReader(file.Bytes()), int64(file.Len()))
	if err != nil {
		log.Fatal(err)
	}
	for _, z := range back.Tasks[0].Zones {
		fmt.Printf("%s: %g mg/m²\n", z.Name, z.Rate)
	}
	// Output:
	// zone 1: 250000 mg/m²
	// zone 2: 123457 mg/m²
}
