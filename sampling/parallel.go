package sampling

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// eachField does something with every one of n fields, on all processors. What is
// done with one must not depend on another. After an error no other field is begun;
// those before it are, so that the error is that of the first field that has one.
func eachField(n int, do func(i int) error) error {
	errs := make([]error, n)
	var next atomic.Int64
	var failed atomic.Bool
	var wait sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for !failed.Load() {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				if errs[i] = do(i); errs[i] != nil {
					failed.Store(true)
				}
			}
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
