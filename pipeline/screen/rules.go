package screen

import (
	"slices"

	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// The ids of the rules that this stage applies.
const (
	RuleNoDuration       = "no-duration"
	RuleEarlyTurn        = "early-turn"
	RuleStopInside       = "stop-inside"
	RuleCountImplausible = "count-implausible-for-pace"
	RulePoolContradicts  = "pool-contradicts-pace"
	RuleLocked           = "locked-on-stroke-rate"
	RuleStep             = "step"
	RuleClockBack        = "clock-back"
	RuleDrill            = "drill"
	RuleKick             = "kick"
	RuleFalseTurn        = "false-turn"
	RuleMissedTurn       = "missed-turn"
	RuleImpossibleSpeed  = "impossible-speed"
	RuleImpossibleRate   = "impossible-rate"
	RuleStrokesMissing   = "strokes-missing"
	RuleDropout          = "dropout"
	RuleStartValue       = "start-value"
)

// Rule is one quality rule as shown to people: what it looks for, what it does
// and with which thresholds.
type Rule struct {
	ID         string
	About      string
	Action     read.Action
	Kinds      []read.RecordKind // what it looks at
	Thresholds []Threshold
	Fixed      bool // it cannot be switched off
	On         bool
}

// Threshold is one number of a rule. Key is its name in the study file's
// screen section; "" marks a number that is not a setting.
type Threshold struct {
	Key   string
	About string
	Value float64
	Unit  string // "1" for a share
}

// Rules lists every rule that can exclude, repair or note a record between
// reading and measuring, in the order in which they are applied.
func Rules(s study.Screen) []Rule {
	var (
		all   = []read.RecordKind{read.KindLength, read.KindRepeat, read.KindRest, read.KindHeartRate}
		rows  = []read.RecordKind{read.KindLength, read.KindRepeat}
		one   = []read.RecordKind{read.KindLength}
		beats = []read.RecordKind{read.KindHeartRate}
		notes = []read.RecordKind{read.KindNote}
	)
	rules := []Rule{
		{ID: normalise.RuleNoSwimmer, About: "nobody owns the recording", Action: read.Excluded, Kinds: all, Fixed: true},
		{ID: normalise.RuleForgotten, About: "its owner was removed from the study (lengthwise forget)", Action: read.Excluded, Kinds: append(all, read.KindNote), Fixed: true},
		{ID: normalise.RuleNoConsent, About: "the roster holds no consent of its owner", Action: read.Excluded, Kinds: append(all, read.KindNote), Fixed: true},
		{ID: normalise.RuleTwoOwners, About: "the same recording is held under two swimmers: whose it is cannot be told", Action: read.Excluded, Kinds: append(all, read.KindNote), Fixed: true},
		{ID: normalise.RuleDuplicate, About: "the same recording again: the same bytes, or the same recorder and creation time, or start within 2 s and equal totals; the fullest is kept", Action: read.Excluded, Kinds: all},
		{ID: normalise.RuleNoLengths, About: "the recording holds no pool lengths (open water, another sport, an empty file), or none of them could be used", Action: read.Excluded, Kinds: all, Fixed: true},
		{ID: normalise.RuleNoPool, About: "no length of pool is known: state it in the study file's inputs", Action: read.Excluded, Kinds: all, Fixed: true},
		{ID: normalise.RuleSecondRecording, About: "another recording of the same swims is used: of two activities the earlier, and a sheet's swims that fit none of the activity's", Action: read.Excluded, Kinds: all},
		{ID: normalise.RuleMatchAmbiguous, About: "a sheet's swims fit several swims, or sessions, of a watch: nothing is guessed", Action: read.Excluded, Kinds: rows, Fixed: true},
		{ID: normalise.RulePoolsDisagree, About: "a sheet's swims have the seconds of a watch's over other distances: one of the two states a wrong pool, and the sheet is left out", Action: read.Excluded, Kinds: rows, Fixed: true},
		{ID: normalise.RuleCountsDisagree, About: "hand count and recorder's count of a swim differ by more than a sixth: the hand count is used", Action: read.Noted, Kinds: rows, Fixed: true},
		{ID: normalise.RuleStrokesDisagree, About: "a sheet names another stroke than the recorder: the sheet's is used for the swim", Action: read.Noted, Kinds: rows, Fixed: true},
		{ID: normalise.RuleSecondsDisagree, About: "a sheet's seconds for a swim are not the recorder's: the recorder's are used", Action: read.Noted, Kinds: rows, Fixed: true},
		{ID: normalise.RuleReadingsDisagree, About: "a sheet's heart rate differs by more than 10 bpm from the recorder's at that time: the recorder's is used", Action: read.Noted, Kinds: rows, Fixed: true},
		{ID: RuleMergedAway, About: "the swim that a sheet's row describes was left out", Action: read.Excluded, Kinds: rows, Fixed: true},
		{ID: normalise.RuleSameDay, About: "a sheet looks like an activity or another sheet of the day but is not surely the same: both are used", Action: read.Noted, Kinds: rows, Fixed: true},
		{ID: normalise.RuleOutsideSession, About: "heart rate before a session or more than 60 s after it, or from a log that cannot be laid on a session's clock", Action: read.Excluded, Kinds: beats, Fixed: true},
		{ID: normalise.RuleSecondSource, About: "another source gives the session's heart rate: its own samples, unless a log has more than ten times as many", Action: read.Excluded, Kinds: beats, Fixed: true},
		{ID: normalise.RuleStrokeFlip, About: "another stroke for one or two lengths within an unbroken swim: the length keeps its stroke and stays in the swim", Action: read.Noted, Kinds: one, Fixed: true},
		{ID: normalise.RuleWallTime, About: "the recorder leaves out time at each wall: seconds and score read low beside other recorders", Action: read.Noted, Kinds: one, Fixed: true},
		{ID: normalise.RuleStartsDrift, About: "starts run ahead of the seconds within laps and are right again at the next: not taken for time left out at walls", Action: read.Noted, Kinds: one, Fixed: true},
		{ID: normalise.RuleUnreadable, About: "the value of a note cannot be read", Action: read.Noted, Kinds: notes, Fixed: true},
		{ID: normalise.RuleNoteUnmatched, About: "a note fits no swim", Action: read.Noted, Kinds: notes, Fixed: true},
		{ID: normalise.RuleNoteAmbiguous, About: "a note numbers swims of a day with several sessions: it holds for each", Action: read.Noted, Kinds: notes, Fixed: true},
		{ID: normalise.RuleNoteOverruled, About: "a cell of the sheet or a note for fewer swims says otherwise", Action: read.Noted, Kinds: notes, Fixed: true},
		{ID: RuleNoDuration, About: "the row states no seconds", Action: read.Excluded, Kinds: rows, Fixed: true},
		{ID: RuleDrill, About: "a drill: recorders split its time evenly over the lengths typed in and count no strokes", Action: read.Excluded, Kinds: rows},
		{ID: RuleKick, About: "swum with a kickboard, or a whole repeat of a watch in which the arms hardly moved", Action: read.Excluded, Kinds: rows, Thresholds: []Threshold{
			{"kick_rate_spm", "every counted length is below this many arm strokes a minute", s.KickRateSPM, "/min"},
			{"", "and below this share of the session's brisk ones (three in four are slower)", kickShare, "1"},
			{"", "or below", slowestArms, "/min"},
		}},
		{ID: RulePoolContradicts, About: "the pool does not fit the strokes: the session's median stroke index cannot be, or is not that of most of the swimmer's sessions around it (excluded); or it is rare, or the swimmer's sessions do not agree (noted); never rescaled", Action: read.Excluded, Kinds: rows, Thresholds: []Threshold{
			{"stroke_index_low", "it cannot be below", s.StrokeIndexLow, "m2/s"},
			{"stroke_index_high", "or above", s.StrokeIndexHigh, "m2/s"},
			{"", "it is rare below", doubtLow, "m2/s"},
			{"", "and above", doubtHigh, "m2/s"},
			{"", "fewest counted lengths", fewestForPool, "1"},
			{"", "it is another one than the swimmer's other sessions' beyond this factor either way", peersApart, "1"},
			{"", "which agree within this one", peersAlike, "1"},
			{"", "and are this share at least of up to five before and after", peersMost, "1"},
		}},
		{ID: RuleFalseTurn, About: "two or three neighbours of one swim, all short, that together are a usual length in seconds and strokes: joined", Action: read.Repaired, Kinds: one, Thresholds: append([]Threshold{
			{"false_turn_share", "each piece is below this share of the usual seconds", s.FalseTurnShare, "1"},
			{"", "or one of two is below this share, the other at most a length", sliver, "1"},
			{"", "or, where there is no usual, one of two is this many times faster than anybody swims", tooQuick, "1"},
			{"false_turn_tolerance", "their sum is the usual seconds within this share", s.FalseTurnTolerance, "1"},
			{"", "their strokes together are at most this many times the usual", joinStrokesHigh, "1"},
			{"", "and at least", joinStrokesLow, "1"},
		}, usualThresholds(s)...)},
		{ID: RuleEarlyTurn, About: "a short and a long neighbour of one swim, in seconds and strokes, that together are two usual lengths: a turn recorded too early or too late, the sum shared evenly", Action: read.Repaired, Kinds: one, Thresholds: append([]Threshold{
			{"early_turn_shift", "seconds on the wrong side of the wall over those of a length, from", s.EarlyTurnShift, "1"},
			{"", "to", mostShifted, "1"},
			{"early_turn_tolerance", "half their sum is the usual seconds within this share", s.EarlyTurnTolerance, "1"},
			{"", "the strokes shifted the same way, by at least this share of the shift", strokesFollow, "1"},
			{"", "and each lies off the usual by this share of the shift", bothOff, "1"},
			{"", "and fewer pairs than this at like places of the set are alike", fewestRecurring, "1"},
		}, usualThresholds(s)...)},
		{ID: RuleMissedTurn, About: "about two or three times the usual seconds and strokes: split into equal lengths", Action: read.Repaired, Kinds: one, Thresholds: append([]Threshold{
			{"missed_turn_low", "seconds over the usual seconds, from (for two lengths; half as much again for three)", s.MissedTurnLow, "1"},
			{"missed_turn_high", "to", s.MissedTurnHigh, "1"},
			{"missed_turn_strokes_low", "strokes over the usual strokes, from: below it the swimmer stopped", s.MissedTurnStrokesLow, "1"},
			{"", "and, where the swim is too short to have a usual, over those typical of the session, from", doubleStrokes, "1"},
		}, usualThresholds(s)...)},
		{ID: RuleStopInside, About: "far more than the usual seconds with the usual strokes: the swimmer stopped inside the length, and how long is not known", Action: read.Excluded, Kinds: one, Thresholds: append([]Threshold{
			{"stop_inside_low", "seconds over the usual seconds, from", s.StopInsideLow, "1"},
			{"", "strokes over the usual strokes, from", stopStrokesLow, "1"},
			{"", "to", stopStrokesHigh, "1"},
		}, usualThresholds(s)...)},
		{ID: RuleImpossibleSpeed, About: "a speed nobody swims, after repairs", Action: read.Excluded, Kinds: rows, Thresholds: []Threshold{
			{"slowest_mps", "slowest", s.SlowestMPS, "m/s"},
			{"fastest_mps", "fastest", s.FastestMPS, "m/s"},
		}},
		{ID: RuleImpossibleRate, About: "a stroke rate nobody swims, after repairs; rows whose rate or instruction was set are exempt from the lower limit, and where the counting basis is unknown the limits hold for either basis", Action: read.Excluded, Kinds: rows, Thresholds: []Threshold{
			{"lowest_rate_spm", "lowest", s.LowestRateSPM, "/min"},
			{"highest_rate_spm", "highest", s.HighestRateSPM, "/min"},
		}},
		{ID: RuleCountImplausible, About: "the count does not fit the pace, beside lengths of that pace in the swim or the session; rows whose rate or instruction was set are exempt", Action: read.Excluded, Kinds: one, Thresholds: []Threshold{
			{"count_low", "strokes over the usual strokes, below", s.CountLow, "1"},
			{"count_high", "or above", s.CountHigh, "1"},
			{"", "and off by this many counts of the recorder", countFloor, "1"},
			{"", "and by this many deviations of the counts", countOutlyingBy, "1"},
			{"usual_lengths", "fewest lengths that make a usual", float64(s.UsualLengths), "1"},
		}},
		{ID: RuleStrokesMissing, About: "no strokes were counted: the length keeps its time and its bout has no rate", Action: read.Noted, Kinds: rows, Fixed: true},
		{ID: RuleStartValue, About: "the first value of a sensor, sent before it measured, or held from the first sample on until a jump that no heart makes", Action: read.Excluded, Kinds: beats, Thresholds: []Threshold{
			{"", "the jump comes within", startS, "s"},
		}},
		{ID: RuleDropout, About: "no heart rate (0 and 255 mean missing) or one outside the limits; switched off, only the values that mean missing go", Action: read.Excluded, Kinds: append(beats, rows...), Thresholds: []Threshold{
			{"lowest_hr_bpm", "lowest", s.LowestHRBPM, "/min"},
			{"highest_hr_bpm", "highest", s.HighestHRBPM, "/min"},
		}},
	}
	rules = append(rules,
		Rule{ID: RuleClockBack, About: "the recorder's clock was set back: what was written after it at times told before", Action: read.Excluded, Kinds: beats},
		Rule{ID: RuleLocked, About: "heart rate stays near the stroke rate of the lengths and comes there and leaves by a jump, or from the first sample on or to the last one does not fall in the rests: the sensor follows the arms", Action: read.Excluded, Kinds: beats, Thresholds: []Threshold{
			{"lock_seconds", "for as many seconds of swimming", s.LockSeconds, "s"},
			{"", "heart rate over arm strokes (or cycles) a minute, from", lockLow, "1"},
			{"", "to", lockHigh, "1"},
			{"step_bpm", "a jump within a second", s.StepBPM, "/min"},
			{"", "without a jump there and back: the median fall over rests is below", restFall, "/min"},
			{"", "rests of at least", restS, "s"},
			{"", "or most of it is slower than a swimmer's heart", slowestHeart, "/min"},
		}},
		Rule{ID: RuleStep, About: "heart rate between two jumps that no heart makes, there and back", Action: read.Excluded, Kinds: beats, Thresholds: []Threshold{
			{"step_bpm", "a jump within a second", s.StepBPM, "/min"},
			{"", "more for each further second between samples", heartSlope, "/min"},
			{"", "samples are at most this far apart", denseS, "s"},
			{"", "it comes back within", stepS, "s"},
		}},
	)
	for i := range rules {
		rules[i].On = rules[i].Fixed || !s.Off[rules[i].ID]
	}
	return rules
}

// usualThresholds are those with which a length is found unlike its like.
func usualThresholds(s study.Screen) []Threshold {
	return []Threshold{
		{"usual_lengths", "fewest lengths that make a usual", float64(s.UsualLengths), "1"},
		{"", "the usual lengths' robust spread is at most this share of their median", usualSpread, "1"},
		{"", "robust deviations that a length lies off the usual", outlyingBy, "1"},
	}
}

// Switchable lists the ids of the rules that screen.off may name.
func Switchable() []string {
	var ids []string
	for _, r := range Rules(study.Screen{}) {
		if !r.Fixed {
			ids = append(ids, r.ID)
		}
	}
	slices.Sort(ids)
	return ids
}
