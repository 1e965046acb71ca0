package pooled

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// collinear is the share of a column's length that must be left beside the
// columns before it.
const collinear = 1e-9

// design holds estimates y with variances v and p columns, rows sorted by value
// so that no sum depends on the order of the input.
type design struct {
	y, v              []float64
	columns           [][]float64 // p of k values; the first is the constant
	order             []int       // row i of the design is input order[i]
	smallest, largest float64
	deviation         float64 // residual sum of squares without weights
	total             float64 // sum of y^2
	crossLogDet       float64 // ln |X'X|
	variance          float64 // of y about its mean, divisor k
	pv, pvpv          float64 // see search.plainPV
}

// newDesign returns the index of the first column that depends on those before
// it, or -1.
func newDesign(estimates, variances []float64, columns [][]float64) (d design, dependent int) {
	k := len(estimates)
	d.order = make([]int, k)
	for i := range d.order {
		d.order[i] = i
	}
	slices.SortFunc(d.order, func(a, b int) int {
		c := cmp.Or(cmp.Compare(estimates[a], estimates[b]), cmp.Compare(variances[a], variances[b]))
		for j := 0; c == 0 && j < len(columns); j++ {
			c = cmp.Compare(columns[j][a], columns[j][b])
		}
		return c
	})
	d.y, d.v = make([]float64, k), make([]float64, k)
	d.columns = make([][]float64, 1+len(columns))
	for j := range d.columns {
		d.columns[j] = make([]float64, k)
	}
	for i, o := range d.order {
		d.y[i], d.v[i] = estimates[o], variances[o]
		d.columns[0][i] = 1
		for j, c := range columns {
			d.columns[j+1][i] = c[o]
		}
	}
	d.smallest, d.largest = slices.Min(variances), slices.Max(variances)
	d.total = floats.Dot(d.y, d.y)
	f := d.newFitted()
	for i := range f.weight {
		f.weight[i] = 1
	}
	if dependent := d.fit(f); dependent >= 0 {
		return d, dependent
	}
	d.deviation = floats.Dot(f.residual, f.residual)
	d.crossLogDet = f.logDet
	d.plainTraces(f)
	return d, -1
}

// plainTraces fills what Hedges and SidikJonkman need from the unweighted fit.
func (d *design) plainTraces(f *fitted) {
	k := float64(len(d.y))
	var shift float64
	for _, y := range d.y {
		shift += (y - d.y[0]) / k
	}
	for _, y := range d.y {
		d.variance += (y - d.y[0] - shift) * (y - d.y[0] - shift) / k
	}
	p := len(f.q)
	cross := make([]float64, p*p) // Q'VQ
	for i, v := range d.v {
		var leverage float64
		for a, q := range f.q {
			leverage += q[i] * q[i]
			for b := range f.q {
				cross[a*p+b] += v * q[i] * f.q[b][i]
			}
		}
		d.pv += v * (1 - leverage)
		d.pvpv += v * v * (1 - 2*leverage)
	}
	d.pvpv += floats.Dot(cross, cross)
}

// fitted is the weighted least-squares fit at one tau2: q is the orthonormal
// basis of W^(1/2) X by column, r triangular with W^(1/2) X = q r, residual is
// W^(1/2) (y - X b). Its memory is reused from one fit to the next.
type fitted struct {
	q        [][]float64
	r        *mat.TriDense
	along    []float64 // q'W^(1/2) y
	residual []float64
	weight   []float64
	root     []float64
	logDet   float64 // ln |X'WX|
}

func (d design) newFitted() *fitted {
	k, p := len(d.y), len(d.columns)
	arena := make([]float64, (p+3)*k)
	f := &fitted{q: make([][]float64, p), r: mat.NewTriDense(p, mat.Upper, nil), along: make([]float64, p)}
	for j := range f.q {
		f.q[j], arena = arena[:k:k], arena[k:]
	}
	f.residual, f.weight, f.root = arena[:k:k], arena[k:2*k:2*k], arena[2*k:]
	return f
}

// fitAt is the fit with weights 1/(v + tau2).
func (d design) fitAt(tau2 float64, f *fitted) *fitted {
	for i, v := range d.v {
		f.weight[i] = 1 / (v + tau2)
	}
	d.fit(f)
	return f
}

