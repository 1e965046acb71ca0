package analyse

import (
	"cmp"
	"encoding/binary"
	"hash/fnv"
	"math"
	"slices"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/pooled"
)

// poolings are the ways of pooling a specification's numbers, the study's own
// first. The mixed model comes after them: it is fitted on sums and not on the
// swimmers' numbers.
const (
	poolingREML  = "reml"
	poolingDL    = "dl"
	poolingPM    = "pm"
	poolingEqual = "equal"
	poolingMixed = "mixed"
)

func poolings() []string { return []string{poolingREML, poolingDL, poolingPM, poolingEqual} }

// point is the squad's number under one specification.
type point struct {
	estimate, low, high float64
	swimmers, bouts     int32
	ok                  bool
}

// curveOf is the specification curve of one stroke and design.
type curveOf struct {
	stroke string
	design Design
	specs  []spec
	// points by specification and pooling, and for each specification the first
	// that rests on the same rows and terms.
	points [][]point
	same   []int
}

// CurveRows pools every specification over the squad, collapses those that
// rest on the same rows and terms, and sums them up. answers are those of the
// study's own specification, with the swimmers' shares of the mixed model.
func CurveRows(curves []Curve, answers []Answer, s *study.Study) ([]schemas.Sensitivity, []schemas.SensitivitySummary) {
	var rows []schemas.Sensitivity
	var summaries []schemas.SensitivitySummary
	for _, stroke := range s.Analysis.Strokes {
		for _, d := range []Design{Observed, Designed} {
			var family []*Curve
			for i := range curves {
				if curves[i].stroke == stroke && curves[i].design == d {
					family = append(family, &curves[i])
				}
			}
			if len(family) == 0 {
				continue
			}
			slices.SortStableFunc(family, func(a, b *Curve) int { return cmp.Compare(a.content, b.content) })
			c := newCurveOf(stroke, d, family)
			own := c.rows(s)
			own = append(own, mixedSpecs(familyOf(answers, stroke, d), c, s)...)
			rows = append(rows, own...)
			summaries = append(summaries, c.summary(own, s))
		}
	}
	return rows, summaries
}

func newCurveOf(stroke string, d Design, family []*Curve) *curveOf {
	c := &curveOf{stroke: stroke, design: d, specs: plan()}
	seen := map[uint64]int{}
	for k := range c.specs {
		key := rowsOfSquad(family, k)
		first, known := seen[key]
		if !known {
			first = k
			seen[key] = k
		}
		c.same = append(c.same, first)
		if known {
			c.points = append(c.points, c.points[first])
			continue
		}
		c.points = append(c.points, poolSpec(family, k))
	}
	return c
}

// rowsOfSquad is a hash of the rows and terms of all swimmers who enter a
// specification.
func rowsOfSquad(family []*Curve, k int) uint64 {
	h := fnv.New64a()
	var buffer [8]byte
	for _, one := range family {
		rows := uint64(0)
		if one.results[k].enough {
			rows = one.results[k].rows
		}
		binary.LittleEndian.PutUint64(buffer[:], rows)
		h.Write(buffer[:]) // never fails
	}
	return h.Sum64()
}

// poolSpec pools one specification in every way.
func poolSpec(family []*Curve, k int) []point {
	var estimates, variances []float64
	base := point{}
	for _, one := range family {
		if r := one.results[k]; r.enough {
			estimates, variances = append(estimates, r.estimate), append(variances, r.variance)
			base.bouts += r.bouts
			base.swimmers++
		}
	}
	out := make([]point, 0, len(poolings()))
	for _, pooling := range poolings() {
		p := base
		if base.swimmers >= 2 {
			p.estimate, p.low, p.high, p.ok = poolBy(pooling, estimates, variances)
		}
		out = append(out, p)
	}
	return out
}

