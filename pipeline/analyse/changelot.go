package analyse

import (
	"math"
	"slices"

	"lengthwise/stats/linear"
	"lengthwise/stats/resample"
)

// lot is what the change's dates, or the swimmers it reached, could have been,
// and how well what happened fits among them.
type lot struct {
	p, smallest, ways float64
	ok                bool
}

// leftOf gives what swimmer, conditions, trend and periods leave of the costs.
func (p *panel) leftOf(values []float64) ([]float64, bool) {
	terms, columns := p.nuisance()
	m, err := linear.Fit(linear.Problem{Response: values, Terms: terms, Columns: columns, Absorb: p.alike})
	if err != nil {
		return nil, false
	}
	return m.Residuals, true
}

func drawn(d resample.Design, err error, statistic func([]int) float64, seed uint64) lot {
	if err != nil {
		return lot{}
	}
	r, err := resample.Randomise(d, statistic, resample.RandomisationOptions{Seed: seed})
	if err != nil {
		return lot{}
	}
	return lot{p: r.PValue, smallest: r.SmallestP, ways: r.Assignments, ok: true}
}

// byDates sets the date of the change against every other day on which it
// could have begun: days of the panel's sessions that leave at least a number of
// sessions on either side. The statistic is how much a step there explains
// beside swimmer, conditions and trend (there are no periods where the calendar decides).
func (p *panel) byDates(fewest int, seed uint64) lot {
	costs, ok := p.leftOf(p.cost)
	if !ok {
		return lot{}
	}
	dates := p.dates()
	place := make([]int, len(p.date))
	for i, date := range p.date {
		place[i], _ = slices.BinarySearch(dates, date)
	}
	made := -1
	var ways [][]int
	for cut := 1; cut < len(dates); cut++ {
		after, same := 0, true
		for i, k := range place {
			if k >= cut {
				after++
			}
			same = same && (k >= cut) == p.on[i]
		}
		if !same && (after < fewest || len(place)-after < fewest) {
			continue
		}
		if same {
			made = len(ways)
		}
		way := make([]int, len(dates))
		for k := cut; k < len(dates); k++ {
			way[k] = 1
		}
		ways = append(ways, way)
	}
	if made < 0 {
		return lot{}
	}
	d, err := resample.Listed(ways, made)
	alike, groups := recoded(p.alike)
	trend := centred(alike, groups, p.day)
	slope := dot(trend, trend)
	on := make([]float64, len(place))
	return drawn(d, err, func(way []int) float64 {
		for i, k := range place {
			on[i] = float64(way[k])
		}
		own := centred(alike, groups, on)
		if slope > 0 {
			along := dot(own, trend) / slope
			for i := range own {
				own[i] -= along * trend[i]
			}
		}
		if size := dot(own, own); size > 0 {
			return dot(own, costs) / math.Sqrt(size)
		}
		return 0
	}, seed)
}

// byPeriods deals the change out anew over the periods between its switches:
// as many with it and without it as there were. Only the swimmers it reaches
// count; the others may stand beside them in the model.
func (p *panel) byPeriods(switches []string, reached func(swimmer int) bool, seed uint64) lot {
	costs, ok := p.leftOf(p.cost)
	if !ok {
		return lot{}
	}
	sum, with, seen := make([]float64, len(switches)+1), make([]int, len(switches)+1), make([]bool, len(switches)+1)
	for i, date := range p.date {
		if !reached(p.swimmer[i]) {
			continue
		}
		k := 0
		for _, day := range switches {
			if date >= day {
				k++
			}
		}
		sum[k] += costs[i]
		seen[k] = true
		with[k] = int(oneIf(p.on[i]))
	}
	var sums []float64
	var labels []int
	for k := range sum {
		if seen[k] {
			sums, labels = append(sums, sum[k]), append(labels, with[k])
		}
	}
	center := mean(sums)
	d, err := resample.Exchange(labels, nil)
	return drawn(d, err, func(way []int) float64 {
		var s float64
		for k, label := range way {
			s += float64(label) * (sums[k] - center)
		}
		return s
	}, seed)
}

// bySwimmers deals the schedules out anew over the swimmers. schedule[i] is
// that of swimmer i, an index into active, which says of a schedule and a date
// whether the change is in force; -1 leaves a swimmer as they are.
func (p *panel) bySwimmers(schedule []int, schedules int, active func(schedule int, date string) bool, seed uint64) lot {
	costs, ok := p.leftOf(p.cost)
	if !ok {
		return lot{}
	}
	var who, labels []int
	place := make([]int, p.swimmers)
	for i, k := range schedule {
		place[i] = -1
		if k >= 0 {
			place[i] = len(who)
			who, labels = append(who, i), append(labels, k)
		}
	}
	// What each swimmer would add to the statistic under each schedule, less
	// the mean over the schedules as they are dealt.
	gain := make([][]float64, len(who))
	for i := range gain {
		gain[i] = make([]float64, schedules)
	}
	for i, k := range p.swimmer {
		if place[k] < 0 {
			continue
		}
		for s := range schedules {
			if active(s, p.date[i]) {
				gain[place[k]][s] += costs[i]
			}
		}
	}
	for i := range gain {
		var center float64
		for _, k := range labels {
			center += gain[i][k] / float64(len(labels))
		}
		for s := range gain[i] {
			gain[i][s] -= center
		}
	}
	d, err := resample.Exchange(labels, nil)
	return drawn(d, err, func(way []int) float64 {
		var s float64
		for i, k := range way {
			s += gain[i][k]
		}
		return s
	}, seed)
}

// seedOfPanel is the seed of a panel's lots, from the study's seed and the
// data.
func (p *panel) seed(study uint64, question string) uint64 {
	return resample.SeedOf(study, question, slices.Clone(p.day), p.cost)
}

// recoded numbers codes from 0 in order of appearance.
func recoded(codes []int) (numbers []int, n int) {
	seen := map[int]int{}
	numbers = make([]int, len(codes))
	for i, code := range codes {
		if _, ok := seen[code]; !ok {
			seen[code] = len(seen)
		}
		numbers[i] = seen[code]
	}
	return numbers, len(seen)
}
