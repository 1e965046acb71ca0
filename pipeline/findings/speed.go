package findings

import (
	"fmt"
	"strconv"
	"strings"

	"lengthwise/schemas"
)

// rateLength makes the sentences on rate and length in a gain of speed: the
// squad's, then each swimmer's, from bouts of one session compared.
func (m maker) rateLength() []schemas.Finding {
	var out []schemas.Finding
	for _, scope := range []string{scopeSquad, scopeSwimmer} {
		for _, row := range m.RateLength {
			if row.Scope != scope || row.Over != overSessions {
				continue
			}
			if f, ok := m.speedGain(row); ok {
				out = append(out, f)
			}
		}
	}
	return out
}

func (m maker) speedGain(row schemas.RateLengthSpeed) (schemas.Finding, bool) {
	rate, ok := newInterval(row.RateShare, row.RateShareLow, row.RateShareHigh)
	length, okLength := newInterval(row.LengthShare, row.LengthShareLow, row.LengthShareHigh)
	if !ok || !okLength {
		return schemas.Finding{}, false
	}
	f := schemas.Finding{Question: RateLength, Stroke: pointer(row.Stroke), Strength: StrengthGoesTogether,
		Estimate: number(row.RateShare), ConfLow: number(row.RateShareLow), ConfHigh: number(row.RateShareHigh)}
	who, behind := "on average over "+count(row.Swimmers, "swimmer"), ""
	if row.Scope == scopeSquad {
		f.Finding, f.N = id(RateLength, row.Stroke), row.Swimmers
	} else {
		f.Finding, f.N, f.Swimmer = id(RateLength, row.Swimmer, row.Stroke), row.Bouts, pointer(row.Swimmer)
		who, behind = "for this swimmer", "; "+count(row.Bouts, "bout")+" in "+count(row.Sessions, "session")
	}
	between := ""
	slow, okSlow := value(row.SlowestSPer100M)
	fast, okFast := value(row.FastestSPer100M)
	if okSlow && okFast {
		between = ", between " + Pace(slow) + " and " + Pace(fast)
	}
	f.Sentence = fmt.Sprintf("%s, swum as the swimmer liked: %s, %s %% of a small gain in speed within a session went with more strokes a minute and %s %% with longer strokes (95 %% interval of the first from %s to %s %%%s)%s.",
		capital(row.Stroke), who, percent(rate.estimate), percent(length.estimate), percent(rate.low), percent(rate.high), behind, between)
	if length.high < 0 {
		f.Sentence += " Strokes got shorter as speed rose."
	}
	f.Caution = pointer(strings.Join(splitWarnings(row.Warnings), " "))
	return f, true
}

// critical makes each swimmer's sentence on critical speed, where it is known.
func (m maker) critical() []schemas.Finding {
	var out []schemas.Finding
	for _, row := range m.Critical {
		speed, ok := value(row.CriticalSpeedMPS)
		pace, okPace := value(row.PaceSPer100M)
		if !ok || !okPace {
			continue
		}
		f := schemas.Finding{Finding: id(CriticalSpeed, row.Swimmer, row.Stroke), Question: CriticalSpeed,
			Swimmer: pointer(row.Swimmer), Stroke: pointer(row.Stroke), Strength: StrengthGoesTogether, N: row.Swims, Estimate: number(row.CriticalSpeedMPS)}
		f.Sentence = fmt.Sprintf("%s: critical speed is %s m/s, or %s, from %s noted as maximal", capital(row.Stroke), metresPerSecond(speed), Pace(pace), count(row.Swims, "swim"))
		if e, ok := newInterval(row.CriticalSpeedMPS, row.SpeedLowMPS, row.SpeedHighMPS); ok {
			f.Sentence += fmt.Sprintf(" (95 %% interval from %s to %s m/s)", metresPerSecond(e.low), metresPerSecond(e.high))
			f.ConfLow, f.ConfHigh = number(row.SpeedLowMPS), number(row.SpeedHighMPS)
		}
		f.Sentence += "."
		if row.BoutsAbove != nil {
			f.Sentence += fasterBouts(row.Bouts, *row.BoutsAbove)
		}
		f.Caution = pointer(strings.Join(splitWarnings(row.Warnings), " "))
		out = append(out, f)
	}
	return out
}

// fasterBouts says how many bouts were swum above critical speed.
func fasterBouts(bouts, above int32) string {
	of := count(bouts, "other bout")
	switch {
	case bouts == 0:
		return ""
	case above == 0:
		return " None of " + of + " was faster."
	case above == 1:
		return " Of " + of + ", 1 was faster, where heart rate does not become steady; it stays in the models."
	}
	return fmt.Sprintf(" Of %s, %s were faster, where heart rate does not become steady; they stay in the models.", of, Grouped(int64(above)))
}

func metresPerSecond(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

// speedLimits says for how many swimmers critical speed is not known.
func (m maker) speedLimits(add func(name, sentence string, n int)) {
	unknown := 0
	for _, row := range m.Critical {
		if row.CriticalSpeedMPS == nil {
			unknown++
		}
	}
	if unknown == 0 {
		return
	}
	add("critical-speed", fmt.Sprintf("For %s there is no critical speed, since no swims of several distances are noted as maximal: which bouts were too fast to be steady cannot be told.", count(unknown, "swimmer")), unknown)
}
