package normalise

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

func TestRefusedRecordingsGoToTheLedgerWhole(t *testing.T) {
	r := activity("f1", morning, 30, 30)
	r.Rests = []read.Rest{{Record: 1, StartS: 60, DurationS: 20}}
	beats(&r, 0, 5, 1, 120)
	r.Samples[3].Record = 7 // two runs: 1-3, 5, 7
	r.Refused = RuleNoConsent
	notes := []read.Note{{Record: 3, Swimmer: "ada", LocalDate: "2026-03-02", Key: "kick", Value: "none"}}
	got, entries := sessions(t, notes, r)
	if len(got) != 0 {
		t.Fatalf("%d sessions of a swimmer without consent", len(got))
	}
	want := []string{
		" note 3+1 no-consent excluded",
		"f1 heart-rate 1+3 no-consent excluded",
		"f1 heart-rate 5+1 no-consent excluded",
		"f1 heart-rate 7+1 no-consent excluded",
		"f1 length 1+1 no-consent excluded",
		"f1 length 2+1 no-consent excluded",
		"f1 rest 1+1 no-consent excluded",
	}
	if b := brief(entries); !slices.Equal(b, want) {
		t.Errorf("entries\n%s\nwant\n%s", strings.Join(b, "\n"), strings.Join(want, "\n"))
	}
	for _, e := range entries {
		if e.Session != "" || strings.Contains(e.Detail, "2026") || e.Detail != whyRefused[RuleNoConsent] {
			t.Errorf("the entry says more than the pseudonym: %+v", e)
		}
	}
}

func TestRefusedAndOwnRecordingsMayMix(t *testing.T) {
	a, b := activity("f1", morning, 30, 30), activity("f2", morning.Add(3*time.Hour), 30, 30)
	b.Swimmer, b.Refused = "", RuleNoSwimmer
	got, entries := sessions(t, nil, a, b)
	if len(got) != 1 || got[0].FileID != "f1" {
		t.Fatalf("got %+v", got)
	}
	if n := count(entries, "f2", RuleNoSwimmer, read.Excluded); n != 2 {
		t.Errorf("%d records without a swimmer, want 2", n)
	}
}

func TestTwoSwimmersInOneCallAreAnError(t *testing.T) {
	a, b := activity("f1", morning, 30), activity("f2", morning, 31)
	b.Swimmer = "bea"
	if _, _, err := Sessions([]read.Recording{a, b}, nil, study.Default()); err == nil {
		t.Fatal("no error")
	}
}

func TestSessionIDsFollowDayAndClock(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Skip("no time zones on this machine")
	}
	evening := activity("f1", time.Date(2026, 7, 1, 17, 0, 0, 0, time.UTC), 30, 30)
	early := activity("f2", time.Date(2026, 7, 1, 6, 0, 0, 0, time.UTC), 31, 31)
	midnight := activity("f3", time.Date(2026, 7, 1, 23, 30, 0, 0, time.UTC), 32, 32)
	noClock := sheet("f4", time.Time{}, 80, 81, 82)
	noClock.LocalDate = "2026-07-01"
	midnight.Zone, midnight.LocalDate = lisbon, "" // 00:30 of the next day there
	got, _ := sessions(t, nil, noClock, midnight, evening, early)
	var ids []string
	for _, s := range got {
		ids = append(ids, s.ID+" "+s.FileID)
	}
	want := []string{"ada-20260701-1 f2", "ada-20260701-2 f1", "ada-20260701-3 f4", "ada-20260702-1 f3"}
	if !slices.Equal(ids, want) {
		t.Errorf("ids %q, want %q", ids, want)
	}
}

func TestRecordingsWithoutLengthsOrPool(t *testing.T) {
	open := activity("open", morning)
	beats(&open, 0, 10, 1, 130)
	dry := activity("dry", morning.Add(24*time.Hour), 30, 30)
	dry.PoolM = nan
	got, entries := sessions(t, nil, open, dry)
	if len(got) != 0 {
		t.Fatalf("%d sessions", len(got))
	}
	if n := count(entries, "open", RuleNoLengths, read.Excluded); n != 10 {
		t.Errorf("no-lengths: %d, want 10", n)
	}
	if n := count(entries, "dry", RuleNoPool, read.Excluded); n != 2 {
		t.Errorf("no-pool: %d, want 2", n)
	}
}

