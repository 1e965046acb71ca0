package read

import (
	"strings"
	"testing"
)

// What check shows of a sheet's first rows, word for word.
func TestUnderstandSheet(t *testing.T) {
	src := sheetSource(t)
	src.Input.Columns = nil
	u, err := UnderstandSheet([]byte("Squad, spring\nswimmer,date,start,rep,length,distance_m,pool,stroke,time,strokes,rest,hr,hr_source,hr_delay,rpe,kick,coach\n"+
		"Ana Lima,2026-03-02,18:05,1,,200,25m,free,2:40.0,96,,151,strap,5,6,light,x\n"+
		"Ben Ohm,2026-03-02,,1,1,,25y,back,18.25,20,,,,,,,\n"+
		"Stranger,2026-03-02,,1,,100,33.3m,,1:20,,30,,,,,,\n"+
		"Ana Lima,2026-03-02,18:05,2,,200,25m,free,two,96,30,151,strap,5,6,light,x\n"+
		"Ana Lima,2026-03-02,18:05,3,,200,25m,free,160,96,30,151,strap,5,66,light,x\n"+
		"Ana Lima,2026-03-02,18:05,4,,200,25m,free,160,96,30,151,strap,5,6,light,x\n"), src, 5)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"The header is in line 2, cells are set apart by commas.",
		`Not used: "coach". What stands under a header of your own is read when columns in the study file says what it is.`,
		"line 3: Ana Lima, 2 March 2026, from 18:05, 25 m pool, freestyle, 200 m (8 lengths) in 2:40 min, 96 arm strokes, heart rate 151 by strap 5 s after the touch, effort 6 of 10, kick: light",
		"line 4: Ben Ohm, 2 March 2026, 25 yard pool, backstroke, length 1 in 18.25 s, 20 arm strokes",
		"line 5: Stranger (not used: no-swimmer), 2 March 2026, 33.33 m pool, stroke not stated, 100 m (3 lengths) in 1:20 min, strokes not counted (column rest: rest is the rest before the row's swim; nothing was swum before this one, so that it is not used)",
		"line 6: left out: column time: the text in it is no time; write seconds or m:ss.s",
		"line 7: Ana Lima, 2 March 2026, from 18:05, 25 m pool, freestyle, 200 m (8 lengths) in 2:40 min, 96 arm strokes, heart rate 151 by strap 5 s after the touch, after 30 s of rest, kick: light (column rpe: \"66\" is no number from 0 to 12; the cell is left out)",
	}
	if got := append(u.Table, u.Rows...); strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s", strings.Join(got, "\n"))
	}
}
