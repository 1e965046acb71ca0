package run

import (
	"context"
	"errors"
	"fmt"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
)

// PhaseMade says what a shard of a phase did.
type PhaseMade struct {
	Phase    string `json:"phase"`
	Shard    int    `json:"shard"`
	Of       int    `json:"shards"`
	Files    int    `json:"files"`    // of the shard, in the read phase
	Swimmers int    `json:"swimmers"` // of the shard, in the others
}

// The phases of a run that is dealt out, in order. Each but the last is run once for
// every shard, when all shards of the one before it are done.
const (
	PhaseRead    = "read"
	PhaseMeasure = "measure"
	PhaseAnswer  = "answer"
	PhaseReduce  = "reduce"
)

// ErrPhase says that a run cannot be dealt out as was asked.
var ErrPhase = errors.New("cannot be dealt out")

// RunShard runs one shard of a phase of a study and leaves what it makes in the cache,
// which all machines must see. A shard that is run again, or died before its end,
// changes nothing. A *MissingError names what an earlier phase has not made.
func RunShard(ctx context.Context, s *study.Study, o Options, phase string, shard Shard) (PhaseMade, error) {
	made := PhaseMade{Phase: phase, Shard: shard.Index, Of: shard.Of}
	t, err := turnOf(s, o, phase, shard)
	if err != nil {
		return made, err
	}
	e, err := newEngine(ctx, s, o, job{turn: t})
	if err != nil {
		return made, err
	}
	if phase == PhaseRead {
		for b := range table.Buckets {
			if shard.holds(b) {
				made.Files += e.src.inBucket[b]
			}
		}
		return made, e.src.Close()
	}
	made.Swimmers, err = e.shardOfSwimmers(ctx, phase, shard)
	return made, errors.Join(err, e.src.Close())
}

// shardOfSwimmers runs a shard of a phase that goes by swimmers, and counts them.
func (e *engine) shardOfSwimmers(ctx context.Context, phase string, shard Shard) (swimmers int, err error) {
	if err := e.turn.missing(); err != nil {
		return 0, err
	}
	own := e.src.bySwimmer()
	if e.reach, err = e.src.reach(e.study, own); err != nil {
		return 0, err
	}
	all := line(own)
	var squad derive.Settled
	if phase == PhaseAnswer {
		for _, b := range all {
			if err := e.ownTaus(b); err != nil {
				return 0, err
			}
		}
		if err := e.turn.missing(); err != nil {
			return 0, err
		}
		squad = settle(all)
	}
	var mine []*bucket
	for _, b := range all {
		if shard.holds(b.number) {
			mine = append(mine, b)
			swimmers += len(b.swimmers)
		}
	}
	err = each(ctx, len(mine), e.options, e.turn.phase, func(i int) error {
		_, err := e.measure(mine[i])
		switch {
		case err != nil:
		case phase == PhaseAnswer:
			_, err = e.answer(answerStage, mine[i], squad)
		default:
			_, err = e.answer(atOnceStage, mine[i], derive.Settled{})
		}
		for _, w := range mine[i].swimmers { // nobody needs them here any more
			w.measured, w.answered, w.bouts = measured{}, answered{}, nil
		}
		return err
	})
	return swimmers, errors.Join(err, e.turn.missing())
}

// ownTaus finds what a bucket's swimmers say of the squad's time constant.
func (e *engine) ownTaus(b *bucket) error {
	segment, err := e.shelf.open(measureStage, b.number, e.measureKey(b))
	if err != nil {
		return err
	}
	if segment == nil {
		e.turn.miss(measureStage, b.number)
		return nil
	}
	defer segment.Close()
	for _, w := range b.swimmers {
		data, err := segment.Get(keyOfTau(w.name))
		var own ownTau
		if err == nil {
			own, err = e.ownTauCodec.Decode(data)
		}
		if err != nil && e.shelf.again(err) == nil {
			e.turn.miss(measureStage, b.number)
			return nil
		}
		if err != nil {
			return err
		}
		w.Any, w.Traced, w.Tau = own.Any, own.Traced, own.Tau
	}
	return nil
}

// Reduce joins what all shards have made into the study's result, as Study does what
// it made itself.
func Reduce(ctx context.Context, s *study.Study, o Options, shards int) (*Result, error) {
	if err := checkOutput(s.Path(s.Output)); err != nil {
		return nil, err
	}
	t, err := turnOf(s, o, PhaseReduce, Shard{1, shards})
	if err != nil {
		return nil, err
	}
	return runStudy(ctx, s, o, t)
}

// turnOf checks what is asked for.
func turnOf(s *study.Study, o Options, phase string, shard Shard) (turn, error) {
	t := turn{shard: shard, lacks: &lacks{buckets: map[stage]map[int]bool{}}}
	switch phase {
	case PhaseRead:
		t.phase = ReadPhase
	case PhaseMeasure:
		t.phase = FitPhase
	case PhaseAnswer:
		t.phase = AnswerPhase
	case PhaseReduce:
		t.phase = ReducePhase
	default:
		return t, fmt.Errorf("the phase %q %w: there are read, measure, answer and reduce", phase, ErrPhase)
	}
	if shard.Of < 1 || shard.Of > mostShards || shard.Index < 1 || shard.Index > shard.Of {
		return t, fmt.Errorf("the shard %d of %d %w: they count from 1 to as many as there are, which are %d at most", shard.Index, shard.Of, ErrPhase, mostShards)
	}
	if o.Cache == "" {
		return t, fmt.Errorf("a run without a cache %w: what a phase makes lies there for the next", ErrPhase)
	}
	tombstones, err := readTombstones(s)
	if err == nil && len(tombstones) > 0 {
		err = fmt.Errorf("a study from which somebody was removed %w: nothing of it is kept, and one run makes it all", ErrPhase)
	}
	return t, err
}
