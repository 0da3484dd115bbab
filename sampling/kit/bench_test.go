package kit

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// invented returns outlines of fields of so many hectares, low to high, of varied
// shape and way round the compass, every third with a pond.
func invented(n int, low, high float64) []geo.Outline {
	r := rand.New(rand.NewPCG(22, 7))
	out := make([]geo.Outline, n)
	for i := range out {
		area := geo.Hectare * (low + (high-low)*r.Float64())
		var x, y []float64
		switch i % 4 {
		case 0: // with straight sides
			w, skew := 0.5+1.5*r.Float64(), 0.4*r.Float64()
			x, y = []float64{0, w, w + skew, skew}, []float64{0, 0, 1, 1}
		case 1: // bent
			x, y = []float64{0, 2, 2, 1, 1, 0}, []float64{0, 0, 0.8 + 0.4*r.Float64(), 1, 2, 2}
		default: // drawn by hand, or walked along with a receiver
			corners := 5 + r.IntN(6)
			if i%4 == 3 {
				corners = 60
			}
			for k := range corners {
				a, off := 2*math.Pi*float64(k)/float64(corners), 0.75+0.25*r.Float64()
				x, y = append(x, off*math.Cos(a)), append(y, off*(0.6+0.3*math.Sin(a))*math.Sin(a))
			}
		}
		var unit, cx, cy float64
		for k := range x {
			l := (k + 1) % len(x)
			unit += (x[k]*y[l] - x[l]*y[k]) / 2
			cx, cy = cx+x[k]/float64(len(x)), cy+y[k]/float64(len(y))
		}
		side, turn := math.Sqrt(area/unit), math.Pi*r.Float64()
		lon, lat := 9.5+0.02*float64(i%50), 51+0.01*float64(i/50)
		at := func(x, y float64) orb.Point {
			sin, cos := math.Sincos(turn)
			x, y = side*(x*cos-y*sin), side*(x*sin+y*cos)
			return orb.Point{lon + x/(111_320*math.Cos(lat*math.Pi/180)), lat + y/111_200}
		}
		var ring, pond orb.Ring
		for k := range x {
			ring = append(ring, at(x[k], y[k]))
		}
		out[i] = geo.Outline{Name: fmt.Sprintf("F%05d", i), Setback: 10, Boundary: crs.LonLatShape{{append(ring, ring[0])}}}
		if i%3 == 0 {
			for k := range 12 {
				a := 2 * math.Pi * float64(k) / 12
				off := (20 + 15*r.Float64()) / side
				pond = append(pond, at(cx+off*math.Cos(a), cy+off*math.Sin(a)))
			}
			out[i].Exclusions = []geo.Part{{Name: "pond", Where: "pond", Setback: 10, Shape: crs.LonLatShape{{append(pond, pond[0])}}}}
		}
	}
	return out
}

func gridOf(cores int) sampling.Params {
	return sampling.Params{Design: sampling.Grid, Cell: 2.5 * geo.Acre, Cores: cores, Seed: 1, Setback: 10}
}

// writeKit is what is written of a plan.
func writeKit(w io.Writer, plan *sampling.Plan) error {
	features, err := plan.Features()
	if err != nil {
		return err
	}
	if err := vector.WriteGeoJSON(w, vector.Collection{Features: features}); err != nil {
		return err
	}
	documents, err := Waypoints(Stops(plan), Handheld{}, "corewalk")
	if err != nil {
		return err
	}
	for _, d := range documents {
		if err := gpx.Write(w, d); err != nil {
			return err
		}
	}
	if err := vector.WriteGeoJSON(w, vector.Collection{Features: WaypointFeatures(plan)}); err != nil {
		return err
	}
	return Manifest(w, plan)
}

// One field from its outline to the written kit, as of a farm planned field by
// field; the time is that of one field.
func BenchmarkField(b *testing.B) {
	var out bytes.Buffer
	for _, size := range []struct {
		name      string
		low, high float64
	}{{"16ha", 14, 18}, {"26ha", 25, 27}, {"5to40ha", 5, 40}} {
		outlines := invented(60, size.low, size.high)
		var fields []*geo.Field
		var plans []*sampling.Plan
		cores, units := 0, 0
		for _, o := range outlines {
			f, err := geo.Map(o)
			if err != nil {
				b.Fatal(err)
			}
			plan, err := sampling.Make([]*geo.Field{f}, gridOf(10))
			if err != nil {
				b.Fatal(err)
			}
			fields, plans = append(fields, f), append(plans, plan)
			cores, units = cores+plan.Fields[0].Cores(), units+len(plan.Fields[0].Units)
		}
		for _, stage := range []struct {
			name string
			do   func(i int) error
		}{
			{"map", func(i int) error { _, err := geo.Map(outlines[i]); return err }},
			{"split", func(i int) error { _, err := sampling.Split([]*geo.Field{fields[i]}, gridOf(10)); return err }},
			{"make", func(i int) error { _, err := sampling.Make([]*geo.Field{fields[i]}, gridOf(10)); return err }},
			{"write", func(i int) error { out.Reset(); return writeKit(&out, plans[i]) }},
		} {
			b.Run(size.name+"/"+stage.name, func(b *testing.B) {
				b.ReportAllocs()
				for n := 0; b.Loop(); n++ {
					if err := stage.do(n % len(outlines)); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(units)/float64(len(outlines)), "units")
				b.ReportMetric(float64(cores)/float64(len(outlines)), "cores")
			})
		}
	}
}
