package measurement

import (
	"fmt"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/resample"
)

// Method is a way of correcting a curve.
type Method int

const (
	// BySIMEX is the correction of CorrectCurve.
	BySIMEX Method = iota
	// ByCalibration is the correction of CalibrateCurve.
	ByCalibration
)

// BootstrapResult holds the correction done again on resampled clusters.
type BootstrapResult struct {
	// Corrected is the curve with Covariance that of the replicates; its degrees of
	// freedom are those of the curve as observed.
	Corrected CurveEstimate
	// Linear and Square are the replicates, for percentile intervals.
	Linear, Square []float64
	Failed         int // replicates in which there was nothing to correct
	Centre         float64
}

// failedShare of the replicates may fail: half of what a 95 % interval leaves out.
const failedShare = 0.025

// BootstrapCurve draws whole clusters with replacement, replicates times, and
// corrects the curve on each, so that the standard errors hold what the correction
// itself adds. Without c.Cluster each row is one; a cluster drawn twice counts as two,
// with levels of its own for c.Absorb, whose groups must lie within clusters. SIMEX
// runs anew in each replicate (o.Replicates of 20 or so will do there; the noise of the
// finite number is counted in).
//
// Errors: those of the method; ErrTooFew for fewer than two replicates; ErrArgument
// for groups that cut across clusters or another method; ErrNoSignal when the
// correction fails in 2.5 % of the replicates or more.
func BootstrapCurve(x, errorSD []float64, c Curve, method Method, replicates int, o Options) (BootstrapResult, error) {
	if replicates < 2 {
		return BootstrapResult{}, fmt.Errorf("measurement: %w: %d replicates, need at least 2", ErrTooFew, replicates)
	}
	if method != BySIMEX && method != ByCalibration {
		return BootstrapResult{}, fmt.Errorf("measurement: %w: method %d", ErrArgument, int(method))
	}
	plain, _, err := c.start(x, errorSD)
	if err != nil {
		return BootstrapResult{}, err
	}
	whole, err := c.coefficients(x, errorSD, method, o, plain.Centre)
	if err != nil {
		return BootstrapResult{}, err
	}
	rows, err := c.clusters(len(x))
	if err != nil {
		return BootstrapResult{}, err
	}
	plan, err := resample.Clusters(len(rows), replicates, o.Seed)
	if err != nil {
		return BootstrapResult{}, fmt.Errorf("measurement: %w", err)
	}
	r := BootstrapResult{Centre: plain.Centre}
	var draws []int
	for b := range replicates {
		draws = plan.Indices(b, draws[:0])
		part, px, pe := c.draw(x, errorSD, rows, draws)
		own := o
		own.Seed = resample.Seed(resample.Number(o.Seed), resample.Text("replicate"), resample.Number(b))
		values, err := part.coefficients(px, pe, method, own, plain.Centre)
		if err != nil {
			r.Failed++
			continue
		}
		r.Linear = append(r.Linear, values[0])
		if c.Degree == 2 {
			r.Square = append(r.Square, values[1])
		}
	}
	if float64(r.Failed) >= failedShare*float64(replicates) && r.Failed > 0 {
		return BootstrapResult{}, fmt.Errorf("measurement: %w in %d of %d resamples", ErrNoSignal, r.Failed, replicates)
	}
	r.Corrected, err = c.finish(whole, spread([][]float64{r.Linear, r.Square}[:c.Degree]), plain.Naive.DF, plain.Centre)
	return r, err
}

// coefficients are the corrected ones, without standard errors.
func (c Curve) coefficients(x, errorSD []float64, method Method, o Options, centre float64) ([]float64, error) {
	calibrated, err := Calibrate(x, errorSD, c.Terms, c.Columns, c.Absorb)
	if err != nil {
		return nil, err
	}
	if method == ByCalibration {
		e, err := c.fit(calibrated.Values, calibrated.Variances, centre, false)
		return e.Values, err
	}
	r, err := SIMEX(x, errorSD, c.estimator(centre, false), o)
	return r.Corrected, err
}

// clusters lists the rows of each, in order of first appearance, and checks that the
// absorbed groups lie within them.
func (c Curve) clusters(n int) ([][]int, error) {
	label := func(i int) int { return i }
	if c.Cluster != nil {
		label = func(i int) int { return c.Cluster[i] }
	}
	place, home := make(map[int]int), make(map[int]int)
	var rows [][]int
	for i := range n {
		k, known := place[label(i)]
		if !known {
			k = len(rows)
			place[label(i)] = k
			rows = append(rows, nil)
		}
		rows[k] = append(rows[k], i)
		if c.Absorb == nil {
			continue
		}
		if at, known := home[c.Absorb[i]]; known && at != k {
			return nil, fmt.Errorf("measurement: %w: group %d of the levels lies in more than one cluster, which cannot be drawn apart", ErrArgument, c.Absorb[i])
		}
		home[c.Absorb[i]] = k
	}
	return rows, nil
}

// draw makes the curve of the clusters drawn.
func (c Curve) draw(x, errorSD []float64, rows [][]int, draws []int) (part Curve, px, pe []float64) {
	part = Curve{Degree: c.Degree, Terms: c.Terms, Columns: make([][]float64, len(c.Columns))}
	type place struct{ draw, group int }
	groups := make(map[place]int)
	for d, k := range draws {
		for _, i := range rows[k] {
			px, pe = append(px, x[i]), append(pe, errorSD[i])
			part.Response = append(part.Response, c.Response[i])
			for j, column := range c.Columns {
				part.Columns[j] = append(part.Columns[j], column[i])
			}
			if c.Absorb != nil {
				p := place{d, c.Absorb[i]}
				if _, known := groups[p]; !known {
					groups[p] = len(groups)
				}
				part.Absorb = append(part.Absorb, groups[p])
			}
		}
	}
	return part, px, pe
}

// spread is the covariance between replicates, given by column.
func spread(columns [][]float64) *mat.SymDense {
	v := mat.NewSymDense(len(columns), nil)
	n := float64(len(columns[0]))
	mean := make([]float64, len(columns))
	for j, c := range columns {
		for _, y := range c {
			mean[j] += (y - c[0]) / n
		}
		mean[j] += c[0]
	}
	for i := range columns {
		for j := i; j < len(columns); j++ {
			var s float64
			for b := range columns[0] {
				s += (columns[i][b] - mean[i]) * (columns[j][b] - mean[j])
			}
			v.SetSym(i, j, s/(n-1))
		}
	}
	return v
}
