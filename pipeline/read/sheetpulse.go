package read

import (
	"math"
	"strings"
)

// Limits of a heart rate that a person reads off or counts after a swim, beats
// a minute: wider than any swim's, and free of counts over 10 or 15 s (common
// practice, no source).
const (
	lowestPulse  = 30
	highestPulse = 250
	// highestCount is the most beats in 15 s that a pulse can have; a column
	// of heart rates that never goes beyond holds counts.
	highestCount = 60
	// typicalPulse is from where on the typical heart rate of a column shows that
	// one below highestCount was counted, or is a slip.
	typicalPulse = 100
	// fewestBeats: a count below it is no pulse after a swim, in beats a minute.
	fewestBeats = 40
)

// parsePulse reads the heart rate at the end of a row: beats a minute, or a
// count of beats over the seconds that the header (hr_10s, pulse 15 s) or the
// study file (hr_count) state. A count of N beats over s seconds reads 60 N/s
// in steps of 60/s, and stands for the middle of those seconds.
func (s *sheetPart) parsePulse(r *sheetRow) Reading {
	none := Reading{HRBPM: math.NaN(), DelayS: math.NaN()}
	source := s.choice(r, "hr_source", "strap", "optical", "palpated")
	delay := s.optional(r, "hr_delay", 0, 600, func(cell string) (float64, bool) {
		seconds, _, _, ok := s.table.restSeconds(cell)
		return seconds, ok
	})
	none.Source, none.DelayS = source, delay

	text, column, over := r.cell("hr"), "hr", s.src.Input.HRCount.Seconds()
	if text == "" {
		if text = r.cell(countColumn); text != "" {
			over = r.says(countColumn).countS
		}
	}
	if text == "" {
		return none
	}
	if math.IsNaN(delay) && s.src.Input.HRDelay > 0 {
		delay = s.src.Input.HRDelay.Seconds()
	}
	value, ok := s.table.csvNumber(withoutBeats(text))
	if !ok || value <= 0 {
		s.note(*r, RuleUnreadable, column, "%s is no heart rate; the cell is left out", csvShown(text))
		return none
	}
	if over == 0 {
		return s.beatsAMinute(r, value, text, Reading{Source: source, DelayS: delay})
	}
	bpm := 60 * value / over
	if bpm < fewestBeats || bpm > highestPulse {
		s.note(*r, RuleUnreadable, column, "%s beats in %.0f s would be %.0f a minute; the cell is left out", csvShown(text), over, bpm)
		return none
	}
	if source == "" {
		source = "palpated"
	}
	began := "hr_delay says when it began"
	if math.IsNaN(delay) {
		began, delay = "when it began is not stated, and it is taken to have begun at the touch", 0
	}
	s.noteRun(*r, RulePulseCount, "the heart rate is a count over %.0f s, so that it is known to %.4g a minute and stands for their middle; %s", over, 60/over, began)
	return Reading{HRBPM: bpm, Source: source, DelayS: delay + over/2, StepBPM: 60 / over}
}

// beatsAMinute takes a reading in beats a minute unless it must be a count.
func (s *sheetPart) beatsAMinute(r *sheetRow, bpm float64, text string, reading Reading) Reading {
	reading.HRBPM = bpm
	switch {
	case bpm < lowestPulse || s.traits.counts || bpm <= highestCount && s.traits.typicalHR > typicalPulse:
		reading.HRBPM = math.NaN()
		s.note(*r, RuleUnreadable, "hr", "%s is no heart rate after a swim, in beats a minute; if it is a count, call the column hr_10s or hr_15s, or write hr_count: 10s in the study file's input; the cell is left out",
			csvShown(text))
	case bpm > highestPulse:
		reading.HRBPM = math.NaN()
		s.note(*r, RuleUnreadable, "hr", "%s is no number from %d to %d; the cell is left out", csvShown(text), lowestPulse, highestPulse)
	}
	return reading
}

// withoutBeats takes the unit off a heart rate.
func withoutBeats(text string) string {
	text = strings.ToLower(text)
	for _, unit := range []string{"bpm", "/min", "b/min", "s/min", "min-1"} {
		text = strings.TrimSuffix(text, unit)
	}
	return strings.TrimSpace(text)
}
