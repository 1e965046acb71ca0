package reliability

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Agreement gives the variance components of values with subjects and trials
// both random, by restricted maximum likelihood; cells may be missing. The ICC is
// that of agreement, ICC(2,1) when the table is complete and no variance is
// zero. It has no interval: with few trials none is worth having, and the one of
// [Consistency] is exact. The typical error is that of Consistency.
//
// In 12 subjects by 6 trials with a third of the cells missing and true variances
// 4, 1 and 1, TestRecovery finds means of 4.0, 1.0 and 1.0.
//
// Errors: those of Consistency; ErrTooFew for fewer than two trials;
// ErrNotConverged.
func Agreement(subject, trial []int, values []float64, level float64) (Components, error) {
	fixed, err := Consistency(subject, trial, values, level)
	if err != nil {
		return Components{}, err
	}
	if fixed.Trials < 2 {
		return Components{}, fmt.Errorf("reliability: %w: %d trials, need at least 2", ErrTooFew, fixed.Trials)
	}
	turned, err := Consistency(trial, subject, values, level)
	if err != nil {
		return Components{}, err
	}
	r, err := newReadings(subject, trial, values)
	if err != nil {
		return Components{}, err
	}
	c, err := newCrossed(r)
	if err != nil {
		return Components{}, err
	}
	start := [2]float64{
		math.Sqrt(fixed.BetweenVariance / fixed.ErrorVariance),
		math.Sqrt(turned.BetweenVariance / turned.ErrorVariance),
	}
	at, err := c.minimise(start)
	if err != nil {
		return Components{}, err
	}
	fixed.ErrorVariance = at.squares / c.df
	fixed.BetweenVariance = at.root[0] * at.root[0] * fixed.ErrorVariance
	fixed.TrialVariance = at.root[1] * at.root[1] * fixed.ErrorVariance
	fixed.Boundary = at.root[0] == 0
	fixed.ICC = fixed.BetweenVariance / (fixed.BetweenVariance + fixed.TrialVariance + fixed.ErrorVariance)
	fixed.ConfLow, fixed.ConfHigh, fixed.Mean = 0, 0, c.centre+at.mean
	return fixed, nil
}

// crossed holds the cross-products of the model with both effects random: of the
// constant, the subjects and the trials with each other and with the values.
// With roots g of the ratios of variances the augmented least squares of Bates et
// al. (2015, J. Stat. Software 67(1), eq. 17) has the matrix G Z'Z G + I.
type crossed struct {
	n, subjects, trials int
	zz                  *mat.SymDense // 1 + subjects + trials
	zy                  []float64
	yy, df              float64
	centre              float64 // what the values are measured from
}

func newCrossed(r readings) (crossed, error) {
	c := crossed{n: 1 + r.subjects + r.trials, subjects: r.subjects, trials: r.trials, df: float64(len(r.value) - 1)}
	c.zz = mat.NewSymDense(c.n, nil)
	c.zy = make([]float64, c.n)
	var mean float64
	for _, v := range r.value {
		mean += v / float64(len(r.value))
	}
	c.centre = r.origin + mean
	for i, v := range r.value {
		at := [3]int{0, 1 + r.subject[i], 1 + r.subjects + r.trial[i]}
		v -= mean
		c.yy += v * v
		for a, j := range at {
			c.zy[j] += v
			for _, k := range at[a:] {
				c.zz.SetSym(j, k, c.zz.At(j, k)+1)
			}
		}
	}
	if c.yy == 0 || math.IsInf(c.yy, 0) {
		return crossed{}, fmt.Errorf("reliability: %w: the sum of squares is %v", ErrNoVariance, c.yy)
	}
	return c, nil
}

// point is the restricted deviance at a pair of roots, with its gradient.
type point struct {
	root     [2]float64
	deviance float64
	gradient [2]float64
	squares  float64 // penalised residual sum of squares
	mean     float64 // from centre
}

// kind is 0 for a subject's place, 1 for a trial's, -1 for the constant.
func (c crossed) kind(j int) int {
	switch {
	case j == 0:
		return -1
	case j <= c.subjects:
		return 0
	}
	return 1
}

