package squad

import "time"

// Simulate makes the squad that the scenario describes. The same scenario gives
// the same squad; see [Scenario.Check] for what a scenario must satisfy.
func Simulate(sc Scenario) Squad {
	sq := Squad{Scenario: sc.withDefaults()}
	sq.Swimmers = make([]Swimmer, max(0, sc.Swimmers))
	for i := range sq.Swimmers {
		SimulateInto(sc, i, &sq.Swimmers[i])
	}
	return sq
}

// SimulateSwimmer makes the swimmer with the given index alone, exactly as
// [Simulate] would. It may be called from many goroutines at once.
func SimulateSwimmer(sc Scenario, index int) Swimmer {
	var sw Swimmer
	SimulateInto(sc, index, &sw)
	return sw
}

// SimulateInto is [SimulateSwimmer] into an existing value, whose storage it uses
// again: what dst held before, its sessions included, is overwritten.
func SimulateInto(sc Scenario, index int, dst *Swimmer) {
	sc = sc.withDefaults()
	*dst = Swimmer{
		Index:    index,
		Sessions: dst.Sessions[:0],
		bouts:    dst.bouts[:0],
		lengths:  dst.lengths[:0],
		samples:  dst.samples[:0],
	}
	w := worker{sc: &sc, sw: dst, plan: newStream(), counts: newStream(), detail: newStream(), heart: newStream()}
	drawSwimmer(dst, &sc, w.plan)
	for k := range sc.SessionsPerSwimmer {
		w.session(k)
	}
	w.link()
}

// worker simulates one swimmer's sessions. Bouts, lengths and samples of all
// sessions lie in three slices of the swimmer; link cuts them once they are full.
type worker struct {
	sc                          *Scenario
	sw                          *Swimmer
	plan, counts, detail, heart stream

	level        float64 // of the session before, bpm
	rates, paces []float64
	cuts         []sessionCut
}

type sessionCut struct{ bouts, lengths, samples int }

// link gives each session and bout its part of the swimmer's storage.
func (w *worker) link() {
	from := sessionCut{}
	for k := range w.sw.Sessions {
		s, to := &w.sw.Sessions[k], w.cuts[k]
		s.Bouts = w.sw.bouts[from.bouts:to.bouts:to.bouts]
		if to.samples > from.samples {
			s.HeartRate = w.sw.samples[from.samples:to.samples:to.samples]
		}
		if w.sc.LengthDetail {
			at := from.lengths
			for b := range s.Bouts {
				end := at + s.Bouts[b].LengthCount
				s.Bouts[b].Lengths = w.sw.lengths[at:end:end]
				at = end
			}
		}
		from = to
	}
}

// startOf spreads sessions evenly over the season with jitter, morning or evening,
// and never starts one less than eight hours after the one before.
func (w *worker) startOf(k int) time.Time {
	sc := w.sc
	w.plan.aim(sc.Seed, w.sw.Index, k, forCalendar)
	step := float64(sc.Days) / float64(sc.SessionsPerSwimmer)
	day := int((float64(k) + 0.6*w.plan.Float64()) * step)
	hour, minute := 6, w.plan.IntN(50)
	if w.plan.Float64() < 0.6 {
		hour = 18
	}
	second := w.plan.IntN(60)
	d := sc.FirstDay
	start := time.Date(d.Year(), d.Month(), d.Day()+day, hour, minute, second, 0, sc.Zone)
	if k > 0 {
		earliest := w.sw.Sessions[k-1].StartUTC.Add(8 * time.Hour)
		for start.Before(earliest) {
			start = start.Add(12 * time.Hour)
		}
	}
	return start
}
