package reliability_test

import (
	"math"
	"testing"

	"lengthwise/stats/reliability"
)

// TestAgreementWithoutSpread: subjects that differ less than their readings leave
// ICC(2,1) few or no degrees of freedom. Values are those of R by
// testdata/agreement.R (Shrout and Fleiss 1979), but where R has NaN: the limits
// are then the whole line, and -Inf where the step up to k readings turns its sign.
func TestAgreementWithoutSpread(t *testing.T) {
	none, all := math.Inf(-1), math.Inf(1)
	type limits struct{ icc, low, high float64 }
	for _, c := range []struct {
		name            string
		ratings         [][]float64
		single, average limits
	}{
		{"limit below the range", [][]float64{{2, 1}, {0, 1}, {0, 2}},
			limits{-0.5, -1.397158748252451, 0.900605907805466}, limits{-2, none, 2 * 0.900605907805466 / 1.900605907805466}},
		{"ICC of zero", [][]float64{{1, 1}, {0, 1}, {0, 1}},
			limits{0, -0.322033898305085, 0.904761904761905}, limits{0, -2 * 0.322033898305085 / 0.677966101694915, 0.95}},
		{"equal means of subjects", [][]float64{{1, -1}, {0, 0}}, limits{-1, none, all}, limits{none, none, all}},
		{"all means equal", [][]float64{{0, 2}, {2, 0}}, limits{none, none, all}, limits{none, none, all}},
	} {
		table, err := reliability.Intraclass(c.ratings, 0.95)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for form, want := range map[reliability.Form]limits{
			reliability.AgreementSingle: c.single, reliability.AgreementAverage: c.average,
		} {
			got := table.Coefficients[form]
			for _, v := range [][2]float64{{got.ICC, want.icc}, {got.ConfLow, want.low}, {got.ConfHigh, want.high}} {
				if v[0] != v[1] && !(math.Abs(v[0]-v[1]) <= 1e-10) {
					t.Errorf("%s, %v: %v, want %v", c.name, form, got, want)
				}
			}
		}
	}
	// A retest asks for the consistency alone and must not fall over the agreement.
	if _, err := reliability.Retest([]float64{1, 0}, []float64{-1, 0}, 0.95); err != nil {
		t.Error(err)
	}
}
