package normalise

import (
	"fmt"
	"math"
	"time"

	"lengthwise/pipeline/read"
)

// overlapS is how long two recordings must run side by side to be of one
// swim: sheets write their start to the minute. Shorter ones need half of their
// own time.
const overlapS = 60.0

const poolsDisagreeWords = "its swims take the seconds of those of file %s, over other distances: one of the two states a wrong pool"

const tooManyWords = "the sheet and the watch files of that day hold more swims than can be compared"

// settleSecondRecordings leaves one session for each swim. Of two activities at
// the same time the earlier in order is used, since their clocks cannot lie
// side by side; the other's records are excluded. A sheet is merged into the
// activities of the same swims: those at the same time or, where a clock is
// missing, those of its day, if its swims are theirs. drafts are in order of
// start; so are those kept.
func settleSecondRecordings(drafts []*draft) (kept []*draft, entries []read.Entry) {
	var activities []*draft
	gone := make(map[*draft]bool)
	for _, d := range drafts {
		if d.Kind != read.FromActivity {
			continue
		}
		if used := where(activities, func(a *draft) bool { return overlap(a, d) }); len(used) > 0 {
			gone[d] = true
			entries = append(entries, whole(d.recording, RuleSecondRecording, "swum at the same time as file "+used[0].FileID+", which is used")...)
			continue
		}
		activities = append(activities, d)
	}
	for _, d := range drafts {
		if d.Kind != read.FromSheet {
			continue
		}
		excluded, merged := settleSheet(d, activities)
		entries = append(entries, excluded...)
		if merged {
			gone[d] = true
		}
	}
	for _, d := range drafts {
		if !gone[d] {
			kept = append(kept, d)
		}
	}
	noteLikeSheets(kept)
	return kept, entries
}

// settleSheet merges a sheet into the activities of the same swims, or tells why
// it is left out; it is false where the sheet stays a session of its own.
func settleSheet(d *draft, activities []*draft) (entries []read.Entry, spent bool) {
	leaveOut := func(rule, format string, args ...any) ([]read.Entry, bool) {
		return whole(d.recording, rule, fmt.Sprintf(format, args...)), true
	}
	sameDay := where(activities, func(a *draft) bool { return a.LocalDate != "" && a.LocalDate == d.LocalDate })
	if d.Start.IsZero() {
		f := layOn(d, sameDay)
		if f.tooMany {
			return leaveOut(RuleMatchAmbiguous, tooManyWords)
		}
		if f.otherMetres() {
			return leaveOut(RulePoolsDisagree, poolsDisagreeWords, f.watch[0].of.FileID)
		}
		if f.holds() {
			if !f.sure() {
				return leaveOut(RuleMatchAmbiguous, "its swims are like those of file %s, but too few or too even to be sure that they are the same: a start time would tell", f.watch[0].of.FileID)
			}
			return merge(d, f), true
		}
		if other, ok := f.otherPool(); ok {
			return leaveOut(RulePoolsDisagree, poolsDisagreeWords, other.FileID)
		}
		switch {
		case f.alike():
			d.note(RuleSameDay, "swims like those of file %s on the same day, but not of the same seconds: both are used", f.watch[0].of.FileID)
		case len(sameDay) == 0:
			d.noteOtherDay(activities)
		}
		return nil, false
	}
	beside := where(activities, func(a *draft) bool { return overlap(a, d) })
	f := layOn(d, beside)
	if f.tooMany {
		return leaveOut(RuleMatchAmbiguous, tooManyWords)
	}
	if f.otherMetres() {
		return leaveOut(RulePoolsDisagree, poolsDisagreeWords, beside[0].FileID)
	}
	if f.alike() && len(where(sameDay, func(a *draft) bool { return !overlap(a, d) && layOn(d, []*draft{a}).better(f) })) == 0 {
		return merge(d, f), true
	}
	for _, hour := range clockChanges(d.Start, d.Zone) { // the written start is of before or after a change of clocks
		moved := *d
		moved.Start = d.Start.Add(hour)
		there := where(activities, func(a *draft) bool { return overlap(a, &moved) })
		if g := layOn(&moved, there); g.holds() {
			d.Start = moved.Start
			d.note(read.RuleClockChange, "the clocks changed that day: the start that was written down is %+.0f h from that of file %s, which has the same swims", -hour.Hours(), there[0].FileID)
			return merge(d, layOn(d, there)), true
		}
	}
	others := where(sameDay, func(a *draft) bool { return !overlap(a, d) && layOn(d, []*draft{a}).alike() })
	switch {
	case len(beside) > 0 && len(others) > 0:
		return leaveOut(RuleMatchAmbiguous, "its start is that of file %s, its swims are like those of file %s of that day", beside[0].FileID, others[0].FileID)
	case len(beside) > 0:
		if _, ok := f.otherPool(); ok {
			return leaveOut(RulePoolsDisagree, poolsDisagreeWords, beside[0].FileID)
		}
		return merge(d, f), true
	case len(others) > 0:
		d.note(RuleSameDay, "swims like those of file %s on the same day, at another hour: both are used; if one clock is wrong, the swims count twice", others[0].FileID)
	default:
		d.noteOtherDay(activities)
	}
	return nil, false
}

