package main

import (
	"fmt"

	"corewalk/geo/raster"
	"corewalk/interp/rate"
)

// fieldRates is what came of one field.
type fieldRates struct {
	rated   []*rated
	records []rateRecord
	lines   []byte // features
	rows    [][]string
	files   []outFile
	tasks   fieldTasks
	crops   []bool
	notices []string
}

// openedRates is what rates are worked out from.
type openedRates struct {
	rateParameters
	results      *openedResults
	schemes      []rate.Scheme
	surfaces     map[surfaceKey]surfaceRecord
	surfacesPath string
	zones        *openedZones // nil where there are none
	inputs       []string
	slugs        []string // of fields
	out          *outputs
	cautions     []string
}

func openRates(resultsPath, surfacesPath, zonesPath string, p rateParameters) (*openedRates, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	all, err := readTables(p.own)
	if err != nil {
		return nil, err
	}
	var tables []rate.Table
	for _, name := range p.Use {
		t, err := rate.Find(all, name)
		if err != nil {
			return nil, err
		}
		tables = append(tables, t)
	}
	var materials []rate.Material
	for _, x := range p.products {
		materials = append(materials, x.Material)
	}
	w := &openedRates{rateParameters: p, surfacesPath: surfacesPath}
	if w.schemes, err = rate.Schemes(tables, materials); err != nil {
		return nil, err
	}
	if err := w.open(resultsPath, zonesPath); err != nil {
		w.Close()
		return nil, err
	}
	return w, nil
}

// open opens the files, and lists those that rates depend on.
func (w *openedRates) open(resultsPath, zonesPath string) error {
	var err error
	if w.results, err = openResults(resultsPath); err != nil {
		return err
	}
	w.slugs, _ = w.results.slugs()
	w.inputs = append([]string{resultsPath}, w.own...)
	if w.surfacesPath != "" {
		index, err := readSurfaces(w.surfacesPath)
		if err != nil {
			return err
		}
		w.surfaces = index.byKey()
		var names []string
		for k := range w.schemes {
			inputs, _ := inputsOf(&w.schemes[k], w.results.analytes)
			for _, a := range inputs {
				names = append(names, a.Name)
			}
		}
		rasters, err := rasterFiles(w.surfacesPath, w.surfaces, w.results.fields, names)
		if err != nil {
			return err
		}
		w.inputs = append(append(w.inputs, w.surfacesPath), rasters...)
	}
	if zonesPath != "" {
		if w.zones, err = openZones(zonesPath); err != nil {
			return err
		}
		w.inputs = append(w.inputs, zonesPath)
	}
	return nil
}

// Close closes the files.
func (w *openedRates) Close() {
	if w.results != nil {
		w.results.Close()
	}
	if w.zones != nil {
		w.zones.Close()
	}
}

// makers prepares the work on a field, one for each scheme.
func (w *openedRates) makers(i int) ([]*rateMaker, error) {
	f, of, err := w.results.field(i)
	if err != nil {
		return nil, err
	}
	zones := &zoneMaker{
		zoneParameters: zoneParameters{Within: "ground", Insist: w.Insist}, what: "its figures are those of the", field: f,
		surfaces: w.surfaces, surfacesPath: w.surfacesPath, grounds: map[raster.Geometry]*preparedGround{}, drawn: map[string]*base{},
	}
	drawn, err := w.zones.of(f.Name)
	if err != nil {
		return nil, err
	}
	var out []*rateMaker
	for k := range w.schemes {
		m := &rateMaker{
			rateParameters: w.rateParameters, zones: zones, field: f, of: of, scheme: &w.schemes[k],
			drawn: drawn, zoned: w.zones != nil, crops: make([]bool, len(w.rateParameters.crops)),
		}
		m.inputs, m.sample = inputsOf(m.scheme, w.results.analytes)
		out = append(out, m)
	}
	return out, nil
}

// field works out the rates of one field, and its part of the files.
func (w *openedRates) field(i int) (fieldRates, error) {
	var out fieldRates
	makers, err := w.makers(i)
	if err != nil {
		return out, err
	}
	out.crops = make([]bool, len(w.rateParameters.crops))
	for _, m := range makers {
		x, err := m.make()
		if err != nil {
			return out, fmt.Errorf("field %s: %w", m.field.Name, err)
		}
		out.notices = append(out.notices, append(x.notices, x.refusals()...)...)
		for k, u := range m.crops {
			out.crops[k] = out.crops[k] || u
		}
		out.rated = append(out.rated, x)
		own := len(out.records)
		out.records = append(out.records, x.records(w.rateParameters)...)
		if out.lines, err = x.features(out.lines, w.rateParameters); err != nil {
			return out, err
		}
		out.rows = append(out.rows, x.rows(w.rateParameters)...)
		if len(m.scheme.Materials) == 0 {
			continue // nothing that a spreader could be filled with
		}
		files, err := w.shapefiles(x, w.slugs[i])
		if err != nil {
			return out, fmt.Errorf("field %s: %w", m.field.Name, err)
		}
		out.files = append(out.files, files...)
		if w.Task != "no" {
			notices, err := out.tasks.add(x, w.rateParameters, out.records[own:])
			if err != nil {
				return out, fmt.Errorf("field %s: task file: %w", m.field.Name, err)
			}
			out.notices = append(out.notices, notices...)
		}
	}
	return out, nil
}
