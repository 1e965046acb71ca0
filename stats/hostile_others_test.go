package stats_test

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"lengthwise/stats/association"
	"lengthwise/stats/concordance"
	"lengthwise/stats/heldout"
	"lengthwise/stats/kinetics"
	"lengthwise/stats/linear"
	"lengthwise/stats/measurement"
	"lengthwise/stats/multiplicity"
	"lengthwise/stats/power"
	"lengthwise/stats/ratio"
	"lengthwise/stats/reliability"
	"lengthwise/stats/resample"
	"lengthwise/stats/tail"
)

func callAssociation(w *watch, d *rows) {
	r, err := association.Pearson(d.x, d.y)
	if w.ok("association.Pearson", r, err) {
		w.free(r)
	}
	n := float64(len(d.x))
	low, high, err := association.FisherInterval(r, n, d.level)
	w.ok("association.FisherInterval", []float64{low, high}, err)
	lower, upper, err := association.EquivalentCorrelation(r, n, 0.3)
	w.ok("association.EquivalentCorrelation", []float64{lower, upper}, err)
	apart, err := association.CompareIndependent(r, n, 0.2, 30)
	w.ok("association.CompareIndependent", apart, err)
	williams, err := association.WilliamsTest(r, 0.1, 0.2, len(d.x))
	w.ok("association.WilliamsTest", williams, err)
	for _, c := range []struct {
		name string
		test func(x, y []float64, level float64) (association.Significance, error)
	}{{"association.PearsonTest", association.PearsonTest}, {"association.SpearmanTest", association.SpearmanTest}} {
		s, err := c.test(d.x, d.y, d.level)
		if w.ok(c.name, s, err) {
			w.free(s.R, s.PValue)
		}
	}
	for _, c := range []struct {
		name string
		rank func(x, y []float64) (float64, error)
	}{{"association.Spearman", association.Spearman}, {"association.Kendall", association.Kendall}, {"association.SomersD", association.SomersD}} {
		v, err := c.rank(d.x, d.y)
		if w.ok(c.name, v, err) {
			w.free(v)
		}
	}
	k, err := association.KendallTest(d.x, d.y)
	w.ok("association.KendallTest", k, err)
	counts, err := association.CountRanks(d.x, d.y)
	w.ok("association.CountRanks", counts, err)
	a, err := counts.TauA()
	w.ok("association.RankCounts.TauA", a, err)
	g, err := counts.Gamma()
	w.ok("association.RankCounts.Gamma", g, err)
	index, err := association.ConcordanceIndex(d.x, d.y)
	w.ok("association.ConcordanceIndex", index, err)
	partial, err := association.Partial(d.x, d.y, [][]float64{d.z}, d.level)
	if w.ok("association.Partial", partial, err) {
		w.free(partial.R, partial.Semipartial)
	}
	matrix, err := association.PartialMatrix([][]float64{d.x, d.y, d.z})
	w.ok("association.PartialMatrix", matrix, err)
	within, err := association.RepeatedMeasures(d.subject, d.x, d.y)
	if w.ok("association.RepeatedMeasures", within, err) {
		w.free(within.R, within.Statistic)
	}
	o := resample.Options{Replicates: 39, Seed: d.seed, Level: d.level}
	resampled, err := association.RepeatedMeasuresResampled(d.subject, d.session, d.x, d.y, o)
	if w.ok("association.RepeatedMeasuresResampled", resampled, err) {
		w.free(resampled.ConfLow, resampled.ConfHigh)
	}
	resampled, err = association.PearsonResampled(d.session, d.x, d.y, o)
	w.ok("association.PearsonResampled", resampled, err)
	var x0, y0 float64
	if len(d.x) > 0 && len(d.y) > 0 {
		x0, y0 = d.x[0], d.y[0]
	}
	m, err := association.MomentsOf(d.x, d.y, x0, y0)
	if w.ok("association.MomentsOf", nil, err) {
		m = m.Add(m.Scale(2))
		w.ok("association.Moments.Add", nil, nil)
		w.ok("association.Moments.Scale", nil, nil)
		// Plain sums, which overflow where the values do; the correlation checks.
		_, _, _ = m.Centred()
		w.ok("association.Moments.Centred", nil, nil)
		v, err := m.Correlation()
		w.ok("association.Moments.Correlation", v, err)
	}
}

