package sampling

import (
	"errors"
	"fmt"
	"sync/atomic"
	"testing"
)

func TestEachField(t *testing.T) {
	for _, n := range []int{0, 1, 7, 1000} {
		var done atomic.Int64
		if err := eachField(n, func(int) error { done.Add(1); return nil }); err != nil || int(done.Load()) != n {
			t.Errorf("%d of %d, %v", done.Load(), n, err)
		}
	}
	// The first field that fails is the one that is told of.
	for range 200 {
		err := eachField(100, func(i int) error {
			if i >= 20 {
				return fmt.Errorf("field %d", i)
			}
			return nil
		})
		if err == nil || err.Error() != "field 20" {
			t.Fatal(err)
		}
	}
	if err := eachField(1, func(int) error { return errors.ErrUnsupported }); !errors.Is(err, errors.ErrUnsupported) {
		t.Error(err)
	}
}
