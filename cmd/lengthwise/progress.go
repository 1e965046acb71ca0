package main

import (
	"fmt"
	"strings"
	"sync"
	"time"

	"lengthwise/pipeline/run"
)

// bar draws a run's progress on a terminal, one line that is drawn over. Where
// standard error is no terminal, or with --quiet, there is none.
type bar struct {
	c     *common
	mu    sync.Mutex
	drawn bool
	last  time.Time
}

const (
	barWidth    = 24
	barInterval = 80 * time.Millisecond
)

func (c *common) progress() *bar { return &bar{c: c} }

// report is a run's progress callback, nil where nothing is drawn.
func (b *bar) report() func(run.Phase, int, int) {
	if !b.c.terminal || b.c.quiet {
		return nil
	}
	return func(phase run.Phase, done, total int) {
		b.mu.Lock()
		defer b.mu.Unlock()
		if total == 0 || done < total && time.Since(b.last) < barInterval {
			return
		}
		b.last, b.drawn = time.Now(), true
		filled := barWidth * done / total
		fmt.Fprintf(b.c.stderr, "\r%-8s %s%s %d of %d ", phase, strings.Repeat("#", filled), strings.Repeat(".", barWidth-filled), done, total)
	}
}

// clear takes the line away.
func (b *bar) clear() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.drawn {
		fmt.Fprint(b.c.stderr, "\r"+strings.Repeat(" ", 60)+"\r")
		b.drawn = false
	}
}