func callConcordance(w *watch, d *rows) {
	near := func(i, j int) bool {
		return i < len(d.z) && j < len(d.z) && math.Abs(d.z[i]-d.z[j]) <= 0.7*math.Abs(d.z[i]+d.z[j])
	}
	for n, match := range []func(i, j int) bool{nil, near} {
		w.ask("match ", n)
		p, err := concordance.NewPairs(d.session, match)
		if !w.ok("concordance.NewPairs", nil, err) {
			continue
		}
		if p.Len() < 1 {
			w.t.Errorf("%s: %d pairs", w.rows, p.Len())
		}
		w.ok("concordance.Pairs.Len", nil, nil)
		tally, err := p.Count(d.x, d.y, 0)
		w.ok("concordance.Pairs.Count", tally, err)
		null, err := p.Null(d.x, d.y, 0, 39, d.seed)
		if w.ok("concordance.Pairs.Null", null, err) {
			w.free(null.P)
		}
		askTally(w, d, tally)
	}
	tally, err := concordance.Count(d.subject, d.x, d.y, nil, math.Abs(d.level))
	w.ok("concordance.Count", tally, err)
}

func askTally(w *watch, d *rows, tally concordance.Tally) {
	w.ok("concordance.Tally.Pairs", tally.Pairs(), nil)
	estimate, err := tally.Estimate()
	if w.ok("concordance.Tally.Estimate", estimate, err) {
		w.free(estimate)
	}
	interval, err := tally.Interval(d.level)
	if w.ok("concordance.Tally.Interval", interval, err) {
		w.free(interval.Low, interval.High, interval.DF)
	}
	v, err := concordance.CommonVariances([]concordance.Tally{tally, tally})
	w.ok("concordance.CommonVariances", v, err)
}

func callResample(w *watch, d *rows) {
	for name, interval := range map[string]func() (resample.Interval, error){
		"resample.Percentile": func() (resample.Interval, error) { return resample.Percentile(d.y, d.level) },
		"resample.BCa":        func() (resample.Interval, error) { return resample.BCa(40*scaleOf(d), d.y, d.x, d.level) },
		"resample.BCaWith":    func() (resample.Interval, error) { return resample.BCaWith(40*scaleOf(d), d.y, 0.01, d.level) },
		"resample.Basic":      func() (resample.Interval, error) { return resample.Basic(40*scaleOf(d), d.y, d.level) },
		"resample.Normal":     func() (resample.Interval, error) { return resample.Normal(40*scaleOf(d), d.y, d.level) },
	} {
		i, err := interval()
		w.ok(name, i, err)
	}
	i, err := resample.BCa(40*scaleOf(d), d.y, d.x, d.level)
	if w.ok("resample.BCa", i, err) {
		w.free(i.LowAt, i.HighAt)
	}
	// NaN is what Quantile promises for no values.
	resample.Quantile(d.y, d.level)
	w.ok("resample.Quantile", nil, nil)
	se, err := resample.StdError(d.y)
	w.ok("resample.StdError", se, err)
	j, err := resample.Jackknife(40, d.x)
	w.ok("resample.Jackknife", j, err)
	a, err := resample.Acceleration(d.x)
	if w.ok("resample.Acceleration", a, err) {
		w.free(a)
	}
	se, a, err = resample.Influence(d.x)
	w.ok("resample.Influence", []float64{se, a}, err)
	o, err := resample.Options{Level: d.level, Replicates: len(d.x)}.Resolved()
	w.ok("resample.Options.Resolved", o, err)
	seed := resample.SeedOf(d.seed, "question", d.x, d.y)
	w.ok("resample.SeedOf", nil, nil)
	if seed != resample.Seed(resample.Number(d.seed), resample.Text("question"), resample.Floats(d.x), resample.Floats(d.y)) {
		w.t.Errorf("%s: two seeds of the same parts differ", w.rows)
	}
	w.ok("resample.Seed", nil, nil)
	s := resample.NewStream(seed, 3)
	w.ok("resample.NewStream", nil, nil)
	if v := s.Below(5); v < 0 || v > 4 {
		w.t.Errorf("%d below 5", v)
	}
	w.ok("resample.Stream.Below", nil, nil)
	shuffled := slices.Clone(d.single)
	resample.Shuffle(&s, shuffled)
	w.ok("resample.Shuffle", nil, nil)
	// Both say NaN where there is nothing to divide by, or no interval.
	ratios := []resample.Ratio{{Num: d.x, Den: d.y}, {Num: d.y, Den: d.z}}
	if len(d.x) == len(d.y) {
		ratios[0].Estimate()
		w.ok("resample.Ratio.Estimate", nil, nil)
	}
	_, err = resample.Ratios(ratios, resample.Options{Replicates: 39, Seed: d.seed, Level: d.level})
	w.ok("resample.Ratios", nil, err)
	callPlans(w, d)
	callDesigns(w, d)
}

