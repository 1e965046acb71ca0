package normalise

import (
	"fmt"
	"math"

	"lengthwise/pipeline/read"
)

const (
	// overlapS is how long two recordings must run side by side to be of one
	// swim: sheets write their start to the minute. Shorter ones need half
	// of their own time.
	overlapS = 60.0
	// A swim of a sheet and one of an activity match when their seconds
	// differ by at most matchS or matchShare (hand timing, rounding, wall
	// time) and their distance by at most a length (a missed turn).
	matchS     = 2.0
	matchShare = 0.03
	// matchingSwims is the share of a sheet's swims that must appear in the
	// activity, in order.
	matchingSwims = 0.8
)

// settleSecondRecordings leaves one session for each swim. Of two activities at
// the same time the earlier in order is used, since their clocks cannot lie
// side by side; the other's records are excluded. A sheet is merged into the
// activity of the same swims: the one at the same time or, where a clock is
// missing, the only one of the day with such swims. drafts are in order of
// start; so are those kept.
func settleSecondRecordings(drafts []*draft) (kept []*draft, entries []read.Entry) {
	var activities []*draft
	gone := make(map[*draft]bool)
	drop := func(d *draft, rule, why string) {
		gone[d] = true
		entries = append(entries, whole(d.recording, rule, why)...)
	}
	for _, d := range drafts {
		if d.Kind != read.FromActivity {
			continue
		}
		if used := where(activities, func(a *draft) bool { return overlap(a, d) }); len(used) > 0 {
			drop(d, RuleSecondRecording, "swum at the same time as file "+used[0].FileID+", which is used")
			continue
		}
		activities = append(activities, d)
	}
	for _, d := range drafts {
		if d.Kind != read.FromSheet {
			continue
		}
		fit := where(activities, func(a *draft) bool { return overlap(a, d) })
		if len(fit) == 0 {
			fit = where(activities, func(a *draft) bool {
				return a.LocalDate != "" && a.LocalDate == d.LocalDate && swimsMatch(d, a)
			})
			if len(fit) > 0 && !d.Start.IsZero() && !fit[0].Start.IsZero() {
				d.entries = append(d.entries, d.entry(&d.recording.Lengths[0], RuleSameDay, read.Noted,
					"swims like those of file "+fit[0].FileID+" on the same day, at another hour: both are used; if one clock is wrong, the swims count twice"))
				continue
			}
		}
		switch {
		case len(fit) == 1:
			gone[d] = true
			entries = append(entries, merge(d, fit[0])...)
		case len(fit) > 1:
			drop(d, RuleMatchAmbiguous, fmt.Sprintf("files %s and %s of that day both hold such swims; a start time would tell which", fit[0].FileID, fit[1].FileID))
		}
	}
	for _, d := range drafts {
		if !gone[d] {
			kept = append(kept, d)
		}
	}
	return kept, entries
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

// swum is one unbroken swim in brief; its seconds are those on the clock, so
// that a recorder which leaves out the walls still matches a stopwatch.
type swum struct {
	metres, seconds, pool float64
	atS                   float64 // start on the session's clock
	from, to              int     // its lengths
}

func swumIn(d *draft) []swum {
	var all []swum
	var from float64
	for i := range d.Lengths {
		l := &d.Lengths[i]
		if i == 0 || l.Swim != d.Lengths[i-1].Swim {
			all = append(all, swum{pool: l.PoolM, atS: l.StartS, from: i})
			from = l.StartS
		}
		swim := &all[len(all)-1]
		swim.metres += l.PoolM
		swim.to = i + 1
		swim.seconds = l.StartS + l.DurationS - from
	}
	return all
}

// swimsMatch tells whether the sheet's swims appear among the activity's in
// the same order: the longest common subsequence holds most of them.
func swimsMatch(sheet, activity *draft) bool {
	want, have := swumIn(sheet), swumIn(activity)
	if len(want) == 0 {
		return false
	}
	row := make([]int, len(have)+1)
	for _, w := range want {
		diagonal := 0
		for j, h := range have {
			above := row[j+1]
			if swimMatches(w, h) {
				row[j+1] = diagonal + 1
			} else {
				row[j+1] = max(row[j+1], row[j])
			}
			diagonal = above
		}
	}
	return float64(row[len(have)]) >= matchingSwims*float64(len(want))
}

func swimMatches(a, b swum) bool {
	slack := math.Max(matchS, matchShare*math.Max(a.seconds, b.seconds))
	return math.Abs(a.seconds-b.seconds) <= slack && math.Abs(a.metres-b.metres) <= math.Max(a.pool, b.pool)+0.01
}
