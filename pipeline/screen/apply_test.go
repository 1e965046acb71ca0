package screen

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

func screened(t *testing.T, n normalise.Session, settings study.Screen) (Session, []read.Entry) {
	t.Helper()
	s, entries := Apply(n, settings)
	if err := Reconcile(counts(n), []Session{s}, entries); err != nil {
		t.Error(err)
	}
	for i, l := range s.Kept {
		if l.Ordinal != i+1 {
			t.Errorf("kept length %d has ordinal %d", i+1, l.Ordinal)
		}
	}
	return s, entries
}

// The cases named "recorded" are seconds and strokes that real recordings held
// (measured by us on 18 recordings; none of them is kept here).
func TestTurns(t *testing.T) {
	repeats := func(n int, swim []swum) [][]swum {
		out := make([][]swum, n)
		for i := range out {
			out[i] = swim
		}
		return out
	}
	mixed := [][]swum{even(4, 30.4, 12), even(2, 15, 10), even(4, 24, 11), even(2, 15, 10)}
	for _, c := range []struct {
		name    string
		swims   [][]swum
		want    string // kept lengths, "same" when nothing changes
		entries string
	}{
		{"recorded: missed turn", [][]swum{join(even(3, 30.4, 12), []swum{{62.8, 21}}, even(3, 30.4, 12))},
			"30.2/12, 30.4/12, 30.6/12, 31.4/10.5 missed-turn, 31.4/10.5 missed-turn, 30.2/12, 30.4/12, 30.6/12",
			"length 4+1 missed-turn repaired"},
		{"recorded: false turn", [][]swum{join(even(3, 38.4, 16), []swum{{10.1, 3}, {26.8, 10}}, even(3, 38.4, 16))},
			"38.2/16, 38.4/16, 38.6/16, 36.9/13 false-turn, 38.2/16, 38.4/16, 38.6/16",
			"length 4+1 false-turn repaired; length 5+1 false-turn repaired"},
		{"recorded: early turn", [][]swum{join(even(3, 26, 11), []swum{{17.4, 6}, {34.4, 16}}, even(3, 26, 11))},
			"25.9/11, 26.0/11, 26.1/11, 25.9/11 early-turn, 25.9/11 early-turn, 25.9/11, 26.0/11, 26.1/11",
			"length 4+1 early-turn repaired; length 5+1 early-turn repaired"},
		{"recorded: stop inside a length", [][]swum{join(even(3, 30.8, 13), []swum{{53.3, 16}}, even(3, 30.8, 13))},
			"30.6/13, 30.8/13, 31.0/13, | 30.6/13, 30.8/13, 31.0/13", "length 4+1 stop-inside excluded"},
		{"missed turn, no counts anywhere", [][]swum{join(even(3, 30, nan), []swum{{60, nan}}, even(3, 30, nan))},
			"30.0/NaN missed-turn", ""},
		{"missed turn at the end of a swim", [][]swum{join(even(5, 30, 12), []swum{{61, 23}})},
			"29.9/12, 30.0/12, 30.1/12, 29.9/12, 30.0/12, 30.5/11.5 missed-turn, 30.5/11.5 missed-turn", "length 6+1 missed-turn repaired"},
		{"a swim of one missed turn among swims of two lengths", append(repeats(3, even(2, 30, 12)), []swum{{61, 23}}),
			"29.9/12, 30.0/12, 29.9/12, 30.0/12, 29.9/12, 30.0/12, 30.5/11.5 missed-turn, 30.5/11.5 missed-turn", "length 7+1 missed-turn repaired"},
		{"the same without counts", append(repeats(3, even(2, 30, nan)), []swum{{61, nan}}), "same", "noted"},
		{"three times the usual", [][]swum{join(even(6, 30, 12), []swum{{92, 36}})},
			"30.1/12, 30.7/12 missed-turn, 30.7/12 missed-turn, 30.7/12 missed-turn", "length 7+1 missed-turn repaired"},
		{"four times the usual is left", [][]swum{join(even(6, 30, 12), []swum{{122, 48}})}, "same", ""},
		{"two lengths beside make no usual", [][]swum{{{30, 12}, {62, 24}, {30, 12}}}, "same", ""},
		{"a usual of three others", [][]swum{{{30, 12}, {62, 24}, {30, 12}, {30.5, 12}}},
			"30.0/12, 31.0/12 missed-turn, 31.0/12 missed-turn, 30.0/12, 30.5/12", "length 2+1 missed-turn repaired"},
		{"two sprints are no false turn", [][]swum{join(even(4, 26, 12), []swum{{13, 9}, {13, 9}}, even(4, 26, 12))}, "same", ""},
		{"fast and easy in turn", [][]swum{{{14, 9}, {28, 11}, {14, 9}, {28, 11}, {14, 9}, {28, 11}, {14, 9}, {28, 11}}}, "same", ""},
		{"a mixed set of swims", mixed, "same", ""},
		{"a swim that slows by half", [][]swum{{{24, 11}, {26, 11}, {28, 12}, {30, 12}, {32, 13}, {34, 13}, {36, 14}}}, "same", ""},
		{"two false turns in one length", [][]swum{join(even(3, 30, 12), []swum{{9, 3}, {10, 4}, {11, 4}}, even(3, 30, 12))},
			"30.1/12, 30.0/11 false-turn, 29.9/12", "length 4+1 false-turn repaired; length 5+1 false-turn repaired; length 6+1 false-turn repaired"},
		{"a piece too short to hold a stroke", [][]swum{join(even(3, 30, 12), []swum{{27.5, 11}, {2, nan}}, even(3, 30, 12))},
			"30.1/12, 29.5/11 false-turn, 29.9/12", "length 4+1 false-turn repaired; length 5+1 false-turn repaired"},
		{"halves in swims of two lengths", append(repeats(3, even(2, 30, 12)), []swum{{15, 6}, {15, 6}, {30, 12}}, []swum{{30, 12}, {15, 6}, {15, 6}}),
			"30.0/12 false-turn, 30.0/12, 30.0/12, 30.0/12 false-turn", "repaired"},
		{"a late turn", [][]swum{join(even(3, 26, 11), []swum{{33, 14}, {19, 8}}, even(3, 26, 11))},
			"26.0/11 early-turn, 26.0/11 early-turn", "length 4+1 early-turn repaired; length 5+1 early-turn repaired"},
		{"an early turn by little is left", [][]swum{join(even(3, 26, 11), []swum{{24, 10}, {28, 12}}, even(3, 26, 11))}, "same", ""},
		{"fast then easy is no early turn", [][]swum{join(even(3, 26, 11), []swum{{20, 12}, {32, 10}}, even(3, 26, 11))}, "same", ""},
		{"fast then easy with strokes alike is no early turn", [][]swum{join(even(3, 26, 11), []swum{{20, 11}, {32, 11}}, even(3, 26, 11))}, "same", ""},
		{"an easy length is no stop", [][]swum{join(even(3, 26, 11), []swum{{31, 11}}, even(3, 26, 11))}, "same", ""},
		{"a stop among uncounted lengths", [][]swum{join(even(3, 26, nan), []swum{{40, nan}}, even(3, 26, nan))}, "| 25.9/NaN", ""},
		{"a set swum fast and easy holds no stops", repeats(4, []swum{{15, 9}, {21, 9}, {15, 10}, {22, 9}}), "same", ""},
		{"a stop in a swim of one length", [][]swum{{{26, 11}}, {{26, 11}}, {{40, 12}}, {{26, 11}}, {{26, 11}}}, "26.0/11, 26.0/11, 26.0/11, 26.0/11", "length 3+1 stop-inside excluded"},
		{"the closer pair is joined", [][]swum{join(even(4, 30, 12), []swum{{7, 3}, {18, 7}, {12, 5}}, even(4, 30, 12))},
			"29.9/12, 30.0/12, 30.1/12, 29.9/12, 7.0/3, 30.0/12 false-turn, 29.9/12, 30.0/12, 30.1/12, 29.9/12", "repaired"},
		{"a sliver goes to the neighbour that is short", [][]swum{join(even(3, 26, 12), []swum{{26.2, 12}, {2, 1}, {24, 11}}, even(3, 26, 12))},
			"26.1/12, 26.2/12, 26.0/12 false-turn, 25.9/12", "repaired"},
		{"or to the one before it", [][]swum{join(even(3, 26, 12), []swum{{24, 11}, {2, 1}, {26.2, 12}}, even(3, 26, 12))},
			"26.1/12, 26.0/12 false-turn, 26.2/12, 25.9/12", "repaired"},
		{"or where fast and easy take turns to the one that its place asks for", append(repeats(3, []swum{{22, 11}, {28, 11}, {22, 11}, {28, 11}}),
			[]swum{{22, 11}, {28, 11}, {22, 11}, {2, 1}, {26, 10}}),
			"22.0/11, 28.0/11, 22.0/11, 28.0/11 false-turn", "repaired"},
		{"a sliver in a swim without a usual", [][]swum{{{37, 18}}, {{3.2, 1}, {37, 16}}, {{50, 25}}}, "40.2/17 false-turn", "repaired"},
		{"fast lengths in a swim of two are no pieces", [][]swum{even(4, 23, 9), {{11.6, 5}}, even(4, 23, 9), {{11.5, 5}, {12.4, 5}}, even(4, 23, 9)}, "same", ""},
		{"drill and swim by turns are no early turns", repeats(3, []swum{{34, 15}, {26, 11}, {34, 15}, {26, 11}}), "same", ""},
		{"a fast last length is no early turn", repeats(4, []swum{{30, 12}, {30, 12}, {31, 13}, {24, 10}}), "same", ""},
		{"a stop where fast and easy take turns", append(repeats(3, []swum{{22, 11}, {30, 11}}), []swum{{36, 12}, {30, 11}}),
			"22.0/11, 30.0/11, | 30.0/11", "length 7+1 stop-inside excluded"},
		{"a swim that is easy throughout holds no stops", append(repeats(3, []swum{{12, 6}, {14, 6}}), []swum{{20, 6}, {22, 6}}, []swum{{12, 6}, {14, 6}}), "same", ""},
		{"parts on both sides of a rest", [][]swum{join(even(4, 38, 16), []swum{{12, 5}}), join([]swum{{26, 11}}, even(4, 38, 16))}, "same", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := session(c.swims...)
			s := settings()
			s.Off[RuleImpossibleSpeed], s.Off[RulePoolContradicts] = true, true // they have tests of their own
			got, entries := screened(t, n, s)
			switch {
			case c.want == "same":
				if len(got.Kept) != len(n.Lengths) {
					t.Errorf("kept %s", kept(got))
				}
				for i, l := range got.Kept {
					if l.Rule != "" || l.DurationS != n.Lengths[i].DurationS {
						t.Errorf("length %d was changed: %s", i, kept(got))
					}
				}
			case !strings.Contains(kept(got), c.want):
				t.Errorf("kept %s\nwant %s", kept(got), c.want)
			}
			if c.want != "same" && !strings.Contains(brief(entries), c.entries) || c.want == "same" && c.entries == "" && len(entries) > 0 {
				t.Errorf("entries %s\nwant %s", brief(entries), c.entries)
			}
		})
	}
}

