package squad

import (
	"math"
	"testing"
	"time"
)

func TestTruth(t *testing.T) {
	best := Truth{Kind: KindBestRate, Curve: 300, BestLn: 0.05, BestShift: 0.5}
	if got := best.RateCost(0, 0.03); got != 0 {
		t.Errorf("usual rate costs %v, want 0 at every pace", got)
	}
	for _, x := range []float64{-0.05, 0, 0.05} {
		at := best.Best(x)
		if best.RateCost(at, x) >= best.RateCost(at+0.01, x) || best.RateCost(at, x) >= best.RateCost(at-0.01, x) {
			t.Errorf("x=%v: %v is not the cheapest rate", x, at)
		}
		if e := best.EffectAt(at, x); math.Abs(e) > 1e-12 {
			t.Errorf("x=%v: effect at the cheapest rate is %v", x, e)
		}
	}
	pct, ok := best.BestPctOfUsual(0)
	if want := 100 * math.Exp(0.05); !ok || math.Abs(pct-want) > 1e-12 {
		t.Errorf("cheapest rate %v %v, want %v", pct, ok, want)
	}
	line := Truth{Kind: KindAgainst, Slope: -4 / math.Log(1.1)}
	if got := line.EffectBPMPer10Pct(); math.Abs(got+4) > 1e-12 {
		t.Errorf("effect %v, want -4", got)
	}
	if got := line.RateCost(math.Log(1.1), 0.2); math.Abs(got+4) > 1e-12 {
		t.Errorf("+10 %% costs %v, want -4", got)
	}
}

func TestEffectOver(t *testing.T) {
	line := Truth{Kind: KindTracks, Slope: 30}
	if got, want := line.EffectOver([]float64{-0.2, 0.1, 0.15}), 30*math.Log(1.1); math.Abs(got-want) > 1e-12 {
		t.Errorf("line: %v, want %v", got, want)
	}
	bowl := Truth{Kind: KindBestRate, Curve: 300, BestLn: 0.05}
	if got, want := bowl.EffectOver([]float64{-0.1, 0, 0.1}), bowl.EffectBPMPer10Pct(); math.Abs(got-want) > 1e-12 {
		t.Errorf("even rates: %v, want the local effect %v", got, want)
	}
	// Symmetric about -0.1: the slope there is 2*300*(-0.1-0.05).
	if got, want := bowl.EffectOver([]float64{-0.2, -0.1, 0}), -90*math.Log(1.1); math.Abs(got-want) > 1e-12 {
		t.Errorf("low rates: %v, want %v", got, want)
	}
}

func TestKindsAreDealtEvenly(t *testing.T) {
	sc := DesignedBar(4, 9, 200)
	sc.SessionsPerSwimmer = 0
	sc.Truths = Mix{Tracks: 1, Against: 4, None: 2, BestRate: 3}
	count := map[Kind]int{}
	for _, sw := range Simulate(sc).Swimmers {
		count[sw.Truth.Kind]++
	}
	for kind, want := range map[Kind]int{KindTracks: 20, KindAgainst: 80, KindNone: 40, KindBestRate: 60} {
		if d := count[kind] - want; d < -3 || d > 3 {
			t.Errorf("%s: %d of 200, want about %d", kind, count[kind], want)
		}
	}
}

// Samples must follow the exponential that the package comment states: after two
// minutes of a bout, the distance to steady state is exp(-120/tau) of the first.
func TestSamplesFollowTheKinetics(t *testing.T) {
	sc := DesignedBar(0, 4, 1)
	sc.HeartRate, sc.ReadingNoiseBPM, sc.WanderBPM = HeartRateSamples, 0, 0
	sw := SimulateSwimmer(sc, 0)
	s := sw.Sessions[0]
	if n := len(s.HeartRate); n != int(s.DurationSeconds()+afterSeconds)+1 {
		t.Fatalf("%d samples for %.1f s", n, s.DurationSeconds())
	}
	b := s.Bouts[3]
	i := int(math.Ceil(b.StartSeconds))
	h0, h1 := s.HeartRate[i], s.HeartRate[i+120]
	want := b.SteadyBPM + (h0.BPM-b.SteadyBPM)*math.Exp(-120/sw.TauSeconds)
	if math.Abs(h1.BPM-want) > 1e-9 {
		t.Errorf("after 120 s %v bpm, want %v", h1.BPM, want)
	}
	end := s.HeartRate[int(b.StartSeconds+b.DurationSeconds)]
	if math.Abs(end.BPM-b.EndBPM) > 1 {
		t.Errorf("last sample of the bout %v bpm, EndBPM %v", end.BPM, b.EndBPM)
	}
	if b.EndBPM >= b.SteadyBPM && h0.BPM < b.SteadyBPM {
		t.Error("heart rate overshoots its steady value")
	}
}

