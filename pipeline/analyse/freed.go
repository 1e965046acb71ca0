package analyse

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/schemas"
	"lengthwise/stats/linear"
	"lengthwise/stats/measurement"
)

// How numbers are freed of counting error.
const (
	correctedNone  = "none"
	correctedScore = "corrected-score" // for an error of known size
	correctedBySet = "instrument"      // by the rates set
)

const (
	// enoughReliability is what a rate's reliability must exceed for a turning
	// point to be named without correction.
	enoughReliability = 0.9
	// leastReliability is the reliability below which nothing is corrected: the
	// correction is then as uncertain as what it corrects (the trial's table shows
	// where coverage ends).
	leastReliability = 0.5
	// slopeReliability is the reliability below which the corrected slope is the
	// one to go by: from 0.95 on a plain slope is at most 5 % too flat.
	slopeReliability = 0.95
)

// freed is cost along the rate freed of counting error, as far as it can be.
type freed struct {
	curve       rateCurve // zero with correctedNone
	correction  string
	reliability float64 // of the rate at fixed pace; NaN when not known
	from        string  // what the reliability is known from
}

// free frees a fitted model of counting error. What was set is known without
// error: where the rates swum follow it, it stands in for them as an instrument,
// whatever the size of the error. Else the model is corrected for an error of
// known size. Either is only done where enough of the rate is no error.
func (r *rows) free(plain *linear.Model, c countError, d Design) freed {
	f := freed{correction: correctedNone, reliability: c.reliability(r), from: c.from}
	byPace := slices.Contains(plain.Terms, termRateByPace)
	known := !math.IsNaN(f.reliability)
	if set := r.settings(); d == Designed && set != nil {
		bound := r.boundedReliability(set)
		if !known || c.from == errorRounding && bound < enoughReliability {
			f.reliability, f.from, known = bound, errorBounded, false
		}
		if bound >= leastReliability {
			instrumented := func(m measurement.Moments) (measurement.Solution, error) { return m.Instrumented(set) }
			if solution, err := r.solve(plain, instrumented); err == nil {
				f.curve, f.correction = solved(solution, byPace), correctedBySet
				return f
			}
		}
	}
	if known && f.reliability >= leastReliability {
		corrected := func(m measurement.Moments) (measurement.Solution, error) { return m.Corrected(c.sd) }
		if solution, err := r.solve(plain, corrected); err == nil {
			f.curve, f.correction = solved(solution, byPace), correctedScore
		}
	}
	return f
}

// settings gives what was set for each row, as ln of a rate relative to the
// usual one: the rate set, or the mean of the rows with the same instruction.
// It is nil when some row has neither, or all have the same.
func (r *rows) settings() []float64 {
	sums, counts := map[string]float64{}, map[string]float64{}
	var offset, targets float64
	raw := make([]float64, len(r.bouts))
	for i, b := range r.bouts {
		switch {
		case !math.IsNaN(b.Tags.RateTargetSPM):
			raw[i] = math.Log(b.Tags.RateTargetSPM) - (r.lnRate[i] - r.rate[i])
			offset += r.rate[i] - raw[i]
			targets++
		case b.Tags.Instruction != "":
			sums[b.Tags.Instruction] += r.rate[i]
			counts[b.Tags.Instruction]++
		default:
			return nil
		}
	}
	varies := false
	for i, b := range r.bouts {
		if math.IsNaN(b.Tags.RateTargetSPM) {
			raw[i] = sums[b.Tags.Instruction] / counts[b.Tags.Instruction]
		} else {
			raw[i] += offset / targets
		}
		varies = varies || raw[i] != raw[0]
	}
	if !varies {
		return nil
	}
	return raw
}

// boundedReliability is what the rate's reliability is at least: what is left of
// ln stroke rate when what was set is taken out holds all of the counting error,
// and how badly the rate was held. NaN when it cannot be told.
func (r *rows) boundedReliability(set []float64) float64 {
	total, err := r.rateSpread()
	if err != nil || total == 0 || set == nil {
		return math.NaN()
	}
	squared := make([]float64, len(set))
	for i, z := range set {
		squared[i] = z * z
	}
	m, err := linear.Fit(linear.Problem{Response: r.lnRate, Absorb: r.session,
		Terms: append(append([]string{}, r.terms...), "set", "set_squared"), Columns: append(append([][]float64{}, r.columns...), set, squared)})
	if err != nil {
		return math.NaN()
	}
	return math.Max(0, 1-m.Sigma*m.Sigma/(total*total))
}

