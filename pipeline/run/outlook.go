package run

import (
	"context"
	"errors"
	"maps"
	"slices"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
)

// Outlook says what a run would take from the cache and what it would make.
type Outlook struct {
	Files    StageOutlook `json:"read"`    // of files
	Measured StageOutlook `json:"measure"` // of swimmers whose files are all read
	Answered StageOutlook `json:"answer"`  // of swimmers whose measures are kept
	Reading  []string     `json:"files_to_read"`
}

// StageOutlook counts what a stage would take and make, and says why it would make.
type StageOutlook struct {
	Kept int            `json:"kept"`
	Redo int            `json:"redo"`
	Why  map[string]int `json:"why"` // what is another one -> how many
}

func (o *StageOutlook) redo(n int, why string) {
	if o.Why == nil {
		o.Why = map[string]int{}
	}
	o.Redo += n
	o.Why[why] += n
}

// Why a stage makes something again.
const (
	whyNothing   = "nothing is kept of it"
	whyProgram   = "another program made it"
	whySettings  = "settings have changed"
	whySwimmers  = "recordings, notes or roster have changed"
	whyFile      = "new or changed"
	whyWho       = "settings of the input, roster, assign file or key have changed"
	whyTau       = "the squad's time constant, settings or their own measures have changed"
	whyNotLooked = "what they follow from is to be made first"
)

// Ahead looks what a run of the study would take from the cache, and writes nothing.
func Ahead(ctx context.Context, s *study.Study, o Options) (*Outlook, error) {
	out := &Outlook{}
	t := turn{phase: LookPhase, shard: Shard{1, 1}, lacks: &lacks{files: map[string]string{}}}
	if tombstones, err := readTombstones(s); err != nil || len(tombstones) > 0 || o.Cache == "" || !cache.Is(o.Cache) {
		return nil, err
	}
	note, err := readMadeFrom(s)
	if err != nil {
		return nil, err
	}
	j := job{turn: t}
	if note != nil {
		j.known = note.Files
	}
	e, err := newEngine(ctx, s, o, j)
	if err != nil {
		return nil, err
	}
	err = e.ahead(out)
	return out, errors.Join(err, e.src.Close())
}

func (e *engine) ahead(out *Outlook) (err error) {
	out.Reading = slices.Sorted(maps.Keys(e.turn.lacks.files))
	out.Files.Kept = len(e.src.Found) - len(out.Reading)
	for _, why := range e.turn.lacks.files {
		out.Files.redo(1, why)
	}
	own := e.src.bySwimmer()
	if e.reach, err = e.src.reach(e.study, own); err != nil {
		return err
	}
	all := line(own)
	whole := len(out.Reading) == 0
	for _, b := range all {
		n := len(b.swimmers)
		m, err := e.measuredBefore(b, e.measureKey(b))
		switch {
		case err != nil:
			return err
		case m != nil:
			out.Measured.Kept += n
		default:
			out.Measured.redo(n, e.shelf.why(measureStage, b.number, e.measureKey(b)))
			whole = false
		}
	}
	squad := settle(all)
	for _, s := range []stage{atOnceStage, answerStage} {
		for _, b := range all {
			if err := e.aheadOf(s, b, squad, whole, &out.Answered); err != nil {
				return err
			}
		}
	}
	return nil
}

// aheadOf looks for the answers of a bucket. Those that wait for the squad's time
// constant cannot be told while any measures are to be made.
func (e *engine) aheadOf(s stage, b *bucket, squad derive.Settled, whole bool, out *StageOutlook) error {
	who := askedBy(s, b)
	if len(who) == 0 {
		return nil
	}
	if s == answerStage && !whole {
		out.redo(len(who), whyNotLooked)
		return nil
	}
	old, err := e.shelf.open(s, b.number, byVersion(answerStage))
	if err != nil {
		return err
	}
	for _, w := range who {
		if e.answeredBefore(old, e.answerKey(w, squad), w) {
			out.Kept++
		} else if old == nil {
			out.redo(1, e.shelf.why(s, b.number, byVersion(answerStage)))
		} else {
			out.redo(1, whyTau)
		}
	}
	if old != nil {
		return old.Close()
	}
	return nil
}

// why says in words why a manifest counts for nothing.
func (h *shelf) why(s stage, bucket int, want map[string]string) string {
	_, err := h.store.Manifest(manifestOf(s, bucket), want)
	var other *cache.OtherError
	if !errors.As(err, &other) {
		return whyNothing
	}
	return map[string]string{byProgram: whyProgram, bySettings: whySettings, bySwimmers: whySwimmers}[other.Field]
}
