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
	s.Lineage = make([]Link, 0, len(w.items)+len(w.session.Rests))
	ordinalFrom := make([]int, len(w.session.Lengths)+1) // the kept length at or after each source length, 0 for none
	gap := false
	for i := range w.items {
		it := &w.items[i]
		if i > 0 && it.length.Swim != w.items[i-1].length.Swim {
			gap = false
		}
		if it.out != "" {
			gap = true
			entries = append(entries, w.entries(it, it.out, read.Excluded)...)
			continue
		}
		kept := Length{Length: it.length, Ordinal: len(s.Kept) + 1, Rule: it.rule, AfterGap: gap}
		gap = false
		if it.rule != "" {
			entries = append(entries, w.entries(it, it.rule, read.Repaired)...)
		}
		entries = append(entries, w.checkReading(it, &kept)...)
		if math.IsNaN(kept.Strokes) {
			it.detail = "no strokes were counted: its bout has no stroke rate"
			entries = append(entries, w.entries(it, RuleStrokesMissing, read.Noted)...)
		}
		s.Kept = append(s.Kept, kept)
		s.Lineage = w.link(s.Lineage, it, kept.Ordinal)
		if it.half <= 1 {
			ordinalFrom[it.from] = kept.Ordinal
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
			Ordinal: ordinalFrom[rest.Before], Relation: RestBefore}
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

// entries are the ledger entries of an item: one for each of its source
// records, a repeat's and a split length's once.
func (w *work) entries(it *item, rule string, action read.Action) []read.Entry {
	var entries []read.Entry
	for i := it.from; i <= it.to; i++ {
		l := &w.session.Lengths[i]
		if it.half > 1 || l.Share > 1 {
			continue
		}
		entries = append(entries, read.Entry{FileID: l.FileID, Record: l.Record, Records: 1, Kind: l.Kind,
			Swimmer: w.session.Swimmer, Session: w.session.ID, Rule: rule, Action: action, Detail: it.detail})
	}
	return entries
}

// link adds the links of an item's source records.
func (w *work) link(links []Link, it *item, ordinal int) []Link {
	relation := Same
	switch {
	case it.half > 0:
		relation = Split
	case it.to > it.from:
		relation = Join
	case w.session.Lengths[it.from].Kind == read.KindRepeat:
		relation = Share
	}
	for i := it.from; i <= it.to; i++ {
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

// screenSamples keeps the samples that are heart rates.
func (w *work) screenSamples() (kept []normalise.Sample, entries []read.Entry) {
	type key struct{ file, rule, detail string }
	var order []key
	records := make(map[key][]int64)
	drop := func(s *normalise.Sample, rule, detail string) {
		k := key{s.FileID, rule, detail}
		if records[k] == nil {
			order = append(order, k)
		}
		records[k] = append(records[k], s.Record)
	}
	kept = make([]normalise.Sample, 0, len(w.session.Samples))
	for i := range w.session.Samples {
		s := &w.session.Samples[i]
		switch {
		case s.First && w.on(RuleStartValue):
			drop(s, RuleStartValue, "the sensor's first value, sent before it measured")
		case !(s.BPM > 0 && s.BPM < 255):
			drop(s, RuleDropout, "recorded as missing")
		case !w.heartRateInRange(s.BPM):
			drop(s, RuleDropout, fmt.Sprintf("not within %g to %g bpm", w.settings.LowestHRBPM, w.settings.HighestHRBPM))
		default:
			kept = append(kept, *s)
		}
	}
	for _, k := range order {
		entries = append(entries, normalise.Runs(read.Entry{FileID: k.file, Kind: read.KindHeartRate,
			Swimmer: w.session.Swimmer, Session: w.session.ID, Rule: k.rule, Action: read.Excluded, Detail: k.detail}, records[k])...)
	}
	return kept, entries
}
