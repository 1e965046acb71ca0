package linear

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Covariance is an estimated covariance matrix of a model's estimates.
type Covariance struct {
	// Kind is "classical", "HC0" to "HC5" or "CR0" to "CR3".
	Kind string
	// Matrix is Rank x Rank in the order of Model.Terms.
	Matrix *mat.SymDense
	// DF holds degrees of freedom for each coefficient: the residual degrees
	// of freedom for classical and HC, Satterthwaite's for CR. Zero marks a
	// coefficient whose variance the estimator cannot see at all.
	DF []float64
}

// HCKind names a heteroscedasticity-consistent estimator.
type HCKind int

// With e the residual and h the leverage of a row, the squared residual is
// replaced by:
const (
	HC0 HCKind = iota // e^2 (White 1980)
	HC1               // e^2 n/(n-k), with k all parameters, absorbed ones too (Hinkley 1977)
	HC2               // e^2/(1-h) (Horn, Horn and Duncan 1975)
	HC3               // e^2/(1-h)^2 (MacKinnon and White 1985, near the jackknife)
	// HC4 is e^2/(1-h)^d with d the smaller of 4 and h over the mean leverage,
	// for rows of high leverage (Cribari-Neto 2004).
	HC4
	// HC5 is e^2/(1-h)^(d/2) with d the smaller of h over the mean leverage and
	// max(4, 0.7 times the largest h over the mean leverage) (Cribari-Neto, Souza
	// and Vasconcellos 2007).
	HC5
)

func (k HCKind) String() string {
	if k < HC0 || k > HC5 {
		return fmt.Sprintf("HCKind(%d)", int(k))
	}
	return fmt.Sprintf("HC%d", int(k))
}

// leverageTolerance is how near to 1 a leverage may come before it counts as 1.
const leverageTolerance = 1e-10

// Classical gives Sigma^2 (X'WX)^-1, X centred within the absorbed groups.
func (m *Model) Classical() Covariance {
	k := m.Rank
	meat := make([]float64, k*k)
	for l := range k {
		meat[l*k+l] = m.sigmaScaled * m.sigmaScaled
	}
	return Covariance{Kind: "classical", Matrix: m.sandwich(meat), DF: m.residualDF()}
}

// Heteroscedastic gives (X'WX)^-1 (sum of w^2 u x x') (X'WX)^-1 with u the
// squared residual as kind adjusts it. Rows are taken as independent of each
// other. Leverages count the absorbed groups, so the result is the one with
// their indicators written out.
//
// HC2 to HC5 divide by 1-h. A row alone in its absorbed group has h = 1 and
// no part in the estimates: it contributes nothing. Any other row with h = 1
// decides a coefficient alone and gives ErrLeverage, since its variance is
// unknowable. An unknown kind gives ErrArgument.
func (m *Model) Heteroscedastic(kind HCKind) (Covariance, error) {
	if kind < HC0 || kind > HC5 {
		return Covariance{}, fmt.Errorf("linear: %w: %v", ErrArgument, kind)
	}
	k := m.Rank
	meat := make([]float64, k*k)
	row := make([]float64, k)
	mean := float64(m.Rank+m.AbsorbedGroups) / float64(m.N) // of the leverages
	most := 4.0                                             // the exponent HC5 allows
	if kind == HC5 {
		most = math.Max(4, 0.7*slices.Max(m.Leverages())/mean)
	}
	for i := range m.N {
		own := m.row(row, i)
		u := m.scaled[i] * m.scaled[i]
		switch kind {
		case HC1:
			u *= float64(m.N) / float64(m.DFResidual)
		case HC2, HC3, HC4, HC5:
			left := 1 - own - m.groupLeverage(i)
			if left <= leverageTolerance {
				if own > leverageTolerance {
					return Covariance{}, fmt.Errorf("linear: %w: row %d; %v does not exist, drop the row or the term it decides", ErrLeverage, i, kind)
				}
				continue
			}
			switch kind {
			case HC2:
				u /= left
			case HC3:
				u /= left * left
			case HC4:
				u /= math.Pow(left, math.Min(4, (1-left)/mean))
			case HC5:
				u /= math.Pow(left, math.Min(most, (1-left)/mean)/2)
			}
		}
		for a := range k {
			s := u * row[a]
			for b := a; b < k; b++ {
				meat[a*k+b] += s * row[b]
			}
		}
	}
	return Covariance{Kind: kind.String(), Matrix: m.sandwich(meat), DF: m.residualDF()}, nil
}

// Leverages gives the diagonal of the hat matrix, N values in [0, 1] that sum
// to Rank + AbsorbedGroups.
func (m *Model) Leverages() []float64 {
	h := make([]float64, m.N)
	row := make([]float64, m.Rank)
	for i := range h {
		h[i] = m.row(row, i) + m.groupLeverage(i)
	}
	return h
}

// row copies row i of q to dst and returns its squared length, the leverage of
// the row without the absorbed groups.
func (m *Model) row(dst []float64, i int) (leverage float64) {
	for l := range dst {
		v := m.q[l*m.N+i]
		dst[l] = v
		leverage += v * v
	}
	return leverage
}

// groupLeverage is the part of row i's leverage due to its absorbed group.
func (m *Model) groupLeverage(i int) float64 {
	t := m.groupLoading(i)
	return t * t
}

// groupLoading is the entry of row i in the unit vector of its absorbed group,
// which is orthogonal to the other groups' and to q; 0 without Absorb.
func (m *Model) groupLoading(i int) float64 {
	if m.absorb.count == 0 {
		return 0
	}
	t := 1.0
	if m.rootWeight != nil {
		t = m.rootWeight[i]
	}
	return t / math.Sqrt(m.groupWeight[m.absorb.code[i]])
}

// sandwich gives R^-1 meat R^-T in the caller's units; of meat (Rank x Rank by
// row) the upper triangle is read.
func (m *Model) sandwich(meat []float64) *mat.SymDense {
	k := m.Rank
	full := func(a, b int) float64 {
		if a > b {
			a, b = b, a
		}
		return meat[a*k+b]
	}
	half := make([]float64, k*k) // R^-1 meat
	for a := range k {
		for b := range k {
			var s float64
			for c := a; c < k; c++ {
				s += m.rinv[a*k+c] * full(c, b)
			}
			half[a*k+b] = s
		}
	}
	v := mat.NewSymDense(k, nil)
	for a := range k {
		for b := a; b < k; b++ {
			var s float64
			for c := b; c < k; c++ {
				s += half[a*k+c] * m.rinv[b*k+c]
			}
			v.SetSym(a, b, math.Ldexp(s, m.shift[a]+m.shift[b]))
		}
	}
	return v
}

func (m *Model) residualDF() []float64 {
	df := make([]float64, m.Rank)
	for l := range df {
		df[l] = float64(m.DFResidual)
	}
	return df
}
