package analyse

import (
	"math"

	"lengthwise/pipeline/study"
	"lengthwise/stats/association"
	"lengthwise/stats/resample"
)

// rawBouts is what the squad's raw correlation needs of one swimmer: score
// and cost across paces, with the session of each bout. Bouts whose counting
// basis is unknown have no score and stay out.
type rawBouts struct {
	session       []int
	score, cost   []float64
	recordedScore []float64
	uncounted     int // bouts left out because the counting basis is unknown
}

func newRawBouts(r *rows, s *study.Study) rawBouts {
	var raw rawBouts
	if s.Cost.Measure == "net-beats" {
		return raw // it holds the seconds, as the score does
	}
	for i, b := range r.bouts {
		if math.IsNaN(b.Score25) {
			raw.uncounted++
			continue
		}
		raw.session = append(raw.session, r.session[i])
		raw.score = append(raw.score, b.Score25)
		raw.recordedScore = append(raw.recordedScore, b.ScoreRecorded25)
		raw.cost = append(raw.cost, b.Cost)
	}
	return raw
}

// rawCorrelation fills in the plain correlation of score and cost over the
// swimmer's bouts, with an interval from resampled sessions: bouts of one
// session are alike, so counting them as independent would be too sure.
func (a *Answer) rawCorrelation(s *study.Study, w *warnings) {
	if a.raw.uncounted > 0 {
		w.add("counting basis unknown in " + count(a.raw.uncounted, "bout") + ", left out across sessions")
	}
	if len(a.raw.score) < 3 {
		return
	}
	seed := resample.SeedOf(s.Seed, "raw", a.raw.score, a.raw.cost)
	result, err := association.PearsonResampled(a.raw.session, a.raw.score, a.raw.cost,
		resample.Options{Replicates: s.Analysis.Resamples, Level: level, Seed: seed})
	if err == nil {
		a.Row.RawR, a.Row.RawRLow, a.Row.RawRHigh = &result.R, &result.ConfLow, &result.ConfHigh
		return
	}
	if plainR, err := association.Pearson(a.raw.score, a.raw.cost); err == nil {
		a.Row.RawR = &plainR
	}
}
