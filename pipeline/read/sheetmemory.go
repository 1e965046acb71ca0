package read

import (
	"strings"

	"lengthwise/pipeline/study"
)

// sheetMemory keeps what cells of one sheet were found to say. Dates, starts,
// pools and words stand in row after row; reading each of them anew took half
// of a sheet's time. What is kept is a function of its key alone.
type sheetMemory struct {
	dates   map[datedCell]csvDay
	starts  map[string]startCell
	pools   map[pooledCell]poolCell
	strokes map[string]string // strokeWords by headerKey
	totals  map[string]bool   // isTotalWord
}

type datedCell struct {
	cell  string
	order study.DateOrder
}

type startCell struct {
	reading clockReading
	ok      bool
}

type pooledCell struct{ cell, unit string }

type poolCell struct {
	metres float64
	err    error
}

func newSheetMemory() sheetMemory {
	return sheetMemory{dates: map[datedCell]csvDay{}, starts: map[string]startCell{}, pools: map[pooledCell]poolCell{},
		strokes: map[string]string{}, totals: map[string]bool{}}
}

// mostRemembered bounds each kind, so that a sheet whose cells all differ costs
// no more memory than its own.
const mostRemembered = 4096

// recall gives what is kept under a key, or reads it and keeps it while there
// is room. A cell is a piece of a sheet's text, which a key that is kept must not
// hold on to: own gives a copy.
func recall[K comparable, V any](kept map[K]V, key K, own func(K) K, read func(K) V) V {
	if v, ok := kept[key]; ok {
		return v
	}
	v := read(key)
	if len(kept) < mostRemembered {
		kept[own(key)] = v
	}
	return v
}

func (m *sheetMemory) date(cell string, order study.DateOrder) csvDay {
	return recall(m.dates, datedCell{cell, order}, func(c datedCell) datedCell { return datedCell{strings.Clone(c.cell), c.order} }, func(c datedCell) csvDay { return csvDate(c.cell, c.order) })
}

func (m *sheetMemory) start(cell string) (clockReading, bool) {
	s := recall(m.starts, cell, strings.Clone, func(c string) startCell {
		reading, ok := clockTime(c)
		return startCell{reading, ok}
	})
	return s.reading, s.ok
}

func (m *sheetMemory) pool(cell, unit string) (metres float64, err error) {
	p := recall(m.pools, pooledCell{cell, unit}, func(c pooledCell) pooledCell { return pooledCell{strings.Clone(c.cell), c.unit} }, func(c pooledCell) poolCell {
		metres, err := sheetPool(c.cell, c.unit)
		return poolCell{metres, err}
	})
	return p.metres, p.err
}

func (m *sheetMemory) stroke(cell string) string {
	return recall(m.strokes, cell, strings.Clone, func(c string) string { return strokeWords[headerKey(c)] })
}

func (m *sheetMemory) isTotalWord(cell string) bool {
	if cell == "" || isDigits(cell) {
		return false // no word at all, as in most rows
	}
	return recall(m.totals, cell, strings.Clone, isTotalWord)
}

// plainDecimal reports whether text is digits with at most one point, the
// first sign a digit: what nearly every cell of numbers holds.
func plainDecimal(text string) bool {
	if text == "" || text[0] < '0' || text[0] > '9' {
		return false
	}
	points := 0
	for i := 1; i < len(text); i++ {
		switch c := text[i]; {
		case c >= '0' && c <= '9':
		case c == '.' && points == 0:
			points++
		default:
			return false
		}
	}
	return true
}

// placesOf is how many digits stand behind the point of a plain decimal.
func placesOf(text string) int {
	if cut := strings.IndexByte(text, '.'); cut >= 0 {
		return len(text) - cut - 1
	}
	return 0
}

// sameGroup reports whether a row is of the swimmer, day and session of the
// row that was grouped before it: it then belongs to the same group.
func (r *sheetRow) sameGroup(before *sheetRow) bool {
	return r.date == before.date && r.session == before.session && r.owner.Swimmer == before.owner.Swimmer && r.name == before.name
}
