package screen

import (
	"fmt"
	"math"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
)

// settle writes the kept lengths and their lineage into s, and gives the
// entries of lengths and rests.
func (w *work) settle(s *Session) []read.Entry {
	var entries []read.Entry
	s.Kept = make([]Length, 0, len(w.items))
	s.Lineage = make([]Link, 0, len(w.items)+len(w.session.Rests)+8)
	ordinalFrom := make([]int32, len(w.session.Lengths)+1) // the kept length at or after each source length, 0 for none
	gap := false
	for i := range w.items {
		it := &w.items[i]
		if i > 0 && it.swim != w.items[i-1].swim {
			gap = false
		}
		found := w.verdicts[it.verdict]
		if it.out {
			gap = true
			entries = append(entries, w.entries(it, found, read.Excluded)...)
			continue
		}
		s.Kept = append(s.Kept, Length{Length: *w.source(it), Ordinal: len(s.Kept) + 1, Rule: found.rule, AfterGap: gap})
		kept := &s.Kept[len(s.Kept)-1]
		w.write(it, &kept.Length)
		gap = false
		if found.rule != "" {
			entries = append(entries, w.entries(it, found, read.Repaired)...)
		}
		entries = append(entries, w.checkReading(it, kept)...)
		if math.IsNaN(kept.Strokes) {
			entries = append(entries, w.entries(it, verdict{RuleStrokesMissing, "no strokes were counted: its bout has no stroke rate"}, read.Noted)...)
		}
		s.Lineage = w.link(s.Lineage, it, kept.Ordinal)
		if it.part <= 1 {
			ordinalFrom[it.from] = int32(kept.Ordinal)
		}
	}
	for i := len(ordinalFrom) - 2; i >= 0; i-- {
		if ordinalFrom[i] == 0 {
			ordinalFrom[i] = ordinalFrom[i+1]
		}
	}
	for k := range w.session.Rests {
		rest := &w.session.Rests[k]
		link := Link{FileID: rest.FileID, Record: rest.Record, Kind: read.KindRest,
			Ordinal: int(ordinalFrom[rest.Before]), Relation: RestBefore}
		switch {
		case len(s.Kept) == 0:
			entries = append(entries, read.Entry{FileID: rest.FileID, Record: rest.Record, Records: 1, Kind: read.KindRest,
				Swimmer: w.session.Swimmer, Session: w.session.ID, Rule: normalise.RuleNoLengths, Action: read.Excluded,
				Detail: "no length of the session could be used"})
			continue
		case link.Ordinal == 0:
			link.Ordinal, link.Relation = len(s.Kept), RestAfter
		}
		s.Lineage = append(s.Lineage, link)
	}
	return entries
}

// write puts what the rules made of a length in place of what was recorded. A
// reading taken at the wall belongs to the last length of its record; joined
// lengths have the reading of their last record and the stroke of their
// longest.
func (w *work) write(it *item, l *normalise.Length) {
	l.StartS, l.DurationS, l.Strokes = it.startS, it.durationS, it.strokes
	if it.part < it.parts {
		l.End = read.Reading{HRBPM: math.NaN(), DelayS: math.NaN()}
	}
	longest := l.DurationRecordedS
	for i := it.from + 1; i <= it.to; i++ {
		o := &w.session.Lengths[i]
		l.End = o.End
		if o.DurationS > longest {
			longest, l.Stroke = o.DurationS, o.Stroke
		}
	}
}

// entries are the ledger entries of an item: one for each of its source
// records, a repeat's and a split length's once.
func (w *work) entries(it *item, found verdict, action read.Action) []read.Entry {
	var entries []read.Entry
	for i := it.from; i <= it.to; i++ {
		l := &w.session.Lengths[i]
		if it.part > 1 || l.Share > 1 {
			continue
		}
		entries = append(entries, read.Entry{FileID: l.FileID, Record: l.Record, Records: 1, Kind: l.Kind,
			Swimmer: w.session.Swimmer, Session: w.session.ID, Rule: found.rule, Action: action, Detail: found.detail})
	}
	return entries
}

// link adds the links of an item's source records. Two lengths that were
// evened out hold half of each of their records, so each record is linked to
// both.
func (w *work) link(links []Link, it *item, ordinal int) []Link {
	relation, from, to := Same, it.from, it.to
	switch {
	case it.parts > 0:
		relation = Split
	case it.to > it.from:
		relation = Join
	case it.paired == 1:
		relation, to = Evened, it.to+1
	case it.paired == 2:
		relation, from = Evened, it.from-1
	case w.session.Lengths[it.from].Kind == read.KindRepeat:
		relation = Share
	}
	for i := from; i <= to; i++ {
		l := &w.session.Lengths[i]
		links = append(links, Link{FileID: l.FileID, Record: l.Record, Kind: l.Kind, Ordinal: ordinal, Relation: relation})
	}
	return links
}

// checkReading takes an end reading that is no heart rate off a kept length.
// The length itself stays as recorded, so its Rule stays blank.
func (w *work) checkReading(it *item, kept *Length) []read.Entry {
	bpm := kept.End.HRBPM
	if math.IsNaN(bpm) || w.heartRateInRange(bpm) {
		return nil
	}
	kept.End.HRBPM = math.NaN()
	l := &w.session.Lengths[it.to]
	return []read.Entry{{FileID: l.FileID, Record: l.Record, Records: 1, Kind: l.Kind,
		Swimmer: w.session.Swimmer, Session: w.session.ID, Rule: RuleDropout, Action: read.Repaired,
		Detail: fmt.Sprintf("the reading of %g bpm is left out, the length stays", bpm)}}
}

func (w *work) heartRateInRange(bpm float64) bool {
	if !(bpm > 0 && bpm < 255) {
		return false
	}
	return !w.on(RuleDropout) || bpm >= w.settings.LowestHRBPM && bpm <= w.settings.HighestHRBPM
}
