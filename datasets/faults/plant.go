package faults

import (
	"math"
	"slices"
)

// plant puts up to n faults of one kind and size into what was swum and returns
// the new run of lengths with how many it placed. Faults keep two clean lengths
// between them and lie in swum lengths, not in drills.
func plant(r random, p *planner, k Kind, size float64, n int) (out []swum, placed int) {
	out = p.out
	if k == Drill || k == WrongPool || k == Clean || k.OnSamples() {
		return out, 0 // drills are swum by the plan; the others spoil no single length
	}
	for range 40 * n {
		if placed == n {
			break
		}
		at := r.IntN(len(out))
		span, lapLengths := 1, lapSize(out, at)
		switch k {
		case MissedTurn:
			span = 2
			if size == -2 {
				span = 3
			}
			if !roomFor(size, span, lapLengths) {
				continue
			}
		case EarlyTurn:
			span = 2
		case Kick: // kicked repeats are kicked from end to end
			at -= placeInLap(out, at)
			span = lapLengths
		}
		if !free(out, at, span) {
			continue
		}
		out = spoil(r, p, out, at, k, size, placed)
		placed++
	}
	return out, placed
}

// roomFor tells whether a repeat has the size that a grade of missed turns asks
// for.
func roomFor(size float64, span, lapLengths int) bool {
	switch {
	case size == -2:
		return lapLengths >= 6
	case size == 12:
		return lapLengths >= 14
	default:
		return lapLengths == int(size)+span
	}
}

func lapSize(s []swum, at int) (n int) {
	for _, l := range s {
		if l.lap == s[at].lap {
			n++
		}
	}
	return n
}

// placeInLap is how many lengths of the repeat come before one.
func placeInLap(s []swum, at int) (n int) {
	for n < at && s[at-n-1].lap == s[at].lap {
		n++
	}
	return n
}

// free tells whether the lengths at..at+span-1 belong to one repeat and one
// stroke and neither they nor two neighbours on each side were touched before.
func free(s []swum, at, span int) bool {
	if at+span > len(s) {
		return false
	}
	for _, l := range s[at : at+span] {
		if l.lap != s[at].lap || l.stroke != s[at].stroke || l.kind != Clean {
			return false
		}
	}
	for _, l := range s[max(0, at-2):min(len(s), at+span+2)] {
		if l.fault >= 0 { // a drill is none
			return false
		}
	}
	return true
}

// spoil plants one fault at a place that is free.
func spoil(r random, p *planner, s []swum, at int, k Kind, size float64, id int) []swum {
	mark := func(l *swum) { l.kind, l.fault = k, id }
	l := &s[at]
	switch k {
	case MissedTurn:
		span := 2
		if size == -2 {
			span = 3
		}
		for _, next := range s[at+1 : at+span] {
			l.seconds += next.seconds
			l.strokes += next.strokes
			l.lengths += next.lengths
		}
		l.strokes -= r.between(0, 3) // 62.8 s / 21 among 30.4 s / 12
		mark(l)
		return slices.Delete(s, at+1, at+span)
	case FalseTurn:
		return falseTurn(r, s, at, size, id)
	case EarlyTurn:
		next := &s[at+1]
		moved := r.sign() * size // early: from the first length to the second; late: the other way
		give, take := l, next
		if moved < 0 {
			give, take = next, l
		}
		seconds, strokes := give.seconds*size, give.strokes*size
		give.seconds, give.strokes, give.lengths = give.seconds-seconds, give.strokes-strokes, 1-size
		take.seconds, take.strokes, take.lengths = take.seconds+seconds, take.strokes+strokes, 1+size
		mark(l)
		mark(next)
	case StopInside:
		l.seconds *= 1 + size
		l.strokes += r.between(0, 3) // sculling, starting again: 53.3 s / 16 among 30.8 s / 13
		mark(l)
	case WrongCount:
		l.strokes *= 1 + r.sign()*size
		mark(l)
	case LostCount:
		l.strokes = math.NaN()
		mark(l)
	case Kick:
		effort := r.between(0.55, 0.75)
		for i := range lapSize(s, at) {
			l := &s[at+i]
			l.seconds, l.effort, l.strokes = p.pool/(p.speed*effort)*math.Exp(r.normal(0, p.lengthSD)), effort, 0
			if size > 0 {
				l.strokes = 2 * max(0, size+r.between(-1, 1)) * p.pool / 25
			}
			mark(l)
		}
	case TooFast:
		share := p.pool / size / l.seconds
		l.seconds *= share
		l.strokes *= math.Sqrt(share)
		mark(l)
	case TooManyStrokes:
		l.strokes = size * l.seconds / 60
		mark(l)
	}
	return s
}

// falseTurn cuts one length in two, or in three where the size says a third. As
// in real recordings a stroke and a second get lost (10.1 s / 3 and 26.8 s / 10
// where 38.4 s / 16 is usual).
func falseTurn(r random, s []swum, at int, size float64, id int) []swum {
	shares := []float64{size, 1 - size}
	if size == 0.33 {
		shares = []float64{0.3, 0.33, 0.37}
	}
	r.Shuffle(len(shares), func(i, j int) { shares[i], shares[j] = shares[j], shares[i] })
	whole := s[at]
	whole.seconds -= r.between(0, 1.5)
	whole.strokes = max(2, whole.strokes-r.between(0, 3))
	var pieces []swum
	for i, share := range shares {
		piece := whole
		piece.seconds, piece.strokes, piece.lengths = whole.seconds*share, whole.strokes*share, share
		piece.kind, piece.fault = FalseTurn, id
		if i > 0 {
			piece.restBefore = 0
		}
		pieces = append(pieces, piece)
	}
	return slices.Replace(s, at, at+1, pieces...)
}
