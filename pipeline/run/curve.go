package run

import (
	"fmt"
	"maps"
	"slices"

	"lengthwise/pipeline/analyse"
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
)

// curves derives a swimmer's bouts anew for every reading of the plan and asks
// each specification for the primary number. Nothing of it is kept but those
// numbers, so that a swimmer's variants are in memory while they are asked and
// no longer. The study's own reading is derived anew too, so that a test of the
// first specification against the study's answer tests this road. The squad's
// time constant is that of the study's own reading.
func (e *engine) curves(w *swimmer, who derive.Athlete, squad derive.Settled) ([]analyse.Curve, error) {
	recordings, err := e.src.load(w.records)
	if err != nil {
		return nil, err
	}
	sessions, _, err := normalise.Sessions(recordings, e.src.Notes, e.study)
	if err != nil {
		return nil, fmt.Errorf("swimmer %q, again for other specifications: %w", w.name, err)
	}
	on, entries := screen.Sessions(sessions, withLockRule(e.study.Screen, true))
	screened := map[bool][]screen.Session{true: on, false: on}
	if slices.ContainsFunc(entries, func(e read.Entry) bool { return e.Rule == screen.RuleLocked }) {
		screened[false], _ = screen.Sessions(sessions, withLockRule(e.study.Screen, false))
	}
	readings := analyse.Readings(e.study)
	return analyse.Curves(func(i int) []derive.Bout {
		r := readings[i]
		var bouts []derive.Bout
		sessions := screened[r.LockRule]
		for k := range sessions {
			_, some := derive.Session(&sessions[k], who, r.Cost)
			bouts = append(bouts, some...)
		}
		derive.Steady(bouts, squad.Shrink(derive.FirstTau(bouts)), who, r.Cost)
		return bouts
	}, e.study), nil
}

// withLockRule is the screening with the lock rule on or off.
func withLockRule(settings study.Screen, on bool) study.Screen {
	settings.Off = maps.Clone(settings.Off)
	if settings.Off == nil {
		settings.Off = map[string]bool{}
	}
	settings.Off[screen.RuleLocked] = !on
	return settings
}
