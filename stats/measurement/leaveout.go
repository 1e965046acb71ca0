package measurement

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/linear"
)

// leaveOut fits the curve without each cluster in turn. The cross-products of a
// cluster, freed of its levels, are added up once; leaving it out is a subtraction
// (which costs digits, but only of the difference between two fits).
type leaveOut struct {
	c      Curve
	rows   [][]int // by cluster
	centre float64
}

// estimator gives the coefficients of the powers of x, followed by those without
// cluster 0, without cluster 1, and so on.
func (l leaveOut) estimator() Estimator {
	return func(x []float64) (Estimates, error) {
		e, err := l.c.fit(x, nil, l.centre, false)
		if err != nil {
			return Estimates{}, err
		}
		without, err := l.without(l.c.problem(x, nil, l.centre))
		if err != nil {
			return Estimates{}, err
		}
		return Estimates{Values: append(append([]float64{}, e.Values...), without...)}, nil
	}
}

func (l leaveOut) without(p linear.Problem) ([]float64, error) {
	columns := make([][]float64, 0, len(p.Columns)+1)
	for _, column := range append(append([][]float64{}, p.Columns...), p.Response) {
		columns = append(columns, centred(column, p.Absorb))
	}
	q := len(columns) // the last is the response
	total := make([]float64, q*q)
	own := make([][]float64, len(l.rows))
	for k, rows := range l.rows {
		own[k] = make([]float64, q*q)
		for a := range q {
			for b := a; b < q; b++ {
				var s float64
				for _, i := range rows {
					s += columns[a][i] * columns[b][i]
				}
				own[k][a*q+b] = s
				total[a*q+b] += s
			}
		}
	}
	first, degree := l.c.first(), l.c.Degree
	out := make([]float64, 0, len(l.rows)*degree)
	for k := range l.rows {
		left, right := mat.NewSymDense(q-1, nil), mat.NewVecDense(q-1, nil)
		scale := make([]float64, q-1)
		for a := range scale {
			scale[a] = 1 / math.Sqrt(total[a*q+a])
		}
		for a := range scale {
			for b := a; b < q-1; b++ {
				left.SetSym(a, b, (total[a*q+b]-own[k][a*q+b])*scale[a]*scale[b])
			}
			right.SetVec(a, (total[a*q+q-1]-own[k][a*q+q-1])*scale[a])
		}
		var chol mat.Cholesky
		var solved mat.VecDense
		if !chol.Factorize(left) || chol.Cond() > 1e12 || chol.SolveVecTo(&solved, right) != nil {
			return nil, fmt.Errorf("measurement: %w: without cluster %d the curve cannot be fitted", linear.ErrNoInformation, k)
		}
		for d := range degree {
			out = append(out, solved.AtVec(first+d)*scale[first+d])
		}
	}
	return out, nil
}

// centred is the column about the means of the groups, as it is without groups.
func centred(column []float64, group []int) []float64 {
	if group == nil {
		return column
	}
	sum, count := make(map[int]float64), make(map[int]float64)
	for i, v := range column {
		sum[group[i]] += v - column[0]
		count[group[i]]++
	}
	out := make([]float64, len(column))
	for i, v := range column {
		out[i] = v - column[0] - sum[group[i]]/count[group[i]]
	}
	return out
}

// jackknife gives the covariance of k estimates from those without each cluster, one
// after the other: (C-1)/C times the sum of squares and products about their mean
// (Efron and Tibshirani 1993, chapter 11).
func jackknife(values []float64, k int) *mat.SymDense {
	clusters := len(values) / k
	columns := make([][]float64, k)
	for i, v := range values {
		columns[i%k] = append(columns[i%k], v)
	}
	v := spread(columns)
	n := float64(clusters)
	v.ScaleSym((n-1)*(n-1)/n, v)
	return v
}
