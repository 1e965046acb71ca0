package run

import (
	"encoding/hex"
	"errors"
	"fmt"
	"math"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/cache"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/findings"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// answerKey is what a swimmer's answers follow from.
func (e *engine) answerKey(w *swimmer, squad derive.Settled) cache.Key {
	own := e.ownKey(w)
	tau := ""
	if w.Traced > 0 {
		tau = fmt.Sprintf("%#v", squad)
	}
	_, _, person := e.introduce(w)
	return cache.KeyOf("answer", versionOf(answerStage), answerSettings(e.study), fmt.Sprint(person.Reached), string(own[:]), tau)
}

// askedBy tells who of a bucket is asked by a stage: at once those whom no other
// swimmer's heart rates concern, the others when all have been measured.
func askedBy(s stage, b *bucket) (who []*swimmer) {
	for _, w := range b.swimmers {
		if w.Any && (w.Traced == 0) == (s == atOnceStage) {
			who = append(who, w)
		}
	}
	return who
}

// answer puts the study's questions to swimmers of a bucket, or finds what they said
// last time. A bucket of which one swimmer changed asks that swimmer alone.
func (e *engine) answer(s stage, b *bucket, squad derive.Settled) (*boutTable, error) {
	who := askedBy(s, b)
	if len(who) == 0 {
		return &boutTable{}, nil
	}
	keys := make([]cache.Key, len(who))
	parts := []string{"all"}
	for i, w := range who {
		keys[i] = e.answerKey(w, squad)
		parts = append(parts, string(keys[i][:]))
	}
	all := cache.KeyOf(parts...)
	old, err := e.shelf.open(s, b.number, byVersion(answerStage))
	if err != nil {
		return nil, err
	}
	if old != nil {
		defer old.Close()
	}
	if !e.turn.makes(s, b.number) && !e.allAnswered(old, keys) {
		e.turn.miss(s, b.number)
		return &boutTable{}, nil
	}
	rows := make([][]schemas.Bout, len(who))
	fresh := make([]bool, len(who))
	changed := false
	for i, w := range who {
		if fresh[i] = !e.answeredBefore(old, keys[i], w); fresh[i] {
			changed = true
			if rows[i], err = e.ask(w, squad); err != nil {
				return nil, err
			}
		}
	}
	name := "bouts " + hex.EncodeToString(all[:])
	if !changed {
		if piece, err := e.pieceFrom(old, name); err == nil {
			return &boutTable{piece: piece}, nil
		}
	}
	out := boutTable{}
	piece := pieceWriter[schemas.Bout]{name: "bouts"}
	for i, w := range who {
		if !fresh[i] {
			if rows[i], err = e.boutsBefore(old, keys[i]); err != nil { // damaged since
				if rows[i], err = e.ask(w, squad); err != nil {
					return nil, err
				}
			}
		}
		if e.inRows {
			out.rows = append(out.rows, rows[i]...)
		} else if err := piece.add(rows[i]); err != nil {
			return nil, err
		}
	}
	if e.inRows {
		return &out, nil
	}
	if out.piece, err = piece.done(); err != nil {
		return nil, err
	}
	return &out, e.keepAnswered(s, b, who, keys, rows, name, out.piece)
}

// allAnswered says whether a segment holds what all said under their keys.
func (e *engine) allAnswered(old *cache.Segment, keys []cache.Key) bool {
	for _, key := range keys {
		if old == nil || len(old.Find(cache.KeyOf("answered", string(key[:])))) == 0 {
			return false
		}
	}
	return true
}

// answeredBefore finds what a swimmer said under a key.
func (e *engine) answeredBefore(old *cache.Segment, key cache.Key, w *swimmer) bool {
	if old == nil {
		return false
	}
	data, err := old.Get(cache.KeyOf("answered", string(key[:])))
	if err != nil {
		return false
	}
	found, err := e.answeredCodec.Decode(data)
	if err == nil {
		w.answered, w.bouts = found, nil
	}
	return err == nil
}

func (e *engine) boutsBefore(old *cache.Segment, key cache.Key) ([]schemas.Bout, error) {
	data, err := old.Get(cache.KeyOf("bouts", string(key[:])))
	if err != nil {
		return nil, err
	}
	return e.boutsCodec.Decode(data)
}

// keepAnswered leaves what swimmers said for the next run.
func (e *engine) keepAnswered(s stage, b *bucket, who []*swimmer, keys []cache.Key, rows [][]schemas.Bout, name string, piece *table.Piece) error {
	if e.shelf.store == nil {
		return nil
	}
	to, err := e.shelf.store.Create(string(s), b.number)
	if err != nil {
		return err
	}
	defer to.Abort()
	for i, w := range who {
		err := errors.Join(
			to.Append(cache.KeyOf("answered", string(keys[i][:])), e.answeredCodec.Append(nil, &w.answered)),
			to.Append(cache.KeyOf("bouts", string(keys[i][:])), e.boutsCodec.Append(nil, &rows[i])))
		if err != nil {
			return err
		}
	}
	if err := e.pieceInto(to, name, piece); err != nil {
		return err
	}
	return e.shelf.publish(s, b.number, byVersion(answerStage), to)
}

// settle joins the time constants of all swimmers.
func settle(all []*bucket) derive.Settled {
	var own []derive.OwnTau
	for _, b := range all {
		for _, w := range b.swimmers {
			if w.Any {
				own = append(own, w.Tau)
			}
		}
	}
	return derive.Settle(own)
}

// ask gives a swimmer's bouts their steady heart rates and costs, with what the
// squad says of time constants, and puts the study's questions to them. Bouts that
// were not kept are derived anew.
func (e *engine) ask(w *swimmer, squad derive.Settled) ([]schemas.Bout, error) {
	row, who, person := e.introduce(w)
	if w.bouts == nil {
		sessions, _, err := e.screened(w)
		if err != nil {
			return nil, fmt.Errorf("swimmer %q, again: %w", w.name, err)
		}
		for i := range sessions {
			_, bouts := derive.Session(&sessions[i], who, e.study.Cost)
			w.bouts = append(w.bouts, bouts...)
		}
		derive.FirstTau(w.bouts) // lets go of what only the measure stage needs
	}
	tau := squad.Shrink(w.Tau)
	derive.Steady(w.bouts, tau, who, e.study.Cost)
	a := answered{Row: row, Sessions: append([]schemas.Session(nil), w.measured.Sessions...)}
	a.Row.Sessions = w.measured.Row.Sessions
	rows := make([]schemas.Bout, len(w.bouts))
	at := 0
	for k := range w.bouts {
		b := &w.bouts[k]
		for a.Sessions[at].Session != b.Session {
			at++
		}
		a.Row.Bouts++
		if b.Usable {
			a.Row.UsableBouts++
			a.Sessions[at].UsableBouts++
		}
		rows[k] = boutRow(b)
	}
	a.Row = withTau(a.Row, w.Tau, tau)
	a.Counts = findings.CountBouts(rows)
	if len(w.bouts) > 0 {
		part := analyse.Ask(person, w.bouts, e.study)
		if e.study.Analysis.Sensitivity {
			var err error
			if part.Curves, err = e.curves(w, who, squad); err != nil {
				return nil, err
			}
		}
		a.Part = &part
	}
	w.answered, w.bouts = a, nil
	return rows, nil
}

// unlisted stands for a swimmer without a row in a roster.
func unlisted() identity.Member {
	none := math.NaN()
	return identity.Member{HRRestBPM: none, HRMaxBPM: none, MassKG: none, HeightCM: none, ArmSpanCM: none, VO2RestMLPerKGMin: none}
}
