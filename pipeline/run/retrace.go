package run

import (
	"context"
	"fmt"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

// Retraced is one record on its way through the rules, worked out anew from the
// files.
type Retraced struct {
	Session screen.Session
	Tried   []screen.Tried
	Samples HeartRateIn
}

// HeartRateIn is what became of the heart-rate samples taken during a record.
type HeartRateIn struct {
	Samples int            `json:"samples"`
	Out     map[string]int `json:"left_out"` // by rule
}

// Retrace reads the files of one swimmer again, those whose ids keep holds for, and
// tells how the rules went for one record of a session. The files may have changed
// since the run whose result is being explained: whoever asks must compare.
func Retrace(ctx context.Context, s *study.Study, o Options, swimmer, session string, of screen.Source, share int, keep func(fileID string) bool) (*Retraced, error) {
	src, err := readSources(ctx, s, o, readPlan{keep: keep, shelf: &shelf{}})
	if err != nil {
		return nil, err
	}
	defer src.Close()
	recordings, err := src.load(src.bySwimmer()[swimmer])
	if err != nil {
		return nil, err
	}
	all, _, err := normalise.Sessions(recordings, src.Notes, s)
	if err != nil {
		return nil, err
	}
	for i := range all {
		if all[i].ID != session {
			continue
		}
		r := &Retraced{Samples: HeartRateIn{Out: map[string]int{}}}
		var entries []read.Entry
		r.Session, entries, r.Tried = screen.Trace(all, i, of, share, s.Screen)
		if r.Tried == nil {
			return nil, fmt.Errorf("session %s has no such record any more", session)
		}
		r.heartRate(of, share, entries)
		return r, nil
	}
	return nil, fmt.Errorf("the files make no session %s any more", session)
}

// heartRate counts the samples taken during the record, and by which rule some of
// them left.
func (r *Retraced) heartRate(of screen.Source, share int, entries []read.Entry) {
	from, to := 0.0, 0.0
	for i := range r.Session.Lengths {
		if l := &r.Session.Lengths[i]; l.FileID == of.FileID && l.Record == of.Record && l.Share == max(1, share) {
			from, to = l.StartS, l.StartS+l.DurationS
			break
		}
	}
	for i := range r.Session.Samples {
		x := &r.Session.Samples[i]
		if x.TimeS < from || x.TimeS >= to {
			continue
		}
		r.Samples.Samples++
		for _, e := range entries {
			if e.Kind == read.KindHeartRate && e.Action == read.Excluded && e.FileID == x.FileID &&
				e.Record <= x.Record && x.Record < e.Record+max(1, e.Records) {
				r.Samples.Out[e.Rule]++
				break
			}
		}
	}
}
