package mixed_test

import (
	"errors"
	"math/rand/v2"
	"slices"
	"testing"

	"lengthwise/stats/mixed"
)

// TestMergeAs: units summed one by one under a name of no matter give the fit
// of rows that bore their names from the start, to the last bit.
func TestMergeAs(t *testing.T) {
	l := layouts["nested, correlated"]
	data := invent(rand.New(rand.NewPCG(57, 1)), l, 9, 1, 1, 1)
	whole := data.sums(t)
	merged, err := mixed.NewSums(l)
	if err != nil {
		t.Fatal(err)
	}
	columns := len(l.Columns())
	for from := 0; from < len(data.y); {
		to := from
		own, err := mixed.NewSums(l)
		if err != nil {
			t.Fatal(err)
		}
		for ; to < len(data.y) && data.units[to] == data.units[from]; to++ {
			row := make([]float64, columns)
			for j := range row {
				row[j] = data.columns[j][to]
			}
			if err := own.Add("anybody", data.groups[to], row, data.y[to]); err != nil {
				t.Fatal(err)
			}
		}
		if err := merged.MergeAs(data.units[from], own); err != nil {
			t.Fatal(err)
		}
		from = to
	}
	if !slices.Equal(marshalled(t, whole), marshalled(t, merged)) {
		t.Error("sums that were merged under a name are not those of the named rows")
	}
	other, err := mixed.NewSums(layouts["intercept"])
	if err != nil {
		t.Fatal(err)
	}
	if err := merged.MergeAs("x", other); !errors.Is(err, mixed.ErrShape) {
		t.Errorf("sums of another layout: %v, want ErrShape", err)
	}
}

// TestRestrict: leaving columns out of sums gives the sums of fewer columns,
// in whatever order the layout names them.
func TestRestrict(t *testing.T) {
	l := mixed.Layout{Fixed: []string{"one", "a", "b", "c"}, Random: []string{"one", "a"}, GroupIntercept: true}
	fewer := mixed.Layout{Fixed: []string{"c", "one", "a"}, Random: []string{"one"}, GroupIntercept: true}
	full, err := mixed.NewSums(l)
	if err != nil {
		t.Fatal(err)
	}
	want, err := mixed.NewSums(fewer)
	if err != nil {
		t.Fatal(err)
	}
	stream := rand.New(rand.NewPCG(58, 1))
	for i := range 200 {
		unit, group := string(rune('a'+i/40)), string(rune('a'+i/10%4))
		row := []float64{1, stream.NormFloat64(), stream.NormFloat64(), stream.NormFloat64()}
		y := row[1] + row[3] + stream.NormFloat64()
		if err := full.Add(unit, group, row, y); err != nil {
			t.Fatal(err)
		}
		if err := want.Add(unit, group, []float64{row[3], 1, row[1]}, y); err != nil {
			t.Fatal(err)
		}
	}
	got, err := full.Restrict(fewer)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(marshalled(t, want), marshalled(t, got)) {
		t.Error("restricted sums are not those of the fewer columns")
	}
	for name, bad := range map[string]mixed.Layout{
		"a column that is not there": {Fixed: []string{"one", "d"}, Random: []string{"one"}, GroupIntercept: true},
		"other groups":               {Fixed: []string{"one"}, Random: []string{"one"}},
	} {
		if _, err := full.Restrict(bad); !errors.Is(err, mixed.ErrShape) {
			t.Errorf("%s: %v, want ErrShape", name, err)
		}
	}
	if _, err := full.Restrict(mixed.Layout{GroupIntercept: true}); !errors.Is(err, mixed.ErrLayout) {
		t.Errorf("no fixed column: %v, want ErrLayout", err)
	}
}
