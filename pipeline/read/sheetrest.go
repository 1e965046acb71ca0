package read

import (
	"math"
	"slices"
	"strings"
)

// seeRests looks whether in every session each repeat has a rest but the last, which
// no rest before its row would be.
func (s *sheetPart) seeRests() {
	for _, g := range s.groups {
		for i := range g.rows {
			r := &g.rows[i]
			if last := i == len(g.rows)-1; r.kind != KindRepeat || last != (r.ownCell("rest") == "") {
				s.signs.restsBefore = true
				return
			}
		}
		s.signs.restsAfter += len(g.rows) - 1
	}
}

// fewestRestAfter is from how many rows on the rests of a session tell where
// rests stand, and the rows of a session that they were pasted twice.
const fewestRestAfter = 3

// shiftRests gives each row the rest that stands in the row before it.
func (s *sheetPart) shiftRests(g *sheetGroup) {
	rest := math.NaN()
	for i := range g.rows {
		r := &g.rows[i]
		if r.excluded && r.length.DurationS == 0 {
			continue // a sum: nothing was swum in it
		}
		rest, r.length.RestS = r.length.RestS, rest
	}
}

// markTwice excludes a row that stands there again right below itself, cell by
// cell, with the number of its repeat, and a group's rows that do so as a block:
// somebody pasted them twice.
func (s *sheetPart) markTwice(g *sheetGroup) {
	same := func(i, k int) bool {
		a, b := &g.rows[i], &g.rows[k]
		return a.rep != "" && a.view == b.view && slices.EqualFunc(a.row.cells, b.row.cells, func(x, y string) bool {
			return strings.TrimSpace(x) == strings.TrimSpace(y)
		})
	}
	half := len(g.rows) / 2
	block := len(g.rows)%2 == 0 && half >= fewestRestAfter
	for k := 0; block && k < half; k++ {
		block = same(k, half+k)
	}
	for i := range g.rows {
		from := i - 1
		if block {
			from = i - half
		}
		if r := &g.rows[i]; from >= 0 && same(from, i) && !r.excluded {
			r.excluded = true
			s.exclude(*r, RuleRowTwice, "", "line %d once more", g.rows[from].row.line)
			r.length.DurationS, r.length.RestS = 0, 0
		}
	}
}
