package screen

import (
	"math"
	"strings"
	"testing"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

func TestCounts(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*normalise.Session)
		want   string
	}{
		{"as usual", func(*normalise.Session) {}, ""},
		{"far too few", func(n *normalise.Session) { n.Lengths[4].Strokes = 12 }, "length 5+1 count-implausible-for-pace excluded"},
		{"rather few, by a recorder that miscounts", func(n *normalise.Session) {
			for i := range n.Lengths {
				n.Lengths[i].Strokes += float64(4*(i%2) - 2)
			}
			n.Lengths[4].Strokes = 19
		}, ""},
		{"rather few, by one that does not", func(n *normalise.Session) { n.Lengths[4].Strokes = 18 }, "length 5+1 count-implausible-for-pace excluded"},
		{"far too many", func(n *normalise.Session) { n.Lengths[4].Strokes = 36 }, "length 5+1 count-implausible-for-pace excluded"},
		{"one count off", func(n *normalise.Session) { n.Lengths[4].Strokes = 22 }, ""},
		{"two counts off", func(n *normalise.Session) { n.Lengths[4].Strokes = 20 }, ""},
		{"asked for", func(n *normalise.Session) {
			n.Lengths[4].Strokes = 12
			n.Lengths[4].Tags.Instruction = "fewest-strokes"
		}, ""},
		{"rate set", func(n *normalise.Session) { n.Lengths[4].Strokes = 36; n.Lengths[4].Tags.RateTargetSPM = 70 }, ""},
		{"not counted", func(n *normalise.Session) { n.Lengths[4].Strokes = nan }, "length 5+1 strokes-missing noted"},
		{"a set with few strokes", func(n *normalise.Session) {
			for i := 10; i < 20; i++ {
				n.Lengths[i].Strokes = 18
			}
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := session(even(10, 30, 12), even(5, 30, 12), even(5, 30, 12))
			c.change(&n)
			if _, entries := screened(t, n, settings()); brief(entries) != c.want {
				t.Errorf("entries %s, want %s", brief(entries), c.want)
			}
			s := settings()
			s.Off[RuleCountImplausible] = true
			if _, entries := screened(t, n, s); strings.Contains(brief(entries), RuleCountImplausible) {
				t.Error("the rule is off")
			}
		})
	}
}

func TestKickedSwims(t *testing.T) {
	for _, c := range []struct {
		name   string
		kicked []swum
		change func(*normalise.Length)
		out    bool
	}{
		{"hardly any strokes", []swum{{38, 2}, {39, 0}, {38, 4}, {40, 1}}, nil, true},
		{"some length with strokes", []swum{{38, 2}, {39, 1}, {38, 12}, {40, 1}}, nil, false},
		{"nothing counted at all", []swum{{38, nan}, {39, nan}, {38, nan}, {40, nan}}, nil, false},
		{"slow swimming", []swum{{38, 9}, {39, 9}, {38, 9}, {40, 9}}, nil, false},
		{"asked for", []swum{{38, 4}, {39, 4}, {38, 4}, {40, 4}}, func(l *normalise.Length) { l.Tags.Instruction = "fewest-strokes" }, false},
		{"counted by an unknown basis", []swum{{38, 6}, {39, 6}, {38, 6}, {40, 6}}, func(l *normalise.Length) { l.Basis = study.UnknownBasis }, false},
		{"part of a lap with others", []swum{{38, 4}, {39, 4}, {38, 4}, {40, 4}}, func(l *normalise.Length) { l.Lap = 0 }, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := session(even(8, 30, 12), c.kicked, even(8, 30, 12))
			for i := range n.Lengths {
				if n.Lengths[i].Strokes == 0 {
					n.Lengths[i].Strokes = nan // as normalise writes it
				}
				if c.change != nil && n.Lengths[i].Swim == 2 {
					c.change(&n.Lengths[i])
				}
				if c.change != nil && n.Lengths[i].Swim == 3 && n.Lengths[8].Lap == 0 {
					n.Lengths[i].Lap = 0
				}
			}
			s := settings()
			s.Off = map[string]bool{RuleImpossibleRate: true, RuleCountImplausible: true, RuleStopInside: true}
			got, entries := screened(t, n, s)
			if out := strings.Contains(brief(entries), RuleKick); out != c.out || c.out && len(got.Kept) != 16 {
				t.Errorf("%d kept; %s", len(got.Kept), brief(entries))
			}
		})
	}
}

