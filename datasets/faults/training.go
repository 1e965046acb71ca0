package faults

import "math"

// Training is one kind of clean session of a squad. Where [Simulate] draws sets
// at random for a middling swimmer, these are sessions as squads swim them, each
// hard in its own way for whoever judges a length by its neighbours.
type Training string

// The kinds of training.
const (
	MedleySession   Training = "individual medley: 100s, 200s and 400s, strokes by quarters and by lengths"
	SprintsInside   Training = "sprints inside endurance sets: last 25 flat out, every third 50 fast, broken swims"
	ShortBesideLong Training = "25s and 50s next to 400s and 800s"
	DrillsByLengths Training = "drills and kick by lengths that nobody typed in: 25 drill, 25 swim"
	KickSets        Training = "kick sets between swim sets, with a board or on the back"
	Beginner        Training = "a beginner: 40 to 65 s for 25 m, uneven, breathers at the wall"
	Sprinter        Training = "a national-level sprinter: dives, long underwater kicks, race pace next to easy"
	LongAxisGear    Training = "paddles and fins by turns with plain swimming"
	CycleStrokes    Training = "breaststroke and butterfly with pull-outs, counted in cycles"
	Distance        Training = "distance: 1500s and 3000s, fast and easy by hundreds"
	YardsPool       Training = "a 25-yard pool, sets of all kinds"
	Pool20          Training = "a 20 m pool, sets of all kinds"
	LongCourse      Training = "a 50 m pool, sets of all kinds"
	Ladders         Training = "ladders: 50, 100, 200, 300, 400 and down, pace by distance"
)

// Trainings lists them.
func Trainings() []Training {
	return []Training{MedleySession, SprintsInside, ShortBesideLong, DrillsByLengths, KickSets, Beginner, Sprinter,
		LongAxisGear, CycleStrokes, Distance, YardsPool, Pool20, LongCourse, Ladders}
}

// SimulateTraining returns a session of one kind of training with up to n faults
// of one kind and size; [Clean] plants none. Lengths drilled or kicked that
// nobody typed in are no clean lengths: their truth is [Drill] or [Kick], with
// Fault -1.
func SimulateTraining(seed uint64, training Training, k Kind, size float64, n int) Session {
	r := newRandom(seed, 11)
	p := &planner{random: r, swimmer: newSwimmer(r), pool: r.oneOf(25, 25, 25, 50)}
	p.swimmerOf(training)
	p.train(training)
	spoiled := newRandom(seed, 12)
	swum, placed := plant(spoiled, p, k, size, n)
	efforts := make([]float64, len(swum))
	for i := range swum {
		efforts[i] = swum[i].effort
	}
	own := newRandom(seed, 13)
	rec := newRecorder(own, p.pool)
	s := Session{Seed: seed, PoolM: p.pool, PoolSwumM: p.pool, CountsArms: rec.arms, WallTimeOutS: rec.wallTime}
	s.Lengths = rec.record(swum, s.PoolM)
	if own.chance(0.08) { // one recording held all its lengths in one lap
		for i := range s.Lengths {
			s.Lengths[i].Lap = 1
		}
	}
	if k == Clean || k.OnSamples() {
		s.Samples = newSensor(newRandom(seed, 14)).samples(p, s.Lengths, efforts)
		placed = spoilSamples(spoiled, &s, k, size, n)
	}
	s.Planted = placed
	return s
}

// swimmerOf makes the swimmer and the pool those that a kind of training needs.
func (p *planner) swimmerOf(training Training) {
	switch training {
	case Beginner:
		p.pool = p.oneOf(25, 25, 20)
		p.glide = p.between(1, 3)
		for strokes := 0.0; strokes < 20 || strokes > 45; { // in 25 m; no source: what learners take
			p.speed = p.between(0.4, 0.65)
			p.perStroke = 60 * p.speed / p.between(30, 56)
			strokes = (25 - p.glide) / p.perStroke
		}
		p.lengthSD, p.countSD = p.between(0.03, 0.07), p.between(0.03, 0.07)
	case Sprinter:
		p.speed = p.between(1.3, 1.5)
		p.perStroke = p.between(1.05, 1.3)
		p.lengthSD, p.countSD, p.glide = p.between(0.008, 0.02), p.between(0.01, 0.03), p.between(6, 9)
	case YardsPool:
		p.pool = 22.86
	case Pool20:
		p.pool = 20
	case LongCourse:
		p.pool = 50
	case CycleStrokes:
		p.pool = p.oneOf(25, 25, 50, 22.86)
	}
}

