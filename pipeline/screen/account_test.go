package screen

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

func TestReconcileFindsEveryFault(t *testing.T) {
	good := func() (map[string]read.Counts, Session, []read.Entry) {
		n := session(join(even(3, 30, 12), []swum{{61, 23}}, even(3, 30, 12)), even(3, 30, 12))
		n.Lengths[0].Drill = true
		for i := range 20 {
			bpm := 140.0
			if i >= 5 && i < 8 {
				bpm = 0
			}
			n.Samples = append(n.Samples, normalise.Sample{FileID: "f", Record: int64(i + 1), TimeS: float64(i), BPM: bpm})
		}
		s, entries := Apply(n, settings())
		return counts(n), s, entries
	}
	for _, c := range []struct {
		name  string
		spoil func(c map[string]read.Counts, s *Session, e *[]read.Entry)
		want  string // "" for none
	}{
		{"nothing", func(map[string]read.Counts, *Session, *[]read.Entry) {}, ""},
		{"a lost link", func(_ map[string]read.Counts, s *Session, _ *[]read.Entry) { s.Lineage = s.Lineage[1:] },
			"file f: length records neither used nor excluded: 2"},
		{"a lost entry", func(_ map[string]read.Counts, _ *Session, e *[]read.Entry) { *e = nil },
			"file f: heart-rate records neither used nor excluded: 6, 7, 8"},
		{"used and excluded", func(_ map[string]read.Counts, _ *Session, e *[]read.Entry) {
			*e = append(*e, read.Entry{FileID: "f", Kind: read.KindHeartRate, Record: 1, Records: 20, Action: read.Excluded})
		}, "file f: heart-rate records both used and excluded: 1, 2, 3, 4, 5 ... (17 in all)"},
		{"excluded by two rules", func(_ map[string]read.Counts, _ *Session, e *[]read.Entry) {
			*e = append(*e, read.Entry{FileID: "f", Kind: read.KindHeartRate, Record: 6, Records: 2, Action: read.Excluded})
		}, ""},
		{"never read", func(c map[string]read.Counts, _ *Session, _ *[]read.Entry) {
			x := c["f"]
			x.Lengths--
			c["f"] = x
		}, "file f: length records used or excluded, but never read: 10"},
		{"read, then lost", func(c map[string]read.Counts, _ *Session, _ *[]read.Entry) {
			x := c["f"]
			x.Repeats = 2
			c["f"] = x
		}, "file f: repeat records neither used nor excluded: 11, 12"},
		{"a length used twice", func(_ map[string]read.Counts, s *Session, _ *[]read.Entry) {
			s.Lineage = append(s.Lineage, s.Lineage[0])
		}, "file f: length records used a wrong number of times: 2"},
		{"a length used in two ways", func(_ map[string]read.Counts, s *Session, _ *[]read.Entry) {
			l := s.Lineage[0]
			l.Relation = Join
			s.Lineage = append(s.Lineage, l)
		}, "file f: length records used more than once: 2"},
		{"one repeat shared by many lengths, out of order too", func(c map[string]read.Counts, s *Session, _ *[]read.Entry) {
			c["f"] = withRepeats(c["f"], 2)
			for _, record := range []int64{11, 11, 12, 12, 11} {
				s.Lineage = append(s.Lineage, Link{FileID: "f", Kind: read.KindRepeat, Record: record, Relation: Share})
			}
		}, ""},
		{"a repeat that is shared and whole", func(c map[string]read.Counts, s *Session, _ *[]read.Entry) {
			c["f"] = withRepeats(c["f"], 1)
			for _, relation := range []Relation{Share, Share, Same} {
				s.Lineage = append(s.Lineage, Link{FileID: "f", Kind: read.KindRepeat, Record: 11, Relation: relation})
			}
		}, "file f: repeat records used more than once: 11"},
		{"half a split", func(_ map[string]read.Counts, s *Session, _ *[]read.Entry) {
			s.Lineage = slices.DeleteFunc(s.Lineage, func(l Link) bool { return l.Relation == Split && l.Ordinal == 4 })
		}, "file f: length records used a wrong number of times: 4"},
		{"a sample used twice", func(_ map[string]read.Counts, s *Session, _ *[]read.Entry) {
			s.KeptSamples = append(s.KeptSamples, s.KeptSamples[3])
		}, "file f: heart-rate records used more than once: 4"},
		{"a file nobody read", func(c map[string]read.Counts, _ *Session, _ *[]read.Entry) { delete(c, "f") },
			"file f: records are accounted for, but the file was never read"},
		{"entries of files and notes are not counted", func(_ map[string]read.Counts, _ *Session, e *[]read.Entry) {
			*e = append(*e, read.Entry{FileID: "n", Kind: read.KindNote, Record: 1, Records: 1, Action: read.Excluded},
				read.Entry{FileID: "x", Kind: read.KindFile, Action: read.Excluded})
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			read, s, entries := good()
			c.spoil(read, &s, &entries)
			err := Reconcile(read, []Session{s}, entries)
			if c.want == "" {
				if err != nil {
					t.Error(err)
				}
				return
			}
			var imbalance *Imbalance
			if err == nil || !strings.Contains(err.Error(), c.want) || !errors.Is(err, ErrUnbalanced) ||
				!errors.As(err, &imbalance) && !strings.Contains(c.want, "never read") {
				t.Errorf("error %v\nwant %s", err, c.want)
			}
		})
	}
}

