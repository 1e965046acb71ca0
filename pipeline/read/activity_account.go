package read

import (
	"fmt"
	"math"
)

// The fates that need no words of their own. Every counted record ends as
// used or with a fate that excludes it.
const (
	activityUndecided int32 = iota
	activityUsed
	activityNoType
	activityNoTime
	activityPadding
	activityFirstFate // of those that the builder adds
)

// activityFate is a rule that excludes records, and why.
type activityFate struct{ rule, detail string }

// fate adds one.
func (b *activityBuilder) fate(rule, detail string) int32 {
	b.fates = append(b.fates, activityFate{rule, detail})
	return int32(len(b.fates) - 1)
}

// entries is the file's part of the ledger: what is said of the file as a
// whole, then what was noted, then what was excluded.
func (b *activityBuilder) entries(damage []fitDamage, used bool) []Entry {
	b.fates[activityNoType] = activityFate{"length-type", "the recorder says neither that the length was swum nor that it was a rest"}
	b.fates[activityNoTime] = activityFate{"no-time", "the sample has no time"}
	b.fates[activityPadding] = activityFate{"padding", "fills up a packet of the strap's log: same time as the sample before"}

	var whole []Entry
	add := func(group int, rule, detail string) {
		whole = append(whole, Entry{Records: 1, Kind: KindFile, Swimmer: b.owners[group].Swimmer, Rule: rule, Action: Noted, Detail: detail})
	}
	for _, d := range damage {
		add(0, d.rule, d.detail)
	}
	if b.c.twice > 0 {
		add(0, "field-twice", fmt.Sprintf("in %d length messages one field holds two values: the first is used", b.c.twice))
	}
	refused := len(whole)
	for i := range b.sessions {
		if s := &b.sessions[i]; s.rule != "" {
			add(s.group, s.rule, s.detail)
		}
	}
	if len(b.sessions) == 0 {
		add(0, "no-session", "the file holds neither a session nor pool lengths")
	}
	if !used {
		whole[refused].Action = Excluded // the file as a whole gives nothing
	}
	entries := append(whole, b.noted...)

	entries = b.excludedLengths(entries, KindLength, b.c.counts.Lengths)
	entries = b.excludedLengths(entries, KindRest, b.c.counts.Rests)
	runs := b.runs(entries, KindHeartRate)
	for i := range b.c.beats {
		runs.add(int64(i)+1, b.c.beats[i].fate, int(b.c.beats[i].group))
	}
	entries = runs.close(int64(len(b.c.beats)), b.c.counts.HeartRate)
	for i := range entries {
		entries[i].FileID = b.src.FileID
	}
	return entries
}

func (b *activityBuilder) excludedLengths(entries []Entry, kind RecordKind, counted int64) []Entry {
	runs := b.runs(entries, kind)
	kept := int64(0)
	for i := range b.c.lengths {
		if l := &b.c.lengths[i]; l.rest == (kind == KindRest) {
			runs.add(l.record, l.fate, l.group)
			kept++
		}
	}
	return runs.close(kept, counted)
}

// activityRuns makes one entry of excluded records of one fate that follow
// each other.
type activityRuns struct {
	b       *activityBuilder
	kind    RecordKind
	entries []Entry
	open    bool // the last entry may go on
	fate    int32
	group   int
}

func (b *activityBuilder) runs(entries []Entry, kind RecordKind) *activityRuns {
	return &activityRuns{b: b, kind: kind, entries: entries}
}

// add takes the next record of the kind.
func (r *activityRuns) add(record int64, fate int32, group int) {
	if fate == activityUsed {
		r.open = false
		return
	}
	if r.open && r.fate == fate && r.group == group {
		r.entries[len(r.entries)-1].Records++
		return
	}
	why := r.b.fates[fate]
	r.entries = append(r.entries, Entry{Record: record, Records: 1, Kind: r.kind, Swimmer: r.b.owners[group].Swimmer,
		Rule: why.rule, Action: Excluded, Detail: why.detail})
	r.open, r.fate, r.group = true, fate, group
}

// close adds the records that were counted but not kept.
func (r *activityRuns) close(kept, counted int64) []Entry {
	if counted > kept {
		r.entries = append(r.entries, Entry{Record: kept + 1, Records: counted - kept, Kind: r.kind, Rule: "too-many", Action: Excluded,
			Detail: "more records than any recorder writes in one file"})
	}
	return r.entries
}

// checkAgainstSummaries notes where a recorder contradicts itself: its number
// of active lengths, and the rate and speed that it worked out from a length's
// strokes and time. Those say nothing that the length does not say.
func (b *activityBuilder) checkAgainstSummaries(s *activitySwim, r *Recording) {
	if s.active != fitNone && int(s.active) != len(r.Lengths) {
		b.note(s.group, "length-count", fmt.Sprintf("the session states %d active lengths; %d were read", s.active, len(r.Lengths)))
	}
	var rate, speed activityContradictions
	for _, at := range s.lengths {
		l := &b.c.lengths[at]
		if l.rest || l.fate != activityUsed || !(l.durationS > 0) {
			continue
		}
		_, drill := activityStroke(l.stroke)
		if l.strokes != fitNone && l.strokes > 0 && !drill {
			rate.check(l.record, l.cadence, 60*float64(l.strokes)/l.durationS, 1) // rounded or cut to a whole number
		}
		if l.speed > 0 { // 0 on a drill
			own := s.poolM / l.durationS
			speed.check(l.record, l.speed, own, 0.02*own)
		}
	}
	b.contradiction(s.group, rate, "cadence-contradicts", "the recorder's stroke rate (%.0f, first such length) is not that of the length's strokes and seconds (%.1f); it is not used")
	b.contradiction(s.group, speed, "speed-contradicts", "the recorder's speed (%.3f m/s, first such length) is not pool length over seconds (%.3f m/s); it is not used")
}

// activityContradictions are lengths whose recorded value is not the one
// that follows from the rest of the message.
type activityContradictions struct {
	n, first        int64
	stated, derived float64
}

func (c *activityContradictions) check(record int64, stated, derived, tolerance float64) {
	if math.IsNaN(stated) || math.IsNaN(derived) || math.Abs(stated-derived) <= tolerance {
		return
	}
	if c.n == 0 {
		c.first, c.stated, c.derived = record, stated, derived
	}
	c.n++
}

// contradiction adds one entry for all of them, on the first.
func (b *activityBuilder) contradiction(group int, c activityContradictions, rule, words string) {
	if c.n == 0 {
		return
	}
	b.noted = append(b.noted, Entry{Record: c.first, Records: 1, Kind: KindLength, Swimmer: b.owners[group].Swimmer, Rule: rule, Action: Noted,
		Detail: fmt.Sprintf("%d lengths: "+words, c.n, c.stated, c.derived)})
}
