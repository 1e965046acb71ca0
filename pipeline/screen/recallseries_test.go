package screen

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"lengthwise/datasets/faults"
	"lengthwise/pipeline/normalise"
	"lengthwise/pipeline/read"
	"lengthwise/pipeline/study"
)

// seriesCase is a swimmer with some sessions of which some have a wrong pool.
type seriesCase struct {
	grade           faults.Grade
	sessions, wrong int
}

func seriesCases() []seriesCase {
	var out []seriesCase
	for _, g := range faults.GradesOf(faults.WrongPool) {
		out = append(out, seriesCase{g, 4, 1})
		if g.Notice {
			out = append(out, seriesCase{g, 8, 1}, seriesCase{g, 8, 2}, seriesCase{g, 4, 2}, seriesCase{g, 2, 1})
		}
	}
	return out
}

// seriesTally counts sessions.
type seriesTally struct {
	wrong, wrongOut, wrongNoted int
	right, rightOut, rightNoted int
}

// seriesSwimmers is how many swimmers are simulated for a case.
const seriesSwimmers = 150

// judgeSeries screens swimmers' sessions together. The wrong ones lie anywhere in
// time among the others.
func judgeSeries(t *testing.T, c seriesCase, first uint64) (out seriesTally) {
	for n := range uint64(seriesSwimmers) {
		simulated := faults.SimulateSeries(first+n, c.grade.Size, c.sessions, c.wrong)
		var recordings []read.Recording
		wrong := map[string]bool{}
		for i := range simulated {
			r := recording(&simulated[i])
			r.FileID, r.Content = fmt.Sprintf("f%d", i), fmt.Sprint(i)
			place := (i*5 + int(n)) % 17 // in time
			r.Start = time.Date(2026, 3, 2+3*place, 6, 0, 0, 0, time.UTC)
			wrong[r.FileID] = simulated[i].Planted > 0
			recordings = append(recordings, r)
		}
		normal, _, err := normalise.Sessions(recordings, nil, study.Default())
		if err != nil || len(normal) != c.sessions {
			t.Fatalf("seed %d: %d sessions, %v", first+n, len(normal), err)
		}
		screened, entries := Sessions(normal, settings())
		noted := map[string]bool{}
		for _, e := range entries {
			if e.Rule == RulePoolContradicts && e.Action == read.Noted {
				noted[e.Session] = true
			}
		}
		for i := range screened {
			s := &screened[i]
			left := 0
			if len(s.Kept) == 0 {
				left = 1
			}
			note := 0
			if noted[s.ID] {
				note = 1
			}
			if wrong[s.FileID] {
				out.wrong, out.wrongOut, out.wrongNoted = out.wrong+1, out.wrongOut+left, out.wrongNoted+note
			} else {
				out.right, out.rightOut, out.rightNoted = out.right+1, out.rightOut+left, out.rightNoted+note
			}
		}
	}
	return out
}

func measureSeries(t *testing.T, first uint64) []seriesTally {
	cases := seriesCases()
	out := make([]seriesTally, len(cases))
	var jobs []func()
	for i, c := range cases {
		jobs = append(jobs, func() { out[i] = judgeSeries(t, c, first+uint64(1000*i)) })
	}
	inParallel(jobs)
	return out
}

func seriesTable(tallies []seriesTally) string {
	var b strings.Builder
	b.WriteString("| pool | wrong of sessions | wrong ones left out | wrong ones left out or noted | right ones left out | right ones noted |\n|---|---|---|---|---|---|\n")
	for i, c := range seriesCases() {
		x := tallies[i]
		fmt.Fprintf(&b, "| %s | %d of %d | %s | %s | %s | %s |\n", c.grade.Words, c.wrong, c.sessions, share(x.wrongOut, x.wrong),
			share(x.wrongOut+x.wrongNoted, x.wrong), share(x.rightOut, x.right), share(x.rightNoted, x.right))
	}
	return b.String()
}
