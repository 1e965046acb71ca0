package analyse

import (
	"fmt"
	"math"
	"slices"
	"time"

	"lengthwise/pipeline/derive"
	"lengthwise/pipeline/study"
	"lengthwise/schemas"
	"lengthwise/stats/linear"
)

// maximal is the effort, noted with a swim, that critical speed rests on. From
// training alone nobody can know which swims were as fast as could be.
const maximal = "maximal"

const (
	// Swims of 150 to 1600 m count: the distances of 200 to 1500 m that are swum
	// for it, and what a pool makes of them.
	shortestTest, longestTest = 150.0, 1600.0
	// longestTestSpan is how many days may lie between maximal swims before the
	// row warns that fitness may have changed between them (common practice, no
	// source).
	longestTestSpan = 60
	// leastTestRatio is how far apart the shortest and the longest must be, or the
	// line has no length to stand on.
	leastTestRatio = 1.5
)

// criticalSpeed regresses distance on time over the swims noted as maximal
// (Wakayoshi et al. 1992): the slope is critical speed, the distance at no time
// the reserve. Swims that were cut into blocks are put together again.
func criticalSpeed(bouts []derive.Bout, s *study.Study) []schemas.CriticalSpeed {
	var out []schemas.CriticalSpeed
	for _, stroke := range s.Analysis.Strokes {
		row := schemas.CriticalSpeed{Swimmer: bouts[0].Swimmer, Stroke: stroke}
		var others []*derive.Bout
		any := false
		for i := range bouts {
			b := &bouts[i]
			any = any || b.Stroke == stroke
			if b.Stroke == stroke && b.Usable && b.Tags.Effort != maximal {
				others = append(others, b)
			}
		}
		if !any {
			continue
		}
		row.Bouts = int32(len(others))
		if reason := testLine(&row, maximalSwims(bouts, stroke)); reason != "" {
			row.Reason = &reason
		} else {
			limit := *row.CriticalSpeedMPS
			if row.SpeedHighMPS != nil {
				limit = *row.SpeedHighMPS
			}
			above := int32(0)
			for _, b := range others {
				if b.SpeedMPS > limit {
					above++
				}
			}
			row.BoutsAbove = &above
		}
		out = append(out, row)
	}
	return out
}

// test is one swim noted as maximal.
type test struct {
	metres, seconds float64
	date            string
}

// maximalSwims puts the blocks of each maximal swim together; swims of which a
// part was left out are not among them.
func maximalSwims(bouts []derive.Bout, stroke string) []test {
	type key struct {
		session string
		swim    int
	}
	var order []key
	swims := map[key]test{}
	broken := map[key]bool{}
	for i := range bouts {
		b := &bouts[i]
		if b.Stroke != stroke || b.Tags.Effort != maximal {
			continue
		}
		k := key{b.Session, b.Swim}
		t, known := swims[k]
		if !known {
			order = append(order, k)
		}
		// A swim's first block is number 1; a second one of that number follows a gap.
		broken[k] = broken[k] || known && b.Block == 1
		swims[k] = test{t.metres + b.DistanceM, t.seconds + b.DurationS, b.LocalDate}
	}
	var out []test
	for _, k := range order {
		if t := swims[k]; !broken[k] && t.metres >= shortestTest && t.metres <= longestTest {
			out = append(out, t)
		}
	}
	return out
}

// testLine fills in the line through the swims and returns why there is none.
func testLine(row *schemas.CriticalSpeed, swims []test) string {
	row.Swims = int32(len(swims))
	if len(swims) == 0 {
		return "no swim of 200 to 1500 m is noted as maximal (key effort, value maximal)"
	}
	var metres, seconds, one []float64
	var dates []string
	for _, t := range swims {
		metres, seconds, one = append(metres, t.metres), append(seconds, t.seconds), append(one, 1)
		dates = append(dates, t.date)
	}
	distances := slices.Compact(slices.Sorted(slices.Values(metres)))
	row.Distances = int32(len(distances))
	shortest, longest := distances[0], distances[len(distances)-1]
	row.ShortestM, row.LongestM = &shortest, &longest
	if longest < leastTestRatio*shortest {
		return "the maximal swims are of one distance, or of distances too alike"
	}
	var w warnings
	slope, reserve := 0.0, 0.0
	if len(swims) == 2 {
		slope = (metres[1] - metres[0]) / (seconds[1] - seconds[0])
		reserve = metres[0] - slope*seconds[0]
		w.add("two swims only: there is no saying how sure it is")
	} else {
		m, err := linear.Fit(linear.Problem{Response: metres, Terms: []string{"reserve", "speed"}, Columns: [][]float64{one, seconds}})
		if err != nil {
			return "no line: " + plain(err)
		}
		if len(m.Estimates) < 2 {
			return "no line: the swims took equally long"
		}
		reserve, slope = m.Estimates[0], m.Estimates[1]
		if !m.Exact {
			c := m.Coefficients(m.Classical(), level)
			row.ReserveLowM, row.ReserveHighM = finite(c[0].ConfLow), finite(c[0].ConfHigh)
			row.SpeedLowMPS, row.SpeedHighMPS = finite(c[1].ConfLow), finite(c[1].ConfHigh)
		}
		// The authors' lines had r2 above 0.998.
		if m.RSquared < 0.99 {
			w.add(fmt.Sprintf("the swims lie badly on a line (r2 %.3f): not all of them can have been maximal", m.RSquared))
		}
	}
	if len(distances) == 2 {
		w.add("two distances only")
	}
	if days := daysBetween(dates); days > longestTestSpan {
		w.add(fmt.Sprintf("%d days lie between the swims, in which fitness may have changed", days))
	}
	row.Warnings = w.String()
	if !(slope > 0) || reserve < 0 || math.IsInf(slope, 0) {
		row.SpeedLowMPS, row.SpeedHighMPS, row.ReserveLowM, row.ReserveHighM = nil, nil, nil, nil
		return "the longer swims were the faster ones for their distance, so that not all can have been maximal"
	}
	pace := derive.Pace(slope)
	row.CriticalSpeedMPS, row.ReserveM, row.PaceSPer100M = &slope, &reserve, &pace
	return ""
}

// daysBetween is the days from the first to the last of dates, 0 where they are
// not known.
func daysBetween(dates []string) int {
	first, err := time.Parse(time.DateOnly, slices.Min(dates))
	last, err2 := time.Parse(time.DateOnly, slices.Max(dates))
	if err != nil || err2 != nil {
		return 0
	}
	return int(last.Sub(first).Hours() / 24)
}

// warnOfSpeed adds to answers how many of their bouts were swum above critical
// speed, where heart rate does not become steady. They stay in the models: pace
// is a term of those, and to leave the fast bouts out would pick by it.
func (p *Part) warnOfSpeed() {
	for _, c := range p.Critical {
		if c.BoutsAbove == nil || *c.BoutsAbove == 0 {
			continue
		}
		text := fmt.Sprintf("%d of %d bouts swum faster than critical speed, where heart rate does not become steady", *c.BoutsAbove, c.Bouts)
		add := func(stroke string, warnings *string) {
			switch {
			case stroke != c.Stroke:
			case *warnings == "":
				*warnings = text
			default:
				*warnings += "; " + text
			}
		}
		for i := range p.Score {
			a := &p.Score[i]
			add(a.Row.Stroke, &a.Row.Warnings)
			add(a.Fit.Stroke, &a.Fit.Warnings)
		}
		for i := range p.Economical {
			add(p.Economical[i].Stroke, &p.Economical[i].Warnings)
		}
	}
}
