package run

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"lengthwise/pipeline/table"
)

// Shard is one of several shares of a phase, counted from 1.
type Shard struct{ Index, Of int }

// mostShards is as many as there are buckets to deal out.
const mostShards = table.Buckets

// holds says whether a bucket is in the share.
func (s Shard) holds(bucket int) bool { return bucket%s.Of == s.Index-1 }

// turn says which part of the work is this process's. The zero turn is all of it.
type turn struct {
	phase Phase // of a run that is dealt out; "" for one that is not
	shard Shard
	lacks *lacks
}

// lacks collects what other machines should have made and have not.
type lacks struct {
	mu      sync.Mutex
	buckets map[stage]map[int]bool
	files   map[string]string // that would be read, and why
}

// file notes a file that would be read.
func (l *lacks) file(rel, why string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.files[rel] = why
}

// shared says whether the run is dealt out over processes.
func (t turn) shared() bool { return t.phase != "" }

// looksAt says whether this process needs a bucket of a stage at all.
func (t turn) looksAt(s stage, bucket int) bool {
	return t.phase != ReadPhase || s == readStage && t.shard.holds(bucket)
}

// makes says whether this process may make a bucket of a stage; others it must find.
func (t turn) makes(s stage, bucket int) bool {
	switch t.phase {
	case "":
		return true
	case ReadPhase:
		return s == readStage && t.shard.holds(bucket)
	case FitPhase:
		return (s == measureStage || s == atOnceStage) && t.shard.holds(bucket)
	case AnswerPhase:
		return s == answerStage && t.shard.holds(bucket)
	}
	return false
}

// miss notes a bucket that should be there.
func (t turn) miss(s stage, bucket int) {
	t.lacks.mu.Lock()
	defer t.lacks.mu.Unlock()
	if s == atOnceStage { // they are made together
		s = measureStage
	}
	if t.lacks.buckets[s] == nil {
		t.lacks.buckets[s] = map[int]bool{}
	}
	t.lacks.buckets[s][bucket] = true
}

// missing is the error that names what was missed; nil when nothing was.
func (t turn) missing() error {
	if t.lacks == nil {
		return nil
	}
	t.lacks.mu.Lock()
	defer t.lacks.mu.Unlock()
	for _, s := range []stage{readStage, measureStage, answerStage} { // the first says it all
		buckets := t.lacks.buckets[s]
		if len(buckets) == 0 {
			continue
		}
		e := &MissingError{Phase: string(s), Of: t.shard.Of}
		for b := range buckets {
			if shard := b%t.shard.Of + 1; !slices.Contains(e.Shards, shard) {
				e.Shards = append(e.Shards, shard)
			}
		}
		slices.Sort(e.Shards)
		return e
	}
	return nil
}

// MissingError says that shards of an earlier phase have not been made, or were made
// of something else.
type MissingError struct {
	Phase  string
	Shards []int
	Of     int
}

func (e *MissingError) Error() string {
	var list []string
	for _, s := range e.Shards {
		list = append(list, fmt.Sprint(s))
	}
	return fmt.Sprintf("shards %s of %d are missing from phase %s, or were made of other files or settings, or by another version of the program; make them: lengthwise run --phase %s --shard %d/%d",
		strings.Join(list, ","), e.Of, e.Phase, e.Phase, e.Shards[0], e.Of)
}
