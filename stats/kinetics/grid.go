package kinetics

import (
	"fmt"
	"math"
)

// Nodes is how many time constants a [Grid] has. Between them everything is read
// from the polynomial through all: over a range of 15 to 90 s a steady level is then
// off by less than 0.001 of the rise, however short the bout (TestGridIsExact).
const Nodes = 9

// Grid is a range of time constants with the points at which profiles are laid: the
// Chebyshev points of ln tau, ends included. It is read only, so that goroutines may
// share one.
type Grid struct {
	middle, half float64 // of the range of ln tau
	rates        [Nodes]float64
	toSeries     [Nodes][Nodes]float64
}

// Series is a function of ln tau over a grid's range by its Chebyshev coefficients.
type Series [Nodes]float64

// NewGrid lays a grid from one time constant to another, both in seconds. It returns
// ErrArgument unless 0 < low < high.
func NewGrid(low, high float64) (*Grid, error) {
	if !(low > 0 && high > low) || math.IsInf(high, 0) {
		return nil, fmt.Errorf("kinetics: %w: time constants from %v to %v s", ErrArgument, low, high)
	}
	g := &Grid{middle: (math.Log(high) + math.Log(low)) / 2, half: (math.Log(high) - math.Log(low)) / 2}
	const last = Nodes - 1
	for k := range Nodes {
		g.rates[k] = math.Exp(-(g.middle + g.half*math.Cos(math.Pi*float64(k)/last)))
	}
	// The discrete cosine transform that turns values at the points into
	// coefficients: ends count half, in points and in coefficients.
	for j := range Nodes {
		for k := range Nodes {
			w := 2.0 / last * math.Cos(math.Pi*float64(j*k%(2*last))/last)
			if j == 0 || j == last {
				w /= 2
			}
			if k == 0 || k == last {
				w /= 2
			}
			g.toSeries[j][k] = w
		}
	}
	return g, nil
}

// Low and High are the ends of the range in ln seconds.
func (g *Grid) Low() float64  { return g.middle - g.half }
func (g *Grid) High() float64 { return g.middle + g.half }

func (g *Grid) series(values *[Nodes]float64) (s Series) {
	for j := range s {
		for k, v := range values {
			s[j] += g.toSeries[j][k] * v
		}
	}
	return s
}

// At gives a series and its slope in ln tau there. Beyond the range it takes the
// nearer end.
func (g *Grid) At(s *Series, lnTau float64) (value, slope float64) {
	z := math.Max(-1, math.Min(1, (lnTau-g.middle)/g.half))
	// Clenshaw's recurrence, and its derivative in z.
	var b1, b2, d1, d2 float64
	for j := Nodes - 1; j > 0; j-- {
		b1, b2, d1, d2 = s[j]+2*z*b1-b2, b1, 2*b1+2*z*d1-d2, d1
	}
	return s[0] + z*b1 - b2, (b1 + z*d1 - d2) / g.half
}
