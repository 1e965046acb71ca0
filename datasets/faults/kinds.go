package faults

import "slices"

// Kind is a kind of fault, or of record that the rules must know.
type Kind string

// The kinds. Clean is none.
const (
	Clean          Kind = ""
	MissedTurn     Kind = "missed-turn"
	FalseTurn      Kind = "false-turn"
	EarlyTurn      Kind = "early-turn"
	StopInside     Kind = "stop-inside"
	WrongCount     Kind = "wrong-count"
	LostCount      Kind = "lost-count"
	WrongPool      Kind = "wrong-pool"
	Drill          Kind = "drill"
	Kick           Kind = "kick"
	TooFast        Kind = "too-fast"
	TooManyStrokes Kind = "too-many-strokes"
	Dropout        Kind = "dropout"
	StartValue     Kind = "start-value"
	Lock           Kind = "lock"
	Step           Kind = "step"
	ClockBack      Kind = "clock-back"
)

// Grade is one severity of a kind.
type Grade struct {
	Size   float64
	Words  string
	Notice bool // a coach who looks would see it
}

// KindGrades is a kind with its grades, mildest first.
type KindGrades struct {
	Kind   Kind
	Unit   string // of Size
	Grades []Grade
}

// Kinds returns every kind that can be planted with its grades.
func Kinds() []KindGrades {
	return []KindGrades{
		{MissedTurn, "other lengths recorded in the same repeat", []Grade{
			{0, "a repeat of two lengths recorded as one", true},
			{2, "one turn missed in a repeat of 4 lengths", true},
			{6, "one turn missed in a repeat of 8 lengths", true},
			{12, "one turn missed in a repeat of 14 or more", true},
			{-2, "two turns missed on end: three lengths as one", true},
		}},
		{FalseTurn, "share of the shorter piece", []Grade{
			{0.5, "a length recorded as two halves", true},
			{0.4, "pieces of 40 and 60 %", true},
			{0.28, "pieces of 28 and 72 %", true},
			{0.15, "pieces of 15 and 85 %", true},
			{0.08, "pieces of 8 and 92 %", true},
			{0.33, "two false turns: three pieces", true},
		}},
		{EarlyTurn, "share of a length's time put on the wrong side of the wall", []Grade{
			{0.06, "6 % (1.6 s of 26 s)", false},
			{0.10, "10 %", false},
			{0.15, "15 %", false},
			{0.20, "20 % (5 s of 26 s)", true},
			{0.27, "27 %", true},
			{0.35, "35 % (9 s of 26 s)", true},
		}},
		{StopInside, "time standing as a share of the length's time", []Grade{
			{0.10, "10 %", false},
			{0.20, "20 %", false},
			{0.30, "30 % (8 s of 26 s)", false},
			{0.50, "50 % (13 s of 26 s)", true},
			{0.75, "75 %", true},
			{1.20, "120 % (31 s of 26 s)", true},
		}},
		{WrongCount, "share of the strokes missed or added", []Grade{
			{0.10, "10 % (one of 12)", false},
			{0.20, "20 %", false},
			{0.30, "30 % (12 read as 8 or 16)", false},
			{0.40, "40 % (12 read as 7 or 17)", true},
			{0.60, "60 % (12 read as 5 or 19)", true},
		}},
		{LostCount, "", []Grade{{0, "no count on a swum length", true}}},
		{WrongPool, "pool set on the recorder over the pool swum in", []Grade{
			{22.86 / 25, "25 yards set in 25 m", false},
			{0.8, "20 m set in 25 m", false},
			{4.0 / 3, "33.3 m set in 25 m", false},
			{0.5, "25 m set in 50 m", true},
			{2, "50 m set in 25 m", true},
		}},
		{Drill, "", []Grade{{0, "drill typed in, times split evenly, no strokes", true}}},
		{Kick, "strokes counted in 25 m", []Grade{
			{6, "about 6 strokes (a pull now and then)", false},
			{3, "about 3 strokes", true},
			{1, "0 to 2 strokes", true},
			{0, "no strokes", true},
		}},
		{TooFast, "m/s", []Grade{
			{2.1, "2.1 m/s", false},
			{2.4, "2.4 m/s", false},
			{2.8, "2.8 m/s", true},
			{3.5, "3.5 m/s", true},
			{5, "5 m/s", true},
		}},
		{TooManyStrokes, "arm strokes a minute", []Grade{
			{120, "120 a minute", false},
			{140, "140 a minute", false},
			{170, "170 a minute", true},
			{220, "220 a minute", true},
		}},
		{Dropout, "samples without a value", []Grade{
			{1, "one sample", true}, {10, "10 samples", true}, {60, "60 samples", true},
		}},
		{StartValue, "", []Grade{{0, "the sensor's first value", true}}},
		{Lock, "seconds of swimming", []Grade{
			{20, "20 s", false}, {40, "40 s", false}, {60, "60 s", false},
			{120, "2 min", true}, {240, "4 min", true}, {480, "8 min", true},
			{lockFromFirst, "from the first sample on, a third of the session", true},
			{lockToLast, "the last third of the session, to the last sample", true},
			{lockThroughout, "from the first sample to the last", true},
		}},
		{Step, "bpm", []Grade{
			{8, "8 bpm", false}, {12, "12 bpm", false}, {20, "20 bpm", true},
			{30, "30 bpm", true}, {50, "50 bpm", true},
		}},
		{ClockBack, "seconds", []Grade{
			{2, "2 s", false}, {5, "5 s", true}, {60, "1 min", true}, {3600, "1 h", true},
		}},
	}
}

// GradesOf returns the grades of one kind; nil for a kind that is not planted.
func GradesOf(k Kind) []Grade {
	kinds := Kinds()
	if i := slices.IndexFunc(kinds, func(g KindGrades) bool { return g.Kind == k }); i >= 0 {
		return kinds[i].Grades
	}
	return nil
}

// OnSamples tells whether the kind falls on heart-rate samples.
func (k Kind) OnSamples() bool {
	switch k {
	case Dropout, StartValue, Lock, Step, ClockBack:
		return true
	}
	return false
}
