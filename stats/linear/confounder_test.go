package linear

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// TestConfounderPublished: the worked example of Cinelli and Hazlett (2020,
// table 1 and section 5): an effect of 0.097 (standard error 0.0233, df 783)
// against a confounder once, twice and three times as strong as the covariate
// "female". Figures from memory, as printed; what is checked is that the shares
// at once fix those at twice and three times, and all the effects left.
func TestConfounderPublished(t *testing.T) {
	published := []struct{ k, term, response, adjusted float64 }{
		{1, 0.0092, 0.1246, 0.0752},
		{2, 0.0183, 0.2493, 0.0529},
		{3, 0.0275, 0.3741, 0.0304},
	}
	share := 0.009164 / 1.009164
	// r from the response's share at k = 1, by bisection.
	low, high := 0.0, 0.5
	for range 80 {
		middle := (low + high) / 2
		c, err := AsStrongAs(1, share, middle)
		if err != nil {
			t.Fatal(err)
		}
		if c.Response < 0.12464 {
			low = middle
		} else {
			high = middle
		}
	}
	for _, p := range published {
		c, err := AsStrongAs(p.k, share, low)
		if err != nil {
			t.Fatal(err)
		}
		adjusted, err := c.Adjusted(0.09732, 0.023257, 783)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range []struct {
			name      string
			got, want float64
		}{{"term", c.Term, p.term}, {"response", c.Response, p.response}, {"adjusted", adjusted, p.adjusted}} {
			if math.Abs(v.got-v.want) > 6e-5 {
				t.Errorf("k = %v: %s %.5f, want %.4f", p.k, v.name, v.got, v.want)
			}
		}
	}
}

// TestConfounderExact: the bias of leaving a column out is that of the formula,
// exactly, when the shares are the column's own; and the bound of a column as
// strong as it holds for one that is.
func TestConfounderExact(t *testing.T) {
	stream := rand.New(rand.NewPCG(5, 3))
	for range 40 {
		n := 60
		x, z, d, y, one := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		a, b, effect := stream.NormFloat64(), stream.NormFloat64(), stream.NormFloat64()
		for i := range n {
			x[i], one[i] = stream.NormFloat64(), 1
			z[i] = stream.NormFloat64()
		}
		z = residualsOf(t, z, one, x) // Z goes with nothing measured, as the bound has it
		scale := norm(x) / norm(z)
		for i := range n {
			z[i] *= scale
			d[i] = a*x[i] + a*z[i] + stream.NormFloat64()
			y[i] = effect*d[i] + b*x[i] + b*z[i] + stream.NormFloat64()
		}
		short := fitOf(t, y, one, x, d)
		long := fitOf(t, y, one, x, d, z)
		c, err := short.Coefficient("2", short.Classical(), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		own := Confounder{
			Term:     partialR2(t, d, [][]float64{one, x}, z),
			Response: partialR2(t, y, [][]float64{one, x, d}, z),
		}
		adjusted, err := own.Adjusted(c.Estimate, c.StdError, float64(short.DFResidual))
		if err != nil {
			t.Fatal(err)
		}
		bias := math.Abs(c.Estimate - long.Estimates[2])
		if got := math.Abs(c.Estimate - adjusted); math.Abs(got-bias) > 1e-9*(1+bias) {
			t.Fatalf("bias %v, want %v", got, bias)
		}
		// How strong Z is against X, by shares without X for Z and without Z for X.
		kTerm := partialR2(t, d, [][]float64{one}, z) / partialR2(t, d, [][]float64{one}, x)
		kResponse := partialR2(t, y, [][]float64{one, d}, z) / partialR2(t, y, [][]float64{one, d}, x)
		bound, err := AsStrongAs(math.Max(kTerm, kResponse), partialR2(t, d, [][]float64{one}, x), partialR2(t, y, [][]float64{one, d}, x))
		if err != nil {
			t.Fatal(err)
		}
		if bound.Response < own.Response-1e-9 || bound.Term < own.Term-1e-9 {
			t.Fatalf("bounds %+v, the confounder's own shares %+v", bound, own)
		}
	}
}

func TestConfounderRefuses(t *testing.T) {
	for _, c := range [][3]float64{{0, 0.1, 0.1}, {-1, 0.1, 0.1}, {1, 1, 0.1}, {1, 0.1, 1}, {1, math.NaN(), 0.1}, {math.Inf(1), 0.1, 0.1}} {
		if _, err := AsStrongAs(c[0], c[1], c[2]); !errors.Is(err, ErrArgument) {
			t.Errorf("%v: error %v", c, err)
		}
	}
	if c, err := AsStrongAs(20, 0.1, 0.3); err != nil || c.Term != 1 || c.Response != 1 {
		t.Errorf("beyond any confounder: %+v, %v", c, err)
	}
	if _, err := (Confounder{Term: 1, Response: 0.1}).Adjusted(1, 1, 10); !errors.Is(err, ErrArgument) {
		t.Errorf("unbounded bias: error %v", err)
	}
	if v, err := (Confounder{Term: 0.5, Response: 0.5}).Adjusted(-1, 0.1, 100); err != nil || v <= -1 {
		t.Errorf("the bias pulls away from zero: %v, %v", v, err)
	}
}

func fitOf(t *testing.T, y []float64, columns ...[]float64) *Model {
	t.Helper()
	p := Problem{Response: y, Columns: columns}
	for i := range columns {
		p.Terms = append(p.Terms, string(rune('0'+i)))
	}
	return mustFit(t, p)
}

func residualsOf(t *testing.T, y []float64, columns ...[]float64) []float64 {
	return fitOf(t, y, columns...).Residuals
}

func norm(v []float64) float64 {
	var s float64
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s)
}

// partialR2 is the share of what the columns leave of y that z explains.
func partialR2(t *testing.T, y []float64, columns [][]float64, z []float64) float64 {
	before := norm(residualsOf(t, y, columns...))
	after := norm(residualsOf(t, y, append(append([][]float64{}, columns...), z)...))
	return 1 - after*after/(before*before)
}
