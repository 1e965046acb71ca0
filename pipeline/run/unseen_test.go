package run

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"lengthwise/datasets/activityfile/randomfile"
	"lengthwise/pipeline/screen"
	"lengthwise/pipeline/study"
	"lengthwise/pipeline/table"
	"lengthwise/schemas"
)

// Random files under random quirks, one a swimmer, run to tables: every length
// message of every file's bytes is in the table lengths with its own seconds and
// strokes, or excluded in the ledger, and none is in both.
func TestTablesHoldUnseenFiles(t *testing.T) {
	files := 60
	if n, err := strconv.Atoi(os.Getenv("LENGTHWISE_UNSEEN")); err == nil {
		files = n
	}
	var off []string
	for _, r := range screen.Rules(study.Default().Screen) {
		if !r.Fixed {
			off = append(off, r.ID)
		}
	}
	for _, c := range []struct {
		name, screen string
		all          bool // what is recorded stays
	}{{"as by default", "", false}, {"no rule", "screen: {off: [" + strings.Join(off, ", ") + "]}\n", true}} {
		t.Run(c.name, func(t *testing.T) {
			folder := t.TempDir()
			tallies := map[string]randomfile.Tally{} // by hash of the bytes
			for seed := range files {
				made, err := randomfile.Make(uint64(seed))
				if err != nil {
					t.Fatal(err)
				}
				data := made.Bytes
				if seed%2 == 1 {
					data = randomfile.Rewrite(data, uint64(seed))
				}
				sum := sha256.Sum256(data)
				tallies[hex.EncodeToString(sum[:])] = randomfile.Of(data)
				put(t, folder, map[string]string{fmt.Sprintf("inbox/swimmer%03d/a.fit", seed): string(data)})
			}
			put(t, folder, map[string]string{"study.yaml": "study: unseen\ninputs: [{path: \"inbox/{swimmer}/*.fit\", kind: activity, stroke_count: cycles, pool: 25m}]\n" + c.screen})
			s := withKey(t, folder)
			r, err := Study(context.Background(), s, Options{Workers: 2})
			if err != nil {
				t.Fatal(err)
			}
			lengths, err := table.ReadRows[schemas.Length](filepath.Join(folder, s.Output, "tables", "lengths.parquet"))
			if err != nil {
				t.Fatal(err)
			}
			if r.Lineage, err = table.ReadRows[schemas.Lineage](filepath.Join(folder, s.Output, "tables", "lineage.parquet")); err != nil {
				t.Fatal(err)
			}
			holdsTallies(t, r, lengths, tallies, c.all)
		})
	}
}

// holdsTallies compares tables with the bytes of the files.
func holdsTallies(t *testing.T, r *Result, lengths []schemas.Length, tallies map[string]randomfile.Tally, all bool) {
	t.Helper()
	type record struct {
		file, kind string
		number     int64
	}
	used, excluded := map[record]bool{}, map[record]bool{}
	same := map[record]schemas.Length{}
	type place struct {
		session string
		ordinal int32
	}
	at := map[place]schemas.Length{}
	for _, l := range lengths {
		at[place{l.Session, l.Ordinal}] = l
	}
	for _, l := range r.Lineage {
		k := record{l.FileID, l.Kind, l.Record}
		used[k] = true
		if l.Relation == "same" {
			same[k] = at[place{l.Session, l.Ordinal}]
		}
	}
	for _, e := range r.Ledger {
		for i := range e.Records {
			if e.Action == "excluded" && e.Record > 0 {
				excluded[record{e.FileID, e.Kind, e.Record + i}] = true
			}
		}
	}
	total, kept := 0, 0
	for _, in := range r.Inputs {
		tally := tallies[in.SHA256]
		numbers := map[string]int64{}
		for _, m := range tally.Lengths {
			kind := "length"
			if m.Idle {
				kind = "rest"
			}
			numbers[kind]++
			k := record{in.FileID, kind, numbers[kind]}
			total++
			if used[k] == excluded[k] {
				t.Fatalf("%+v: used %v, excluded %v", k, used[k], excluded[k])
			}
			l, ok := same[k]
			if !ok {
				continue
			}
			kept++
			if got, want := l.DurationRecordedS, float64(m.Millis)/1000; got != want || l.Status == "kept" && l.DurationS != want {
				t.Fatalf("%+v: %v s, used as %v s, the bytes say %v s", k, got, l.DurationS, want)
			}
			strokes := math.NaN()
			if l.StrokesRecorded != nil {
				strokes = *l.StrokesRecorded
			}
			if none := m.Strokes < 0 || m.Strokes == 0 && m.Stroke == 4; none != math.IsNaN(strokes) || !none && strokes != float64(m.Strokes) {
				t.Fatalf("%+v: %v strokes recorded, the bytes say %d", k, strokes, m.Strokes)
			}
		}
		delete(tallies, in.SHA256)
	}
	if len(tallies) > 0 {
		t.Errorf("%d files are not among the inputs", len(tallies))
	}
	t.Logf("%d length messages, %d of them lengths of the table one to one", total, kept)
	if all && kept != len(lengths) || kept < total/4 {
		t.Errorf("%d of %d messages are lengths of the table, which has %d rows", kept, total, len(lengths))
	}
}
