package run

import (
	"fmt"

	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/schemas"
)

// fitRows are rows of the tables that the measure stage fills.
type fitRows struct {
	Lengths   []schemas.Length
	Lineage   []schemas.Lineage
	HeartRate []schemas.HeartRate
}

// measureKey is what a bucket's measures follow from.
func (e *engine) measureKey(b *bucket) map[string]string {
	parts := []string{"measure"}
	for _, w := range b.swimmers {
		own := e.ownKey(w)
		parts = append(parts, string(own[:]))
	}
	return madeOf(measureSettings(e.study), cache.KeyOf(parts...))
}

// measure takes a bucket's swimmers through normalise, screen and derive, up to their
// own time constants of heart rate, or finds what that gave last time.
func (e *engine) measure(b *bucket) (*measuredTables, error) {
	made := e.measureKey(b)
	if t, err := e.measuredBefore(b, made); t != nil || err != nil {
		return t, err
	}
	if !e.turn.makes(measureStage, b.number) {
		e.turn.miss(measureStage, b.number)
		return &measuredTables{}, nil
	}
	out := newMeasuredPieces(e.inRows)
	for _, w := range b.swimmers {
		rows, err := e.measureSwimmer(w)
		if err != nil {
			return nil, err
		}
		if err := out.add(rows); err != nil {
			return nil, err
		}
	}
	t, err := out.done()
	if err != nil {
		return nil, err
	}
	return t, e.keepMeasured(b, made, t)
}

// screened takes a swimmer's recordings through normalise and screen.
func (e *engine) screened(w *swimmer) (sessions []screen.Session, entries []read.Entry, err error) {
	recordings, err := e.src.load(w.records)
	if err != nil {
		return nil, nil, err
	}
	normal, entries, err := normalise.Sessions(recordings, e.src.Notes, e.study)
	if err != nil || len(normal) == 0 {
		return nil, entries, err
	}
	screened, dropped := screen.Sessions(normal, e.study.Screen)
	return screened, append(entries, dropped...), nil
}

func (e *engine) measureSwimmer(w *swimmer) (rows fitRows, err error) {
	m := &w.measured
	m.Used = map[string]bool{}
	sessions, entries, err := e.screened(w)
	if err != nil {
		return rows, fmt.Errorf("swimmer %q: %w", w.name, err)
	}
	m.Entries = entries
	if sessions == nil {
		return rows, nil
	}
	m.Any = true
	row, who, _ := e.introduce(w)
	m.Row = row
	for i := range sessions {
		s := &sessions[i]
		lengths, bouts := derive.Session(s, who, e.study.Cost)
		rows.add(s, lengths, m)
		if len(s.Kept) > 0 {
			m.Row.Sessions++
			m.Sessions = append(m.Sessions, sessionRow(s, bouts))
			m.Used[s.FileID] = true
		}
		w.bouts = append(w.bouts, bouts...)
	}
	m.Tau = derive.FirstTau(w.bouts)
	m.Traced = derive.Traced(w.bouts)
	m.Lengths, m.Samples = len(rows.Lengths), int64(len(rows.HeartRate))
	return rows, nil
}

// add takes a screened session's rows.
func (r *fitRows) add(s *screen.Session, lengths []derive.Length, m *measured) {
	for _, link := range s.Lineage {
		r.Lineage = append(r.Lineage, lineageRow(s, link))
		m.Used[link.FileID] = true
	}
	for _, h := range s.KeptSamples {
		r.HeartRate = append(r.HeartRate, heartRateRow(s, h))
	}
	m.Account.Used(s)
	for i := range lengths {
		r.Lengths = append(r.Lengths, lengthRow(s, &lengths[i]))
	}
}

// measuredBefore finds what the measure stage made of the same bucket; nil where it
// did not.
func (e *engine) measuredBefore(b *bucket, made map[string]string) (*measuredTables, error) {
	segment, err := e.shelf.open(measureStage, b.number, made)
	if segment == nil || err != nil {
		return nil, err
	}
	defer segment.Close()
	all := make([]measured, len(b.swimmers))
	for i, w := range b.swimmers {
		data, err := segment.Get(cache.KeyOf("measured", w.name))
		if err == nil {
			all[i], err = e.measuredCodec.Decode(data)
		}
		if err != nil {
			return nil, e.shelf.again(err)
		}
	}
	t := &measuredTables{}
	for name, into := range t.pieces() {
		if *into, err = e.pieceFrom(segment, name); err != nil {
			return nil, e.shelf.again(err)
		}
	}
	for i, w := range b.swimmers {
		w.measured = all[i]
	}
	return t, nil
}

func keyOfTau(name string) cache.Key { return cache.KeyOf("own tau", name) }

// keepMeasured leaves what the stage made for the next run.
func (e *engine) keepMeasured(b *bucket, made map[string]string, t *measuredTables) error {
	if e.shelf.store == nil {
		return nil
	}
	w, err := e.shelf.store.Create(string(measureStage), b.number)
	if err != nil {
		return err
	}
	defer w.Abort()
	for _, sw := range b.swimmers {
		own := ownTau{sw.Any, sw.Traced, sw.Tau}
		if err := w.Append(keyOfTau(sw.name), e.ownTauCodec.Append(nil, &own)); err != nil {
			return err
		}
		if err := w.Append(cache.KeyOf("measured", sw.name), e.measuredCodec.Append(nil, &sw.measured)); err != nil {
			return err
		}
	}
	pieces := t.pieces()
	for _, name := range []string{"lengths", "lineage", "heart_rate"} {
		if err := e.pieceInto(w, name, *pieces[name]); err != nil {
			return err
		}
	}
	return e.shelf.publish(measureStage, b.number, made, w)
}
