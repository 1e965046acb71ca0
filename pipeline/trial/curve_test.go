package trial

import (
	"testing"

	"lengthwise/datasets/squad"
	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/screen"
	"lengthwise/schemas"
)

// specificationCurve asks a simulated squad under every specification, each
// reading derived anew.
func specificationCurve(t *testing.T, sc squad.Scenario) ([]schemas.Sensitivity, schemas.SensitivitySummary) {
	t.Helper()
	s := settings()
	o := squad.Simulate(sc)
	var parts []analyse.Part
	for i := range o.Swimmers {
		sw := &o.Swimmers[i]
		bouts, err := Bouts(sw, s)
		if err != nil {
			t.Fatal(err)
		}
		part := analyse.Ask(analyse.Person{}, bouts, s)
		sessions, _, err := normalise.Sessions(Recordings(sw), nil, s)
		if err != nil {
			t.Fatal(err)
		}
		screened, _ := screen.Sessions(sessions, s.Screen)
		u := underway{who: derive.Athlete{HRRestBPM: sw.RestBPM, HRMaxBPM: sw.MaxBPM}}
		readings := analyse.Readings(s)
		part.Curves = analyse.Curves(func(at int) []derive.Bout {
			read := *s
			read.Cost = readings[at].Cost
			u.bouts = nil
			for k := range screened {
				_, some := derive.Session(&screened[k], u.who, read.Cost)
				u.bouts = append(u.bouts, some...)
			}
			u.tau = derive.FirstTau(u.bouts)
			return u.finish(derive.Settle([]derive.OwnTau{u.tau}), &read)
		}, s)
		parts = append(parts, part)
	}
	r, err := analyse.Study(parts, s)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.SensitivitySummary) != 1 {
		t.Fatalf("%d curves", len(r.SensitivitySummary))
	}
	return r.Sensitivity, r.SensitivitySummary[0]
}

// Where there is an effect every specification sees it; where there is none,
// few do: specifications share their data, so that one unlucky squad is unlucky
// in most of them.
func TestSpecificationCurveOnKnownTruths(t *testing.T) {
	swimmers := 8
	if testing.Short() {
		swimmers = 4
	}
	for _, c := range []struct {
		name   string
		effect float64
	}{{"fewer strokes cheaper", 3}, {"fewer strokes dearer", -3}, {"nothing", 0}} {
		rows, out := specificationCurve(t, squad.DesignedBar(c.effect, 41, swimmers))
		t.Logf("%s: %d of %d specifications distinct; %.3f above zero, intervals above %.3f, below %.3f; %.2f to %.2f, own %.2f; most by %s (%.2f)",
			c.name, out.Distinct, out.Planned, *out.AboveZero, *out.IntervalAbove, *out.IntervalBelow, *out.Lowest, *out.Highest, *out.Own, out.MovesMost, *out.MovesBy)
		if int(out.Distinct) != len(rows) || out.Distinct >= out.Planned {
			t.Errorf("%s: %d rows, %d distinct of %d", c.name, len(rows), out.Distinct, out.Planned)
		}
		switch {
		case c.effect > 0 && (*out.IntervalAbove < 0.99 || *out.Lowest < 2 || *out.Highest > 4),
			c.effect < 0 && (*out.IntervalBelow < 0.99 || *out.Highest > -2 || *out.Lowest < -4),
			c.effect == 0 && (*out.Lowest < -1 || *out.Highest > 1):
			t.Errorf("%s: estimates %v to %v", c.name, *out.Lowest, *out.Highest)
		}
	}
}
