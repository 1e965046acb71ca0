package read

import (
	"math"
	"slices"
	"strings"
)

// findRestAfter finds out whether rests stand in the row before them: the header
// says so, or in every session each repeat has one but the last, which no rest
// before its row would be.
func (s *sheetReader) findRestAfter() {
	for _, v := range s.layout.views {
		s.restAfter = s.restAfter || v.says["rest"].after
	}
	rests := 0
	for _, g := range s.groups {
		for i := range g.rows {
			r := &g.rows[i]
			if last := i == len(g.rows)-1; r.kind != KindRepeat || last != (s.ownCell(r, "rest") == "") {
				return
			}
		}
		rests += len(g.rows) - 1
	}
	if !s.restAfter && rests >= fewestRestAfter-1 {
		s.restAfter = true
		s.noteFile(RuleRestAfter, "in every session each row has a rest but the last: a rest stands in the row of the swim before it, and is taken for the next row")
	}
}

// fewestRestAfter is from how many rows on the rests of a session tell where
// rests stand, and the rows of a session that they were pasted twice.
const fewestRestAfter = 3

// shiftRests gives each row the rest that stands in the row before it.
func (s *sheetReader) shiftRests(g *sheetGroup) {
	if !s.restAfter {
		return
	}
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
func (s *sheetReader) markTwice(g *sheetGroup) {
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
