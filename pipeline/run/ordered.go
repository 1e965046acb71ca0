package run

import (
	"context"
	"errors"
	"sync"

	"golang.org/x/sync/errgroup"
)

// waiting is how many results may wait for their turn beside those being worked
// on: enough that a slow one holds nobody up for long.
const waiting = 4

// ordered calls work for 0 to n-1 on the options' workers and hands what it
// gives to done one by one in order, whatever the order in which workers
// finish. Only a few results are in memory at any time. The first error, in
// order of time, stops the rest.
func ordered[T any](ctx context.Context, n int, o Options, phase Phase, work func(i int) (T, error), done func(i int, result T) error) error {
	var (
		mu       sync.Mutex
		ready    = map[int]T{}
		next     int
		handing  bool
		workers  = o.workers()
		turns    = make(chan struct{}, workers+waiting) // a place for each result that is made or waits
		progress = func(at int) {
			if o.Progress != nil {
				o.Progress(phase, at, n)
			}
		}
	)
	progress(0)
	group, within := errgroup.WithContext(ctx)
	group.SetLimit(workers)
	// hand gives on what is next as long as it is there. One goroutine at a time
	// does so, whichever comes by.
	hand := func() error {
		mu.Lock()
		defer mu.Unlock()
		if handing {
			return nil
		}
		handing = true
		defer func() { handing = false }()
		for {
			result, ok := ready[next]
			if !ok {
				return nil
			}
			delete(ready, next)
			mu.Unlock()
			err := done(next, result)
			mu.Lock()
			if err != nil {
				return err
			}
			next++
			progress(next)
			<-turns
		}
	}
	for i := range n {
		select {
		case turns <- struct{}{}:
		case <-within.Done():
			return errors.Join(group.Wait(), ctx.Err())
		}
		group.Go(func() error {
			if err := within.Err(); err != nil {
				return err
			}
			result, err := work(i)
			if err != nil {
				return err
			}
			mu.Lock()
			ready[i] = result
			mu.Unlock()
			return hand()
		})
	}
	if err := group.Wait(); err != nil {
		return err
	}
	return ctx.Err()
}
