package analyse

import (
	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// Person is what the questions need to know of a swimmer beside the bouts.
type Person struct {
	// RateAlteringMedication is whether the roster says that the swimmer takes
	// medicine that alters heart rate; nil where it says nothing.
	RateAlteringMedication *bool
	BirthYear              int // 0 when unknown
	// Reached says of each of the study's changes whether it is about this
	// swimmer.
	Reached []bool
}

// Part is what one swimmer's bouts say to every question of the study. What
// depends on the other swimmers is left to Study.
type Part struct {
	Score      []Answer                 // does the score track the cost
	BySource   []sourceEffect           // the same by source of heart rate
	Advice     []advice                 // is each score's advice worth anything
	Curves     []Curve                  // the primary number under every specification; by Curves, not by Ask
	Contrasts  []Contrast               // tags that differ within sessions
	Economical []schemas.EconomicalRate // the cheapest rate at each pace
	Levels     []Levels                 // what each session costs: changes, heart cost, reliability
	ByRate     []CostByRate             // cost at several rates
	RateLength []RateLength             // how rate and length make speed
	Critical   []schemas.CriticalSpeed  // critical speed
}

// Result is the answer of the whole study. Rows of swimmers are in the order
// of the parts given.
type Result struct {
	BySwimmer          []schemas.ScoreBySwimmer
	Overall            []schemas.ScoreOverall
	Coefficients       []schemas.Coefficient
	Fits               []schemas.Fit
	BySource           []schemas.ScoreBySource
	Mixed              []schemas.MixedEffect
	Advice             []schemas.AdviceBySwimmer
	AdviceOverall      []schemas.AdviceOverall
	Sensitivity        []schemas.Sensitivity
	SensitivitySummary []schemas.SensitivitySummary
	Contrasts          []schemas.Contrast
	Economical         []schemas.EconomicalRate
	Confounding        []schemas.Confounding
	Changes            []schemas.Change
	HeartCosts         []schemas.HeartCost
	Reliability        []schemas.Reliability
	ByRate             []schemas.CostByRate
	RateLength         []schemas.RateLengthSpeed
	RateCurves         []schemas.RateLengthCurve
	Critical           []schemas.CriticalSpeed
}

// Ask puts every question to one swimmer's bouts, which are in order of
// swimming and read only. There must be at least one.
func Ask(who Person, bouts []derive.Bout, s *study.Study) Part {
	p := Part{
		Score:      Swimmer(bouts, s),
		Advice:     Advise(bouts, s),
		Contrasts:  append(Contrasts(bouts, s), Breathing(who, bouts, s)...),
		Economical: economicalRate(who, bouts, s),
		Levels:     SessionLevels(who, bouts, s),
		ByRate:     costByRate(bouts, s),
		RateLength: rateLength(bouts, s),
		Critical:   criticalSpeed(bouts, s),
	}
	p.BySource = bySource(bouts, p.Score, s)
	p.warnOfSpeed()
	return p
}

// Study joins the parts of all swimmers and answers for the squad. The parts'
// answers are changed in place: their verdicts are the study's to give.
func Study(parts []Part, s *study.Study) (Result, error) {
	var answers []Answer
	var advices []advice
	var curves []Curve
	var contrasts []Contrast
	var levels []Levels
	for i := range parts {
		answers = append(answers, parts[i].Score...)
		advices = append(advices, parts[i].Advice...)
		curves = append(curves, parts[i].Curves...)
		contrasts = append(contrasts, parts[i].Contrasts...)
		levels = append(levels, parts[i].Levels...)
	}
	r, err := Squad(answers, s)
	if err != nil {
		return Result{}, err
	}
	r.Advice, r.AdviceOverall = AdviceRows(advices, s)
	r.Sensitivity, r.SensitivitySummary = CurveRows(curves, answers, s)
	var byRate []CostByRate
	var rateLengths []RateLength
	for i := range parts {
		r.Economical = append(r.Economical, parts[i].Economical...)
		byRate = append(byRate, parts[i].ByRate...)
		rateLengths = append(rateLengths, parts[i].RateLength...)
		r.Critical = append(r.Critical, parts[i].Critical...)
	}
	for i := range answers {
		r.Confounding = append(r.Confounding, answers[i].confounding...)
	}
	var sources []sourceEffect
	for i := range parts {
		sources = append(sources, parts[i].BySource...)
	}
	r.BySource = bySourceTable(sources, s)
	r.ByRate = costByRateTable(byRate, s)
	r.RateLength, r.RateCurves = rateLengthTables(rateLengths, s)
	if r.Contrasts, err = ContrastTable(contrasts, s); err != nil {
		return Result{}, err
	}
	if r.Changes, err = Changes(levels, s); err != nil {
		return Result{}, err
	}
	r.HeartCosts, r.Reliability = HeartCosts(levels, s), Reliability(levels, s)
	return r, nil
}
