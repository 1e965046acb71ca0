package normalise

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/activityfile"
	"lengthwise/pipeline/identity"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// swimAt is 4 x 100 m with 20 s of rest from an instant on, as a watch records
// it, and as somebody beside the pool writes it down and logs the heart rate by
// the clock on the wall.
func swimAt(t *testing.T, zone *time.Location, start time.Time, wallClock func(time.Time) string, noStart bool) []read.Recording {
	t.Helper()
	a := activityfile.Activity{StartUTC: start, Serial: 5, PoolMetres: 25}
	totals := []float64{79.8, 82.4, 81.1, 84.6}
	clock := 0.0
	var rows, beats strings.Builder
	rows.WriteString("swimmer,date,start,set,rep,distance_m,pool,stroke,time,strokes,count,rest\n")
	beats.WriteString("swimmer,timestamp,hr\n")
	written := wallClock(start)
	begun := written[11:16]
	if noStart {
		begun = ""
	}
	for rep, total := range totals {
		lap := activityfile.Lap{StartSeconds: clock, DurationSeconds: total, FirstLength: len(a.Lengths), Lengths: 4, DistanceMetres: 100}
		for i := range 4 {
			a.Lengths = append(a.Lengths, activityfile.Length{StartSeconds: clock + float64(i)*total/4, DurationSeconds: total / 4, Strokes: 9})
		}
		a.Laps = append(a.Laps, lap)
		fmt.Fprintf(&rows, "ada,%s,%s,1,%d,100,25m,freestyle,%.1f,70,arms,%s\n", written[:10], begun, rep+1, total, map[bool]string{true: "", false: "20"}[rep == 0])
		clock += total + 20
	}
	for s := 0; s < int(clock); s += 5 {
		fmt.Fprintf(&beats, "ada,%s,%d\n", wallClock(start.Add(time.Duration(s)*time.Second)), 130+s/20)
	}
	own := func(string) identity.Owner { return identity.Owner{Swimmer: "ada"} }
	data, err := activityfile.Encode(a, activityfile.Quirks{})
	if err != nil {
		t.Fatal(err)
	}
	watch, err := read.Activity(data, read.ActivitySource{FileID: "watch", Content: "watch", Zone: zone, Input: study.Input{StrokeCount: study.Cycles}, Owner: own})
	if err != nil {
		t.Fatal(err)
	}
	sheet, _, err := read.Sheet([]byte(rows.String()), read.SheetSource{FileID: "sheet", Content: "sheet", Zone: zone, Input: study.Input{StrokeCount: study.Arms}, Owner: own})
	if err != nil {
		t.Fatal(err)
	}
	log, _, err := read.HeartRateLog([]byte(beats.String()), read.SheetSource{FileID: "log", Content: "log", Zone: zone, Owner: own})
	if err != nil {
		t.Fatal(err)
	}
	return slices.Concat(watch.Recordings, sheet.Recordings, log.Recordings)
}

// One swim, recorded by a watch in universal time and by people in that of the
// pool, on the days on which these are hard to tell: it is one session, of the
// pool's day, with all that was recorded of it.
func TestOneSwimOnHardDays(t *testing.T) {
	for _, c := range []struct {
		name, zone, start string // an instant
		date              string
		walls             string // the clock on the wall shows UTC and so much; "" means the zone's time
		noStart           bool
	}{
		{"a plain day", "Europe/Lisbon", "2026-06-03T05:30:00Z", "2026-06-03", "", false},
		{"before summer time", "Europe/Lisbon", "2026-03-29T00:57:00Z", "2026-03-29", "", false},
		{"after summer time", "Europe/Lisbon", "2026-03-29T01:10:00Z", "2026-03-29", "", false},
		{"the hour that is there twice, first", "Europe/Lisbon", "2026-10-25T00:20:00Z", "2026-10-25", "", false},
		{"the hour that is there twice, second", "Europe/Lisbon", "2026-10-25T01:20:00Z", "2026-10-25", "", false},
		{"the hour that is there twice, second, no start", "Europe/Lisbon", "2026-10-25T01:20:00Z", "2026-10-25", "", true},
		{"a wall clock that nobody changed", "Europe/Lisbon", "2026-10-25T09:00:00Z", "2026-10-25", "1h", false},
		{"half an hour of summer time", "Australia/Lord_Howe", "2026-04-04T15:10:00Z", "2026-04-05", "", false},
		{"a quarter of an hour", "Asia/Kathmandu", "2026-05-01T18:20:00Z", "2026-05-02", "", false},
		{"over midnight", "Europe/Lisbon", "2026-06-03T22:58:00Z", "2026-06-03", "", false},
		{"over midnight, no start", "Europe/Lisbon", "2026-06-03T22:58:00Z", "2026-06-03", "", true},
		{"yesterday in universal time", "Pacific/Auckland", "2026-06-02T18:30:00Z", "2026-06-03", "", true},
		{"tomorrow in universal time", "Pacific/Honolulu", "2026-06-04T04:30:00Z", "2026-06-03", "", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			zone, err := time.LoadLocation(c.zone)
			if err != nil {
				t.Skip("no time zones on this machine")
			}
			start, err := time.Parse(time.RFC3339, c.start)
			if err != nil {
				t.Fatal(err)
			}
			wall := zone
			if c.walls != "" {
				ahead, err := time.ParseDuration(c.walls)
				if err != nil {
					t.Fatal(err)
				}
				wall = time.FixedZone("wall", int(ahead.Seconds()))
			}
			s := study.Default()
			s.TimeZone = zone
			got, entries, err := Sessions(swimAt(t, zone, start, func(at time.Time) string { return at.In(wall).Format("2006-01-02 15:04:05") }, c.noStart), nil, s)
			if err != nil || len(got) != 1 {
				t.Fatalf("%d sessions, %v: %+v", len(got), err, entries)
			}
			if !got[0].Start.Equal(start) || got[0].LocalDate != c.date || len(got[0].Merged) != 4 {
				t.Errorf("start %v, day %s, %d rows merged: %+v", got[0].Start, got[0].LocalDate, len(got[0].Merged), entries)
			}
			if n := len(got[0].Samples); n < 75 || got[0].Samples[0].TimeS != 0 || got[0].Samples[n-1].FileID != "log" {
				t.Errorf("%d samples: %+v", n, entries)
			}
		})
	}
}

// Swims of the same seconds whose days, or clocks, do not meet stay apart, and
// that is said.
func TestSameSwimsOfOtherDays(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(watch, sheet *read.Recording)
		says   string
	}{
		{"the day after, no start", func(_, s *read.Recording) { s.Start, s.LocalDate = time.Time{}, "2026-03-03" }, "on another day"},
		{"the day before, with a start", func(_, s *read.Recording) { s.Start, s.LocalDate = s.Start.Add(-24*time.Hour), "2026-03-01" }, "on another day"},
		{"the recorder's clock was not set", func(w, _ *read.Recording) { w.Start, w.LocalDate = time.Time{}, "" }, "clock was not set"},
		{"two days apart", func(_, s *read.Recording) { s.Start, s.LocalDate = time.Time{}, "2026-03-04" }, ""},
	} {
		watch, rows := threeSwims("watch", morning), sheet("sheet", morning, 80.3, 82.1, 83.8)
		c.change(&watch, &rows)
		got, entries := sessions(t, nil, watch, rows)
		noted := count(entries, "sheet", RuleSameDay, read.Noted) == 1
		if len(got) != 2 || noted != (c.says != "") || noted && !strings.Contains(entries[0].Detail, c.says) {
			t.Errorf("%s: %d sessions, %+v", c.name, len(got), entries)
		}
	}
}
