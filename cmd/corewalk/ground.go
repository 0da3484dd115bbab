package main

import (
	"fmt"

	"corewalk/geo"
	"corewalk/geo/raster"
	"corewalk/interp"
	"corewalk/sampling"
)

// ground is the raster of one field: which division each pixel lies in.
type ground struct {
	field    *geo.Field
	geometry raster.Geometry
	division []int32
}

func rasterGround(f *geo.Field, pixel float64) (ground, error) {
	g, err := raster.Cover(f.Bound(), pixel, f.Frame.EPSG())
	if err != nil {
		return ground{}, err
	}
	return ground{f, g, interp.Mask(f, g)}, nil
}

// placedComposites are those of one field, on its ground.
type placedComposites struct {
	of    []sampling.Composite
	units []interp.Unit // without figures
}

// placed finds the divisions, places and shapes of the composites of a field.
func placed(f *geo.Field, of []sampling.Composite) (placedComposites, error) {
	out := placedComposites{of: of}
	where := f.NewWhereabouts()
	for _, c := range of {
		at, err := c.Place(f.Frame)
		if err != nil {
			return out, fmt.Errorf("sample %s: %w", c.ID, err)
		}
		d := divisionOf(f, where, c, at)
		if d < 0 {
			return out, fmt.Errorf("sample %s: its management unit or problem area is not in the field", c.ID)
		}
		u := interp.Unit{Sample: interp.Sample{ID: c.ID, At: at, Division: d}, Number: c.Unit}
		if len(c.Shape) > 0 {
			if u.Shape, _, err = f.Frame.Shape(c.Shape); err != nil {
				return out, fmt.Errorf("sample %s: %w", c.ID, err)
			}
		}
		out.units = append(out.units, u)
	}
	return out, nil
}

// divisionOf finds the division that a composite belongs to. Of several parts
// of one name, it is the one that the composite's place lies in or is nearest
// to.
func divisionOf(f *geo.Field, where *geo.Whereabouts, c sampling.Composite, at geo.XY) int {
	found, off := -1, 0.0
	for i, d := range f.Divisions {
		if !(d.Kind == geo.Problem && d.Name == c.Problem || d.Kind == geo.Management && c.Problem == "" && d.Name == c.Management) {
			continue
		}
		if o := where.Off(i, at); found < 0 || o < off {
			found, off = i, o
		}
	}
	return found
}

// with returns those that have a figure of the analyte.
func (c placedComposites) with(analyte string) []interp.Unit {
	var out []interp.Unit
	for i, u := range c.units {
		if figure, ok := c.of[i].Figure(analyte); ok {
			u.Value = figure.Value
			out = append(out, u)
		}
	}
	return out
}

func samplesOf(units []interp.Unit) []interp.Sample {
	out := make([]interp.Sample, len(units))
	for i, u := range units {
		out[i] = u.Sample
	}
	return out
}