// train swims about 70 lengths of one kind of training.
func (p *planner) train(training Training) {
	warm := repeat{stroke: freestyle, effort: 0.93, metres: p.fit(200), rest: p.between(15, 40)}
	if training == Beginner {
		warm.metres, warm.effort = p.fit(50), 0.97
	}
	p.repeats(1+p.IntN(2), warm)
	for len(p.out) < 70 {
		switch training {
		case MedleySession:
			p.medleySet()
		case SprintsInside:
			p.sprintsInside()
		case ShortBesideLong:
			p.shortBesideLong()
		case DrillsByLengths:
			p.drillsByLengths()
		case KickSets:
			p.kickSet()
			p.set()
		case Beginner:
			p.beginnerSet()
		case Sprinter:
			p.sprinterSet()
		case LongAxisGear:
			p.gearSet()
		case CycleStrokes:
			p.cycleSet()
		case Distance:
			p.distanceSet()
		case Ladders:
			p.ladder()
		default:
			p.set()
		}
	}
}

var medleyOrder = []string{butterfly, backstroke, breaststroke, freestyle}

func (p *planner) medleySet() {
	r := repeat{stroke: freestyle, effort: p.between(0.95, 1.06), metres: p.fit(p.oneOf(100, 200, 200, 400)), rest: p.between(10, 45)}
	per := max(1, int(r.metres/p.pool)/4)
	switch p.IntN(4) {
	case 0: // in order, by quarters
		r.strokeAt = func(i int) string { return medleyOrder[min(3, i/per)] }
		p.repeats(2+p.IntN(3), r)
	case 1: // each repeat one stroke
		for i := range 4 + p.IntN(5) {
			q := r
			q.stroke, q.metres = medleyOrder[i%4], p.fit(p.oneOf(50, 100))
			p.repeats(1, q)
		}
	case 2: // one stroke into the next: 25 butterfly, 25 backstroke
		from := p.IntN(4)
		r.metres = p.fit(50)
		r.strokeAt = func(i int) string { return medleyOrder[(from+i)%4] }
		p.repeats(4+p.IntN(5), r)
	case 3: // main stroke in the first half, freestyle home
		main := medleyOrder[p.IntN(3)]
		n := int(r.metres / p.pool)
		r.strokeAt = func(i int) string {
			if i < n/2 {
				return main
			}
			return freestyle
		}
		p.repeats(2+p.IntN(4), r)
	}
}

func (p *planner) sprintsInside() {
	fast, easy := p.between(1.12, 1.28), p.between(0.9, 1)
	switch p.IntN(4) {
	case 0: // 4 to 8 x 100, the last length flat out
		metres := p.fit(p.oneOf(100, 100, 200))
		last := int(metres/p.pool) - 1
		p.repeats(4+p.IntN(5), repeat{stroke: freestyle, effort: easy, metres: metres, rest: p.between(10, 30), perTurn: func(i int) float64 {
			if i == last {
				return fast
			}
			return 1
		}})
	case 1: // 50s, every third fast
		for i := range 6 + 3*p.IntN(3) {
			r := repeat{stroke: freestyle, effort: easy, metres: p.fit(50), rest: p.between(10, 30)}
			if i%3 == 2 {
				r.effort = fast
			}
			p.repeats(1, r)
		}
	case 2: // broken 200: 100, 50, 25, 25 at race pace
		for _, metres := range []float64{100, 50, 25, 25} {
			p.repeats(1, repeat{stroke: freestyle, effort: p.between(1.08, 1.2), metres: p.fit(metres), rest: p.between(5, 12)})
		}
	case 3: // a burst somewhere in each swim
		n := int(p.fit(p.oneOf(200, 300)) / p.pool)
		at := p.IntN(n)
		p.repeats(2+p.IntN(3), repeat{stroke: freestyle, effort: easy, metres: float64(n) * p.pool, rest: p.between(15, 40), perTurn: func(i int) float64 {
			if i == at {
				return fast
			}
			return 1
		}})
	}
}

func (p *planner) shortBesideLong() {
	p.repeats(4+p.IntN(7), repeat{stroke: freestyle, effort: p.between(1.08, 1.28), metres: p.fit(p.oneOf(25, 25, 50)), rest: p.between(15, 60)})
	p.repeats(1+p.IntN(2), repeat{stroke: freestyle, effort: p.between(0.86, 0.98), metres: p.fit(p.oneOf(400, 400, 800)), rest: p.between(20, 60),
		change: p.between(-0.06, 0.06)})
}

// beginnerSet is short swims, slower from length to length, with breathers of
// some seconds at the wall which a watch counts with the next length.
func (p *planner) beginnerSet() {
	r := repeat{stroke: freestyle, effort: p.between(0.92, 1.06), metres: p.fit(p.oneOf(25, 50, 50, 100)), rest: p.between(20, 90), change: p.between(-0.2, 0)}
	if p.chance(0.3) {
		r.stroke = []string{backstroke, breaststroke}[p.IntN(2)]
	}
	from := len(p.out)
	p.repeats(3+p.IntN(4), r)
	for i := from + 1; i < len(p.out); i++ {
		if p.out[i].lap == p.out[i-1].lap && p.chance(0.25) {
			p.out[i].seconds += p.between(1, 5)
		}
	}
}

