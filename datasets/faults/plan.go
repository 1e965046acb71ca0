package faults

import "math"

// swum is what happened between two touches that the recorder will report, true
// and unrounded.
type swum struct {
	lap        int
	stroke     string
	seconds    float64
	strokes    float64 // arm entries (freestyle, backstroke) or cycles; NaN: nobody counts
	lengths    float64 // pool lengths covered: 1, more where turns were missed, less for a piece
	restBefore float64 // s before a repeat's first length
	drill      bool
	effort     float64 // speed over the swimmer's steady speed in this stroke
	kind       Kind
	fault      int // index into Session.Faults, -1 for none
}

// planner swims a session, set by set.
type planner struct {
	random
	swimmer
	pool float64
	out  []swum
	lap  int
}

// repeat is how the lengths of one repeat are swum.
type repeat struct {
	stroke   string
	effort   float64
	metres   float64
	rest     float64
	change   float64             // of ln speed from its first length to its last
	perTurn  func(i int) float64 // factor of speed by length, nil: 1
	strokeAt func(i int) string  // stroke by length, nil: stroke
	fewer    float64             // share of the strokes left out on purpose
	glide    float64             // m off each wall without a stroke; 0: the swimmer's usual
}

// session swims sets until about `lengths` lengths are full.
func (p *planner) session(lengths int) {
	p.repeats(1+p.IntN(2), repeat{stroke: freestyle, effort: 0.93, metres: p.fit(200), rest: p.between(15, 40)})
	for len(p.out) < lengths {
		p.set()
	}
}

// fit is the whole number of pool lengths nearest to a distance, in metres.
func (p *planner) fit(metres float64) float64 {
	return max(1, math.Round(metres/p.pool)) * p.pool
}

// set draws one of the sets that a training plan holds.
func (p *planner) set() {
	main := freestyle
	if p.chance(0.25) {
		main = []string{backstroke, breaststroke, butterfly}[p.IntN(3)]
	}
	r := repeat{stroke: main, effort: p.between(0.9, 1.08), metres: p.fit(p.oneOf(50, 100, 100, 200)), rest: p.between(8, 45)}
	if main == butterfly {
		r.metres = p.fit(p.oneOf(25, 50))
	}
	n := 3 + p.IntN(6)
	switch p.IntN(12) {
	case 0, 1, 2: // even repeats
		p.repeats(n, r)
	case 3: // faster from repeat to repeat
		for i := range n {
			q := r
			q.effort *= 1 + 0.02*float64(i)
			p.repeats(1, q)
		}
	case 4: // faster within each repeat
		r.change = p.between(0.04, 0.16)
		p.repeats(n, r)
	case 5: // fast and easy by lengths
		up, down := p.between(1.05, 1.14), p.between(0.82, 0.93)
		r.perTurn = func(i int) float64 {
			if i%2 == 0 {
				return up
			}
			return down
		}
		p.repeats(n, r)
	case 6: // medley
		order := []string{butterfly, backstroke, breaststroke, freestyle}
		r.metres = p.fit(p.oneOf(100, 200))
		per := max(1, int(r.metres/p.pool)/4)
		r.strokeAt = func(i int) string { return order[i/per%4] }
		p.repeats(2+p.IntN(3), r)
	case 7: // two strokes by turns
		other := []string{backstroke, breaststroke}[p.IntN(2)]
		r.strokeAt = func(i int) string {
			if i%2 == 1 {
				return other
			}
			return freestyle
		}
		p.repeats(n, r)
	case 8: // a long swim
		r.stroke, r.metres, r.effort = freestyle, p.fit(p.oneOf(400, 800)), p.between(0.9, 1)
		r.change = p.between(-0.05, 0.03)
		p.repeats(1, r)
	case 9: // sprints
		r.metres, r.effort, r.rest = p.fit(p.oneOf(25, 50)), p.between(1.15, 1.3), p.between(40, 90)
		p.repeats(n+2, r)
	case 10: // few strokes, or pulling gear
		r.stroke, r.fewer, r.effort = freestyle, p.between(0.08, 0.2), p.between(0.88, 1)
		p.repeats(n, r)
	case 11: // a drill, then swimming
		p.drills(p.fit(p.oneOf(50, 100)), p.between(0.6, 0.8))
		p.repeats(n, r)
	}
}

// repeats swims one repeat n times.
func (p *planner) repeats(n int, r repeat) {
	for range n {
		p.swim(r)
	}
}

// swim adds the lengths of one repeat.
func (p *planner) swim(r repeat) {
	p.lap++
	day := p.normal(0, 0.012)
	count := int(math.Round(r.metres / p.pool))
	for i := range count {
		stroke := r.stroke
		if r.strokeAt != nil {
			stroke = r.strokeAt(i)
		}
		effort := r.effort * math.Exp(day+p.normal(0, p.lengthSD))
		if count > 1 {
			effort *= math.Exp(r.change * (float64(i)/float64(count-1) - 0.5))
		}
		if r.perTurn != nil {
			effort *= r.perTurn(i)
		}
		s := p.length(stroke, effort, &r)
		s.lap = p.lap
		if i == 0 {
			s.restBefore = r.rest
			s.seconds -= p.between(0, 0.8) // a push from standing, or a dive
		}
		if i == count-1 {
			s.seconds += p.between(0, 1.5) // until the button is pressed
		}
		p.out = append(p.out, s)
	}
}

// quickest is the most strokes a minute that arms make while they swim: sprinters
// race at 110 to 130 (from memory, no source).
const quickest = 130.0

// length swims one length.
func (p *planner) length(stroke string, effort float64, r *repeat) swum {
	speedShare, strokeShare := style(stroke)
	speed := p.speed * speedShare * effort
	// v = R D: what the rate does not give, the stroke does.
	per := p.perStroke * strokeShare * math.Pow(effort, 1-p.rateExponent)
	glide := p.glide
	if r.glide > 0 {
		glide = r.glide
	}
	strokes := (p.pool - glide) / per * (1 - r.fewer) * math.Exp(p.normal(0, p.countSD))
	seconds := p.pool / speed
	most := quickest
	if stroke == breaststroke || stroke == butterfly {
		most /= 2 // cycles
	}
	strokes = min(strokes, most*(seconds-glide/(1.3*speed))/60) // off the wall they are quicker than on the arms
	return swum{stroke: stroke, seconds: seconds, strokes: strokes, lengths: 1, effort: effort, fault: -1}
}

// drills adds a drill typed in by hand: the interval split evenly, no strokes.
func (p *planner) drills(metres, effort float64) {
	p.lap++
	for i := range int(math.Round(metres / p.pool)) {
		s := swum{lap: p.lap, stroke: drillStroke, drill: true, lengths: 1, strokes: math.NaN(), effort: 0.7,
			seconds: p.pool / (p.speed * effort), kind: Drill, fault: -1}
		if i == 0 {
			s.restBefore = 30
		}
		p.out = append(p.out, s)
	}
}
