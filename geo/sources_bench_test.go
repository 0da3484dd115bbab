package geo

import (
	"fmt"
	"testing"

	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// A district: 20,000 fields, and as many exclusions.
func BenchmarkOutlines(b *testing.B) {
	const many, across = 20_000, 150
	fields, ponds := layer("fields.geojson", "name"), layer("ponds.geojson", "name")
	for i := range many {
		x, y := 9+0.006*float64(i%across), 51+0.004*float64(i/across)
		square := func(x, y, size float64) vector.Feature {
			return named(fmt.Sprintf("F%d", i), crs.LonLatShape{{{{x, y}, {x + size, y}, {x + size, y + size}, {x, y + size}, {x, y}}}})
		}
		fields.Features = append(fields.Features, square(x, y, 0.005))
		ponds.Features = append(ponds.Features, square(x+0.004, y+0.001, 0.001+0.001*float64(i%3)))
	}
	src := Sources{Boundary: Source{Layer: fields}, Exclude: []Source{{Layer: ponds, Setback: 10}}, Setback: 10}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := src.Outlines(); err != nil {
			b.Fatal(err)
		}
	}
}
