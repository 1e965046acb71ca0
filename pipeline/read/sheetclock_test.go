package read

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"
)

func TestSheetSwimsAndStarts(t *testing.T) {
	const header = "swimmer,date,start,session,set,rep,length,distance_m,pool,time,strokes,rest\n"
	row := func(start, session, set, rep, length, distance, seconds, rest string) string {
		return strings.Join([]string{"Ana Lima", "2026-03-02", start, session, set, rep, length, distance, "25m", seconds, "20", rest}, ",") + "\n"
	}
	nan := math.NaN()
	cases := []struct {
		name   string
		rows   string
		swims  [][]int
		starts [][]float64
	}{
		{"lengths of two repeats", row("", "", "1", "1", "1", "", "20", "") + row("", "", "1", "1", "2", "", "21", "") + row("", "", "1", "2", "1", "", "20", "15"),
			[][]int{{1, 1, 2}}, [][]float64{{0, 20, 56}}},
		{"rest alone", row("", "", "", "", "1", "", "20", "") + row("", "", "", "", "2", "", "20", "10"), [][]int{{1, 2}}, [][]float64{{0, 30}}},
		{"numbers that start again", row("", "", "", "", "1", "", "20", "") + row("", "", "", "", "2", "", "20", "") + row("", "", "", "", "1", "", "20", ""),
			[][]int{{1, 1, 2}}, [][]float64{{0, 20, nan}}},
		{"repeats that do not say which", row("", "", "", "", "", "50", "40", "") + row("", "", "", "", "", "50", "41", "20"), [][]int{{1, 2}}, [][]float64{{0, 60}}},
		{"two parts of one repeat", row("", "", "1", "1", "", "100", "80", "") + row("", "", "1", "1", "", "100", "81", ""), [][]int{{1, 1}}, [][]float64{{0, 80}}},
		{"no rest stated", row("", "", "1", "1", "", "50", "40", "") + row("", "", "1", "2", "", "50", "41", "") + row("", "", "1", "3", "", "50", "41", "20"),
			[][]int{{1, 2, 3}}, [][]float64{{0, nan, nan}}},
		{"time not known", row("", "", "1", "1", "1", "", "20", "") + row("", "", "1", "1", "2", "", "??", "") + row("", "", "1", "1", "3", "", "20", ""),
			[][]int{{1, 1}}, [][]float64{{0, nan}}},
		{"unused row moves the clock", row("", "", "1", "1", "", "50", "40", "") + row("", "", "1", "2", "", "60", "50", "10") + row("", "", "1", "3", "", "50", "40", "10"),
			[][]int{{1, 2}}, [][]float64{{0, 110}}},
		{"a row nobody can place", row("", "", "1", "1", "1", "", "20", "") + ",,,,,,,,,9,9,\n" + row("", "", "1", "1", "2", "", "20", ""),
			[][]int{{1, 1}}, [][]float64{{0, nan}}},
		{"a row with shifted cells", row("", "", "1", "1", "1", "", "20", "") + row("", "", "1", "1", "2", "", "20,5", "") + row("", "", "1", "1", "3", "", "20", ""),
			[][]int{{1, 1}}, [][]float64{{0, nan}}},
		{"two sessions", row("", "1", "1", "1", "1", "", "20", "") + row("", "2", "1", "1", "1", "", "20", ""), [][]int{{1}, {1}}, [][]float64{{0}, {0}}},
		{"two starts", row("06:00", "", "1", "1", "1", "", "20", "") + row("18:00", "", "1", "1", "1", "", "20", "") + row("06:00", "", "1", "1", "2", "", "20", ""),
			[][]int{{1, 1}, {1}}, [][]float64{{0, 20}, {0}}},
		{"start below", row("", "", "1", "1", "1", "", "20", "") + row("18:00", "", "1", "1", "2", "", "20", ""), [][]int{{1, 1}}, [][]float64{{0, 20}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			f, _, err := Sheet([]byte(header+c.rows), sheetSource(t))
			if err != nil {
				t.Fatal(err)
			}
			var swims [][]int
			var starts [][]float64
			for i, r := range f.Recordings {
				if r.Part != i+1 {
					t.Errorf("part %d is %d", i+1, r.Part)
				}
				var n []int
				var s []float64
				for _, l := range r.Lengths {
					n, s = append(n, l.Swim), append(s, l.StartS)
				}
				swims, starts = append(swims, n), append(starts, s)
			}
			if !reflect.DeepEqual(swims, c.swims) {
				t.Errorf("swims %v, want %v", swims, c.swims)
			}
			for i := range c.starts {
				for k, want := range c.starts[i] {
					if got := starts[i][k]; math.Abs(got-want) > 1e-9 || math.IsNaN(got) != math.IsNaN(want) {
						t.Errorf("starts %v, want %v", starts, c.starts)
					}
				}
			}
		})
	}
}

// The clock changes of Lisbon in 2026 (IANA zone Europe/Lisbon): forward on
// 29 March at 01:00, back on 25 October at 02:00.
func TestSheetStartWhereClocksChange(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	cases := []struct {
		local, at, again string
		fit              clockFit
	}{
		{"2026-03-02T18:30:00", "2026-03-02T18:30:00Z", "2026-03-02T18:30:00Z", clockPlain},
		{"2026-07-02T18:30:00", "2026-07-02T17:30:00Z", "2026-07-02T17:30:00Z", clockPlain},
		{"2026-03-29T00:59:59", "2026-03-29T00:59:59Z", "2026-03-29T00:59:59Z", clockPlain},
		{"2026-03-29T01:30:00", "2026-03-29T01:30:00Z", "2026-03-29T01:30:00Z", clockGap},
		{"2026-03-29T02:00:00", "2026-03-29T01:00:00Z", "2026-03-29T01:00:00Z", clockPlain},
		{"2026-10-25T00:59:59", "2026-10-24T23:59:59Z", "2026-10-24T23:59:59Z", clockPlain},
		{"2026-10-25T01:30:00", "2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z", clockRepeat},
		{"2026-10-25T02:00:00", "2026-10-25T02:00:00Z", "2026-10-25T02:00:00Z", clockPlain},
	}
	for _, c := range cases {
		local, _ := time.Parse("2006-01-02T15:04:05", c.local)
		at, again, fit := sheetInstant(local, zone)
		if at.UTC().Format(time.RFC3339) != c.at || again.UTC().Format(time.RFC3339) != c.again || fit != c.fit {
			t.Errorf("%s: %v, %v, %v", c.local, at.UTC(), again.UTC(), fit)
		}
	}
	f, _, err := Sheet([]byte("swimmer,date,start,length,pool,time,strokes\nAna Lima,2026-03-29,01:30,1,25m,18,20\n"), sheetSource(t))
	if err != nil || len(f.Entries) != 1 || f.Entries[0].Rule != RuleClockChange || f.Entries[0].Action != Noted {
		t.Errorf("%+v, %v", f, err)
	}
	src := sheetSource(t)
	src.Input.TimeZone = time.FixedZone("x", 3*3600)
	f, _, _ = Sheet([]byte("swimmer,date,start,length,pool,time,strokes\nAna Lima,2026-03-29,01:30,1,25m,18,20\n"), src)
	if got := f.Recordings[0].Start.Format(time.RFC3339); got != "2026-03-28T22:30:00Z" {
		t.Errorf("the input's zone gives %s", got)
	}
}
