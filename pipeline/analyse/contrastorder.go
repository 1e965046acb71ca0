package analyse

import (
	"math"

	"lengthwise/pipeline/study"
)

// confused says in words why a level cannot be told from order or pace.
func (l *levels) confused(r *rows, at string) string {
	if math.Abs(l.along(r, at, true)) > inseparableRate {
		return "its bouts come first or last in their sessions, so that tiredness cannot be told from it: shuffle them"
	}
	if math.Abs(l.along(r, at, false)) > inseparable {
		return "its bouts were swum at a pace of their own"
	}
	return ""
}

// along is the correlation, within sessions, of a level against the reference
// with the order of the bouts, or with their pace.
func (l *levels) along(r *rows, at string, order bool) float64 {
	var session []int
	var is, minutes, pace []float64
	for i := range r.bouts {
		if v := l.level[i]; v == at || v == l.reference {
			session, pace = append(session, r.session[i]), append(pace, r.lnSpeed[i])
			minutes = append(minutes, r.lnMinutes[i])
			is = append(is, oneIf(v == at))
		}
	}
	if !order {
		return withinCorrelation(session, r.sessions, is, pace)
	}
	logged := withinCorrelation(session, r.sessions, is, minutes)
	for i, v := range minutes {
		minutes[i] = math.Expm1(v)
	}
	plain := withinCorrelation(session, r.sessions, is, minutes)
	if math.Abs(plain) > math.Abs(logged) {
		return plain
	}
	return logged
}

func oneIf(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// leansOnOrder is the correlation of a level and the order of bouts from which
// a warning goes with the contrast (our own choice).
const leansOnOrder = 0.5

// warn collects what to bear in mind with one level.
func (l *levels) warn(r *rows, at string, s *study.Study, w *warnings) {
	if !setBeforehand(l.tag.name, s) {
		w.add("not set beforehand, as far as the study file says: what moved it may have moved the rest")
	}
	w.sources(l.bouts, s.Cost.Measure)
	if along := l.along(r, at, true); math.Abs(along) > leansOnOrder {
		when := "late"
		if along < 0 {
			when = "early"
		}
		w.add("its bouts come " + when + " in their sessions, so that tiredness may stand behind it")
	}
	breaths := map[float64]bool{}
	for i, b := range l.bouts {
		if v := l.level[i]; (v == at || v == l.reference) && !math.IsNaN(b.Tags.Breathing) {
			breaths[b.Tags.Breathing] = true
		}
	}
	if len(breaths) > 1 && l.tag.name != TagBreathing {
		w.add("breath patterns differ among these bouts, and heart rate is not a valid cost for breath patterns")
	}
}
