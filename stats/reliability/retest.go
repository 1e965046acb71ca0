package reliability

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/tail"
)

// TypicalError is the standard deviation of one subject's readings about the
// subject's own level, systematic differences between trials taken out.
type TypicalError struct {
	Value             float64 // in the unit of the readings
	ConfLow, ConfHigh float64
	DF                float64
	Mean              float64 // of all readings
	Percent           float64 // 100 Value/Mean, 0 for a mean of 0
	Level             float64
}

// TypicalErrorOf gives the typical error of ratings[subject][trial], a complete
// table of n subjects by k trials: the root of the error mean square, on (n-1)(k-1)
// degrees of freedom (Hopkins 2000, Sports Medicine 30:1-15), with its exact
// interval for normal errors. Errors are those of [Intraclass].
func TypicalErrorOf(ratings [][]float64, level float64) (TypicalError, error) {
	if err := checkLevel(level); err != nil {
		return TypicalError{}, err
	}
	s, err := analyse(ratings)
	if err != nil {
		return TypicalError{}, err
	}
	return typical(math.Sqrt(s.err), s.errorDF(), s.mean, level), nil
}

func typical(value, df, mean, level float64) TypicalError {
	t := TypicalError{Value: value, DF: df, Mean: mean, Level: level}
	t.ConfLow, t.ConfHigh = deviationLimits(value, df, level)
	if mean != 0 {
		t.Percent = 100 * value / math.Abs(mean)
	}
	return t
}

// CoefficientOfVariation gives the typical error as a percentage, from the
// logarithms of the readings: 100 (exp(s) - 1), s the typical error of the
// logarithms (Hopkins 2000). It suits errors that grow with the reading. Value
// and limits are percentages, Mean is the geometric mean and Percent repeats
// Value. Errors: those of [TypicalErrorOf], ErrNotPositive.
func CoefficientOfVariation(ratings [][]float64, level float64) (TypicalError, error) {
	logs := make([][]float64, len(ratings))
	for i, row := range ratings {
		logs[i] = make([]float64, len(row))
		for j, v := range row {
			if v <= 0 {
				return TypicalError{}, fmt.Errorf("reliability: %w: subject %d, trial %d is %v", ErrNotPositive, i, j, v)
			}
			logs[i][j] = math.Log(v)
		}
	}
	t, err := TypicalErrorOf(logs, level)
	if err != nil {
		return TypicalError{}, err
	}
	t.Value, t.ConfLow, t.ConfHigh = 100*math.Expm1(t.Value), 100*math.Expm1(t.ConfLow), 100*math.Expm1(t.ConfHigh)
	t.Mean, t.Percent = math.Exp(t.Mean), t.Value
	return t, nil
}

// MinimalDetectableChange gives the change between two readings of one subject
// that error alone exceeds with probability 1 - confidence: z sqrt(2) times the
// typical error, z the two-sided normal point (1.96 for 0.95; Weir 2005, J.
// Strength Cond. Res. 19:231-240). It takes the typical error as known. Errors:
// ErrArgument for a typical error that is not finite and above zero or a
// confidence outside (0, 1).
func MinimalDetectableChange(typicalError, confidence float64) (float64, error) {
	if !(typicalError > 0) || math.IsInf(typicalError, 0) {
		return 0, fmt.Errorf("reliability: %w: typical error %v", ErrArgument, typicalError)
	}
	if err := checkLevel(confidence); err != nil {
		return 0, err
	}
	return distuv.UnitNormal.Quantile((1+confidence)/2) * math.Sqrt2 * typicalError, nil
}

// SmallShare is the share of the standard deviation between subjects that Hopkins
// (2000) takes for the smallest change worth having, after Cohen's small effect.
const SmallShare = 0.2

// RetestResult is what two trials of the same subjects tell.
type RetestResult struct {
	Subjects int
	// MeanChange is second minus first, with its interval by Student's t on
	// Subjects - 1 degrees of freedom.
	MeanChange, MeanChangeLow, MeanChangeHigh float64
	ChangeSD                                  float64 // standard deviation of the changes
	TypicalError                              TypicalError
	// LimitsOfAgreement is half the width of the 95 % limits, 1.96 ChangeSD
	// (Bland and Altman 1986); LimitsOfAgreementT has Student's t for 1.96.
	LimitsOfAgreement, LimitsOfAgreementT float64
	MinimalDetectableChange               float64 // at 0.95
	// BetweenSD is the standard deviation of the subjects' means, and
	// SmallestWorthwhileChange SmallShare times that. BetweenSD holds error too:
	// its square exceeds the true one by TypicalError^2/2 on average.
	BetweenSD, SmallestWorthwhileChange float64
	Consistency                         Coefficient // ICC(3,1)
}

// Retest compares two trials of n subjects, at least 2; first[i] and second[i]
// are of the same subject and in the same unit (Hopkins 2000). Level is that of
// the intervals. Errors are those of [Intraclass].
func Retest(first, second []float64, level float64) (RetestResult, error) {
	if len(first) != len(second) {
		return RetestResult{}, fmt.Errorf("reliability: %w: %d and %d readings", ErrShape, len(first), len(second))
	}
	ratings := make([][]float64, len(first))
	for i := range first {
		ratings[i] = []float64{first[i], second[i]}
	}
	table, err := Intraclass(ratings, level)
	if err != nil {
		return RetestResult{}, err
	}
	s, err := analyse(ratings)
	if err != nil {
		return RetestResult{}, err
	}
	t := typical(math.Sqrt(s.err), s.errorDF(), s.mean, level)
	r := RetestResult{
		Subjects: len(first), MeanChange: s.trialMeans[1] - s.trialMeans[0],
		ChangeSD: math.Sqrt2 * t.Value, TypicalError: t,
		BetweenSD:   math.Sqrt(s.subjects / s.k),
		Consistency: table.Coefficients[ConsistencySingle],
	}
	half := tail.Critical(1-level, s.n-1) * r.ChangeSD / math.Sqrt(s.n)
	r.MeanChangeLow, r.MeanChangeHigh = r.MeanChange-half, r.MeanChange+half
	r.LimitsOfAgreement = distuv.UnitNormal.Quantile(0.975) * r.ChangeSD
	r.LimitsOfAgreementT = tail.Critical(0.05, s.n-1) * r.ChangeSD
	r.SmallestWorthwhileChange = SmallShare * r.BetweenSD
	r.MinimalDetectableChange, err = MinimalDetectableChange(t.Value, 0.95)
	return r, err
}
