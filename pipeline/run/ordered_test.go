package run

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync/atomic"
	"testing"
	"time"
)

func TestOrderedKeepsOrderAndBounds(t *testing.T) {
	for _, workers := range []int{1, 2, 7} {
		var made, handed atomic.Int64
		var most int64
		next := 0
		err := ordered(context.Background(), 200, Options{Workers: workers}, FitPhase, func(i int) (int, error) {
			time.Sleep(time.Duration(rand.IntN(300)) * time.Microsecond)
			made.Add(1)
			return i * i, nil
		}, func(i, square int) error {
			if i != next || square != i*i {
				t.Errorf("%d workers: %d (%d) came when %d was due", workers, i, square, next)
			}
			next++
			most = max(most, made.Load()-handed.Add(1))
			return nil
		})
		if err != nil || next != 200 {
			t.Errorf("%d workers: %d handed on, %v", workers, next, err)
		}
		if most > int64(workers+waiting) {
			t.Errorf("%d workers: %d results at once", workers, most)
		}
	}
}

func TestOrderedStopsAtAnError(t *testing.T) {
	wrong := errors.New("wrong")
	for _, at := range []string{"work", "done"} {
		var after atomic.Int64
		err := ordered(context.Background(), 1000, Options{Workers: 3}, FitPhase, func(i int) (int, error) {
			if i == 50 && at == "work" {
				return 0, wrong
			}
			if i > 100 {
				after.Add(1)
			}
			return i, nil
		}, func(i, _ int) error {
			if i == 50 && at == "done" {
				return wrong
			}
			if i > 50 {
				t.Errorf("%s: %d handed on after the error", at, i)
			}
			return nil
		})
		if !errors.Is(err, wrong) || after.Load() > 0 {
			t.Errorf("%s: %v, %d more were worked on", at, err, after.Load())
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := ordered(ctx, 3, Options{}, FitPhase, func(i int) (int, error) { return i, nil }, func(int, int) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled context gave %v", err)
	}
}