// Speeds and counts are those of one swimmer: 30 s and 24 arm strokes a length
// of 25 m, 0.83 m/s and a stroke index of 1.74.
func TestPoolThatContradictsThePace(t *testing.T) {
	for _, c := range []struct {
		name            string
		pool, s, cycles float64
		want            string // action of the first entry, "" for none
	}{
		{"the right pool", 25, 30, 12, ""},
		{"25 m set in a 50 m pool: as a learner swims", 25, 62, 30, "noted"},
		{"nobody swims so", 25, 90, 45, "excluded"},
		{"50 m set in a 25 m pool", 50, 26, 8, "excluded"},
		{"rare but possible: low", 25, 44, 17, "noted"},
		{"rare but possible: high", 50, 30, 14, "noted"},
		{"25 yards set in 25 m is not seen", 22.86, 30, 12, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := session(even(10, c.s, c.cycles), even(6, c.s, c.cycles))
			n.PoolM = c.pool
			for i := range n.Lengths {
				n.Lengths[i].PoolM = c.pool
			}
			got, entries := screened(t, n, settings())
			switch {
			case c.want == "":
				if len(entries) != 0 {
					t.Errorf("entries %s", brief(entries))
				}
				return
			case len(entries) == 0 || entries[0].Rule != RulePoolContradicts || string(entries[0].Action) != c.want:
				t.Fatalf("entries %s", brief(entries))
			}
			if c.want == "noted" && (len(got.Kept) != 16 || len(entries) != 1) || c.want == "excluded" && len(got.Kept) != 0 {
				t.Errorf("%d kept; %s", len(got.Kept), brief(entries))
			}
			for _, l := range got.Kept {
				if l.PoolM != c.pool {
					t.Errorf("pool rescaled to %v", l.PoolM)
				}
			}
			s := settings()
			s.Off[RulePoolContradicts] = true
			if _, entries := screened(t, n, s); strings.Contains(brief(entries), RulePoolContradicts) {
				t.Error("the rule is off")
			}
		})
	}
	n := session(even(7, 62, 30))
	if _, entries := screened(t, n, settings()); strings.Contains(brief(entries), RulePoolContradicts) {
		t.Error("seven lengths say nothing of a pool")
	}
}

// What one session cannot say the swimmer's others can: whose pool is wrong, or
// that two kinds of sessions contradict each other.
func TestPoolAgainstTheSwimmersOtherSessions(t *testing.T) {
	for _, c := range []struct {
		name  string
		pools []float64 // as set on the recorder, of sessions that are alike
		want  string    // of each session: kept, left out, noted
	}{
		{"all alike", []float64{25, 25, 25, 25}, "kept kept kept kept"},
		{"one of four set to 50 m", []float64{25, 50, 25, 25}, "kept out kept kept"},
		{"one of three", []float64{25, 25, 50}, "kept kept out"},
		{"one of two", []float64{25, 50}, "noted noted"},
		{"two of four", []float64{50, 25, 50, 25}, "noted noted noted noted"},
		{"one of four set to 33.3 m", []float64{25, 100.0 / 3, 25, 25}, "kept noted kept kept"},
		{"one alone", []float64{50}, "noted"},
		{"a change for good is told once, for it is rare", []float64{25, 25, 25, 25, 25, 25, 25, 50, 50, 50, 50, 50, 50, 50},
			"kept kept kept kept kept kept kept noted kept kept kept kept kept kept"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var all []normalise.Session
			for i, pool := range c.pools {
				n := session(even(10, 30, 12.5), even(6, 30, 12.5))
				n.ID, n.PoolM = "s"+string(rune('a'+i)), pool
				for k := range n.Lengths {
					n.Lengths[k].PoolM = pool
				}
				all = append(all, n)
			}
			screened, entries := Sessions(all, settings())
			var got []string
			for i := range screened {
				is := "kept"
				for _, e := range entries {
					if e.Rule == RulePoolContradicts && e.Session == all[i].ID {
						is = map[read.Action]string{read.Excluded: "out", read.Noted: "noted"}[e.Action]
					}
				}
				if (is == "out") != (len(screened[i].Kept) == 0) {
					t.Errorf("session %d is %s with %d lengths kept", i, is, len(screened[i].Kept))
				}
				got = append(got, is)
			}
			if strings.Join(got, " ") != c.want {
				t.Errorf("%s, want %s", strings.Join(got, " "), c.want)
			}
		})
	}
}

