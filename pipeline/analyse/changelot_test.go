package analyse

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestLotsBySwimmersByHand: the p of dealing dates out over swimmers is the
// share of all orders whose distance from the mean over orders is as large.
func TestLotsBySwimmersByHand(t *testing.T) {
	for seed := range uint64(20) {
		stream := rand.New(rand.NewPCG(seed, 6))
		const swimmers, sessions = 6, 10 // the last one is left as they are
		dates := make([]string, sessions)
		for k := range dates {
			dates[k] = day(k)
		}
		from := []int{2, 5, 8}               // the schedules' first sessions
		schedule := []int{0, 0, 1, 1, 2, -1} // of the swimmers
		active := func(s int, date string) bool { return date >= dates[from[s]] }
		p := panel{swimmers: swimmers}
		for i := range swimmers {
			for k := range sessions {
				l := sessionLevel{date: dates[k], day: dayNumber(dates[k]), cost: 3*stream.NormFloat64() + float64(k*k)/5}
				p.add(i, l, schedule[i] >= 0 && active(schedule[i], dates[k]))
			}
		}
		p.layPeriods([]string{dates[2], dates[5], dates[8]})
		got := p.bySwimmers(schedule, len(from), active, 1)
		left, ok := p.leftOf(p.cost)
		if !ok || !got.ok {
			t.Fatal("no lots")
		}
		sum := func(order []int) float64 {
			var s float64
			for i, k := range p.swimmer {
				if k < len(order) && active(order[k], p.date[i]) {
					s += left[i]
				}
			}
			return s
		}
		var all []float64
		var deal func(order, rest []int)
		deal = func(order, rest []int) {
			if len(rest) == 0 {
				all = append(all, sum(order))
			}
			for i := range rest {
				others := append(append([]int{}, rest[:i]...), rest[i+1:]...)
				deal(append(append([]int{}, order...), rest[i]), others)
			}
		}
		deal(nil, schedule[:5])
		center, made, asFar := mean(all), sum(schedule[:5]), 0
		for _, s := range all {
			if math.Abs(s-center) >= math.Abs(made-center)-1e-9 {
				asFar++
			}
		}
		if want := float64(asFar) / float64(len(all)); math.Abs(got.p-want) > 1e-9 || got.ways != 30 {
			t.Errorf("seed %d: p %v of %v ways, want %v", seed, got.p, got.ways, want)
		}
	}
}
