package analyse

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/ratio"
)

// valley is a designed squad of one: rates set from -20 to +20 % of usual at
// three paces, cost a valley in ln rate whose floor moves with pace.
type valley struct {
	seed             uint64
	sessions, bouts  int
	depth            float64 // cost at 10 % off the cheapest rate; below zero: a hill
	best, shift      float64 // ln(cheapest/usual) at the reference speed; its change with ln speed
	noise            float64
	misreads         float64 // standard deviation of ln of the counted rate about the true one
	instructed, free bool    // told instead of set; as the swimmer liked
	alone            bool    // without sessions that tell the usual rate
	pools            []float64
}

// swim makes the bouts. The usual rate at ln speed x is 64 exp(0.7 x), lower by
// a tenth in a pool of 25 m than in others.
func (v valley) swim() []derive.Bout {
	stream := rand.New(rand.NewPCG(v.seed, 99))
	steps := []float64{-0.2, -0.1, 0, 0.1, 0.2}
	words := []string{"fewest-strokes", "fewest-strokes", "usual", "quicker-rate", "quicker-rate"}
	var out []derive.Bout
	add := func(session int, step, x float64, told string, set bool) {
		pool := 25.0
		if len(v.pools) > 0 {
			pool = v.pools[session%len(v.pools)]
		}
		r := math.Log1p(step) + 0.015*stream.NormFloat64()
		lnUsual := math.Log(64) + 0.7*x
		if pool == 25 {
			lnUsual += math.Log(0.9)
		}
		best := v.best + v.shift*x
		cost := 140 + 4*float64(session%3) + 140*x + 90*x*x + v.depth/(per10Percent*per10Percent)*(r*r-2*r*best) + v.noise*stream.NormFloat64()
		minutes := 4 * float64(len(out)%v.bouts)
		b := bout("a", session, len(out)%v.bouts, referenceMPS*math.Exp(x), math.Exp(lnUsual+r+v.misreads*stream.NormFloat64()), cost, minutes)
		b.PoolM = pool
		if set {
			b.Designed = true
			b.Tags.RateTargetSPM = math.Round(64 * math.Exp(0.7*x) * (1 + step))
		}
		if told != "" {
			b.Designed, b.Tags.Instruction = true, told
		}
		out = append(out, b)
	}
	for s := range v.sessions {
		for range v.bouts {
			k := stream.IntN(len(steps))
			x := []float64{-0.05, 0, 0.05}[stream.IntN(3)] + 0.008*stream.NormFloat64()
			switch {
			case v.instructed:
				add(s, steps[k], x, words[k], false)
			default:
				add(s, steps[k], x, "", !v.free)
			}
		}
	}
	// Sessions as the swimmer likes, which tell the usual rate.
	for s := range 4 {
		for range v.bouts {
			if !v.free && !v.alone {
				add(v.sessions+s, 0, 0.04*stream.NormFloat64(), "", false)
			}
		}
	}
	return out
}

func aValley() valley {
	return valley{seed: 3, sessions: 12, bouts: 12, depth: 3, best: 0.05, shift: 0.5, noise: 2}
}

// at picks the row of a design and pace role.
func at(rows []schemas.EconomicalRate, d Design, role string) schemas.EconomicalRate {
	for _, row := range rows {
		if row.Design == string(d) && row.PaceRole == role {
			return row
		}
	}
	return schemas.EconomicalRate{}
}

func ask(v valley) []schemas.EconomicalRate { return economicalRate(Person{}, v.swim(), settings()) }

