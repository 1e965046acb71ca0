package analyse

import (
	"slices"
	"testing"
	"time"

	"lengthwise/pipeline/study"
)

// The balanced set is an orthogonal array of strength 4: any four of its 17
// bits take all 16 values 16 times.
func TestPlanIsBalanced(t *testing.T) {
	specs := plan()
	words := make([][planBits]int, balanced)
	for i := range words {
		at := 0
		for choice := range choices {
			for bit := range choiceBits(choice) {
				words[i][at] = specs[i][choice] >> bit & 1
				at++
			}
		}
		if at != planBits {
			t.Fatalf("%d bits in use, want %d", at, planBits)
		}
	}
	for a := range planBits {
		for b := range a {
			for c := range b {
				for d := range c {
					var counts [16]int
					for _, w := range words {
						counts[w[a]|w[b]<<1|w[c]<<2|w[d]<<3]++
					}
					for value, n := range counts {
						if n != balanced/16 {
							t.Fatalf("bits %d %d %d %d take the value %04b %d times, want %d", a, b, c, d, value, n, balanced/16)
						}
					}
				}
			}
		}
	}
}

func TestPlanHoldsEverySingleDeparture(t *testing.T) {
	specs := plan()
	if specs[0] != (spec{}) {
		t.Error("the study's own specification is not the first")
	}
	for i, p := range specs {
		if slices.Contains(specs[:i], p) {
			t.Errorf("specification %d is there twice", i)
		}
	}
	for choice, name := range choiceNames() {
		for level := 1; level < 1<<choiceBits(choice); level++ {
			var one spec
			one[choice] = level
			if !slices.Contains(specs, one) {
				t.Errorf("%s, level %d alone, is not in the plan", name, level)
			}
		}
	}
	if len(choiceNames()) != choices {
		t.Errorf("%d names for %d choices", len(choiceNames()), choices)
	}
}

func TestSettingsOfASpecification(t *testing.T) {
	s := study.Default()
	if got := settingsOf(spec{}, s); got.Cost != s.Cost || !got.LockRule || got.shortest != s.Cost.ShortestBout || got.strapOnly || got.drift != driftLog {
		t.Errorf("the study's own specification changes its settings: %+v", got)
	}
	for level, want := range []time.Duration{150 * time.Second, 120 * time.Second, 180 * time.Second, 210 * time.Second} {
		var p spec
		p[choiceSteadyAfter] = level
		if got := settingsOf(p, s).Cost.SteadyAfter; got != want {
			t.Errorf("steady after, level %d: %v, want %v", level, got, want)
		}
	}
	for _, own := range []time.Duration{45 * time.Second, 60 * time.Second, 200 * time.Second} {
		s.Cost.ShortestBout = own
		seen := map[time.Duration]bool{}
		for level := range 4 {
			var p spec
			p[choiceShortest] = level
			got := settingsOf(p, s).shortest
			if got < own || seen[got] {
				t.Errorf("shortest bout %v, level %d: %v is shorter than the study's own or there twice", own, level, got)
			}
			seen[got] = true
		}
	}
	s.Screen.Off[lockRuleID] = true
	var toggled spec
	toggled[choiceLock] = 1
	if settingsOf(spec{}, s).LockRule || !settingsOf(toggled, s).LockRule {
		t.Error("a rule that is switched off is not the study's own level")
	}
	s.Cost.HRSource, s.Cost.Steady = "optical", study.SteadyWindow
	var other spec
	other[choiceSource], other[choiceReading] = 1, 1
	if got := settingsOf(other, s); got.strapOnly || got.Cost.Steady != study.SteadyAuto {
		t.Errorf("straps alone in a study of the wrist %v, reading %q", got.strapOnly, got.Cost.Steady)
	}
}

func TestReadingsBeginWithTheStudysOwn(t *testing.T) {
	s := study.Default()
	readings := Readings(s)
	if readings[0].Cost != s.Cost || !readings[0].LockRule {
		t.Errorf("first reading %+v", readings[0])
	}
	// Four times of steadiness, two windows, two readings, the rule on and off.
	if len(readings) != 32 {
		t.Errorf("%d readings, want 32", len(readings))
	}
}
