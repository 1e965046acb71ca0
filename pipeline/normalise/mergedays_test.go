package normalise

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

// simDays is what is designed to be merged, and what is not.
func simDays(lisbon *time.Location) []simDay {
	return []simDay{
		{name: "start to the minute", sessions: 1, matched: 1},
		{name: "start 3 min off", sessions: 1, matched: 1, write: simWriting{startOffS: 180}},
		{name: "no start", sessions: 1, matched: 1, write: simWriting{noStart: true}},
		{name: "no start, whole seconds", sessions: 1, matched: 0.98, write: simWriting{noStart: true, wholeS: true}},
		{name: "no start, no rests", sessions: 1, matched: 0.98, write: simWriting{noStart: true, noRest: true}},
		{name: "no rests", sessions: 1, matched: 1, write: simWriting{noRest: true}},
		{name: "no start, no numbers", sessions: 1, matched: 1, write: simWriting{noNumbers: true, noStart: true}},
		{name: "no start, a slow hand", sessions: 1, matched: 1, write: simWriting{slowHandS: 0.5, noStart: true}},
		{name: "length rows", sessions: 1, matched: 1, write: simWriting{perLength: true}},
		{name: "length rows, no start", sessions: 1, matched: 1, write: simWriting{perLength: true, noStart: true}},
		{name: "wrong counts", sessions: 1, matched: 1, write: simWriting{countsOff: true}},
		{name: "mixed strokes, no start", sessions: 1, matched: 1, mixed: true, write: simWriting{noStart: true}},
		{name: "missed turns, no start", sessions: 1, matched: 0.98, missed: true, write: simWriting{noStart: true}},
		{name: "wall time left out, no start", sessions: 1, matched: 0.98, apart: 0.01, wallS: 1.5, write: simWriting{noStart: true}},
		{name: "over midnight", sessions: 1, matched: 1, hour: 23},
		{name: "over midnight, no start", sessions: 1, matched: 1, hour: 23, write: simWriting{noStart: true}},
		{name: "the hour that is there twice", sessions: 1, matched: 1, hour: 1, date: time.Date(2026, 10, 25, 0, 0, 0, 0, lisbon)},
		{name: "the night of summer time", sessions: 1, matched: 1, hour: 2, date: time.Date(2026, 3, 29, 0, 0, 0, 0, lisbon)},
		{name: "a clock not yet changed", sessions: 1, matched: 1, hour: 9, date: time.Date(2026, 3, 29, 0, 0, 0, 0, lisbon), write: simWriting{startOffS: -3600}},
		{name: "two sessions", sessions: 2, matched: 1},
		{name: "two sessions, no start", sessions: 2, matched: 0.95, write: simWriting{noStart: true}},
		{name: "two sessions, no start, one sheet", sessions: 2, matched: 0.95, write: simWriting{noStart: true, oneSheet: true}},
		{name: "two sessions, no start, not told apart", sessions: 2, matched: 0.9, write: simWriting{noStart: true, oneSheet: true, noSession: true}},
		{name: "two sessions alike", sessions: 2, matched: 1, alike: true},
		{name: "two sessions alike, no start", sessions: 2, matched: 0.95, alike: true, write: simWriting{noStart: true}},
		{name: "two sessions alike, no start, whole seconds", sessions: 2, matched: 0.95, apart: 0.01, alike: true, write: simWriting{noStart: true, wholeS: true}},
		// Not all can be told: what cannot is left out and said.
		{name: "two rows missing", sessions: 1, matched: 0.75, write: simWriting{skip: 2}},
		{name: "two rows missing, no start", sessions: 1, matched: 0.75, write: simWriting{skip: 2, noStart: true}},
		{name: "two rows missing, no numbers", sessions: 1, matched: 0.4, write: simWriting{noNumbers: true, skip: 2}},
		{name: "two rows missing, numbered anew", sessions: 1, matched: 0.4, write: simWriting{renumber: true, skip: 2}},
		{name: "an extra row", sessions: 1, matched: 0.8, write: simWriting{extra: 1}},
		{name: "an extra row, no start", sessions: 1, matched: 0.75, apart: 0.1, write: simWriting{extra: 1, noStart: true}},
		{name: "one set", sessions: 1, matched: 0.25, write: simWriting{firstOnly: 4}},
		{name: "one set, no start", sessions: 1, matched: 0.2, write: simWriting{firstOnly: 4, noStart: true}},
		{name: "rows in another order", sessions: 1, matched: 0.6, write: simWriting{wrongOrder: true}},
		{name: "three sessions, no start, a row missing", sessions: 3, matched: 0.8, apart: 0.01, write: simWriting{noStart: true, skip: 1, wholeS: true}},
		{name: "two sessions alike, no start, rows missing", sessions: 2, matched: 0.75, alike: true, write: simWriting{noStart: true, skip: 2}},
		{name: "two sessions alike, no start, one set", sessions: 2, matched: 0.1, alike: true, write: simWriting{noStart: true, firstOnly: 4}},
		{name: "another pool, length rows", sessions: 1, matched: 0, write: simWriting{pool: "50m", perLength: true, noStart: true}},
		{name: "another pool, repeats", sessions: 1, matched: 0, write: simWriting{pool: "33.3m", noStart: true}},
		{name: "25 yards for 25 m", sessions: 1, matched: 0, write: simWriting{pool: "25y", perLength: true}},
		// Kept apart and noted: the clocks, or dates, do not meet.
		{name: "12 h off", sessions: 1, apart: 1, write: simWriting{startOffS: 12 * 3600}},
		{name: "1 h off", sessions: 1, apart: 1, write: simWriting{startOffS: 3600}},
		{name: "another day", sessions: 1, apart: 1, write: simWriting{noStart: true, wrongDay: 1}},
		{name: "two sessions, starts 5 h off", sessions: 2, apart: 1, write: simWriting{startOffS: 5 * 3600}},
		{name: "one watched, the other written", sessions: 2, watched: 1, apart: 1, write: simWriting{only: 2}},
		{name: "one watched, the other written, no start", sessions: 2, watched: 1, apart: 1, write: simWriting{only: 2, noStart: true}},
		// Seconds alone cannot always tell a session from one with the same sets at
		// the same pace.
		{name: "two alike, one watched, the other written, no start", sessions: 2, watched: 1, alike: true, apart: 1, alone: true, write: simWriting{only: 2, noStart: true}},
		{name: "two alike, one watched, a set of the other written, no start", sessions: 2, watched: 1, alike: true, apart: 1, alone: true, write: simWriting{only: 2, noStart: true, firstOnly: 4}},
	}
}

