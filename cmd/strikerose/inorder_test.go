package main

import (
	"context"
	"errors"
	"runtime"
	"sync/atomic"
	"testing"
	"time"
)

func TestInOrder(t *testing.T) {
	var atOnce, most atomic.Int32
	do := func(_ context.Context, i int) (int, error) {
		if n := atOnce.Add(1); n > most.Load() {
			most.Store(n)
		}
		time.Sleep(time.Duration(7*i%5) * time.Millisecond)
		atOnce.Add(-1)
		return i * i, nil
	}
	next := 0
	err := inOrder(t.Context(), 30, streamedAtOnce, do, func(i, v int, err error) error {
		if i != next || v != i*i || err != nil {
			t.Errorf("%d: %d, %v; want number %d", i, v, err, next)
		}
		next++
		return nil
	})
	if err != nil || next != 30 {
		t.Errorf("%d taken, %v", next, err)
	}
	if limit := int32(min(runtime.GOMAXPROCS(0), streamedAtOnce)); most.Load() > limit {
		t.Errorf("%d at once, want %d at most", most.Load(), limit)
	}
}

func TestInOrderEnds(t *testing.T) {
	stop := errors.New("enough")
	ctx, cancel := context.WithCancel(t.Context())
	wait := func(ctx context.Context, i int) (int, error) {
		if i < 3 {
			return i, nil
		}
		<-ctx.Done()
		return i, ctx.Err()
	}
	err := inOrder(ctx, 1000, wholeAtOnce, wait, func(i, _ int, _ error) error {
		if i == 2 {
			return stop
		}
		return nil
	})
	if err != stop {
		t.Errorf("take's error became %v", err)
	}
	err = inOrder(ctx, 1000, wholeAtOnce, wait, func(i, _ int, err error) error {
		if i == 2 {
			cancel()
		}
		return err
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
}
