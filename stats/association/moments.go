package association

import (
	"fmt"
	"math"
)

// Moments are the sums of a set of rows that a correlation needs, with x and
// y measured from an origin chosen by the caller. Sums over sets with the
// same origin add up, so a resample of sets is a weighted sum of Moments.
//
// Choose the origin near the mean: Centred subtracts squares of sums, and
// loses about as many digits as the distance of origin and mean has beyond
// the standard deviation, twice.
type Moments struct {
	N                   float64
	SumX, SumY          float64 // sums of x - originX and y - originY
	SumXX, SumYY, SumXY float64
}

// MomentsOf sums the rows (x[i], y[i]) about the origin, in the order given.
// It fails with a *[LengthError] or a *[NotFiniteError].
func MomentsOf(x, y []float64, originX, originY float64) (Moments, error) {
	if err := checkColumns(x, y); err != nil {
		return Moments{}, err
	}
	if err := checkColumns([]float64{originX}, []float64{originY}); err != nil {
		return Moments{}, fmt.Errorf("origin: %w", err)
	}
	var m Moments
	for i := range x {
		m = m.with(x[i]-originX, y[i]-originY)
	}
	return m, nil
}

func (m Moments) with(dx, dy float64) Moments {
	return Moments{
		N: m.N + 1, SumX: m.SumX + dx, SumY: m.SumY + dy,
		SumXX: m.SumXX + dx*dx, SumYY: m.SumYY + dy*dy, SumXY: m.SumXY + dx*dy,
	}
}

// Add returns the moments of both sets together; their origins must be the
// same.
func (m Moments) Add(o Moments) Moments {
	return Moments{
		N: m.N + o.N, SumX: m.SumX + o.SumX, SumY: m.SumY + o.SumY,
		SumXX: m.SumXX + o.SumXX, SumYY: m.SumYY + o.SumYY, SumXY: m.SumXY + o.SumXY,
	}
}

// Scale returns the moments of the set counted weight times.
func (m Moments) Scale(weight float64) Moments {
	return Moments{
		N: weight * m.N, SumX: weight * m.SumX, SumY: weight * m.SumY,
		SumXX: weight * m.SumXX, SumYY: weight * m.SumYY, SumXY: weight * m.SumXY,
	}
}

// Centred returns the sums of squares and products about the means: SumXX -
// SumX^2/N and its like. All are zero for N = 0.
func (m Moments) Centred() (xx, yy, xy float64) {
	if m.N == 0 {
		return 0, 0, 0
	}
	return m.SumXX - m.SumX*m.SumX/m.N, m.SumYY - m.SumY*m.SumY/m.N, m.SumXY - m.SumX*m.SumY/m.N
}

// Correlation returns the product-moment correlation of the rows. It fails
// with a *[NoVariationError] if x or y does not vary, or varies so little
// about an origin so far away that its variation is lost to rounding.
func (m Moments) Correlation() (float64, error) {
	var p pool
	p.add(m)
	return p.correlation()
}

// lostDigits is the share of a sum of squares below which the centred rest is
// rounding: some hundred spacings of doubles, for sums of hundreds of terms.
const lostDigits = 1e-13

// pool adds up centred sums over sets, each about its own mean.
type pool struct {
	xx, yy, xy   float64
	rawXX, rawYY float64
}

func (p *pool) add(m Moments) {
	xx, yy, xy := m.Centred()
	p.xx += xx
	p.yy += yy
	p.xy += xy
	p.rawXX += m.SumXX
	p.rawYY += m.SumYY
}

func (p *pool) correlation() (float64, error) {
	if !(p.xx > lostDigits*p.rawXX) {
		return 0, &NoVariationError{What: "x"}
	}
	if !(p.yy > lostDigits*p.rawYY) {
		return 0, &NoVariationError{What: "y"}
	}
	return max(-1, min(1, p.xy/(math.Sqrt(p.xx)*math.Sqrt(p.yy)))), nil
}