func TestEarlyTurnsLinkBothRecordsToBothLengths(t *testing.T) {
	n := session(join(even(3, 26, 11), []swum{{17.4, 6}, {34.4, 16}}, even(3, 26, 11)))
	n.Lengths[4].End = read.Reading{HRBPM: 150, Source: "strap"}
	got, _ := screened(t, n, settings())
	a, b := got.Kept[3], got.Kept[4]
	if a.DurationRecordedS != 17.4 || b.DurationRecordedS != 34.4 || a.StrokesRecorded != 6 || b.StrokesRecorded != 16 {
		t.Errorf("recorded values lost: %+v, %+v", a, b)
	}
	if math.Abs(a.DurationS-25.9) > 1e-9 || a.DurationS != b.DurationS || a.Strokes != 22 || b.Strokes != 22 ||
		math.Abs(b.StartS-a.StartS-25.9) > 1e-9 || b.End.HRBPM != 150 {
		t.Errorf("shared into %+v and %+v", a, b)
	}
	var links []string
	for _, l := range got.Lineage {
		if l.Relation == Evened {
			links = append(links, string(rune('0'+l.Record))+">"+string(rune('0'+l.Ordinal)))
		}
	}
	if strings.Join(links, " ") != "4>4 5>4 4>5 5>5" {
		t.Errorf("links %v", links)
	}
}

// Two lengths that were evened out leave together, whichever of them a later
// rule excludes, so that their records are accounted for.
func TestWhatCameOfOneRecordLeavesTogether(t *testing.T) {
	n := session(join(even(3, 26, 11), []swum{{17.4, 6}, {34.4, 16}}, even(3, 26, 11)), join(even(3, 30, 12), []swum{{92, 36}}))
	w := newWork(&n, settings())
	w.evenOutEarlyTurns()
	w.splitMissedTurns()
	if len(w.items) != 14 {
		t.Fatalf("%d items", len(w.items))
	}
	for _, i := range []int{4, 12} {
		w.exclude(i, RuleImpossibleRate, "for the test")
	}
	w.leaveTogether()
	for i, it := range w.items {
		if out := i == 3 || i == 4 || i >= 11; it.out != out {
			t.Errorf("item %d: excluded %v", i, it.out)
		}
	}
}

// heart gives a session of four swims of 240 s at 60 arm strokes a minute (one
// length: 30 s, 15 cycles) with a heart that rises to 150 in each and falls
// back in the rests, 1 Hz.
func heart() normalise.Session {
	n := session(even(8, 30, 15), even(8, 30, 15), even(8, 30, 15), even(8, 30, 15))
	bpm, k := 100.0, 0
	end := n.Lengths[31].StartS + 30
	for at := 0.0; at < end; at++ {
		for k < 31 && n.Lengths[k+1].StartS <= at {
			k++
		}
		target := 150.0
		if at >= n.Lengths[k].StartS+n.Lengths[k].DurationS {
			target = 90
		}
		bpm += (target - bpm) / 30
		n.Samples = append(n.Samples, normalise.Sample{FileID: "f", Record: int64(len(n.Samples) + 1), TimeS: at, BPM: math.Round(bpm)})
	}
	return n
}

