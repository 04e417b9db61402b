package main

import (
	"context"
	"runtime"
	"sync"
)

// How many sessions are worked on at once, which bounds the memory: as far as
// they are read stretch by stretch, and where each is held whole. The samples of
// each are decoded by several processors as it is.
const (
	streamedAtOnce = 4
	wholeAtOnce    = 2
)

// inOrder calls do for 0 to n-1, so many at once (no more than processors), and
// hands what each returns to take in their order, so that nothing depends on
// which is done first. An error of take ends it, and ctx is done for those that
// are still at work.
func inOrder[T any](ctx context.Context, n, atOnce int, do func(ctx context.Context, i int) (T, error), take func(i int, v T, err error) error) error {
	type answer struct {
		v   T
		err error
	}
	ctx, cancel := context.WithCancel(ctx)
	var wait sync.WaitGroup
	defer wait.Wait()
	defer cancel()
	queue := make(chan chan answer, min(runtime.GOMAXPROCS(0), atOnce)-1) // one more is waited for
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
