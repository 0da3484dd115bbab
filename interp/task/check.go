package task

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/plane"
)

const (
	minCell  = 1e-8       // degrees: 1 mm
	maxArea  = 4294967294 // m², of a field
	maxItems = 10000      // fields, products, tasks
	maxNotes = 32 << 10   // bytes of notes
	maxCode  = 254        // of a treatment zone
)

// Check returns what keeps the file from being written, in one line. It does not
// look for rings that cross and zones that overlap.
func (f *File) Check() error {
	for _, n := range []struct {
		what string
		n    int
	}{{"fields", len(f.Fields)}, {"products", len(f.Products)}, {"tasks", len(f.Tasks)}} {
		if n.n > maxItems {
			return fmt.Errorf("%d %s: a task file is written with at most %d", n.n, n.what, maxItems)
		}
	}
	size := 0
	for _, n := range f.Notes {
		size += len(n) + 1
	}
	if size > maxNotes {
		return fmt.Errorf("notes of %d bytes: at most %d are written", size, maxNotes)
	}
	for i, field := range f.Fields {
		if err := field.check(); err != nil {
			return fmt.Errorf("field %d (%.40q): %w", i+1, field.Name, err)
		}
	}
	for i, p := range f.Products {
		if err := p.check(); err != nil {
			return fmt.Errorf("product %d (%.40q): %w", i+1, p.Name, err)
		}
	}
	cells := 0
	for i := range f.Tasks {
		t := &f.Tasks[i]
		err := t.check(len(f.Fields), len(f.Products))
		if err == nil && t.Grid != nil {
			if cells += len(t.Grid.Values); cells > MaxCells {
				err = fmt.Errorf("more than %d cells with those of the tasks before it: take larger cells or several files", MaxCells)
			}
		}
		if err != nil {
			return fmt.Errorf("task %d (%.40q): %w", i+1, t.Name, err)
		}
	}
	return nil
}

func named(name string) error {
	if designator(name) == "" {
		return errors.New("no name; give it one")
	}
	return nil
}

func (f Field) check() error {
	if err := named(f.Name); err != nil {
		return err
	}
	if !(f.Area >= 0 && math.Round(f.Area) <= maxArea) {
		return fmt.Errorf("an area of %g m² is not one from 0 to %d", f.Area, int64(maxArea))
	}
	return checkShape(f.Boundary)
}

func (p Product) check() error {
	if err := named(p.Name); err != nil {
		return err
	}
	if !(p.Density >= 0 && math.Round(p.Density*1000) <= math.MaxInt32) {
		return fmt.Errorf("a density of %g kg/m³ is not one from 0 to 2147483", p.Density)
	}
	return nil
}

func (t *Task) check(fields, products int) error {
	if err := named(t.Name); err != nil {
		return err
	}
	switch {
	case t.Field < 0 || t.Field >= fields:
		return fmt.Errorf("field %d of %d; they count from 0", t.Field, fields)
	case t.Product < 0 || t.Product >= products:
		return fmt.Errorf("product %d of %d; they count from 0", t.Product, products)
	case t.Unit < 0 || t.Unit >= units:
		return fmt.Errorf("%s is not known", t.Unit)
	case len(t.Zones) == 0 && t.Grid == nil:
		return errors.New("neither zones nor a grid; nothing to spread")
	case len(t.Zones) > 0 && t.Grid != nil:
		return errors.New("both zones and a grid; a task has one of them")
	}
	for i, z := range t.Zones {
		_, err := Setpoint(z.Rate)
		if err == nil && len(z.Shape) == 0 {
			err = errors.New("no ground; leave it out")
		}
		if err == nil {
			err = checkShape(z.Shape)
		}
		if err != nil {
			return fmt.Errorf("zone %d: %w", i+1, err)
		}
	}
	if t.Grid != nil {
		if err := t.Grid.check(); err != nil {
			return fmt.Errorf("grid: %w", err)
		}
	}
	_, err := t.treatments()
	return err
}

func (g *Grid) check() error {
	cell := func(d float64) bool { return d >= minCell && d <= 1 }
	within := func(least, step float64, n int, most float64) bool {
		return math.Abs(round9(least)) <= most && round9(least)+step*float64(n) <= most+1e-9
	}
	switch {
	case g.Columns < 1 || g.Rows < 1:
		return fmt.Errorf("%d columns and %d rows; there must be one of each at least", g.Columns, g.Rows)
	case g.Columns > MaxCells || g.Rows > MaxCells/g.Columns:
		return fmt.Errorf("%d columns and %d rows: take larger cells; a task file holds %d", g.Columns, g.Rows, MaxCells)
	case len(g.Values) != g.Columns*g.Rows:
		return fmt.Errorf("%d values for %d columns and %d rows", len(g.Values), g.Columns, g.Rows)
	case !cell(g.CellEast) || !cell(g.CellNorth):
		return fmt.Errorf("cells of %g by %g degrees; both must be from 1e-8 to 1", g.CellEast, g.CellNorth)
	case !within(g.West, g.CellEast, g.Columns, 180) || !within(g.South, g.CellNorth, g.Rows, 90):
		return fmt.Errorf("from longitude %g, latitude %g it reaches beyond the earth's", g.West, g.South)
	}
	for i, v := range g.Values {
		if v < 0 {
			return fmt.Errorf("row %d from the south, column %d: a rate of %d mg/m² is below 0", i/g.Columns+1, i%g.Columns+1, v)
		}
	}
	return nil
}

func checkShape(s crs.LonLatShape) error {
	for i, polygon := range s {
		if len(polygon) == 0 {
			return fmt.Errorf("polygon %d: no ring", i+1)
		}
		for j, ring := range polygon {
			if err := checkRing(ring); err != nil {
				return fmt.Errorf("polygon %d, ring %d: %w", i+1, j+1, err)
			}
		}
	}
	return nil
}

func checkRing(ring orb.Ring) error {
	for k, p := range ring {
		if !(math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90) {
			return fmt.Errorf("vertex %d: longitude %g, latitude %g is not a position on the earth", k+1, p[0], p[1])
		}
	}
	if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
		return fmt.Errorf("%d vertices; a ring has four at least and ends where it begins", len(ring))
	}
	if plane.SignedArea(written(ring)) == 0 {
		return errors.New("no ground within it once rounded to 1e-9 degree; leave it out")
	}
	return nil
}

// written returns a closed ring as it is written: rounded to 1e-9 degree (0.1 mm),
// without vertices that are then the same as the one before.
func written(ring orb.Ring) orb.Ring {
	out := make(orb.Ring, 0, len(ring))
	for _, p := range ring {
		p = orb.Point{round9(p[0]), round9(p[1])}
		if len(out) == 0 || p != out[len(out)-1] {
			out = append(out, p)
		}
	}
	return out
}

// round9 rounds degrees to the nine decimals that a task file holds. There is no
// negative zero among them.
func round9(x float64) float64 { return math.Round(x*1e9)/1e9 + 0 }