func TestRepeatsBecomeEqualShares(t *testing.T) {
	r := sheet("s", morning, 80, 84)
	r.Lengths[0].End = read.Reading{HRBPM: 150, Source: "palpated", DelayS: 10}
	got, _ := sessions(t, nil, r)
	l := got[0].Lengths
	if len(l) != 8 {
		t.Fatalf("%d lengths, want 8", len(l))
	}
	for i, x := range l[:4] {
		if x.Share != i+1 || x.Covers != 4 || x.DurationS != 20 || x.DurationRecordedS != 20 ||
			x.Strokes != 18 || x.StrokesRecorded != 18 || x.Record != 1 || x.StartS != 30+20*float64(i) {
			t.Errorf("share %d: %+v", i+1, x)
		}
		if reading := !math.IsNaN(x.End.HRBPM); reading != (i == 3) {
			t.Errorf("share %d has a reading: %v", i+1, reading)
		}
	}
	if !slices.Equal(swimsOf(got[0]), []int{1, 1, 1, 1, 2, 2, 2, 2}) {
		t.Errorf("swims %v", swimsOf(got[0]))
	}
	if !math.IsNaN(l[0].RestBeforeS) || l[4].RestBeforeS != 30 || l[4].StartS != 140 {
		t.Errorf("rest before the first %v, the second %v; second starts at %v, want NaN, 30, 140", l[0].RestBeforeS, l[4].RestBeforeS, l[4].StartS)
	}
}

func TestArmStrokes(t *testing.T) {
	for _, c := range []struct {
		recorded float64
		stroke   string
		basis    study.CountBasis
		want     float64
	}{
		{12, "freestyle", study.Cycles, 24},
		{12, "backstroke", study.Cycles, 24},
		{12, "mixed", study.Cycles, 24},
		{12, "medley", study.Cycles, 24},
		{12, "unknown", study.Cycles, 24},
		{24, "freestyle", study.Arms, 24},
		{9, "breaststroke", study.Cycles, 9},
		{9, "butterfly", study.Cycles, 9},
		{9, "breaststroke", study.Arms, 9},
		{12, "freestyle", study.UnknownBasis, 12},
		{0, "freestyle", study.Cycles, nan},
		{nan, "freestyle", study.Arms, nan},
		{-3, "freestyle", study.Arms, nan},
		{math.Inf(1), "freestyle", study.Arms, nan},
	} {
		if got := ArmStrokes(c.recorded, c.stroke, c.basis); !same(got, c.want) {
			t.Errorf("ArmStrokes(%v, %s, %s) = %v, want %v", c.recorded, c.stroke, c.basis, got, c.want)
		}
	}
}

func TestCountsAndPoolsOfALength(t *testing.T) {
	r := activity("f", morning, 30, 30, 30)
	r.Basis = ""
	r.Lengths[0].Basis = study.Arms
	r.Lengths[1].Strokes = 0
	r.Lengths[2].PoolM = 25 * 0.9144
	got, _ := sessions(t, nil, r)
	l := got[0].Lengths
	if l[0].Basis != study.Arms || l[0].Strokes != 10 || l[1].Basis != study.UnknownBasis || l[2].Strokes != 10 {
		t.Errorf("basis: %+v", l)
	}
	if !math.IsNaN(l[1].Strokes) || l[1].StrokesRecorded != 0 {
		t.Errorf("0 strokes are not measured: used %v, recorded %v", l[1].Strokes, l[1].StrokesRecorded)
	}
	// A yard is 0.9144 m exactly (international agreement of 1959).
	if l[2].PoolM != 22.86 || l[0].PoolM != 25 || l[2].Swim == l[1].Swim {
		t.Errorf("pools %v and %v, swims %v", l[0].PoolM, l[2].PoolM, swimsOf(got[0]))
	}
}

func TestFlippedLengthIsCountedLikeItsSwim(t *testing.T) {
	r := activity("f", morning, repeat(6, 30)...)
	r.Lengths[3].Stroke = "breaststroke"
	got, entries := sessions(t, nil, r)
	if l := got[0].Lengths[3]; l.Strokes != 20 || l.Stroke != "breaststroke" || l.SwimStroke != "freestyle" || l.Swim != 1 {
		t.Errorf("flipped length: %+v", l)
	}
	if n := count(entries, "f", RuleStrokeFlip, read.Noted); n != 1 {
		t.Errorf("%d flips noted", n)
	}
}
