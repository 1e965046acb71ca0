package analyse

import (
	"fmt"
	"math"
	"math/rand/v2"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

var nan = math.NaN()

// world says how a swimmer's bouts are made: the model of the analysis with
// its terms known.
type world struct {
	seed            uint64
	swimmer         string
	sessions, bouts int
	effect          float64 // cost per +10 % of rate
	noise, dayNoise float64
	pace            float64 // spread of ln v within a session
	rate            float64 // spread of ln R at fixed pace
	rateOnPace      float64 // slope of ln R on ln v
	minutes         float64 // cost per ln(1 + minutes)
	designed        func(session, bout int) bool
	stratum         func(session, bout int) (name string, shift float64)
	ascending       bool    // pace rises through the session
	rising          bool    // the rate does
	valley          float64 // cost of a rate 10 % off the usual one, either way
}

const slopeOfPace, curveOfPace, referenceMPS = 140.0, 90.0, 1.25

// swim makes the bouts. Without noise the model holds exactly.
func (w world) swim() []derive.Bout {
	stream := rand.New(rand.NewPCG(w.seed, 1))
	var out []derive.Bout
	for s := range w.sessions {
		day := w.dayNoise * stream.NormFloat64()
		for b := range w.bouts {
			x := w.pace * stream.NormFloat64()
			if w.ascending {
				x = w.pace * float64(b)
			}
			free := w.rate * stream.NormFloat64()
			if w.rising {
				free = w.rate * float64(b) / 3
			}
			minutes := 4 * float64(b)
			lnRate := math.Log(64) + w.rateOnPace*x + free
			v := referenceMPS * math.Exp(x)
			cost := 140 + day + slopeOfPace*x + curveOfPace*x*x + w.minutes*math.Log1p(minutes) +
				w.effect*lnRate/math.Log(1.1) + w.valley*math.Pow(free/math.Log(1.1), 2) + w.noise*stream.NormFloat64()
			bout := bout(w.swimmer, s, b, v, math.Exp(lnRate), cost, minutes)
			if w.designed != nil {
				bout.Designed = w.designed(s, b)
			}
			if w.stratum != nil {
				name, shift := w.stratum(s, b)
				bout.HRStratum, bout.CostStratum, bout.Cost = name, name, bout.Cost+shift
			}
			out = append(out, bout)
		}
	}
	return out
}

func bout(swimmer string, session, number int, v, rate, cost, minutes float64) derive.Bout {
	distance, seconds := 200.0, 200/v
	strokes := rate * seconds / 60
	return derive.Bout{
		Swimmer: swimmer, Session: fmt.Sprintf("%s-%02d", swimmer, session), Bout: number + 1, Swim: number + 1, Block: 1,
		Stroke: "freestyle", PoolM: 25, Lengths: 8, DistanceM: distance, DurationS: seconds, MinutesIn: minutes,
		SpeedMPS: v, PaceSPer100M: 100 / v, Basis: study.Arms, StrokeRateSPM: rate, DistancePerStrokeM: distance / strokes,
		Count:     derive.Count{By: derive.ByHand, Strokes: strokes, Wholes: 1, Unit: 1, Recorder: nan},
		Strokes25: strokes / 8, Score25: (strokes + seconds) / 8, ScoreRecorded25: (strokes/2 + seconds) / 8, StrokeIndex: 2 * v * distance / strokes,
		HRSteadyBPM: cost, HRMethod: "window", HRSource: "strap", HRSamples: 30, HRStratum: "window/strap", CostStratum: "window/strap", Cost: cost,
		Tags:   read.Tags{RateTargetSPM: nan, Breathing: nan, RPE: nan, LactateMMOL: nan, LactateBefore: nan, VO2: nan},
		Usable: true,
	}
}

func usual() world {
	return world{seed: 7, swimmer: "a", sessions: 8, bouts: 10, effect: -2.5, noise: 1.5, dayNoise: 4,
		pace: 0.04, rate: 0.08, rateOnPace: 0.8, minutes: 2}
}

func settings() *study.Study {
	s := study.Default()
	s.Seed = 11
	s.Analysis.Resamples, s.Analysis.Permutations = 400, 200
	return s
}

// only gives the answer under one design.
func only(answers []Answer, d Design) *Answer {
	for i := range answers {
		if answers[i].Row.Design == string(d) {
			return &answers[i]
		}
	}
	return nil
}
