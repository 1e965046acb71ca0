package analyse

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"lengthwise/schemas"
	"lengthwise/stats/linear"
)

func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		name            string
		estimate, se, p float64
		want            Verdict
	}{
		{"above zero", 4, 0.5, 1e-4, Tracks},
		{"below zero", -4, 0.5, 1e-4, RunsAgainst},
		{"inside the smallest effect", 0.1, 0.4, 0.8, PracticallyNone},
		{"significant, yet inside: none wins", 0.6, 0.2, 0.001, PracticallyNone},
		{"wide", 1, 3, 0.7, Undecided},
	} {
		a := &Answer{enough: true, steady: 1, sides: straight(c.estimate, c.se), effect: linear.Coefficient{Estimate: c.estimate, StdError: c.se, DF: 20, PValue: c.p}}
		if err := judge([]*Answer{a}, 2); err != nil {
			t.Fatal(err)
		}
		if Verdict(a.Row.Verdict) != c.want {
			t.Errorf("%s: %s, want %s", c.name, a.Row.Verdict, c.want)
		}
	}
}

// straight is what lies to both sides of a straight line's slope.
func straight(per10, stdError float64) sides {
	down := math.Log(0.9) / math.Log(1.1)
	return sides{higher: side{per10, stdError}, lower: side{per10 * down, -stdError * down}, df: 20}
}

// Where heart rate was still rising in most bouts, effects read too small, and
// a small one is no sign of none.
func TestUnsteadyReadingsAreNoSignOfNone(t *testing.T) {
	a := &Answer{enough: true, steady: 0.4, sides: straight(0.1, 0.3), effect: linear.Coefficient{Estimate: 0.1, StdError: 0.3, DF: 20, PValue: 0.7}}
	if err := judge([]*Answer{a}, 2); err != nil {
		t.Fatal(err)
	}
	if a.Row.Verdict != string(Undecided) || *a.Row.PEquivalence > 0.05 {
		t.Errorf("%s, p of equivalence %v", a.Row.Verdict, *a.Row.PEquivalence)
	}
}

func TestFamilyIsAdjustedTogether(t *testing.T) {
	// p = 0.02 stands alone, and falls among twenty swimmers who show nothing.
	family := func(others int) *Answer {
		first := &Answer{enough: true, effect: linear.Coefficient{Estimate: 5, StdError: 2, DF: 20, PValue: 0.02}}
		all := []*Answer{first}
		for i := range others {
			all = append(all, &Answer{enough: true, effect: linear.Coefficient{Estimate: 0.1, StdError: 4, DF: 20, PValue: 0.5 + 0.02*float64(i)}})
		}
		if err := judge(all, 2); err != nil {
			t.Fatal(err)
		}
		return first
	}
	if got := family(0).Row.Verdict; got != string(Tracks) {
		t.Errorf("alone: %s", got)
	}
	crowd := family(20)
	if crowd.Row.Verdict != string(Undecided) || math.Abs(*crowd.Row.QValue-0.42) > 1e-12 {
		t.Errorf("in a family of 21: %s, q %v, want undecided and 0.42", crowd.Row.Verdict, *crowd.Row.QValue)
	}
}

func squadAnswers(rename func(int) string, order []int) []Answer {
	var answers []Answer
	for _, i := range order {
		w := usual()
		w.seed, w.swimmer, w.effect = uint64(100+i), rename(i), -2+0.5*float64(i%4)
		answers = append(answers, Swimmer(w.swim(), settings())...)
	}
	return answers
}

func TestNamesAndOrderChangeNoNumber(t *testing.T) {
	forward, backward := []int{0, 1, 2, 3, 4, 5}, []int{5, 4, 3, 2, 1, 0}
	one, err := Squad(squadAnswers(func(i int) string { return fmt.Sprint("a", i) }, forward), settings())
	if err != nil {
		t.Fatal(err)
	}
	other, err := Squad(squadAnswers(func(i int) string { return fmt.Sprint("z", 9-i) }, backward), settings())
	if err != nil {
		t.Fatal(err)
	}
	for i := range one.Overall {
		if a, b := digits(one.Overall[i]), digits(other.Overall[i]); a != b {
			t.Errorf("overall row %d differs:\n%s\n%s", i, a, b)
		}
	}
	for i := range one.BySwimmer {
		a, b := one.BySwimmer[i], other.BySwimmer[len(other.BySwimmer)-1-i]
		a.Swimmer, b.Swimmer = "", ""
		if digits(a) != digits(b) {
			t.Errorf("swimmer %d differs:\n%s\n%s", i, digits(a), digits(b))
		}
	}
}

