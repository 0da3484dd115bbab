package main

import (
	"errors"
	"slices"
	"sync/atomic"
	"testing"
	"time"
)

func TestInOrder(t *testing.T) {
	var got []int
	var waiting, most atomic.Int64
	err := inOrder(200, func(i int) (int, error) {
		if i%7 == 0 {
			time.Sleep(time.Millisecond)
		}
		if w := waiting.Add(1); w > most.Load() {
			most.Store(w)
		}
		return i, nil
	}, func(i, v int) error {
		waiting.Add(-1)
		got = append(got, v)
		return nil
	})
	if err != nil || len(got) != 200 || !slices.IsSorted(got) {
		t.Errorf("%v, %v", got, err)
	}
	if most.Load() > 64 {
		t.Errorf("%d pieces were waiting at once", most.Load())
	}
}

func TestInOrderEnds(t *testing.T) {
	bad := errors.New("bad")
	for _, at := range []int{0, 1, 5, 99} {
		taken := 0
		err := inOrder(100, func(i int) (int, error) {
			if i >= at {
				return 0, bad
			}
			return i, nil
		}, func(int, int) error { taken++; return nil })
		if err != bad || taken != at {
			t.Errorf("%d: %d taken, %v", at, taken, err)
		}
	}
	if err := inOrder(10, func(i int) (int, error) { return i, nil }, func(int, int) error { return bad }); err != bad {
		t.Error(err)
	}
	if err := inOrder(0, func(i int) (int, error) { return i, nil }, func(int, int) error { return bad }); err != nil {
		t.Error(err)
	}
}
