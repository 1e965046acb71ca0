package analyse

import (
	"math"
	"testing"

	"lengthwise/schemas"
)

func rateRow(rows []schemas.CostByRate, percent float64) schemas.CostByRate {
	for _, row := range rows {
		if row.RatePctOfUsual == percent {
			return row
		}
	}
	return schemas.CostByRate{}
}

// designedRates is the rows of the designed bouts of one swimmer.
func designedRates(t *testing.T, v valley) []schemas.CostByRate {
	t.Helper()
	for _, c := range costByRate(v.swim(), settings()) {
		if c.Rows[0].Design == string(Designed) {
			return c.Rows
		}
	}
	t.Fatal("no designed bouts")
	return nil
}

// A valley read at four rates: each difference is the valley's, whatever the
// counts did, since the rates were set.
func TestCostAtSeveralRates(t *testing.T) {
	for _, misreads := range []float64{0, 0.06} {
		v := aValley()
		v.sessions, v.best, v.shift, v.misreads = 30, 0.04, 0, misreads
		rows := designedRates(t, v)
		for _, percent := range comparedRates() {
			row := rateRow(rows, percent)
			r := math.Log(percent / 100)
			want := 3 / (per10Percent * per10Percent) * (r*r - 2*r*v.best)
			if row.Change == nil || row.RatesFrom != ratesSet {
				t.Fatalf("misreads %v, %v %%: %v, rates %s", misreads, percent, row.Reason, row.RatesFrom)
			}
			if math.Abs(*row.Change-want) > 3*(*row.StdError)+0.1 || *row.StdError > 1.5 {
				t.Errorf("misreads %v, %v %%: %.2f (standard error %.2f), want %.2f", misreads, percent, *row.Change, *row.StdError, want)
			}
			if p := 100 * *row.Change / *row.CostAtUsual; math.Abs(*row.ChangePct-p) > 1e-9 || math.Abs(*row.CostAtUsual-144) > 2 {
				t.Errorf("%v %%: %.3f %% of %.1f", percent, *row.ChangePct, *row.CostAtUsual)
			}
			if *row.PHolm < *row.PValue || row.BoutsNear < 30 {
				t.Errorf("%v %%: p %v, adjusted %v, %d bouts near", percent, *row.PValue, *row.PHolm, row.BoutsNear)
			}
		}
	}
}

// What holds below the usual rate is kept from what holds above it.
func TestHatsKeepTheSidesApart(t *testing.T) {
	knots := []float64{math.Log(0.8), math.Log(0.9), math.Log(1.1)}
	rate := []float64{knots[0], knots[1], 0, knots[2], (knots[0] + knots[1]) / 2, knots[2] / 4, 2 * knots[2]}
	want := [][]float64{
		{1, 0, 0, 0, 0.5, 0, 0},
		{0, 1, 0, 0, 0.5, 0, 0},
		{0, 0, 0, 1, 0, 0.25, 2},
	}
	for k, column := range hats(rate, knots) {
		for i := range column {
			if math.Abs(column[i]-want[k][i]) > 1e-12 {
				t.Errorf("column %d at %v: %v, want %v", k, rate[i], column[i], want[k][i])
			}
		}
	}
}

func TestRatesThatWereNotSwumAreNotCompared(t *testing.T) {
	v := aValley()
	bouts := v.swim()
	kept := bouts[:0]
	for _, b := range bouts {
		x := math.Log(b.SpeedMPS / referenceMPS)
		if b.StrokeRateSPM < 0.9*64*math.Exp(0.7*x)*1.05 {
			kept = append(kept, b)
		}
	}
	for _, c := range costByRate(kept, settings()) {
		for _, percent := range []float64{110, 120} {
			if row := rateRow(c.Rows, percent); row.Change != nil || row.Reason == nil {
				t.Errorf("%s: %v %% of usual was not swum, yet costs %v", row.Design, percent, *row.Change)
			}
		}
	}
}

func TestTheSquadsCostsArePooled(t *testing.T) {
	var swimmers []CostByRate
	for k := range 6 {
		v := aValley()
		v.seed, v.best, v.shift = uint64(40+k), 0, 0
		swimmers = append(swimmers, costByRate(v.swim(), settings())...)
	}
	table := costByRateTable(swimmers, settings())
	found := 0
	for _, row := range table {
		if row.Scope != WholeSquad || row.Design != string(Designed) {
			continue
		}
		found++
		r := math.Log(row.RatePctOfUsual / 100)
		// Straight lines between the rates read a valley up to 0.2 too high.
		if want := 3 / (per10Percent * per10Percent) * r * r; row.Swimmers != 6 || math.Abs(*row.Change-want) > 3*(*row.StdError)+0.2 || row.ChangePct == nil {
			t.Errorf("%v %%: %.2f (%.2f to %.2f) over %d swimmers, the truth is %.2f", row.RatePctOfUsual, *row.Change, *row.ConfLow, *row.ConfHigh, row.Swimmers, want)
		}
	}
	if found != 4 {
		t.Errorf("%d rows for the squad", found)
	}
	// The order of the swimmers changes no number.
	for i, j := 0, len(swimmers)-1; i < j; i, j = i+1, j-1 {
		swimmers[i], swimmers[j] = swimmers[j], swimmers[i]
	}
	again := costByRateTable(swimmers, settings())
	for i := range again {
		if a, b := table[i], again[i]; a.Scope == WholeSquad && (a.Change == nil) != (b.Change == nil) || a.Scope == WholeSquad && a.Change != nil && *a.Change != *b.Change {
			t.Errorf("%v %%: the order of swimmers changes the squad's number", a.RatePctOfUsual)
		}
	}
}
