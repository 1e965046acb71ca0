package analyse

import (
	"math"
	"strings"
	"testing"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
)

// Rate follows speed with a slope of 0.8 in this world, so that four fifths of a
// gain come from rate.
func TestSharesOfRateAndLength(t *testing.T) {
	w := usual()
	w.rateOnPace, w.rate, w.sessions, w.pace = 0.8, 0.01, 20, 0.06
	l := rateLength(w.swim(), settings())[0]
	for _, row := range l.Shares {
		if row.RateShare == nil {
			t.Fatalf("%s: %v", row.Over, *row.Reason)
		}
		if *row.RateShareLow > 0.8 || *row.RateShareHigh < 0.8 || *row.StdError > 0.03 {
			t.Errorf("%s: %.3f (%.3f to %.3f), the truth is 0.8", row.Over, *row.RateShare, *row.RateShareLow, *row.RateShareHigh)
		}
		if math.Abs(*row.RateShare+*row.LengthShare-1) > 1e-12 || math.Abs(*row.LengthShareLow-(1-*row.RateShareHigh)) > 1e-12 {
			t.Errorf("%s: shares %v and %v", row.Over, *row.RateShare, *row.LengthShare)
		}
	}
	// The share of length is the slope of ln distance per stroke on ln speed.
	bouts := w.swim()
	for i := range bouts {
		bouts[i].StrokeRateSPM = 60 * bouts[i].SpeedMPS / bouts[i].DistancePerStrokeM
	}
	if got := rateLength(bouts, settings())[0].Shares[0]; math.Abs(*got.RateShare-*l.Shares[0].RateShare) > 1e-9 {
		t.Errorf("by distance per stroke %v, by rate %v", *got.RateShare, *l.Shares[0].RateShare)
	}
	if len(l.Curve) != curvePoints {
		t.Fatalf("%d points", len(l.Curve))
	}
	for _, p := range l.Curve {
		want := 64 * math.Pow(p.SpeedMPS/referenceMPS, 0.8)
		if p.StrokeRateLowSPM > want || p.StrokeRateHighSPM < want || math.Abs(p.StrokeRateSPM*p.DistancePerStrokeM/60-p.SpeedMPS) > 1e-12 {
			t.Errorf("at %.2f m/s: %.2f (%.2f to %.2f) /min, the truth is %.2f", p.SpeedMPS, p.StrokeRateSPM, p.StrokeRateLowSPM, p.StrokeRateHighSPM, want)
		}
		if p.DistancePerStrokeLowM > p.DistancePerStrokeM || p.DistancePerStrokeHighM < p.DistancePerStrokeM {
			t.Errorf("at %.2f m/s: distance per stroke %v outside its interval", p.SpeedMPS, p.DistancePerStrokeM)
		}
	}
}

func TestSharesNeedBoutsOfOnesOwnChoice(t *testing.T) {
	w := usual()
	cases := []struct {
		name   string
		change func([]derive.Bout)
		over   string
		reason string
	}{
		{"one pace", func(bouts []derive.Bout) {
			for i := range bouts {
				bouts[i].SpeedMPS = 1.2
			}
		}, overPaces, "speed hardly differs"},
		{"unknown counts", func(bouts []derive.Bout) { bouts[3].Basis = study.UnknownBasis }, overPaces, "what was counted in 1 bout"},
		{"few", func(bouts []derive.Bout) {
			for i := 11; i < len(bouts); i++ {
				bouts[i].Tags.RateTargetSPM = 60
			}
		}, overSessions, "11 bouts at a rate of the swimmer's own choice in 2 sessions"},
		{"fins", func(bouts []derive.Bout) {
			for i := 11; i < len(bouts); i++ {
				bouts[i].Tags.Equipment = "fins"
			}
		}, overSessions, "11 bouts"},
	}
	for _, c := range cases {
		bouts := w.swim()
		c.change(bouts)
		for _, row := range rateLength(bouts, settings())[0].Shares {
			if row.Over == c.over && (row.RateShare != nil || row.Reason == nil || !strings.Contains(*row.Reason, c.reason)) {
				t.Errorf("%s: %v, because %v", c.name, row.RateShare, row.Reason)
			}
		}
	}
}

// swims makes maximal swims on given days.
func swims(metres, seconds []float64, days ...string) []derive.Bout {
	var out []derive.Bout
	for i := range metres {
		b := bout("a", i, 0, metres[i]/seconds[i], 70, 170, 10)
		b.DistanceM, b.DurationS, b.Tags.Effort, b.LocalDate = metres[i], seconds[i], maximal, "2026-03-02"
		if i < len(days) {
			b.LocalDate = days[i]
		}
		out = append(out, b)
	}
	return out
}

