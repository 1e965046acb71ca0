package squad

import "time"

// Squad is the outcome of a simulation.
type Squad struct {
	Scenario Scenario // as simulated, defaults filled in
	Swimmers []Swimmer
}

// Swimmer is one simulated person with everything that is true of them. The
// pipeline may be shown the body, the names and the device, never the rest.
type Swimmer struct {
	Index  int    // position in the squad, from 0
	Handle string // short lower-case name, unique in the squad: "marta-tidewell"
	Given  string // invented
	Family string // invented

	Sex       string // "f" or "m"
	BirthYear int
	RestBPM   float64 // resting heart rate
	MaxBPM    float64 // highest heart rate in the water
	MassKG    float64
	HeightCM  float64
	ArmSpanCM float64
	Device    uint32 // serial number of the swimmer's watch, invented

	RefSpeedMPS     float64   // reference speed vRef, m/s
	RateRefSPM      float64   // usual clean rate at vRef, arm strokes/min
	RateExponent    float64   // slope of ln usual rate on ln speed
	BaseBPM         float64   // steady heart rate at vRef and usual rate, rested
	RecoveryBPM     float64   // value heart rate falls to in a rest
	TauSeconds      float64   // 0: kinetics are off
	GlideMetres     float64   // without strokes after each push-off
	GlideSpeedRatio float64   // speed of the glide over the speed of the length
	Changed         bool      // belongs to the part of the squad that the Change reaches
	ChangedFrom     time.Time // the first day of it, for those
	TrendBPM        float64   // drift of the level over the season, bpm per 30 days
	WatchBias       float64   // lasting bias of the watch's count, share of the strokes
	HandBias        float64   // lasting bias of the deck's count, share of the strokes
	Truth           Truth

	Sessions []Session

	bouts   []Bout
	lengths []Length
	samples []Sample
}

// Session is one swimmer's pool session.
type Session struct {
	Number     int // from 0, in order of time
	StartUTC   time.Time
	Local      time.Time // the same instant in Scenario.Zone
	PoolMetres float64
	PoolYards  bool
	Designed   bool    // the rate or the instruction was set beforehand
	FatigueBPM float64 // fatigue reached at the session's end
	Bouts      []Bout
	HeartRate  []Sample // at 1 Hz; nil unless HeartRateSamples
}

// DurationSeconds is the time from the session's start to its last touch, s.
func (s *Session) DurationSeconds() float64 {
	if len(s.Bouts) == 0 {
		return 0
	}
	last := &s.Bouts[len(s.Bouts)-1]
	return last.StartSeconds + last.DurationSeconds
}

// Instruction is what the swimmer was told about the stroke.
type Instruction string

// The instructions; NoInstruction where nothing was said.
const (
	NoInstruction Instruction = ""
	Usual         Instruction = "usual"
	FewestStrokes Instruction = "fewest-strokes"
	QuickerRate   Instruction = "quicker-rate"
)

// Kick is how the legs were told to work; empty where nothing was said.
type Kick string

// The kicks.
const (
	KickUnset Kick = ""
	KickNone  Kick = "none"
	KickLight Kick = "light"
	KickFull  Kick = "full"
)

// Stroke is a swimming stroke.
type Stroke string

// The strokes that the simulator swims.
const (
	Freestyle Stroke = "freestyle"
	Drill     Stroke = "drill"
)

// Terms are the parts of a bout's steady heart rate, bpm. They sum to it.
type Terms struct {
	Base    float64
	Session float64
	Pace    float64
	Drift   float64
	Rate    float64 // f(r, x), the quantity a study is after
	Fatigue float64
	Kick    float64
	Change  float64
	Noise   float64
}

// Sum is the steady heart rate, bpm.
func (t Terms) Sum() float64 {
	return t.Base + t.Session + t.Pace + t.Drift + t.Rate + t.Fatigue + t.Kick + t.Change + t.Noise
}

// Bout is a repeat: lengths swum without a rest, at one true speed and rate.
type Bout struct {
	StartSeconds      float64 // since the session's start
	DurationSeconds   float64
	RestBeforeSeconds float64 // 0 for the first
	DistanceMetres    float64

	Stroke        Stroke
	WarmUp        bool
	Designed      bool // RateTargetSPM or Instruction was set beforehand
	Instruction   Instruction
	RateTargetSPM float64 // clean rate set, arm strokes/min, whole; 0: none
	Kick          Kick
	PaceTarget    float64 // share faster than the reference speed that was asked for

	SpeedMPS           float64 // true mean speed
	RateSPM            float64 // true whole-length rate, arm strokes/min
	CleanRateSPM       float64 // true rate while stroking, arm strokes/min
	DistancePerStrokeM float64 // true, m per arm stroke; SpeedMPS = RateSPM DistancePerStrokeM/60
	LnSpeed            float64 // x = ln(v/vRef)
	LnRate             float64 // r = ln(R/Rusual(v))
	MinutesIn          float64 // at the start
	Terms              Terms
	SteadyBPM          float64 // true steady heart rate: Terms.Sum()
	EndBPM             float64 // true heart rate at the last touch
	ReadingBPM         float64 // the reading taken, by Scenario.HeartRate
	ArmStrokes         int     // truly swum, whole
	CountedCycles      int     // by the watch, one-arm cycles
	CountedArms        int     // by hand, arm strokes
	LengthCount        int
	Lengths            []Length // nil unless Scenario.LengthDetail
}

// Length is one pool length.
type Length struct {
	StartSeconds    float64 // since the session's start
	DurationSeconds float64
	ArmStrokes      int // truly swum
	CountedCycles   int // by the watch
	CountedArms     int // by hand
	Stroke          Stroke
}

// Sample is a heart-rate sample.
type Sample struct {
	Seconds float64 // since the session's start
	BPM     float64
}
