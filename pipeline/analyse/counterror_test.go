package analyse

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// A recorder that miscounts each length by itself, with a lasting bias that
// differs by session, beside hand counts.
func compared(sd float64, sessions, bouts int) []derive.Bout {
	stream := rand.New(rand.NewPCG(5, 6))
	var out []derive.Bout
	for s := range sessions {
		bias := 0.05 * stream.NormFloat64()
		for b := range bouts {
			lengths := 4 + 4*(b%3)
			one := bout("a", s, b, 1.2, 60, 140, float64(b))
			one.Lengths = lengths
			one.Count = derive.Count{By: derive.ByHand, Strokes: 16 * float64(lengths), Wholes: lengths, Unit: 1, Beside: true}
			one.Count.Recorder = 8 * float64(lengths) * math.Exp(bias+sd*stream.NormFloat64()/math.Sqrt(float64(lengths)))
			out = append(out, one)
		}
	}
	return out
}

func TestTheRecordersErrorIsMeasuredBesideHandCounts(t *testing.T) {
	for _, sd := range []float64{0.08, 0.02} {
		e := newRecorderError(compared(sd, 40, 10), "freestyle")
		// A count of each length to a whole stroke has an error of its own, taken off
		// although these have none: 1/sqrt(12) in 16 is 0.018.
		want := math.Sqrt(math.Max(0, sd*sd-1.0/12/256))
		if e.bouts != 400 || math.Abs(math.Sqrt(e.perLength)-want) > 0.1*want+0.001 {
			t.Errorf("%d bouts: %.4f a length, want %.4f", e.bouts, math.Sqrt(e.perLength), want)
		}
	}
	if e := newRecorderError(compared(0.08, 4, 3), "freestyle"); !math.IsNaN(e.perLength) {
		t.Errorf("8 comparisons are taken for enough: %v", e.perLength)
	}
	if e := newRecorderError(compared(0.08, 40, 10), "backstroke"); !math.IsNaN(e.perLength) || e.bouts != 0 {
		t.Errorf("freestyle counts tell of backstroke: %+v", e)
	}
}

func TestWhatACountsErrorIsKnownFrom(t *testing.T) {
	known, unknown := recorderError{perLength: 0.0064}, recorderError{perLength: nan}
	stated := study.Analysis{CountErrorLength: 0.08, CountErrorBout: 0.03}
	count := func(by derive.Counter, beside bool) derive.Bout {
		return derive.Bout{Lengths: 4, Count: derive.Count{By: by, Strokes: 64, Wholes: 4, Unit: 1, Beside: beside}}
	}
	rounding := 4.0 / 12 / (64 * 64)
	cases := []struct {
		name     string
		bout     derive.Bout
		e        recorderError
		a        study.Analysis
		variance float64
		from     string
	}{
		{"hand", count(derive.ByHand, false), known, study.Analysis{}, rounding, errorRounding},
		{"hand, stated", count(derive.ByHand, false), known, stated, 0.0016 + 0.0009 + rounding, errorStated},
		{"hand beside a recorder, stated", count(derive.ByHand, true), known, stated, rounding, errorRounding},
		{"recorder, measured", count(derive.ByRecorder, false), known, study.Analysis{}, 0.0016, errorMeasured},
		{"recorder, stated and measured", count(derive.ByRecorder, false), known, stated, 0.0016 + 0.0009 + rounding, errorStated},
		{"recorder, unknown", count(derive.ByRecorder, false), unknown, study.Analysis{}, nan, errorUnknown},
		{"both, unknown", count(derive.ByBoth, false), unknown, study.Analysis{}, nan, errorUnknown},
	}
	for _, c := range cases {
		variance, from := c.e.of(&c.bout, c.a)
		if from != c.from || math.Abs(variance-c.variance) > 1e-15 || math.IsNaN(variance) != math.IsNaN(c.variance) {
			t.Errorf("%s: %v from %s, want %v from %s", c.name, variance, from, c.variance, c.from)
		}
	}
}

