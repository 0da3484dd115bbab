package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"strconv"

	"corewalk/geo"
	"corewalk/interp"
)

// residualsFile holds every composite that was left out and what the others
// say about it.
const residualsFile = "residuals.csv"

var residualColumns = []string{"field", "analyte", "sample", "lon", "lat", "x_m", "y_m", "epsg", "observed", "predicted", "residual"}

type residualTable struct {
	w     *csv.Writer
	begun bool
}

func newResidualTable(w io.Writer) *residualTable { return &residualTable{w: csv.NewWriter(w)} }

// add writes the rows of one surface.
func (t *residualTable) add(f *geo.Field, r *surfaceRecord) error {
	if err := t.head(); err != nil {
		return err
	}
	exact := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	for _, e := range r.CrossValidation.Each {
		ll, err := f.Frame.LonLat(geo.XY{e.X, e.Y})
		if err != nil {
			return fmt.Errorf("field %s, sample %s: %w", f.Name, e.ID, err)
		}
		if err := t.w.Write([]string{
			r.Field, r.Analyte, e.ID, fmt.Sprintf("%.7f", ll[0]), fmt.Sprintf("%.7f", ll[1]), fmt.Sprintf("%.3f", e.X), fmt.Sprintf("%.3f", e.Y),
			strconv.Itoa(f.Frame.EPSG()), exact(e.Observed), exact(e.Predicted), exact(e.Observed - e.Predicted),
		}); err != nil {
			return err
		}
	}
	return nil
}

func (t *residualTable) head() error {
	if t.begun {
		return nil
	}
	t.begun = true
	return t.w.Write(residualColumns)
}

func (t *residualTable) flush() error {
	if err := t.head(); err != nil {
		return err
	}
	t.w.Flush()
	return t.w.Error()
}

// surfaceKey names a surface.
type surfaceKey struct{ field, analyte string }

// readResiduals reads the file that residualTable writes: what is said of the
// analytes that wanted holds.
func readResiduals(path string, wanted func(analyte string) bool) (map[surfaceKey][]interp.Residual, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, readError(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = len(residualColumns)
	r.ReuseRecord = true
	out := map[surfaceKey][]interp.Residual{}
	for line := 1; ; line++ {
		row, err := r.Read()
		if err == io.EOF && line > 1 {
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", path, err)
		}
		if line == 1 {
			for i, c := range residualColumns {
				if row[i] != c {
					return nil, fmt.Errorf("%s: column %d is %q, not %q; make the surfaces anew", path, i+1, row[i], c)
				}
			}
			continue
		}
		if !wanted(row[1]) {
			continue
		}
		var v [4]float64
		for i, column := range [...]int{5, 6, 8, 9} {
			if v[i], err = parseNumber(row[column]); err != nil {
				return nil, fmt.Errorf("%s: row %d, column %s: %w", path, line, residualColumns[column], err)
			}
		}
		key := surfaceKey{row[0], row[1]}
		out[key] = append(out[key], interp.Residual{ID: row[2], X: v[0], Y: v[1], Observed: v[2], Predicted: v[3]})
	}
}

func everyAnalyte(string) bool { return true }
