package association

import (
	"fmt"

	"lengthwise/stats/resample"
)

// ResampledResult is a correlation with an interval made by resampling
// sessions.
type ResampledResult struct {
	R        float64
	StdError float64 // standard deviation of the replicates
	// ConfLow and ConfHigh are the percentile interval.
	ConfLow, ConfHigh float64
	Level             float64
	Replicates        int // resamples the interval rests on
	Undefined         int // resamples left out because a column did not vary
	Rows, Subjects    int // subjects with at least two rows, and their rows
	Sessions          int
	SingleRows        int // subjects left out because they have one row
	Warnings          []string
}

const (
	// undefinedShare is the share of resamples without a correlation from
	// which no interval is given: half of what a 95 % interval leaves outside.
	undefinedShare = 0.025
	// fewSessions is the number of sessions from which a warning is left out;
	// the package's simulation test measures the coverage at this number.
	fewSessions = 12
)

// RepeatedMeasuresResampled returns the correlation within subjects, as
// [RepeatedMeasures], with a percentile interval made by resampling each
// subject's sessions with replacement. It holds for errors that rows of a
// session share. Subjects are kept as they are, so the interval speaks about
// these subjects.
//
// subject[i] and session[i] label row i; a session is known by both labels,
// so subjects may use the same session labels. Columns have equal lengths and
// are not changed. It fails as RepeatedMeasures does (but for a perfect
// correlation, which is no error here unless all resamples are perfect), with
// a *[TooFewError] if no subject has two sessions, an *[UndefinedError], or
// an error of [resample.Percentile].
func RepeatedMeasuresResampled(subject, session []int, x, y []float64, o resample.Options) (ResampledResult, error) {
	o, err := o.Resolved()
	if err != nil {
		return ResampledResult{}, fmt.Errorf("association: %w", err)
	}
	if err := checkColumns(x, y); err != nil {
		return ResampledResult{}, err
	}
	if len(subject) != len(x) {
		return ResampledResult{}, &LengthError{What: "subject", Got: len(subject), Want: len(x)}
	}
	if len(session) != len(x) {
		return ResampledResult{}, &LengthError{What: "session", Got: len(session), Want: len(x)}
	}

	out := ResampledResult{Level: o.Level}
	var sums []Moments // by session, subject after subject
	var owner []int    // subject of each entry of sums
	var p pool
	movable := 0 // sessions of subjects who have at least two
	for _, s := range arrange(subject, session, x, y) {
		if s.rows < 2 {
			out.SingleRows++
			continue
		}
		own := s.moments()
		for range own {
			owner = append(owner, out.Subjects)
		}
		sums = append(sums, own...)
		p.add(total(own))
		out.Subjects++
		out.Rows += s.rows
		if len(own) > 1 {
			movable += len(own)
		}
	}
	out.Sessions = len(sums)
	if df := out.Rows - out.Subjects - 1; df < 2 {
		return ResampledResult{}, &TooFewError{What: "error degrees of freedom", Got: max(df, 0), Need: 2}
	}
	if movable == 0 {
		return ResampledResult{}, &TooFewError{What: "sessions in the subject with most", Got: 1, Need: 2}
	}
	if err := checkVariation(x, y, p); err != nil {
		return ResampledResult{}, err
	}
	if out.R, err = p.correlation(); err != nil {
		return ResampledResult{}, err
	}

	plan, err := resample.WithinGroups(owner, o.Replicates, o.Seed)
	if err != nil {
		return ResampledResult{}, fmt.Errorf("association: %w", err)
	}
	replicates := replicate(plan, owner, sums)
	out.Replicates = len(replicates)
	out.Undefined = o.Replicates - len(replicates)
	if float64(out.Undefined) >= undefinedShare*float64(o.Replicates) && out.Undefined > 0 {
		return ResampledResult{}, &UndefinedError{Undefined: out.Undefined, Replicates: o.Replicates}
	}
	interval, err := resample.Percentile(replicates, o.Level)
	if err != nil {
		return ResampledResult{}, fmt.Errorf("association: %w", err)
	}
	if out.StdError, err = resample.StdError(replicates); err != nil {
		return ResampledResult{}, fmt.Errorf("association: %w", err)
	}
	out.ConfLow, out.ConfHigh = interval.Low, interval.High
	if movable < fewSessions {
		out.Warnings = append(out.Warnings, fmt.Sprintf("only %d sessions to resample: the interval is too narrow", movable))
	}
	if interval.Extreme {
		out.Warnings = append(out.Warnings, fmt.Sprintf("%d resamples are too few for this level: a limit is the most extreme of them", out.Replicates))
	}
	if out.Undefined > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("no correlation exists in %d of %d resamples: they are left out", out.Undefined, o.Replicates))
	}
	return out, nil
}

// replicate returns the correlation within subjects of every resample that
// has one. owner is sorted; sums[u] is the session u of owner[u].
func replicate(plan resample.Plan, owner []int, sums []Moments) []float64 {
	weights := make([]float64, plan.Units())
	out := make([]float64, 0, plan.Replicates())
	for b := range plan.Replicates() {
		plan.Weights(b, weights)
		var p pool
		var m Moments
		for u, w := range weights {
			if u > 0 && owner[u] != owner[u-1] {
				p.add(m)
				m = Moments{}
			}
			if w != 0 {
				m = m.Add(sums[u].Scale(w))
			}
		}
		p.add(m)
		if r, err := p.correlation(); err == nil {
			out = append(out, r)
		}
	}
	return out
}
