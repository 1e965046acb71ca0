package trial

import (
	"context"
	"flag"
	"math"
	"os"
	"reflect"
	"slices"
	"testing"

	"lengthwise/pipeline/simulated"
)

var keep = flag.Bool("update-kept", false, "simulate the whole grid anew and keep it: takes about a quarter of an hour")

// The squads of each cell in the kept table, and the seed.
const (
	keptSquads = 200
	keptSeed   = 20261127
)

// The kept table is what the program gives now: cells of it, made again, have the same
// rows. Which cells changes nothing, since each has seeds of its own.
func TestKeptTableIsWhatSimulateGives(t *testing.T) {
	const path = "../simulated/kept.csv"
	if *keep {
		rows, err := Simulate(context.Background(), Grid(), keptSquads, 2, keptSeed, nil)
		if err != nil {
			t.Fatal(err)
		}
		data, err := simulated.CSV(rows)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := simulated.Rows()
	if *keep {
		data, readErr := os.ReadFile(path)
		if readErr != nil {
			t.Fatal(readErr)
		}
		kept, err = simulated.Parse(data)
	}
	if err != nil {
		t.Fatal(err)
	}
	names := map[string]bool{}
	for _, r := range kept {
		names[r.Cell] = true
	}
	again := []string{"set-small-0"}
	if os.Getenv("LENGTHWISE_LONG") != "" {
		again = []string{"set-small-0", "set-small-3", "set-gaps-3", "set-sampled-0", "free-tired-3"}
	}
	for _, c := range Grid() {
		if !names[c.Name] {
			t.Errorf("the kept table lacks the cell %s: go test ./pipeline/trial -run TestKept -update-kept", c.Name)
		}
		delete(names, c.Name)
		if !slices.Contains(again, c.Name) {
			continue
		}
		rows, err := Simulate(context.Background(), []Cell{c}, keptSquads, 3, keptSeed, nil)
		if err != nil {
			t.Fatal(err)
		}
		var want []any
		for _, r := range kept {
			if r.Cell == c.Name {
				want = append(want, r)
			}
		}
		var got []any
		for _, r := range rows {
			got = append(got, r)
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: the kept rows are not what comes out now: go test ./pipeline/trial -run TestKept -update-kept\n%+v\n%+v", c.Name, rows, want)
		}
	}
	for name := range names {
		t.Errorf("the kept table has a cell %s that is not in the grid", name)
	}
}

// The bar: false verdicts are at most nominal in every designed cell. Of n verdicts
// without an effect at most 5 % may be claims, and three standard errors more.
func TestFalseVerdictsAreAtMostNominal(t *testing.T) {
	kept, err := simulated.Rows()
	if err != nil {
		t.Fatal(err)
	}
	looked := 0
	for _, r := range kept {
		if r.Design != "designed" || r.FalsePct == nil {
			continue
		}
		looked++
		slack := 300 * 0.218 / math.Sqrt(float64(r.N)) // three standard errors of 5 %
		if *r.FalsePct > 5+slack {
			t.Errorf("%s, %s: %.1f %% false of %d", r.Cell, r.Estimator, *r.FalsePct, r.N)
		}
		if r.Estimator == BySwimmer && *r.FalsePct > 5 {
			t.Errorf("%s: %.1f %% of swimmers without an effect get a verdict of one", r.Cell, *r.FalsePct)
		}
	}
	for _, r := range kept {
		if r.Design == "designed" && r.WrongPct != nil && *r.WrongPct > 1 {
			t.Errorf("%s, %s: %.1f %% the wrong way", r.Cell, r.Estimator, *r.WrongPct)
		}
	}
	if looked < 50 {
		t.Errorf("%d rows looked at", looked)
	}
}
