package association

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/tail"
)

// Significance is a correlation with its test and interval.
type Significance struct {
	R float64
	// Statistic has Student's t distribution with DF degrees of freedom when
	// there is no correlation; PValue is two-sided.
	Statistic, DF, PValue float64
	ConfLow, ConfHigh     float64 // by Fisher's z; both zero when DF is under 2
	Level                 float64
}

// PearsonTest returns the product-moment correlation with the test of no
// correlation, t = r sqrt((n-2)/(1-r^2)) on n-2 degrees of freedom, and the
// interval of [FisherInterval] for n rows, which needs four. Rows are taken as
// independent. It fails as [Pearson] and FisherInterval do, and with a
// *[PerfectError] if the points lie on a line to rounding.
func PearsonTest(x, y []float64, level float64) (Significance, error) {
	r, err := Pearson(x, y)
	if err != nil {
		return Significance{}, err
	}
	return significance(r, float64(len(x)), float64(len(x)-2), level)
}

// significance tests r on df degrees of freedom; rows is what Fisher's interval
// takes for the number of rows.
func significance(r, rows, df, level float64) (Significance, error) {
	if !(level > 0 && level < 1) {
		return Significance{}, &RangeError{What: "level", Value: level, Want: "a number between 0 and 1"}
	}
	unexplained := (1 - r) * (1 + r)
	if unexplained < perfect {
		return Significance{}, &PerfectError{R: math.Copysign(1, r)}
	}
	s := Significance{R: r, DF: df, Level: level, Statistic: r * math.Sqrt(df/unexplained)}
	s.PValue = tail.TwoSided(s.Statistic, df)
	if df < 2 {
		return s, nil
	}
	var err error
	s.ConfLow, s.ConfHigh, err = FisherInterval(r, rows, level)
	return s, err
}

func normalTwoSided(z float64) float64 { return math.Erfc(math.Abs(z) / math.Sqrt2) }

// Spearman returns the rank correlation rho: the product-moment correlation of
// the ranks, ties given their mean rank (Spearman 1904, American Journal of
// Psychology 15:72). It fails as [Pearson] does.
func Spearman(x, y []float64) (float64, error) {
	if err := checkColumns(x, y); err != nil {
		return 0, err
	}
	return Pearson(ranks(x), ranks(y))
}

// SpearmanTest returns rho with the test of [PearsonTest] on the ranks, an
// approximation that serves from about ten rows on (common practice), and
// Fisher's interval with the variance 1.06/(n-3) of Fieller, Hartley and Pearson
// (1957, Biometrika 44:470), which covers 0.957 for 20 normal rows
// (TestIntervalsCover). It fails as PearsonTest does.
func SpearmanTest(x, y []float64, level float64) (Significance, error) {
	r, err := Spearman(x, y)
	if err != nil {
		return Significance{}, err
	}
	n := float64(len(x))
	return significance(r, 3+(n-3)/1.06, n-2, level)
}

// ranks gives the rank of each value from 1, equal values their mean rank.
func ranks(v []float64) []float64 {
	order := make([]int, len(v))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(v[a], v[b]) })
	out := make([]float64, len(v))
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && v[order[to]] == v[order[from]] {
			to++
		}
		for _, i := range order[from:to] {
			out[i] = float64(from+to+1) / 2
		}
		from = to
	}
	return out
}

// KendallResult is tau-b with tests of no association.
type KendallResult struct {
	Tau float64
	// Score is concordant minus discordant pairs, ScoreVariance its variance
	// under no association given the ties (Kendall 1970, Rank Correlation
	// Methods, eq. 4.3).
	Score, ScoreVariance float64
	// PValue is two-sided: exact without ties and under 50 rows, else that of Z.
	PValue float64
	Exact  bool
	// Z is Score over the root of ScoreVariance, ZCorrected the same with Score
	// drawn by one towards zero (continuity); both with normal p-values.
	Z, NormalPValue             float64
	ZCorrected, CorrectedPValue float64
}