func poolBy(pooling string, estimates, variances []float64) (estimate, low, high float64, ok bool) {
	o := squadAverage()
	switch pooling {
	case poolingDL:
		o.Method, o.Test = pooled.DerSimonianLaird, pooled.Normal
	case poolingPM:
		o.Method = pooled.PauleMandel
	case poolingEqual:
		return studentMean(estimates)
	}
	fit, err := pooled.Fit(estimates, variances, o)
	return fit.Estimate, fit.ConfLow, fit.ConfHigh, err == nil
}

// studentMean is the plain mean with Student's interval.
func studentMean(values []float64) (m, low, high float64, ok bool) {
	n := float64(len(values))
	m = mean(values)
	var squares float64
	for _, v := range values {
		squares += (v - m) * (v - m)
	}
	stdError := math.Sqrt(squares / (n - 1) / n)
	reach := studentQuantile(n-1) * stdError
	return m, m - reach, m + reach, stdError > 0
}

// rows are the distinct specifications.
func (c *curveOf) rows(s *study.Study) []schemas.Sensitivity {
	equivalent := make([]int32, len(c.specs))
	for _, first := range c.same {
		equivalent[first]++
	}
	var out []schemas.Sensitivity
	for k, p := range c.specs {
		if c.same[k] != k {
			continue
		}
		for w, pooling := range poolings() {
			row := c.row(k*len(poolings())+w, p, settingsOf(p, s), pooling, c.points[k][w])
			row.Equivalent = equivalent[k]
			out = append(out, row)
		}
	}
	return out
}

func (c *curveOf) row(number int, p spec, settings specSettings, pooling string, at point) schemas.Sensitivity {
	departures := 0
	for _, level := range p {
		if level != 0 {
			departures++
		}
	}
	if pooling != poolingREML {
		departures++
	}
	v := settings.values()
	row := schemas.Sensitivity{
		Stroke: c.stroke, Design: string(c.design), Specification: int32(number + 1), Departures: int32(departures),
		SteadyAfter: v[choiceSteadyAfter], ShortestBout: v[choiceShortest], Drift: v[choiceDrift], Window: v[choiceWindow],
		Reading: v[choiceReading], LockRule: v[choiceLock], Repairs: v[choiceRepairs], HRSource: v[choiceSource],
		UnknownCounts: v[choiceBasis], FirstBout: v[choiceFirst], PaceTerms: v[choicePace], TagTerms: v[choiceTags],
		RateTerms: v[choiceRate], CountingError: v[choiceCounts], Pooling: pooling,
		Swimmers: at.swimmers, Bouts: at.bouts, Equivalent: 1,
	}
	if at.ok {
		row.Estimate, row.ConfLow, row.ConfHigh = &at.estimate, &at.low, &at.high
		return row
	}
	reason := "fewer than two swimmers have enough data"
	if at.swimmers >= 2 {
		reason = "the swimmers' numbers do not allow one"
	}
	row.Reason = &reason
	return row
}

// mixedSpecs fits the mixed model with the terms of each specification that
// its sums hold, on the study's own rows: pace with its square or without, four
// drifts, rate with its square or without.
func mixedSpecs(family []*Answer, c *curveOf, s *study.Study) []schemas.Sensitivity {
	var out []schemas.Sensitivity
	number := len(c.specs) * len(poolings())
	for pace := range 2 {
		for drift := range 4 {
			for rate := range 2 {
				var p spec
				p[choicePace], p[choiceDrift], p[choiceRate] = pace, drift, rate
				p[choiceCounts] = 1 // the sums hold the counts as they stand
				settings := settingsOf(p, s)
				m, err := fitSquad(family, variantOf{straightPace: settings.straightPace, drift: settings.drift, straightRate: settings.straightRate})
				var at point
				if err == nil {
					at = point{m.effect.Estimate, m.effect.ConfLow, m.effect.ConfHigh, int32(len(m.units)), m.bouts, true}
				}
				row := c.row(number, p, settings, poolingMixed, at)
				if err != nil {
					reason := "no mixed model: " + plainMixed(err)
					row.Reason = &reason
				}
				out = append(out, row)
				number++
			}
		}
	}
	return out
}