func TestRepairsKeepWhatWasRecorded(t *testing.T) {
	n := session(join(even(3, 30, 12), []swum{{61, 23}}, even(3, 30, 12)), join(even(3, 38, 16), []swum{{11, 4}, {26, 11}}, even(3, 38, 16)))
	n.Lengths[3].End = read.Reading{HRBPM: 150, Source: "strap"}
	n.Lengths[11].End = read.Reading{HRBPM: 151, Source: "strap"}
	got, _ := screened(t, n, settings())
	first, second, joined := got.Kept[3], got.Kept[4], got.Kept[11]
	if first.DurationRecordedS != 61 || first.StrokesRecorded != 23 || second.StartS != first.StartS+30.5 ||
		!math.IsNaN(first.End.HRBPM) || second.End.HRBPM != 150 {
		t.Errorf("split into %+v and %+v", first, second)
	}
	if joined.Record != 11 || joined.DurationRecordedS != 11 || joined.DurationS != 37 || joined.Strokes != 30 || joined.End.HRBPM != 151 {
		t.Errorf("joined into %+v", joined)
	}
	var links []string
	for _, l := range got.Lineage {
		if l.Relation != Same {
			links = append(links, fmt.Sprintf("%s %d>%d %s", l.Kind, l.Record, l.Ordinal, l.Relation))
		}
	}
	want := []string{"length 4>4 split", "length 4>5 split", "length 11>12 join", "length 12>12 join", "rest 1>9 rest-before"}
	if !slices.Equal(links, want) {
		t.Errorf("links %q\nwant %q", links, want)
	}
}

