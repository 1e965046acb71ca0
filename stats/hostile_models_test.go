package stats_test

import (
	"errors"
	"math"
	"strconv"

	"lengthwise/stats/linear"
	"lengthwise/stats/mixed"
	"lengthwise/stats/pooled"
)

func ones(n int) []float64 {
	v := make([]float64, n)
	fill(v, 1)
	return v
}

// problems are the linear problems that rows make.
func problems(d *rows) []linear.Problem {
	constant := ones(len(d.y))
	base := linear.Problem{Response: d.y, Terms: []string{"1", "x", "z"}, Columns: [][]float64{constant, d.x, d.z}, Cluster: d.session}
	absorbed := linear.Problem{Response: d.y, Terms: []string{"x", "z"}, Columns: [][]float64{d.x, d.z}, Absorb: d.session, Cluster: d.subject}
	crossed := absorbed
	crossed.Absorb, crossed.Cluster = d.trial, d.session
	out := []linear.Problem{base, absorbed, crossed}
	for working := linear.EqualVariances; working <= linear.InverseWeightsPublished; working++ {
		p := absorbed
		p.Weights, p.Working = d.w, working
		out = append(out, p)
		p = base
		p.Weights, p.Working = d.w, working
		out = append(out, p)
	}
	wide := base // more terms than rows, when rows are few
	wide.Terms = append([]string{"a", "b"}, base.Terms...)
	wide.Columns = append([][]float64{squares(d.x), squares(d.z)}, base.Columns...)
	return append(out, wide)
}

func squares(v []float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = x * x
	}
	return out
}

func callLinear(w *watch, d *rows) {
	for n, p := range problems(d) {
		w.ask("problem ", n)
		m, err := linear.Fit(p)
		if !w.ok("linear.Fit", m, err) {
			continue
		}
		covariances := []linear.Covariance{m.Classical()}
		w.ok("linear.Model.Classical", covariances[0], nil)
		w.ok("linear.Model.Leverages", m.Leverages(), nil)
		for kind := linear.HC0; kind <= linear.HC5+1; kind++ {
			c, err := m.Heteroscedastic(kind)
			if w.ok("linear.Model.Heteroscedastic", c, err) {
				covariances = append(covariances, c)
			}
		}
		constraints, err := m.Select("x", "z")
		if !w.ok("linear.Model.Select", constraints, err) {
			constraints, _ = m.Select(m.Terms[0])
		}
		for _, c := range covariances {
			test, err := m.Wald(c, constraints)
			if w.ok("linear.Model.Wald", test, err) {
				w.free(test.Statistic, test.DF2)
			}
		}
		without, err := m.WithoutGroups()
		w.ok("linear.Model.WithoutGroups", without, err)
		for kind := linear.CR0; kind <= linear.CR3+1; kind++ {
			c, err := m.Clustered(kind)
			if w.ok("linear.Model.Clustered", c, err) {
				covariances = append(covariances, c)
			}
			test, err := m.WaldClustered(kind, constraints)
			if w.ok("linear.Model.WaldClustered", test, err) {
				w.free(test.Statistic, test.DF2)
			}
		}
		for _, c := range covariances {
			table := m.Coefficients(c, d.level)
			w.ok("linear.Model.Coefficients", table, nil)
			for _, r := range table {
				w.free(r.Statistic, r.DF, r.PValue)
			}
			one, err := m.Coefficient("x", c, d.level)
			w.ok("linear.Model.Coefficient", one, err)
		}
		for _, term := range append([]string{"nothing"}, p.Terms...) {
			r, df, err := m.PartialCorrelation(term)
			if w.ok("linear.Model.PartialCorrelation", []float64{r, float64(df)}, err) {
				w.free(r)
			}
			f, err := m.VarianceInflation(term)
			if w.ok("linear.Model.VarianceInflation", f, err) {
				w.free(f)
			}
		}
		if n > 2 {
			continue
		}
		w.ok("linear.Fit", m, nil)
		w.free(m.RSquared, m.RSquaredWithin)
		for i, o := range []linear.RobustOptions{{}, {Scale: linear.Proposal2}, {Psi: linear.BisquarePsi}, {KnownScale: d.level}} {
			w.ask("problem ", n, " robust ", i)
			r, err := linear.Robust(p, o)
			if !w.ok("linear.Robust", r, err) {
				continue
			}
			table := r.Coefficients(d.level)
			w.ok("linear.RobustModel.Coefficients", table, nil)
			if o.KnownScale == 0 {
				w.free(table[0].Statistic)
			}
		}
	}
	s, err := linear.TheilSen(d.x, d.y, d.level)
	if w.ok("linear.TheilSen", s, err) {
		w.free(s.Slope)
	}
	for i := range min(3, len(d.x), len(d.y), len(d.z)) {
		v, err := linear.RobustnessValue(d.x[i], d.y[i])
		w.ok("linear.RobustnessValue", v, err)
		c, err := linear.AsStrongAs(2, 0.1*d.w[min(i, len(d.w)-1)], 0.2)
		if w.ok("linear.AsStrongAs", c, err) {
			left, err := c.Adjusted(d.y[i], d.sd[min(i, len(d.sd)-1)], 20)
			if w.ok("linear.Confounder.Adjusted", left, err) {
				w.free(left / d.y[i])
			}
		}
		e, err := linear.TwoOneSided(d.x[i], d.z[i], math.Inf(1), -d.y[i], d.y[i], (1-d.level)/2)
		if w.ok("linear.TwoOneSided", e, err) {
			w.free(e.P)
		}
	}
}