// scaleOf is the power of two by which plain rows were scaled.
func scaleOf(d *rows) float64 {
	if len(d.y) == 0 || d.name != "plain" {
		return 1
	}
	_, exponent := math.Frexp(d.y[0])
	_, usual := math.Frexp(40.0)
	return math.Ldexp(1, int(10*math.Round(float64(exponent-usual)/10)))
}

func callPlans(w *watch, d *rows) {
	draw := func(name string, p resample.Plan, err error) {
		w.ask(name)
		if !w.ok(name, nil, err) {
			return
		}
		weights := make([]float64, p.Units())
		w.ok("resample.Plan.Units", nil, nil)
		for b := range p.Replicates() {
			p.Weights(b, weights)
			drawn := p.Indices(b, nil)
			var total float64
			for _, v := range weights {
				total += v
			}
			if int(total) != len(drawn) {
				w.t.Errorf("%s: %v drawn, %d listed", w.rows, total, len(drawn))
			}
		}
		w.ok("resample.Plan.Replicates", nil, nil)
		w.ok("resample.Plan.Weights", nil, nil)
		w.ok("resample.Plan.Indices", nil, nil)
	}
	p, err := resample.Clusters(len(d.x), 3, d.seed)
	draw("resample.Clusters", p, err)
	p, err = resample.WithinGroups(d.subject, 3, d.seed)
	draw("resample.WithinGroups", p, err)
	p, err = resample.GroupsThenWithin(d.subject, 3, d.seed)
	draw("resample.GroupsThenWithin", p, err)
	p, err = resample.Stored(len(d.x), [][]int{d.single, d.trial})
	draw("resample.Stored", p, err)
}

func callDesigns(w *watch, d *rows) {
	test := func(name string, g resample.Design, err error) {
		w.ask(name)
		if !w.ok(name, nil, err) {
			return
		}
		if g.Count() < 2 || len(g.Made()) != g.Units() {
			w.t.Errorf("%s: %v assignments", w.rows, g.Count())
		}
		for _, f := range []string{"Count", "Made", "Units"} {
			w.ok("resample.Design."+f, nil, nil)
		}
		statistic := func(assignment []int) float64 {
			var s float64
			for i, a := range assignment {
				if i < len(d.y) {
					s += float64(a) * d.y[i]
				}
			}
			return s
		}
		r, err := resample.Randomise(g, statistic, resample.RandomisationOptions{Enumerated: 50, Replicates: 19, Seed: d.seed})
		if w.ok("resample.Randomise", r, err) {
			w.free(r.PValue, r.SmallestP)
		}
	}
	g, err := resample.Exchange(d.trial, d.subject)
	test("resample.Exchange", g, err)
	g, err = resample.Signs(len(d.y))
	test("resample.Signs", g, err)
	g, err = resample.Listed([][]int{d.trial, d.single, d.session}, 1)
	test("resample.Listed", g, err)
}