func TestMergedAccountsCountLikeOne(t *testing.T) {
	n := session(join(even(3, 30, 12), []swum{{61, 23}}, even(3, 30, 12)), even(3, 30, 12))
	n.Lengths[0].Drill = true
	for i, bpm := range []float64{0, 120, 130, 255} {
		n.Samples = append(n.Samples, normalise.Sample{FileID: "f", Record: int64(i + 1), TimeS: float64(i), BPM: bpm})
	}
	s, entries := Apply(n, settings())
	var files, sessions Account
	for id, c := range counts(n) {
		files.Read(id, c)
	}
	sessions.Used(&s)
	sessions.Entries(entries)
	files.Merge(&sessions)
	if err := files.Check(); err != nil {
		t.Fatal(err)
	}
	want := []Total{{read.KindLength, 10, 9, 1}, {read.KindRest, 1, 1, 0}, {read.KindRepeat, 0, 0, 0}, {read.KindHeartRate, 4, 2, 2}}
	if got := files.Totals(); !slices.Equal(got, want) {
		t.Errorf("totals %v, want %v", got, want)
	}
	files.Merge(&sessions)
	if files.Check() == nil {
		t.Error("a session that was entered twice goes unseen")
	}
}

func TestCheckShowsTheFirstFaults(t *testing.T) {
	var a Account
	for i := range 50 {
		a.Read(fmt.Sprintf("f%02d", i), read.Counts{Lengths: 1})
	}
	err := a.Check()
	if err == nil || strings.Count(err.Error(), "neither") != 20 || !strings.Contains(err.Error(), "30 more faults") {
		t.Errorf("error %v", err)
	}
}

// TestSpans checks the arithmetic of spans against sets of single records.
func TestSpans(t *testing.T) {
	draw := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) span {
		from := rapid.Int64Range(0, 30).Draw(t, "from")
		return span{from, from + rapid.Int64Range(1, 6).Draw(t, "records")}
	}), 0, 8)
	times := func(spans []span) map[int64]int {
		n := map[int64]int{}
		for _, s := range spans {
			for r := s.from; r < s.to; r++ {
				n[r]++
			}
		}
		return n
	}
	rapid.Check(t, func(t *rapid.T) {
		rawA, rawB := draw.Draw(t, "a"), draw.Draw(t, "b")
		a, twice := merge(rawA)
		b, _ := merge(rawB)
		inA, inB := times(rawA), times(rawB)
		gotA, gotTwice, gotMinus, gotCommon := times(a), times(twice), times(minus(a, b)), times(common(a, b))
		one := func(yes bool) int {
			if yes {
				return 1
			}
			return 0
		}
		for r := range int64(40) {
			if gotA[r] != one(inA[r] > 0) || gotTwice[r] != one(inA[r] > 1) ||
				gotMinus[r] != one(inA[r] > 0 && inB[r] == 0) || gotCommon[r] != one(inA[r] > 0 && inB[r] > 0) {
				t.Fatalf("record %d: union %d, twice %d, minus %d, common %d", r, gotA[r], gotTwice[r], gotMinus[r], gotCommon[r])
			}
		}
	})
}

