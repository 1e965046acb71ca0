package mixed_test

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"slices"
	"testing"

	"lengthwise/stats/mixed"
)

func marshalled(t testing.TB, s *mixed.Sums) []byte {
	t.Helper()
	b, err := s.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestMarshal: sums that travelled as bytes give the same fit, whatever the
// order their groups arrived in, and go on taking rows.
func TestMarshal(t *testing.T) {
	for name, l := range layouts {
		data := invent(rand.New(rand.NewPCG(51, uint64(len(name)))), l, 8, 1.5, 1, 1)
		s := data.sums(t)
		b := marshalled(t, s)
		back, err := mixed.UnmarshalSums(b)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b, marshalled(t, back)) || back.Rows() != s.Rows() {
			t.Errorf("%s: other bytes after a round trip", name)
		}
		want, got := fitted(t, s, mixed.REML), fitted(t, back, mixed.REML)
		if want.Criterion != got.Criterion || !slices.Equal(want.Estimates, got.Estimates) {
			t.Errorf("%s: another fit after a round trip", name)
		}
		if err := back.Merge(s); err != nil || back.Rows() != 2*s.Rows() {
			t.Errorf("%s: %d rows, %v", name, back.Rows(), err)
		}
	}
}

func TestUnmarshalErrors(t *testing.T) {
	b := marshalled(t, invent(rand.New(rand.NewPCG(53, 1)), layouts["nested"], 3, 1, 1, 1).sums(t))
	for n := range b {
		if _, err := mixed.UnmarshalSums(b[:n]); !errors.Is(err, mixed.ErrShape) {
			t.Fatalf("cut at %d: %v, want ErrShape", n, err)
		}
	}
	if _, err := mixed.UnmarshalSums(append(slices.Clone(b), 0)); !errors.Is(err, mixed.ErrShape) {
		t.Errorf("a byte too many: %v", err)
	}
	for i := range 8 {
		b[len(b)-1-i] = 0xff // the last number is NaN now
	}
	if _, err := mixed.UnmarshalSums(b); !errors.Is(err, mixed.ErrNotFinite) {
		t.Errorf("NaN: %v", err)
	}
}

// FuzzUnmarshalSums: any bytes give sums or a typed error, and what was read
// is written as it was but for the order of groups.
func FuzzUnmarshalSums(f *testing.F) {
	for _, name := range []string{"nested", "intercept", "independent"} {
		f.Add(marshalled(f, invent(rand.New(rand.NewPCG(55, 1)), layouts[name], 2, 1, 1, 1).sums(f)))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := mixed.UnmarshalSums(b)
		if err != nil {
			if !errors.Is(err, mixed.ErrShape) && !errors.Is(err, mixed.ErrLayout) && !errors.Is(err, mixed.ErrNotFinite) {
				t.Fatalf("untyped error %v", err)
			}
			return
		}
		again, err := mixed.UnmarshalSums(marshalled(t, s))
		if err != nil || again.Rows() != s.Rows() {
			t.Fatalf("%v, %d rows after %d", err, again.Rows(), s.Rows())
		}
		if m, err := mixed.Fit(s, mixed.Options{}); err == nil && !(m.ResidualSD > 0) {
			t.Fatalf("a fit with residual %v", m.ResidualSD)
		}
	})
}