func TestTheCheapestRateIsNamedAndMovesWithPace(t *testing.T) {
	v := aValley()
	rows := ask(v)
	for _, role := range []string{"reference", "slower", "quicker"} {
		row := at(rows, Designed, role)
		if row.RatePctOfUsual == nil {
			t.Fatalf("%s: no rate is named: %+v", role, row.Reason)
		}
		x := math.Log(100 / row.PaceSPer100M / referenceMPS)
		truth := 100 * math.Exp(v.best+v.shift*x)
		if *row.ConfLow > truth || *row.ConfHigh < truth || math.Abs(*row.RatePctOfUsual-truth) > 3 {
			t.Errorf("%s: %.1f (%.1f to %.1f) %% of usual, the truth is %.1f", role, *row.RatePctOfUsual, *row.ConfLow, *row.ConfHigh, truth)
		}
		if row.SetType != setBounded || row.Turn != turnMinimum || row.Place != placeWithin || row.UsualFrom != "own" {
			t.Errorf("%s: %s set of a %s, %s, usual from %s", role, row.SetType, row.Turn, row.Place, row.UsualFrom)
		}
		if usual := 0.9 * 64 * math.Exp(0.7*x); math.Abs(*row.UsualRateSPM/usual-1) > 0.01 ||
			math.Abs(*row.RateSPM-*row.UsualRateSPM**row.RatePctOfUsual/100) > 1e-9 {
			t.Errorf("%s: usual rate %.2f, the truth is %.2f; named %.2f", role, *row.UsualRateSPM, usual, *row.RateSPM)
		}
		if *row.CostAtBest > *row.CostAtUsual || *row.ScoreAdvice != *row.LowSwum || !(*row.ScoreAdviceLow < *row.ScoreAdviceCost) {
			t.Errorf("%s: cost %v at best, %v at usual; the score advises %v", role, *row.CostAtBest, *row.CostAtUsual, *row.ScoreAdvice)
		}
		b := math.Log(*row.ScoreAdvice / 100)
		if want := 3 / (per10Percent * per10Percent) * (b*b - 2*b*(v.best+v.shift*x)); want < *row.ScoreAdviceLow || want > *row.ScoreAdviceHigh {
			t.Errorf("%s: the score's advice costs %.1f to %.1f, the truth is %.1f", role, *row.ScoreAdviceLow, *row.ScoreAdviceHigh, want)
		}
	}
	if low, high := at(rows, Designed, "slower"), at(rows, Designed, "quicker"); !(*low.RatePctOfUsual < *high.RatePctOfUsual) {
		t.Error("the cheapest rate does not move with pace")
	}
}

// Whole-length rates differ between pools; both pools' bouts share one curve.
func TestPoolsHaveLevelsOfTheirOwn(t *testing.T) {
	v := aValley()
	v.pools = []float64{25, 50}
	row := at(ask(v), Designed, "reference")
	if row.RatePctOfUsual == nil || math.Abs(*row.RatePctOfUsual-100*math.Exp(v.best)) > 2.5 {
		t.Fatalf("named %v, the truth is %.1f (%v)", row.RatePctOfUsual, 100*math.Exp(v.best), row.Reason)
	}
	want := 0.9 * 64.0
	if *row.PoolM == 50 {
		want = 64
	}
	if x := math.Log(100 / row.PaceSPer100M / referenceMPS); math.Abs(*row.UsualRateSPM/(want*math.Exp(0.7*x))-1) > 0.02 {
		t.Errorf("usual rate %v in the pool of %v m, want about %v", *row.UsualRateSPM, *row.PoolM, want)
	}
}

func TestNoRateIsNamed(t *testing.T) {
	yes := true
	cases := []struct {
		name   string
		change func(*valley)
		person Person
		alter  func([]derive.Bout)
		place  string
		reason string
	}{
		{name: "a hill", change: func(v *valley) { v.depth = -3 }, place: placeEitherEnd, reason: "cost is highest between"},
		{name: "cheapest beyond the quickest", change: func(v *valley) { v.best, v.shift = 0.5, 0 }, place: placeQuickest, reason: "at the quickest rate swum"},
		{name: "cheapest beyond the slowest", change: func(v *valley) { v.best, v.shift = -0.5, 0 }, place: placeSlowest, reason: "at the slowest rate swum"},
		{name: "flat", change: func(v *valley) { v.depth = 0 }, place: placeOpen, reason: "too flat for its errors"},
		{name: "medication", person: Person{RateAlteringMedication: &yes}, place: placeOpen, reason: "medication"},
		{name: "few sessions", change: func(v *valley) { v.sessions = 5 }, place: placeOpen, reason: "5 sessions with two bouts or more, fewer than 6"},
		{name: "one rate", alter: func(bouts []derive.Bout) {
			for i := range bouts {
				if bouts[i].Designed {
					x := math.Log(bouts[i].SpeedMPS / referenceMPS)
					bouts[i].StrokeRateSPM = 60 * math.Exp(0.7*x)
				}
			}
		}, place: placeOpen, reason: "no curve"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			v := aValley()
			if c.change != nil {
				c.change(&v)
			}
			bouts := v.swim()
			if c.alter != nil {
				c.alter(bouts)
			}
			row := at(economicalRate(c.person, bouts, settings()), Designed, "reference")
			if row.RatePctOfUsual != nil || row.RateSPM != nil || row.CostAtBest != nil {
				t.Fatalf("named %v", *row.RatePctOfUsual)
			}
			if row.Reason == nil || !strings.Contains(*row.Reason, c.reason) || row.Place != c.place {
				t.Errorf("%s: %v, want %s: %q", row.Place, row.Reason, c.place, c.reason)
			}
			if c.name == "medication" && (row.SlopePer10Pct != nil || row.SetType != setNone || row.Direction != directionOpen || row.ScoreAdviceCost != nil) {
				t.Errorf("something is left that could be taken for advice: %+v", row)
			}
		})
	}
}

