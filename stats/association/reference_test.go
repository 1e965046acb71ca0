package association_test

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"lengthwise/stats/association"
	"lengthwise/stats/internal/reference"
)

// readColumns reads a CSV file by column; columns that are not numbers stay out.
func readColumns(t *testing.T, path string) map[string][]float64 {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make(map[string][]float64)
	for j, name := range rows[0] {
		for _, row := range rows[1:] {
			if v, err := strconv.ParseFloat(row[j], 64); err == nil {
				out[name] = append(out[name], v)
			}
		}
	}
	return out
}

// TestEveryEntryOfRepeatedMeasures compares every number of
// testdata/repeated.json: R 4.2.2's lm on sleepstudy (Belenky et al. 2003, as in
// lme4 1.1-31), and the published results of Bland and Altman (1995, BMJ 310:446)
// as rmcorr 0.7.0 prints them, to their digits.
func TestEveryEntryOfRepeatedMeasures(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "repeated.json")
	data := readColumns(t, "testdata/sleepstudy.csv")
	subject := make([]int, len(data["Subject"]))
	for i, v := range data["Subject"] {
		subject[i] = int(v)
	}
	got, err := association.RepeatedMeasures(subject, data["Days"], data["Reaction"])
	if err != nil {
		t.Fatal(err)
	}
	near := func(v float64, name string) { t.Helper(); f.Near(t, v, 1e-10, "sleepstudy/"+name) }
	f.Counts(t, got.Rows, "sleepstudy/n")
	f.Counts(t, got.Subjects, "sleepstudy/subjects")
	near(got.DF, "df")
	near(got.R, "r_rm")
	near(got.Statistic*got.Statistic, "F")
	near(got.PValue, "p")
	near(got.Slope, "slope")
	near(got.SlopeStdError, "slope_se")
	c := distuv.StudentsT{Sigma: 1, Nu: got.DF}.Quantile(0.975)
	f.NearAll(t, []float64{got.Slope - c*got.SlopeStdError, got.Slope + c*got.SlopeStdError}, 1e-10, "sleepstudy/slope_ci95")
	f.NearAll(t, []float64{got.ConfLow, got.ConfHigh}, 1e-10, "sleepstudy/ci95_fisher_z/limits")
	near(1/math.Sqrt(got.DF-1), "ci95_fisher_z/se")
	low, high, err := association.FisherInterval(got.R, got.DF, 0.95) // the older convention: df for n
	if err != nil {
		t.Fatal(err)
	}
	f.NearAll(t, []float64{low, high}, 1e-10, "sleepstudy/ci95_fisher_z/limits_old_convention")

	// Levels and sums of squares follow from the slope and the subjects' means.
	var means [][3]float64 // rows, mean of x, mean of y
	for i, s := range subject {
		if i == 0 || s != subject[i-1] {
			means = append(means, [3]float64{})
		}
		m := &means[len(means)-1]
		m[0]++
		m[1] += data["Days"][i]
		m[2] += data["Reaction"][i]
	}
	var levels []float64
	for k := range means {
		means[k][1] /= means[k][0]
		means[k][2] /= means[k][0]
		levels = append(levels, means[k][2]-got.Slope*means[k][1])
	}
	f.NearAll(t, levels, 1e-10, "sleepstudy/intercepts")
	var total float64
	k := -1
	for i, s := range subject {
		if i == 0 || s != subject[i-1] {
			k++
		}
		d := data["Reaction"][i] - means[k][2]
		total += d * d
	}
	near(got.R*got.R*total, "SS_measure")
	near((1-got.R*got.R)*total, "SS_error")

	const readme = "provenance/published/rmcorr_README"
	r, df := f.Number(t, readme+"/r"), f.Number(t, readme+"/df")
	low, high, err = association.FisherInterval(r, df+2, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	f.NearAll(t, []float64{low, high}, 2e-7, readme+"/ci95")
	p := 2 * distuv.StudentsT{Sigma: 1, Nu: df}.CDF(-math.Abs(r)*math.Sqrt(df/(1-r*r)))
	f.Near(t, p, 5e-6, readme+"/p")                                // r has seven digits, p hangs on its twelfth power
	f.Near(t, r, 0.01, "provenance/published/bland_altman_1995_r") // two digits
	f.Near(t, df, 0, "published_only/df")
	low, high, err = association.FisherInterval(r, df, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	f.NearAll(t, []float64{low, high}, 5e-7, "provenance/published/rmcorr_before_0.5.4_ci95/limits")
	f.Complete(t)
}

// TestEveryEntryOfRanks compares every number of testdata/ranks.json: R 4.2.2's
// cor.test, survival 3.5-3, psych 2.2.9. Closed forms, 1e-10.
func TestEveryEntryOfRanks(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "ranks.json")
	for _, name := range f.Keys("association") {
		at := "association/" + name + "/"
		x, y := f.Input(t, at+"x"), f.Input(t, at+"y")
		p, err1 := association.PearsonTest(x, y, 0.95)
		s, err2 := association.SpearmanTest(x, y, 0.95)
		k, err3 := association.KendallTest(x, y)
		c, err4 := association.ConcordanceIndex(x, y)
		counts, err5 := association.CountRanks(x, y)
		tauA, err6 := counts.TauA()
		gamma, err7 := counts.Gamma()
		tauB, err8 := association.Kendall(x, y)
		yx, err9 := association.SomersD(x, y)
		xy, err10 := association.SomersD(y, x)
		if err := errors.Join(err1, err2, err3, err4, err5, err6, err7, err8, err9, err10); err != nil {
			t.Fatal(name, err)
		}
		near := func(v float64, entry string) { t.Helper(); f.Near(t, v, 1e-10, at+entry) }
		near(float64(len(x)), "n")
		near(counts.Concordant, "concordant")
		near(counts.Discordant, "discordant")
		near(counts.TiedX, "tied_x_only")
		near(counts.TiedY, "tied_y_only")
		near(counts.TiedBoth, "tied_both")
		near(tauA, "tau_a")
		near(tauB, "tau_b")
		near(k.Tau, "tau_b")
		near(gamma, "gamma")
		near(yx, "somers_dyx")
		near(xy, "somers_dxy")
		// R's statistic is the concordant pairs when exact, else z.
		if k.Exact {
			near(counts.Concordant, "kendall_test/statistic")
		} else {
			near(k.Z, "kendall_test/statistic")
		}
		near(k.PValue, "kendall_test/p")
		near(k.ZCorrected, "kendall_normal_continuity/z")
		near(k.CorrectedPValue, "kendall_normal_continuity/p")
		near(s.R, "spearman_rho")
		near(s.PValue, "spearman_p_t_approx")
		near(p.R, "pearson/r")
		near(p.Statistic, "pearson/t")
		near(p.DF, "pearson/df")
		near(p.PValue, "pearson/p")
		f.NearAll(t, []float64{p.ConfLow, p.ConfHigh}, 1e-10, at+"pearson/fisher_z_ci95")
		z, half := math.Atanh(p.R), (math.Atanh(p.ConfHigh)-math.Atanh(p.ConfLow))/2
		near(z, "pearson/z")
		near(half/distuv.UnitNormal.Quantile(0.975), "pearson/se_z")
		near(c.C, "concordance_survival/C")
		near(c.StdError*c.StdError, "concordance_survival/var")
		near(counts.Concordant, "concordance_survival/counts/concordant")
		near(counts.Discordant, "concordance_survival/counts/discordant")
		near(counts.TiedX, "concordance_survival/counts/tied.x")
		near(counts.TiedY, "concordance_survival/counts/tied.y")
		near(counts.TiedBoth, "concordance_survival/counts/tied.xy")
	}
	comparePartial(t, f)
	f.Complete(t)
}