func TestHeartRateFaults(t *testing.T) {
	set := func(n *normalise.Session, from, to int, f func(i int) float64) {
		for i := from; i < to; i++ {
			n.Samples[i].BPM = f(i)
		}
	}
	constant := func(bpm float64) func(int) float64 { return func(i int) float64 { return bpm + float64(i%3-1) } }
	for _, c := range []struct {
		name   string
		change func(*normalise.Session)
		rule   string // "" when nothing is dropped
		low    int    // samples dropped, from
		high   int    // to
	}{
		{"a heart", func(*normalise.Session) {}, "", 0, 0},
		{"locked on the arm strokes", func(n *normalise.Session) { set(n, 300, 420, constant(64)) }, RuleLocked, 118, 122},
		{"locked on the cycles", func(n *normalise.Session) { set(n, 300, 420, constant(33)) }, RuleLocked, 118, 122},
		{"locked, held in a rest", func(n *normalise.Session) { set(n, 150, 400, constant(64)) }, RuleLocked, 246, 252},
		{"locked from the first sample to the last", func(n *normalise.Session) { set(n, 0, len(n.Samples), constant(64)) }, RuleLocked, 1050, 1050},
		{"locked from the first sample on", func(n *normalise.Session) { set(n, 0, 420, constant(64)) }, RuleLocked, 420, 420},
		{"locked to the last sample", func(n *normalise.Session) { set(n, 600, len(n.Samples), constant(64)) }, RuleLocked, 450, 450},
		{"a heart that meets the strokes all along, but for the rests", func(n *normalise.Session) {
			set(n, 0, len(n.Samples), func(i int) float64 { return math.Round(n.Samples[i].BPM/3 + 17) })
		}, "", 0, 0},
		{"locked for a short while is a step", func(n *normalise.Session) { set(n, 300, 330, constant(64)) }, RuleStep, 30, 30},
		{"another plateau is a step", func(n *normalise.Session) { set(n, 300, 380, constant(110)) }, RuleStep, 80, 80},
		{"a step up", func(n *normalise.Session) { set(n, 300, 340, func(i int) float64 { return n.Samples[i].BPM + 25 }) }, RuleStep, 40, 40},
		{"a start value held for half a minute", func(n *normalise.Session) { set(n, 0, 30, func(int) float64 { return 71 }) }, RuleStartValue, 30, 30},
		{"a small step is left", func(n *normalise.Session) { set(n, 300, 340, func(i int) float64 { return n.Samples[i].BPM + 6 }) }, "", 0, 0},
		{"a heart that meets the strokes by degrees", func(n *normalise.Session) {
			set(n, 0, len(n.Samples), func(i int) float64 { return math.Round(n.Samples[i].BPM/2 - 5) })
		}, "", 0, 0},
		{"a clock set back by a minute", func(n *normalise.Session) {
			for i := 400; i < len(n.Samples); i++ {
				n.Samples[i].TimeS -= 60
			}
			byTime(n)
		}, RuleClockBack, 59, 61},
		{"a stretch written late, into a gap", func(n *normalise.Session) {
			for i := 300; i < 400; i++ {
				n.Samples[i].Record += 10_000
			}
		}, "", 0, 0},
		{"gaps are no steps", func(n *normalise.Session) {
			n.Samples = append(n.Samples[:200:200], n.Samples[280:]...)
		}, "", 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := heart()
			c.change(&n)
			run := func(s study.Screen) map[string]int {
				got, entries := Apply(n, s)
				dropped := map[string]int{}
				for _, e := range entries {
					if e.Kind == read.KindHeartRate && e.Action == read.Excluded {
						dropped[e.Rule] += int(e.Records)
					}
				}
				total := 0
				for _, k := range dropped {
					total += k
				}
				if total+len(got.KeptSamples) != len(n.Samples) {
					t.Errorf("%d dropped and %d kept of %d", total, len(got.KeptSamples), len(n.Samples))
				}
				return dropped
			}
			dropped := run(settings())
			if c.rule == "" {
				if len(dropped) != 0 {
					t.Errorf("dropped %v", dropped)
				}
				return
			}
			if k := dropped[c.rule]; k < c.low || k > c.high || len(dropped) != 1 {
				t.Errorf("dropped %v, want %d to %d by %s", dropped, c.low, c.high, c.rule)
			}
			off := settings()
			off.Off[c.rule] = true
			if k := run(off)[c.rule]; k != 0 {
				t.Errorf("%d dropped by a rule that is off", k)
			}
		})
	}
}

// byTime puts samples in the order in which normalise gives them.
func byTime(n *normalise.Session) {
	for i := 1; i < len(n.Samples); i++ {
		for k := i; k > 0 && n.Samples[k].TimeS < n.Samples[k-1].TimeS; k-- {
			n.Samples[k], n.Samples[k-1] = n.Samples[k-1], n.Samples[k]
		}
	}
}

func TestJumpThatDoesNotComeBackIsNoted(t *testing.T) {
	n := heart()
	for i := 500; i < len(n.Samples); i++ {
		n.Samples[i].BPM += 30
	}
	got, entries := Apply(n, settings())
	if len(got.KeptSamples) != len(n.Samples) || brief(entries) != "heart-rate 501+1 step noted" {
		t.Errorf("%d of %d kept; %s", len(got.KeptSamples), len(n.Samples), brief(entries))
	}
}