// sprinterSet is race pace from a dive or a push next to easy swimming. Under
// water the legs alone drive: 8 to 13 m at race pace hold no strokes.
func (p *planner) sprinterSet() {
	main := freestyle
	if p.chance(0.35) {
		main = []string{butterfly, backstroke}[p.IntN(2)]
	}
	switch p.IntN(4) {
	case 0: // dives, swum down between them
		for range 3 + p.IntN(4) {
			from := len(p.out)
			p.repeats(1, repeat{stroke: main, effort: p.between(1.26, 1.36), metres: p.fit(p.oneOf(25, 50)), rest: p.between(60, 180), glide: p.between(9, 13)})
			p.out[from].seconds -= p.between(0.7, 1.3)
			p.repeats(1, repeat{stroke: freestyle, effort: p.between(0.75, 0.88), metres: p.fit(p.oneOf(50, 100)), rest: p.between(5, 20)})
		}
	case 1: // 25s to the 15 m mark, rest easy: one length fast and easy
		p.repeats(6+p.IntN(5), repeat{stroke: main, effort: p.between(1.12, 1.25), metres: p.fit(25), rest: p.between(30, 60), glide: p.between(7, 11)})
	case 2: // 100s at aerobic pace
		p.repeats(4+p.IntN(5), repeat{stroke: freestyle, effort: p.between(0.9, 1), metres: p.fit(100), rest: p.between(10, 30)})
	case 3: // fast 50s: out hard, home slower
		p.repeats(4+p.IntN(5), repeat{stroke: main, effort: p.between(1.2, 1.32), metres: p.fit(50), rest: p.between(40, 120), change: p.between(-0.12, -0.02), glide: p.between(8, 12)})
	}
}

// gearSet swims with paddles, fins or both and without: fins give speed,
// paddles give distance a stroke.
func (p *planner) gearSet() {
	r := repeat{stroke: freestyle, effort: p.between(0.93, 1.04), metres: p.fit(p.oneOf(50, 100, 200)), rest: p.between(10, 30)}
	n := 2 + p.IntN(4)
	p.repeats(n, r)
	with := r
	switch p.IntN(3) {
	case 0: // paddles
		with.effort, with.fewer = r.effort*p.between(1.02, 1.06), p.between(0.08, 0.16)
	case 1: // fins
		with.effort, with.fewer = r.effort*p.between(1.1, 1.22), p.between(0, 0.15)
	case 2: // buoy alone
		with.fewer = p.between(0, 0.08)
	}
	p.repeats(n, with)
	if p.chance(0.4) { // put on and off within a swim, at the wall
		half := int(r.metres/p.pool+1) / 2
		r.perTurn = func(i int) float64 {
			if i >= half {
				return with.effort / r.effort
			}
			return 1
		}
		p.repeats(2, r)
	}
}

// cycleSet is breaststroke and butterfly: few cycles a length, each counts, and
// pull-outs or kicks under water after every wall.
func (p *planner) cycleSet() {
	stroke := []string{breaststroke, butterfly}[p.IntN(2)]
	r := repeat{stroke: stroke, effort: p.between(0.92, 1.1), metres: p.fit(p.oneOf(25, 50, 100)), rest: p.between(10, 45), glide: p.between(5, 9)}
	switch p.IntN(3) {
	case 0:
		p.repeats(4+p.IntN(6), r)
	case 1: // longer strokes from repeat to repeat
		for i := range 4 + p.IntN(4) {
			q := r
			q.fewer = 0.03 * float64(i)
			p.repeats(1, q)
		}
	case 2: // stroke out, freestyle home
		r.metres = p.fit(100)
		r.strokeAt = func(i int) string {
			if i%2 == 0 {
				return stroke
			}
			return freestyle
		}
		p.repeats(3+p.IntN(4), r)
	}
}

func (p *planner) distanceSet() {
	r := repeat{stroke: freestyle, effort: p.between(0.92, 1), metres: p.fit(p.oneOf(1000, 1500, 3000)), rest: p.between(30, 90), change: p.between(-0.08, 0.06)}
	if p.chance(0.5) { // by hundreds
		up, down, each := p.between(1.03, 1.1), p.between(0.88, 0.97), int(p.fit(100)/p.pool)
		r.perTurn = func(i int) float64 {
			if i/each%2 == 0 {
				return down
			}
			return up
		}
	}
	p.repeats(1, r)
}

func (p *planner) ladder() {
	rungs := []float64{50, 100, 200, 300, 400, 300, 200, 100, 50}
	slope := p.between(0.03, 0.06)
	for _, metres := range rungs[:5+p.IntN(5)] {
		p.repeats(1, repeat{stroke: freestyle, effort: 0.97 * math.Pow(metres/200, -slope), metres: p.fit(metres), rest: p.between(10, 40)})
	}
}
