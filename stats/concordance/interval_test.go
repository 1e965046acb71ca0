package concordance_test

import (
	"errors"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"

	"lengthwise/stats/concordance"
	"lengthwise/stats/internal/reference"
)

func TestEveryEntryOfInterval(t *testing.T) {
	f := reference.Read(t, os.DirFS("testdata"), "interval.json")
	for _, name := range f.Keys("sets") {
		at := "sets/" + name + "/"
		tally := concordance.Tally{
			Concordant: f.Input(t, at+"concordant"), Discordant: f.Input(t, at+"discordant"), Tied: f.Input(t, at+"tied"),
		}
		tally.Blocks = positions(len(tally.Tied))
		got, err := tally.Interval(0.95)
		if err != nil {
			t.Fatal(err)
		}
		estimate, err := tally.Estimate()
		if err != nil {
			t.Fatal(err)
		}
		at += "result/"
		f.Near(t, estimate, 1e-12, at+"estimate")
		f.Near(t, got.StdError, 1e-10, at+"se")
		f.Near(t, got.DF, 1e-8, at+"df")
		f.Near(t, got.Low, 1e-8, at+"low")
		f.Near(t, got.High, 1e-8, at+"high")
	}
	f.Complete(t)
}

func drawTally(t *rapid.T) concordance.Tally {
	var out concordance.Tally
	count := rapid.IntRange(0, 40)
	for k := range rapid.IntRange(2, 12).Draw(t, "blocks") {
		out.Blocks = append(out.Blocks, k)
		out.Concordant = append(out.Concordant, float64(count.Draw(t, "concordant")))
		out.Discordant = append(out.Discordant, float64(count.Draw(t, "discordant")))
		out.Tied = append(out.Tied, float64(count.Draw(t, "tied")))
	}
	return out
}

// TestIntervalByLeavingOut goes the road of the definition: each block is taken out,
// and the matrix of the degrees of freedom is written out in full.
func TestIntervalByLeavingOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tally := drawTally(t)
		got, err := tally.Interval(0.9)
		var few *concordance.TooFewError
		var same *concordance.NoVariationError
		if errors.As(err, &few) || errors.As(err, &same) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		e, _ := tally.Estimate()
		var square float64
		var w []float64
		for k := range tally.Blocks {
			own := tally.Concordant[k] + tally.Discordant[k] + tally.Tied[k]
			if own == 0 {
				continue
			}
			without := concordance.Tally{
				Blocks: positions(len(tally.Blocks)), Concordant: append([]float64(nil), tally.Concordant...),
				Discordant: append([]float64(nil), tally.Discordant...), Tied: append([]float64(nil), tally.Tied...),
			}
			without.Concordant[k], without.Discordant[k], without.Tied[k] = 0, 0, 0
			other, err := without.Estimate()
			if err != nil {
				t.Fatal(err)
			}
			share := own / tally.Pairs()
			square += (1 - share) * (other - e) * (other - e)
			w = append(w, share)
		}
		var trace, traceOfSquare float64
		for i := range w {
			for j := range w {
				p := -w[i] * w[j]
				if i == j {
					p += w[i]
					trace += p / (1 - w[i])
				}
				p /= math.Sqrt((1 - w[i]) * (1 - w[j]))
				traceOfSquare += p * p
			}
		}
		if want := math.Sqrt(square); math.Abs(got.StdError-want) > 1e-10*want {
			t.Errorf("standard error %v, by leaving out %v", got.StdError, want)
		}
		if want := trace * trace / traceOfSquare; math.Abs(got.DF-want) > 1e-9*want {
			t.Errorf("%v degrees of freedom, want %v", got.DF, want)
		}
		if !(got.Low >= 0 && got.Low < e && e < got.High && got.High <= 1) || got.DF < 1-1e-12 || got.DF > float64(len(w)-1)+1e-9 {
			t.Errorf("%+v about %v of %d blocks", got, e, len(w))
		}
		// Which of two columns is turned round does not matter.
		turned := tally
		turned.Concordant, turned.Discordant = tally.Discordant, tally.Concordant
		back, err := turned.Interval(0.9)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(back.Low+got.High-1) > 1e-12 || math.Abs(back.High+got.Low-1) > 1e-12 {
			t.Errorf("%+v, turned round %+v", got, back)
		}
	})
}

// TestCommonVariances: the variance of a pair, weighted by blocks less one, over the
// pairs of each; tallies with one block take part; one tally alone keeps its own.
func TestCommonVariances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var tallies []concordance.Tally
		var sum, df float64
		for range rapid.IntRange(1, 6).Draw(t, "tallies") {
			tally := drawTally(t)
			tally.Concordant[0]++ // never without pairs
			tallies = append(tallies, tally)
			interval, err := tally.Interval(0.95)
			blocks := -1.
			for k := range tally.Blocks {
				if tally.Concordant[k]+tally.Discordant[k]+tally.Tied[k] > 0 {
					blocks++
				}
			}
			if err == nil {
				sum += blocks * tally.Pairs() * interval.StdError * interval.StdError
			}
			df += blocks
		}
		got, err := concordance.CommonVariances(tallies)
		if sum == 0 {
			if err == nil {
				t.Fatalf("%v from nothing", got)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range got {
			if want := sum / df / tallies[i].Pairs(); math.Abs(v-want) > 1e-9*want {
				t.Errorf("tally %d: %v, want %v", i, v, want)
			}
		}
	})
}