func TestRepeatsAreNeverRepaired(t *testing.T) {
	n := session(join(even(3, 30, 12), []swum{{61, 23}}, even(3, 30, 12)))
	for i := range n.Lengths {
		n.Lengths[i].Kind = read.KindRepeat
	}
	got, entries := screened(t, n, settings())
	if len(got.Kept) != 7 || len(entries) != 0 || got.Lineage[0].Relation != Share {
		t.Errorf("kept %s; %s", kept(got), brief(entries))
	}
}

func TestFlippedStrokeIsJudgedAmongItsSwim(t *testing.T) {
	n := session(join(even(3, 30, 12), []swum{{61, 23}}, even(3, 30, 12)))
	n.Lengths[3].Stroke = "mixed"
	if got, _ := screened(t, n, settings()); len(got.Kept) != 8 {
		t.Errorf("kept %s", kept(got))
	}
	n.Lengths[3].SwimStroke = "backstroke" // a backstroke swim of its own has no usual here
	n.Lengths[3].Swim = 9
	if got, _ := screened(t, n, settings()); len(got.Kept) != 7 {
		t.Errorf("kept %s", kept(got))
	}
}

func TestLapIsTheUsualOfShortSwims(t *testing.T) {
	n := session(even(1, 30, nan), even(1, 30, nan), []swum{{61, nan}}, even(1, 30, nan))
	for i := range n.Lengths {
		n.Lengths[i].Lap = 0
	}
	if got, _ := screened(t, n, settings()); len(got.Kept) != 5 {
		t.Errorf("kept %s", kept(got))
	}
}

