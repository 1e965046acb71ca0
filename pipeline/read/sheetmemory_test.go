package read

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"lengthwise/pipeline/study"
)

// What a sheet remembers is what it would read: words, refusals, and cells beyond
// what there is room for.
func TestSheetMemorySaysWhatReadingSays(t *testing.T) {
	m := newSheetMemory()
	for round := range 2 {
		for i := range mostRemembered + 50 {
			cell := fmt.Sprintf("%d.%d.20%02d", i%31+1, i%12+1, i%97)
			if got, want := m.date(cell, study.DayFirst), csvDate(cell, study.DayFirst); got != want {
				t.Fatalf("round %d: %s says %+v, %+v when read", round, cell, got, want)
			}
			pool := fmt.Sprintf("%d%s", i, []string{"m", "y", "", " furlongs"}[i%4])
			metres, err := m.pool(pool, "m")
			wantMetres, wantErr := sheetPool(pool, "m")
			if math.Float64bits(metres) != math.Float64bits(wantMetres) || fmt.Sprint(err) != fmt.Sprint(wantErr) {
				t.Fatalf("round %d: %s says %v, %v; %v, %v when read", round, pool, metres, err, wantMetres, wantErr)
			}
		}
	}
	if len(m.pools) != mostRemembered || len(m.dates) > mostRemembered {
		t.Errorf("%d pools and %d dates are kept, room for %d", len(m.pools), len(m.dates), mostRemembered)
	}
	for _, cell := range []string{"", "12", "Total", "total", "Freistil", "03.02.2026"} {
		for range 2 {
			if m.isTotalWord(cell) != isTotalWord(cell) {
				t.Errorf("%q", cell)
			}
			if m.stroke(cell) != strokeWords[headerKey(cell)] {
				t.Errorf("%q", cell)
			}
			got, ok := m.start(cell)
			if want, wantOK := clockTime(cell); got != want || ok != wantOK {
				t.Errorf("%q: %+v %v", cell, got, ok)
			}
		}
	}
}

// The short way of plain decimals ends where the long one does: the same cell with
// the unit written behind it takes the long one.
func TestPlainDecimalsByEitherWay(t *testing.T) {
	table := &csvTable{comma: ';'}
	for _, cell := range []string{"30", "30.5", "0.000347", "007.50", "59.99", "1.05", "72", "3600", "12345.678", strings.Repeat("9", 400)} {
		short, ok := table.parseSeconds(cell)
		long, longOK := table.parseSeconds(cell + " s")
		if ok != longOK || ok && (short.s != long.s || short.step != long.step) {
			t.Errorf("%.20s: %+v, %v; with its unit %+v, %v", cell, short, ok, long, longOK)
		}
	}
	for cell, want := range map[string]bool{"30": true, "30.": true, "3.5": true, "": false, ".5": false, "-3": false, "1.2.3": false, "1e9": false, "3,5": false, "\u0663": false} {
		if plainDecimal(cell) != want {
			t.Errorf("plainDecimal(%q) is %v", cell, !want)
		}
	}
}
