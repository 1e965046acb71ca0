package run

import (
	"context"
	"sync"

	"golang.org/x/sync/errgroup"
)

// each calls work for 0 to n-1 on the options' workers and reports progress.
// The first error, in order of time, stops the rest.
func each(ctx context.Context, n int, o Options, phase Phase, work func(i int) error) error {
	return eachOf(ctx, n, n, o, phase, func(i int, done func()) error {
		if err := work(i); err != nil {
			return err
		}
		done()
		return nil
	})
}

// eachOf is each for work that reports its progress itself, in parts of which there
// are all.
func eachOf(ctx context.Context, n, all int, o Options, phase Phase, work func(i int, done func()) error) error {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(o.workers())
	var mu sync.Mutex
	done := 0
	report := func(add int) {
		mu.Lock()
		defer mu.Unlock()
		done += add
		if o.Progress != nil {
			o.Progress(phase, done, all)
		}
	}
	report(0)
	for i := range n {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return work(i, func() { report(1) })
		})
	}
	return group.Wait()
}
