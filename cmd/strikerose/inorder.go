package main

import (
	"context"
	"runtime"
	"sync"
)

// mostAtOnce bounds how many sessions are worked on at once, and with them the
// memory: the samples of each are decoded by several processors as it is.
const mostAtOnce = 4

// inOrder calls do for 0 to n-1, several at once, and hands what each returns to
// take in their order, so that nothing depends on which is done first. An error
// of take ends it, and ctx is done for those that are still at work.
func inOrder[T any](ctx context.Context, n int, do func(ctx context.Context, i int) (T, error), take func(i int, v T, err error) error) error {
	type answer struct {
		v   T
		err error
	}
	ctx, cancel := context.WithCancel(ctx)
	var wait sync.WaitGroup
	defer wait.Wait()
	defer cancel()
	queue := make(chan chan answer, min(runtime.GOMAXPROCS(0), mostAtOnce)-1) // one more is waited for
	wait.Go(func() {
		defer close(queue)
		for i := range n {
			answered := make(chan answer, 1)
			select {
			case queue <- answered:
			case <-ctx.Done():
				return
			}
			wait.Go(func() {
				v, err := do(ctx, i)
				answered <- answer{v, err}
			})
		}
	})
	i := 0
	for answered := range queue {
		a := <-answered
		if err := take(i, a.v, a.err); err != nil {
			return err
		}
		i++
	}
	return ctx.Err()
}
