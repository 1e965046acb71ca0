package measurement

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/linear"
)

// Moments is the regression of a response on a line or a quadratic in a column x
// with error, on the product of x with a column without error, and on further
// columns without error, with a level for each absorbed group. Its normal equations
// are sums over rows, so that what the error adds to them can be taken off again
// ([Moments.Corrected]) or avoided ([Moments.Instrumented]).
type Moments struct {
	Response []float64 // n values
	// X is the column with error; Degree is 1, or 2 for its square too.
	X      []float64
	Degree int
	// By is a column without error whose product with X is a term; nil for none.
	By []float64
	// Columns are further columns of n values without error. None may be a
	// combination of others and the groups.
	Columns [][]float64
	// Absorb are groups with a level each, within Cluster, the clusters that the
	// jackknife leaves out. Both are needed.
	Absorb, Cluster []int
}

// Solution holds the coefficients of x, of its square (Degree 2) and of its product
// with By, in that order, with their covariance by the jackknife that leaves out a
// cluster at a time (Efron and Tibshirani 1993, chapter 11).
type Solution struct {
	Estimates  []float64
	Covariance *mat.SymDense
}

// Corrected solves for the coefficients with normal errors of standard deviation
// errorSD[i] in x[i] (n values, at least zero). With w = (x, x^2 - s^2, x b), which
// is unbiased for its value without error, the errors add to the sums of squares and
// products of w
//
//	v(x) = s^2, v(x^2) = 4 x^2 s^2 - 2 s^4, c(x, x^2) = 2 x s^2,
//	v(x b) = b^2 s^2, c(x, x b) = b s^2, c(x^2, x b) = 2 b x s^2
//
// on average, less the share 1/n of a group of n that goes into its level; that is
// taken off (corrected score, Nakamura 1990, Biometrika 77:127; for polynomials
// Cheng and Schneeweiss 1998, J. R. Stat. Soc. B 60:189). Nothing is asked of the
// distribution of x.
//
// Errors: ErrShape, ErrNotFinite, ErrTooFew, ErrArgument; ErrNoSignal when the column
// varies hardly more than its error explains; linear.ErrNoInformation when without
// one cluster the rest cannot be solved.
func (m Moments) Corrected(errorSD []float64) (Solution, error) {
	if err := m.check(errorSD, "standard deviations of errors"); err != nil {
		return Solution{}, err
	}
	for i, s := range errorSD {
		if s < 0 {
			return Solution{}, fmt.Errorf("measurement: %w: the error of row %d has standard deviation %v", ErrArgument, i, s)
		}
	}
	terms := m.terms(m.X, errorSD)
	s := m.sums(terms, terms)
	m.takeOff(s, errorSD)
	return s.solve(m.count(), true)
}

// takeOff takes off the sums what the errors add to them on average.
func (m Moments) takeOff(s normalSums, errorSD []float64) {
	size := make(map[int]float64)
	for _, g := range m.Absorb {
		size[g]++
	}
	first, k := len(m.Columns), m.count()
	excess := make([]float64, k*k)
	for i, sd := range errorSD {
		m.excess(excess, i, sd*sd)
		left := s.left[s.place[m.Cluster[i]]]
		share := 1 - 1/size[m.Absorb[i]]
		for a := range k {
			for b := range k {
				left.Set(first+a, first+b, left.At(first+a, first+b)-share*excess[a*k+b])
			}
		}
	}
}

// excess is what an error of variance v adds to the products of the terms in row i.
func (m Moments) excess(into []float64, i int, v float64) {
	x, k := m.X[i], m.count()
	set := func(a, b int, value float64) { into[a*k+b], into[b*k+a] = value, value }
	set(0, 0, v)
	if m.Degree == 2 {
		set(0, 1, 2*x*v)
		set(1, 1, 4*x*x*v-2*v*v)
	}
	if m.By != nil {
		b := m.By[i]
		set(0, k-1, b*v)
		set(k-1, k-1, b*b*v)
		if m.Degree == 2 {
			set(1, k-1, 2*b*x*v)
		}
	}
}

// Instrumented solves for the coefficients with z, z^2 and z b standing for x, x^2
// and x b in the left side of the normal equations (instrumental variables; Fuller
// 1987, section 2.4). z, n values, has to go with x and not with its error: a value
// that was set beforehand. The size of the error need not be known; it may not
// change with z.
//
// Errors: those of Corrected, ErrNoSignal when z hardly goes with x.
func (m Moments) Instrumented(z []float64) (Solution, error) {
	if err := m.check(z, "instruments"); err != nil {
		return Solution{}, err
	}
	none := make([]float64, len(z))
	return m.sums(m.terms(z, none), m.terms(m.X, none)).solve(m.count(), false)
}

// count is the number of coefficients along x.
func (m Moments) count() int {
	if m.By != nil {
		return m.Degree + 1
	}
	return m.Degree
}

func (m Moments) check(other []float64, what string) error {
	n := len(m.X)
	if m.Degree != 1 && m.Degree != 2 {
		return fmt.Errorf("measurement: %w: degree %d", ErrArgument, m.Degree)
	}
	columns := append([][]float64{m.Response, m.X, other}, m.Columns...)
	if m.By != nil {
		columns = append(columns, m.By)
	}
	for _, column := range columns {
		if len(column) != n {
			return fmt.Errorf("measurement: %w: a column of %d values for %d of x (%d %s)", ErrShape, len(column), n, len(other), what)
		}
		for i, v := range column {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("measurement: %w: row %d is %v", ErrNotFinite, i, v)
			}
		}
	}
	if len(m.Absorb) != n || len(m.Cluster) != n {
		return fmt.Errorf("measurement: %w: %d groups and %d clusters for %d values", ErrShape, len(m.Absorb), len(m.Cluster), n)
	}
	home, clusters := make(map[int]int), make(map[int]struct{})
	for i, g := range m.Absorb {
		if at, known := home[g]; known && at != m.Cluster[i] {
			return fmt.Errorf("measurement: %w: group %d lies in more than one cluster", ErrArgument, g)
		}
		home[g] = m.Cluster[i]
		clusters[m.Cluster[i]] = struct{}{}
	}
	if len(clusters) < 3 {
		return fmt.Errorf("measurement: %w: %d clusters, need at least 3", ErrTooFew, len(clusters))
	}
	return nil
}

