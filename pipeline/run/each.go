package run

import (
	"context"
	"sync"

	"golang.org/x/sync/errgroup"
)

// each calls work for 0 to n-1 on the options' workers and reports progress.
// The first error, in order of time, stops the rest.
func each(ctx context.Context, n int, o Options, phase Phase, work func(i int) error) error {
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(o.workers())
	var mu sync.Mutex
	done := 0
	report := func(add int) {
		mu.Lock()
		defer mu.Unlock()
		done += add
		if o.Progress != nil {
			o.Progress(phase, done, n)
		}
	}
	report(0)
	for i := range n {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			if err := work(i); err != nil {
				return err
			}
			report(1)
			return nil
		})
	}
	return group.Wait()
}
