package tail_test

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"lengthwise/stats/internal/reference"
	"lengthwise/stats/tail"
)

// TestEveryEntryOfPoints compares every number of testdata/points.json (points.R).
// Down to tails of 1e-100 both agree to 1e-9.
func TestEveryEntryOfPoints(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "points.json")
	each := func(list string, compare func(at string)) {
		for i := 0; f.Has(list + "/" + strconv.Itoa(i)); i++ {
			compare(list + "/" + strconv.Itoa(i) + "/")
		}
	}
	each("t", func(at string) {
		f.Near(t, tail.TwoSided(f.Number(t, at+"t"), f.Number(t, at+"df")), 1e-9, at+"p")
	})
	each("q", func(at string) {
		f.Near(t, tail.Critical(f.Number(t, at+"alpha"), f.Number(t, at+"df")), 1e-9, at+"q")
	})
	each("f", func(at string) {
		f.Near(t, tail.F(f.Number(t, at+"f"), f.Number(t, at+"d1"), f.Number(t, at+"d2")), 1e-9, at+"p")
	})
	f.Complete(t)
}

// TestCriticalIsTheInverse over the range of levels and degrees of freedom.
func TestCriticalIsTheInverse(t *testing.T) {
	for _, df := range []float64{0.3, 0.7, 1, 1.3, 2.5, 4, 11.7, 160, 3e4, 2e6, 1e9, 1e300, math.Inf(1)} {
		for _, alpha := range []float64{1e-12, 1e-6, 0.001, 0.05, 0.1, 0.32, 0.5, 0.9, 0.999} {
			q := tail.Critical(alpha, df)
			if got := tail.TwoSided(q, df); !(math.Abs(got-alpha) <= 1e-11*alpha) {
				t.Errorf("df %v: P(|T| > %v) = %v, want %v", df, q, got, alpha)
			}
		}
	}
}

// TestSmooth: no jump where the method changes.
func TestSmooth(t *testing.T) {
	const change = 2000
	for _, x := range []float64{0.3, 1, 1.96, 4, 7} {
		below, above := tail.TwoSided(x, change), tail.TwoSided(x, math.Nextafter(change, 1e9))
		if math.Abs(below-above) > 1e-11*below {
			t.Errorf("P(|T| > %v) jumps from %v to %v", x, below, above)
		}
	}
}

// TestOutOfRange: NaN, infinities and limits, and no panic.
func TestOutOfRange(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for what, v := range map[string]float64{
		"t": tail.TwoSided(nan, 3), "df": tail.TwoSided(1, 0), "df NaN": tail.TwoSided(1, nan), "upper": tail.Upper(nan, 3),
		"alpha": tail.Critical(0, 3), "alpha 1": tail.Critical(1, 3), "alpha NaN": tail.Critical(nan, 3), "critical df": tail.Critical(0.05, -1),
		"f": tail.F(-1, 2, 3), "f NaN": tail.F(nan, 2, 3), "d1": tail.F(1, 0, 3), "d2": tail.F(1, 2, nan),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s out of range gives %v", what, v)
		}
	}
	for what, c := range map[string][2]float64{
		"t infinite": {tail.TwoSided(inf, 3), 0}, "t zero": {tail.TwoSided(0, 3), 1}, "lower side": {tail.Upper(-inf, 3), 1},
		"F infinite": {tail.F(inf, 2, 3), 0}, "F zero": {tail.F(0, 2, 3), 1},
	} {
		if c[0] != c[1] {
			t.Errorf("%s: %v, want %v", what, c[0], c[1])
		}
	}
	// Chi-square on two degrees of freedom is an exponential.
	if got, want := tail.F(3, 2, inf), math.Exp(-3); math.Abs(got-want) > 1e-14 {
		t.Errorf("chi-square: %v, want %v", got, want)
	}
	if got, want := tail.Upper(1.3, 4), tail.TwoSided(1.3, 4)/2; got != want {
		t.Errorf("one side %v, half of two %v", got, want)
	}
}

func ExampleCritical() {
	// The 95 % interval of an estimate of 2.4 with standard error 0.5 on 7.3 degrees
	// of freedom.
	half := tail.Critical(0.05, 7.3) * 0.5
	fmt.Printf("%.2f to %.2f\n", 2.4-half, 2.4+half)
	// Output: 1.23 to 3.57
}