func TestCountingErrorsHaveTheStatedSize(t *testing.T) {
	sc := DesignedBar(0, 6, 60)
	sc.WatchCount = CountError{MissPerStroke: 0.03, AddPerStroke: 0.01}
	sc.HandCount = CountError{MissPerStroke: 0.002}
	arms, cycles, hand := 0, 0, 0
	for _, sw := range Simulate(sc).Swimmers {
		for _, s := range sw.Sessions {
			for _, b := range s.Bouts {
				arms += b.ArmStrokes
				cycles += b.CountedCycles
				hand += b.CountedArms
			}
		}
	}
	if got := 2 * float64(cycles) / float64(arms); math.Abs(got-0.98) > 0.001 {
		t.Errorf("twice the watch's cycles are %.4f of the arm strokes, want 0.98", got)
	}
	if got := float64(hand) / float64(arms); math.Abs(got-0.998) > 0.0005 {
		t.Errorf("hand count is %.4f of the arm strokes, want 0.998", got)
	}
}

func TestGlideLowersTheWholeLengthRate(t *testing.T) {
	sw := Swimmer{GlideMetres: 6, GlideSpeedRatio: 1.25}
	// 6 m at 1.25 times the mean speed take 6/31.25 of a 25 m length's time.
	if got, want := sw.WholeLengthShare(25), 1-6/31.25; got != want {
		t.Errorf("share stroking %v, want %v", got, want)
	}
	if sw.WholeLengthShare(50) <= sw.WholeLengthShare(25) {
		t.Error("a longer pool must leave more time for stroking")
	}
}

func TestSessionsDoNotOverlap(t *testing.T) {
	sc := Demo(12)
	sc.HeartRate = HeartRateEnd
	sc.Days = 12 // 14 sessions: some days hold two
	for _, sw := range Simulate(sc).Swimmers {
		for k := 1; k < len(sw.Sessions); k++ {
			if gap := sw.Sessions[k].StartUTC.Sub(sw.Sessions[k-1].StartUTC); gap < 8*time.Hour {
				t.Fatalf("%s: sessions %d and %d start %v apart", sw.Handle, k-1, k, gap)
			}
		}
	}
}

func TestHandlesAreUnique(t *testing.T) {
	seen := map[string]bool{}
	sc := Scenario{Swimmers: 2000}
	for _, sw := range Simulate(sc).Swimmers {
		if seen[sw.Handle] {
			t.Fatalf("handle %q twice", sw.Handle)
		}
		seen[sw.Handle] = true
	}
}

func TestCheck(t *testing.T) {
	if err := Demo(1).Check(); err != nil {
		t.Errorf("the demo scenario: %v", err)
	}
	for name, spoil := range map[string]func(*Scenario){
		"share above 1":   func(sc *Scenario) { sc.DesignedShare = 1.5 },
		"not a number":    func(sc *Scenario) { sc.BoutNoiseBPM = math.NaN() },
		"rates reversed":  func(sc *Scenario) { sc.RateLow, sc.RateHigh = 0.2, -0.2 },
		"no distance":     func(sc *Scenario) { sc.Distances = []float64{0} },
		"pool of 3 m":     func(sc *Scenario) { sc.Pools[0].Metres = 3 },
		"pace of a seal":  func(sc *Scenario) { sc.PaceLevels = []float64{2} },
		"negative weight": func(sc *Scenario) { sc.Truths.None = -1 },
	} {
		sc := Demo(1)
		spoil(&sc)
		if sc.Check() == nil {
			t.Errorf("%s passes the check", name)
		}
	}
}

func BenchmarkBoutsOnly(b *testing.B) {
	sc := DesignedBar(-5, 1, 1)
	var sw Swimmer
	b.ReportAllocs()
	for i := range b.N {
		SimulateInto(sc, i, &sw)
	}
}

func BenchmarkWithLengths(b *testing.B) {
	sc := DesignedBar(-5, 1, 1)
	sc.LengthDetail = true
	sc.WatchCount = CountError{MissPerStroke: 0.02, AddPerStroke: 0.01, BiasSD: 0.02}
	var sw Swimmer
	b.ReportAllocs()
	for i := range b.N {
		SimulateInto(sc, i, &sw)
	}
}

func BenchmarkWithSamples(b *testing.B) {
	sc := Demo(1)
	var sw Swimmer
	b.ReportAllocs()
	for i := range b.N {
		SimulateInto(sc, i, &sw)
	}
}