// The score's slope: flattened by a stated error of the counts, raised again by
// the correction, and put in the plain one's place.
func TestTheSlopeIsFreedOfCountingError(t *testing.T) {
	w := usual()
	w.sessions, w.bouts, w.effect, w.noise = 40, 12, -5, 1
	bouts := w.swim()
	stream := rand.New(rand.NewPCG(8, 8))
	for i := range bouts {
		bouts[i].StrokeRateSPM *= math.Exp(0.05 * stream.NormFloat64())
	}
	s := settings()
	s.Analysis.CountErrorBout = 0.05
	row := only(Swimmer(bouts, s), Observed).Row
	want := 0.08 * 0.08 / (0.08*0.08 + 0.05*0.05)
	if row.Reliability == nil || math.Abs(*row.Reliability-want) > 0.03 || row.ReliabilityFrom != errorStated {
		t.Fatalf("reliability %v from %s, want %.3f", row.Reliability, row.ReliabilityFrom, want)
	}
	if math.Abs(*row.EffectPlain+5*want) > 0.4 {
		t.Errorf("plain effect %.2f, want about %.2f", *row.EffectPlain, -5*want)
	}
	if row.Correction != correctedScore || *row.EffectPer10Pct != *row.EffectCorrected || *row.EffectLow > -5 || *row.EffectHigh < -5 {
		t.Errorf("%s: %.2f (%.2f to %.2f), the truth is -5", row.Correction, *row.EffectPer10Pct, *row.EffectLow, *row.EffectHigh)
	}
	exact := only(Swimmer(w.swim(), settings()), Observed).Row
	if exact.Correction != correctedNone || *exact.EffectPer10Pct != *exact.EffectPlain || math.Abs(*exact.EffectCorrected-*exact.EffectPlain) > 0.02 {
		t.Errorf("with exact counts: %s, %v, plain %v, corrected %v", exact.Correction, *exact.EffectPer10Pct, *exact.EffectPlain, *exact.EffectCorrected)
	}
}

// Nothing is called practically none where nobody knows how far the counts hide
// an effect.
func TestUnknownErrorsLeaveNothingPracticallyNone(t *testing.T) {
	w := usual()
	w.effect, w.noise = 0, 0.8
	verdict := func(by derive.Counter) (string, string) {
		bouts := w.swim()
		for i := range bouts {
			bouts[i].Count.By = by
		}
		r, err := Squad(Swimmer(bouts, settings()), settings())
		if err != nil {
			t.Fatal(err)
		}
		return r.BySwimmer[0].Verdict, r.BySwimmer[0].Warnings
	}
	if got, _ := verdict(derive.ByHand); got != string(PracticallyNone) {
		t.Errorf("hand counts: %s", got)
	}
	got, warned := verdict(derive.ByRecorder)
	if got != string(Undecided) || !strings.Contains(warned, "how far the recorder miscounts is not known") {
		t.Errorf("recorder: %s, warned %q", got, warned)
	}
}

// The corrected slope carries the error of the time constant as the plain one does.
func TestCorrectionsCarryTheErrorOfTau(t *testing.T) {
	w := usual()
	w.effect = -8
	s := settings()
	s.Analysis.CountErrorBout = 0.03
	freed := func(off, se float64) schemas.Coefficient {
		for _, c := range only(Swimmer(throughTau(w.swim(), off, se, 1e6), s), Observed).Coefficients {
			if c.Model == modelFreed && c.Term == termRate {
				return c
			}
		}
		t.Fatal("no corrected slope")
		return schemas.Coefficient{}
	}
	plain, carried := freed(0, 0), freed(0, 0.25)
	const h = 0.01
	moves := (freed(h, 0).Estimate - freed(-h, 0).Estimate) / (2 * h)
	if want := math.Hypot(plain.StdError, 0.25*moves); math.Abs(carried.StdError-want) > 1e-6*want || carried.StdError < 1.5*plain.StdError {
		t.Errorf("standard error %v, want %v; without the time constant's %v", carried.StdError, want, plain.StdError)
	}
}