func TestExclusions(t *testing.T) {
	plain := func() normalise.Session { return session(even(6, 30, 12)) }
	for _, c := range []struct {
		name    string
		change  func(l *normalise.Length)
		rule    string
		off     string
		outside bool // whether length 3 is excluded
	}{
		{"drill", func(l *normalise.Length) { l.Drill = true }, RuleDrill, "", true},
		{"drill, rule off", func(l *normalise.Length) { l.Drill = true }, RuleDrill, RuleDrill, false},
		{"kickboard", func(l *normalise.Length) { l.Tags.Equipment = "Fins; kick  board" }, RuleKick, "", true},
		{"other equipment", func(l *normalise.Length) { l.Tags.Equipment = "paddles" }, RuleKick, "", false},
		{"no pool", func(l *normalise.Length) { l.PoolM = nan }, normalise.RuleNoPool, "", true},
		{"no duration", func(l *normalise.Length) { l.DurationS = nan }, RuleNoDuration, "", true},
		{"no duration cannot be allowed", func(l *normalise.Length) { l.DurationS = nan }, RuleNoDuration, RuleNoDuration, true},
		{"zero seconds", func(l *normalise.Length) { l.DurationS = 0 }, RuleImpossibleSpeed, "", true},
		{"too fast", func(l *normalise.Length) { l.DurationS = 9 }, RuleImpossibleSpeed, "", true},
		{"too fast, rule off", func(l *normalise.Length) { l.DurationS = 9.5; l.Strokes = 10 }, RuleImpossibleSpeed, RuleImpossibleSpeed, false},
		{"just possible", func(l *normalise.Length) { l.DurationS = 25 / 2.6; l.Strokes = 20 }, RuleImpossibleSpeed, "", false},
		{"too slow", func(l *normalise.Length) { l.DurationS = 110 }, RuleImpossibleSpeed, "", true},
		{"rate too high", func(l *normalise.Length) { l.Strokes = 66 }, RuleImpossibleRate, "", true},
		{"rate too low", func(l *normalise.Length) { l.Strokes = 4 }, RuleImpossibleRate, "", true},
		{"rate too low, set beforehand", func(l *normalise.Length) { l.Strokes = 4; l.Tags.Instruction = "fewest-strokes" }, RuleImpossibleRate, "", false},
		{"rate too high, set beforehand", func(l *normalise.Length) { l.Strokes = 66; l.Tags.RateTargetSPM = 66 }, RuleImpossibleRate, "", true},
		{"rate low for arms, basis unknown", func(l *normalise.Length) { l.Strokes = 4; l.Basis = study.UnknownBasis }, RuleImpossibleRate, "", false},
		{"rate low for cycles too", func(l *normalise.Length) { l.Strokes = 2; l.Basis = study.UnknownBasis }, RuleImpossibleRate, "", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			n, s := plain(), settings()
			c.change(&n.Lengths[2])
			// What these find beside its like has tests of its own.
			s.Off = map[string]bool{RuleStopInside: true, RuleCountImplausible: true}
			if c.off != "" {
				s.Off[c.off] = true
			}
			got, entries := screened(t, n, s)
			if !c.outside {
				if len(got.Kept) != 6 || len(entries) != 0 {
					t.Errorf("kept %s; %s", kept(got), brief(entries))
				}
				return
			}
			if want := fmt.Sprintf("length 3+1 %s excluded", c.rule); brief(entries) != want {
				t.Errorf("entries %s, want %s", brief(entries), want)
			}
			for i, l := range got.Kept {
				if l.AfterGap != (i == 2) {
					t.Errorf("gap before kept length %d: %v", i+1, l.AfterGap)
				}
			}
			if entries[0].Session != n.ID || entries[0].Swimmer != "ada" {
				t.Errorf("entry %+v", entries[0])
			}
		})
	}
}

