package pooled

import (
	"fmt"
	"slices"
)

// LeaveOneOut pools all estimates but one, for each in turn: result i is [Fit]
// without estimate i. One estimate that decides the pooled one shows at once. It
// needs three estimates and fails as Fit does, naming the one left out.
func LeaveOneOut(estimates, variances []float64, o Options) ([]Result, error) {
	if err := check(estimates, variances); err != nil {
		return nil, err
	}
	k := len(estimates)
	if k < 3 {
		return nil, &TooFewError{K: k, Coefficients: 2}
	}
	out := make([]Result, k)
	for i := range out {
		y := slices.Concat(estimates[:i], estimates[i+1:])
		v := slices.Concat(variances[:i], variances[i+1:])
		var err error
		if out[i], err = Fit(y, v, o); err != nil {
			return nil, fmt.Errorf("without estimate %d: %w", i, err)
		}
	}
	return out, nil
}
