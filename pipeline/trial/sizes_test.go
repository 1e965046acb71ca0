package trial

import (
	"context"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"
)

func usualStudy() Assumed {
	return Assumed{Designed: true, Effect: 2, Spread: 1.5, Noise: 5, Range: 20, Steps: 5, OwnRate: 4}
}

// The bar: power by simulation, through all stages, within 3 points of the formula,
// beyond what so few squads leave open (two standard errors); with LENGTHWISE_LONG
// there are enough of them for the bar itself.
func TestPowerByFormulaAndBySimulation(t *testing.T) {
	trials := 120
	if testing.Short() {
		trials = 30
	}
	if long() {
		trials = 2000
	}
	for _, c := range []struct {
		name string
		edit func(*Assumed)
		z    Sizes
	}{
		{"as usual", func(*Assumed) {}, Sizes{6, 8, 8}},
		{"narrow rates, no spread", func(a *Assumed) { a.Effect, a.Spread, a.Noise, a.Range, a.Steps = -2.5, 0, 6, 10, 3 }, Sizes{4, 10, 9}},
		{"small effect, many swimmers", func(a *Assumed) { a.Effect = 1 }, Sizes{12, 8, 8}},
	} {
		a := usualStudy()
		c.edit(&a)
		form, err := a.ClosedForm(c.z)
		if err != nil {
			t.Fatal(err)
		}
		s, err := a.Simulate(context.Background(), c.z, trials, 2, 7, nil)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: squad %.3f by formula, %.3f (%.3f) simulated; swimmer %.3f, %.3f (%.3f); half widths %.2f and %.2f, %.2f and %.2f",
			c.name, form.Squad, s.Squad, s.SquadError, form.Swimmer, s.Swimmer, s.SwimmerError, form.SquadHalf, s.SquadHalf, form.SwimmerHalf, s.SwimmerHalf)
		if math.Abs(form.Squad-s.Squad) > 0.03+2*math.Max(s.SquadError, 1/float64(trials)) {
			t.Errorf("%s: power of the squad %.3f by formula, %.3f simulated (standard error %.3f)", c.name, form.Squad, s.Squad, s.SquadError)
		}
		// Swimmers of one squad share nothing, so that their error is smaller.
		if math.Abs(form.Swimmer-s.Swimmer) > 0.03+2*s.SwimmerError {
			t.Errorf("%s: power of a swimmer %.3f by formula, %.3f simulated (standard error %.3f)", c.name, form.Swimmer, s.Swimmer, s.SwimmerError)
		}
		if r := s.SquadHalf / form.SquadHalf; r < 0.85 || r > 1.15 {
			t.Errorf("%s: half width %.2f by formula, %.2f simulated", c.name, form.SquadHalf, s.SquadHalf)
		}
		if s.Wrong > 0.02 {
			t.Errorf("%s: %.3f of squads on the wrong side", c.name, s.Wrong)
		}
	}
}

// Nothing is found where there is nothing, but as often as the level says.
func TestPowerOfNothing(t *testing.T) {
	trials := 150
	if testing.Short() {
		trials = 30
	}
	if long() {
		trials = 2000
	}
	a := usualStudy()
	a.Effect = 0
	s, err := a.Simulate(context.Background(), Sizes{6, 8, 8}, trials, 2, 11, nil)
	if err != nil {
		t.Fatal(err)
	}
	share := s.Squad + s.Wrong
	t.Logf("%.3f of %d squads tell an average from nothing, swimmers one-sided %.3f", share, trials, s.Swimmer)
	if share > alpha+3*math.Sqrt(alpha*(1-alpha)/float64(trials)) {
		t.Errorf("%.3f of squads find what is not there", share)
	}
	form, err := a.ClosedForm(Sizes{6, 8, 8})
	if err != nil || math.Abs(form.Squad-alpha/2) > 1e-6 {
		t.Errorf("by formula %v on either side, %v", form.Squad, err)
	}
}

func TestSimulatedPowerHasOneAnswer(t *testing.T) {
	var both [2]Power
	for i, workers := range []int{1, 3} {
		var err error
		if both[i], err = usualStudy().Simulate(context.Background(), Sizes{3, 7, 6}, 6, workers, 5, nil); err != nil {
			t.Fatal(err)
		}
	}
	if !reflect.DeepEqual(both[0], both[1]) {
		t.Errorf("%+v with one worker, %+v with three", both[0], both[1])
	}
}

