package activityfile

import "time"

// Numbers of the published profile that an Activity uses.
const (
	SportGeneric    = 0
	SportRunning    = 1
	SportCycling    = 2
	SportSwimming   = 5
	SportMultisport = 18

	SubSportGeneric     = 0
	SubSportLapSwimming = 17
	SubSportOpenWater   = 18
)

// Stroke is swim_stroke of the published profile.
type Stroke uint8

// The strokes of the published profile.
const (
	Freestyle        Stroke = 0
	Backstroke       Stroke = 1
	Breaststroke     Stroke = 2
	Butterfly        Stroke = 3
	Drill            Stroke = 4
	Mixed            Stroke = 5
	IndividualMedley Stroke = 6
)

// Activity is one recording as a watch knows it. All Seconds count from
// StartUTC. The zero Sport stands for pool swimming; see NotPoolSwimming.
type Activity struct {
	StartUTC    time.Time     // whole seconds; a fraction is cut off
	LocalOffset time.Duration // local clock minus UTC, as written by the watch

	NotPoolSwimming bool  // use Sport and SubSport below as they are
	Sport           uint8 // of the published profile
	SubSport        uint8

	Serial      uint32 // of the watch
	ProductName string // invented
	Profile     *Profile

	PoolMetres float64 // 0: none
	PoolYards  bool    // the unit the watch shows

	Laps    []Lap // in order of time; each owns a run of Lengths
	Lengths []Length
	Records []Record // in order of time
	Beats   []Beat   // of a strap, in order of time; may begin before 0

	Legs []Leg // further sessions of the same file, as of a triathlon
}

// Leg is a further session of an activity, of another sport.
type Leg struct {
	StartSeconds    float64
	DurationSeconds float64
	Sport, SubSport uint8 // of the published profile
}

// Profile is what the watch believes of its wearer. A zero number is unset.
type Profile struct {
	Name       string
	Female     bool
	MassKG     float64
	HeightM    float64
	RestingBPM uint8
	MaxBPM     uint8
}

// Lap is an interval or a rest.
type Lap struct {
	StartSeconds    float64
	DurationSeconds float64
	FirstLength     int // index into Activity.Lengths
	Lengths         int // number of lengths owned, idle ones included
	DistanceMetres  float64
}

// Length is one length message: a pool length swum, or a rest where Idle.
type Length struct {
	StartSeconds    float64
	DurationSeconds float64
	Strokes         int // as the watch counted; negative: not measured
	Stroke          Stroke
	Idle            bool
}

// Record is a record message.
type Record struct {
	Seconds        float64
	BPM            int     // negative: the field is left out; 0 and 255 are written
	DistanceMetres float64 // since the start; negative: left out
	Position       bool    // Lat and Lon are written
	Lat, Lon       float64 // degrees
}

// Beat is one heart beat seen by a strap, with the heart rate the strap reports.
type Beat struct {
	Seconds float64
	BPM     uint8
}
