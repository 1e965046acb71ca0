package read

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/text/encoding/unicode"
)

// memoryRoom is a Room that a test can look into.
type memoryRoom struct {
	mu   sync.Mutex
	data []byte
}

func (m *memoryRoom) WriteAt(p []byte, at int64) (int, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if need := int(at) + len(p); need > len(m.data) {
		m.data = append(m.data, make([]byte, need-len(m.data))...)
	}
	return copy(m.data[at:], p), nil
}

func (m *memoryRoom) ReadAt(p []byte, at int64) (int, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if int(at)+len(p) > len(m.data) {
		return 0, io.ErrUnexpectedEOF
	}
	return copy(p, m.data[at:]), nil
}

func bytesOf(data []byte) Bytes {
	return func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil }
}

// inParts reads a sheet in parts of a few rows and gives it back as Sheet would.
func inParts(t testing.TB, data []byte, src SheetSource, rows int) (File, string, error) {
	t.Helper()
	zones := []*time.Location{src.zone()}
	l, err := LongSheetOf(context.Background(), bytesOf(data), src, LongSheetOptions{Room: &memoryRoom{}, Workers: 3, PartRows: rows, Zones: zones})
	if err != nil {
		return File{}, "", err
	}
	f := l.File
	packer := Packer{Zones: zones}
	err = l.Each(func(about *Recording, packed []byte) error {
		r, err := packer.Unpack(packed)
		if err != nil {
			return err
		}
		r.Part = about.Part
		if about.Swimmer != r.Swimmer || about.FileID != r.FileID || about.Content != r.Content || about.Device != r.Device || about.Created != r.Created || about.Refused != r.Refused {
			t.Errorf("recording %d is about %+v, and packed as %+v", r.Part, about, r)
		}
		f.Recordings = append(f.Recordings, r)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return f, sheetDump(f, l.Seen), nil
}

// sameInParts holds that a sheet read in parts is the sheet read at once.
func sameInParts(t testing.TB, data []byte, src SheetSource) {
	t.Helper()
	whole, seen, err := Sheet(data, src)
	want := sheetDump(whole, seen)
	for _, rows := range []int{1, 5} {
		parts, got, errParts := inParts(t, data, src, rows)
		if fmt.Sprint(err) != fmt.Sprint(errParts) {
			t.Fatalf("%d rows a part: %v, at once %v", rows, errParts, err)
		}
		if err != nil {
			return
		}
		if got != want {
			t.Fatalf("%d rows a part:\n%s\nat once:\n%s", rows, got, want)
		}
		words, err := UnderstandSheet(data, src, 7)
		if err != nil {
			t.Fatal(err)
		}
		partWords, err := UnderstandLongSheet(context.Background(), bytesOf(data), src, LongSheetOptions{Room: &memoryRoom{}, Workers: 3, PartRows: rows}, 7)
		if err != nil || !slices.Equal(words.Table, partWords.Table) || !slices.Equal(words.Rows, partWords.Rows) {
			t.Fatalf("%d rows a part, in words: %v\n%s\nat once:\n%s", rows, err, strings.Join(partWords.Rows, "\n"), strings.Join(words.Rows, "\n"))
		}
		for i := range whole.Recordings { // to the bit, the dump rounds
			packer := Packer{Zones: []*time.Location{src.zone()}}
			if parts.Recordings[i].Part != whole.Recordings[i].Part || !bytes.Equal(packer.Pack(nil, &parts.Recordings[i]), packer.Pack(nil, &whole.Recordings[i])) {
				t.Fatalf("%d rows a part, recording %d:\n%+v\nat once:\n%+v", rows, i, parts.Recordings[i], whole.Recordings[i])
			}
		}
	}
}

// Every fixture gives the same in parts of a few rows as at once, whatever habits
// only all its rows together show.
func TestSheetInParts(t *testing.T) {
	src := sheetSource(t)
	for _, folder := range []string{"sheet", "coach"} {
		for name, data := range sheetFixtures(t, folder) {
			t.Run(name, func(t *testing.T) {
				src := src
				src.Input.Columns = nil
				sameInParts(t, data, src)
			})
		}
	}
}

// A sheet with the habits of one swimmer for all: each habit shows in rows of one
// swimmer alone, and rows of others are read by it.
func TestHabitsOfASheetInParts(t *testing.T) {
	header := "swimmer,date,set,rep,length,distance_m,pool,stroke,time,strokes,rest\n"
	for name, rows := range map[string]string{
		"running times": "Ada,2026-03-02,1,1,1,,25m,freestyle,18.0,14,\nAda,2026-03-02,1,1,2,,25m,freestyle,37.0,15,\nAda,2026-03-02,1,1,3,,25m,freestyle,56.0,15,\n" +
			"Bea,2026-03-02,1,1,1,,25m,freestyle,19.0,14,\nBea,2026-03-02,1,1,2,,25m,freestyle,38.5,15,\n",
		"rests after": "Ada,2026-03-02,1,1,,100,25m,freestyle,80,60,20\nAda,2026-03-02,1,2,,100,25m,freestyle,81,60,20\nAda,2026-03-02,1,3,,100,25m,freestyle,82,60,\n" +
			"Bea,2026-03-02,1,1,,100,25m,freestyle,80,60,30\nBea,2026-03-02,1,2,,100,25m,freestyle,81,60,\n",
		"means": "Ada,2026-03-02,1,1,,200,25m,freestyle,180,16,20\nBea,2026-03-02,1,1,,50,25m,freestyle,40,18,20\n",
		"slipped rests": "Ada,2026-03-02,1,1,,100,25m,freestyle,1:20:00,60,0:20:00\nBea,2026-03-02,1,1,,100,25m,freestyle,80,60,\n" +
			"Bea,2026-03-02,1,2,,100,25m,freestyle,80,60,0:30:00\n",
		"a row of nobody between": "Ada,2026-03-02,1,1,,100,25m,freestyle,80,60,20\n,,1,,,100,25m,freestyle,80,60,\nAda,2026-03-02,1,2,,100,25m,freestyle,80,60,10\nAda,20x,1,3,,100,25m,freestyle,80,60,10\nAda,2026-03-02,1,4,,100,25m,freestyle,80,60,10\n",
		"another distance twice":  "Ada,2026-03-02,1,1,1,50,25m,freestyle,18.0,14,\nBea,2026-03-02,1,1,1,50,25m,freestyle,19.0,14,\nAda,2026-03-02,1,1,2,50,25m,freestyle,18.5,14,\n",
	} {
		t.Run(name, func(t *testing.T) {
			src := sheetSource(t)
			src.Input.Columns = nil
			for _, data := range []string{header + rows, header + rows + strings.ReplaceAll(rows, "Ada", "Cleo")} {
				sameInParts(t, []byte(data), src)
			}
			if f, _, err := Sheet([]byte(header+rows), src); err != nil || len(f.Entries) == 0 {
				t.Errorf("the rows show no habit: %v, %+v", err, f.Entries)
			}
		})
	}
}

// A text that comes in pieces has the rows of the text as a whole, wherever it is cut.
func TestScanningInPieces(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 20261127))
	cells := []string{"", "30.5", "Ada", "\"a, b\"", "\"two\nlines\"", "\"open", "say \"so\"", "\"he said \"\"no\"\"\"", " \"x\" ", "\u00e9\u00e8", strings.Repeat("w", 500), "\"" + strings.Repeat("long\n", 30) + "\"", "\"" + strings.Repeat("q", longestQuoteBytes+5) + "\""}
	for round := range 40 {
		var text strings.Builder
		for text.Len() < 120_000 {
			for range 1 + rng.IntN(6) {
				text.WriteString(cells[rng.IntN(len(cells)-min(1, round%3))])
				text.WriteString(",")
			}
			text.WriteString([]string{"\n", "\r\n", "\r", "\n\n"}[rng.IntN(4)])
		}
		whole := csvScanner{text: text.String(), comma: ','}
		left := text.String()
		pieces := csvScanner{comma: ',', more: func(atLeast int) (string, error) {
			n := min(len(left), 1+rng.IntN(30_000))
			piece := left[:n]
			left = left[n:]
			return piece, nil
		}}
		for n := 0; ; n++ {
			want, ok := whole.next()
			got, gotOK := pieces.next()
			if ok != gotOK || want.line != got.line || !slices.Equal(want.cells, got.cells) {
				t.Fatalf("round %d, row %d: %v %q, whole %v %q", round, n, gotOK, got.cells, ok, want.cells)
			}
			if !ok {
				break
			}
		}
	}
}

