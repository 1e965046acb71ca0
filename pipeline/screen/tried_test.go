package screen

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/faults"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// Asking how the rules went changes nothing, and the answers agree with what the
// rules did.
func TestTraceTellsWhatTheRulesDid(t *testing.T) {
	var recordings []read.Recording
	for i, k := range []faults.Kind{faults.FalseTurn, faults.EarlyTurn, faults.MissedTurn, faults.StopInside, faults.WrongCount, faults.Kick, faults.TooFast} {
		s := faults.Simulate(tuning+uint64(i), k, faults.GradesOf(k)[2].Size, 3)
		r := recording(&s)
		r.FileID, r.Content, r.Start = string(rune('a'+i)), string(rune('a'+i)), r.Start.AddDate(0, 0, i)
		recordings = append(recordings, r)
	}
	all, _, err := normalise.Sessions(recordings, nil, study.Default())
	if err != nil {
		t.Fatal(err)
	}
	settings := settings()
	plain, entries := Sessions(all, settings)
	rules := map[Source]map[string]string{} // what the ledger says of each length
	for _, e := range entries {
		if e.Kind == read.KindLength && e.Action != read.Noted {
			of := Source{e.FileID, e.Record}
			if rules[of] == nil {
				rules[of] = map[string]string{}
			}
			rules[of][e.Rule] = e.Detail
		}
	}
	met, passed := 0, 0
	for which := range all {
		for i := range all[which].Lengths {
			l := &all[which].Lengths[i]
			of := Source{l.FileID, l.Record}
			s, own, tried := Trace(all, which, of, 1, settings)
			if !reflect.DeepEqual(s.Kept, plain[which].Kept) && fmtKept(s) != fmtKept(plain[which]) {
				t.Fatalf("%v: another result when asked", of)
			}
			if i > 0 && i%9 != 0 { // the ledger needs no comparing each time
				own = nil
			}
			for _, e := range own {
				if e.Session != all[which].ID {
					t.Errorf("an entry of session %s", e.Session)
				}
			}
			if len(tried) != 11 || tried[0].Rule != RuleNoDuration {
				t.Fatalf("%v: %d rules tried", of, len(tried))
			}
			for _, x := range tried {
				detail, told := rules[of][x.Rule]
				switch {
				case x.Outcome == Met && (!told || detail != x.Words):
					t.Errorf("%v: %s is said to have met it, the ledger has %q", of, x.Rule, detail)
				case x.Outcome == Met:
					met++
				case x.Outcome == Passed && told && x.Rule != RulePoolContradicts:
					t.Errorf("%v: %s is said to have let it pass, the ledger has %q", of, x.Rule, detail)
				case x.Outcome == Passed:
					passed++
					if x.Words == "" || x.Value < x.Low && x.Rule == RuleImpossibleSpeed {
						t.Errorf("%v: %+v", of, x)
					}
				}
			}
		}
	}
	if met < 20 || passed < 2000 {
		t.Errorf("%d met, %d passed", met, passed)
	}
}

func fmtKept(s Session) string {
	var b strings.Builder
	for _, l := range s.Kept {
		b.WriteString(l.Rule + time.Duration(l.DurationS*1e9).String() + " ")
	}
	return b.String()
}

func TestTraceOfWhatIsNotThere(t *testing.T) {
	all := []normalise.Session{session(even(6, 30, 12))}
	if _, _, tried := Trace(all, 0, Source{"f", 99}, 1, settings()); tried != nil {
		t.Errorf("tried %v", tried)
	}
	s := settings()
	s.Off[RuleStopInside] = true
	_, _, tried := Trace(all, 0, Source{"f", 3}, 1, s)
	for _, x := range tried {
		if (x.Outcome == RuleOff) != (x.Rule == RuleStopInside) || x.Outcome == RuleOff && !math.IsNaN(x.Value) {
			t.Errorf("%+v", x)
		}
	}
}