func TestObservedBoutsGiveADirectionAtMost(t *testing.T) {
	v := aValley()
	v.free, v.best, v.noise = true, 0.2, 1
	row := at(ask(v), Observed, "reference")
	if row.RatePctOfUsual != nil || row.SetType != setNone || row.Turn != turnNone || row.ConfLow != nil || row.PlainPctOfUsual != nil {
		t.Fatalf("observed bouts say where cost turns: %+v", row)
	}
	if row.Direction != directionQuicker || row.SlopeHigh == nil || *row.SlopeHigh >= 0 {
		t.Errorf("direction %s, slope up to %v", row.Direction, row.SlopeHigh)
	}
}

// Miscounts flatten a valley and move its floor towards the middle of the rates
// swum. The rates set take both off again, and so does the size of the error.
func TestCountingErrorIsTakenOff(t *testing.T) {
	stated := settings()
	stated.Analysis.CountErrorBout = 0.06
	recorder := func(bouts []derive.Bout) {
		for i := range bouts {
			bouts[i].Count.By = derive.ByRecorder
		}
	}
	cases := []struct {
		name       string
		v          func(*valley)
		s          *study.Study
		alter      func([]derive.Bout)
		correction string
		from       string
		named      bool
	}{
		{"rates set, hand counts", func(v *valley) { v.misreads = 0.06 }, settings(), nil, correctedBySet, errorBounded, true},
		{"rates set, recorder", func(v *valley) { v.misreads = 0.06 }, settings(), recorder, correctedBySet, errorBounded, true},
		{"rates set, exact counts", func(*valley) {}, settings(), nil, correctedBySet, errorRounding, true},
		{"told, stated error", func(v *valley) { v.misreads, v.instructed = 0.06, true }, stated, recorder, correctedBySet, errorStated, true},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			v := aValley()
			v.best, v.shift = 0.1, 0
			v.sessions = 30
			c.v(&v)
			bouts := v.swim()
			if c.alter != nil {
				c.alter(bouts)
			}
			row := at(economicalRate(Person{}, bouts, c.s), Designed, "reference")
			if row.Correction != c.correction || row.ReliabilityFrom != c.from {
				t.Errorf("corrected by %s, reliability from %s; want %s and %s", row.Correction, row.ReliabilityFrom, c.correction, c.from)
			}
			truth := 100 * math.Exp(v.best)
			if c.named && (row.RatePctOfUsual == nil || *row.ConfLow > truth || *row.ConfHigh < truth) {
				t.Errorf("named %v (%v to %v), the truth is %.1f; %v", row.RatePctOfUsual, *row.ConfLow, *row.ConfHigh, truth, row.Reason)
			}
			if v.misreads > 0 && row.PlainPctOfUsual != nil && math.Abs(*row.RatePctOfUsual-truth) > math.Abs(*row.PlainPctOfUsual-truth) {
				t.Errorf("corrected %.1f, plain %.1f, truth %.1f", *row.RatePctOfUsual, *row.PlainPctOfUsual, truth)
			}
		})
	}
}

// Where a recorder counted and nothing is known of its errors, and the rates
// swum hardly follow what was set, nothing is named.
func TestUnknownErrorsWithhold(t *testing.T) {
	v := aValley()
	v.misreads = 0.3
	bouts := v.swim()
	for i := range bouts {
		bouts[i].Count.By = derive.ByRecorder
	}
	row := at(economicalRate(Person{}, bouts, settings()), Designed, "reference")
	if row.RatePctOfUsual != nil || row.Reason == nil || !strings.Contains(*row.Reason, "reliability of the stroke rate") {
		t.Errorf("named %v, because %v", row.RatePctOfUsual, row.Reason)
	}
}