func drawSession(t *rapid.T) normalise.Session {
	tenth := func(low, high int) float64 { return float64(rapid.IntRange(10*low, 10*high).Draw(t, "x")) / 10 }
	n := session()
	at, swim := 0.0, 1
	rows := rapid.IntRange(0, 25).Draw(t, "rows")
	repeats := int64(0)
	for i := range rows {
		l := session([]swum{{30, 12}}).Lengths[0]
		l.Record, l.StartS = int64(i+1), at
		switch rapid.IntRange(0, 9).Draw(t, "seconds") {
		case 0:
			l.DurationS = nan
		case 1:
			l.DurationS = tenth(0, 80)
		case 2:
			l.DurationS = tenth(55, 65)
		case 3, 4:
			l.DurationS = tenth(5, 20)
		default:
			l.DurationS = tenth(28, 32)
		}
		l.DurationRecordedS = l.DurationS
		l.Strokes = float64(rapid.IntRange(0, 60).Draw(t, "strokes"))
		if l.Strokes == 0 {
			l.Strokes = nan
		}
		l.Drill = rapid.IntRange(0, 9).Draw(t, "drill") == 0
		l.Lap = rapid.IntRange(-1, 1).Draw(t, "lap")
		if rapid.IntRange(0, 9).Draw(t, "new swim") == 0 {
			swim++
			if rapid.Bool().Draw(t, "rest") {
				n.Rests = append(n.Rests, normalise.Rest{FileID: "f", Record: int64(len(n.Rests) + 1), StartS: at, DurationS: 10, Before: len(n.Lengths)})
			}
		}
		l.Swim = swim
		if rapid.IntRange(0, 9).Draw(t, "repeat") == 0 {
			repeats++
			l.Kind, l.Covers = read.KindRepeat, rapid.IntRange(1, 4).Draw(t, "covers")
			for share := 1; share <= l.Covers; share++ {
				l.Share = share
				n.Lengths = append(n.Lengths, l)
			}
			continue
		}
		n.Lengths = append(n.Lengths, l)
		at += 30
	}
	for i := range rapid.IntRange(0, 20).Draw(t, "samples") {
		n.Samples = append(n.Samples, normalise.Sample{FileID: "f", Record: int64(i + 1), TimeS: float64(i), BPM: tenth(0, 255), First: i == 0})
	}
	return n
}

func TestApplyProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, set := drawSession(t), settings()
		for _, id := range Switchable() {
			if rapid.IntRange(0, 5).Draw(t, id) == 0 {
				set.Off[id] = true
			}
		}
		before := fmt.Sprintf("%+v", n)
		s, entries := Apply(n, set)
		if before != fmt.Sprintf("%+v", n) {
			t.Fatal("the session was changed")
		}
		if err := Reconcile(counts(n), []Session{s}, entries); err != nil {
			t.Fatal(err)
		}
		var recorded, used float64
		out := map[string]bool{}
		for _, e := range entries {
			if e.Action == read.Excluded && e.Kind != read.KindHeartRate && e.Kind != read.KindRest {
				out[fmt.Sprint(e.Kind, e.Record)] = true
			}
		}
		for _, l := range n.Lengths {
			if !out[fmt.Sprint(l.Kind, l.Record)] {
				recorded += l.DurationS
			}
		}
		for _, l := range s.Kept {
			used += l.DurationS
		}
		if d := recorded - used; d > 1e-6 || d < -1e-6 {
			t.Fatalf("repairs changed the seconds swum from %v to %v", recorded, used)
		}
		listed := map[string]bool{}
		for _, r := range Rules(set) {
			listed[r.ID] = true
		}
		for _, e := range entries {
			if !listed[e.Rule] || e.Detail == "" || e.Records < 1 {
				t.Fatalf("entry %+v", e)
			}
		}

		// Screening what was kept, without repairs, excludes nothing more.
		again := n
		again.Lengths, again.Rests, again.Samples = nil, nil, s.KeptSamples
		for _, l := range s.Kept {
			again.Lengths = append(again.Lengths, l.Length)
		}
		// What compares with other lengths or samples is off: those have changed.
		for _, rule := range []string{RuleFalseTurn, RuleMissedTurn, RuleEarlyTurn, RuleStopInside, RuleCountImplausible,
			RulePoolContradicts, RuleKick, RuleLocked, RuleStep} {
			set.Off[rule] = true
		}
		second, _ := Apply(again, set)
		if len(second.Kept) != len(s.Kept) || len(second.KeptSamples) != len(s.KeptSamples) {
			t.Fatalf("a second screening keeps %d of %d lengths, %d of %d samples",
				len(second.Kept), len(s.Kept), len(second.KeptSamples), len(s.KeptSamples))
		}
	})
}