// noteOtherDay notes the same swims on a day beside a sheet's, or on a day that
// is not known.
func (d *draft) noteOtherDay(activities []*draft) {
	if near := where(activities, func(a *draft) bool { return daysApart(a, d) == 1 && layOn(d, []*draft{a}).holds() }); len(near) > 0 {
		d.note(RuleSameDay, "swims of the same seconds as those of file %s, on another day: both are used; if one date is wrong, the swims count twice", near[0].FileID)
	}
	if undated := where(activities, func(a *draft) bool { return a.LocalDate == "" && layOn(d, []*draft{a}).holds() }); len(undated) > 0 {
		d.note(RuleSameDay, "swims of the same seconds as those of file %s, whose recorder's clock was not set: both are used; if they are the same, the swims count twice", undated[0].FileID)
	}
}

// note adds an entry on the draft's first row.
func (d *draft) note(rule, format string, args ...any) {
	d.entries = append(d.entries, d.entry(&d.recording.Lengths[0], rule, read.Noted, fmt.Sprintf(format, args...)))
}

// daysApart is how many days lie between two sessions' dates, -1 when one is
// not known.
func daysApart(a, b *draft) int {
	x, err1 := time.Parse(time.DateOnly, a.LocalDate)
	y, err2 := time.Parse(time.DateOnly, b.LocalDate)
	if err1 != nil || err2 != nil {
		return -1
	}
	return int(math.Abs(x.Sub(y).Hours()) / 24)
}

// clockChanges lists by how much a start may be off because the clocks of its
// zone change within a day of it.
func clockChanges(start time.Time, zone *time.Location) []time.Duration {
	if zone == nil {
		return nil
	}
	_, before := start.Add(-24 * time.Hour).In(zone).Zone()
	_, after := start.Add(24 * time.Hour).In(zone).Zone()
	if before == after {
		return nil
	}
	change := time.Duration(after-before) * time.Second
	return []time.Duration{change, -change}
}

func where(drafts []*draft, ok func(*draft) bool) []*draft {
	var found []*draft
	for _, d := range drafts {
		if ok(d) {
			found = append(found, d)
		}
	}
	return found
}

// overlap tells whether two sessions with a clock ran side by side.
func overlap(a, b *draft) bool {
	if a.Start.IsZero() || b.Start.IsZero() {
		return false
	}
	shift := b.Start.Sub(a.Start).Seconds()
	aFrom, aTo := swimming(a)
	bFrom, bTo := swimming(b)
	bFrom, bTo = bFrom+shift, bTo+shift
	both := math.Min(aTo, bTo) - math.Max(aFrom, bFrom)
	shorter := math.Min(aTo-aFrom, bTo-bFrom)
	return both > 0 && (both >= overlapS || both >= shorter/2)
}

// swimming is when the first length starts and the last ends.
func swimming(d *draft) (from, to float64) {
	if len(d.Lengths) == 0 {
		return 0, 0
	}
	last := &d.Lengths[len(d.Lengths)-1]
	return d.Lengths[0].StartS, last.StartS + math.Max(0, orZero(last.DurationS))
}
