package main

import (
	"math"
	"strings"
	"testing"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

func TestWhatItWouldTake(t *testing.T) {
	a := study.Default().Analysis // 6 sessions, 24 bouts, 2 % spread
	share := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		name            string
		bouts, sessions int
		spread, df      *float64
		want            string
	}{
		{"sessions and bouts", 9, 1, nil, nil, "5 more sessions with two usable bouts or more each | 15 more usable bouts"},
		{"one session", 60, 5, share(0.1), share(3), "1 more session with two usable bouts or more each"},
		{"rates too alike", 60, 8, share(0.011), share(6), "stroke rates that differ more at one pace: set them from about 15 % under to 15 % over the usual"},
		{"degrees of freedom", 82, 6, share(0.11), share(3.24), "about 2 more sessions (3.2 degrees of freedom, where 4 are needed)"},
		{"nearly enough", 82, 7, share(0.11), share(3.9), "about 1 more session (3.9 degrees of freedom, where 4 are needed)"},
	} {
		p := prospect{Bouts: c.bouts, Sessions: c.sessions, RateSpread: c.spread}
		if got := strings.Join(p.takes(&schemas.ScoreBySwimmer{DF: c.df}, a), " | "); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestProspectLooksWithinSessions(t *testing.T) {
	strap, cause := "strap", "no-heart-rate-at-end"
	bout := func(session string, speed float64, usable bool) schemas.Bout {
		b := schemas.Bout{Session: session, Stroke: "freestyle", SpeedMPS: speed, Usable: usable, HRSource: &strap}
		if !usable {
			b.Reason = &cause
		}
		return b
	}
	p := prospect{Stroke: "freestyle", Design: "observed", Sources: map[string]int{}, Unusable: map[string]int{}}
	p.look([]schemas.Bout{bout("a", 1, true), bout("a", math.Exp(0.02), true), bout("b", 2, true), bout("b", 2*math.Exp(0.02), true),
		bout("c", 1.5, true), bout("a", 9, false), {Session: "a", Stroke: "backstroke", SpeedMPS: 3, Usable: true}, {Session: "a", Stroke: "freestyle", Designed: true, SpeedMPS: 3, Usable: true}})
	if p.PaceSpread == nil || math.Abs(*p.PaceSpread-0.02/math.Sqrt2) > 1e-9 {
		t.Errorf("pace varies by %v", p.PaceSpread)
	}
	if p.Sources["strap"] != 4 || p.Unusable["no heart rate at its end"] != 1 {
		t.Errorf("sources %v, not usable %v", p.Sources, p.Unusable)
	}
}

func TestAnswerLine(t *testing.T) {
	for _, c := range []struct {
		all  []prospect
		want string
	}{
		{nil, "cannot be answered for anybody yet"},
		{[]prospect{{Swimmer: "a", Design: "observed"}}, "cannot be answered for anybody yet"},
		{[]prospect{{Swimmer: "a", Design: "observed", Answerable: true}, {Swimmer: "a", Design: "designed", Answerable: true}, {Swimmer: "b", Design: "designed"}},
			"Of 2 swimmers the question can be answered for 1 from bouts whose rate or instruction was set beforehand (what a rate costs), and for 1 from"},
		{[]prospect{{Swimmer: "a", Design: "all", Answerable: true}, {Swimmer: "b", Design: "observed", Answerable: true}}, "for 1 more from both kinds together"},
	} {
		if got := answerLine(c.all); !strings.Contains(got, c.want) {
			t.Errorf("%q, want %q in it", got, c.want)
		}
	}
}
