package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// output is standard output, which may be a full disk. It keeps the first
// error and writes nothing more, so that no command needs to look after every
// line: runCommand asks once, at the end.
type output struct {
	to  io.Writer
	err error
}

func (o *output) Write(p []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.to.Write(p)
	if err == nil && n < len(p) {
		err = io.ErrShortWrite
	}
	if err != nil {
		o.err = fmt.Errorf("standard output: %w; what was printed is not whole", err)
	}
	return n, o.err
}

// interruptible ends a context at an interrupt or a request to terminate; a
// second one ends the program at once.
func interruptible(parent context.Context) (context.Context, context.CancelFunc) {
	ctx, stop := signal.NotifyContext(parent, os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop)
	return ctx, stop
}