func callPooled(w *watch, d *rows) {
	variances := squares(d.w)
	if d.name != "plain" && len(d.w) > 0 {
		variances = d.w
	} else {
		// Variances in the squares of the unit of y, whatever the scale.
		for i := range variances {
			variances[i] *= d.sd[0] * d.sd[0]
		}
	}
	for method := pooled.REML; method <= pooled.FixedEffect+1; method++ {
		for test := pooled.Normal; test <= pooled.BiasReduced; test++ {
			w.ask(method, test)
			o := pooled.Options{Method: method, Test: test, Level: d.level}
			r, err := pooled.Fit(d.y, variances, o)
			if w.ok("pooled.Fit", r, err) {
				w.free(r.Statistic, r.PValue, r.I2, r.H2, r.Q)
			}
			fit, err := pooled.Regress(d.y, variances, []string{"x"}, [][]float64{d.x}, o)
			if w.ok("pooled.Regress", fit, err) {
				w.free(fit.QM, fit.QE, fit.R2)
				p, err := fit.Predict([]float64{1})
				w.ok("pooled.Regression.Predict", p, err)
				_, err = fit.Predict([]float64{math.NaN()})
				w.ok("pooled.Regression.Predict", nil, err)
				robust, err := fit.Robust(d.session)
				if w.ok("pooled.Regression.Robust", robust, err) {
					w.free(robust.Coefficients[1].Statistic)
				}
			}
			mean, err := pooled.RobustMean(d.y, variances, d.subject, o)
			if w.ok("pooled.RobustMean", mean, err) {
				w.free(mean.Coefficients[0].Statistic)
			}
			if test == pooled.HartungKnapp || test == pooled.BiasReduced {
				left, err := pooled.LeaveOneOut(d.y, variances, o)
				w.ok("pooled.LeaveOneOut", left, err)
			}
		}
	}
}

func labels(v []int) []string {
	out := make([]string, len(v))
	for i, x := range v {
		out[i] = strconv.Itoa(x)
	}
	return out
}

func callMixed(w *watch, d *rows) {
	constant := ones(len(d.y))
	for n, l := range []mixed.Layout{
		{Fixed: []string{"1", "x"}, Random: []string{"1"}},
		{Fixed: []string{"1", "x", "z"}, Random: []string{"1", "x"}, GroupIntercept: true},
		{Fixed: []string{"1", "x"}, Random: []string{"1", "x"}, Independent: true, GroupIntercept: true},
		{Fixed: []string{"1"}, GroupIntercept: true},
		{Fixed: []string{"1", "1"}},
	} {
		w.ask("layout ", n)
		s, err := mixed.NewSums(l)
		if !w.ok("mixed.NewSums", nil, err) {
			continue
		}
		by := map[string][]float64{"1": constant, "x": d.x, "z": d.z}
		var columns [][]float64
		for _, name := range l.Columns() {
			columns = append(columns, by[name])
		}
		w.ok("mixed.Layout.Columns", nil, nil)
		if !w.ok("mixed.Sums.AddColumns", nil, s.AddColumns(labels(d.subject), labels(d.session), columns, d.y)) {
			row := make([]float64, len(columns))
			for i := range min(len(d.y), len(d.x)) {
				row[0] = d.x[i]
				if !w.ok("mixed.Sums.Add", nil, s.Add("u", "g", row, d.y[i])) {
					break
				}
			}
		}
		w.ok("mixed.Sums.Layout", nil, nil)
		w.ok("mixed.Sums.Rows", nil, nil)
		if s.Layout().GroupIntercept != l.GroupIntercept || s.Rows() > len(d.y) {
			w.t.Errorf("%s: %d rows in the sums", w.rows, s.Rows())
		}
		travelled, err := s.MarshalBinary()
		w.ok("mixed.Sums.MarshalBinary", nil, err)
		back, err := mixed.UnmarshalSums(travelled)
		if w.ok("mixed.UnmarshalSums", nil, err) {
			other, err := mixed.NewSums(l)
			w.ok("mixed.NewSums", nil, err)
			w.ok("mixed.Sums.Merge", nil, other.Merge(back))
			w.ok("mixed.Sums.MergeAs", nil, other.MergeAs("another", back))
			fewer := l
			fewer.Fixed = l.Fixed[:1]
			_, err = other.Restrict(fewer)
			w.ok("mixed.Sums.Restrict", nil, err)
			_, err = other.Restrict(mixed.Layout{Fixed: []string{"nothing"}, Random: []string{"1"}})
			w.ok("mixed.Sums.Restrict", nil, err)
		}
		if len(travelled) > 3 {
			_, err = mixed.UnmarshalSums(travelled[:len(travelled)-3])
			w.ok("mixed.UnmarshalSums", nil, err)
		}
		reml, err1 := mixed.Fit(s, mixed.Options{})
		w.ok("mixed.Fit", reml, err1)
		ml, err2 := mixed.Fit(s, mixed.Options{Method: mixed.ML})
		w.ok("mixed.Fit", ml, err2)
		if errors.Join(err1, err2) == nil {
			askMixed(w, d, reml, ml)
		}
	}
}

