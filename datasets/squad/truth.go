package squad

import "math"

// ln10Pct is the ln of a rate 10 % higher.
var ln10Pct = math.Log(1.1)

// Kind is the kind of truth that holds for a swimmer.
type Kind string

// The kinds, as in [Mix].
const (
	KindNone     Kind = "none"
	KindTracks   Kind = "tracks"
	KindAgainst  Kind = "against"
	KindBestRate Kind = "best-rate"
)

// Truth is what stroke rate at fixed pace costs a swimmer (see the package
// comment for the equation). r is ln(rate/usual rate at that pace), x is
// ln(speed/reference speed).
type Truth struct {
	Kind      Kind
	Slope     float64 // bpm per unit of r
	Curve     float64 // bpm per squared unit of r, not negative
	BestLn    float64 // ln(cheapest/usual) at the reference speed; 0 unless KindBestRate
	BestShift float64 // change of it per unit of x
}

// RateCost returns f(r, x): bpm over what the usual rate costs at that pace.
func (t Truth) RateCost(r, x float64) float64 {
	return t.Slope*r + t.Curve*(r*r-2*r*t.Best(x))
}

// Best returns ln(cheapest/usual rate) at ln speed x. It means something for
// KindBestRate only.
func (t Truth) Best(x float64) float64 { return t.BestLn + t.BestShift*x }

// BestPctOfUsual returns the cheapest rate at ln speed x in % of the usual rate,
// and whether there is one.
func (t Truth) BestPctOfUsual(x float64) (float64, bool) {
	if t.Curve <= 0 {
		return 0, false
	}
	return 100 * math.Exp(t.Best(x)), true
}

// EffectAt returns the local effect, bpm per +10 % of stroke rate, at r and x:
// the derivative of f times ln 1.1.
func (t Truth) EffectAt(r, x float64) float64 {
	return (t.Slope + 2*t.Curve*(r-t.Best(x))) * ln10Pct
}

// EffectBPMPer10Pct returns the effect at the usual rate and the reference
// speed, bpm per +10 % of stroke rate: what a study's primary number estimates
// where the rates swum spread evenly (in ln) about the usual rate.
func (t Truth) EffectBPMPer10Pct() float64 { return t.EffectAt(0, 0) }

// EffectOver returns what a straight line through f at the reference speed shows
// over the given values of r: the least-squares slope, bpm per +10 % of stroke
// rate. For linear truths it is EffectBPMPer10Pct; for a cheapest rate it differs
// where the rates swum lie more to one side of the usual one, as set rates from
// -20 to +20 % do in ln. NaN where r does not vary.
func (t Truth) EffectOver(r []float64) float64 {
	mean := 0.0
	for _, v := range r {
		mean += v / float64(len(r))
	}
	cross, square := 0.0, 0.0
	for _, v := range r {
		cross += (v - mean) * t.RateCost(v, 0)
		square += (v - mean) * (v - mean)
	}
	return cross / square * ln10Pct
}

// TrueEffect returns the true effect of +10 % of stroke rate at the reference
// speed for the swimmer with this handle, bpm, and whether there is one.
func (sq Squad) TrueEffect(handle string) (float64, bool) {
	for i := range sq.Swimmers {
		if sq.Swimmers[i].Handle == handle {
			return sq.Swimmers[i].Truth.EffectBPMPer10Pct(), true
		}
	}
	return 0, false
}

// UsualRateSPM returns the clean stroke rate, arm strokes/min, that the swimmer
// takes at a speed (m/s) when left alone.
func (s *Swimmer) UsualRateSPM(speedMPS float64) float64 {
	return s.RateRefSPM * math.Exp(s.RateExponent*math.Log(speedMPS/s.RefSpeedMPS))
}

// WholeLengthShare returns the ratio of whole-length to clean stroke rate in a
// pool of that many metres: the share of a length's time spent stroking.
func (s *Swimmer) WholeLengthShare(poolMetres float64) float64 {
	return 1 - s.GlideMetres/(s.GlideSpeedRatio*poolMetres)
}