// solve frees a model in one way, and adds to the covariance the error of the time
// constant behind the costs, as carryTau does to that of plain models.
func (r *rows) solve(plain *linear.Model, how func(measurement.Moments) (measurement.Solution, error)) (measurement.Solution, error) {
	m := r.moments(plain)
	s, err := how(m)
	if err != nil || r.lnTauSE == 0 {
		return s, err
	}
	m.Response = r.costByLnTau
	moved, err := how(m)
	if err != nil {
		return s, err
	}
	for a, g := range moved.Estimates {
		for b := a; b < len(moved.Estimates); b++ {
			s.Covariance.SetSym(a, b, s.Covariance.At(a, b)+r.lnTauSE*r.lnTauSE*g*moved.Estimates[b])
		}
	}
	return s, nil
}

// modelFreed is the id of the score's model freed of counting error.
const modelFreed = modelScore + "-corrected"

// free puts the slope freed of counting error beside the plain one, and in its
// place where counting error flattens the plain one by more than a twentieth.
func (a *Answer) free(r *rows, plain *linear.Model, c countError, w *warnings) {
	f := r.free(plain, c, Design(a.Row.Design))
	row := &a.Row
	row.EffectPlain, row.EffectPlainLow, row.EffectPlainHigh = row.EffectPer10Pct, row.EffectLow, row.EffectHigh
	row.Reliability, row.ReliabilityFrom, row.Correction = finite(f.reliability), f.from, correctedNone
	flat := !(f.reliability >= slopeReliability)
	if f.correction == correctedNone {
		a.blunt = flat
		switch {
		case math.IsNaN(f.reliability):
			w.add("how far the recorder miscounts is not known: effects read too small by as much, and none is called practically none")
		case flat:
			w.add(fmt.Sprintf("counting error leaves the stroke rate a reliability of %.2f at a fixed pace and could not be corrected: effects read too small", f.reliability))
		}
		return
	}
	effect := a.effect // its term and degrees of freedom stay
	effect.Estimate, effect.StdError = f.curve.slopeAt(0, 0)
	effect = r.carryUsual(tested(effect), f.curve.curve)
	a.addFreed(f, effect.DF, plain.N)
	effect = per10(effect)
	row.EffectCorrected, row.EffectCorrectedLow, row.EffectCorrectedHigh = &effect.Estimate, &effect.ConfLow, &effect.ConfHigh
	if !flat {
		return
	}
	a.effect, row.Correction = effect, f.correction
	a.setEffect()
	a.sides = f.curve.sides(a.sides.df)
	w.add(fmt.Sprintf("corrected for counting error (reliability of the stroke rate at a fixed pace %s%.2f)", atLeast(f.from), f.reliability))
}

func atLeast(from string) string {
	if from == errorBounded {
		return "at least "
	}
	return ""
}

// addFreed adds the corrected terms to the swimmer's coefficients.
func (a *Answer) addFreed(f freed, df float64, n int) {
	terms := []string{termRate, termRateSquared, termRateByPace}
	for k, estimate := range []float64{f.curve.slope, f.curve.curve, f.curve.byPace} {
		variance := f.curve.covariance.At(k, k)
		if variance == 0 {
			continue // not in this model
		}
		c := tested(linear.Coefficient{Term: terms[k], Estimate: estimate, StdError: math.Sqrt(variance), DF: df})
		a.Coefficients = append(a.Coefficients, schemas.Coefficient{
			Swimmer: a.Row.Swimmer, Stroke: a.Row.Stroke, Design: a.Row.Design, Model: modelFreed,
			Term: c.Term, Estimate: c.Estimate, StdError: c.StdError, Statistic: c.Statistic, DF: c.DF,
			PValue: c.PValue, ConfLow: c.ConfLow, ConfHigh: c.ConfHigh, N: int32(n),
		})
	}
}

// tested fills in statistic, p and interval from estimate, error and degrees of
// freedom.
func tested(c linear.Coefficient) linear.Coefficient {
	c.Statistic = c.Estimate / c.StdError
	c.PValue = 2 * distuv.StudentsT{Sigma: 1, Nu: c.DF}.CDF(-math.Abs(c.Statistic))
	c.ConfLow, c.ConfHigh = limits(c.Estimate, c.StdError, c.DF)
	return c
}
