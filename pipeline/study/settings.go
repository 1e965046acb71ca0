// Package study holds the study file: what to read, how to screen it, what
// cost means and what to ask. Decoding is strict; every setting has a default
// that is written down here once.
package study

import (
	"path/filepath"
	"time"
)

// Study is a whole study as resolved: the file's settings over the defaults.
// Paths are as written; relative ones start at Folder.
type Study struct {
	Folder   string         // absolute folder of the study file
	File     string         // name of the study file in Folder, "" when the study was not read from one
	Name     string         // study
	Seed     uint64         // seed of every random number
	TimeZone *time.Location // timezone: where the squad swims
	Inputs   []Input
	Roster   string // path, "" when there is none
	Assign   string // path, "" when there is none
	Notes    string // path, "" when there is none
	Privacy  Privacy
	Screen   Screen
	Cost     Cost
	Analysis Analysis
	Changes  []Change
	Frozen   string // frozen: hex SHA-256 of the frozen plan's file; "" for none
	Output   string

	offLines map[string]int // line of each entry of screen.off, for CheckOff
}

// Path is where a path of the study file is: relative ones start at its folder.
func (s *Study) Path(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(s.Folder, filepath.FromSlash(name))
}

// InputKind says what a matched file holds.
type InputKind string

// The kinds of input.
const (
	Activity  InputKind = "activity"
	Sheet     InputKind = "sheet"
	HeartRate InputKind = "heart-rate"
)

// CountBasis says what a recorder counts as one stroke.
type CountBasis string

// The counting bases.
const (
	Arms         CountBasis = "arms"    // each arm entry
	Cycles       CountBasis = "cycles"  // each cycle of both arms
	UnknownBasis CountBasis = "unknown" // not stated; stays out of comparisons across sessions
)

// Input is one path pattern. Pattern is slash-separated, relative to the
// study's folder, with * and ? within one path element and at most one
// {swimmer}.
type Input struct {
	Pattern     string
	Kind        InputKind
	StrokeCount CountBasis        // stroke_count; UnknownBasis when not stated
	TimeZone    *time.Location    // overrides the study's; nil otherwise
	PoolM       float64           // pool: used where a recording states none; 0 when not given
	HRSource    string            // hr_source: strap, optical, palpated; "" when not stated
	Columns     map[string]string // columns: our column name -> the sheet's header
	Strokes     string            // strokes: total or per-length, where a sheet's rows of several lengths do not say; "" when not stated
	Dates       DateOrder         // dates: how dates such as 03/04/2026 are meant; AnyOrder when not stated
	HRCount     time.Duration     // hr_count: the sheet's heart rates are counts of beats over so long; 0 when they are not
	HRDelay     time.Duration     // hr_delay: after the touch, where the sheet states none for its readings; 0 when not given
}

// DateOrder says in which order the numbers of a date stand where the date
// itself can be read in two.
type DateOrder string

// The orders of dates.
const (
	AnyOrder   DateOrder = ""
	DayFirst   DateOrder = "day-first"
	MonthFirst DateOrder = "month-first"
)

// Privacy says how swimmers appear in what the study writes.
type Privacy struct {
	AsGiven       bool   // identify: as-given; false means pseudonym
	KeyFile       string // key_file
	SmallestGroup int    // smallest_group: of swimmers, in what is released

	// QuasiIdentifiers are what outsiders may know of a swimmer and a release may
	// tell: sex, age_band and squad, the one given up last first
	// (quasi_identifiers).
	QuasiIdentifiers []string
}

