package analyse

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/multiplicity"
	"lengthwise/stats/pooled"
)

// ContrastTable gives every contrast its adjusted p and direction, and pools
// each over the swimmers.
//
// Families (Holm 1979): a swimmer's contrasts of one measure in one stroke, all
// tags and levels together; and those of the squad. Contrasts with kick held
// fixed answer a second question about the same bouts and are in no family.
func ContrastTable(contrasts []Contrast, s *study.Study) ([]schemas.Contrast, error) {
	type key struct{ swimmer, stroke, measure string }
	families := map[key][]*schemas.Contrast{}
	var order []key
	for i := range contrasts {
		c := &contrasts[i]
		if !c.enough || c.Row.AdjustedFor != "" || c.Row.PValue == nil {
			continue
		}
		k := key{c.Row.Swimmer, c.Row.Stroke, c.Row.Measure}
		if families[k] == nil {
			order = append(order, k)
		}
		families[k] = append(families[k], &c.Row)
	}
	for _, k := range order {
		if err := judgeContrasts(families[k], fmt.Sprintf("the swimmer's contrasts in %s, %s", k.measure, k.stroke)); err != nil {
			return nil, err
		}
	}
	rows := make([]schemas.Contrast, 0, len(contrasts))
	for i := range contrasts {
		c := &contrasts[i]
		if c.enough && c.Row.AdjustedFor != "" {
			c.Row.Direction = NotClaimed
		}
		rows = append(rows, c.Row)
	}
	squad, err := contrastSquad(contrasts, s)
	return append(rows, squad...), err
}

// judgeContrasts adjusts the p values of one family and gives directions.
func judgeContrasts(family []*schemas.Contrast, about string) error {
	p := make([]float64, len(family))
	for i, row := range family {
		p[i] = *row.PValue
	}
	adjusted, err := multiplicity.Holm(p)
	if err != nil {
		return fmt.Errorf("contrasts: %w", err)
	}
	for i, row := range family {
		row.PHolm, row.Family, row.FamilySize = &adjusted[i], about, int32(len(family))
		row.Direction = directionOf(*row.Estimate, adjusted[i])
	}
	return nil
}

// directionOf is what may be claimed of an estimate with its adjusted p.
func directionOf(estimate, p float64) string {
	switch {
	case p < alpha && estimate > 0:
		return Higher
	case p < alpha && estimate < 0:
		return Lower
	}
	return open
}

// contrastSquad pools each contrast over the swimmers who have it: random
// effects by REML with bias-reduced intervals. A swimmer with two sessions
// has no usable robust error, so here the errors within a session count as
// independent with one variance for the whole squad; the interval
// rests on how far the swimmers differ and holds if they are not.
func contrastSquad(contrasts []Contrast, s *study.Study) ([]schemas.Contrast, error) {
	type key struct{ stroke, design, tag, level, reference, measure, adjusted string }
	groups := map[key][]*Contrast{}
	var order []key
	for i := range contrasts {
		r := &contrasts[i].Row
		if r.Tag == TagBreathing {
			continue // single swimmers' alone, and of nothing but the numbers
		}
		k := key{r.Stroke, r.Design, r.Tag, r.Level, r.Reference, r.Measure, r.AdjustedFor}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], &contrasts[i])
	}
	place := func(list []string, v string) int { return slices.Index(list, v) }
	tags := []string{TagInstruction, TagKick, TagEquipment}
	measures := []string{MeasureCost, MeasureStrokeRate, MeasureDistancePerStroke, MeasureScore, MeasureFullKick}
	slices.SortFunc(order, func(a, b key) int {
		known := func(tag string) int { // own keys last, by name
			if i := place(tags, tag); i >= 0 {
				return i
			}
			return len(tags)
		}
		return cmp.Or(cmp.Compare(place(s.Analysis.Strokes, a.stroke), place(s.Analysis.Strokes, b.stroke)),
			cmp.Compare(a.design, b.design), cmp.Compare(known(a.tag), known(b.tag)), cmp.Compare(a.tag, b.tag),
			cmp.Compare(a.adjusted, b.adjusted), cmp.Compare(place(measures, a.measure), place(measures, b.measure)),
			cmp.Compare(a.level, b.level), cmp.Compare(a.reference, b.reference))
	})
	rows := make([]schemas.Contrast, 0, len(order))
	for _, k := range order {
		if len(groups[k]) > 1 { // a single swimmer's stands above
			rows = append(rows, poolContrast(groups[k]))
		}
	}
	type familyKey struct{ stroke, design, measure string }
	families := map[familyKey][]*schemas.Contrast{}
	var familyOrder []familyKey
	for i := range rows {
		r := &rows[i]
		if r.PValue == nil || r.AdjustedFor != "" {
			continue
		}
		k := familyKey{r.Stroke, r.Design, r.Measure}
		if families[k] == nil {
			familyOrder = append(familyOrder, k)
		}
		families[k] = append(families[k], r)
	}
	for _, k := range familyOrder {
		if err := judgeContrasts(families[k], fmt.Sprintf("the squad's %s contrasts in %s, %s", k.design, k.measure, k.stroke)); err != nil {
			return nil, err
		}
	}
	return rows, nil
}

