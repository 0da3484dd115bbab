package main

import (
	"encoding/json"
	"os"

	"corewalk/geo"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

func readResults(path string) (*sampling.Results, error) {
	layer, err := vector.Read(path, vector.Options{})
	if err != nil {
		return nil, readError(err)
	}
	return sampling.ReadResults(layer)
}

// openedResults is a results file of which only those fields are in memory that
// are worked on.
type openedResults struct {
	analytes []sampling.Analyte
	fields   []string // names

	lineFile
	lines [][]span // of the features of each field
	whole *sampling.Results
}

// openResults finds the features of each field, which corewalk writes one to a
// line. A file that another program has written anew, and one with any fault, is
// read as a whole: that finds the same, and names every fault with its place.
func openResults(path string) (*openedResults, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, readError(err)
	}
	r := &openedResults{lineFile: lineFile{path: path, file: f}}
	if r.index() {
		return r, nil
	}
	f.Close()
	r = &openedResults{lineFile: lineFile{path: path}}
	if r.whole, err = readResults(path); err != nil {
		return nil, err
	}
	r.analytes = r.whole.Analytes
	for _, f := range r.whole.Fields {
		r.fields = append(r.fields, f.Name)
	}
	return r, nil
}

// index reports whether the file is as corewalk writes it.
func (r *openedResults) index() bool {
	byName := map[string]int{}
	ids := map[string]bool{}
	if !r.scan(func(line []byte, at span) bool {
		var feature struct {
			Type       string `json:"type"`
			Properties struct {
				Kind, Name, Field, ID string
			} `json:"properties"`
		}
		if json.Unmarshal(line, &feature) != nil || feature.Type != "Feature" {
			return false
		}
		p := feature.Properties
		name := p.Field
		switch p.Kind {
		case sampling.KindField:
			name = p.Name
			if _, twice := byName[name]; twice {
				return false
			}
			byName[name] = len(r.fields)
			r.fields = append(r.fields, name)
			r.lines = append(r.lines, nil)
		case sampling.KindUnit:
			if ids[p.ID] {
				return false // not always wrong
			}
			ids[p.ID] = true
		}
		i, known := byName[name]
		if !known {
			return false
		}
		r.lines[i] = append(r.lines[i], at)
		return true
	}) || len(r.fields) == 0 {
		return false
	}
	// The analytes, and whether the head makes sense.
	none, err := r.parse(nil)
	if err != nil {
		return false
	}
	var head struct {
		Analytes []sampling.Analyte `json:"analytes"`
	}
	if json.Unmarshal(none.Foreign["corewalk"], &head) != nil || len(head.Analytes) == 0 {
		return false
	}
	r.analytes = head.Analytes
	return true
}

// field returns a field, mapped anew, and its composites. It is safe for use by
// several goroutines.
func (r *openedResults) field(i int) (*geo.Field, []sampling.Composite, error) {
	if r.whole != nil {
		f := r.whole.Fields[i]
		var out []sampling.Composite
		for _, c := range r.whole.Composites {
			if c.Field == f.Name {
				out = append(out, c)
			}
		}
		return f, out, nil
	}
	layer, err := r.parse(r.lines[i])
	if err == nil {
		var one *sampling.Results
		if one, err = sampling.ReadResults(layer); err == nil {
			return one.Fields[0], one.Composites, nil
		}
	}
	// Read as a whole, the fault has its true place.
	if _, whole := readResults(r.path); whole != nil {
		err = whole
	}
	return nil, nil, err
}

// slugs gives fields and analytes the names that their files bear. All analytes
// of the results take part, so that a file keeps its name whichever of them are
// asked for.
func (r *openedResults) slugs() (fields []string, analytes map[string]string) {
	var names []string
	for _, a := range r.analytes {
		names = append(names, a.Name)
	}
	analytes = map[string]string{}
	for i, s := range slugs(names) {
		analytes[names[i]] = s
	}
	return slugs(r.fields), analytes
}
