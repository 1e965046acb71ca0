package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestProblemAsSums: a problem turned back into sums gives the same fit, and the
// parameters of a special case mean the same in the larger problem's units: there
// the criterion is that of the special case.
func TestProblemAsSums(t *testing.T) {
	r := rand.New(rand.NewPCG(79, 1))
	for range 25 {
		s := randomProblem(r)
		method := Method(r.IntN(2))
		large, err := Fit(s, Options{Method: method})
		if err != nil {
			continue // too few rows
		}
		back, err := large.problem.sums(s.layout)
		if err != nil {
			t.Fatal(err)
		}
		again, err := Fit(back, Options{Method: method})
		if err != nil || math.Abs(again.Criterion-large.Criterion) > 1e-8 || back.Rows() != s.Rows() {
			t.Errorf("%+v: criterion %v, %v from sums made of it (%v)", s.layout, large.Criterion, again, err)
		}
		// The special case without groups, or with the first random column alone.
		l := s.layout.clone()
		if l.GroupIntercept && len(l.Random) > 0 {
			l.GroupIntercept = false
		} else if len(l.Random) > 1 {
			l.Random = l.Random[:1]
		} else {
			continue
		}
		fewer, err := large.problem.sums(l)
		if err != nil {
			t.Fatal(err)
		}
		small, err := Fit(fewer, Options{Method: method})
		if err != nil {
			continue
		}
		at, beta, err := large.parametersOf(small)
		if err != nil {
			t.Fatal(err)
		}
		p := large.problem
		pc, ok := p.evaluate(at, p.newWorkspace())
		if !ok {
			t.Fatal("no value")
		}
		full, ok := p.full(p.withResidual(pc, at), method == REML)
		if !ok {
			t.Fatal("no value")
		}
		// The fixed effects are those of generalised least squares at these variances.
		for i, b := range full.solved.beta {
			if math.Abs(b-beta[i]) > 1e-6*(1+math.Abs(b)) {
				t.Errorf("%+v in %+v: fixed effect %d is %v, by least squares %v", l, s.layout, i, beta[i], b)
			}
		}
		if got := full.value + p.unitsConstant(method == REML); math.Abs(got-small.Criterion) > 1e-6*(1+math.Abs(got)) {
			t.Errorf("%+v in %+v: criterion %v, want %v", l, s.layout, got, small.Criterion)
		}
	}
}
