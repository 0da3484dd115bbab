package main

import (
	"encoding/json"
	"fmt"
	"os"

	"corewalk/geo"
	"corewalk/geo/vector"
)

// openedZones is a file of zones of which only those of a field are in memory.
type openedZones struct {
	lineFile
	lines map[string][]span      // by field
	whole map[string][]drawnZone // of a file that another program has written anew
}

// openZones finds the zones of each field; patches and the rest are left.
func openZones(path string) (*openedZones, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, readError(err)
	}
	z := &openedZones{lineFile: lineFile{path: path, file: f}, lines: map[string][]span{}}
	if z.scan(func(line []byte, at span) bool {
		var feature struct {
			Type       string
			Properties struct {
				Kind, Field, Analyte string
				Class                *int
			}
		}
		if json.Unmarshal(line, &feature) != nil || feature.Type != "Feature" {
			return false
		}
		if p := feature.Properties; p.Kind == kindZone && p.Class != nil {
			z.lines[p.Field] = append(z.lines[p.Field], at)
		}
		return true
	}) {
		if len(z.lines) == 0 {
			z.Close()
			return nil, noZones(path)
		}
		return z, nil
	}
	z.Close()
	layer, err := vector.Read(path, vector.Options{})
	if err != nil {
		return nil, readError(err)
	}
	z = &openedZones{lineFile: lineFile{path: path}}
	if z.whole, err = zonesOf(layer); err == nil && len(z.whole) == 0 {
		err = noZones(path)
	}
	return z, err
}

func noZones(path string) error {
	return fmt.Errorf("%s has no zones; draw some with corewalk zone --classes", path)
}

// of returns the zones of a field. It is safe for use by several goroutines, and
// for no file at all.
func (z *openedZones) of(field string) ([]drawnZone, error) {
	if z == nil {
		return nil, nil
	}
	if z.whole != nil || len(z.lines[field]) == 0 {
		return z.whole[field], nil
	}
	layer, err := z.parse(z.lines[field])
	if err != nil {
		return nil, err
	}
	all, err := zonesOf(layer)
	return all[field], err
}

// zonesOf sorts the zones of a layer by field.
func zonesOf(layer *vector.Layer) (map[string][]drawnZone, error) {
	out := map[string][]drawnZone{}
	for i := range layer.Features {
		f := &layer.Features[i]
		text := func(column string) string { s, _ := layer.Text(f, column); return s }
		if text("kind") != kindZone || text("class") == "" || len(f.Shape) == 0 {
			continue
		}
		z := drawnZone{id: text("id"), analyte: text("analyte"), shape: f.Shape, division: geo.Division{Kind: geo.Management, Name: text("management")}}
		if name := text("problem"); name != "" {
			z.division = geo.Division{Kind: geo.Problem, Name: name}
		}
		if z.id == "" || z.analyte == "" || text("field") == "" {
			return nil, fmt.Errorf("%s: feature %d is a zone without id, analyte or field; take the zones.geojson that corewalk zone writes", layer.Path, f.Index)
		}
		out[text("field")] = append(out[text("field")], z)
	}
	return out, nil
}
