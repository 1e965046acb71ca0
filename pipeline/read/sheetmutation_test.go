package read

import (
	"math/rand/v2"
	"strings"
	"testing"

	"lengthwise/pipeline/study"
)

// Two thousand sheets with bytes, cells and lines changed by a seeded hand: no
// panic, and each row is read or in the ledger.
func TestSheetMutations(t *testing.T) {
	rng := rand.New(rand.NewPCG(20261125, 2))
	var originals [][]byte
	for _, name := range []string{"lengths", "repeats-semicolon", "faults", "yards", "wide"} {
		originals = append(originals, sheetFixtures(t, "sheet")["testdata/sheet/"+name+".csv"])
	}
	for _, name := range []string{"german", "wide-two-headers", "wide-suffix", "wide-lengths", "merged-cells", "interval-and-lengths", "pasted",
		"two-sessions", "general-numbers", "american", "running-splits", "portuguese", "swimmers-side-by-side", "rest-after", "pasted-twice", "length-is-distance"} {
		originals = append(originals, sheetFixtures(t, "coach")["testdata/coach/"+name+".csv"])
	}
	src := sheetSource(t)
	src.Input.Columns = nil
	read, refused, excluded, used := 0, 0, 0, 0
	for range 2000 {
		data := csvMutate(rng, originals[rng.IntN(len(originals))])
		sameInParts(t, data, src)
		f, _, err := Sheet(data, src)
		if err != nil {
			refused++
			continue
		}
		read++
		sheetBalance(t, f, sheetRows(t, data, study.Sheet, src.Input.Columns))
		for _, r := range f.Recordings {
			used += len(r.Lengths)
		}
		for _, e := range f.Entries {
			if e.Action == Excluded {
				excluded++
			}
		}
		if t.Failed() {
			t.Fatalf("after %q", data)
		}
	}
	t.Logf("%d sheets read, %d without a header; %d rows used, %d excluded", read, refused, used, excluded)
	if read < 1600 || used < 4000 || excluded < 2000 {
		t.Error("the mutations no longer reach both sides of the account")
	}
}

// csvMutate changes a few bytes, cells or lines.
func csvMutate(rng *rand.Rand, original []byte) []byte {
	data := append([]byte(nil), original...)
	for range 1 + rng.IntN(6) {
		if len(data) < 2 {
			return data
		}
		i := rng.IntN(len(data))
		j := min(len(data), i+1+rng.IntN(12))
		switch rng.IntN(8) {
		case 0:
			data[i] = byte(rng.IntN(256))
		case 1:
			data = append(data[:i:i], data[j:]...)
		case 2:
			data = append(data[:j:j], data[i:]...)
		case 3:
			signs := []string{"\"", ",", ";", "\n", "\r", "\t", "-", ":", "0", "9", "\xff", "\u00e9"}
			data = append(data[:i:i], append([]byte(signs[rng.IntN(len(signs))]), data[i:]...)...)
		case 4:
			data = data[:i]
		case 5:
			cells := []string{"NaN", "1e9", "-1", "99999999999999999999", "Total", "0:00:00", "rep2_time", "Date: 2.3.2026", "time", "0.000347", "1'05\"2", "12:61:99", "46083", "18/19", "3.47E-04", "AM", "25 yd", "1,2,3", "2026-03-29", "01:30", "33.3m"}
			data = append(data[:i:i], append([]byte(","+cells[rng.IntN(len(cells))]+","), data[j:]...)...)
		case 6:
			lines := strings.Split(string(data), "\n")
			a, b := rng.IntN(len(lines)), rng.IntN(len(lines))
			lines[a], lines[b] = lines[b], lines[a]
			data = []byte(strings.Join(lines, "\n"))
		case 7:
			lines := strings.Split(string(data), "\n")
			lines = append(lines, lines[rng.IntN(len(lines))])
			data = []byte(strings.Join(lines, "\n"))
		}
	}
	return data
}

func FuzzSheet(f *testing.F) {
	for _, folder := range []string{"sheet", "coach"} {
		for _, data := range sheetFixtures(f, folder) {
			f.Add(data)
		}
	}
	src := sheetSource(f)
	src.Input.Columns = nil
	f.Fuzz(func(t *testing.T, data []byte) {
		file, _, err := Sheet(data, src)
		if err != nil {
			return
		}
		sheetBalance(t, file, sheetRows(t, data, study.Sheet, src.Input.Columns))
		sameInParts(t, data, src)
		for _, r := range file.Recordings {
			for _, l := range r.Lengths {
				if !(l.DurationS > 0) || l.Covers < 1 || l.Swim < 1 || l.StartS < 0 {
					t.Fatalf("length %+v", l)
				}
			}
		}
	})
}

func BenchmarkSheet(b *testing.B) {
	data := sheetFixtures(b, "sheet")["testdata/sheet/lengths.csv"]
	header, rows, _ := strings.Cut(string(data), "\n")
	big := []byte(header + "\n" + strings.Repeat(rows, 1000))
	src := sheetSource(b)
	b.SetBytes(int64(len(big)))
	for b.Loop() {
		if _, _, err := Sheet(big, src); err != nil {
			b.Fatal(err)
		}
	}
}