func TestOnlyAKnownMinimumAmongTheRatesSwumIsACheapestRate(t *testing.T) {
	bounded, rays := ratio.Set{Kind: ratio.Interval, Low: -0.1, High: 0.1}, ratio.Set{Kind: ratio.TwoRays, Low: -0.3, High: 0.3}
	cases := []struct {
		name  string
		point ratio.TurningPoint
		want  bool
	}{
		{"a minimum", ratio.TurningPoint{Estimate: 0.01, Minimum: true, Set: bounded}, true},
		{"a maximum", ratio.TurningPoint{Estimate: 0.01, Set: bounded}, false},
		{"hardly known", ratio.TurningPoint{Estimate: 0.01, Minimum: true, Set: rays}, false},
		{"its set leaves the slowest rates", ratio.TurningPoint{Estimate: 0.01, Minimum: true, Set: ratio.Set{Kind: ratio.Interval, Low: -0.9, High: 0.1}}, true},
		{"its set holds every rate swum", ratio.TurningPoint{Estimate: 0.01, Minimum: true, Set: ratio.Set{Kind: ratio.Interval, Low: -0.9, High: 0.3}}, false},
		{"slower than swum", ratio.TurningPoint{Estimate: -0.21, Minimum: true, Set: bounded}, false},
		{"quicker than swum", ratio.TurningPoint{Estimate: 0.19, Minimum: true, Set: bounded}, false},
	}
	for _, c := range cases {
		if within(c.point, -0.2, 0.18) != c.want {
			t.Errorf("%s: %v", c.name, !c.want)
		}
	}
}

// Without bouts at a rate of the swimmer's own choice the middle of the rates set
// stands for the usual one, however many bouts each had, and rises with pace.
func TestTheMiddleOfTheRatesSetStandsForTheUsualOne(t *testing.T) {
	v := aValley()
	v.alone, v.best, v.shift, v.sessions, v.pools = true, 0.04, 0.3, 16, []float64{25, 25, 50}
	var bouts []derive.Bout
	for i, b := range v.swim() {
		usual := 64 * math.Exp(0.7*math.Log(b.SpeedMPS/referenceMPS))
		if b.Tags.RateTargetSPM > 0.95*usual || i%3 > 0 { // the slow ones half as often
			bouts = append(bouts, b)
		}
	}
	for _, role := range []string{"slower", "reference", "quicker"} {
		row := at(economicalRate(Person{}, bouts, settings()), Designed, role)
		x := math.Log(100 / row.PaceSPer100M / referenceMPS)
		if row.UsualFrom != "set" || row.UsualRateSPM == nil {
			t.Fatalf("%s: usual rate from %s", role, row.UsualFrom)
		}
		want := 64 * math.Exp(0.7*x)
		if *row.PoolM == 25 {
			want *= 0.9
		}
		if math.Abs(*row.UsualRateSPM/want-1) > 0.012 {
			t.Errorf("%s: usual rate %.2f in the pool of %v m, want %.2f", role, *row.UsualRateSPM, *row.PoolM, want)
		}
		truth := 100 * math.Exp(v.best+v.shift*x)
		if row.RatePctOfUsual == nil || *row.ConfLow > truth || *row.ConfHigh < truth {
			t.Errorf("%s: %v (%v to %v), the truth is %.1f", role, *row.RatePctOfUsual, *row.ConfLow, *row.ConfHigh, truth)
		}
	}
	bouts[3].Tags.RateTargetSPM, bouts[3].Tags.Instruction = nan, "quicker-rate"
	if row := at(economicalRate(Person{}, bouts, settings()), Designed, "reference"); row.UsualFrom != "all" {
		t.Errorf("one bout had no rate set, and the usual rate is from %s", row.UsualFrom)
	}
}

// A count of which nobody knows whether it is of arms or cycles gives no rate to
// compare across sessions.
func TestUnknownCountsNameNothing(t *testing.T) {
	bouts := aValley().swim()
	for i := range bouts {
		bouts[i].Basis = study.UnknownBasis
	}
	row := at(economicalRate(Person{}, bouts, settings()), Designed, "reference")
	if row.RatePctOfUsual != nil || row.UsualRateSPM != nil || row.Reason == nil || !strings.Contains(*row.Reason, "arms or cycles") {
		t.Errorf("%v %% of %v, because %v", row.RatePctOfUsual, row.UsualRateSPM, row.Reason)
	}
	for _, c := range costByRate(bouts, settings()) {
		for _, r := range c.Rows {
			if r.Change != nil {
				t.Errorf("%s: %v %% costs %v", r.Design, r.RatePctOfUsual, *r.Change)
			}
		}
	}
}
