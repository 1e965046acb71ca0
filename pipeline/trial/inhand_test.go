package trial

import (
	"errors"
	"math"
	"testing"

	"lengthwise/stats/power"
)

// What a study in hand can tell is what the plan for a study of its scatter says.
func TestReachAgreesWithThePlan(t *testing.T) {
	a := usualStudy()
	for _, z := range []Sizes{{6, 8, 8}, {12, 10, 6}, {4, 20, 8}} {
		plan, err := a.ClosedForm(z)
		if err != nil {
			t.Fatal(err)
		}
		sampling, _ := a.swimmerVariance(z)
		se := math.Sqrt((sampling + a.Spread*a.Spread) / float64(z.Swimmers))
		h := InHand{Swimmers: z.Swimmers, Sessions: float64(z.Sessions), StdError: se, DF: float64(z.Swimmers - 1), Tau2: a.Spread * a.Spread}
		r, err := h.Reach(a.Effect, 0.8)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(r.Chance-plan.Squad) > 1e-9 || math.Abs(r.Half-plan.SquadHalf) > 1e-9 {
			t.Errorf("%+v: %+v, the plan %+v", z, r, plan)
		}
		// What it calls findable is found so often by the plan's own road.
		b := a
		b.Effect = r.Findable
		if p, err := b.ClosedForm(z); err != nil || math.Abs(p.Squad-0.8) > 1e-6 {
			t.Errorf("%+v: %v is found by %v, %v", z, r.Findable, p.Squad, err)
		}
		// The swimmers that it asks for are the plan's, one fewer are not enough.
		for n, enough := range map[int]bool{r.Swimmers: true, r.Swimmers - 1: false} {
			p, err := a.ClosedForm(Sizes{n, z.Sessions, z.Bouts})
			if err != nil || (p.Squad >= 0.8) != enough {
				t.Errorf("%+v: %d swimmers find it by %v, %v", z, n, p.Squad, err)
			}
		}
	}
}

func TestReachBySessions(t *testing.T) {
	// By hand: with no spread, four times the sessions halve the standard error.
	h := InHand{Swimmers: 10, Sessions: 6, StdError: 1, DF: 9}
	one, err := h.Reach(2, 0.8)
	if err != nil {
		t.Fatal(err)
	}
	h.StdError, h.Sessions = 0.5, 24
	four, err := h.Reach(2, 0.8)
	if err != nil || four.Sessions != one.Sessions || math.Abs(four.Half/one.Half-0.5) > 1e-9 || math.Abs(four.Findable/one.Findable-0.5) > 1e-6 {
		t.Errorf("%+v and %+v, %v", one, four, err)
	}
	// Where swimmers differ by more than their average can bear, no number of
	// sessions helps, and more swimmers do.
	h = InHand{Swimmers: 5, Sessions: 8, StdError: 1, DF: 4, Tau2: 4.9}
	r, err := h.Reach(2, 0.8)
	if err != nil || r.Sessions != 0 || r.Swimmers <= 5 {
		t.Errorf("%+v, %v", r, err)
	}
	for _, bad := range []InHand{{}, {Swimmers: 1, Sessions: 6, StdError: 1, DF: 3}, {Swimmers: 3, Sessions: 6, StdError: math.NaN(), DF: 2}, {Swimmers: 3, Sessions: 6, StdError: 1, DF: 2, Tau2: math.NaN()}} {
		if _, err := bad.Reach(2, 0.8); !errors.Is(err, power.ErrInput) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	if _, err := h.Reach(0, 0.8); !errors.Is(err, power.ErrInput) {
		t.Error(err)
	}
}
