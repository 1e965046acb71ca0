package read

import (
	"math"
	"slices"
	"strings"
)

// markTotals excludes rows that cover a repeat whose lengths have rows of their
// own: rows of the same set and repeat, or just before or after it with the
// same time in all. Lengths have one totals row: a repeat that took as long as
// its neighbour is none.
func (s *sheetPart) markTotals(g *sheetGroup) {
	type repeat struct{ set, rep string }
	lengths := map[repeat]bool{}
	whole := map[repeat]bool{} // repeats with a row that covers them
	for _, r := range g.rows {
		switch {
		case r.rep == "":
		case r.kind == KindLength:
			lengths[repeat{r.set, r.rep}] = true
		case !r.excluded:
			whole[repeat{r.set, r.rep}] = true
		}
	}
	summed := make([]bool, len(g.rows))
	for i, r := range g.rows {
		summed[i] = r.kind == KindLength && whole[repeat{r.set, r.rep}]
	}
	for i := range g.rows {
		r := &g.rows[i]
		if r.kind != KindRepeat || r.excluded {
			continue
		}
		from, to := g.lengthsOf(i)
		if !lengths[repeat{r.set, r.rep}] {
			covers := r.length.Covers
			switch {
			case g.sums(i, i-covers, summed):
				from, to = i-covers, i
			case g.sums(i, i+1, summed):
				from, to = i+1, i+1+covers
			default:
				continue
			}
		}
		r.excluded = true
		handed := g.handDown(i, from, to, s.habits.restAfter)
		what := "what else stands here is not used"
		if len(handed) > 0 {
			what = listed(handed) + " of this row stand for them"
		}
		s.exclude(*r, RuleTotalsRow, "", "the lengths of this repeat have rows of their own; %s", what)
		r.length.DurationS, r.length.RestS = 0, 0 // the lengths move the clock
	}
}

// lostWithTotals says of a row that is called a total in the column of lengths
// which measured cells go with it: they may be the mean of the lengths, or what
// was measured after the last, and nothing tells which.
func (s *sheetFront) lostWithTotals(row csvRow) string {
	at := s.section.layout.views[0].at
	text := func(column string) string {
		if i, ok := at[column]; ok && i < len(row.cells) {
			return csvText(row.cells[i])
		}
		return ""
	}
	if !isTotalWord(text("length")) {
		return ""
	}
	var lost []string
	for _, column := range []string{"hr", countColumn, "rpe", "lactate", "lactate_before", "vo2", "rest"} {
		if text(column) != "" {
			lost = append(lost, column)
		}
	}
	if len(lost) == 0 {
		return ""
	}
	return "; not used from it: " + listed(lost) + "; what belongs to the whole repeat is used when, " +
		"in place of the word, the length is left blank and distance_m gives the repeat's metres"
}

// isTotalWord reports whether a cell calls its row a total.
func isTotalWord(cell string) bool { return totalWords[plainWord(strings.Trim(cell, " :"))] }

// lengthsOf finds the rows of lengths beside row i, after it or before it, that
// state its set and repeat; none when there are none.
func (g *sheetGroup) lengthsOf(i int) (from, to int) {
	own := func(k int) bool {
		return k >= 0 && k < len(g.rows) && g.rows[k].kind == KindLength && g.rows[k].set == g.rows[i].set && g.rows[k].rep == g.rows[i].rep
	}
	from, to = i+1, i+1
	for own(to) {
		to++
	}
	if to == from {
		for from, to = i, i; own(from - 1); from-- {
		}
	}
	return from, to
}

