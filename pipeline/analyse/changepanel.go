package analyse

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"lengthwise/stats/linear"
)

// panel is the session levels of one swimmer or of many, with what is asked of
// them: whether the change was in force.
type panel struct {
	swimmer []int
	alike   []int // sessions of one swimmer under the same conditions
	date    []string
	day     []float64 // days since 1970-01-01
	cost    []float64
	on      []bool
	bouts   int

	swimmers int
	reached  []bool      // of the swimmers; nil for all
	periods  [][]float64 // indicators of the calendar periods between switches, but the first; nil where the calendar alone decides
}

const (
	termTrend  = "trend"
	termOn     = "on"
	termPeriod = "period "
)

// add adds a session that has a date.
func (p *panel) add(swimmer int, l sessionLevel, on bool) {
	if math.IsNaN(l.day) {
		return
	}
	p.swimmer, p.alike = append(p.swimmer, swimmer), append(p.alike, swimmer<<16|l.alike)
	p.date, p.day = append(p.date, l.date), append(p.day, l.day)
	p.cost, p.on, p.bouts = append(p.cost, l.cost), append(p.on, on), p.bouts+l.bouts
}

// layPeriods cuts the calendar at the days on which the change goes on or off
// for anybody. Where swimmers with and without it swim in one period, each
// period gets a level of its own: whatever befell everybody then is no doing of
// the change's (the fixed periods of Hussey and Hughes 2007). Else the calendar
// and the change are one, and only a trend can be told from it.
func (p *panel) layPeriods(switches []string) {
	slices.Sort(switches)
	switches = slices.Compact(switches)
	code := make([]int, len(p.date))
	var both = make([]int, len(switches)+1)
	for i, date := range p.date {
		for _, day := range switches {
			if date >= day {
				code[i]++
			}
		}
		if p.on[i] {
			both[code[i]] |= 1
		} else {
			both[code[i]] |= 2
		}
	}
	if !slices.Contains(both, 3) {
		return
	}
	for k := range switches {
		column := make([]float64, len(code))
		for i, c := range code {
			column[i] = oneIf(c == k+1)
		}
		p.periods = append(p.periods, column)
	}
}

// contemporary reports whether sessions with and without the change stand in
// one period.
func (p *panel) contemporary() bool { return p.periods != nil }

// nuisance is everything but the change: trend and periods.
func (p *panel) nuisance() (terms []string, columns [][]float64) {
	middle := mean(p.day)
	trend := make([]float64, len(p.day))
	for i, d := range p.day {
		trend[i] = (d - middle) / 30
	}
	terms, columns = []string{termTrend}, [][]float64{trend}
	for k, column := range p.periods {
		terms, columns = append(terms, fmt.Sprint(termPeriod, k+2)), append(columns, column)
	}
	return terms, columns
}

// step is the change's estimate with the trend beside it.
type step struct {
	on, trend linear.Coefficient
	residuals []float64
	reason    string // why there is none
}

// fit gives the step: cost = swimmer and conditions + trend + periods + on + error. Errors of
// a single swimmer's sessions count as independent, those of a squad are CR2 by
// swimmer.
func (p *panel) fit() step {
	terms, columns := p.nuisance()
	on := make([]float64, len(p.on))
	for i, v := range p.on {
		on[i] = oneIf(v)
	}
	m, err := linear.Fit(linear.Problem{Response: p.cost, Terms: append(terms, termOn), Columns: append(columns, on),
		Absorb: p.alike, Cluster: p.swimmer})
	if err != nil {
		return step{reason: "no fit: " + plain(err)}
	}
	covariance := m.Classical()
	if p.swimmers > 1 {
		if covariance, err = m.Clustered(linear.CR2); err != nil {
			return step{reason: "no interval: " + plain(err)}
		}
	}
	s := step{residuals: m.Residuals}
	if s.on, err = m.Coefficient(termOn, covariance, level); errors.Is(err, linear.ErrNoInformation) {
		return step{reason: "too few swimmers to tell how sure it is"}
	} else if err != nil || m.Exact {
		return step{reason: "cannot be told from the trend, or from the pool, heart-rate source or equipment that changed with it"}
	}
	if s.trend, err = m.Coefficient(termTrend, covariance, level); err != nil {
		s.trend = linear.Coefficient{Estimate: math.NaN()}
	}
	return s
}

// neighbours is the correlation of residuals with those of the session before, by
// swimmer: above zero where sessions near in time are alike.
func (p *panel) neighbours(residuals []float64) float64 {
	var squares, products float64
	n := 0
	for i, r := range residuals {
		squares += r * r
		if i > 0 && p.swimmer[i] == p.swimmer[i-1] {
			products += r * residuals[i-1]
			n++
		}
	}
	if n == 0 || squares == 0 {
		return 0
	}
	return products / float64(n) / (squares / float64(len(residuals)))
}

// sides counts the sessions with the change and without it, the swimmers who
// have both, and those whom it did not reach.
func (p *panel) sides() (with, without, both, unchanged int) {
	has := make([]int, p.swimmers)
	for i, k := range p.swimmer {
		if p.on[i] {
			with++
			has[k] |= 1
		} else {
			without++
			has[k] |= 2
		}
	}
	for k, h := range has {
		switch {
		case h == 3:
			both++
		case h != 0 && p.reached != nil && !p.reached[k]:
			unchanged++
		}
	}
	return with, without, both, unchanged
}

// dates lists the days of the panel in order, each once.
func (p *panel) dates() []string {
	dates := slices.Clone(p.date)
	slices.SortFunc(dates, strings.Compare)
	return slices.Compact(dates)
}