// exactRows is the number of rows from which the normal approximation is used;
// R's cor.test changes there too.
const exactRows = 50

// KendallTest returns tau-b with the tests of no association for independent
// rows. It fails as [Kendall] does.
func KendallTest(x, y []float64) (KendallResult, error) {
	tau, err := Kendall(x, y)
	if err != nil {
		return KendallResult{}, err
	}
	c, err := CountRanks(x, y)
	if err != nil {
		return KendallResult{}, err
	}
	n := float64(len(x))
	r := KendallResult{Tau: tau, Score: c.Concordant - c.Discordant}
	a, b := tiesOf(x), tiesOf(y)
	r.ScoreVariance = (n*(n-1)*(2*n+5)-a.cubes-b.cubes)/18 + a.pairs*b.pairs/(2*n*(n-1))
	if n > 2 {
		r.ScoreVariance += a.triples * b.triples / (9 * n * (n - 1) * (n - 2))
	}
	root := math.Sqrt(r.ScoreVariance)
	r.Z = r.Score / root
	if r.Score != 0 {
		r.ZCorrected = math.Copysign(math.Abs(r.Score)-1, r.Score) / root
	}
	r.NormalPValue, r.CorrectedPValue = normalTwoSided(r.Z), normalTwoSided(r.ZCorrected)
	r.PValue = r.NormalPValue
	if len(x) < exactRows && a.pairs == 0 && b.pairs == 0 {
		r.Exact, r.PValue = true, kendallExact(len(x), int(c.Concordant))
	}
	return r, nil
}

// ties are sums over the runs of t equal values.
type ties struct {
	pairs   float64 // of t (t-1)
	triples float64 // of t (t-1)(t-2)
	cubes   float64 // of t (t-1)(2t+5)
}

func tiesOf(v []float64) ties {
	sorted := slices.Sorted(slices.Values(v))
	var s ties
	for from := 0; from < len(sorted); {
		to := from + 1
		for to < len(sorted) && sorted[to] == sorted[from] {
			to++
		}
		t := float64(to - from)
		s.pairs += t * (t - 1)
		s.triples += t * (t - 1) * (t - 2)
		s.cubes += t * (t - 1) * (2*t + 5)
		from = to
	}
	return s
}

// kendallExact is the two-sided p-value of so many concordant pairs: the share
// of all orders of n rows at least as far from the middle, by the recurrence over
// rows (Kendall 1938, Biometrika 30:81).
func kendallExact(n, concordant int) float64 {
	share := []float64{1}
	for rows := 2; rows <= n; rows++ {
		next := make([]float64, len(share)+rows-1)
		for pairs, p := range share {
			for j := range rows {
				next[pairs+j] += p / float64(rows)
			}
		}
		share = next
	}
	far := min(concordant, len(share)-1-concordant)
	var tail float64
	for _, p := range share[:far+1] {
		tail += p
	}
	return min(1, 2*tail)
}

// EquivalentCorrelation tests whether a correlation lies between -bound and
// bound, by two one-sided tests on Fisher's z with standard error 1/sqrt(n-3)
// (Goertzen and Cribbie 2010, Br. J. Math. Stat. Psychol. 63:527). It returns the
// p-values of "at or below -bound" and "at or above bound"; the larger is that of
// the test. It fails as [FisherInterval] does, and with a *[RangeError] for a
// bound outside (0, 1).
func EquivalentCorrelation(r, n, bound float64) (lower, upper float64, err error) {
	if _, _, err := FisherInterval(r, n, 0.95); err != nil {
		return 0, 0, err
	}
	if !(bound > 0 && bound < 1) {
		return 0, 0, &RangeError{What: "bound", Value: bound, Want: "a number between 0 and 1"}
	}
	root := math.Sqrt(n - 3)
	z, limit := math.Atanh(r), math.Atanh(bound)
	return distuv.UnitNormal.Survival((z + limit) * root), distuv.UnitNormal.CDF((z - limit) * root), nil
}
