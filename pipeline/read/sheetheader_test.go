package read

import (
	"fmt"
	"strings"
	"testing"

	"lengthwise/pipeline/study"
)

func TestHeadings(t *testing.T) {
	h := newHeadings(map[string]string{"time": "Split", "hr": "P 15 sec", "stroke": "set", "strokes": "#"})
	for _, c := range []struct{ header, want string }{
		{"swimmer", "swimmer"}, {" Distance_M ", "distance_m"}, {"hr-delay", "hr_delay"}, {"Name", "swimmer"}, {"Zeit", "time"}, {"Zeit [s]", "time"},
		{"Split", "time !"}, {"split", "time !"}, {"Distance (yd)", "distance_m yards"}, {"Pool (m)", "pool m"}, {"Becken (m)", "pool m"},
		{"Z\u00fcge", "strokes"}, {"Armz\u00fcge", "strokes arms"}, {"Cycles", "strokes cycles"}, {"Strokes per length", "strokes mean"}, {"SPL", "strokes mean"},
		{"Heart rate (bpm)", "hr"}, {"HR 15s", "hr/15"}, {"hr_10s", "hr/10"}, {"hr10", "hr/10"}, {"Puls in 15 Sek", "hr/15"}, {"Beats 10 s", "hr/10"},
		{"P 15 sec", "hr/15 !"}, {"set", "stroke !"}, {"#", "strokes !"}, {"RPE (0-10)", "rpe"}, {"Lactate (mmol/L)", "lactate"}, {"VO2", "vo2"},
		{"R\u00e9cup\u00e9ration", "rest"}, {"R\u00e9cup", "rest"}, {"Recuperaci\u00f3n (s)", "rest"}, {"Recupera\u00e7\u00e3o", "rest"}, {"FC r\u00e9cup", ""},
		{"hr 12", ""}, {"Bahn", ""}, {"lap", ""}, {"Tempo", ""}, {"interval", ""}, {"remarks", ""}, {"", ""}, {"10", ""}, {"rep1_time", ""}, {"time_1", ""}, {"best time", ""},
	} {
		got := ""
		if d, ok := h.of(c.header); ok {
			got = told(d)
		}
		if got != c.want {
			t.Errorf("%q is %q, want %q", c.header, got, c.want)
		}
	}
	for _, c := range []struct{ header, want string }{
		{"rep1_time", "time of rep 1"}, {"Rep 2 HR", "hr of rep 2"}, {"3_strokes", "strokes of rep 3"}, {"time_4", "time of rep 4"}, {"Time (rep 5)", "time of rep 5"},
		{"R6 Zeit", "time of rep 6"}, {"7. Wdh Zeit", "time of rep 7"}, {"rep8_hr_10s", "hr/10 of rep 8"}, {"hr_10s_9", "hr/10 of rep 9"}, {"hr10", "hr of rep 10"},
		{"rep1_Split", "time ! of rep 1"}, {"length3_time", "time of length 3"}, {"set2 time", "time of set 2"}, {"rep1_distance_m", "distance_m of rep 1"},
		{"vo2", ""}, {"time", ""}, {"1", ""}, {"rep 1", ""}, {"rep1_remarks", ""}, {"time_0", ""}, {"time_99999999999999999999", ""}, {"time 201", ""},
	} {
		got := ""
		if d, ok := h.grouped(c.header); ok {
			got = fmt.Sprintf("%s of %s %d", told(d), d.group, d.number)
		}
		if got != c.want {
			t.Errorf("%q is %q, want %q", c.header, got, c.want)
		}
	}
}

// told writes a heading in short: ! marks one that the study file names.
func told(d heading) string {
	text := d.column
	if d.column == countColumn {
		text = fmt.Sprintf("hr/%g", d.countS)
	}
	for _, word := range []struct {
		says bool
		text string
	}{{d.yards, "yards"}, {d.pool != "", d.pool}, {d.mean, "mean"}, {d.basis != "", string(d.basis)}, {d.rank == byStudyFile, "!"}} {
		if word.says {
			text += " " + word.text
		}
	}
	return text
}

