package linear

import (
	"fmt"
	"math"
)

// Confounder says how strongly an unmeasured cause Z goes with a term D and
// with the response Y beside the columns X of a fit: as shares of what is left
// of their variance (partial R^2).
type Confounder struct {
	Term     float64 // R^2 of D with Z given X
	Response float64 // R^2 of Y with Z given X and D
}

// AsStrongAs bounds a confounder that is k times as strong, in both roles, as a
// measured column (or set of columns) Xj of the fit: with t the partial R^2 of D
// with Xj given the other columns, and r that of Y with Xj given the other
// columns and D (Cinelli and Hazlett 2020, section 4.4 and appendix),
//
//	R^2_D = k t/(1-t),   R^2_Y <= ((sqrt(k) + |rho|)^2 / (1 - rho^2)) r/(1-r),
//	rho^2 = k t^2 / ((1 - k t)(1 - t)).
//
// Both are held at 1, beyond which no confounder goes. ErrArgument for a k that
// is not above zero or shares outside [0, 1).
func AsStrongAs(k, t, r float64) (Confounder, error) {
	if !(k > 0) || math.IsInf(k, 0) || !(t >= 0 && t < 1) || !(r >= 0 && r < 1) {
		return Confounder{}, fmt.Errorf("linear: %w: k is %v, the shares %v and %v", ErrArgument, k, t, r)
	}
	c := Confounder{Term: math.Min(1, k*t/(1-t)), Response: 1}
	if k*t >= 1 {
		return c, nil
	}
	if rho2 := k * t * t / ((1 - k*t) * (1 - t)); rho2 < 1 {
		eta := math.Sqrt(k) + math.Sqrt(rho2)
		c.Response = math.Min(1, eta*eta/(1-rho2)*r/(1-r))
	}
	return c, nil
}

// Adjusted gives the estimate that would be left if such a confounder pulled
// against it, which may have the other sign:
//
//	|bias| = stdError sqrt(df R^2_Y R^2_D / (1 - R^2_D))
//
// (Cinelli and Hazlett 2020, eq. 11). stdError is the classical standard error
// and df the residual degrees of freedom of the fit. ErrArgument for a number
// that is not finite, an error or degrees of freedom not above zero, or a
// confounder with R^2_D of 1, whose bias has no bound.
func (c Confounder) Adjusted(estimate, stdError, df float64) (float64, error) {
	bias := stdError * math.Sqrt(df*c.Response*c.Term/(1-c.Term))
	if !(stdError > 0) || !(df > 0) || math.IsNaN(estimate) || math.IsInf(estimate, 0) || math.IsNaN(bias) || math.IsInf(bias, 0) {
		return 0, fmt.Errorf("linear: %w: estimate %v, standard error %v, df %v, shares %v and %v",
			ErrArgument, estimate, stdError, df, c.Term, c.Response)
	}
	return estimate - math.Copysign(bias, estimate), nil
}
