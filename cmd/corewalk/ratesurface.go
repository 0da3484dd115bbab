package main

import (
	"fmt"
	"math"
	"slices"

	"corewalk/geo"
	"corewalk/geo/raster"
	"corewalk/interp/rate"
	"corewalk/interp/zone"
)

// bySurface rates every pixel, and cuts the field into zones of like rates.
func (m *rateMaker) bySurface(out *rated) error {
	if err := m.rasters(); err != nil {
		return err
	}
	bases := map[string]*base{}
	for _, name := range m.names() {
		b, err := m.base(name)
		if err != nil {
			return err
		}
		bases[name] = b
	}
	on := bases[m.names()[0]].on
	conditions := make([]rate.Conditions, len(on.field.Divisions))
	for d := range conditions {
		var err error
		if conditions[d], err = m.conditionsOf(on.field.Divisions[d], m.of); err != nil {
			return err
		}
	}
	at := func(i int) rate.Figures {
		f := rate.Figures{}
		for name, b := range bases {
			if v := b.grid.Data[i]; v != raster.NoData {
				f[name] = rate.Figure{Value: float64(v), Unit: m.inputs[name].Unit, Method: m.inputs[name].Method}
			}
		}
		return f
	}
	rates := make([]*raster.Grid, len(m.scheme.Tables)) // kg/ha of what the table counts
	for t := range rates {
		rates[t] = &raster.Grid{Geometry: on.geometry, Data: slices.Repeat([]float32{raster.NoData}, len(on.division))}
	}
	for i, d := range on.division {
		if d < 0 {
			continue
		}
		answers, err := m.scheme.Answers(at(i), conditions[d])
		if err != nil {
			return err
		}
		for t, a := range answers {
			if a.Refused == nil {
				rates[t].Data[i] = float32(a.KgPerHa)
			}
		}
	}
	// Classes of all tables together: pixels of one code are alike in all of them.
	code := make([]int32, len(on.division))
	for _, g := range rates {
		for i, c := range zone.Classify(g, rateLimits(g, m.Classes)) {
			code[i] = code[i]*int32(mostClasses+2) + c + 1
		}
	}
	for i, c := range code {
		if c == 0 {
			code[i] = -1 // every table refuses
		}
	}
	result, err := on.zones.Partition(code, zone.Options{Smallest: m.Smallest / on.scale, LeastWidth: m.LeastWidth, Smooth: chords(m.Smooth)})
	if err != nil {
		return err
	}
	for k, z := range result.Zones {
		g := ratedGround{id: fmt.Sprintf("rate-%d", k+1), division: on.field.Divisions[z.Division], Conditions: conditions[z.Division]}
		g.division.Shape = nil
		answers, err := m.meanAnswers(z, on, rates, at, g.Conditions)
		if err != nil {
			return err
		}
		if g.advice, err = m.scheme.Meet(answers); err != nil {
			return err
		}
		g.from = fmt.Sprintf("%d pixels of %s m, each rated by itself", len(z.Pixels), plain(on.geometry.Pixel))
		if err := m.settle(&g, z.Shape); err != nil {
			return err
		}
		inside := map[int]bool{}
		for _, i := range z.Pixels {
			inside[int(i)] = true
		}
		if err := m.beyond(&g, func(i int, _ geo.XY) bool { return inside[i] }, z.Shape); err != nil {
			return err
		}
		out.grounds = append(out.grounds, g)
	}
	m.sayBeyond()
	return nil
}

// meanAnswers are what tables say for a zone: the means of their rates for its
// pixels, with the calculation for one that is near to the mean.
func (m *rateMaker) meanAnswers(z zone.Zone, on *preparedGround, rates []*raster.Grid, at func(int) rate.Figures, c rate.Conditions) ([]rate.Answer, error) {
	pixels := z.Pixels
	if len(pixels) == 0 {
		pixels = []int32{nearestPixel(on, z)}
	}
	out := make([]rate.Answer, len(rates))
	for t, g := range rates {
		f := z.Figures(g)
		typical := pixels[0]
		for _, i := range pixels {
			if g.Data[i] != raster.NoData && (g.Data[typical] == raster.NoData || math.Abs(float64(g.Data[i])-f.Mean) < math.Abs(float64(g.Data[typical])-f.Mean)) {
				typical = i
			}
		}
		answers, err := m.scheme.Answers(at(int(typical)), c)
		if err != nil {
			return nil, err
		}
		a := answers[t]
		if per, ok := rate.KgPerHa(a.Unit); ok && a.Refused == nil && f.Pixels > 0 {
			if a.Material > 0 {
				per *= a.Material / 100
			}
			a.Steps = append(a.Steps, rate.Step{Text: "so reckoned for the pixel nearest to the mean of its zone", Result: a.Rate, Unit: a.Unit})
			a.KgPerHa, a.Rate = f.Mean, f.Mean/per
			a.Steps = append(a.Steps,
				rate.Step{Text: fmt.Sprintf("mean of the rates of %d pixels, %s to %s", f.Pixels, plain(decimals(f.Least/per, 3)), plain(decimals(f.Greatest/per, 3))), Result: a.Rate, Unit: a.Unit},
				rate.Step{Text: "in kg/ha", Result: a.KgPerHa, Unit: "kg/ha of " + a.Of})
			if f.Mean > 0 {
				a.Reason = ""
			}
		}
		out[t] = a
	}
	return out, nil
}

// nearestPixel finds the pixel of a zone that is too narrow to hold the middle of
// one.
func nearestPixel(on *preparedGround, z zone.Zone) int32 {
	middle := geo.XY(z.Shape.Bound().Center())
	best, off := int32(0), math.Inf(1)
	for i, d := range on.division {
		x, y := on.geometry.Center(i%on.geometry.Width, i/on.geometry.Width)
		if o := middle.Distance(geo.XY{x, y}); int(d) == z.Division && o < off {
			best, off = int32(i), o
		}
	}
	return best
}

// rateLimits are those between classes of rates: none at all, and equal steps up
// to the highest.
func rateLimits(g *raster.Grid, classes int) []float64 {
	most := 0.0
	for _, v := range g.Data {
		if v != raster.NoData {
			most = max(most, float64(v))
		}
	}
	if most == 0 {
		return nil
	}
	limits := []float64{0.005} // what is rounded to 0 kg/ha is none
	for k := 1; k < classes; k++ {
		if l := most * float64(k) / float64(classes); l > limits[len(limits)-1] {
			limits = append(limits, l)
		}
	}
	return limits
}
