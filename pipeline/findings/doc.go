// Package findings makes the sentences of a study from its result rows.
//
// Every sentence that a page, a table or the terminal shows about a result is
// made here and nowhere else, so that no place says more than another. Three
// rules hold:
//
//   - A sentence says no more than its interval: where the interval holds zero
//     there is no direction in it.
//   - A sentence says no more than its design. Bouts whose rate or instruction
//     was set beforehand earn "costs"; bouts swum as the swimmer liked earn
//     "goes together with" and no verb of causing at all.
//   - Its numbers are its row's, rounded and never recomputed.
//
// The sign convention. The primary number is the cost of 10 % more strokes a
// minute at a fixed pace, where more strokes a minute are more strokes a
// length. The score (strokes plus seconds) calls fewer strokes cheaper. So a
// number above zero (more strokes are dearer) means that the score tracks the
// cost, one below zero that it runs against it.
package findings

import (
	"cmp"
	"slices"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
)

// Input is what the sentences are made from. It is read only.
type Input struct {
	Study       *study.Study
	Frozen      *study.Frozen // nil where no plan was frozen
	BySwimmer   []schemas.ScoreBySwimmer
	Overall     []schemas.ScoreOverall
	Fits        []schemas.Fit // for the reference pace
	Mixed       []schemas.MixedEffect
	Advice      []schemas.AdviceOverall
	Sensitivity []schemas.SensitivitySummary
	Economical  []schemas.EconomicalRate
	ByRate      []schemas.CostByRate
	RateLength  []schemas.RateLengthSpeed
	Critical    []schemas.CriticalSpeed

	Contrasts   []schemas.Contrast
	Changes     []schemas.Change
	Reliability []schemas.Reliability
	Confounding []schemas.Confounding

	Swimmers []schemas.Swimmer
	Bouts    BoutCounts
	Lacks    []Lack
	BySource []schemas.ScoreBySource
}

// The questions that findings answer, in the order of the table.
const (
	Headline       = "headline"        // does the score track the cost, in one sentence
	MatchedPace    = "matched-pace"    // the squad's pooled effect at a fixed pace
	Concordance    = "concordance"     // pairs of bouts at a matched pace
	Raw            = "raw"             // across paces
	Between        = "between"         // between swimmers
	MixedModel     = "mixed-model"     // the squad's effect from one model of all bouts
	Advice         = "advice"          // each published score taken as advice
	Sensitivity    = "sensitivity"     // the same number under other choices
	PartlyPooled   = "partly-pooled"   // a swimmer of too little data, read together with the others
	BySwimmer      = "by-swimmer"      // one swimmer, one stroke, one design
	EconomicalRate = "economical-rate" // the cheapest stroke rate
	CostByRate     = "cost-by-rate"    // cost below and above the usual rate
	RateLength     = "rate-and-length" // what a gain in speed goes with
	CriticalSpeed  = "critical-speed"  // from maximal swims
	Contrast       = "contrast"        // a tag that differs within sessions
	Change         = "change"          // a dated change or a phase
	BetweenDays    = "between-days"    // which difference between two days is noise
	Limits         = "limits"          // what the data cannot say
)

// The strengths of a finding: how far its sentence may go.
const (
	StrengthCosts        = "costs"              // designed
	StrengthGoesTogether = "goes-together-with" // observed
	StrengthNone         = "none"               // not enough to say anything
)

// The designs, as the rows spell them.
const (
	Observed = "observed"
	Designed = "designed"
	All      = "all"
)

// The verdicts, as the rows spell them.
const (
	Tracks          = "tracks"
	RunsAgainst     = "runs-against"
	PracticallyNone = "practically-none"
	Undecided       = "undecided"
	TooLittleData   = "too-little-data"
)

// Make returns every finding of a study: the squad's answers stroke by stroke,
// then each swimmer's in the order of the rows, then what the data cannot say.
// The ids are unique when the rows' keys are.
func Make(in Input) []schemas.Finding {
	m := maker{Input: in, scale: scaleOf(in.Study.Cost)}
	var out []schemas.Finding
	for _, stroke := range m.strokes() {
		out = append(out, m.headline(stroke))
	}
	for _, row := range m.inOrder() {
		if f, ok := m.overall(row); ok {
			out = append(out, f)
		}
	}
	out = append(out, m.mixed()...)
	out = append(out, m.advice()...)
	out = append(out, m.sensitivity()...)
	for _, row := range in.BySwimmer {
		out = append(out, m.swimmer(row))
		if f, ok := m.partlyPooled(row); ok {
			out = append(out, f)
		}
	}
	out = append(out, m.economical()...)
	out = append(out, m.byRate()...)
	out = append(out, m.rateLength()...)
	out = append(out, m.critical()...)
	out = append(out, m.contrasts()...)
	out = append(out, m.changes()...)
	out = append(out, m.reliability()...)
	return append(out, m.limits()...)
}

// maker holds what all sentences of a study share.
type maker struct {
	Input
	scale scale
}

// inOrder sorts the squad's rows by stroke, question and design.
func (m maker) inOrder() []schemas.ScoreOverall {
	strokes := m.strokes()
	questions := []string{MatchedPace, Raw, Between}
	designs := []string{Designed, Observed, All}
	measures := []string{MeasureEffect, MeasureConcordance, MeasureCorrelation}
	rows := slices.Clone(m.Overall)
	slices.SortStableFunc(rows, func(a, b schemas.ScoreOverall) int {
		return cmp.Or(
			cmp.Compare(slices.Index(strokes, a.Stroke), slices.Index(strokes, b.Stroke)),
			cmp.Compare(slices.Index(questions, a.Question), slices.Index(questions, b.Question)),
			cmp.Compare(slices.Index(measures, a.Measure), slices.Index(measures, b.Measure)),
			cmp.Compare(slices.Index(designs, a.Design), slices.Index(designs, b.Design)),
		)
	})
	return rows
}

// strokes lists the strokes to answer for: those the study asks for in its
// order, then any other that rows are about.
func (m maker) strokes() []string {
	strokes := slices.Clone(m.Study.Analysis.Strokes)
	for _, row := range m.BySwimmer {
		strokes = append(strokes, row.Stroke)
	}
	for _, row := range m.Overall {
		strokes = append(strokes, row.Stroke)
	}
	seen := map[string]bool{}
	return slices.DeleteFunc(strokes, func(stroke string) bool {
		twice := seen[stroke]
		seen[stroke] = true
		return twice
	})
}
