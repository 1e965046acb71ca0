package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"lengthwise/pipeline/run"
	"lengthwise/pipeline/study"
)

// runPhase runs one share of a phase of a run that is dealt out over machines.
func runPhase(ctx context.Context, c *common, s *study.Study, runtime study.Runtime, o runOptions) error {
	switch {
	case o.phase == "":
		return usageError{errors.New("--shard and --shards go with --phase, which is read, measure, answer or reduce")}
	case o.dryRun:
		return usageError{errors.New("--dry-run looks at a whole run, not at one --phase")}
	case o.phase == run.PhaseReduce && (o.shards == 0 || o.shard != ""):
		return usageError{errors.New("--phase reduce is run once for all shards and is told how many there are: --shards 8")}
	case o.phase == run.PhaseReduce:
		return asUsage(runStudy(ctx, c, s, runtime, o))
	case o.shard == "" || o.shards != 0:
		return usageError{fmt.Errorf("--phase %s is run for every shard: --shard 1/8 and so on", o.phase)}
	}
	shard, err := shardOf(o.shard)
	if err != nil {
		return usageError{err}
	}
	progress := c.progress()
	var made run.PhaseMade
	options := run.Options{Workers: runtime.Workers, Progress: progress.report(), Cache: runtime.CacheFolder(s), Anew: o.anew, Rehash: o.rehash}
	err = waiting(ctx, o.wait, func() error {
		var err error
		made, err = run.RunShard(ctx, s, options, o.phase, shard)
		return err
	})
	progress.clear()
	if err != nil {
		return asUsage(err)
	}
	if c.json {
		encoder := json.NewEncoder(c.stdout)
		encoder.SetIndent("", "  ")
		return encoder.Encode(made)
	}
	of := count(made.Swimmers, "swimmer")
	if o.phase == run.PhaseRead {
		of = count(made.Files, "file")
	}
	c.say("Phase %s, shard %d of %d: done for %s.", made.Phase, made.Shard, made.Of, of)
	return nil
}

// pause is how long a phase waits before it looks again for what it misses.
const pause = 2 * time.Second

// waiting does something again for as long as shards of an earlier phase are missing
// and time is left.
func waiting(ctx context.Context, long time.Duration, do func() error) error {
	until := time.Now().Add(long)
	for {
		err := do()
		var missing *run.MissingError
		if !errors.As(err, &missing) || time.Now().After(until) {
			return err
		}
		select {
		case <-time.After(pause):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// asUsage is the error of a command that asked for what there is not.
func asUsage(err error) error {
	if errors.Is(err, run.ErrPhase) {
		return usageError{err}
	}
	return err
}

// shardOf reads 2/8.
func shardOf(text string) (run.Shard, error) {
	index, of, ok := strings.Cut(text, "/")
	i, errI := strconv.Atoi(strings.TrimSpace(index))
	n, errN := strconv.Atoi(strings.TrimSpace(of))
	if !ok || errI != nil || errN != nil {
		return run.Shard{}, fmt.Errorf("--shard %q is not a share such as 2/8", text)
	}
	return run.Shard{Index: i, Of: n}, nil
}
