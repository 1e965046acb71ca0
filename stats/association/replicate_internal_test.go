package association

import (
	"math"
	"math/rand/v2"
	"testing"

	"lengthwise/stats/resample"
)

// TestReplicatesByCopyingRows compares the replicates made from moments with
// [RepeatedMeasures] of the rows copied out, subjects at levels far apart and
// with sessions of different size.
func TestReplicatesByCopyingRows(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 1))
	var subject, session []int
	var x, y []float64
	for i := range 3 {
		for s := range 4 {
			shift := r.NormFloat64()
			for range 3 + s {
				subject, session = append(subject, i), append(session, s)
				x = append(x, 100*float64(i)+shift+r.NormFloat64())
				y = append(y, 50*float64(i)+2*shift+r.NormFloat64())
			}
		}
	}
	var sums []Moments
	var owner []int
	var rows [][]row
	for i, s := range arrange(subject, session, x, y) {
		for k, m := range s.moments() {
			sums, owner, rows = append(sums, m), append(owner, i), append(rows, s.sessions[k])
		}
	}
	plan, err := resample.WithinGroups(owner, 40, 2)
	if err != nil {
		t.Fatal(err)
	}
	got := replicate(plan, owner, sums)
	if len(got) != 40 {
		t.Fatalf("%d replicates, want 40", len(got))
	}
	for b := range got {
		var subject []int
		var x, y []float64
		for _, u := range plan.Indices(b, nil) {
			for _, r := range rows[u] {
				subject, x, y = append(subject, owner[u]), append(x, r.x), append(y, r.y)
			}
		}
		want, err := RepeatedMeasures(subject, x, y)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got[b]-want.R) > 1e-12 {
			t.Errorf("replicate %d: %v, by rows %v", b, got[b], want.R)
		}
	}
}
