package read

import (
	"math"
	"strings"

	"lengthwise/pipeline/study"
)

// counted is how a row's strokes were written.
type counted struct {
	strokes float64 // as written, NaN when there are none
	mean    bool    // stated to be the mean of a length
	total   bool    // stated to be the total
	listed  bool    // a count for each length, summed up
}

// parseStrokes reads the count and its basis. An empty count is a row whose
// strokes nobody counted; one that cannot be read becomes one.
func (s *sheetPart) parseStrokes(r *sheetRow, l *Length) {
	text := r.cell("count")
	basis, mean, ok := sheetCount(text)
	if !ok {
		s.note(*r, RuleUnreadable, "count", "%s is not one of: arms, cycles, per-length; the basis of this row is unknown", csvShown(text))
	}
	says := r.says("strokes")
	mean = mean || says.mean || s.src.Input.Strokes == "per-length"
	if basis == "" {
		basis = says.basis
	}
	l.Basis = basis
	l.Strokes = math.NaN()
	r.counted.strokes = math.NaN()
	cell := r.cell("strokes")
	if cell == "" {
		return
	}
	strokes, listed, ok := s.strokes(cell, l.Covers)
	if !ok || strokes < 0 || strokes > mostLengths*100 {
		s.note(*r, RuleUnreadable, "strokes", "%s is no count of strokes; the cell is left out", csvShown(cell))
		return
	}
	r.counted = counted{strokes: strokes, mean: mean, total: s.src.Input.Strokes == "total", listed: listed}
	if mean && !listed {
		strokes *= float64(l.Covers)
	}
	if listed {
		s.note(*r, RuleStrokesDoubt, "strokes", "a count for each of the %d lengths; their sum is used", l.Covers)
	}
	l.Strokes = strokes
}

// sheetCount reads the count column: what counts as a stroke, and whether the
// number is the mean of a length. Both may stand together, as in "cycles,
// per-length".
func sheetCount(cell string) (basis study.CountBasis, mean, ok bool) {
	word := strings.ReplaceAll(csvWord(cell), "per-length", "perlength")
	for _, token := range strings.FieldsFunc(word, func(c rune) bool { return strings.ContainsRune("-,;+/", c) }) {
		stated := study.CountBasis(token)
		switch {
		case token == "perlength":
			mean = true
		case stated == study.Arms && (basis == "" || basis == stated):
			basis = study.Arms
		case stated == study.Cycles && (basis == "" || basis == stated):
			basis = study.Cycles
		default:
			return study.UnknownBasis, mean, false
		}
	}
	return basis, mean, true
}

// strokes reads a count: 20, 20.5, 20½, or one for each length, 18/19/19/20.
func (s *sheetPart) strokes(cell string, covers int) (strokes float64, listed, ok bool) {
	parts := strings.FieldsFunc(cell, func(c rune) bool { return c == '/' || c == '+' || c == ' ' || c == ';' })
	if len(parts) > 1 && len(parts) == covers {
		for _, part := range parts {
			x, ok := s.table.csvNumber(part)
			if !ok || x < 0 {
				return 0, false, false
			}
			strokes += x
		}
		return strokes, true, true
	}
	if whole, found := strings.CutSuffix(cell, "½"); found {
		x, ok := s.table.csvNumber(strings.TrimSpace(whole))
		return x + 0.5, false, ok && x == math.Trunc(x)
	}
	x, ok := s.table.csvNumber(cell)
	return x, false, ok
}

// What no swim of several lengths can be: so many metres a stroke, at so low a
// rate, counting push-offs and turns (common practice, no source: nine arm
// strokes for 25 m are very few, 2.8 m each). Cycles hold two arm strokes, and a
// count on an unknown basis may be of cycles.
const (
	longestStrokeM  = 4.2
	longStrokeM     = 3.3 // together with a rate below lowRate
	lowRate         = 22.0
	shortestStrokeM = 0.4 // less than a child's
)

// strokeFit tells what a count of strokes of a row can be.
type strokeFit struct{ total, mean bool }

func (r *sheetRow) strokeFit(basis study.CountBasis, poolM float64) strokeFit {
	arms := 2.0
	if basis == study.Arms && r.length.Stroke != "breaststroke" && r.length.Stroke != "butterfly" {
		arms = 1
	}
	metres := poolM * float64(r.length.Covers)
	can := func(strokes float64) bool {
		each, rate := metres/strokes/arms, 60*strokes*arms/r.length.DurationS
		designed := r.length.Tags.Instruction != "" || !math.IsNaN(r.length.Tags.RateTargetSPM)
		return each <= longestStrokeM && (each <= longStrokeM || rate >= lowRate || designed) && metres/strokes >= shortestStrokeM
	}
	return strokeFit{total: can(r.counted.strokes), mean: can(r.counted.strokes * float64(r.length.Covers))}
}

// seeCounts looks for counts of repeats that can only be means of a length, or only
// totals.
func (s *sheetPart) seeCounts() {
	s.eachCount(func(r *sheetRow, fit strokeFit) {
		if !r.counted.mean {
			s.signs.onlyMean = s.signs.onlyMean || fit.mean && !fit.total
			s.signs.onlyTotal = s.signs.onlyTotal || fit.total && !fit.mean
		}
	})
}

// eachCount gives the counts that may be doubted.
func (s *sheetPart) eachCount(take func(r *sheetRow, fit strokeFit)) {
	for _, g := range s.groups {
		for i := range g.rows {
			r := &g.rows[i]
			if r.excluded || r.length.Covers < 2 || r.length.Drill || !(r.counted.strokes > 0) || r.counted.listed || r.counted.total {
				continue
			}
			basis := r.length.Basis
			if basis == "" {
				basis = s.src.basis()
			}
			take(r, r.strokeFit(basis, r.length.PoolM))
		}
	}
}

// doubtStrokes leaves out the counts of repeats that cannot be what the sheet
// says or, where it says nothing, a total: means of a length that nobody named
// so. Where some can only be means, those that may be either are left out too,
// unless another can only be a total.
func (s *sheetPart) doubtStrokes() {
	s.eachCount(func(r *sheetRow, fit strokeFit) {
		metres := r.length.PoolM * float64(r.length.Covers)
		switch {
		case r.counted.mean && fit.total && !fit.mean:
			s.note(*r, RuleStrokesDoubt, "strokes", "%.4g strokes a length would be %.2g m a stroke; if they are those of all %.4g m, take per-length away; the cell is left out",
				r.counted.strokes, r.length.PoolM/r.counted.strokes, metres)
		case !r.counted.mean && fit.mean && !fit.total:
			s.note(*r, RuleStrokesDoubt, "strokes", "%.4g strokes for %.4g m would be %.2g m a stroke; if they are the mean of a length, write per-length in the column count, or strokes: per-length in the study file's input; the cell is left out",
				r.counted.strokes, metres, metres/r.counted.strokes)
		case !r.counted.mean && fit.mean && fit.total && s.habits.means:
			s.note(*r, RuleStrokesDoubt, "strokes", "other rows of the sheet can only hold the mean of a length, and this one may too; write strokes: per-length or strokes: total in the study file's input; the cell is left out")
		default:
			return
		}
		r.length.Strokes = math.NaN()
	})
}