// Screen holds the thresholds of the screening rules. Off lists rules
// switched off by id.
type Screen struct {
	Off                  map[string]bool
	SlowestMPS           float64 // slowest_mps: slower lengths are impossible
	FastestMPS           float64 // fastest_mps
	LowestRateSPM        float64 // lowest_rate_spm, arm strokes (or breaststroke/butterfly cycles) a minute
	HighestRateSPM       float64 // highest_rate_spm
	LowestHRBPM          float64 // lowest_hr_bpm
	HighestHRBPM         float64 // highest_hr_bpm
	MissedTurnLow        float64 // missed_turn_low: seconds over the usual seconds, from
	MissedTurnHigh       float64 // missed_turn_high: ... to
	MissedTurnStrokesLow float64 // missed_turn_strokes_low: strokes over the usual strokes, from
	FalseTurnShare       float64 // false_turn_share: each part is below this share of the usual seconds
	FalseTurnTolerance   float64 // false_turn_tolerance: the parts' sum is the usual within this share
	EarlyTurnShift       float64 // early_turn_shift: seconds on the wrong side of the wall over those of a length, from
	EarlyTurnTolerance   float64 // early_turn_tolerance: the two lengths' sum is two usual lengths within this share
	StopInsideLow        float64 // stop_inside_low: seconds over the usual seconds, from, with no more strokes than usual
	CountLow             float64 // count_low: strokes over the usual strokes at that pace, below it they are implausible
	CountHigh            float64 // count_high: ... above it
	KickRateSPM          float64 // kick_rate_spm: a swim all below this many arm strokes a minute was kicked
	LockSeconds          float64 // lock_seconds: heart rate near the stroke rate for as many seconds of swimming
	StrokeIndexLow       float64 // stroke_index_low: a session's median stroke index (m2/s) cannot be below it in the right pool
	StrokeIndexHigh      float64 // stroke_index_high: ... or above it
	StepBPM              float64 // step_bpm: a change within a second that no heart makes, from
	UsualLengths         int     // usual_lengths: fewest lengths that make a usual
}

// Cost says what a bout's cost is.
type Cost struct {
	Measure      string        // bpm, hr-reserve, net-beats, lab or rpe
	Steady       string        // steady: how steady heart rate is read from samples: SteadyAuto, SteadyWindow or SteadyKinetics
	SteadyAfter  time.Duration // steady_after: a window's heart rate is taken for steady from here on
	Window       time.Duration // window: the last part of the bout that is averaged
	ShortestBout time.Duration // shortest_bout: shorter bouts are left out
	HRSource     string        // hr_source: AnySource, or the one source whose bouts are used
	// For the measure lab alone.
	VO2Rest           float64 // vo2_rest, mL/kg/min: resting oxygen uptake of swimmers for whom the roster has none
	LactateEquivalent float64 // lactate_equivalent, mL of oxygen a kg for each mmol/L of lactate
}

// ReadsHeartRate reports whether the cost is read from a heart rate.
func (c Cost) ReadsHeartRate() bool { return c.Measure != "rpe" && c.Measure != "lab" }

// How steady heart rate is read where a bout has samples.
const (
	SteadyAuto     = "auto"     // by kinetics where the samples bear it, else by window
	SteadyWindow   = "window"   // by the mean of the last samples of long bouts alone
	SteadyKinetics = "kinetics" // by kinetics alone: other bouts with samples are left out
)

// AnySource is the hr_source that leaves no bout out.
const AnySource = "any"

// Unit is the unit of the cost measure, as written in sentences.
func (c Cost) Unit() string {
	switch c.Measure {
	case "hr-reserve":
		return "points of heart-rate reserve"
	case "net-beats":
		return "beats per 100 m"
	case "lab":
		return "J/kg/m"
	case "rpe":
		return "points of exertion"
	}
	return "bpm"
}

// Analysis says what is asked of the bouts.
type Analysis struct {
	Strokes        []string // strokes
	ReferencePace  float64  // reference_pace in s per 100 m; 0 means auto: each swimmer's median
	SmallestEffect float64  // smallest_effect, cost per +10 % of rate: smaller is practically none
	MinSessions    int      // min_sessions
	MinBouts       int      // min_bouts
	MinRateSpread  float64  // min_rate_spread: sd of ln rate at fixed pace, below it there is nothing to learn
	MatchedPace    float64  // matched_pace: |difference of ln v| of a matched pair, at most
	Resamples      int      // resamples
	Permutations   int      // permutations
	Sensitivity    bool     // sensitivity: whether the primary number is asked again under other choices
	SetBeforehand  []string // set_beforehand: tags whose value was planned, not the swimmer's own choice
	// Standard deviation of the error of a stroke count as a share of it, where
	// it is known; 0 means not stated. It holds for counts that no one checked.
	CountErrorLength float64 // count_error_length: of one length, independent from length to length
	CountErrorBout   float64 // count_error_bout: of a bout as a whole
}
