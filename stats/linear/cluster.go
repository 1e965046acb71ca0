package linear

import "fmt"

// CRKind names a cluster-robust estimator.
type CRKind int

const (
	// CR0 takes the residuals as they are (Liang and Zeger 1986).
	CR0 CRKind = iota
	// CR1 is CR0 times C/(C-1), with C clusters.
	CR1
	// CR2 is unbiased when the errors are as the classical model says (Bell
	// and McCaffrey 2002): residuals of cluster c are multiplied by the
	// symmetric root of the pseudo-inverse of the cluster's block of I - H.
	CR2
	// CR3 multiplies by the pseudo-inverse itself: close to the jackknife that
	// leaves out a cluster at a time, and biased upward (Bell and McCaffrey 2002).
	CR3
)

func (k CRKind) String() string {
	if k < CR0 || k > CR3 {
		return fmt.Sprintf("CRKind(%d)", int(k))
	}
	return fmt.Sprintf("CR%d", int(k))
}

// singularTolerance: an eigenvalue of a cluster's block of I - H below it
// counts as zero, and its direction is left out (Moore-Penrose).
const singularTolerance = 1e-10

// informationTolerance: a coefficient of which less than this share of the
// variance is visible between clusters gets zero degrees of freedom.
const informationTolerance = 1e-10

// Clustered gives the cluster-robust covariance and, for each coefficient,
// Satterthwaite degrees of freedom (Bell and McCaffrey 2002, Survey Methodology
// 28:169-181; Pustejovsky and Tipton 2018, J. Bus. Econ. Stat. 36:672-683).
//
// The working model, under which CR2 is unbiased and the degrees of freedom are
// computed, is Problem.Working: independent rows, of one variance unless weights
// are given and it says otherwise (Phi in the notation of Pustejovsky and Tipton).
//
// Absorbed groups count exactly as if their indicators were written out.
// Groups nested within clusters cancel and are left out; groups that cut across
// clusters are added explicitly.
//
// A cluster that alone decides some contrast gives a singular block; CR2 and CR3
// then use the pseudo-inverse and are biased downward for coefficients that hang
// on that contrast. A coefficient that hangs on it entirely has DF 0.
//
// A slope within absorbed groups that are the clusters, 2 to 12 of them with 6 to 12
// rows each and slopes of their own: nominal 95 % intervals by CR2 cover 0.947 to 0.961
// (stats/testdata/coverage.md).
//
// Errors: ErrNoClusters without Problem.Cluster, ErrOneCluster, ErrArgument for
// an unknown kind. Cost is of order N k^2 + C k^3 + C^2 k^2 for C clusters and
// k terms, whatever the size of the clusters; groups that cut across clusters
// add to k those a cluster touches. With weights, unless Working is InverseWeights,
// it is of order C^2 k (k+G) plus the cubes of the clusters' sizes, G absorbed groups.
func (m *Model) Clustered(kind CRKind) (Covariance, error) {
	if err := m.checkClusters(kind); err != nil {
		return Covariance{}, err
	}
	if m.targeted() {
		return m.targetClustered(kind)
	}
	k, count := m.Rank, m.cluster.count
	order, start := m.cluster.rows()
	b := newBlock(m, kind)
	s := newSatterthwaite(m, count, b.crossed)
	meat := make([]float64, k*k)
	for c := range count {
		score := b.contribute(s, c, order[start[c]:start[c+1]])
		for a := range k {
			for j := a; j < k; j++ {
				meat[a*k+j] += score[a] * score[j]
			}
		}
	}
	m.correct(kind, meat)
	return Covariance{Kind: kind.String(), Matrix: m.sandwich(meat), DF: s.degrees()}, nil
}

// correct multiplies by C/(C-1) for CR1.
func (m *Model) correct(kind CRKind, meat []float64) {
	if kind != CR1 {
		return
	}
	for i := range meat {
		meat[i] *= float64(m.cluster.count) / float64(m.cluster.count-1)
	}
}

func (m *Model) checkClusters(kind CRKind) error {
	switch {
	case kind < CR0 || kind > CR3:
		return fmt.Errorf("linear: %w: %v", ErrArgument, kind)
	case m.cluster.count == 0:
		return fmt.Errorf("linear: %w", ErrNoClusters)
	case m.cluster.count == 1:
		return fmt.Errorf("linear: %w: all %d rows are in one", ErrOneCluster, m.N)
	}
	return nil
}