// summary sums the distinct specifications up.
func (c *curveOf) summary(rows []schemas.Sensitivity, s *study.Study) schemas.SensitivitySummary {
	out := schemas.SensitivitySummary{Stroke: c.stroke, Design: string(c.design), Distinct: int32(len(rows)),
		Planned: int32(len(c.specs)*len(poolings()) + 16)}
	var estimates []float64
	var above, intervalAbove, intervalBelow, inside float64
	smallest := s.Analysis.SmallestEffect
	for _, row := range rows {
		if row.Estimate == nil {
			continue
		}
		estimates = append(estimates, *row.Estimate)
		for _, is := range []struct {
			so    bool
			count *float64
		}{
			{*row.Estimate > 0, &above}, {*row.ConfLow > 0, &intervalAbove}, {*row.ConfHigh < 0, &intervalBelow},
			{-smallest <= *row.ConfLow && *row.ConfHigh <= smallest, &inside},
		} {
			if is.so {
				*is.count++
			}
		}
	}
	out.Estimated = int32(len(estimates))
	if len(estimates) == 0 {
		reason := "no specification has two swimmers with enough data"
		out.Reason = &reason
		return out
	}
	n := float64(len(estimates))
	above, intervalAbove, intervalBelow, inside = above/n, intervalAbove/n, intervalBelow/n, inside/n
	out.AboveZero, out.IntervalAbove, out.IntervalBelow, out.IntervalInside = &above, &intervalAbove, &intervalBelow, &inside
	lowest, middle, highest := slices.Min(estimates), median(estimates), slices.Max(estimates)
	out.Lowest, out.Median, out.Highest = &lowest, &middle, &highest
	if own := c.points[0][0]; own.ok {
		out.Own = &own.estimate
	}
	out.MovesMost, out.MovesBy = c.movesMost()
	c.setLock(&out, s)
	return out
}

// setLock puts the study's own specification with and without the lock rule
// side by side: leaving those heart rates out selects on rate and cost both.
func (c *curveOf) setLock(out *schemas.SensitivitySummary, s *study.Study) {
	var other spec
	other[choiceLock] = 1
	own, toggled := c.points[0][0], c.points[slices.Index(c.specs, other)][0]
	with, without := own, toggled
	if s.Screen.Off[lockRuleID] {
		with, without = toggled, own
	}
	if with.ok {
		out.WithLockRule, out.WithLockLow, out.WithLockHigh = &with.estimate, &with.low, &with.high
	}
	if without.ok {
		out.WithoutLockRule, out.WithoutLockLow, out.WithoutLockHigh = &without.estimate, &without.low, &without.high
	}
}

// movesMost names the choice whose levels differ most in their mean over the
// balanced set, and by how much. Pooling is compared over all of that set.
func (c *curveOf) movesMost() (name string, by *float64) {
	largest := 0.0
	consider := func(choice string, sums, counts []float64) {
		low, high := math.Inf(1), math.Inf(-1)
		for level, n := range counts {
			if n > 0 {
				low, high = math.Min(low, sums[level]/n), math.Max(high, sums[level]/n)
			}
		}
		if high-low > largest {
			name, largest = choice, high-low
		}
	}
	for choice, title := range choiceNames() {
		sums, counts := make([]float64, 4), make([]float64, 4)
		for k := range balanced {
			if at := c.points[k][0]; at.ok {
				sums[c.specs[k][choice]] += at.estimate
				counts[c.specs[k][choice]]++
			}
		}
		consider(title, sums, counts)
	}
	sums, counts := make([]float64, len(poolings())), make([]float64, len(poolings()))
	for k := range balanced {
		if !slices.ContainsFunc(c.points[k], func(p point) bool { return !p.ok }) {
			for w, at := range c.points[k] {
				sums[w] += at.estimate
				counts[w]++
			}
		}
	}
	consider(choicePooling, sums, counts)
	if name == "" {
		return "", nil
	}
	return name, &largest
}
