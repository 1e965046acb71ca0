package mixed_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"lengthwise/stats/mixed"
)

// summary is all that a property must leave as it is.
type summary struct {
	criterion                float64
	estimates, errors, df    []float64
	theta, sds               []float64
	effects                  map[string][]float64
	profileLow, profileHigh  float64
	kenwardDF, kenwardErrors []float64
}

func summarise(t testing.TB, m *mixed.Model) summary {
	t.Helper()
	out := summary{criterion: m.Criterion, theta: m.Theta, sds: []float64{m.GroupSD, m.ResidualSD}, effects: map[string][]float64{}}
	rows, err := m.Coefficients(mixed.Satterthwaite, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	kr, err := m.Coefficients(mixed.KenwardRoger, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range rows {
		out.estimates = append(out.estimates, c.Estimate)
		out.errors = append(out.errors, c.StdError)
		out.df = append(out.df, c.DF)
		out.kenwardDF = append(out.kenwardDF, kr[i].DF)
		out.kenwardErrors = append(out.kenwardErrors, kr[i].StdError)
	}
	for _, u := range m.Units() {
		out.effects[u.Label] = u.Effects
	}
	profile, err := m.Profile(mixed.Parameter{Kind: mixed.ResidualSD}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	out.profileLow, out.profileHigh = profile.Low, profile.High
	return out
}

func (s summary) same(t *testing.T, what string, o summary, tolerance float64) {
	t.Helper()
	near(t, what+": criterion", o.criterion, s.criterion, tolerance, 1)
	nearAll(t, what+": estimates", o.estimates, s.estimates, tolerance, 1e-2)
	nearAll(t, what+": errors", o.errors, s.errors, tolerance, 0)
	nearAll(t, what+": df", o.df, s.df, 1e2*tolerance, 0)
	nearAll(t, what+": Kenward-Roger df", o.kenwardDF, s.kenwardDF, 1e2*tolerance, 0)
	nearAll(t, what+": Kenward-Roger errors", o.kenwardErrors, s.kenwardErrors, 1e2*tolerance, 0)
	nearAll(t, what+": theta", o.theta, s.theta, tolerance, 1e-1)
	nearAll(t, what+": sds", o.sds, s.sds, tolerance, 1e-2)
	near(t, what+": low", o.profileLow, s.profileLow, 1e2*tolerance, 0)
	near(t, what+": high", o.profileHigh, s.profileHigh, 1e2*tolerance, 0)
	for label, e := range s.effects {
		nearAll(t, what+": effects of "+label, o.effects[label], e, 1e1*tolerance, 1)
	}
}

func (r rowsOf) permuted(order []int) rowsOf {
	out := rowsOf{layout: r.layout, columns: make([][]float64, len(r.columns))}
	for _, i := range order {
		out.units, out.groups, out.y = append(out.units, r.units[i]), append(out.groups, r.groups[i]), append(out.y, r.y[i])
		for j, c := range r.columns {
			out.columns[j] = append(out.columns[j], c[i])
		}
	}
	return out
}

func TestOrderAndLabels(t *testing.T) {
	for name, l := range layouts {
		data := invent(rand.New(rand.NewPCG(31, uint64(len(name)))), l, 9, 1.5, 1, 1)
		want := summarise(t, fitted(t, data.sums(t), mixed.REML))
		r := rand.New(rand.NewPCG(1, 1))
		shuffled := data.permuted(r.Perm(len(data.y)))
		want.same(t, name+", rows in another order", summarise(t, fitted(t, shuffled.sums(t), mixed.REML)), 1e-9)

		renamed := data.permuted(r.Perm(len(data.y)))
		back := map[string]string{}
		for i, u := range renamed.units {
			label := fmt.Sprint("x", 100-len(u)*7-int(u[1])*3)
			back[label] = u
			renamed.units[i] = label
			renamed.groups[i] = "z" + renamed.groups[i]
		}
		got := summarise(t, fitted(t, renamed.sums(t), mixed.REML))
		effects := map[string][]float64{}
		for label, e := range got.effects {
			effects[back[label]] = e
		}
		got.effects = effects
		want.same(t, name+", other labels", got, 1e-9)
	}
}

// TestShards: whole groups in any batches and shards, same bits; split groups,
// the same but for rounding.
func TestShards(t *testing.T) {
	for name, l := range layouts {
		data := invent(rand.New(rand.NewPCG(33, uint64(len(name)))), l, 9, 1.5, 1, 1)
		whole := fitted(t, data.sums(t), mixed.REML)
		shards := make([]*mixed.Sums, 3)
		split := make([]*mixed.Sums, 3)
		for k := range shards {
			var err1, err2 error
			shards[k], err1 = mixed.NewSums(l)
			split[k], err2 = mixed.NewSums(l)
			if err1 != nil || err2 != nil {
				t.Fatal(err1, err2)
			}
		}
		for i := range data.y {
			row := make([]float64, len(data.columns))
			for j, c := range data.columns {
				row[j] = c[i]
			}
			kept := slices.Clone(row)
			if err := shards[data.units[i][1]%3].Add(data.units[i], data.groups[i], row, data.y[i]); err != nil {
				t.Fatal(err)
			}
			if err := split[i%3].Add(data.units[i], data.groups[i], row, data.y[i]); err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(row, kept) {
				t.Fatal("the row was changed")
			}
		}
		for _, order := range [][]int{{0, 1, 2}, {2, 0, 1}} {
			sum, err := mixed.NewSums(l)
			if err != nil {
				t.Fatal(err)
			}
			for _, k := range order {
				if err := sum.Merge(shards[k]); err != nil {
					t.Fatal(err)
				}
			}
			m := fitted(t, sum, mixed.REML)
			if m.Criterion != whole.Criterion || !slices.Equal(m.Theta, whole.Theta) || !slices.Equal(m.Estimates, whole.Estimates) {
				t.Errorf("%s: merged shards give other bits", name)
			}
		}
		before := split[1].Rows()
		if err := split[0].Merge(split[1]); err != nil {
			t.Fatal(err)
		}
		if err := split[0].Merge(split[2]); err != nil {
			t.Fatal(err)
		}
		if split[1].Rows() != before || split[0].Rows() != len(data.y) {
			t.Errorf("rows %d and %d after merging", split[1].Rows(), split[0].Rows())
		}
		summarise(t, whole).same(t, name+", split groups", summarise(t, fitted(t, split[0], mixed.REML)), 1e-9)
	}
}

// TestShiftAndScale: units of measurement and far-off zeros change estimates as
// algebra says and nothing else.
func TestShiftAndScale(t *testing.T) {
	for _, name := range []string{"intercept", "correlated", "nested, correlated", "independent", "slope only"} {
		l := layouts[name]
		data := invent(rand.New(rand.NewPCG(35, uint64(len(name)))), l, 12, 1.5, 1, 1)
		m := fitted(t, data.sums(t), mixed.REML)
		want := summarise(t, m)

		// y in other units about another zero.
		moved := data
		moved.y = slices.Clone(data.y)
		for i := range moved.y {
			moved.y[i] = 60*moved.y[i] + 1e6
		}
		got := summarise(t, fitted(t, moved.sums(t), mixed.REML))
		near(t, name+": criterion of 60 y", got.criterion, want.criterion+2*math.Log(60)*float64(m.Rows-len(l.Fixed)), 1e-8, 1)
		nearAll(t, name+": theta of 60 y", got.theta, want.theta, 1e-6, 0.1)
		nearAll(t, name+": df of 60 y", got.df, want.df, 1e-6, 0)
		for i := range want.estimates[1:] {
			near(t, name+": slope of 60 y", got.estimates[i+1], 60*want.estimates[i+1], 1e-8, 1)
		}
		near(t, name+": sigma of 60 y", got.sds[1], 60*want.sds[1], 1e-8, 0)

		if l.Independent || !slices.Contains(l.Random, "1") {
			continue // the zero of a matters there
		}
		// a about another zero: slopes stay, only intercepts move.
		moved = data
		moved.columns = slices.Clone(data.columns)
		moved.columns[1] = slices.Clone(data.columns[1])
		for i := range moved.columns[1] {
			moved.columns[1][i] = 1e-3*moved.columns[1][i] + 50
		}
		far := fitted(t, moved.sums(t), mixed.REML)
		got = summarise(t, far)
		near(t, name+": criterion about another zero", got.criterion, want.criterion+2*math.Log(1e-3), 1e-8, 1)
		near(t, name+": slope about another zero", got.estimates[1], 1e3*want.estimates[1], 1e-8, 1)
		near(t, name+": its error", got.errors[1], 1e3*want.errors[1], 1e-7, 0)
		near(t, name+": its df", got.df[1], want.df[1], 1e-5, 0)
		near(t, name+": intercept", got.estimates[0]+50*got.estimates[1], want.estimates[0], 1e-6, 1)
		near(t, name+": sigma", got.sds[1], want.sds[1], 1e-8, 0)
		if slices.Contains(l.Random, "a") {
			sd, _ := m.SD("a")
			farSD, _ := far.SD("a")
			near(t, name+": sd of the slope", farSD, 1e3*sd, 1e-6, 1e-3)
		}
	}
}

// TestPredictNew: mean, variances by the definition, and intervals about them.
func TestPredictNew(t *testing.T) {
	l := layouts["nested, correlated"]
	m := fitted(t, invent(rand.New(rand.NewPCG(37, 1)), l, 15, 1.5, 1, 1).sums(t), mixed.REML)
	row := []float64{1, 0.4, 2.2}
	got, err := m.PredictNew(row, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	contrast, err := m.Contrast(row, mixed.Satterthwaite, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", got.Mean, contrast.Estimate, 1e-12, 0)
	near(t, "error", got.StdError, contrast.StdError, 1e-12, 0)
	near(t, "df", got.DF, contrast.DF, 1e-9, 0)
	near(t, "low", got.ConfLow, contrast.ConfLow, 1e-12, 0)
	unit := contrast.StdError * contrast.StdError
	for i, a := range row {
		for j, b := range row {
			unit += a * b * m.Random.At(i, j)
		}
	}
	near(t, "unit sd", got.UnitSD, math.Sqrt(unit), 1e-10, 0)
	near(t, "response sd", got.SD, math.Sqrt(unit+m.GroupSD*m.GroupSD+m.ResidualSD*m.ResidualSD), 1e-10, 0)
	if !(got.PredictLow < got.UnitLow && got.UnitLow < got.ConfLow && got.ConfHigh < got.UnitHigh && got.UnitHigh < got.PredictHigh) {
		t.Errorf("intervals are not inside one another: %+v", got)
	}
	if !(got.UnitDF > 1 && got.UnitDF < 15 && got.PredictDF > got.UnitDF) {
		t.Errorf("df %v and %v are implausible for 15 units", got.UnitDF, got.PredictDF)
	}
}

// TestProfileEndsLieOnTheCriterion: a limit's criterion, found by fitting the
// data with the fixed effect taken out, lies a chi-square quantile above.
func TestProfileEndsLieOnTheCriterion(t *testing.T) {
	for _, name := range []string{"correlated", "nested", "no constant"} {
		data := invent(rand.New(rand.NewPCG(39, 1)), layouts[name], 10, 1.5, 1, 1)
		m := fitted(t, data.sums(t), mixed.ML)
		for k, term := range m.Layout.Fixed {
			interval, err := m.Profile(mixed.Parameter{Kind: mixed.FixedEffect, Term: term}, 0.9)
			if err != nil {
				t.Fatal(err)
			}
			for _, end := range []float64{interval.Low, interval.High} {
				held := data
				held.layout.Fixed = slices.Delete(slices.Clone(data.layout.Fixed), k, k+1)
				byName := map[string][]float64{}
				for j, c := range data.layout.Columns() {
					byName[c] = data.columns[j]
				}
				held.columns = nil
				for _, c := range held.layout.Columns() {
					held.columns = append(held.columns, byName[c])
				}
				held.y = slices.Clone(data.y)
				for i := range held.y {
					held.y[i] -= end * byName[term][i]
				}
				if len(held.layout.Fixed) == 0 {
					continue
				}
				near(t, name+": "+term, fitted(t, held.sums(t), mixed.ML).Criterion-m.Criterion, 2.705543454095414, 1e-6, 0)
			}
		}
	}
}

// TestBootstrap: seeded, and its draws have the moments the model says: the
// estimates' covariance and, in a balanced design, the distribution of the
// residual variance.
func TestBootstrap(t *testing.T) {
	data := invent(rand.New(rand.NewPCG(41, 1)), layouts["nested"], 12, 1.5, 1, 1)
	m := fitted(t, data.sums(t), mixed.REML)
	const draws = 600
	a, err := m.Bootstrap(draws, 5)
	if err != nil {
		t.Fatal(err)
	}
	b, err := m.Bootstrap(50, 5)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range b.Draws {
		if !slices.Equal(row, a.Draws[i]) {
			t.Fatal("the same seed gives other draws")
		}
	}
	if a.Failed > draws/100 {
		t.Errorf("%d of %d refits failed", a.Failed, draws)
	}
	mean, square := make([]float64, len(a.Parameters)), make([]float64, len(a.Parameters))
	for _, row := range a.Draws {
		for k, v := range row {
			mean[k] += v / float64(len(a.Draws))
			square[k] += v * v / float64(len(a.Draws))
		}
	}
	for k, q := range a.Parameters {
		v, _, err := m.Value(q)
		if err != nil {
			t.Fatal(err)
		}
		sd := math.Sqrt(square[k] - mean[k]*mean[k])
		// 600 draws: the mean to 4 standard errors; SDs are biased a little.
		allowed := 4 * sd / math.Sqrt(draws)
		if q.Kind != mixed.FixedEffect {
			allowed += 0.08 * v
		} else {
			i := slices.Index(m.Layout.Fixed, q.Term)
			near(t, "spread of "+q.Term, sd, math.Sqrt(m.Covariance.At(i, i)), 0.12, 0)
		}
		if math.Abs(mean[k]-v) > allowed {
			t.Errorf("mean of %v is %v, want %v within %v", q, mean[k], v, allowed)
		}
		low, high, n, err := a.Interval(q, 0.95)
		if err != nil || n != len(a.Draws) || !(low < v && v < high) {
			t.Errorf("interval of %v: %v to %v, %d draws, %v", q, low, high, n, err)
		}
	}
}

// TestMixtureOfLikelihoodRatio: one more random intercept by group.
func TestMixtureOfLikelihoodRatio(t *testing.T) {
	data := invent(rand.New(rand.NewPCG(43, 1)), layouts["nested"], 12, 1.5, 0.3, 1)
	large := fitted(t, data.sums(t), mixed.REML)
	plain := data
	plain.layout.GroupIntercept = false
	got, err := mixed.LikelihoodRatio(fitted(t, plain.sums(t), mixed.REML), large)
	if err != nil {
		t.Fatal(err)
	}
	if !got.Mixture || got.DF != 1 || got.Statistic <= 0 {
		t.Fatalf("%+v", got)
	}
	near(t, "mixture", got.MixturePValue, got.PValue/2, 1e-12, 0)
	near(t, "p", got.PValue, math.Erfc(math.Sqrt(got.Statistic/2)), 1e-9, 0)
}
