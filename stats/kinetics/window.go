package kinetics

import (
	"fmt"
	"math"
)

// Window is the mean of a bout's values from one time to another, with the value
// the bout started from.
type Window struct {
	Mean, Start float64
	From, To    float64 // seconds since the beginning of the bout, 0 <= From < To
}

// WindowSteady is a steady level read from a window, with its derivatives, so that
// errors can be carried: those of several windows hang together by ln tau.
type WindowSteady struct {
	Steady float64
	// Share is the mean of exp(-t/tau) over the window: the part of the way from
	// Start that is still left.
	Share                     float64
	ByLogTau, ByMean, ByStart float64 // derivatives of Steady
}

// nothingLeft is the part of the response in a window below which it is rounding.
const nothingLeft = 1e-10

// SteadyFromWindow corrects the mean of a window for the part of the response that
// is still missing:
//
//	share = tau (exp(-From/tau) - exp(-To/tau)) / (To - From)
//	steady = (mean - share start) / (1 - share).
//
// A window late in the bout needs little correction; one at its beginning cannot be
// corrected in practice (ByMean says by how much errors grow). It returns
// ErrNotFinite and ErrArgument for windows and tau out of range.
func SteadyFromWindow(w Window, tau float64) (WindowSteady, error) {
	for _, v := range []float64{w.Mean, w.Start, w.From, w.To, tau} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return WindowSteady{}, fmt.Errorf("kinetics: %w: window %+v with tau %v", ErrNotFinite, w, tau)
		}
	}
	if w.From < 0 || w.To <= w.From || tau <= 0 {
		return WindowSteady{}, fmt.Errorf("kinetics: %w: window from %v to %v s with tau %v s", ErrArgument, w.From, w.To, tau)
	}
	early, late := math.Exp(-w.From/tau), math.Exp(-w.To/tau)
	width := w.To - w.From
	s := WindowSteady{Share: early}
	if ratio := width / tau; ratio > 0 {
		s.Share *= -math.Expm1(-ratio) / ratio
	}
	left := 1 - s.Share
	if !(left > nothingLeft) {
		return WindowSteady{}, fmt.Errorf("kinetics: %w: with tau %v s nothing of the response is in the window from %v to %v s", ErrArgument, tau, w.From, w.To)
	}
	s.Steady = (w.Mean - s.Share*w.Start) / left
	s.ByMean, s.ByStart = 1/left, -s.Share/left
	slope := s.Share + (w.From*early-w.To*late)/width // d Share / d ln tau
	s.ByLogTau = slope * (w.Mean - w.Start) / (left * left)
	return s, nil
}
