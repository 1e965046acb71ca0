package read

import (
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/identity"
)

// parseTags reads what was noted or set for the row.
func (s *sheetPart) parseTags(r *sheetRow, l *Length) {
	number := func(column string, low, high float64) float64 {
		return s.optional(r, column, low, high, func(cell string) (float64, bool) { return s.table.csvNumber(WithoutUnit(cell)) })
	}
	// The limits are wide: beyond them a value is a slip (common practice, no
	// source). Borg's CR10 scale runs from 0 past 10.
	l.WallTimeS = number("wall_time", 0, 30)
	l.End = s.parsePulse(r)
	l.Tags = Tags{
		Instruction:   s.choice(r, "instruction", "usual", "fewest-strokes", "quicker-rate"),
		RateTargetSPM: number("rate_target", 5, 200),
		Breathing:     number("breathing", 0.5, 30),
		Kick:          s.choice(r, "kick", "none", "light", "full"),
		Equipment:     strings.ToLower(identity.Tidy(r.cell("equipment"))),
		RPE:           math.NaN(),
		LactateMMOL:   number("lactate", 0, 40),
		LactateBefore: number("lactate_before", 0, 40),
		VO2:           number("vo2", 0, 120),
	}
	if !s.traits.scale6 {
		l.Tags.RPE = number("rpe", 0, 12)
	} else if r.cell("rpe") != "" {
		s.note(*r, RuleUnreadable, "rpe", "the column goes beyond 12, which is Borg's scale from 6 to 20; his scale from 0 to 10 is read, and the cell is left out")
	}
}

// optional reads a number that a row can do without: NaN when the cell is
// empty, and with a note when it cannot be read.
func (s *sheetPart) optional(r *sheetRow, column string, low, high float64, parse func(string) (float64, bool)) float64 {
	cell := r.cell(column)
	if cell == "" {
		return math.NaN()
	}
	x, ok := parse(cell)
	if !ok || x < low || x > high {
		s.note(*r, RuleUnreadable, column, "%s is no number from %g to %g; the cell is left out", csvShown(cell), low, high)
		return math.NaN()
	}
	return x
}

// choice reads one of the given words, "" when the cell is empty, and with a
// note when it is none of them.
func (s *sheetPart) choice(r *sheetRow, column string, words ...string) string {
	cell := r.cell(column)
	if cell == "" {
		return ""
	}
	i := slices.Index(words, cell)
	if i < 0 {
		i = slices.Index(words, csvWord(cell))
	}
	if i >= 0 {
		return words[i] // and no piece of the sheet's text
	}
	s.note(*r, RuleUnreadable, column, "%s is not one of: %s; the cell is left out", csvShown(cell), strings.Join(words, ", "))
	return ""
}

// TagWord is a word of a tag as it is compared: in lower case, with hyphens
// between its parts, so that "Fewest strokes" is fewest-strokes.
func TagWord(cell string) string { return csvWord(cell) }

// WithoutUnit takes the unit off a number that was measured or set.
func WithoutUnit(cell string) string {
	text := strings.ToLower(strings.TrimSpace(cell))
	for _, unit := range []string{"mmol/l", "mmol", "mm", "ml/kg/min", "/10", "strokes/min", "/min", "spm", "sec", "s"} {
		if before, found := strings.CutSuffix(text, unit); found {
			return strings.TrimSpace(before)
		}
	}
	return text
}
