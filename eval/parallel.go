package eval

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// parallel calls do for 0 to n-1, some at once (workers; 0 is the number of
// processors), and returns the error of the lowest number that failed. Results
// belong in slots by number, so that nothing depends on the order of finishing.
func parallel(ctx context.Context, n, workers int, do func(i int) error) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	errs := make([]error, n)
	var next atomic.Int64
	var failed atomic.Bool
	var wg sync.WaitGroup
	for range min(workers, n) {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n || failed.Load() || ctx.Err() != nil {
					return
				}
				if errs[i] = do(i); errs[i] != nil {
					failed.Store(true)
				}
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}
