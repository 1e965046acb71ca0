package derive

import (
	"math"
	"testing"

	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

// course is a swimmer's heart rate of first order through swims and rests.
type course struct{ tau, steady, rest float64 }

// pulseOf adds a sample every second to a session of swims, the steady value of swim
// n being steady + step n.
func (c course) pulseOf(s *screen.Session, step, start float64) {
	at := func(t float64) float64 {
		h, since := start, 0.0
		for i := 0; i < len(s.Kept); {
			swim := s.Kept[i].Swim
			from, to := s.Kept[i].StartS, 0.0
			for ; i < len(s.Kept) && s.Kept[i].Swim == swim; i++ {
				to = s.Kept[i].StartS + s.Kept[i].DurationS
			}
			target := c.steady + step*float64(swim)
			for _, part := range []struct{ target, until float64 }{{c.rest, from}, {target, to}} {
				until := math.Min(part.until, t)
				if until > since {
					h = part.target + (h-part.target)*math.Exp(-(until-since)/c.tau)
					since = until
				}
			}
		}
		return h
	}
	pulse(s, at)
}

func manySessions(t *testing.T, c course, change func(*screen.Session), cost study.Cost) []Bout {
	t.Helper()
	var bouts []Bout
	for range 2 {
		s := newSession()
		for range 8 {
			swim(s, 4, 20, 16, 40) // 80 s
		}
		c.pulseOf(s, 1, 90)
		change(s)
		_, some := Session(s, athlete(), cost)
		bouts = append(bouts, some...)
	}
	return bouts
}

func as(source string) func(*screen.Session) {
	return func(s *screen.Session) { s.HRSource = source }
}

// Without noise the kinetics give back what made the samples, from bouts that stop
// far short of it; a window would have read about 8 bpm too low.
func TestKineticsGiveTheSteadyValueBack(t *testing.T) {
	c := course{tau: 40, steady: 150, rest: 95}
	cost := study.Default().Cost
	bouts := manySessions(t, c, as("strap"), cost)
	own := FirstTau(bouts)
	if math.Abs(own.LnSeconds-math.Log(40)) > 0.002 || own.Bouts != 16 || own.Traced != 16 || own.Sessions != 1 {
		t.Fatalf("own time constant %.2f s of %+v", math.Exp(own.LnSeconds), own)
	}
	tau := Settle([]OwnTau{own}).Shrink(own)
	Steady(bouts, tau, athlete(), cost)
	for i := range bouts {
		b := &bouts[i]
		want := 150 + float64(b.Swim)
		if b.HRMethod != "kinetics" || b.HRStratum != "kinetics/strap" || !SteadyStratum(b.HRStratum) || math.Abs(b.HRSteadyBPM-want) > 0.1 {
			t.Errorf("bout %d: %.2f bpm by %q in %q, want %v by kinetics", b.Bout, b.HRSteadyBPM, b.HRMethod, b.HRStratum, want)
		}
		if b.Cost != b.HRSteadyBPM || b.CostByLnTau != b.HRByLnTau || !b.Usable || b.LnTauSE != tau.StdError || b.HRSamples != 70 {
			t.Errorf("bout %d: %+v", b.Bout, b)
		}
		if b.HRSteadySE() < b.HROwnSE || math.IsNaN(b.HROwnSE) {
			t.Errorf("bout %d: standard errors %v, of its own %v", b.Bout, b.HRSteadySE(), b.HROwnSE)
		}
	}
	// Before the second pass they were end readings.
	before := manySessions(t, c, as("strap"), cost)
	if before[3].HRMethod != "reported" || before[3].HRSteadyBPM > 149 {
		t.Errorf("before the second pass %.1f bpm by %q", before[3].HRSteadyBPM, before[3].HRMethod)
	}
}

// HRByLnTau is how far heart rate moves with tau, and CostByLnTau with it.
func TestDerivativeInTau(t *testing.T) {
	for _, measure := range []string{"bpm", "hr-reserve", "net-beats"} {
		cost := study.Default().Cost
		cost.Measure = measure
		read := func(lnTau float64) []Bout {
			bouts := manySessions(t, course{40, 150, 95}, as("strap"), cost)
			FirstTau(bouts)
			Steady(bouts, Tau{LnSeconds: lnTau, StdError: 0.1, DF: 10, NoiseBPM: 1}, athlete(), cost)
			return bouts
		}
		const h = 1e-4
		up, middle, down := read(math.Log(42)+h), read(math.Log(42)), read(math.Log(42)-h)
		for i := range middle {
			hr := (up[i].HRSteadyBPM - down[i].HRSteadyBPM) / (2 * h)
			c := (up[i].Cost - down[i].Cost) / (2 * h)
			if math.Abs(middle[i].HRByLnTau-hr) > 1e-3 || math.Abs(middle[i].CostByLnTau-c) > 1e-3 || hr < 1 {
				t.Errorf("%s, bout %d: derivatives %v and %v, differences %v and %v", measure, i, middle[i].HRByLnTau, middle[i].CostByLnTau, hr, c)
			}
		}
	}
}

// Where samples do not show the course, the reading stays what it is without them.
func TestKineticsStandBack(t *testing.T) {
	sure := study.Default().Cost
	window, only := sure, sure
	window.Steady, only.Steady = study.SteadyWindow, study.SteadyKinetics
	thin := func(keep func(t float64) bool) func(*screen.Session) {
		return func(s *screen.Session) {
			all := s.KeptSamples
			s.KeptSamples = nil
			for _, h := range all {
				if keep(h.TimeS) {
					s.KeptSamples = append(s.KeptSamples, h)
				}
			}
		}
	}
	for _, c := range []struct {
		name           string
		cost           study.Cost
		change         func(*screen.Session)
		method, reason string
	}{
		{"as it is", sure, func(*screen.Session) {}, "kinetics", ""},
		{"windows asked for", window, func(*screen.Session) {}, "reported", ""},
		{"every 15 s", sure, thin(func(t float64) bool { return math.Mod(t, 15) == 0 }), "kinetics", ""},
		{"every 40 s", sure, thin(func(t float64) bool { return math.Mod(t, 40) == 39 }), "reported", ""},
		{"every 40 s, kinetics asked for", only, thin(func(t float64) bool { return math.Mod(t, 40) == 39 }), "reported", "no-kinetics"},
		{"no first half minute", sure, thin(func(t float64) bool { return math.Mod(t, 120) > 50 }), "reported", ""},
		{"times guessed", sure, func(s *screen.Session) { s.ClockSure = false }, "reported", ""},
	} {
		bouts := manySessions(t, course{40, 150, 95}, c.change, c.cost)
		own := FirstTau(bouts)
		Steady(bouts, Settle([]OwnTau{own}).Shrink(own), athlete(), c.cost)
		b := bouts[5]
		if b.HRMethod != c.method || b.Reason != c.reason || b.Usable != (c.reason == "") {
			t.Errorf("%s: read by %q, reason %q; want %q, %q", c.name, b.HRMethod, b.Reason, c.method, c.reason)
		}
		if c.method != "kinetics" && (b.LnTauSE != 0 || b.CostByLnTau != 0 || !math.IsNaN(b.HRSteadySE())) {
			t.Errorf("%s: a time constant is behind a reading without one: %+v", c.name, b)
		}
	}
}

// Blocks of a long swim approach a value of their own from where the last one left.
func TestLaterBlocksStartWhereTheLastOneEnded(t *testing.T) {
	s := newSession()
	swim(s, 15, 20, 16, 40) // 300 s: two blocks
	course{40, 150, 95}.pulseOf(s, 0, 90)
	cost := study.Default().Cost
	_, bouts := Session(s, athlete(), cost)
	if bouts[0].approach.rise == nil || bouts[1].approach.rise != nil {
		t.Error("the first block of a swim alone shows a rise")
	}
	Steady(bouts, Tau{LnSeconds: math.Log(40), StdError: 0.05, DF: 10, NoiseBPM: 1}, athlete(), cost)
	for i, b := range bouts {
		if b.HRMethod != "kinetics" || math.Abs(b.HRSteadyBPM-150) > 0.05 {
			t.Errorf("block %d: %.2f bpm by %q, want 150", i+1, b.HRSteadyBPM, b.HRMethod)
		}
	}
}

// A window at the end of a bout whose beginning has no samples is still short of the
// steady value; the start of the swimmer's other bouts says by how much.
func TestWindowsAreCorrected(t *testing.T) {
	s := newSession()
	swim(s, 8, 20, 16, 40)
	swim(s, 8, 20, 16, 40) // 160 s each
	course{40, 150, 95}.pulseOf(s, 0, 115)
	second := s.Kept[8].StartS
	all := s.KeptSamples
	s.KeptSamples = nil
	for _, h := range all {
		if h.TimeS < second-20 || h.TimeS > second+100 {
			s.KeptSamples = append(s.KeptSamples, h)
		}
	}
	cost := study.Default().Cost
	_, bouts := Session(s, athlete(), cost)
	plain := bouts[1].HRSteadyBPM
	Steady(bouts, Tau{LnSeconds: math.Log(40), StdError: 0.05, DF: 10, NoiseBPM: 1}, athlete(), cost)
	b := bouts[1]
	if bouts[0].HRMethod != "kinetics" || b.HRMethod != "window" || plain > 149.5 || math.Abs(b.HRSteadyBPM-150) > 0.5 || b.HRByLnTau <= 0 {
		t.Errorf("a window of %.2f bpm is read as %.2f (%q), want 150", plain, b.HRSteadyBPM, b.HRMethod)
	}
}

// Heart rates that climb all the way approach nothing: the old readings stand.
func TestRiseThatIsNotFirstOrder(t *testing.T) {
	cost := study.Default().Cost
	s := newSession()
	for range 10 {
		swim(s, 6, 20, 16, 60)
	}
	for at := 0.0; at < 1800; at++ {
		s.KeptSamples = append(s.KeptSamples, screenSample(at, 100+0.4*math.Mod(at, 180)))
	}
	_, bouts := Session(s, athlete(), cost)
	own := FirstTau(bouts)
	if own.Refused != "rise-not-first-order" {
		t.Fatalf("%+v", own)
	}
	tau := Settle([]OwnTau{own, {LnSeconds: math.Log(40), StdError: 0.02, DF: 10, NoiseBPM: 1}}).Shrink(own)
	Steady(bouts, tau, athlete(), cost)
	if bouts[4].HRMethod != "reported" || tau.Reason != "rise-not-first-order" {
		t.Errorf("read by %q, reason %q", bouts[4].HRMethod, tau.Reason)
	}
}

// Straps are asked for tau before wrists.
func TestTauIsReadOffStraps(t *testing.T) {
	cost := study.Default().Cost
	bouts := append(manySessions(t, course{60, 150, 95}, as("optical"), cost), manySessions(t, course{40, 150, 95}, as("strap"), cost)...)
	own := FirstTau(bouts)
	if math.Abs(math.Exp(own.LnSeconds)-40) > 0.2 || own.Bouts != 16 || own.Traced != 32 {
		t.Errorf("%.1f s of %+v", math.Exp(own.LnSeconds), own)
	}
}

func TestSettleAndShrink(t *testing.T) {
	nobody := Settle(nil)
	if nobody != Settle([]OwnTau{FirstTau(nil)}) || nobody.TauSeconds != priorTauSeconds || nobody.Swimmers != 0 {
		t.Errorf("without swimmers %+v", nobody)
	}
	var squad []OwnTau
	for i := range 40 {
		ln := math.Log(50) + 0.2*(float64(i%5)-2)/math.Sqrt2
		squad = append(squad, OwnTau{LnSeconds: ln, StdError: 0.03, DF: 9, NoiseBPM: 1 + float64(i%3)})
	}
	q := Settle(squad)
	if math.Abs(q.TauSeconds-50) > 0.5 || math.Abs(q.LnSD-0.2) > 0.02 || q.Swimmers != 40 || q.NoiseBPM != 2 {
		t.Errorf("of 40 swimmers about 50 s with a spread of 0.2: %+v", q)
	}
	backwards := make([]OwnTau, len(squad))
	for i := range squad {
		backwards[len(squad)-1-i] = squad[i]
	}
	if Settle(backwards) != q {
		t.Error("the order of swimmers matters")
	}
	sure := q.Shrink(OwnTau{LnSeconds: math.Log(30), StdError: 0.01, DF: 9, NoiseBPM: 1})
	vague := q.Shrink(OwnTau{LnSeconds: math.Log(30), StdError: 1, DF: 9, NoiseBPM: 1})
	even := q.Shrink(OwnTau{LnSeconds: math.Log(30), StdError: q.LnSD, DF: 9, NoiseBPM: 1})
	none := q.Shrink(FirstTau(nil))
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"a sure one stays", math.Exp(sure.LnSeconds), 30.1},
		{"a vague one goes to the squad's", math.Exp(vague.LnSeconds), 49},
		{"as sure as the squad: half way", even.LnSeconds, (math.Log(30) + math.Log(q.TauSeconds)) / 2},
		{"half the variance", even.StdError, math.Sqrt(q.LnSD*q.LnSD/2 + q.LnMeanSE*q.LnMeanSE/4)},
		{"none of its own", none.LnSeconds, math.Log(q.TauSeconds)},
		{"its error", none.StdError, math.Hypot(q.LnSD, q.LnMeanSE)},
		{"its noise", none.NoiseBPM, 2},
	} {
		if math.Abs(c.got/c.want-1) > 0.01 {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
	if none.Reason != "squad-tau" || sure.Reason != "" || sure.DF > 10 || vague.DF < 1000 {
		t.Errorf("reasons %q and %q, degrees of freedom %v and %v", none.Reason, sure.Reason, sure.DF, vague.DF)
	}
	one := Settle([]OwnTau{{LnSeconds: math.Log(70), StdError: 0.01, DF: 9, NoiseBPM: 1}})
	if one.TauSeconds < 45 || one.TauSeconds > 65 || one.LnSD != priorLnSD {
		t.Errorf("one swimmer of 70 s makes the squad %+v", one)
	}
}

// Both passes over a swimmer of 50 sessions of 20 bouts of 100 s with a sample every
// second; a thousand of these are a large study.
func BenchmarkKinetics(b *testing.B) {
	var sessions []*screen.Session
	for range 50 {
		s := newSession()
		for range 20 {
			swim(s, 5, 20, 16, 40)
		}
		for at := 0.0; at < 2800; at++ {
			s.KeptSamples = append(s.KeptSamples, screenSample(at, 150-50*math.Exp(-math.Mod(at, 140)/40)+math.Mod(at*7.3, 3)))
		}
		sessions = append(sessions, s)
	}
	cost := study.Default().Cost
	for _, how := range []string{study.SteadyWindow, study.SteadyAuto} {
		cost.Steady = how
		b.Run(how, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				var bouts []Bout
				for _, s := range sessions {
					_, some := Session(s, athlete(), cost)
					bouts = append(bouts, some...)
				}
				own := FirstTau(bouts)
				Steady(bouts, Settle([]OwnTau{own}).Shrink(own), athlete(), cost)
			}
		})
	}
}
