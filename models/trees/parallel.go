package trees

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// each calls do for 0 to n-1, on all processors. Results belong in slots by
// number, so that nothing depends on the order of finishing.
func each(n int, do func(i int)) {
	eachWorker(n, func(take func() (int, bool)) {
		for i, ok := take(); ok; i, ok = take() {
			do(i)
		}
	})
}

// eachWorker starts a worker on every processor, for those that keep room of
// their own between numbers. A worker takes numbers from 0 to n-1 until none is
// left.
func eachWorker(n int, work func(take func() (int, bool))) {
	var next atomic.Int64
	take := func() (int, bool) {
		i := int(next.Add(1)) - 1
		return i, i < n
	}
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() { work(take) })
	}
	wg.Wait()
}
