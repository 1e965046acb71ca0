package read

import (
	"maps"
	"math"
	"slices"
	"strings"

	"lengthwise/pipeline/study"
)

// columnTraits is what a column as a whole tells of its cells.
type columnTraits struct {
	rows      int     // below the header
	namesOnce bool    // names stand on the first row of a swimmer's rows alone
	counts    bool    // heart rates too low for beats a minute in every row
	scale6    bool    // effort on Borg's scale from 6 to 20
	typicalHR float64 // the median of heart rates in beats a minute, NaN when there are none
	distances bool    // under length stand metres (in a yards pool, yards), not numbers
}

// columnTraits looks through the rows once, for the order of dates too.
func (s *sheetFront) columnTraits(rows *csvRows) (columnTraits, error) {
	var t columnTraits
	named, unnamed := 0, 0
	pulses := map[float64]int{}
	numbers, whole := 0, 0 // of lengths, and those that are a whole number of pools
	var dates []string
	dated := map[string]bool{}
	if c, ok := s.section.constants["date"]; ok {
		dates = append(dates, c.text)
	}
	for {
		row, ok, err := rows.next()
		if err != nil {
			return t, err
		}
		if !ok {
			break
		}
		t.rows++
		for k := range s.section.layout.views {
			v := &s.section.layout.views[k]
			cell := func(column string) string {
				if i, ok := v.at[column]; ok && i < len(row.cells) {
					return csvText(row.cells[i])
				}
				return ""
			}
			if bpm, ok := s.table.csvNumber(cell("hr")); ok {
				pulses[bpm]++
			}
			if n, ok := s.metres(cell("length"), false); ok && n > 0 {
				numbers++
				if s.wholePools(n, cell("pool"), v) {
					whole++
				}
			}
			if rpe, ok := s.table.csvNumber(cell("rpe")); ok && rpe > 12 && rpe <= 20 {
				t.scale6 = true
			}
			if k > 0 {
				continue
			}
			if date := cell("date"); date != "" && !dated[date] { // each once: only which there are counts
				date = strings.Clone(date)
				dated[date] = true
				dates = append(dates, date)
			}
			if cell("time") != "" {
				if cell("swimmer") == "" {
					unnamed++
				} else {
					named++
				}
			}
		}
	}
	t.namesOnce = unnamed >= named && named > 0
	t.typicalHR = math.NaN()
	if ordered := slices.Sorted(maps.Keys(pulses)); len(ordered) > 0 {
		t.typicalHR = medianOf(ordered, pulses)
		t.counts = ordered[len(ordered)-1] <= highestCount
	}
	if t.distances = numbers > 0 && whole == numbers && !s.has("distance_m"); t.distances {
		s.noteFile(RuleLengthDistance, "every number under length is a whole number of pools and none is 1, 2 or 3: they are read as distances")
		s.traits.distances = true
		s.lengthsAreDistances()
	}
	s.dates = s.src.Input.Dates
	if s.dates == study.AnyOrder {
		if s.dates = dateOrderOf(dates); s.dates != study.AnyOrder {
			s.noteOrder(dates)
		}
	}
	return t, nil
}

// medianOf is the upper median of values that are there so often.
func medianOf(ordered []float64, often map[float64]int) float64 {
	n := 0
	for _, x := range ordered {
		n += often[x]
	}
	left := n / 2
	for _, x := range ordered {
		if left < often[x] {
			return x
		}
		left -= often[x]
	}
	return math.NaN()
}

// lengthsAreDistances reads what is under length as distance.
func (s *sheetFront) lengthsAreDistances() {
	for _, v := range s.section.layout.views {
		if i, ok := v.at["length"]; ok {
			v.at["distance_m"], v.says["distance_m"] = i, heading{column: "distance_m", inPool: true}
			delete(v.at, "length")
		}
	}
}

// wholePools reports whether a number under length can be a distance: one pool
// or several, in the pool's unit.
func (s *sheetFront) wholePools(n float64, pool string, v *sheetView) bool {
	if pool == "" {
		pool = s.section.constants["pool"].text
	}
	says := v.says["pool"]
	if _, ok := v.at["pool"]; !ok {
		says = s.section.constants["pool"].says
	}
	metres, err := s.memory.pool(pool, says.pool)
	if err != nil {
		metres = s.src.Input.PoolM
	}
	if !(metres > 0) {
		return false
	}
	if wholeYards(metres) {
		metres = math.Round(metres / study.MetresPerYard)
	}
	_, whole := poolLengths(n, metres)
	return whole
}

// noteOrder says how dates of two meanings are read where there are any.
func (s *sheetFront) noteOrder(dates []string) {
	if slices.ContainsFunc(dates, func(cell string) bool {
		return csvDate(cell, study.AnyOrder).day == "" && csvDate(cell, s.dates).day != ""
	}) {
		s.noteFile(RuleDateOrder, "dates that can be read in two ways are read %s, as another of the column can only be", s.dates)
	}
}