// fit orthogonalises the columns by f.weight, each projected twice (Giraud et al.
// 2005). It returns the first column that depends on those before it, or -1.
func (d design) fit(f *fitted) (dependent int) {
	for i, w := range f.weight {
		f.root[i] = math.Sqrt(w)
	}
	f.logDet = 0
	for j, c := range d.columns {
		v := floats.MulTo(f.q[j], f.root, c)
		before := floats.Norm(v, 2)
		for l := range j {
			f.r.SetTri(l, j, 0)
		}
		for range 2 {
			for l := range j {
				s := floats.Dot(f.q[l], v)
				floats.AddScaled(v, -s, f.q[l])
				f.r.SetTri(l, j, f.r.At(l, j)+s)
			}
		}
		left := floats.Norm(v, 2)
		if !(left > collinear*before) {
			return j
		}
		floats.Scale(1/left, v)
		f.r.SetTri(j, j, left)
		f.logDet += 2 * math.Log(left)
	}
	floats.MulTo(f.residual, f.root, d.y)
	clear(f.along)
	for range 2 {
		for j, q := range f.q {
			s := floats.Dot(q, f.residual)
			floats.AddScaled(f.residual, -s, q)
			f.along[j] += s
		}
	}
	return -1
}

// search makes the estimation of tau2 from the design. With M the projection off
// W^(1/2) X, P is W^(1/2) M W^(1/2).
func (d design) search() search {
	f := d.newFitted()
	p := len(f.q)
	cross := make([]float64, p*p) // Q'WQ, lower half
	return search{
		k: float64(len(d.y)), p: float64(p),
		deviation: d.deviation, smallest: d.smallest, largest: d.largest, plainVariance: d.variance,
		plainPV: d.pv, plainPVPV: d.pvpv,
		at: func(tau2 float64) spread {
			d.fitAt(tau2, f)
			var s spread
			clear(cross)
			for i, w := range f.weight {
				var leverage float64
				for a, q := range f.q {
					leverage += q[i] * q[i]
					for b := range a + 1 {
						cross[a*p+b] += w * q[i] * f.q[b][i]
					}
				}
				r2 := f.residual[i] * f.residual[i]
				s.w += w
				s.w2 += w * w
				s.wr2 += r2
				s.w2r2 += w * r2
				s.traceP += w * (1 - leverage)
				s.tracePP += w * w * (1 - 2*leverage)
			}
			for a := range p {
				for b := range a {
					s.tracePP += 2 * cross[a*p+b] * cross[a*p+b]
				}
				s.tracePP += cross[a*p+a] * cross[a*p+a]
			}
			return s
		},
		logLik: func(tau2 float64, restricted bool) float64 {
			return d.logLik(tau2, restricted, f)
		},
	}
}

// logLik is as in sample; restricted it holds ln|X'X|/2, so that values compare
// with those of metafor.
func (d design) logLik(tau2 float64, restricted bool, f *fitted) float64 {
	d.fitAt(tau2, f)
	k := float64(len(d.y))
	var logs float64
	for _, v := range d.v {
		logs += math.Log(v + tau2)
	}
	ll := -0.5 * (k*math.Log(2*math.Pi) + logs + floats.Dot(f.residual, f.residual))
	if restricted {
		ll += 0.5 * (float64(len(f.q))*math.Log(2*math.Pi) + d.crossLogDet - f.logDet)
	}
	return ll
}

// solve gives the coefficients and (X'WX)^-1.
func (f *fitted) solve() (b []float64, inverse *mat.SymDense) {
	p := len(f.q)
	var rinv mat.TriDense
	// r has no zero on its diagonal: a condition error concerns digits only.
	_ = rinv.InverseTri(f.r)
	b = make([]float64, p)
	inverse = mat.NewSymDense(p, nil)
	for i := range p {
		for j := i; j < p; j++ {
			b[i] += rinv.At(i, j) * f.along[j]
			var s float64
			for l := j; l < p; l++ {
				s += rinv.At(i, l) * rinv.At(j, l)
			}
			inverse.SetSym(i, j, s)
		}
	}
	return b, inverse
}
