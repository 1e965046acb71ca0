package trial

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/power"
)

// InHand is what a study has of a squad's average: k swimmers' numbers, pooled.
// Numbers are in the unit of cost, for 10 % more strokes a minute.
type InHand struct {
	Swimmers int
	Sessions float64 // of a swimmer, on average
	StdError float64 // of the average
	DF       float64 // of its t
	Tau2     float64 // variance of the swimmers' true numbers
}

// Reach is what such a study, and a larger one of the same kind, can tell from
// nothing. It rests on the scatter and the spread of the study in hand, and not on
// what that study found.
type Reach struct {
	Half     float64 `json:"half_width"`         // of the 95 % interval of the average
	Chance   float64 `json:"chance"`             // that an average of the size asked about is told from nothing
	Findable float64 `json:"findable"`           // the average that is told from nothing as often as wanted
	Swimmers int     `json:"swimmers,omitempty"` // that suffice with sessions as they are; 0 where mostToLookFor do not
	Sessions int     `json:"sessions,omitempty"` // that suffice with these swimmers; 0 where mostToLookFor do not
}

// mostToLookFor is how many swimmers, and sessions of each, are looked through.
const mostToLookFor = 400

// Reach tells how often an average of size effect is told from nothing at the 5 %
// level, and how many swimmers or sessions would find it in a share wanted of such
// studies. With N swimmers the variance of the average is k/N of its own; with S
// sessions in place of S0 the part of it that is not spread between swimmers is
// S0/S of its own. It fails with [power.ErrInput] for fewer than two swimmers, or
// numbers that are no study's.
func (h InHand) Reach(effect, wanted float64) (Reach, error) {
	if h.Swimmers < 2 || !(h.StdError > 0) || !(h.DF > 0) || !(h.Tau2 >= 0) || !(h.Sessions > 0) || !(effect > 0) || !(wanted > alpha && wanted < 1) {
		return Reach{}, fmt.Errorf("%w: %+v, an effect of %v, %v of studies", power.ErrInput, h, effect, wanted)
	}
	r := Reach{Half: distuv.StudentsT{Sigma: 1, Nu: h.DF}.Quantile((1+confidence)/2) * h.StdError}
	var err error
	if r.Chance, err = oneSide(effect/h.StdError, h.DF); err != nil {
		return r, err
	}
	low, high := 0.0, 1e3*h.StdError
	for range 60 {
		r.Findable = (low + high) / 2
		p, err := oneSide(r.Findable/h.StdError, h.DF)
		if err != nil {
			return r, err
		}
		if p < wanted {
			low = r.Findable
		} else {
			high = r.Findable
		}
	}
	k := float64(h.Swimmers)
	chance := func(variance, df float64) float64 {
		p, err := oneSide(effect/math.Sqrt(variance), df)
		if err != nil {
			return 0
		}
		return p
	}
	own := h.StdError * h.StdError * k // of one swimmer's number, spread included
	if n, ok := power.Size(2, mostToLookFor, wanted, func(n int) float64 {
		return chance(own/float64(n), h.DF/(k-1)*float64(n-1))
	}); ok {
		r.Swimmers = n
	}
	sampling := math.Max(0, own-h.Tau2)
	if n, ok := power.Size(1, mostToLookFor, wanted, func(n int) float64 {
		return chance((own-sampling+sampling*h.Sessions/float64(n))/k, h.DF)
	}); ok {
		r.Sessions = n
	}
	return r, nil
}