// handDown gives the lengths in rows from <= k < to what the row that covers
// them says and they leave blank: the rest before the first, what was measured
// after the last, what was set for all. It lists what was given.
func (g *sheetGroup) handDown(i, from, to int, restAfter bool) (handed []string) {
	if from >= to {
		return nil
	}
	whole, first, last := &g.rows[i].length, &g.rows[from].length, &g.rows[to-1].length
	give := func(name string, into *float64, value float64) {
		if math.IsNaN(*into) && !math.IsNaN(value) {
			*into = value
			handed = append(handed, name)
		}
	}
	if whole.RestS > 0 && restAfter {
		give("rest", &last.RestS, whole.RestS)
	} else if whole.RestS > 0 {
		give("rest", &first.RestS, whole.RestS)
	}
	if math.IsNaN(last.End.HRBPM) && !math.IsNaN(whole.End.HRBPM) {
		last.End = whole.End
		handed = append(handed, "hr")
	}
	give("rpe", &last.Tags.RPE, whole.Tags.RPE)
	give("lactate", &last.Tags.LactateMMOL, whole.Tags.LactateMMOL)
	give("lactate_before", &first.Tags.LactateBefore, whole.Tags.LactateBefore)
	give("vo2", &last.Tags.VO2, whole.Tags.VO2)
	set := false
	for k := from; k < to; k++ {
		t := &g.rows[k].length.Tags
		word := func(into *string, value string) {
			if *into == "" && value != "" {
				*into, set = value, true
			}
		}
		number := func(into *float64, value float64) {
			if math.IsNaN(*into) && !math.IsNaN(value) {
				*into, set = value, true
			}
		}
		word(&t.Instruction, whole.Tags.Instruction)
		word(&t.Kick, whole.Tags.Kick)
		word(&t.Equipment, whole.Tags.Equipment)
		number(&t.RateTargetSPM, whole.Tags.RateTargetSPM)
		number(&t.Breathing, whole.Tags.Breathing)
		number(&g.rows[k].length.WallTimeS, whole.WallTimeS)
		if l := &g.rows[k].length; l.Stroke == "unknown" && !l.Drill && (whole.Stroke != "unknown" || whole.Drill) {
			l.Stroke, l.Drill, set = whole.Stroke, whole.Drill, true
		}
	}
	if set {
		handed = append(handed, "settings")
	}
	return handed
}

// sums reports whether the lengths in rows from on, which no other row sums
// up and which state no other set or repeat, add up to row i, which covers
// several. Those lengths are then summed.
func (g *sheetGroup) sums(i, from int, summed []bool) bool {
	whole := g.rows[i]
	covers := whole.length.Covers
	if covers < 2 || from < 0 || from+covers > len(g.rows) {
		return false
	}
	other := func(a, b string) bool { return a != "" && b != "" && a != b }
	total := 0.0
	for k := from; k < from+covers; k++ {
		r := &g.rows[k]
		if r.kind != KindLength || summed[k] || other(r.set, whole.set) || other(r.rep, whole.rep) {
			return false
		}
		total += r.length.DurationS
	}
	if !(math.Abs(total-whole.length.DurationS) <= math.Max(0.5, 0.005*whole.length.DurationS)) {
		return false
	}
	for k := from; k < from+covers; k++ {
		summed[k] = true
	}
	return true
}

// markSums excludes repeats that are the sums, or the means, of the rows above
// them without saying so: they state no repeat of their own and no rest,
// and distance, time and strokes are those of all rows since the last such row.
func (s *sheetPart) markSums(g *sheetGroup) {
	numbered := slices.ContainsFunc(g.rows, func(r sheetRow) bool { return r.rep != "" })
	from := 0
	for i := range g.rows {
		r := &g.rows[i]
		if i > from && g.rows[i-1].set != r.set && r.set != "" {
			from = i
		}
		if r.excluded || r.kind != KindRepeat || r.length.RestS > 0 || numbered && r.rep != "" {
			continue
		}
		if word := g.sumOrMean(from, i); word != "" {
			r.excluded = true
			s.exclude(*r, RuleTotalsRow, "", "distance, time and strokes are the %s of the rows above", word)
			r.length.DurationS, r.length.RestS = 0, 0
			from = i + 1
		}
	}
}

// sumOrMean tells whether row i is the sum or the mean of the rows from on, ""
// for neither. A mean must show itself by a fraction of a stroke, or leave its
// swimmer to the rows above.
func (g *sheetGroup) sumOrMean(from, i int) string {
	n, covers, seconds, strokes, alike := 0, 0, 0.0, 0.0, true
	row := &g.rows[i]
	for k := from; k < i; k++ {
		if r := &g.rows[k]; !r.excluded {
			n, covers, seconds, strokes = n+1, covers+r.length.Covers, seconds+r.length.DurationS, strokes+r.counted.strokes
			alike = alike && r.length.Covers == row.length.Covers
		}
	}
	if n < 2 {
		return ""
	}
	count := float64(n)
	near := func(a, b, by float64) bool { return math.Abs(a-b) <= by }
	own := row.counted.strokes
	switch {
	case covers == row.length.Covers && near(seconds, row.length.DurationS, 0.05+0.06*count) && (math.IsNaN(own) || near(strokes, own, 0.51)):
		return "sum"
	case alike && near(seconds/count, row.length.DurationS, 0.06) && near(strokes/count, own, 0.51) && (own != math.Trunc(own) || row.filled):
		return "mean"
	}
	return ""
}
