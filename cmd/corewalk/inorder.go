package main

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// inOrder does pieces of work on all processors and takes what comes of them
// one by one in their order, so that outputs do not depend on which is done
// first. Only a few finished pieces ever wait for an earlier one, so that memory
// does not grow with n. The first error, in the order of the pieces, ends it.
func inOrder[T any](n int, do func(i int) (T, error), take func(i int, v T) error) error {
	type piece struct {
		value T
		err   error
	}
	workers := min(runtime.GOMAXPROCS(0), n)
	room := make(chan struct{}, 2*workers) // pieces begun and not taken
	ready := make([]chan piece, n)
	for i := range ready {
		ready[i] = make(chan piece, 1)
	}
	var next atomic.Int64
	var all sync.WaitGroup
	stop := make(chan struct{})
	for range workers {
		all.Go(func() {
			for {
				select {
				case room <- struct{}{}:
				case <-stop:
					return
				}
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				v, err := do(i)
				ready[i] <- piece{v, err}
			}
		})
	}
	defer all.Wait()
	defer close(stop)
	for i := range n {
		p := <-ready[i]
		if p.err != nil {
			return p.err
		}
		if err := take(i, p.value); err != nil {
			return err
		}
		<-room
	}
	return nil
}
