package read

import (
	"math"
	"os"
	"reflect"
	"strconv"
	"testing"

	"lengthwise/datasets/activityfile/randomfile"
)

// unseenFiles is how many random files are read; LENGTHWISE_UNSEEN sets more.
func unseenFiles(t *testing.T, usual int) uint64 {
	if n, err := strconv.Atoi(os.Getenv("LENGTHWISE_UNSEEN")); err == nil {
		t.Logf("%d files", n)
		return uint64(n)
	}
	return uint64(usual)
}

// Random files under random quirks, against a count straight from the bytes:
// lengths, rests, seconds, strokes and starts are the file's own, in the order
// in which they were swum.
func TestActivityUnseenFiles(t *testing.T) {
	lengths, rests, samples := 0, 0, 0
	for seed := range unseenFiles(t, 250) {
		made, err := randomfile.Make(seed)
		if err != nil {
			t.Fatal(err)
		}
		tally := randomfile.Of(made.Bytes)
		if seed%2 == 1 {
			made.Bytes = randomfile.Rewrite(made.Bytes, seed)
			if again := randomfile.Of(made.Bytes); !reflect.DeepEqual(again, tally) {
				t.Fatalf("seed %d: rewritten bytes hold other messages", seed)
			}
		}
		file := activityRead(t, made.Bytes)
		activitySound(t, file)
		if got := file.Counts; got.Lengths+got.Rests != int64(len(tally.Lengths)) || got.HeartRate != int64(tally.Rates+tally.Beats) {
			t.Fatalf("seed %d: counts %+v, the bytes hold %d length messages, %d and %d heart rates", seed, got, len(tally.Lengths), tally.Rates, tally.Beats)
		}
		next := 0
		for sequence := range tally.Sequences {
			if order := tally.Order(sequence); len(order) > 0 {
				if next == len(file.Recordings) {
					t.Fatalf("seed %d: %d recordings; entries %v; quirks %+v", seed, next, activityRules(file), made.Quirks)
				}
				activityIsTally(t, seed, file.Recordings[next], order)
				lengths, rests, samples = lengths+len(file.Recordings[next].Lengths), rests+len(file.Recordings[next].Rests), samples+len(file.Recordings[next].Samples)
				next++
			}
		}
		if next != len(file.Recordings) {
			t.Fatalf("seed %d: %d recordings, the bytes hold %d", seed, len(file.Recordings), next)
		}
		for _, rule := range []string{"checksum", "truncated", "stated-size", "unreadable", "clock-set-back", "lengths-overlap", "length-twice", "length-count"} {
			if activityHasRule(file, KindFile, Noted, rule) || activityHasRule(file, KindLength, Noted, rule) || activityHasRule(file, KindRest, Noted, rule) {
				t.Fatalf("seed %d: %s on a file without damage: %+v\n%+v", seed, rule, file.Entries, made.Quirks)
			}
		}
	}
	t.Logf("%d lengths, %d rests, %d heart rates", lengths, rests, samples)
	if lengths < 2000 || rests < 500 || samples < 50000 {
		t.Errorf("only %d lengths, %d rests and %d heart rates were compared", lengths, rests, samples)
	}
}

// activityIsTally compares a recording with the length messages of its bytes,
// in the order of their numbers.
func activityIsTally(t *testing.T, seed uint64, r Recording, want []randomfile.Length) {
	t.Helper()
	origin := r.Start.Unix() - fitEpoch
	length, rest := 0, 0
	for _, w := range want {
		seconds, strokes := float64(w.Millis)/1000, float64(w.Strokes)
		if w.Strokes < 0 || w.Stroke == 4 && w.Strokes == 0 {
			strokes = math.NaN()
		}
		switch {
		case w.Idle && rest < len(r.Rests):
			if got := r.Rests[rest]; got.DurationS != seconds || got.StartS != float64(w.StartS-origin) {
				t.Fatalf("seed %d: rest %d: %+v, the bytes say %+v from %d", seed, rest, got, w, origin)
			}
			rest++
		case w.Active && length < len(r.Lengths):
			if got := r.Lengths[length]; got.DurationS != seconds || !activityNear(got.Strokes, strokes) || got.StartS != float64(w.StartS-origin) || got.Drill != (w.Stroke == 4) {
				t.Fatalf("seed %d: length %d: %+v, the bytes say %+v from %d", seed, length, got, w, origin)
			}
			length++
		default:
			t.Fatalf("seed %d: %d lengths and %d rests, the bytes hold more", seed, len(r.Lengths), len(r.Rests))
		}
	}
	if length != len(r.Lengths) || rest != len(r.Rests) {
		t.Fatalf("seed %d: %d lengths and %d rests, the bytes hold %d and %d", seed, len(r.Lengths), len(r.Rests), length, rest)
	}
}
