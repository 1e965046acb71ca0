package mixed

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// LikelihoodRatioTest compares two nested models.
type LikelihoodRatioTest struct {
	Statistic float64 // difference of the criteria, not below zero
	DF        int     // difference in parameters
	PValue    float64 // chi-square with DF
	// Mixture says that the larger model adds exactly one random effect (to
	// the same fixed effects). Its variance lies on the boundary under the
	// smaller model, PValue is too large, and MixturePValue is from the equal
	// mixture of chi-squares with DF-1 and DF degrees of freedom (Self and
	// Liang 1987, JASA 82:605; Stram and Lee 1994, Biometrics 50:1171). Else
	// MixturePValue is PValue.
	Mixture       bool
	MixturePValue float64
}

// LikelihoodRatio tests the smaller model against the larger, both fitted to the
// same rows by the same method; under REML they must have the same fixed
// effects. Errors: ErrMethod, ErrNotNested (columns, data, or no difference).
func LikelihoodRatio(small, large *Model) (LikelihoodRatioTest, error) {
	var out LikelihoodRatioTest
	if small.Method != large.Method {
		return out, fmt.Errorf("mixed: %w: one fit by %v, one by %v", ErrMethod, small.Method, large.Method)
	}
	if err := nested(small, large); err != nil {
		return out, err
	}
	sameFixed := len(small.Layout.Fixed) == len(large.Layout.Fixed)
	if small.Method == REML && !sameFixed {
		return out, fmt.Errorf("mixed: %w: restricted likelihoods compare only with the same fixed effects, fit by ML", ErrMethod)
	}
	out.DF = large.Parameters - small.Parameters
	// Both criteria are minima: a difference below zero is rounding.
	out.Statistic = math.Max(0, small.Criterion-large.Criterion)
	out.PValue = distuv.ChiSquared{K: float64(out.DF)}.Survival(out.Statistic)
	out.MixturePValue = out.PValue
	more := len(large.Layout.Random) - len(small.Layout.Random)
	if large.Layout.GroupIntercept && !small.Layout.GroupIntercept {
		more++
	}
	sameForm := large.Layout.Independent == small.Layout.Independent ||
		len(small.Layout.Random) <= 1 || len(large.Layout.Random) <= 1
	if more == 1 && sameFixed && sameForm {
		out.Mixture = true
		var lower float64 // chi-square with no degrees of freedom is zero
		if out.DF > 1 {
			lower = distuv.ChiSquared{K: float64(out.DF - 1)}.Survival(out.Statistic)
		} else if out.Statistic == 0 {
			lower = 1
		}
		out.MixturePValue = (lower + out.PValue) / 2
	}
	return out, nil
}

func nested(small, large *Model) error {
	for _, sets := range [][2][]string{
		{small.Layout.Fixed, large.Layout.Fixed}, {small.Layout.Random, large.Layout.Random},
	} {
		for _, name := range sets[0] {
			if !slices.Contains(sets[1], name) {
				return fmt.Errorf("mixed: %w: only the smaller one has %q", ErrNotNested, name)
			}
		}
	}
	if small.Layout.GroupIntercept && !large.Layout.GroupIntercept {
		return fmt.Errorf("mixed: %w: only the smaller one has a group intercept", ErrNotNested)
	}
	if large.Layout.Independent && !small.Layout.Independent && len(small.Layout.Random) > 1 {
		return fmt.Errorf("mixed: %w: only the smaller one has correlations", ErrNotNested)
	}
	if large.Parameters <= small.Parameters {
		return fmt.Errorf("mixed: %w: the larger one has no more parameters", ErrNotNested)
	}
	a, b := small.problem, large.problem
	same := a.rows == b.rows && len(a.units) == len(b.units)
	for i := range a.units {
		same = same && a.units[i].label == b.units[i].label && a.units[i].rows == b.units[i].rows
	}
	if same {
		// The response by its mean square in each unit.
		for i := range a.units {
			x, y := a.responseSquare(i), b.responseSquare(i)
			same = same && math.Abs(x-y) <= 1e-9*math.Abs(x)
		}
	}
	if !same {
		return fmt.Errorf("mixed: %w: they were fitted to different rows", ErrNotNested)
	}
	return nil
}

// responseSquare is the sum of squares of the response of unit i about zero, in
// the units of the data.
func (p *problem) responseSquare(i int) float64 {
	u, y := p.units[i], p.vars[p.m-1]
	sum := u.spread[len(u.spread)-1] * y.scale * y.scale
	for _, g := range u.groups {
		mean := g.mean[p.m-1]*y.scale + y.centre
		sum += g.rows * mean * mean
	}
	return sum
}
