package faults

// Session is one session as recorded, with its truth.
type Session struct {
	Seed         uint64
	PoolM        float64 // as set on the recorder
	PoolSwumM    float64
	CountsArms   bool
	WallTimeOutS float64 // left out at each wall
	Lengths      []Length
	Samples      []Sample // in the order in which they were written
	Planted      int      // faults that found a place
}

// Length is one recorded length. Strokes is NaN where nothing was counted;
// RestBeforeS is NaN but on a repeat's first length.
type Length struct {
	Lap, Swim   int
	StartS      float64
	DurationS   float64
	Strokes     float64
	Stroke      string
	PoolM       float64
	Drill       bool
	RestBeforeS float64
	Truth       Truth
}

// Truth is what a recorded length really was: Lengths is how many pool lengths
// were swum in it (1 where all is well), Strokes are arm entries or, in
// breaststroke and butterfly, cycles.
type Truth struct {
	Kind      Kind
	Fault     int // which fault of the session, -1: none
	Lengths   float64
	DurationS float64
	Strokes   float64
}

// Sample is one heart-rate sample; Length is the index of the length in which
// it falls, -1 in a rest.
type Sample struct {
	TimeS  float64
	BPM    float64
	First  bool
	Length int
	Truth  SampleTruth
}

// SampleTruth is what the heart did.
type SampleTruth struct {
	Kind  Kind
	Fault int
	BPM   float64
}

// Simulate returns a session of about 70 lengths with up to n faults of one kind
// and size. The same arguments give the same session; the swimmer and the plan
// depend on the seed alone. Clean plants nothing. Sessions whose fault falls on
// lengths come without heart rate.
func Simulate(seed uint64, k Kind, size float64, n int) Session {
	r := newRandom(seed, 1)
	pool := r.oneOf(25, 25, 25, 25, 50, 50, 100.0/3)
	if k == WrongPool {
		pool = 25
		if size == 0.5 {
			pool = 50
		}
	}
	p := &planner{random: r, swimmer: newSwimmer(r), pool: pool}
	p.session(70)
	if k == Drill {
		p.drills(p.fit(100), p.between(0.6, 0.8))
	}
	spoiled := newRandom(seed, 2)
	swum, placed := plant(spoiled, p, k, size, n)
	efforts := make([]float64, len(swum))
	for i := range swum {
		efforts[i] = swum[i].effort
	}
	rec := newRecorder(newRandom(seed, 3), pool)
	s := Session{Seed: seed, PoolM: pool, PoolSwumM: pool, CountsArms: rec.arms, WallTimeOutS: rec.wallTime}
	if k == WrongPool {
		s.PoolM = pool * size
		placed = 1
		for i := range swum {
			swum[i].kind, swum[i].fault = WrongPool, 0
		}
	}
	s.Lengths = rec.record(swum, s.PoolM)
	if k == Clean || k.OnSamples() {
		s.Samples = newSensor(newRandom(seed, 4)).samples(p, s.Lengths, efforts)
		placed = spoilSamples(spoiled, &s, k, size, n)
	}
	s.Planted = placed
	return s
}
