package analyse

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
)

func TestTheModelsTermsAreFoundExactlyWithoutNoise(t *testing.T) {
	w := usual()
	w.noise = 0
	a := only(Swimmer(w.swim(), settings()), Observed)
	// v_ref is the median speed, so that pace terms are read there.
	shift := math.Log(derive.Speed(100, *a.Fit.ReferencePace) / referenceMPS)
	want := map[string]float64{
		// The rate's own slope on pace is taken up by the usual rate.
		termSpeed:        slopeOfPace + 2*curveOfPace*shift - 2.5/math.Log(1.1)*usualSlope(w.swim(), *a.Fit.ReferencePace),
		termSpeedSquared: curveOfPace,
		termMinutes:      2,
		termRate:         -2.5 / math.Log(1.1),
	}
	m, err := linear.Fit(linear.Problem{Response: costs(w.swim()), Terms: []string{"one"}, Columns: [][]float64{ones(80)}})
	if err != nil || m.Sigma < 1 {
		t.Fatalf("the costs must vary for this test to mean anything: sigma %v, %v", m.Sigma, err)
	}
	found := map[string]float64{}
	for _, c := range a.Coefficients {
		if c.Model == modelScore {
			found[c.Term] = c.Estimate
		}
	}
	for term, value := range want {
		if math.Abs(found[term]-value) > 1e-6*math.Abs(value) {
			t.Errorf("%s: %v, want %v", term, found[term], value)
		}
	}
}

func TestTheEffectEqualsDummiesForSessions(t *testing.T) {
	bouts := usual().swim()
	a := only(Swimmer(bouts, settings()), Observed)
	// The second road: a dummy for every session, plain least squares.
	n := len(bouts)
	terms := []string{termSpeed, termSpeedSquared, termMinutes, termRate, termRateSquared, termRateByPace}
	columns := make([][]float64, len(terms))
	for i := range columns {
		columns[i] = make([]float64, n)
	}
	lnRate, x := make([]float64, n), make([]float64, n)
	for i, b := range bouts {
		lnRate[i], x[i] = math.Log(b.StrokeRateSPM), math.Log(b.SpeedMPS**a.Fit.ReferencePace/100)
	}
	slope := usualSlope(bouts, *a.Fit.ReferencePace)
	centre := mean(lnRate) - slope*mean(x)
	cluster := make([]int, n)
	for i, b := range bouts {
		r := lnRate[i] - centre - slope*x[i]
		for k, v := range []float64{x[i], x[i] * x[i], math.Log1p(b.MinutesIn), r, r * r, r * x[i]} {
			columns[k][i] = v
		}
		cluster[i] = i / 10
	}
	for s := range 8 {
		column := make([]float64, n)
		for i := range column {
			if cluster[i] == s {
				column[i] = 1
			}
		}
		terms, columns = append(terms, "session "+string(rune('a'+s))), append(columns, column)
	}
	m, err := linear.Fit(linear.Problem{Response: costs(bouts), Terms: terms, Columns: columns, Cluster: cluster})
	if err != nil {
		t.Fatal(err)
	}
	cr2, err := m.Clustered(linear.CR2)
	if err != nil {
		t.Fatal(err)
	}
	want, err := m.Coefficient(termRate, cr2, level)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"effect", *a.Row.EffectPer10Pct, want.Estimate * per10Percent},
		{"standard error", *a.Row.StdError, want.StdError * per10Percent},
		{"low", *a.Row.EffectLow, want.ConfLow * per10Percent},
		{"high", *a.Row.EffectHigh, want.ConfHigh * per10Percent},
		{"df", *a.Row.DF, want.DF},
		{"p", *a.Row.PValue, want.PValue},
	} {
		if math.Abs(c.got-c.want) > 1e-8*math.Max(1, math.Abs(c.want)) {
			t.Errorf("%s: %v, by dummies %v", c.name, c.got, c.want)
		}
	}
}