func callMultiplicity(w *watch, d *rows) {
	p := slices.Clone(d.w)
	if d.name == "plain" {
		for i := range p {
			p[i] /= 2
		}
	}
	for name, adjust := range map[string]func([]float64) ([]float64, error){
		"multiplicity.Holm": multiplicity.Holm, "multiplicity.BenjaminiHochberg": multiplicity.BenjaminiHochberg, "multiplicity.BenjaminiYekutieli": multiplicity.BenjaminiYekutieli,
	} {
		v, err := adjust(p)
		w.ok(name, v, err)
	}
	v, err := multiplicity.Holm(p)
	if w.ok("multiplicity.Holm", v, err) {
		w.free(v...)
	}
}

func callKinetics(w *watch, d *rows) {
	// The first subject's sessions as bouts; times do not scale.
	var bouts []kinetics.Bout
	for i := range min(len(d.y), len(d.session), len(d.x)) {
		if i == 0 || d.session[i] != d.session[i-1] {
			bouts = append(bouts, kinetics.Bout{})
		}
		b := &bouts[len(bouts)-1]
		at := 15 * float64(len(b.Seconds))
		b.Seconds = append(b.Seconds, at)
		value := d.y[i]
		if d.name == "plain" { // a rise that tells its time constant
			value = 0.02*d.y[i] + d.y[0]*(2-math.Exp(-at/30))
		}
		b.Values = append(b.Values, value)
	}
	for _, o := range []kinetics.Options{{Level: d.level}, {Level: d.level, Autocorrelated: true}, {Prior: &kinetics.Prior{MeanLog: 3.5, SDLog: 0.3}}} {
		w.ask(o.Autocorrelated, o.Prior != nil)
		f, err := kinetics.FitShared(bouts, o)
		if w.ok("kinetics.FitShared", f, err) {
			w.ok("kinetics.Fit.SteadyCovariance", f.SteadyCovariance(), nil)
			w.free(f.Tau, f.LogTauStdError)
		}
	}
	callGrid(w, d, bouts)
	for i := range min(3, len(d.x), len(d.y), len(d.z)) {
		s, err := kinetics.SteadyFromWindow(kinetics.Window{Mean: d.y[i], Start: d.x[i], From: 30, To: 60}, 25)
		w.ok("kinetics.SteadyFromWindow", s, err)
		s, err = kinetics.SteadyFromWindow(kinetics.Window{Mean: d.y[i], Start: d.x[i], From: d.x[i], To: d.y[i]}, d.z[i])
		w.ok("kinetics.SteadyFromWindow", s, err)
	}
}

func callGrid(w *watch, d *rows, bouts []kinetics.Bout) {
	_, err := kinetics.NewGrid(30, d.level)
	w.ok("kinetics.NewGrid", nil, err)
	g, err := kinetics.NewGrid(10, 100)
	if !w.ok("kinetics.NewGrid", nil, err) {
		return
	}
	w.ok("kinetics.Grid.Low", g.Low(), nil)
	w.ok("kinetics.Grid.High", g.High(), nil)
	var rises []*kinetics.Rise
	var clusters []int
	for i, b := range bouts {
		// Twice as many samples, so that a bout says something.
		seconds, values := slices.Clone(b.Seconds), slices.Clone(b.Values)
		for j := range b.Seconds {
			seconds = append(seconds, 15*float64(len(b.Seconds)+j))
			values = append(values, b.Values[len(b.Values)-1]+1e-3*(b.Values[j]-b.Values[0]))
		}
		p, rise, err := g.Profile(seconds, values, math.Inf(1), kinetics.Noise{})
		if w.ok("kinetics.Grid.Profile", []any{p, rise}, err) && rise != nil {
			value, slope := g.At(&p.Steady, 3)
			w.ok("kinetics.Grid.At", []float64{value, slope}, nil)
			rises, clusters = append(rises, rise), append(clusters, i)
		}
	}
	e, err := g.Estimate(rises, clusters, 1e-20)
	w.ok("kinetics.Grid.Estimate", e, err)
}

