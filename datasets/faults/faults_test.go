package faults

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"testing"
)

func TestSameArgumentsSameSession(t *testing.T) {
	for _, k := range Kinds() {
		text := func(seed uint64) string {
			s := Simulate(seed, k.Kind, k.Grades[0].Size, 3)
			s.Samples = s.Samples[:min(300, len(s.Samples))]
			return fmt.Sprint(s.Planted, s.Lengths, s.Samples)
		}
		a := text(7)
		if text(7) != a {
			t.Errorf("%s: two sessions of one seed differ", k.Kind)
		}
		if text(8) == a {
			t.Errorf("%s: seeds 7 and 8 give one session", k.Kind)
		}
	}
}

// What was swum does not depend on what was planted: faults move time and
// strokes between records, or add what the kind says, and no more.
func TestFaultsKeepWhatWasSwum(t *testing.T) {
	for _, k := range Kinds() {
		if k.Kind == WrongPool || k.Kind == Drill {
			continue // other pools, other plan
		}
		for _, g := range k.Grades {
			t.Run(fmt.Sprintf("%s/%v", k.Kind, g.Size), func(t *testing.T) {
				placed := 0
				for seed := range uint64(16) {
					clean, s := Simulate(seed, Clean, 0, 0), Simulate(seed, k.Kind, g.Size, 3)
					placed += s.Planted
					lengths := func(s Session) (n float64) {
						for _, l := range s.Lengths {
							n += l.Truth.Lengths
						}
						return n
					}
					if a, b := lengths(clean), lengths(s); math.Abs(a-b) > 1e-9 {
						t.Fatalf("seed %d: %.2f lengths swum with the fault, %.2f without", seed, b, a)
					}
					if a, b := marked(s), s.Planted; a != b {
						t.Fatalf("seed %d: %d faults marked, %d said to be planted", seed, a, b)
					}
				}
				if placed < 4 {
					t.Errorf("only %d faults found a place in 16 sessions", placed)
				}
			})
		}
	}
}

// marked counts the faults of a session by their marks.
func marked(s Session) int {
	seen := map[int]bool{}
	for _, l := range s.Lengths {
		if l.Truth.Kind != Clean && l.Truth.Kind != Drill {
			seen[l.Truth.Fault] = true
		}
	}
	for _, x := range s.Samples {
		if x.Truth.Kind != Clean {
			seen[x.Truth.Fault] = true
		}
	}
	return len(seen)
}

// The clean sessions must look like the recordings they stand for: human speeds
// and rates, counts of a wrist near 11 to 16 in 25 m at 26 to 38 s.
func TestCleanSessionsAreHuman(t *testing.T) {
	var speeds, rates, hearts []float64
	strokes := map[string]int{}
	for seed := range uint64(200) {
		s := Simulate(seed, Clean, 0, 0)
		if !slices.IsSortedFunc(s.Samples, func(a, b Sample) int { return int(a.TimeS - b.TimeS) }) {
			t.Fatalf("seed %d: samples out of order", seed)
		}
		for _, l := range s.Lengths {
			strokes[l.Stroke]++
			if l.Drill {
				continue
			}
			speeds = append(speeds, s.PoolSwumM/l.Truth.DurationS)
			if l.Stroke == freestyle {
				rates = append(rates, 60*l.Truth.Strokes/l.Truth.DurationS)
			}
		}
		for _, x := range s.Samples {
			hearts = append(hearts, x.BPM)
		}
	}
	for _, c := range []struct {
		name              string
		values            []float64
		low, median, high float64
		lowest, highest   float64
	}{
		{"speed (m/s)", speeds, 0.85, 0.98, 1.15, 0.35, 2.3},
		{"arm strokes a minute", rates, 40, 56, 75, 15, 130},
		{"heart rate (bpm)", hearts, 100, 130, 160, 40, 205},
	} {
		sort.Float64s(c.values)
		n := len(c.values)
		median := c.values[n/2]
		t.Logf("%s: least %.2f, 1 %% %.2f, median %.2f, 99 %% %.2f, most %.2f", c.name, c.values[0], c.values[n/100], median, c.values[n-n/100], c.values[n-1])
		if median < c.low || median > c.high {
			t.Errorf("%s: median %.2f outside %.2f to %.2f", c.name, median, c.low, c.high)
		}
		if c.values[0] < c.lowest || c.values[n-1] > c.highest {
			t.Errorf("%s: %.2f to %.2f reaches outside %.2f to %.2f", c.name, c.values[0], c.values[n-1], c.lowest, c.highest)
		}
	}
	for _, s := range []string{freestyle, backstroke, breaststroke, butterfly, drillStroke} {
		if strokes[s] == 0 {
			t.Errorf("no %s in 200 sessions", s)
		}
	}
}

func BenchmarkSimulate(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		Simulate(1, EarlyTurn, 0.2, 3)
	}
}

// Sessions of every kind of training are human too, and nothing in them is a
// fault.
func TestTrainingsAreHuman(t *testing.T) {
	for _, training := range Trainings() {
		var speeds, rates []float64
		for seed := range uint64(40) {
			s := SimulateTraining(seed, training, Clean, 0, 0)
			if len(s.Lengths) < 60 || s.Planted != 0 {
				t.Fatalf("%s, seed %d: %d lengths, %d faults", training, seed, len(s.Lengths), s.Planted)
			}
			for _, l := range s.Lengths {
				if l.Truth.Lengths != 1 || l.Truth.Fault != -1 {
					t.Fatalf("%s, seed %d: %+v", training, seed, l.Truth)
				}
				if l.Truth.Kind != Clean || l.Drill {
					continue
				}
				speeds = append(speeds, s.PoolSwumM/l.Truth.DurationS)
				if l.Stroke == freestyle {
					rates = append(rates, 60*l.Truth.Strokes/l.Truth.DurationS)
				}
			}
		}
		sort.Float64s(speeds)
		sort.Float64s(rates)
		n, m := len(speeds)-1, len(rates)-1
		t.Logf("%s: %.2f to %.2f m/s, median %.2f; %.0f to %.0f arm strokes a minute, median %.0f", training, speeds[0], speeds[n], speeds[n/2], rates[0], rates[m], rates[m/2])
		if speeds[0] < 0.25 || speeds[n] > 2.5 || rates[0] < 12 || rates[m] > 130 {
			t.Errorf("%s: %.2f to %.2f m/s, %.0f to %.0f strokes a minute", training, speeds[0], speeds[n], rates[0], rates[m])
		}
	}
}

// A swimmer's sessions differ in plan and pool and not in who swims them.
func TestSeriesIsOneSwimmer(t *testing.T) {
	for seed := range uint64(20) {
		var perStroke []float64
		for i, s := range SimulateSeries(seed, 0.5, 4, 1) {
			if wrong := s.PoolM != s.PoolSwumM; wrong != (i == 0) || s.Planted != map[bool]int{true: 1}[wrong] {
				t.Fatalf("seed %d, session %d: pool %g, swum in %g", seed, i, s.PoolM, s.PoolSwumM)
			}
			var metres, strokes float64
			for _, l := range s.Lengths {
				if l.Stroke == freestyle && l.Truth.Strokes > 0 {
					metres, strokes = metres+s.PoolSwumM, strokes+l.Truth.Strokes
				}
			}
			perStroke = append(perStroke, metres/strokes)
		}
		if low, high := slices.Min(perStroke), slices.Max(perStroke); high > 1.45*low {
			t.Errorf("seed %d: %.2f metres a stroke", seed, perStroke)
		}
	}
}