// TestFromRecordingsToAccount runs both stages on recordings with a bit of
// everything and balances the account of their files.
func TestFromRecordingsToAccount(t *testing.T) {
	start := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	recording := func(file string, start time.Time, seconds ...float64) read.Recording {
		r := read.Recording{FileID: file, Part: 1, Kind: read.FromActivity, Swimmer: "ada", Start: start, LocalDate: "2026-03-02",
			Zone: time.UTC, PoolM: 25, Basis: study.Cycles, Content: file}
		at := 0.0
		for i, x := range seconds {
			r.Lengths = append(r.Lengths, read.Length{Record: int64(i + 1), Kind: read.KindLength, Lap: -1, Covers: 1, StartS: at,
				DurationS: x, PoolM: nan, Stroke: "freestyle", Strokes: x * 0.4, RestS: nan, WallTimeS: nan, End: noReading(), Tags: noTags()})
			r.Samples = append(r.Samples, read.Sample{Record: int64(i + 1), TimeS: at, BPM: 100 + 20*float64(i), First: i == 0})
			at += x
		}
		r.Rests = []read.Rest{{Record: 1, StartS: at, DurationS: 20}}
		return r
	}
	recordings := []read.Recording{
		recording("a", start, 30, 30, 60.5, 30, 30, 9, 21, 30, 30),
		recording("b", start.Add(time.Hour), 31, 31, 3),
		recording("c", start, 30, 30, 60.5, 30, 30, 9, 21, 30, 30),
		recording("d", start.Add(2*time.Hour), 30),
	}
	recordings[3].Refused = normalise.RuleNoConsent
	set := study.Default()
	sessions, entries, err := normalise.Sessions(recordings, nil, set)
	if err != nil {
		t.Fatal(err)
	}
	held := map[string]read.Counts{}
	for _, r := range recordings {
		held[r.FileID] = read.Counts{Lengths: int64(len(r.Lengths)), Rests: 1, HeartRate: int64(len(r.Samples))}
	}
	var screened []Session
	for _, n := range sessions {
		s, more := Apply(n, set.Screen)
		screened, entries = append(screened, s), append(entries, more...)
	}
	if err := Reconcile(held, screened, entries); err != nil {
		t.Fatal(err)
	}
	if len(screened) != 2 || kept(screened[0]) != "30.0/12, 30.0/12, 30.2/12.1 missed-turn, 30.2/12.1 missed-turn, 30.0/12, 30.0/12, 30.0/12 false-turn, 30.0/12, 30.0/12" {
		t.Errorf("%d sessions, the first keeps %s", len(screened), kept(screened[0]))
	}
	if err := Reconcile(held, screened[:1], entries); err == nil {
		t.Error("a lost session goes unseen")
	}
}

func BenchmarkApply(b *testing.B) {
	for _, c := range []struct {
		name  string
		swims int
	}{{"1000 swims of 100", 1000}, {"one swim of 100000", 1}} {
		b.Run(c.name, func(b *testing.B) {
			each := join(even(40, 30, 12), []swum{{61, 23}}, even(40, 30, 12), []swum{{10, 4}, {20, 8}}, even(17, 30, 12))
			swims := make([][]swum, c.swims)
			for i := range swims {
				for range 1000 / c.swims {
					swims[i] = append(swims[i], each...)
				}
			}
			n, set := session(swims...), settings()
			b.ResetTimer()
			for b.Loop() {
				if s, _ := Apply(n, set); len(s.Kept) != 100000 {
					b.Fatal(len(s.Kept))
				}
			}
		})
	}
}

func BenchmarkReconcile(b *testing.B) {
	n := session(even(1000, 30, 12))
	for i := range 5_000_000 {
		bpm := 140.0
		if i%1000 == 0 {
			bpm = 0
		}
		n.Samples = append(n.Samples, normalise.Sample{FileID: "f", Record: int64(i + 1), TimeS: float64(i), BPM: bpm})
	}
	s, entries := Apply(n, settings())
	held := counts(n)
	b.ResetTimer()
	for b.Loop() {
		if err := Reconcile(held, []Session{s}, entries); err != nil {
			b.Fatal(err)
		}
	}
}

func withRepeats(c read.Counts, n int64) read.Counts {
	c.Repeats = n
	return c
}