func comparePartial(t *testing.T, f *reference.File) {
	t.Helper()
	cars := readColumns(t, "testdata/mtcars.csv")
	const at = "partial/mtcars_mpg_wt_given_hp/"
	got, err := association.Partial(cars["wt"], cars["mpg"], [][]float64{cars["hp"]}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	f.Counts(t, got.Rows, at+"n")
	f.Counts(t, got.Controls, at+"controls")
	f.Near(t, got.R, 1e-10, at+"r")
	f.Near(t, got.DF, 0, at+"df")
	f.Near(t, got.Statistic, 1e-10, at+"t")
	f.Near(t, got.PValue, 1e-9, at+"p")
	f.NearAll(t, []float64{got.ConfLow, got.ConfHigh}, 1e-10, at+"fisher_ci95")
	f.Near(t, got.Semipartial, 1e-10, at+"semipartial_y_x1_given_rest")
	columns := [][]float64{cars["mpg"], cars["wt"], cars["hp"]}
	m, err := association.PartialMatrix(columns)
	if err != nil {
		t.Fatal(err)
	}
	f.NearMatrix(t, m.At, 3, 1e-10, at+"full_matrix/values")

	var r [3]float64
	for i := range r {
		if r[i], err = association.Pearson(columns[i], columns[(i+1)%3]); err != nil { // mpg-wt, wt-hp, hp-mpg
			t.Fatal(err)
		}
	}
	williams, err1 := association.WilliamsTest(r[0], r[2], r[1], len(cars["mpg"]))
	apart, err2 := association.CompareIndependent(0.6, 50, 0.3, 60) // as the entry's note says
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	f.Near(t, williams.Statistic, 1e-10, "dependent_correlations/williams_mtcars/t")
	f.Near(t, williams.PValue, 1e-10, "dependent_correlations/williams_mtcars/p")
	f.Near(t, apart.Statistic, 1e-10, "dependent_correlations/independent/z")
	f.Near(t, apart.PValue, 1e-10, "dependent_correlations/independent/p")

	const tost = "TOST/correlation_tost/"
	rho, n, bound := f.Number(t, tost+"r"), f.Number(t, tost+"n"), f.Number(t, tost+"bound")
	lower, upper, err1 := association.EquivalentCorrelation(rho, n, bound)
	low, high, err2 := association.FisherInterval(rho, n, 0.9)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	f.Near(t, lower, 1e-10, tost+"p_lower")
	f.Near(t, upper, 1e-10, tost+"p_upper")
	f.Near(t, -distuv.UnitNormal.Quantile(lower), 1e-9, tost+"z_lower")
	f.Near(t, distuv.UnitNormal.Quantile(upper), 1e-9, tost+"z_upper")
	f.NearAll(t, []float64{low, high}, 1e-10, tost+"ci90")
}
