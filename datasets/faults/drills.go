package faults

import "math"

// drill is how an exercise is told by a recorder that takes it for swimming.
// Shares are of the swimmer's speed and strokes.
type drill struct {
	speed, strokes [2]float64
	kicked         bool
}

// drills are what swimmers do between lengths of swimming; no source, common
// practice. Strokes are as both arms enter, or as a wrist sees them.
var drills = []drill{
	{speed: [2]float64{0.75, 0.92}, strokes: [2]float64{0.65, 0.85}},           // catch-up: one arm waits for the other
	{speed: [2]float64{0.7, 0.85}, strokes: [2]float64{1.2, 1.45}},             // closed fists
	{speed: [2]float64{0.6, 0.8}, strokes: [2]float64{0.4, 0.65}},              // one arm
	{speed: [2]float64{0.45, 0.7}, strokes: [2]float64{1.3, 2}},                // sculling
	{speed: [2]float64{0.55, 0.8}, strokes: [2]float64{0.1, 0.3}},              // six kicks a stroke
	{speed: [2]float64{0.5, 0.75}, strokes: [2]float64{0, 0.12}, kicked: true}, // kick on the side
	{speed: [2]float64{0.5, 0.75}, strokes: [2]float64{0, 0}, kicked: true},    // kick, arms in front
}

// drillsByLengths is repeats in which some lengths are exercises and the others
// swum, all told as swimming.
func (p *planner) drillsByLengths() {
	metres := p.fit(p.oneOf(50, 100, 200))
	n := int(metres / p.pool)
	d := p.drawn(drills[p.IntN(len(drills))])
	every := 2
	if n >= 4 && p.chance(0.3) {
		every = 4 // 75 drill, 25 swim
	}
	for range 3 + p.IntN(5) {
		from := len(p.out)
		p.repeats(1, repeat{stroke: freestyle, effort: p.between(0.92, 1.02), metres: metres, rest: p.between(10, 30)})
		for i := range p.out[from:] {
			if i%every != every-1 || n == 1 && p.chance(0.5) {
				p.exercise(&p.out[from+i], d)
			}
		}
	}
	if p.chance(0.6) { // then a plain set
		p.repeats(3+p.IntN(3), repeat{stroke: freestyle, effort: p.between(0.95, 1.05), metres: p.fit(p.oneOf(100, 200)), rest: p.between(10, 30)})
	}
}

// drawn is how one swimmer does an exercise all through a set: length for length
// it takes much the same.
func (p *planner) drawn(d drill) drill {
	speed, strokes := p.between(d.speed[0], d.speed[1]), p.between(d.strokes[0], d.strokes[1])
	d.speed, d.strokes = [2]float64{0.96 * speed, 1.04 * speed}, [2]float64{0.92 * strokes, 1.08 * strokes}
	return d
}

// exercise makes a drill of a swum length.
func (p *planner) exercise(s *swum, d drill) {
	speed := p.between(d.speed[0], d.speed[1])
	s.seconds, s.effort = s.seconds/speed, s.effort*speed
	s.strokes *= p.between(d.strokes[0], d.strokes[1])
	s.kind = Drill
	if d.kicked {
		s.kind = Kick
	}
}

// kickSet is repeats kicked from end to end: no strokes, or the few that a wrist
// counts when the board is pushed about.
func (p *planner) kickSet() {
	metres, effort := p.fit(p.oneOf(50, 100, 200)), p.between(0.5, 0.75)
	seen := p.oneOf(0, 0, 1, 3)
	for range 3 + p.IntN(4) {
		from := len(p.out)
		p.repeats(1, repeat{stroke: freestyle, effort: effort, metres: metres, rest: p.between(10, 30)})
		for i := range p.out[from:] {
			s := &p.out[from+i]
			s.kind, s.strokes = Kick, math.Round(2*seen*p.Float64()*p.pool/25)
		}
	}
}