func TestObservedAndDesignedAreKeptApart(t *testing.T) {
	w := usual()
	w.designed = func(session, _ int) bool { return session%2 == 1 }
	w.sessions = 16
	bouts := w.swim()
	answers := Swimmer(bouts, settings())
	if len(answers) != 3 {
		t.Fatalf("%d answers, want observed, designed and all", len(answers))
	}
	got := only(answers, Designed)
	if got.Row.Bouts != 80 || got.Row.Sessions != 8 {
		t.Errorf("designed: %d bouts in %d sessions, want 80 in 8", got.Row.Bouts, got.Row.Sessions)
	}
	// What observed bouts cost is nothing to the designed ones.
	other := slices.Clone(bouts)
	for i := range other {
		if !other[i].Designed {
			other[i].Cost += 40 * math.Log(other[i].StrokeRateSPM)
		}
	}
	again := Swimmer(other, settings())
	if *only(again, Designed).Row.EffectPer10Pct != *got.Row.EffectPer10Pct {
		t.Error("the cost of observed bouts changes the designed bouts' effect")
	}
	if *only(again, Observed).Row.EffectPer10Pct == *only(answers, Observed).Row.EffectPer10Pct {
		t.Error("the cost of observed bouts does not change their own effect")
	}
	if !strings.Contains(only(answers, Observed).Row.Warnings, "tiredness") || strings.Contains(got.Row.Warnings, "tiredness") {
		t.Errorf("warnings: observed %q, designed %q", only(answers, Observed).Row.Warnings, got.Row.Warnings)
	}
	if only(answers, All).Row.Bouts != 160 {
		t.Errorf("all: %d bouts, want 160", only(answers, All).Row.Bouts)
	}
}

func TestStrataTakeUpTheShiftsOfReadings(t *testing.T) {
	w := usual()
	w.noise = 0
	plain := only(Swimmer(w.swim(), settings()), Observed)
	w.stratum = func(_, bout int) (string, float64) {
		if bout%3 == 0 {
			return "reported/strap/100 m/rest to 30 s", -9
		}
		return "window/strap", 0
	}
	shifted := only(Swimmer(w.swim(), settings()), Observed)
	if math.Abs(*plain.Row.EffectPer10Pct-*shifted.Row.EffectPer10Pct) > 1e-8 {
		t.Errorf("effect %v, with readings that are 9 bpm low in one stratum %v", *plain.Row.EffectPer10Pct, *shifted.Row.EffectPer10Pct)
	}
	if !strings.Contains(shifted.Row.Warnings, "not yet steady, or read late, at the end of 32 of 80 bouts") {
		t.Errorf("warnings %q", shifted.Row.Warnings)
	}
}

func TestTooLittleDataIsSaidInWords(t *testing.T) {
	cases := []struct {
		name, want string
		change     func(*world, *study.Study)
	}{
		{"enough", "", func(*world, *study.Study) {}},
		{"sessions", "5 sessions with two bouts or more, fewer than 6", func(w *world, _ *study.Study) { w.sessions = 5 }},
		{"bouts", "80 usable bouts, fewer than 100", func(_ *world, s *study.Study) { s.Analysis.MinBouts = 100 }},
		{"spread", "stroke rate varies by 0.", func(w *world, _ *study.Study) { w.rate = 0.005 }},
		{"order", "pace and order in the session go together", func(w *world, _ *study.Study) { w.ascending, w.pace = true, 0.01 }},
		{"rates in order", "stroke rate and order in the session go together", func(w *world, _ *study.Study) { w.rising = true }},
		{"one session", "bouts from one session only", func(w *world, _ *study.Study) { w.sessions = 1 }},
		{"two bouts", "too few bouts for the terms", func(w *world, _ *study.Study) { w.sessions, w.bouts = 1, 2 }},
	}
	for _, c := range cases {
		w, s := usual(), settings()
		c.change(&w, s)
		a := only(Swimmer(w.swim(), s), Observed)
		reason := ""
		if a.Row.Reason != nil {
			reason = *a.Row.Reason
		}
		if !strings.Contains(reason, c.want) || (c.want == "") != (reason == "") || a.enough != (c.want == "") {
			t.Errorf("%s: reason %q, want %q; enough %v", c.name, reason, c.want, a.enough)
		}
	}
}

func TestBoutsThatAreNotUsableAreCounted(t *testing.T) {
	bouts := usual().swim()
	bouts[0].Usable, bouts[0].Reason = false, "no-heart-rate"
	bouts[1].Usable, bouts[1].Reason = false, "too-short"
	bouts[2].Usable, bouts[2].Reason = false, "too-short"
	bouts[3].Stroke = "backstroke"
	a := only(Swimmer(bouts, settings()), Observed)
	if a.Row.Bouts != 76 || a.Fit.NDropped != 3 || a.Fit.DroppedWhy != "too-short 2, no-heart-rate 1" {
		t.Errorf("%d bouts, %d dropped: %q", a.Row.Bouts, a.Fit.NDropped, a.Fit.DroppedWhy)
	}
	for i := range bouts {
		bouts[i].Usable, bouts[i].Reason = false, "no-heart-rate"
	}
	a = only(Swimmer(bouts, settings()), Observed)
	if a.Row.Reason == nil || !strings.HasPrefix(*a.Row.Reason, "no usable bouts: no-heart-rate 79") || a.Row.EffectPer10Pct != nil {
		t.Errorf("nothing usable: %+v", a.Row)
	}
}