func callRatio(w *watch, d *rows) {
	ask := func(p ratio.Pair) {
		s, err := ratio.Fieller(p, d.level)
		if w.ok("ratio.Fieller", s, err) {
			w.free(s.G)
			_ = s.Contains(0.3)
			w.ok("ratio.Set.Contains", nil, nil)
			w.ok("ratio.Set.Shift", s.Shift(2), nil)
			w.ok("ratio.Set.Within", s.Within(-1, 1), nil)
		}
		a, err := ratio.Delta(p, d.level)
		w.ok("ratio.Delta", a, err)
	}
	p, err := ratio.IndependentMeans(d.x, d.y)
	w.ask("independent")
	if w.ok("ratio.IndependentMeans", p, err) {
		ask(p)
	}
	p, err = ratio.PairedMeans(d.x, d.y)
	w.ask("paired")
	if w.ok("ratio.PairedMeans", p, err) {
		ask(p)
	}
	for i := range min(3, len(d.x), len(d.y), len(d.z), len(d.w)) {
		w.ask("quadratic ", i)
		b1, b2, v := -d.y[i], d.x[i], d.sd[i]*d.sd[i]
		q := ratio.Quadratic(b1, b2, v, 0.3*v, v, d.w[i])
		w.ok("ratio.Quadratic", nil, nil)
		ask(q)
		tp, err := ratio.TurningPointOf(b1, b2, v, 0.3*v, v, d.w[i], d.level)
		w.ok("ratio.TurningPointOf", tp, err)
		tp, err = ratio.TurningPointOf(d.x[i], d.z[i], d.w[i], d.y[i], d.z[i], 5, d.level)
		w.ok("ratio.TurningPointOf", tp, err)
	}
}

func callHeldout(w *watch, d *rows) {
	r, err := heldout.New(d.session, [][]float64{d.x, d.z}, d.y)
	if !w.ok("heldout.New", nil, err) {
		return
	}
	w.ok("heldout.Rows.Groups", float64(r.Groups()), nil)
	nothing := r.Nothing()
	w.ok("heldout.Rows.Nothing", nothing, nil)
	for _, columns := range [][]int{{0}, {0, 1}, {1, 0}, {7}} {
		w.ask(columns)
		p, err := r.Predict(columns, 0)
		if w.ok("heldout.Rows.Predict", p, err) && nothing[0] > 0 {
			w.free(p.Squared[0] / nothing[0])
		}
	}
}

func callTail(w *watch, d *rows) {
	// For arguments already checked: finite values, degrees of freedom above zero.
	for i := range min(5, len(d.y), len(d.w), len(d.x)) {
		t, df := d.y[i], 0.5+math.Abs(d.w[i])
		if t-t != 0 || df-df != 0 {
			continue
		}
		w.ok("tail.TwoSided", tail.TwoSided(t, df), nil)
		w.ok("tail.Upper", tail.Upper(-t, df), nil)
		if df < 1e9 {
			w.ok("tail.F", tail.F(math.Abs(t), df, 2*df), nil)
		}
		w.ok("tail.Critical", tail.Critical(0.05, df), nil)
		w.free(tail.Critical(0.05, df))
	}
}

func callPower(w *watch, d *rows) {
	p, err := power.T(2, float64(len(d.y)+1), 0.05)
	if w.ok("power.T", p, err) {
		w.free(p)
	}
	for i := range min(5, len(d.y), len(d.w)) {
		for _, level := range []float64{d.level, 0.05} {
			p, err := power.T(d.y[i], d.w[i], level)
			w.ok("power.T", p, err)
		}
		w.ask([]float64{d.w[i]})
		n, ok := power.Size(2, 40, d.w[i], func(n int) float64 { return float64(n) / 40 })
		if ok && (n < 2 || n > 40) {
			w.ok("power.Size", math.NaN(), nil)
		}
		w.ok("power.Size", float64(n), nil)
	}
}