func (c crossed) at(root [2]float64) (point, bool) {
	scale := make([]float64, c.n)
	scale[0] = 1
	for j := 1; j < c.n; j++ {
		scale[j] = root[c.kind(j)]
	}
	left := mat.NewSymDense(c.n, nil)
	right := mat.NewVecDense(c.n, nil)
	for j := range c.n {
		right.SetVec(j, scale[j]*c.zy[j])
		for k := j; k < c.n; k++ {
			left.SetSym(j, k, scale[j]*scale[k]*c.zz.At(j, k))
		}
		if j > 0 {
			left.SetSym(j, j, left.At(j, j)+1)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(left) {
		return point{}, false
	}
	var solution mat.VecDense
	if chol.SolveVecTo(&solution, right) != nil {
		return point{}, false
	}
	p := point{root: root, mean: solution.AtVec(0)}
	p.squares = c.yy - mat.Dot(&solution, right)
	if !(p.squares > 0) {
		return point{}, false
	}
	p.deviance = chol.LogDet() + c.df*math.Log(p.squares)
	var inverse mat.SymDense
	if chol.InverseTo(&inverse) != nil {
		return point{}, false
	}
	// d ln|L| = tr(L^-1 dL), d squares = -2 v'dG (Z'y - Z'Z G v).
	for j := 1; j < c.n; j++ {
		kind := c.kind(j)
		misfit := c.zy[j]
		var trace float64
		for k := range c.n {
			zz := c.zz.At(j, k) * scale[k]
			misfit -= zz * solution.AtVec(k)
			trace += inverse.At(j, k) * zz
		}
		p.gradient[kind] += 2*trace - c.df*2*solution.AtVec(j)*misfit/p.squares
	}
	return p, true
}

// gradientTolerance is the gradient, in deviance by root, that counts as zero.
const gradientTolerance = 1e-7

// minimise goes down by Newton's method from start, with differences of the
// exact gradient for second derivatives, roots at or above zero. At a root of
// zero the gradient vanishes by symmetry, so the curvature decides.
func (c crossed) minimise(start [2]float64) (point, error) {
	failed := fmt.Errorf("reliability: %w", ErrNotConverged)
	var best point
	found := false
	for _, s := range [][2]float64{start, {max(start[0], 0.3), max(start[1], 0.3)}, {start[0], 0}, {0, start[1]}, {0, 0}} {
		p, ok := c.descend(s)
		if ok && (!found || p.deviance < best.deviance-1e-9) {
			best, found = p, true
		}
	}
	if !found {
		return point{}, failed
	}
	return best, nil
}

func (c crossed) descend(root [2]float64) (point, bool) {
	p, ok := c.at(root)
	for range 100 {
		if !ok {
			return point{}, false
		}
		hessian, fine := c.hessian(p)
		if !fine {
			return point{}, false
		}
		var step [2]float64
		var free [2]bool
		for i := range free {
			// A root of zero stays there; where the deviance bends down at zero
			// it is no minimum, and another start finds the one above.
			free[i] = p.root[i] > 0
			if !free[i] && hessian[i][i] < 0 {
				return point{}, false
			}
		}
		determinant := hessian[0][0]*hessian[1][1] - hessian[0][1]*hessian[0][1]
		switch {
		case free[0] && free[1] && hessian[0][0] > 0 && determinant > 0:
			step[0] = -(hessian[1][1]*p.gradient[0] - hessian[0][1]*p.gradient[1]) / determinant
			step[1] = -(hessian[0][0]*p.gradient[1] - hessian[0][1]*p.gradient[0]) / determinant
		default:
			for i := range step {
				if free[i] {
					step[i] = -p.gradient[i] / max(math.Abs(hessian[i][i]), 1e-3)
				}
			}
		}
		size := max(math.Abs(step[0]), math.Abs(step[1]))
		slope := max(math.Abs(p.gradient[0]), math.Abs(p.gradient[1]))
		if size <= 1e-11*(1+p.root[0]+p.root[1]) || size == 0 {
			return p, slope <= gradientTolerance*(1+math.Abs(p.deviance)) && determinant >= 0
		}
		moved := false
		for range 40 {
			next := p.root
			for i := range next {
				next[i] = max(0, next[i]+step[i])
				if next[i] < 1e-8 {
					next[i] = 0
				}
			}
			q, fine := c.at(next)
			if fine && q.deviance <= p.deviance+1e-12*math.Abs(p.deviance) {
				moved = next != p.root
				p = q
				break
			}
			step[0], step[1] = step[0]/2, step[1]/2
		}
		if !moved {
			return p, slope <= gradientTolerance*(1+math.Abs(p.deviance)) && determinant >= 0
		}
	}
	return point{}, false
}

func (c crossed) hessian(p point) (h [2][2]float64, ok bool) {
	for i := range h {
		d := 1e-5 * (1 + p.root[i])
		up, down := p.root, p.root
		up[i] += d
		down[i] -= d // a negative root is as good: the deviance is even in it
		a, fine1 := c.at(up)
		b, fine2 := c.at(down)
		if !fine1 || !fine2 {
			return h, false
		}
		for j := range h {
			h[i][j] = (a.gradient[j] - b.gradient[j]) / (2 * d)
		}
	}
	h[0][1] = (h[0][1] + h[1][0]) / 2
	h[1][0] = h[0][1]
	return h, true
}