func TestConcordancePointsTheWayOfTheEffect(t *testing.T) {
	for _, c := range []struct {
		effect   float64
		low, top float64
	}{{-3, 0, 0.35}, {3, 0.65, 1}, {0, 0.4, 0.6}} {
		w := usual()
		w.effect, w.sessions = c.effect, 20
		a := only(Swimmer(w.swim(), settings()), Observed)
		got := *a.Row.Concordance
		if got < c.low || got > c.top {
			t.Errorf("effect %v: concordance %.3f, want %v to %v", c.effect, got, c.low, c.top)
		}
		if *a.Row.ConcordanceLow > got || *a.Row.ConcordanceHigh < got || math.Abs(*a.Row.ConcordanceNull-0.5) > 0.02 {
			t.Errorf("effect %v: interval %.3f to %.3f, null %.3f", c.effect, *a.Row.ConcordanceLow, *a.Row.ConcordanceHigh, *a.Row.ConcordanceNull)
		}
		if sign := *a.Row.PartialR * c.effect; c.effect != 0 && sign <= 0 {
			t.Errorf("effect %v: partial correlation %v", c.effect, *a.Row.PartialR)
		}
	}
}

// Without adjusting, pairs whose speeds differ a little read off one half
// where nothing is there; the adjusted ones do not.
func TestConcordanceIsOneHalfWhereNothingIsThere(t *testing.T) {
	var sum, pairs float64
	for seed := range uint64(60) {
		w := usual()
		w.seed, w.effect, w.rateOnPace, w.pace = seed, 0, -1.5, 0.02
		a := only(Swimmer(w.swim(), settings()), Observed)
		sum += *a.Row.Concordance * float64(a.Row.Pairs)
		pairs += float64(a.Row.Pairs)
	}
	if got := sum / pairs; got < 0.485 || got > 0.515 {
		t.Errorf("mean concordance %.4f over %v pairs of 60 swimmers, want 0.485 to 0.515", got, pairs)
	}
}

func TestAnalysisReadsOnly(t *testing.T) {
	bouts := usual().swim()
	before := fmt.Sprintf("%+v", bouts) // as text: NaN differs from itself
	Swimmer(bouts, settings())
	if fmt.Sprintf("%+v", bouts) != before {
		t.Fatal("the bouts were changed")
	}
}

// usualSlope is the slope of ln R on ln v over all bouts, by hand.
func usualSlope(bouts []derive.Bout, pace float64) float64 {
	var xs, ys []float64
	for _, b := range bouts {
		xs, ys = append(xs, math.Log(b.SpeedMPS*pace/100)), append(ys, math.Log(b.StrokeRateSPM))
	}
	var xx, xy float64
	for i := range xs {
		xx += (xs[i] - mean(xs)) * (xs[i] - mean(xs))
		xy += (xs[i] - mean(xs)) * (ys[i] - mean(ys))
	}
	return xy / xx
}

// A swimmer whose usual rate is the cheapest: dearer on both sides. A straight
// line would read practically none; there is no direction, and that is said.
func TestAValleyHasNoDirection(t *testing.T) {
	w := usual()
	w.effect, w.noise, w.sessions, w.rate, w.valley = 0, 1, 12, 0.1, 3
	s := settings()
	answers := Swimmer(w.swim(), s)
	if _, err := Squad(answers, s); err != nil {
		t.Fatal(err)
	}
	a := only(answers, Observed)
	if a.Row.Verdict != string(Undecided) || !strings.Contains(a.Row.Warnings, "cost rises on both sides") {
		t.Errorf("verdict %s, p of equivalence %v, warnings %q", a.Row.Verdict, *a.Row.PEquivalence, a.Row.Warnings)
	}
	if math.Abs(a.sides.higher.estimate-3) > 1 || math.Abs(a.sides.lower.estimate-3) > 1 {
		t.Errorf("10 %% more costs %v, 10 %% fewer %v, want about 3", a.sides.higher.estimate, a.sides.lower.estimate)
	}
}