// poolContrast pools one contrast over its swimmers.
func poolContrast(group []*Contrast) schemas.Contrast {
	group = slices.Clone(group)
	slices.SortStableFunc(group, func(a, b *Contrast) int { return cmp.Compare(a.content, b.content) })
	first := group[0]
	row := schemas.Contrast{Scope: WholeSquad, Stroke: first.Row.Stroke, Design: first.Row.Design, Tag: first.Row.Tag,
		Level: first.Row.Level, Reference: first.Row.Reference, Measure: first.Row.Measure,
		AdjustedFor: first.Row.AdjustedFor, Unit: first.Row.Unit, Direction: tooLittle}
	dropped := map[string]int{}
	var in []*Contrast
	var squares, df float64
	for _, c := range group {
		switch {
		case c.confused:
			dropped["cannot be told from order, pace or other tags"]++
			continue
		case !c.poolable:
			dropped["too little data"]++
			continue
		}
		in = append(in, c)
		squares += c.sigma2 * c.df
		df += c.df
		row.N += c.Row.N
		row.NLevel += c.Row.NLevel
		row.NReference += c.Row.NReference
		row.Sessions += c.Row.Sessions
	}
	row.Swimmers, row.NDropped, row.DroppedWhy = int32(len(in)), int32(total(dropped)), tally(dropped)
	var w warnings
	if row.Design == string(Observed) {
		w.add("not set beforehand, as far as the study file says: what moved it may have moved the rest")
	}
	refuse := func(reason string) schemas.Contrast {
		row.Reason, row.Warnings = &reason, w.String()
		return row
	}
	if len(in) < 2 {
		return refuse("fewer than two swimmers have enough data")
	}
	estimates, variances := make([]float64, len(in)), make([]float64, len(in))
	for i, c := range in {
		estimates[i], variances[i] = c.estimate, squares/df*c.perSigma2
	}
	fit, err := pooled.Fit(estimates, variances, squadAverage())
	if err != nil {
		return refuse("no pooled estimate: the swimmers' numbers do not allow one")
	}
	for _, text := range fit.Warnings {
		w.add(text)
	}
	c := Contrast{Row: row, percentage: first.percentage}
	estimate, low, high := c.shown(fit.Estimate), c.shown(fit.ConfLow), c.shown(fit.ConfHigh)
	predictLow, predictHigh, stdError := c.shown(fit.PredictLow), c.shown(fit.PredictHigh), fit.StdError
	if c.percentage {
		stdError *= 100 * math.Exp(fit.Estimate)
	}
	row.Estimate, row.StdError, row.ConfLow, row.ConfHigh = &estimate, &stdError, &low, &high
	row.PredictLow, row.PredictHigh = &predictLow, &predictHigh
	row.Statistic, row.DF, row.PValue, row.Tau2, row.I2 = &fit.Statistic, &fit.DF, &fit.PValue, &fit.Tau2, &fit.I2
	row.Direction, row.Warnings = open, w.String()
	if row.AdjustedFor != "" {
		row.Direction = NotClaimed
	}
	return row
}