// More of anything finds more, and an effect and its concordance belong together.
func TestClosedFormGrows(t *testing.T) {
	a := usualStudy()
	last := 0.0
	for _, n := range []int{3, 5, 8, 20, 100} {
		p, err := a.ClosedForm(Sizes{n, 8, 8})
		if err != nil || p.Squad <= last {
			t.Errorf("%d swimmers: %v after %v, %v", n, p.Squad, last, err)
		}
		last = p.Squad
	}
	for _, concordance := range []float64{0.3, 0.5, 0.62, 0.9} {
		effect, err := a.EffectOf(concordance)
		a := a
		a.Effect = effect
		if err != nil || math.Abs(a.concordance()-concordance) > 1e-9 {
			t.Errorf("concordance %v: effect %v gives %v, %v", concordance, effect, a.concordance(), err)
		}
	}
	for _, z := range []Sizes{{}, {0, 8, 8}, {5, 1, 2}, {5, 8, 1}} {
		if _, err := a.ClosedForm(z); err == nil {
			t.Errorf("%+v has a power", z)
		}
	}
}

func TestChangePower(t *testing.T) {
	c := AssumedChange{Schedule: Alternating, Effect: 4, Spread: 1, Session: 4, Bout: 5}
	z := Sizes{12, 12, 8}
	p, err := c.ClosedForm(z)
	// By hand: noise 16 + 25/8; 12 sessions, half of them on: 3 of information, the
	// trend takes next to nothing.
	se := math.Sqrt((19.125/3 + 1) / 12)
	if err != nil || p.Inflation > 1.05 || math.Abs(p.SquadHalf/(2.2010*se)-1) > 0.03 || p.Ways != 64 || p.SmallestP != 1.0/32 || !p.Causal {
		t.Errorf("%+v, %v; standard error %v", p, err, se)
	}
	c.Schedule = Once
	if p, err := c.ClosedForm(z); err != nil || p.Causal || p.Ways != 7 || p.Squad != 0 || p.Inflation < 3.8 || p.Inflation > 4.3 {
		t.Errorf("one date: %+v, %v", p, err)
	}
	c.Schedule = Staggered
	if p, err := c.ClosedForm(Sizes{5, 12, 8}); err != nil || math.Abs(p.Ways-120) > 1e-9 || math.Abs(p.SmallestP-1.0/120) > 1e-12 || p.Squad == 0 {
		t.Errorf("staggered: %+v, %v", p, err)
	}
	c.Schedule = "by mood"
	if _, err := c.ClosedForm(z); err == nil || !strings.Contains(err.Error(), "by mood") {
		t.Error(err)
	}
}

// Each session holds each step as often as it goes, and orders differ.
func TestDeckDealsRatesEvenly(t *testing.T) {
	d := Deck{Swimmers: []DeckSwimmer{{"mira", 50}, {"ivo", 0}}, Sessions: 6, Bouts: 8, RangePct: 20, Steps: 5, DistanceM: 200, Pool: "25m", Seed: 3}
	all, orders := map[int]int{}, map[string]bool{}
	for _, s := range d.Laid() {
		own := map[int]int{}
		order := ""
		for _, b := range s.Bouts {
			own[b.Pct]++
			all[b.Pct]++
			order += string(rune(b.Pct))
			if want := b.Pct / 2; s.Swimmer == "mira" && b.TargetSPM != want || s.Swimmer == "ivo" && b.TargetSPM != 0 {
				t.Errorf("%+v of %s", b, s.Swimmer)
			}
		}
		orders[order] = true
		for pct, n := range own {
			if n < 1 || n > 2 || len(own) != 5 {
				t.Errorf("%d %% is swum %d times, %d steps", pct, n, len(own))
			}
		}
	}
	for pct, n := range all {
		if n < 18 || n > 21 {
			t.Errorf("%d %% is swum %d times of 96", pct, n)
		}
	}
	if len(orders) < 10 {
		t.Errorf("%d orders for 12 sessions", len(orders))
	}
	page, err := d.Page()
	if err != nil || strings.Count(string(page), "<section>") != 13 || !strings.Contains(string(page), "nobody swims alone") {
		t.Errorf("%v, %d sections", err, strings.Count(string(page), "<section>"))
	}
}

func long() bool { return os.Getenv("LENGTHWISE_LONG") != "" }