// digits writes a row with every number to the last bit.
func digits(row any) string {
	var b strings.Builder
	write := func(name string, v *float64) {
		if v == nil {
			fmt.Fprintf(&b, "%s nil ", name)
			return
		}
		fmt.Fprintf(&b, "%s %x ", name, math.Float64bits(*v))
	}
	switch r := row.(type) {
	case schemas.ScoreOverall:
		fmt.Fprint(&b, r.Question, r.Design, r.Measure, r.Score, r.Swimmers, r.Bouts, r.PooledOver, " ")
		for i, v := range []*float64{r.Estimate, r.StdError, r.ConfLow, r.ConfHigh, r.PredictLow, r.PredictHigh, r.Null, r.Tau2, r.I2, r.PValue} {
			write(fmt.Sprint(i), v)
		}
	case schemas.ScoreBySwimmer:
		fmt.Fprint(&b, r.Design, r.Verdict, r.Bouts, r.Pairs, " ")
		for i, v := range []*float64{r.EffectPer10Pct, r.EffectLow, r.EffectHigh, r.DF, r.PValue, r.QValue, r.RawR, r.RawRLow, r.RawRHigh,
			r.PartialR, r.Concordance, r.ConcordanceLow, r.ConcordanceHigh, r.ConcordanceNull, r.ConcordanceP, r.RobustnessValue} {
			write(fmt.Sprint(i), v)
		}
	}
	return b.String()
}

func TestSquadAnswersEveryQuestion(t *testing.T) {
	answers := squadAnswers(func(i int) string { return fmt.Sprint("a", i) }, []int{0, 1, 2, 3, 4, 5, 6, 7})
	for i := range answers { // of two of them kick was noted, of the one with too little data in a pool of its own
		if i < 2 {
			answers[i].pooledOver[keyNumber(t, "kick")] = map[string]int{"light": 40, "full": 40}
		}
	}
	little := usual()
	little.swimmer, little.sessions = "little", 2
	answers = append(answers, Swimmer(little.swim(), settings())...)
	answers[len(answers)-1].pooledOver[keyNumber(t, "pool")] = map[string]int{"50 m": 20}
	r, err := Squad(answers, settings())
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]schemas.ScoreOverall{}
	for _, row := range r.Overall {
		rows[row.Question+"/"+row.Measure+"/"+row.Score] = row
	}
	for _, key := range []string{"raw/correlation/score", "raw/correlation/score_recorded", "matched-pace/effect_per_10pct/score",
		"matched-pace/concordance/score", "between/correlation/score"} {
		row, ok := rows[key]
		if !ok || row.Estimate == nil {
			t.Errorf("%s: no estimate (%+v)", key, row)
			continue
		}
		if *row.ConfLow > *row.Estimate || *row.ConfHigh < *row.Estimate {
			t.Errorf("%s: %v is outside %v to %v", key, *row.Estimate, *row.ConfLow, *row.ConfHigh)
		}
	}
	effect := rows["matched-pace/effect_per_10pct/score"]
	if effect.Swimmers != 8 || effect.NDropped != 1 || effect.DroppedWhy != "too little data 1" {
		t.Errorf("pooled over %d swimmers, dropped %d: %q", effect.Swimmers, effect.NDropped, effect.DroppedWhy)
	}
	if effect.PooledOver != "kick: not stated 480, full 80, light 80" {
		t.Errorf("the average was pooled over %q: only those in it count", effect.PooledOver)
	}
	if raw := rows["raw/correlation/score"]; !strings.Contains(raw.PooledOver, "50 m 20") {
		t.Errorf("the raw correlation was pooled over %q: it holds everybody", raw.PooledOver)
	}
	if *effect.PredictLow > *effect.ConfLow || *effect.PredictHigh < *effect.ConfHigh {
		t.Error("the prediction interval lies within the interval of the mean")
	}
	if concordance := rows["matched-pace/concordance/score"]; *concordance.Estimate >= 0.5 || *concordance.PValue > 0.05 {
		t.Errorf("effects below zero: concordance %v, p %v", *concordance.Estimate, *concordance.PValue)
	}
	if len(r.BySwimmer) != 9 || len(r.Fits) != 9 {
		t.Errorf("%d rows of swimmers, %d fits, want 9", len(r.BySwimmer), len(r.Fits))
	}
}

func TestBasisUnknownStaysOutAcrossSessions(t *testing.T) {
	bouts := usual().swim()
	for i := range bouts {
		bouts[i].Basis, bouts[i].Score25 = "unknown", nan
	}
	a := only(Swimmer(bouts, settings()), Observed)
	if a.Row.RawR != nil || a.common != nil {
		t.Error("bouts of unknown basis entered a comparison across sessions")
	}
	if a.Row.EffectPer10Pct == nil || !strings.Contains(a.Row.Warnings, "counting basis unknown in 80 bouts") {
		t.Errorf("within sessions the effect stands; warnings %q", a.Row.Warnings)
	}
}

// keyNumber is the place of a key among those that answers are pooled over.
func keyNumber(t *testing.T, name string) int {
	t.Helper()
	for i, key := range pooledKeys() {
		if key.name == name {
			return i
		}
	}
	t.Fatalf("no key %q", name)
	return -1
}