func callMeasurement(w *watch, d *rows) {
	terms, columns := []string{"z"}, [][]float64{d.z}
	c, err := measurement.Calibrate(d.x, d.sd, terms, columns, d.session)
	w.ok("measurement.Calibrate", c, err)
	r, err := measurement.ReliabilityRatio(d.x, d.sd, terms, columns, d.session)
	if w.ok("measurement.ReliabilityRatio", r, err) {
		w.free(r)
	}
	small := measurement.Options{Replicates: 10, Seed: d.seed}
	for degree := range 4 {
		for _, clustered := range []bool{false, true} {
			w.ask(degree, clustered)
			curve := measurement.Curve{Response: d.y, Degree: degree, Terms: terms, Columns: columns, Absorb: d.session}
			if clustered {
				curve.Cluster = d.session
			}
			corrected, err := measurement.CorrectCurve(d.x, d.sd, curve, small)
			if w.ok("measurement.CorrectCurve", corrected, err) {
				slope, se := corrected.Corrected.SlopeAt(1)
				w.ok("measurement.CurveEstimate.SlopeAt", []float64{slope, se}, nil)
				w.free(corrected.Corrected.Linear / corrected.Corrected.LinearStdError)
			}
			calibrated, err := measurement.CalibrateCurve(d.x, d.sd, curve)
			w.ok("measurement.CalibrateCurve", calibrated, err)
			if degree == 1 {
				b, err := measurement.BootstrapCurve(d.x, d.sd, curve, measurement.ByCalibration, 5, small)
				w.ok("measurement.BootstrapCurve", b, err)
			}
		}
	}
	slope := func(x []float64) (measurement.Estimates, error) {
		m, err := linear.Fit(linear.Problem{Response: d.y, Terms: []string{"1", "x"}, Columns: [][]float64{ones(len(x)), x}, Cluster: d.session})
		if err != nil {
			return measurement.Estimates{}, err
		}
		v := mat.NewSymDense(len(m.Terms), nil)
		v.CopySym(m.Classical().Matrix)
		return measurement.Estimates{Values: m.Estimates, Covariance: v}, nil
	}
	for degree := 1; degree <= 2; degree++ {
		w.ask("moments ", degree)
		m := measurement.Moments{Response: d.y, X: d.x, Degree: degree, By: d.w, Columns: [][]float64{d.z}, Absorb: d.session, Cluster: d.session}
		solved, err := m.Corrected(d.sd)
		if w.ok("measurement.Moments.Corrected", solved, err) && degree == 1 {
			w.free(solved.Estimates[0])
		}
		solved, err = m.Instrumented(d.x) // the column is its own best instrument
		w.ok("measurement.Moments.Instrumented", solved, err)
	}
	s, err := measurement.SIMEX(d.x, d.sd, slope, small)
	w.ok("measurement.SIMEX", s, err)
}

func callReliability(w *watch, d *rows) {
	for name, components := range map[string]func() (reliability.Components, error){
		"reliability.OneWay": func() (reliability.Components, error) { return reliability.OneWay(d.subject, d.y, d.level) },
		"reliability.Consistency": func() (reliability.Components, error) {
			return reliability.Consistency(d.subject, d.trial, d.y, d.level)
		},
		"reliability.Agreement": func() (reliability.Components, error) { return reliability.Agreement(d.subject, d.trial, d.y, d.level) },
	} {
		c, err := components()
		w.ok(name, c, err)
	}
	c, err := reliability.OneWay(d.subject, d.y, d.level)
	if w.ok("reliability.OneWay", c, err) {
		w.free(c.ICC, c.ConfLow, c.ConfHigh)
	}
	var ratings [][]float64
	for i := range min(len(d.x), len(d.y), len(d.z)) {
		ratings = append(ratings, []float64{d.x[i], d.y[i], d.z[i]})
	}
	table, err := reliability.Intraclass(ratings, d.level)
	if w.ok("reliability.Intraclass", table, err) {
		w.free(table.Coefficients[1].ICC, table.Coefficients[1].ConfLow)
	}
	e, err := reliability.TypicalErrorOf(ratings, d.level)
	w.ok("reliability.TypicalErrorOf", e, err)
	cv, err := reliability.CoefficientOfVariation(ratings, d.level)
	w.ok("reliability.CoefficientOfVariation", cv, err)
	again, err := reliability.Retest(d.x, d.y, d.level)
	w.ok("reliability.Retest", again, err)
	for i := range min(3, len(d.sd)) {
		change, err := reliability.MinimalDetectableChange(d.sd[i], d.level)
		w.ok("reliability.MinimalDetectableChange", change, err)
	}
}