func askMixed(w *watch, d *rows, reml, ml *mixed.Model) {
	layout := w.about
	for _, m := range []*mixed.Model{reml, ml} {
		w.ask(layout, m.Method)
		w.ok("mixed.Fit", nil, nil)
		w.free(m.Check.SmallestCurvature)
		for a := mixed.Satterthwaite; a <= mixed.Normal+1; a++ {
			table, err := m.Coefficients(a, d.level)
			if w.ok("mixed.Model.Coefficients", table, err) {
				for _, c := range table {
					w.free(c.Statistic, c.DF, c.PValue)
				}
			}
			weights := make([]float64, len(m.Estimates))
			weights[len(weights)-1] = 1
			c, err := m.Contrast(weights, a, d.level)
			w.ok("mixed.Model.Contrast", c, err)
			joint, err := m.Test([][]float64{weights}, a)
			if w.ok("mixed.Model.Test", joint, err) {
				w.free(joint.Statistic)
			}
		}
		v, err := m.AdjustedCovariance()
		w.ok("mixed.Model.AdjustedCovariance", v, err)
		w.ok("mixed.Model.Units", m.Units(), nil)
		own, err := m.UnitCoefficients("1")
		w.ok("mixed.Model.UnitCoefficients", own, err)
		sd, err := m.SD("1")
		w.ok("mixed.Model.SD", sd, err)
		r, ok, err := m.Correlation("1", "x")
		if w.ok("mixed.Model.Correlation", r, err) && ok {
			w.free(r)
		}
		p, err := m.PredictNew(ones(len(m.Layout.Columns())), d.level)
		w.ok("mixed.Model.PredictNew", p, err)
		w.ok("mixed.Model.List", nil, nil)
		for _, q := range m.List() {
			value, _, err := m.Value(q)
			w.ok("mixed.Model.Value", value, err)
			interval, err := m.Profile(q, d.level)
			w.ok("mixed.Model.Profile", interval, err)
		}
		other, err := m.Refit(mixed.REML)
		w.ok("mixed.Model.Refit", other, err)
	}
	b, err := reml.Bootstrap(3, d.seed)
	if w.ok("mixed.Model.Bootstrap", b, err) {
		low, high, n, err := b.Interval(b.Parameters[0], d.level)
		w.ok("mixed.Bootstrap.Interval", []float64{low, high, float64(n)}, err)
	}
	// Itself is no larger model.
	test, err := mixed.LikelihoodRatio(ml, ml)
	w.ok("mixed.LikelihoodRatio", test, err)
	if len(ml.Layout.Fixed) < 2 || !ml.Layout.GroupIntercept {
		return
	}
	if small := smaller(d, ml.Layout); small != nil {
		test, err := mixed.LikelihoodRatio(small, ml)
		if w.ok("mixed.LikelihoodRatio", test, err) {
			w.free(test.PValue)
		}
		w.ask(ml.Layout, 19)
		simulated, err := mixed.BootstrapLikelihoodRatio(small, ml, 19, d.seed)
		w.ok("mixed.BootstrapLikelihoodRatio", simulated, err)
	}
}

// smaller fits the layout without groups, nil when that fails.
func smaller(d *rows, l mixed.Layout) *mixed.Model {
	l.GroupIntercept = false
	s, err := mixed.NewSums(l)
	if err != nil {
		return nil
	}
	by := map[string][]float64{"1": ones(len(d.y)), "x": d.x, "z": d.z}
	var columns [][]float64
	for _, name := range l.Columns() {
		columns = append(columns, by[name])
	}
	if s.AddColumns(labels(d.subject), nil, columns, d.y) != nil {
		return nil
	}
	m, err := mixed.Fit(s, mixed.Options{Method: mixed.ML})
	if err != nil {
		return nil
	}
	return m
}