// The check value of two trials: 200 m in 140 s and 400 m in 290 s give 4/3 m/s
// and a reserve of 40/3 m (arithmetic of Wakayoshi et al. 1992, Int. J. Sports
// Med. 13:367-371: distance on time).
func TestCriticalSpeedOfTwoSwims(t *testing.T) {
	row := criticalSpeed(swims([]float64{200, 400}, []float64{140, 290}), settings())[0]
	if row.CriticalSpeedMPS == nil || math.Abs(*row.CriticalSpeedMPS-4.0/3) > 1e-12 || math.Abs(*row.ReserveM-40.0/3) > 1e-9 || math.Abs(*row.PaceSPer100M-75) > 1e-9 {
		t.Fatalf("%+v", row)
	}
	if row.SpeedLowMPS != nil || !strings.Contains(row.Warnings, "two swims only") {
		t.Errorf("two swims have an interval: %v, %s", row.SpeedLowMPS, row.Warnings)
	}
}

func TestCriticalSpeedOfALine(t *testing.T) {
	const speed, reserve = 1.3, 15.0
	metres := []float64{200, 400, 800, 1500, 400}
	noise := []float64{0.8, -1, 0.5, -0.4, 0.6}
	seconds := make([]float64, len(metres))
	for i, m := range metres {
		seconds[i] = (m-reserve)/speed + noise[i]
	}
	bouts := swims(metres, seconds, "2026-01-10", "2026-04-10")
	// The 1500 m was cut into blocks, and came back as several bouts.
	long := bouts[3]
	bouts = append(bouts[:3:3], bouts[4])
	for block := range 5 {
		part := long
		part.Block, part.DistanceM, part.DurationS = block+1, long.DistanceM/5, long.DurationS/5
		bouts = append(bouts, part)
	}
	training := usual().swim()
	above := int32(0)
	bouts = append(bouts, training...)
	row := criticalSpeed(bouts, settings())[0]
	if row.CriticalSpeedMPS == nil || row.Swims != 5 || row.Distances != 4 || *row.LongestM != 1500 {
		t.Fatalf("%+v (%v)", row, row.Reason)
	}
	if *row.SpeedLowMPS > speed || *row.SpeedHighMPS < speed || math.Abs(*row.CriticalSpeedMPS-speed) > 0.005 || *row.ReserveLowM > reserve || *row.ReserveHighM < reserve {
		t.Errorf("%.4f m/s (%.4f to %.4f), reserve %.1f m", *row.CriticalSpeedMPS, *row.SpeedLowMPS, *row.SpeedHighMPS, *row.ReserveM)
	}
	for _, b := range training {
		if b.SpeedMPS > *row.SpeedHighMPS {
			above++
		}
	}
	if above == 0 || *row.BoutsAbove != above || row.Bouts != int32(len(training)) {
		t.Errorf("%d of %d bouts above, want %d of %d", *row.BoutsAbove, row.Bouts, above, len(training))
	}
	if !strings.Contains(row.Warnings, "90 days lie between") {
		t.Errorf("warnings %q", row.Warnings)
	}
	p := Ask(Person{}, bouts, settings())
	for _, a := range p.Score {
		if !strings.Contains(a.Row.Warnings, "faster than critical speed") {
			t.Errorf("%s: the answer does not say that bouts were not steady: %q", a.Row.Design, a.Row.Warnings)
		}
	}
}

// A maximal swim of which a part was left out is shorter than it was.
func TestBrokenMaximalSwimsDoNotCount(t *testing.T) {
	bouts := swims([]float64{200, 400, 300}, []float64{140, 290, 200})
	rest := bouts[2]
	rest.Bout++ // the same swim, after a gap
	row := criticalSpeed(append(bouts, rest), settings())[0]
	if row.Swims != 2 || math.Abs(*row.CriticalSpeedMPS-4.0/3) > 1e-12 {
		t.Errorf("%d swims, %v m/s", row.Swims, *row.CriticalSpeedMPS)
	}
}

func TestNoCriticalSpeed(t *testing.T) {
	cases := []struct {
		name            string
		metres, seconds []float64
		reason          string
	}{
		{"none noted", nil, nil, "no swim of 200 to 1500 m is noted as maximal"},
		{"sprints", []float64{50, 100}, []float64{30, 64}, "no swim of 200 to 1500 m"},
		{"one distance", []float64{400, 400, 400}, []float64{300, 301, 305}, "one distance"},
		{"a slow short one", []float64{200, 800}, []float64{200, 640}, "not all can have been maximal"},
	}
	for _, c := range cases {
		bouts := append(swims(c.metres, c.seconds), usual().swim()...)
		row := criticalSpeed(bouts, settings())[0]
		if row.CriticalSpeedMPS != nil || row.BoutsAbove != nil || row.Reason == nil || !strings.Contains(*row.Reason, c.reason) {
			t.Errorf("%s: %v because %v", c.name, row.CriticalSpeedMPS, row.Reason)
		}
	}
}
