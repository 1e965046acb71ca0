package analyse

import (
	"math"
	"strconv"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// BreathingCaution goes with every number about breath patterns. Holding the
// breath slows the heart (the diving response) while carbon dioxide rises, so
// that a lower heart rate is no lower cost.
const BreathingCaution = "heart rate is not a valid cost for breath patterns: breath-holding can hold it down while carbon dioxide rises"

// adultAge is the difference of calendar years from which a swimmer is surely
// 18 or older, whatever the birthday.
const adultAge = 19

// Breathing shows how the measures differ between breath patterns within
// sessions, and claims nothing: no test, no direction, no squad. It shows
// patterns at least as frequent as the swimmer's usual one only; bouts of
// sparser ones are left out before anything is counted. Of swimmers who are not
// surely adults on the day (an unknown year of birth counts as under 18)
// nothing is shown at all.
func Breathing(who Person, bouts []derive.Bout, s *study.Study) []Contrast {
	var out []Contrast
	for _, stroke := range s.Analysis.Strokes {
		everything, _ := usable(bouts, stroke, All)
		adult := adultBouts(who, everything)
		if len(adult) == 0 {
			continue
		}
		usualPattern := usualBreathing(adult)
		var shown []*derive.Bout
		for _, b := range adult {
			if b.Tags.Breathing <= usualPattern { // false for NaN
				shown = append(shown, b)
			}
		}
		l, ok := newLevels(shown, tag{TagBreathing, breathingOf, []string{breathingLevel(usualPattern)}})
		if !ok || l.reference != breathingLevel(usualPattern) {
			continue
		}
		l.dropped = map[string]int{}
		base := schemas.Contrast{Scope: OneSwimmer, Swimmer: bouts[0].Swimmer, Stroke: stroke, Swimmers: 1,
			Design: string(Observed)}
		for _, c := range l.contrasts(base, newUsualRate(everything, referenceSpeed(everything, s)), s, false) {
			c.enough, c.poolable = false, false
			c.Row.PValue, c.Row.Statistic, c.Row.RobustnessValue = nil, nil, nil
			c.Row.Direction = NotClaimed
			c.Row.Warnings = joinWarnings(BreathingCaution, c.Row.Warnings)
			out = append(out, c)
		}
	}
	return out
}

// adultBouts picks the bouts of days on which the swimmer was surely an adult.
func adultBouts(who Person, bouts []*derive.Bout) []*derive.Bout {
	var adult []*derive.Bout
	for _, b := range bouts {
		if who.BirthYear <= 0 || len(b.LocalDate) < 4 {
			continue
		}
		if year, err := strconv.Atoi(b.LocalDate[:4]); err == nil && year-who.BirthYear >= adultAge {
			adult = append(adult, b)
		}
	}
	return adult
}

// usualBreathing is the strokes per breath of most bouts that were swum as
// usual, of all when there are none; the fewer strokes where two are as common.
// NaN when breathing was never noted.
func usualBreathing(bouts []*derive.Bout) float64 {
	own, all := map[float64]int{}, map[float64]int{}
	for _, b := range bouts {
		if math.IsNaN(b.Tags.Breathing) {
			continue
		}
		all[b.Tags.Breathing]++
		if !b.Designed {
			own[b.Tags.Breathing]++
		}
	}
	if len(own) == 0 {
		own = all
	}
	pattern, most := math.NaN(), 0
	for strokes, n := range own {
		if n > most || n == most && strokes < pattern {
			pattern, most = strokes, n
		}
	}
	return pattern
}

func breathingOf(b *derive.Bout) string { return breathingLevel(b.Tags.Breathing) }

// breathingLevel names a pattern, "" for none noted.
func breathingLevel(strokes float64) string {
	if math.IsNaN(strokes) {
		return ""
	}
	return strconv.FormatFloat(strokes, 'g', 4, 64) + " strokes a breath"
}

func joinWarnings(first, rest string) string {
	if rest == "" {
		return first
	}
	return first + "; " + rest
}