func TestAGapEndsWithItsSwim(t *testing.T) {
	n := session(even(3, 30, 12), even(3, 30, 12))
	n.Lengths[2].Drill = true
	got, _ := screened(t, n, settings())
	for _, l := range got.Kept {
		if l.AfterGap {
			t.Errorf("length %d of swim %d follows no gap", l.Ordinal, l.Swim)
		}
	}
}

func TestFalseTurnIsJoinedBeforeItsSpeedIsJudged(t *testing.T) {
	// 9.5 s for 25 m would be 2.6 m/s.
	n := session(join(even(4, 34, 14), []swum{{9.5, 3}, {24, 10}}, even(4, 34, 14)))
	got, entries := screened(t, n, settings())
	if len(got.Kept) != 9 || strings.Contains(brief(entries), RuleImpossibleSpeed) {
		t.Errorf("kept %s; %s", kept(got), brief(entries))
	}
	s := settings()
	s.Off = map[string]bool{RuleFalseTurn: true}
	got, entries = screened(t, n, s)
	if len(got.Kept) != 9 || brief(entries) != "length 5+1 impossible-speed excluded" {
		t.Errorf("kept %s; %s", kept(got), brief(entries))
	}
}

func TestRepairedThenExcludedIsExcludedOnce(t *testing.T) {
	s := settings()
	s.FastestMPS = 0.8
	got, entries := screened(t, session(join(even(3, 30, 12), []swum{{61, 23}}, even(3, 30, 12))), s)
	if len(got.Kept) != 0 || len(entries) != 7 || strings.Contains(brief(entries), "repaired") {
		t.Errorf("kept %s; %s", kept(got), brief(entries))
	}
}

func TestMissingCountsAreNoted(t *testing.T) {
	n := session(even(3, 30, nan))
	got, entries := screened(t, n, settings())
	if len(got.Kept) != 3 || brief(entries) != "length 1+1 strokes-missing noted; length 2+1 strokes-missing noted; length 3+1 strokes-missing noted" {
		t.Errorf("kept %s; %s", kept(got), brief(entries))
	}
}

