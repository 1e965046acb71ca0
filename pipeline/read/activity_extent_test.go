package read

import (
	"bytes"
	"slices"
	"testing"
)

// A header that states any number of bytes too few costs no message, whatever
// the header and the checksum, and no activity that follows.
func TestActivityStatedSizeTooShort(t *testing.T) {
	swim := fitTestSwim()
	second := fitTestLengths(2, fitTestStart+86400, 3).close(fitTestGood)
	for _, how := range []fitTestHeader{fitTestGood, fitTestNoHeader, fitTestShort, fitTestDataOnly, fitTestWrong} {
		whole := swim.close(how)
		for stated := 1; stated < len(swim.body); stated++ {
			short := fitTestResized(whole, int32(stated-len(swim.body)))
			for _, c := range []struct {
				name string
				data []byte
				more int // recordings that follow
			}{{"alone", short, 0}, {"another follows", slices.Concat(short, second), 1}} {
				file := activityRead(t, c.data)
				if len(file.Recordings) != 1+c.more {
					t.Fatalf("header %d, %d bytes stated, %s: %d recordings, entries %v", how, stated, c.name, len(file.Recordings), activityRules(file))
				}
				if r := file.Recordings[0]; len(r.Lengths) != 4 || len(r.Samples) != 16 || len(r.Laps) != 3 {
					t.Fatalf("header %d, %d bytes stated, %s: %d lengths, %d samples, entries %v", how, stated, c.name, len(r.Lengths), len(r.Samples), activityRules(file))
				}
				if got := activityRules(file); !slices.Equal(got, []string{"file noted stated-size"}) {
					t.Fatalf("header %d, %d bytes stated, %s: entries %v", how, stated, c.name, got)
				}
			}
		}
	}
}

// A recorder that states a size now and then, and stops: the messages after the
// last one are read as far as they go.
func TestActivityStatedSizeTooShortAndCut(t *testing.T) {
	swim := fitTestSwim()
	whole := swim.close(fitTestGood)
	for stated := 100; stated < len(swim.body); stated += 7 {
		before := int64(0)
		for cut := fitTestHeaderBits + stated + fitChecksum + 1; cut < len(whole)-fitChecksum; cut++ {
			file := activityRead(t, fitTestResized(whole, int32(stated-len(swim.body)))[:cut])
			want := activityRead(t, whole[:cut])
			if file.Counts != want.Counts || file.Counts.Lengths < before {
				t.Fatalf("%d bytes stated, cut at %d: %+v, want %+v; entries %v", stated, cut, file.Counts, want.Counts, activityRules(file))
			}
			before = file.Counts.Lengths
		}
	}
}

// What stands behind a sequence of the right size is none of it, even where its
// checksum is wrong.
func TestActivityBytesBehindASequence(t *testing.T) {
	swim := fitTestSwim()
	for name, behind := range map[string][]byte{
		"zeros": make([]byte, 200), "ones": bytes.Repeat([]byte{0xFF}, 200), "text": []byte("and so on, to the end"), "two bytes": {0, 5},
		"a message without a definition": {0x0F, 1, 2, 3, 4, 5},
	} {
		for _, how := range []fitTestHeader{fitTestGood, fitTestWrong} {
			file := activityRead(t, slices.Concat(swim.close(how), behind))
			if file.Counts != (Counts{Lengths: 4, Rests: 1, HeartRate: 16}) || !activityHasRule(file, KindFile, Noted, "unreadable") {
				t.Errorf("%s, header %d: %+v, entries %v", name, how, file.Counts, activityRules(file))
			}
		}
	}
}
