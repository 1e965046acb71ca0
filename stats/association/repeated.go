package association

import (
	"math"

	"lengthwise/stats/tail"
)

// RepeatedResult is a correlation within subjects.
type RepeatedResult struct {
	R float64
	// Slope is the common slope of y on x within subjects, in units of y per
	// unit of x.
	Slope, SlopeStdError float64
	// Statistic is Slope/SlopeStdError, which has a t distribution with DF
	// degrees of freedom when there is no correlation; PValue is two-sided.
	Statistic, DF, PValue float64
	// ConfLow and ConfHigh are the Fisher interval with DF + 2 as the number
	// of rows. It takes rows as independent within a subject.
	ConfLow, ConfHigh float64
	Level             float64 // 0.95
	Rows, Subjects    int     // subjects with at least two rows, and their rows
	SingleRows        int     // subjects left out because they have one row
}

// RepeatedMeasures returns the correlation of x and y within subjects: that
// of an increase in one with an increase in the other in the same subject,
// whatever the subjects' levels (Bland and Altman 1995, BMJ 310:446). With
// S the sums of squares and products about each subject's means, added over
// subjects,
//
//	r = S_xy / sqrt(S_xx S_yy),   DF = rows - subjects - 1,
//
// which is the square root of SS_x/(SS_x + SS_error) of the analysis of
// covariance of y on x with a level for each subject, with the sign of the
// slope. The interval uses DF + 2 rows, so a standard error of 1/sqrt(DF - 1)
// on Fisher's scale (Bakdash and Marusich 2017, Frontiers in Psychology
// 8:456, as corrected in 2019, 10:1201).
//
// The columns have equal lengths and are not changed; subject[i] labels the
// subject of row i. It fails with a *[LengthError], *[NotFiniteError],
// *[TooFewError] for DF under 2, *[NoVariationError] if a column varies in no
// subject, *[PerfectError], or *[RangeError] if squares overflow.
func RepeatedMeasures(subject []int, x, y []float64) (RepeatedResult, error) {
	if err := checkColumns(x, y); err != nil {
		return RepeatedResult{}, err
	}
	if len(subject) != len(x) {
		return RepeatedResult{}, &LengthError{What: "subject", Got: len(subject), Want: len(x)}
	}
	out := RepeatedResult{Level: 0.95}
	var p pool
	for _, s := range arrange(subject, nil, x, y) {
		if s.rows < 2 {
			out.SingleRows++
			continue
		}
		out.Subjects++
		out.Rows += s.rows
		p.add(total(s.moments()))
	}
	df := out.Rows - out.Subjects - 1
	if df < 2 {
		return RepeatedResult{}, &TooFewError{What: "error degrees of freedom", Got: max(df, 0), Need: 2}
	}
	if err := checkVariation(x, y, p); err != nil {
		return RepeatedResult{}, err
	}
	r, err := p.correlation()
	if err != nil {
		return RepeatedResult{}, err
	}
	unexplained := (1 - r) * (1 + r)
	if unexplained < perfect {
		return RepeatedResult{}, &PerfectError{R: math.Copysign(1, r)}
	}
	out.R, out.DF = r, float64(df)
	out.Slope = p.xy / p.xx
	out.SlopeStdError = math.Sqrt(p.yy / p.xx * unexplained / out.DF)
	out.Statistic = r * math.Sqrt(out.DF/unexplained)
	out.PValue = tail.TwoSided(out.Statistic, out.DF)
	out.ConfLow, out.ConfHigh, err = FisherInterval(r, out.DF+2, out.Level)
	return out, err
}

// perfect is the share of unexplained variance below which it is rounding.
const perfect = 1e-13
