package season

import (
	"database/sql/driver"
	"errors"
	"sync"

	"github.com/paulmach/orb"
	"modernc.org/sqlite"
)

// registerFunctions gives the database those functions that the standard wants for
// a spatial index (its R-tree extension): where a GIS has made one, its triggers
// call them at every change.
var registerFunctions = sync.OnceValue(func() error {
	ofBlob := func(of func(orb.Bound, bool) driver.Value) func(*sqlite.FunctionContext, []driver.Value) (driver.Value, error) {
		return func(_ *sqlite.FunctionContext, args []driver.Value) (driver.Value, error) {
			blob, ok := args[0].([]byte)
			if !ok {
				return nil, nil
			}
			g, err := parseGeometry(blob)
			if err != nil {
				return nil, err
			}
			return of(g.bound()), nil
		}
	}
	corner := func(of func(orb.Bound) float64) func(orb.Bound, bool) driver.Value {
		return func(b orb.Bound, some bool) driver.Value {
			if !some {
				return nil
			}
			return of(b)
		}
	}
	var errs []error
	for name, of := range map[string]func(orb.Bound, bool) driver.Value{
		"ST_IsEmpty": func(_ orb.Bound, some bool) driver.Value {
			if some {
				return int64(0)
			}
			return int64(1)
		},
		"ST_MinX": corner(func(b orb.Bound) float64 { return b.Min[0] }),
		"ST_MaxX": corner(func(b orb.Bound) float64 { return b.Max[0] }),
		"ST_MinY": corner(func(b orb.Bound) float64 { return b.Min[1] }),
		"ST_MaxY": corner(func(b orb.Bound) float64 { return b.Max[1] }),
	} {
		errs = append(errs, sqlite.RegisterDeterministicScalarFunction(name, 1, ofBlob(of)))
	}
	return errors.Join(errs...)
})