func TestRestsFollowTheLengthsThatAreKept(t *testing.T) {
	n := session(even(2, 30, 12), even(2, 30, 12), even(2, 30, 12))
	n.Lengths[2].Drill, n.Lengths[3].Drill = true, true
	n.Rests = append(n.Rests, normalise.Rest{FileID: "f", Record: 3, StartS: 300, DurationS: 9, Before: 6})
	got, _ := screened(t, n, settings())
	var rests []string
	for _, l := range got.Lineage {
		if l.Kind == read.KindRest {
			rests = append(rests, fmt.Sprintf("%d %d %s", l.Record, l.Ordinal, l.Relation))
		}
	}
	if want := []string{"1 3 rest-before", "2 3 rest-before", "3 4 rest-after"}; !slices.Equal(rests, want) {
		t.Errorf("rests %q, want %q", rests, want)
	}
	for i := range n.Lengths {
		n.Lengths[i].Drill = true
	}
	got, entries := screened(t, n, settings())
	if len(got.Lineage) != 0 || !strings.HasSuffix(brief(entries), "rest 1+1 no-lengths excluded; rest 2+1 no-lengths excluded; rest 3+1 no-lengths excluded") {
		t.Errorf("lineage %v; %s", got.Lineage, brief(entries))
	}
}

func TestHeartRateSamples(t *testing.T) {
	n := session(even(2, 30, 12))
	for i, bpm := range []float64{71, 120, 0, 255, nan, 29, 30, 230, 231, 150, 151} {
		n.Samples = append(n.Samples, normalise.Sample{FileID: "f", Record: int64(i + 1), TimeS: float64(i), BPM: bpm, First: i == 0})
	}
	for _, c := range []struct {
		off     string
		kept    int
		entries string
	}{
		{"", 5, "heart-rate 1+1 start-value excluded; heart-rate 3+3 dropout excluded; heart-rate 6+1 dropout excluded; heart-rate 9+1 dropout excluded"},
		{RuleStartValue, 6, "heart-rate 3+3 dropout excluded; heart-rate 6+1 dropout excluded; heart-rate 9+1 dropout excluded"},
		{RuleDropout, 7, "heart-rate 1+1 start-value excluded; heart-rate 3+3 dropout excluded"},
	} {
		s := settings()
		s.Off = map[string]bool{c.off: true, RuleStep: true} // steps have tests of their own
		got, entries := screened(t, n, s)
		if len(got.KeptSamples) != c.kept || brief(entries) != c.entries {
			t.Errorf("off %q: %d kept; %s", c.off, len(got.KeptSamples), brief(entries))
		}
	}
}

func TestReadingThatIsNoHeartRate(t *testing.T) {
	n := session(even(2, 30, 12))
	n.Lengths[1].End = read.Reading{HRBPM: 290, Source: "palpated"}
	got, entries := screened(t, n, settings())
	if !math.IsNaN(got.Kept[1].End.HRBPM) || got.Kept[1].Rule != "" || brief(entries) != "length 2+1 dropout repaired" {
		t.Errorf("%+v; %s", got.Kept[1].End, brief(entries))
	}
	if n.Lengths[1].End.HRBPM != 290 || got.Lengths[1].End.HRBPM != 290 {
		t.Error("the recorded reading was changed")
	}
}

func TestRulesAreListed(t *testing.T) {
	s := settings()
	s.Off = map[string]bool{RuleDrill: true, normalise.RuleNoConsent: true}
	seen := map[string]Rule{}
	for _, r := range Rules(s) {
		if _, twice := seen[r.ID]; twice || r.About == "" || r.Action == "" || len(r.Kinds) == 0 {
			t.Errorf("rule %+v", r)
		}
		seen[r.ID] = r
	}
	if seen[RuleDrill].On || !seen[normalise.RuleNoConsent].On || !seen[RuleMissedTurn].On {
		t.Error("what is on: a rule is off when it is named, unless it is fixed")
	}
	if v := seen[RuleMissedTurn].Thresholds[0].Value; v != s.MissedTurnLow {
		t.Errorf("threshold %v", v)
	}
	for _, id := range Switchable() {
		if seen[id].Fixed {
			t.Errorf("%s is fixed", id)
		}
	}
	if !slices.Contains(Switchable(), RuleMissedTurn) || slices.Contains(Switchable(), normalise.RuleNoSwimmer) {
		t.Errorf("switchable %v", Switchable())
	}
}