// Rows are merged where they belong or, where that cannot be told, left out.
// testdata/merges.md has what LENGTHWISE_MERGES=300 measured.
func TestMergeSimulated(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	days := uint64(12)
	if n, err := strconv.Atoi(os.Getenv("LENGTHWISE_MERGES")); err == nil {
		days = uint64(n)
	}
	var out strings.Builder
	fmt.Fprintf(&out, mergesHead, days)
	for _, d := range simDays(lisbon) {
		var sum simTally
		for seed := range days {
			sum.add(d.run(t, seed))
		}
		share := float64(sum.right) / float64(sum.rows)
		fmt.Fprintf(&out, "| %s | %d | %.3f | %d | %d | %d | %d | %d | %d |\n", d.name, sum.rows, share, sum.wrong, sum.daysWrong, sum.ambiguous, sum.unlike, sum.pools+sum.unread, sum.apart)
		mostWrong := 0
		switch {
		case d.alone:
			mostWrong = int(days) / 4
		case d.matched < 0.9: // numbers and seconds together may mislead
			mostWrong = int(days) / 100
		}
		if share < d.matched || sum.daysWrong > mostWrong || float64(sum.daysApart) > d.apart*float64(days) {
			t.Errorf("%s: %.3f matched (asked: %.2f), %+v", d.name, share, d.matched, sum)
		}
	}
	if os.Getenv("LENGTHWISE_MERGES") != "" {
		if err := os.WriteFile("testdata/merges.md", []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Log("\n" + out.String())
}

const mergesHead = `# Sheets merged with watch files
Rows of simulated sheets, %d days a line; of each, how many of the rows were merged with the swim that they describe. Repeats scatter by 1.2 %% of their time; the watch sees push-off and touch with errors of 0.3 and 0.4 s (standard deviation), the hand stops a watch with one of 0.25 s, starts are written to the minute by a clock that is 25 s off. Left out: several swims are like it; none is; the pools disagree or the distance is none of the pool's.

| day | rows | merged rightly | wrongly | on days | left out: several | none | pools | apart |
|---|---|---|---|---|---|---|---|---|
`