// terms lists all columns, each about its groups' means: those without error, x, its
// square less the error's variance, and its product with By.
func (m Moments) terms(x, errorSD []float64) [][]float64 {
	var out [][]float64
	add := func(column []float64) { out = append(out, centred(column, m.Absorb)) }
	for _, column := range m.Columns {
		add(column)
	}
	add(x)
	product := func(f func(i int) float64) {
		column := make([]float64, len(x))
		for i := range column {
			column[i] = f(i)
		}
		add(column)
	}
	if m.Degree == 2 {
		product(func(i int) float64 { return x[i]*x[i] - errorSD[i]*errorSD[i] })
	}
	if m.By != nil {
		product(func(i int) float64 { return x[i] * m.By[i] })
	}
	return out
}

// normalSums are the normal equations by cluster.
type normalSums struct {
	place map[int]int // of a cluster's label
	left  []*mat.Dense
	right []*mat.VecDense
	scale []float64 // of each unknown, so that the sums are of like size
}

func (m Moments) sums(instruments, terms [][]float64) normalSums {
	s := normalSums{place: make(map[int]int), scale: make([]float64, len(terms))}
	response := centred(m.Response, m.Absorb)
	q := len(terms)
	for i, label := range m.Cluster {
		c, known := s.place[label]
		if !known {
			c = len(s.left)
			s.place[label] = c
			s.left, s.right = append(s.left, mat.NewDense(q, q, nil)), append(s.right, mat.NewVecDense(q, nil))
		}
		for a := range q {
			z := instruments[a][i]
			s.right[c].SetVec(a, s.right[c].AtVec(a)+z*response[i])
			s.scale[a] += terms[a][i] * terms[a][i]
			for b := range q {
				s.left[c].Set(a, b, s.left[c].At(a, b)+z*terms[b][i])
			}
		}
	}
	for a, v := range s.scale {
		s.scale[a] = math.Sqrt(v)
	}
	return s
}

// solve gives the last k unknowns with all clusters and without each. symmetric
// asks for left sides that are positive definite, which those of data are.
func (s normalSums) solve(k int, symmetric bool) (Solution, error) {
	q := len(s.scale)
	for _, v := range s.scale {
		if v == 0 {
			return Solution{}, fmt.Errorf("measurement: %w: a column does not vary within the groups", ErrNoSignal)
		}
		if math.IsInf(v, 0) || v*v < smallestSquare {
			return Solution{}, fmt.Errorf("measurement: %w: a sum of squares leaves the range of a float64; change units", ErrNotFinite)
		}
	}
	total := make([]float64, q*(q+1))
	for c := range s.left {
		s.add(total, c, 1)
	}
	work := slices.Clone(total)
	whole, ok := s.eliminate(work, k, symmetric)
	if !ok {
		return Solution{}, fmt.Errorf("measurement: %w", ErrNoSignal)
	}
	var without []float64
	for c := range s.left {
		copy(work, total)
		s.add(work, c, -1)
		part, ok := s.eliminate(work, k, symmetric)
		if !ok {
			return Solution{}, fmt.Errorf("measurement: %w: without cluster %d the curve cannot be solved", linear.ErrNoInformation, c)
		}
		without = append(without, part...)
	}
	return Solution{Estimates: whole, Covariance: jackknife(without, k)}, nil
}

// add adds a cluster's equations, scaled, to rows of q coefficients and the right
// side.
func (s normalSums) add(into []float64, cluster int, sign float64) {
	q := len(s.scale)
	for a := range q {
		row := into[a*(q+1) : (a+1)*(q+1)]
		for b := range q {
			row[b] += sign * s.left[cluster].At(a, b) / (s.scale[a] * s.scale[b])
		}
		row[q] += sign * s.right[cluster].AtVec(a) / s.scale[a]
	}
}

// pivot is the least that must be left of a column's unit length beside those
// before it for the column to count.
const pivot = 1e-9

// eliminate solves for the last k unknowns. A column before them of which nothing
// is left (an indicator of the cluster that was left out) is passed over: it bears
// on nothing. Of the last k none may be passed over.
func (s normalSums) eliminate(rows []float64, k int, symmetric bool) ([]float64, bool) {
	q := len(s.scale)
	w := q + 1
	for a := range q {
		p := rows[a*w+a]
		if !(math.Abs(p) > pivot) || symmetric && p < 0 {
			if a >= q-k {
				return nil, false
			}
			continue
		}
		for below := a + 1; below < q; below++ {
			f := rows[below*w+a] / p
			for b := a; b < w; b++ {
				rows[below*w+b] -= f * rows[a*w+b]
			}
		}
	}
	out := make([]float64, k)
	for d := k - 1; d >= 0; d-- {
		a := q - k + d
		v := rows[a*w+q]
		for e := d + 1; e < k; e++ {
			v -= rows[a*w+q-k+e] * out[e]
		}
		out[d] = v / rows[a*w+a]
	}
	for d := range out {
		out[d] /= s.scale[q-k+d]
	}
	return out, true
}
