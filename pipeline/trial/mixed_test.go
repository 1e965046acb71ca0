package trial

import (
	"fmt"
	"os"
	"runtime"
	"testing"
	"time"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/study"
)

// mixedScore counts how often the mixed model's intervals hold the truth.
type mixedScore struct {
	squads, mean         int // the squad's mean effect
	twoStage             int // the same by the two-stage result
	swimmers, own        int // each swimmer's effect
	thin, thinOwn        int // of those without a verdict
	others, predicted    int // swimmers of another squad
	furtherOff, compared int // partially pooled estimates further from the truth than the swimmer's own
}

// add fits one squad of swimmers whose effects differ, and whose last third
// swam three sessions alone.
func (m *mixedScore) add(t *testing.T, mean, spread float64, seed uint64, swimmers int, others []float64) []float64 {
	t.Helper()
	sc := squad.DesignedBar(mean, seed, swimmers)
	sc.EffectSD, sc.SessionsPerSwimmer, sc.BoutsPerSession, sc.BoutNoiseBPM = spread, 8, 8, 4
	s := settings()
	s.Analysis.Resamples, s.Analysis.Permutations = 100, 20
	o := squad.Simulate(sc)
	parts := make([]analyse.Part, 0, swimmers)
	var truths []float64
	truth := map[string]float64{}
	for i := range o.Swimmers {
		sw := &o.Swimmers[i]
		if i >= swimmers*2/3 {
			sw.Sessions = sw.Sessions[:3]
		}
		bouts, err := Bouts(sw, s)
		if err != nil {
			t.Fatal(err)
		}
		parts = append(parts, analyse.Ask(analyse.Person{}, bouts, s))
		truth[sw.Handle] = sw.Truth.EffectBPMPer10Pct()
		truths = append(truths, truth[sw.Handle])
	}
	r, err := analyse.Study(parts, s)
	if err != nil {
		t.Fatal(err)
	}
	holds := func(low, high *float64, v float64) int {
		if low != nil && *low <= v && v <= *high {
			return 1
		}
		return 0
	}
	row := r.Mixed[0]
	if row.Term != "effect_per_10pct" || row.Estimate == nil {
		t.Fatalf("no mixed model: %+v", row)
	}
	m.squads++
	m.mean += holds(row.ConfLow, row.ConfHigh, mean)
	m.twoStage += holds(row.TwoStageLow, row.TwoStageHigh, mean)
	for _, v := range others {
		m.others++
		m.predicted += holds(row.PredictLow, row.PredictHigh, v)
	}
	for _, row := range r.BySwimmer {
		v := truth[row.Swimmer]
		held := holds(row.EffectPooledLow, row.EffectPooledHigh, v)
		m.swimmers++
		m.own += held
		if row.PooledOnly {
			m.thin++
			m.thinOwn += held
			if row.EffectPer10Pct != nil {
				m.compared++
				if abs(*row.EffectPooled-v) > abs(*row.EffectPer10Pct-v) {
					m.furtherOff++
				}
			}
		}
	}
	return truths
}

func abs(v float64) float64 { return max(v, -v) }

// The mixed model's intervals: the squad's mean, each swimmer, another
// swimmer. Set LENGTHWISE_LONG for ten times as many squads.
func TestMixedModelCovers(t *testing.T) {
	squads := 40
	if testing.Short() {
		squads = 10
	}
	if os.Getenv("LENGTHWISE_LONG") != "" {
		squads = 400
	}
	var score mixedScore
	others := []float64{}
	for k := range squads {
		others = score.add(t, 4, 1.5, uint64(900+k), 12, others)
	}
	p := func(n, of int) float64 { return 100 * share(n, of) }
	t.Logf("%d squads: mean held %.1f %% (two-stage %.1f %%); %d swimmers held %.1f %%; %d thin ones %.1f %%; another swimmer %.1f %% of %d; of %d thin swimmers' estimates %.1f %% are further off than their own",
		score.squads, p(score.mean, score.squads), p(score.twoStage, score.squads), score.swimmers, p(score.own, score.swimmers),
		score.thin, p(score.thinOwn, score.thin), p(score.predicted, score.others), score.others, score.compared, p(score.furtherOff, score.compared))
	// Three standard errors below 95 % at these counts; prediction intervals of
	// few swimmers are known to hold too little (stats/pooled).
	if c := share(score.own, score.swimmers); c < 0.92 {
		t.Errorf("swimmers' partially pooled intervals hold the truth in %.3f", c)
	}
	if c := share(score.mean, score.squads); c < 0.84 {
		t.Errorf("the mean's interval holds the truth in %.3f", c)
	}
	if c := share(score.predicted, score.others); c < 0.88 || c > 0.99 {
		t.Errorf("the interval for another swimmer holds in %.3f", c)
	}
	if score.thin == 0 || share(score.furtherOff, score.compared) > 0.5 {
		t.Errorf("partial pooling helps none of %d thin swimmers", score.thin)
	}
}

// BenchmarkManySwimmers asks every question but the specification curve of
// swimmers with 50 sessions of 20 bouts, one swimmer's bouts in memory at a time:
// seconds for the swimmers, seconds for the squad, and the memory that the
// swimmers' parts take. LENGTHWISE_SWIMMERS sets how many; 20 without.
func BenchmarkManySwimmers(b *testing.B) {
	swimmers := 20
	_, _ = fmt.Sscan(os.Getenv("LENGTHWISE_SWIMMERS"), &swimmers) // 20 stays where nothing is set
	s := study.Default()
	sc := squad.DesignedBar(3, 1, swimmers)
	sc.EffectSD, sc.SessionsPerSwimmer, sc.BoutsPerSession = 1.5, 50, 20
	for b.Loop() {
		parts := make([]analyse.Part, sc.Swimmers)
		var sw squad.Swimmer
		var asked time.Duration
		for i := range parts {
			squad.SimulateInto(sc, i, &sw)
			bouts, err := Bouts(&sw, s)
			if err != nil {
				b.Fatal(err)
			}
			began := time.Now()
			parts[i] = analyse.Ask(analyse.Person{}, bouts, s)
			asked += time.Since(began)
		}
		runtime.GC()
		var memory runtime.MemStats
		runtime.ReadMemStats(&memory)
		began := time.Now()
		if _, err := analyse.Study(parts, s); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(asked.Seconds(), "s-swimmers")
		b.ReportMetric(time.Since(began).Seconds(), "s-squad")
		b.ReportMetric(float64(memory.HeapAlloc)/1e6, "MB-parts")
	}
}