// How a text is written is found out alike whether it comes whole or in pieces.
func TestLongTextsInEveryForm(t *testing.T) {
	rows := "name,time,strokes\n" + strings.Repeat("Zo\u00eb,30.5,12\nB\u00e4rbel \u2013 x,31,13\n", 40_000)
	wide := func(e unicode.Endianness, p unicode.BOMPolicy) []byte {
		data, err := unicode.UTF16(e, p).NewEncoder().Bytes([]byte(rows))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	for name, data := range map[string][]byte{
		"utf-8": []byte(rows), "with a mark": []byte("\ufeff" + rows), "cut within a character": []byte(rows)[:len(rows)-17],
		"1252":   bytes.ReplaceAll(bytes.ReplaceAll(bytes.ReplaceAll([]byte(rows), []byte("\u00eb"), []byte{0xeb}), []byte("\u00e4"), []byte{0xe4}), []byte("\u2013"), []byte{0x96}),
		"utf-16": wide(unicode.LittleEndian, unicode.UseBOM), "utf-16 big": wide(unicode.BigEndian, unicode.UseBOM),
		"utf-16 unmarked": wide(unicode.LittleEndian, unicode.IgnoreBOM), "utf-16 big unmarked": wide(unicode.BigEndian, unicode.IgnoreBOM),
		"one byte wrong near the end": append([]byte(rows), 0xff, '\n'), "a mark and a wrong byte": append([]byte("\ufeff"+rows), 0xff, '\n'), "a mark alone": []byte("\ufeff"), "nothing": nil,
	} {
		t.Run(name, func(t *testing.T) {
			in, err := longInput(bytesOf(data))
			if err != nil {
				t.Fatal(err)
			}
			scan, err := in.scanner(',')
			if err != nil {
				t.Fatal(err)
			}
			whole := csvScanner{text: csvDecode(data), comma: ','}
			for n := 0; ; n++ {
				want, ok := whole.next()
				got, gotOK := scan.next()
				if ok != gotOK || want.line != got.line || !slices.Equal(want.cells, got.cells) {
					t.Fatalf("row %d: %v %q, whole %v %q", n, gotOK, got.cells, ok, want.cells)
				}
				if !ok {
					break
				}
			}
			if scan.err != nil || scan.end() != nil {
				t.Error(scan.err)
			}
		})
	}
}

// What was laid aside and has changed on the disk is an error, or reads as rows all the
// same, and never a panic or the end of a part in silence.
func TestRowsAsideThatHaveChanged(t *testing.T) {
	src := sheetSource(t)
	src.Input.Columns = nil
	in := wholeInput(sheetFixtures(t, "sheet")["testdata/sheet/lengths.csv"])
	front, err := newSheetFront(in, src)
	if err != nil {
		t.Fatal(err)
	}
	var aside []byte
	rows := 0
	err = front.run(in, func(r *sheetRow) error { aside, rows = appendRow(aside, r), rows+1; return nil }, nil)
	if err != nil || rows < 5 {
		t.Fatalf("%d rows: %v", rows, err)
	}
	read := func(data []byte) (n int, err error) {
		a := rowsAside{front: front, text: string(data)}
		for {
			_, ok, err := a.next()
			if err != nil || !ok {
				return n, err
			}
			n++
		}
	}
	if n, err := read(aside); n != rows || err != nil {
		t.Fatalf("%d of %d rows: %v", n, rows, err)
	}
	whole := 0
	for cut := range len(aside) {
		n, err := read(aside[:cut])
		if err == nil {
			whole++
		}
		if err == nil && n >= rows || err != nil && !errors.Is(err, errAside) {
			t.Fatalf("cut at %d: %d rows, %v", cut, n, err)
		}
	}
	if whole != rows { // nothing, and after each row but the last
		t.Errorf("%d cuts read as whole, want those between rows alone: %d", whole, rows)
	}
	rng := rand.New(rand.NewPCG(4, 4))
	for range 5000 {
		changed := slices.Clone(aside)
		changed[rng.IntN(len(changed))] ^= byte(1 + rng.IntN(255))
		if _, err := read(changed); err != nil && !errors.Is(err, errAside) {
			t.Fatal(err)
		}
	}
}

// A text that breaks off by a fault ends there, whatever could be read after it.
func TestFaultsEndAText(t *testing.T) {
	fault := errors.New("the disk is gone")
	calls := 0
	scan := csvScanner{comma: ',', more: func(int) (string, error) {
		if calls++; calls == 2 {
			return "", fault
		}
		return strings.Repeat("a,b,c\n", 100), nil
	}}
	for range 300 {
		if _, ok := scan.next(); ok {
			t.Fatal("a row is given before enough is there to know where it ends")
		}
	}
	if !errors.Is(scan.err, fault) || calls != 2 {
		t.Errorf("%v after %d calls", scan.err, calls)
	}
}
