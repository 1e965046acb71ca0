package analyse

import (
	"math"
	"sort"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/stats/linear"
)

// commonPace predicts a swimmer's strokes and cost at any pace they swam, so
// that swimmers can be compared at one pace.
type commonPace struct {
	reference float64 // m/s
	low, high float64 // ln v - ln v_ref: 10th and 90th percentile swum
	strokes   levelCurve
	cost      levelCurve
}

// levelCurve is a within-session curve through the swimmer's own mean.
type levelCurve struct {
	mean, meanX, meanXX float64
	slope, curvature    float64
}

func (c levelCurve) at(x float64) float64 {
	return c.mean + c.slope*(x-c.meanX) + c.curvature*(x*x-c.meanXX)
}

// newCommonPace fits the curves; it is nil where they cannot be had. Only bouts
// whose cost was steady when read count, since the level of the others hangs
// on their length and rest. Bouts of unknown counting basis rule a swimmer out.
func newCommonPace(bouts []*derive.Bout, usual usualRate, s *study.Study, d Design) *commonPace {
	var steady []*derive.Bout
	for _, b := range bouts {
		if math.IsNaN(b.Score25) {
			return nil
		}
		if derive.SteadyStratum(b.CostStratum) {
			steady = append(steady, b)
		}
	}
	if len(steady) == 0 {
		return nil
	}
	r := newRows(steady, usual, s, d)
	strokes25 := make([]float64, len(r.bouts))
	for i, b := range r.bouts {
		strokes25[i] = b.Strokes25
	}
	strokes, ok := r.levelCurve(strokes25)
	if !ok {
		return nil
	}
	cost, ok := r.levelCurve(r.cost)
	if !ok {
		return nil
	}
	sorted := append([]float64{}, r.lnSpeed...)
	sort.Float64s(sorted)
	at := func(share float64) float64 { return sorted[int(share*float64(len(sorted)-1))] }
	return &commonPace{
		reference: r.reference, low: at(0.1), high: at(0.9), strokes: strokes, cost: cost,
	}
}

func (r *rows) levelCurve(y []float64) (levelCurve, bool) {
	c := levelCurve{mean: mean(y), meanX: mean(r.lnSpeed), meanXX: mean(r.columns[1])}
	m, err := linear.Fit(linear.Problem{Response: y, Terms: r.terms, Columns: r.columns, Absorb: r.session})
	if err != nil {
		return c, false
	}
	for i, term := range m.Terms {
		switch term {
		case termSpeed:
			c.slope = m.Estimates[i]
		case termSpeedSquared:
			c.curvature = m.Estimates[i]
		}
	}
	return c, true
}

// at gives score (per 25 m) and cost at a speed in m/s; ok is false where the
// swimmer does not swim at it. The range is widened by 2 %, as matched pairs
// are.
func (c *commonPace) at(speedMPS float64) (score, cost float64, ok bool) {
	x := math.Log(speedMPS / c.reference)
	if x < c.low-0.02 || x > c.high+0.02 {
		return 0, 0, false
	}
	return c.strokes.at(x) + 25/(c.reference*math.Exp(x)), c.cost.at(x), true
}

func mean(values []float64) float64 {
	var sum float64
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}
