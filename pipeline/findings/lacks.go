package findings

import (
	"fmt"
	"slices"
	"strings"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// Lack is something that the roster does not say, or should not be taken at its
// word for, where the study's cost needs it.
type Lack struct {
	ID       string
	Swimmers []string // whom it is about, in the order of the rows
	about    string   // with %s for whom
}

// Sentence says it of the swimmers as called: by name on the terminal, by number
// where no names go.
func (l Lack) Sentence(called string) string { return fmt.Sprintf(l.about, called) }

// Count calls the swimmers by their number.
func (l Lack) Count() string { return count(len(l.Swimmers), "swimmer") }

// Lacks looks through the roster's values that the study's cost needs, of all
// swimmers with bouts; counts are of one swimmer's.
func Lacks(c study.Cost, swimmers []schemas.Swimmer, counts func(swimmer string) BoutCounts) []Lack {
	var out []Lack
	add := func(id, about string, is func(schemas.Swimmer) bool) {
		l := Lack{ID: id, about: about}
		for _, s := range swimmers {
			if s.Bouts > 0 && is(s) {
				l.Swimmers = append(l.Swimmers, s.Swimmer)
			}
		}
		if len(l.Swimmers) > 0 {
			out = append(out, l)
		}
	}
	if c.Measure == "hr-reserve" || c.Measure == "net-beats" {
		add("no-resting-heart-rate", "The roster gives no resting heart rate (hr_rest) for %s: none of their bouts has a cost.",
			func(s schemas.Swimmer) bool { return s.HRRestBPM == nil })
	}
	if c.Measure == "hr-reserve" {
		add("no-maximum-heart-rate", "The roster gives no highest heart rate (hr_max) for %s: none of their bouts has a cost.",
			func(s schemas.Swimmer) bool { return s.HRMaxBPM == nil })
		add("maximum-below-rest", "The roster's highest heart rate (hr_max) is not above the resting one (hr_rest) for %s: none of their bouts has a cost.",
			func(s schemas.Swimmer) bool {
				return s.HRRestBPM != nil && s.HRMaxBPM != nil && *s.HRMaxBPM <= *s.HRRestBPM
			})
		add("land-maximum", "The highest heart rate of %s was measured on land, where it reads 7 to 13 bpm higher than in water. Their shares of the reserve are too low, and effects in points of it too small, by about a tenth.",
			func(s schemas.Swimmer) bool { return measuredIn(s) == "land" })
		add("unplaced-maximum", "It is not said whether the highest heart rate of %s was measured in water or on land, where it reads 7 to 13 bpm higher (roster, hr_max_measured_in).",
			func(s schemas.Swimmer) bool { return s.HRMaxBPM != nil && measuredIn(s) == "" })
		add("beyond-maximum", "Bouts of %s were swum above the highest heart rate that the roster gives: that one is too low, and shares of the reserve are too high.",
			func(s schemas.Swimmer) bool { return counts(s.Swimmer).BeyondMaximum > 0 })
	}
	if c.Measure == "lab" {
		add("resting-uptake-assumed", fmt.Sprintf("The roster gives no resting oxygen uptake (vo2_rest) for %%s: %g mL/kg/min is taken, the study's vo2_rest. It moves the level of the cost, and the difference between two bouts at one pace not at all.", c.VO2Rest),
			func(s schemas.Swimmer) bool { return s.VO2RestMLPerKGMin == nil })
	}
	return out
}

func measuredIn(s schemas.Swimmer) string {
	if s.HRMaxBPM == nil || s.HRMaxMeasuredIn == nil {
		return ""
	}
	return *s.HRMaxMeasuredIn
}

// lacks are the sentences of what the roster lacks, and of what was not measured.
func (m maker) lacks(add func(string, string, int)) {
	for _, l := range m.Lacks {
		add(l.ID, l.Sentence(l.Count()), len(l.Swimmers))
	}
	if n := m.Bouts.OxygenOnly; n > 0 && n < m.Bouts.Usable {
		add("lactate-missing", fmt.Sprintf("For %s lactate was not taken before and after. Their cost is what the oxygen shows alone, and they are compared only among themselves.", count(n, "usable bout")), n)
	} else if n > 0 {
		add("lactate-missing", "Lactate was taken before and after no usable bout. The cost is what the oxygen shows alone, which is too little above the pace at which lactate rises.", n)
	}
}

// namesIn joins names as a sentence does.
func namesIn(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// Named is the sentence with the swimmers called by the names given for their
// pseudonyms.
func (l Lack) Named(name func(string) string) string {
	names := make([]string, len(l.Swimmers))
	for i, s := range l.Swimmers {
		names[i] = name(s)
	}
	slices.Sort(names)
	return l.Sentence(namesIn(names))
}