// The slope is read at the usual rate, also where rates lie mostly to one side.
func TestTheSlopeIsReadAtTheUsualRate(t *testing.T) {
	w := usual()
	w.effect, w.noise, w.valley, w.rate = 0, 0.05, 3, 0.06
	bouts := w.swim()
	for i := range bouts {
		bouts[i].Tags.RateTargetSPM, bouts[i].Designed = 60, true // set, and so no part of the usual
	}
	own := usual()
	own.effect, own.noise, own.valley, own.rate, own.swimmer, own.seed = 0, 0, 3, 0.0001, "a", 8
	for _, b := range own.swim() {
		b.Session += "-own"
		bouts = append(bouts, b)
	}
	a := only(Swimmer(bouts, settings()), Designed)
	if math.Abs(*a.Row.EffectPer10Pct) > 0.05 {
		t.Errorf("slope at the bottom of the valley: %v, want 0", *a.Row.EffectPer10Pct)
	}
}

// Kick moves rate and cost together; noted, it takes no part in the effect.
func TestNotedKickIsNoEffectOfRate(t *testing.T) {
	w := usual()
	w.effect, w.rate = 0, 0.03
	bouts := w.swim()
	for i := range bouts {
		if i%2 == 0 {
			bouts[i].Tags.Kick = "full"
			bouts[i].StrokeRateSPM *= 1.06
			bouts[i].Strokes25 *= 1.06
			bouts[i].Cost += 6
		} else {
			bouts[i].Tags.Kick = "light"
		}
	}
	a := only(Swimmer(bouts, settings()), Observed)
	if e := *a.Row.EffectPer10Pct; math.Abs(e) > 1 {
		t.Errorf("effect %v, want about 0", e)
	}
	if !strings.Contains(a.Row.PooledOver, "kick: full 40, light 40") {
		t.Errorf("pooled over %q", a.Row.PooledOver)
	}
	for i := range bouts {
		bouts[i].Tags.Kick = ""
	}
	if e := *only(Swimmer(bouts, settings()), Observed).Row.EffectPer10Pct; e < 1 {
		t.Errorf("without the note the effect is %v: the test would see nothing", e)
	}
}

func TestLoneBoutsAreLeftOut(t *testing.T) {
	bouts := usual().swim()
	for i := range 3 {
		b := bouts[0]
		b.Session = "lone-" + string(rune('a'+i))
		bouts = append(bouts, b)
	}
	a := only(Swimmer(bouts, settings()), Observed)
	if a.Row.Bouts != 80 || a.Row.Sessions != 8 || a.Fit.DroppedWhy != "alone-in-session 3" {
		t.Errorf("%d bouts in %d sessions; dropped %q", a.Row.Bouts, a.Row.Sessions, a.Fit.DroppedWhy)
	}
}

func TestNetBeatsStayOutOfRawCorrelations(t *testing.T) {
	s := settings()
	s.Cost.Measure = "net-beats"
	answers := Swimmer(usual().swim(), s)
	r, err := Squad(answers, s)
	if err != nil {
		t.Fatal(err)
	}
	if answers[0].Row.RawR != nil {
		t.Error("a swimmer has a raw correlation of net beats and score")
	}
	for _, row := range r.Overall {
		if row.Question == "raw" && (row.Estimate != nil || !strings.Contains(*row.Reason, "seconds")) {
			t.Errorf("%+v", row)
		}
	}
}

func costs(bouts []derive.Bout) []float64 {
	out := make([]float64, len(bouts))
	for i, b := range bouts {
		out[i] = b.Cost
	}
	return out
}

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

func BenchmarkSwimmer(b *testing.B) {
	w := usual()
	w.sessions, w.bouts = 12, 12
	bouts := w.swim()
	s := study.Default()
	b.ReportAllocs()
	for b.Loop() {
		Swimmer(bouts, s)
	}
}

func TestAReferencePaceNobodySwamIsRefused(t *testing.T) {
	s := settings()
	s.Analysis.ReferencePace = 60 // swum are about 80 s per 100 m
	a := only(Swimmer(usual().swim(), s), Observed)
	if a.enough || a.Row.Reason == nil || !strings.Contains(*a.Row.Reason, "outside the paces") {
		t.Errorf("enough %v, reason %v", a.enough, a.Row.Reason)
	}
	s.Analysis.ReferencePace = 80
	if a := only(Swimmer(usual().swim(), s), Observed); !a.enough {
		t.Errorf("a pace that was swum: %v", *a.Row.Reason)
	}
}