func TestLayouts(t *testing.T) {
	for _, c := range []struct {
		name, above, header string
		views               string // group and number, and the cells of time and strokes
	}{
		{"plain", "", "swimmer,time,strokes", "0:1,2"},
		{"our name outranks a word", "", "Zeit,time,strokes", "0:1,2"},
		{"grouped", "", "swimmer,rep1_time,rep1_strokes,rep2_time,rep2_strokes", "rep1:1,2 rep2:3,4"},
		{"by column", "", "swimmer,time_1,time_2,strokes_1,strokes_2", "rep1:1,3 rep2:2,4"},
		{"named numbers may jump", "", "swimmer,rep2_time,rep2_strokes,rep5_time,rep5_strokes", "rep2:1,2 rep5:3,4"},
		{"bare numbers must run from one", "", "swimmer,25_time,25_strokes,50_time,50_strokes", "0:-,-"},
		{"line above", ",Rep 1,,Rep 2,", "swimmer,time,strokes,time,strokes", "rep1:1,2 rep2:3,4"},
		{"numbers above", ",3,,4,", "swimmer,time,strokes,time,strokes", "rep3:1,2 rep4:3,4"},
		{"distances above are no numbers", ",100,,200,", "swimmer,time,strokes,time,strokes", "rep1:1,2 rep2:3,4"},
		{"nothing above", "", "swimmer,strokes,time,strokes,time", "rep1:2,1 rep2:4,3"},
		{"strokes once", "", "swimmer,time,strokes,time", "0:1,2"},
		{"lengths", "", "swimmer,length1_time,length1_strokes,length2_time,length2_strokes", "length1:1,2 length2:3,4"},
		{"two kinds", "", "swimmer,rep1_time,rep1_strokes,length2_time,length2_strokes", "0:-,-"},
	} {
		h := newHeadings(nil)
		l := h.layout(strings.Split(c.header, ","), strings.Split(c.above, ","))
		var got []string
		for _, v := range l.views {
			at := func(column string) string {
				if i, ok := v.at[column]; ok {
					return fmt.Sprint(i)
				}
				return "-"
			}
			got = append(got, fmt.Sprintf("%s%d:%s,%s", v.group, v.number, at("time"), at("strokes")))
		}
		if strings.Join(got, " ") != c.views {
			t.Errorf("%s: %s, want %s", c.name, got, c.views)
		}
	}
	// hr_10 is a count over ten seconds, unless there is a tenth repeat.
	counts := newHeadings(nil).layout(strings.Split("swimmer,time,strokes,hr_10", ","), nil)
	if _, ok := counts.views[0].at[countColumn]; !ok {
		t.Error("hr_10 of a plain sheet is no count")
	}
	header := []string{"swimmer"}
	for n := range 10 {
		header = append(header, fmt.Sprintf("time_%d", n+1), fmt.Sprintf("strokes_%d", n+1), fmt.Sprintf("hr_%d", n+1))
	}
	ten := newHeadings(nil).layout(header, nil)
	if i, ok := ten.views[9].at["hr"]; !ok || header[i] != "hr_10" {
		t.Errorf("the tenth repeat's heart rate is in %v", ten.views[9].at)
	}
}

// The study file says what the sheet does not.
func TestSheetTakesWhatTheInputSays(t *testing.T) {
	src := sheetSource(t)
	src.Input = study.Input{Kind: study.Sheet, StrokeCount: study.Arms, Strokes: "per-length", HRCount: 10e9, HRDelay: 5e9, Dates: study.MonthFirst}
	f, _, err := Sheet([]byte("swimmer,date,pool,distance_m,time,strokes,hr\nAna Lima,03/04/2026,25m,100,76,20.5,25\n"), src)
	if err != nil || len(f.Recordings) != 1 {
		t.Fatalf("%+v, %v", f, err)
	}
	r := f.Recordings[0]
	l := r.Lengths[0]
	if r.LocalDate != "2026-03-04" || l.Strokes != 82 || l.End != (Reading{HRBPM: 150, Source: "palpated", DelayS: 10, StepBPM: 6}) {
		t.Errorf("%+v", r)
	}
	// What the input calls totals is taken as such, whatever it may be.
	src.Input.Strokes = "total"
	if f, _, _ = Sheet([]byte("swimmer,date,pool,distance_m,time,strokes\nAna Lima,03/04/2026,25m,100,76,20.5\n"), src); f.Recordings[0].Lengths[0].Strokes != 20.5 {
		t.Errorf("%+v", f)
	}
}
