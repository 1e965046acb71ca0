package table

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"sync"
	"testing"

	"github.com/parquet-go/parquet-go"
	"pgregory.net/rapid"

	"lengthwise/pipeline/table/internal/invent"
	"lengthwise/schemas"
)

// TestPropertyRoundTrip writes drawn rows, with drawn sizes of row groups and
// writes, and reads them back by columns and as rows.
func TestPropertyRoundTrip(t *testing.T) {
	text := rapid.StringOfN(rapid.Rune(), 0, 8, -1)
	number := rapid.Float64Range(-1e300, 1e300)
	row := rapid.Custom(func(t *rapid.T) kinds {
		return kinds{
			Text: text.Draw(t, "text"), Plain: text.Draw(t, "plain"), Flag: rapid.Bool().Draw(t, "flag"),
			Small: rapid.Int32().Draw(t, "small"), Large: rapid.Int64().Draw(t, "large"),
			Stamp: rapid.Int64().Draw(t, "stamp"), Number: number.Draw(t, "number"),
			TextP: rapid.Ptr(text, true).Draw(t, "text_p"), PlainP: rapid.Ptr(text, true).Draw(t, "plain_p"),
			FlagP: rapid.Ptr(rapid.Bool(), true).Draw(t, "flag_p"), SmallP: rapid.Ptr(rapid.Int32(), true).Draw(t, "small_p"),
			LargeP: rapid.Ptr(rapid.Int64(), true).Draw(t, "large_p"), StampP: rapid.Ptr(rapid.Int64(), true).Draw(t, "stamp_p"),
			NumberP: rapid.Ptr(number, true).Draw(t, "number_p"),
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		// Repeating a few drawn rows gives awkward sizes at little cost.
		drawn := rapid.SliceOfN(row, 0, 6).Draw(t, "rows")
		rows := []kinds{}
		for range rapid.IntRange(1, 40).Draw(t, "times") {
			rows = append(rows, drawn...)
		}
		var b bytes.Buffer
		w, err := NewWriter[kinds](&b, kindsTable, WithRowsPerGroup(rapid.Int64Range(1, 100).Draw(t, "per group")))
		if err != nil {
			t.Fatal(err)
		}
		cut := rapid.IntRange(1, 100).Draw(t, "cut")
		for part := range slices.Chunk(rows, cut) {
			if err := w.Write(part); err != nil {
				t.Fatal(err)
			}
		}
		digest, err := w.Close()
		if err != nil {
			t.Fatal(err)
		}
		f, err := OpenReaderAt(bytes.NewReader(b.Bytes()), int64(b.Len()), "memory")
		if err != nil {
			t.Fatal(err)
		}
		got, err := RowsOf[kinds](f)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, rows) {
			t.Fatalf("read back\n%+v\ninstead of\n%+v", got, rows)
		}
		content, err := f.Content()
		if err != nil {
			t.Fatal(err)
		}
		if err := SameContent(content, digest); err != nil {
			t.Fatal(err)
		}
	})
}

// TestAgainstRowReader compares with the library's own reader of rows.
func TestAgainstRowReader(t *testing.T) {
	rows := invent.Rows[kinds](3000, 11)
	b, _ := encode(t, kindsTable, rows, WithRowsPerGroup(700))
	want, err := parquet.Read[kinds](bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	got, err := RowsOf[kinds](openBytes(t, b))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(got, rows) {
		t.Error("the two readers differ")
	}
}

// TestColumns reads each column in its type, whole and by groups.
func TestColumns(t *testing.T) {
	rows := invent.Rows[kinds](250, 2)
	b, _ := encode(t, kindsTable, rows, WithRowsPerGroup(100))
	f := openBytes(t, b)
	small, err := f.Int64s("small_p") // widened
	if err != nil {
		t.Fatal(err)
	}
	wide, err := f.Float64s("small_p")
	if err != nil {
		t.Fatal(err)
	}
	text, err := f.Strings("text_p")
	if err != nil {
		t.Fatal(err)
	}
	if small.Len() != 250 || wide.Len() != 250 || text.Len() != 250 {
		t.Fatalf("%d, %d and %d rows", small.Len(), wide.Len(), text.Len())
	}
	nulls := int64(0)
	for i, r := range rows {
		if small.IsNull(i) != (r.SmallP == nil) || wide.IsNull(i) != (r.SmallP == nil) || text.IsNull(i) != (r.TextP == nil) {
			t.Fatalf("row %d: nulls differ", i)
		}
		if r.SmallP != nil && (small.V[i] != int64(*r.SmallP) || wide.V[i] != float64(*r.SmallP)) {
			t.Fatalf("row %d: %d and %v instead of %d", i, small.V[i], wide.V[i], *r.SmallP)
		}
		if r.TextP == nil {
			nulls++
		} else if text.V[i] != *r.TextP {
			t.Fatalf("row %d: %q", i, text.V[i])
		}
	}
	if text.Nulls() != nulls || nulls == 0 {
		t.Errorf("%d nulls instead of %d", text.Nulls(), nulls)
	}
	last := f.Groups()[2]
	stamps, err := last.Int64s("stamp")
	if err != nil {
		t.Fatal(err)
	}
	if last.First() != 200 || stamps.Len() != 50 || stamps.V[49] != rows[249].Stamp || stamps.Nulls() != 0 {
		t.Errorf("last group starts at %d with %d stamps", last.First(), stamps.Len())
	}
	flags, err := f.Bools("flag")
	if err != nil || flags.V[249] != rows[249].Flag || flags.Null != nil {
		t.Errorf("flags: %v", err)
	}
}

// TestNullsInPlaces has nulls on some pages, and in some row groups, only: the
// column is nullable, and most of it is whole.
func TestNullsInPlaces(t *testing.T) {
	type sparse struct {
		X *float64 `parquet:"x,optional" about:"a number or none"`
	}
	d := schemas.Description{Name: "sparse", About: "x", Row: sparse{}}
	const n = 90_000 // three pages
	for _, null := range [][]int{{}, {0}, {10}, {n / 2}, {n - 1}, {10, n / 2}, {0, n - 1}} {
		rows := make([]sparse, n)
		for i := range rows {
			if !slices.Contains(null, i) {
				rows[i].X = ptr(float64(i) + 0.5)
			}
		}
		for _, perGroup := range []int64{n, n / 3, n / 4} {
			b, _ := encode(t, d, rows, WithRowsPerGroup(perGroup))
			x, err := openBytes(t, b).Float64s("x")
			if err != nil || x.Len() != n || x.Null != nil && len(x.Null) != n || x.Nulls() != int64(len(null)) || (x.Null == nil) != (len(null) == 0) {
				t.Fatalf("nulls at %v, groups of %d: %d values, %d null flags, %d nulls (%v)", null, perGroup, x.Len(), len(x.Null), x.Nulls(), err)
			}
			for i, v := range x.V {
				want := float64(i) + 0.5
				if x.IsNull(i) {
					want = 0
				}
				if v != want || x.IsNull(i) != slices.Contains(null, i) {
					t.Fatalf("nulls at %v, groups of %d: row %d is %v, null %t", null, perGroup, i, v, x.IsNull(i))
				}
			}
		}
	}
}

// TestCutShort opens files without their end, and with a footer that claims
// more than the file holds.
func TestCutShort(t *testing.T) {
	whole, _ := encode(t, kindsTable, invent.Rows[kinds](50, 1))
	for n := range len(whole) {
		if _, err := OpenReaderAt(bytes.NewReader(whole[:n]), int64(n), "cut.parquet"); err == nil {
			t.Fatalf("%d of %d bytes opened", n, len(whole))
		}
	}
	for _, claim := range []uint32{uint32(len(whole)) - 11, uint32(len(whole)), 1 << 31, 1<<32 - 1} {
		b := bytes.Clone(whole)
		binary.LittleEndian.PutUint32(b[len(b)-8:], claim)
		_, err := OpenReaderAt(bytes.NewReader(b), int64(len(b)), "cut.parquet")
		wantError(t, err, "cut.parquet", "cut short or damaged", fmt.Sprint(claim))
	}
}

func TestWrongColumns(t *testing.T) {
	full, _ := encode(t, kindsTable, make([]kinds, 3))
	empty, _ := encode(t, kindsTable, []kinds{})
	for name, b := range map[string][]byte{"rows": full, "no rows": empty} {
		f := openBytes(t, b)
		_, err := f.Float64s("numbre")
		wantError(t, err, `"kinds" has no column "numbre"`, "number_p")
		_, err = f.Float64s("text")
		wantError(t, err, `"text" is of type string`, "double")
		_, err = f.Float64s("large")
		wantError(t, err, "int64")
		_, err = f.Int64s("number")
		wantError(t, err, "double")
		_, err = f.Bools("small")
		wantError(t, err, "int32")
		_, err = f.Strings("flag")
		wantError(t, err, "boolean")
		_, err = f.Int32s("large")
		wantError(t, err, "int64")
		_, err = f.Nulls("nothing")
		wantError(t, err, "no column")
		_, err = RowsOf[struct {
			N int32 `parquet:"number"`
		}](f)
		wantError(t, err, "double", "int32")
		_, err = RowsOf[struct {
			N *float64 `parquet:"number,optional"`
		}](f)
		wantError(t, err, "nullable false", "nullable true")
		some, err := RowsOf[struct {
			N float64 `parquet:"number"`
		}](f)
		if err != nil || int64(len(some)) != f.Rows() {
			t.Errorf("%s: a few columns: %v", name, err)
		}
	}
}

// TestParts reads several files as one table.
func TestParts(t *testing.T) {
	dir := t.TempDir()
	var want []kinds
	for i, n := range []int{5, 0, 7} {
		rows := invent.Rows[kinds](n, uint64(i))
		want = append(want, rows...)
		b, _ := encode(t, kindsTable, rows, WithRowsPerGroup(4))
		path := filepath.Join(dir, BucketFile("kinds", []int{63, 7, 8}[i]))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want = append(want[5:], want[:5]...) // bucket 63 comes last
	f, err := OpenTable(dir, "kinds")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	got, err := RowsOf[kinds](f)
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("rows of the parts differ (%v)", err)
	}
	_, err = OpenTable(dir, "other")
	if !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("absent table: %v", err)
	}
	type other struct {
		A string `parquet:"a" about:"x"`
	}
	b, _ := encode(t, schemas.Description{Name: "kinds", About: "x", Row: other{}}, []other{{"x"}})
	if err := os.WriteFile(filepath.Join(dir, BucketFile("kinds", 9)), b, 0o644); err != nil {
		t.Fatal(err)
	}
	_, err = OpenTable(dir, "kinds")
	if !errors.Is(err, ErrShape) {
		t.Errorf("a part of another shape: %v", err)
	}
	if _, err := Open(); err == nil {
		t.Error("opened nothing")
	}
}

// TestForeignShapes opens Parquet files that are no tables of this kind.
func TestForeignShapes(t *testing.T) {
	write := func(row any) []byte {
		var b bytes.Buffer
		w := parquet.NewWriter(&b, parquet.SchemaOf(row))
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	for name, row := range map[string]any{
		"list":    struct{ A []int32 }{},
		"nested":  struct{ A struct{ B int32 } }{},
		"float32": struct{ A float32 }{},
		"uint32":  struct{ A uint32 }{},
		"bytes":   struct{ A []byte }{},
		"microseconds": struct {
			A int64 `parquet:",timestamp(microsecond)"`
		}{},
		"local time": struct {
			A int64 `parquet:",timestamp(millisecond:local)"`
		}{},
		"date": struct {
			A int32 `parquet:",date"`
		}{},
	} {
		b := write(row)
		_, err := OpenReaderAt(bytes.NewReader(b), int64(len(b)), "f")
		if !errors.Is(err, ErrShape) {
			t.Errorf("%s: %v", name, err)
		}
	}
	b := write(struct {
		A int64
		B string
		C *float64
	}{}) // not ours, but of the right shape
	f, err := OpenReaderAt(bytes.NewReader(b), int64(len(b)), "f")
	if err != nil || f.Name() != "" || len(f.Columns()) != 3 || !f.Columns()[2].Nullable {
		t.Errorf("plain file: %v", err)
	}
}

func TestSharedFile(t *testing.T) {
	rows := invent.Rows[kinds](2000, 4)
	path, digest := save(t, "kinds.parquet", kindsTable, rows, WithRowsPerGroup(300))
	f, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			content, err := f.Content()
			if err != nil {
				t.Error(err)
			} else if err := SameContent(content, digest); err != nil {
				t.Error(err)
			}
		})
	}
	wait.Wait()
}

func FuzzOpen(f *testing.F) {
	whole, _ := encode(f, kindsTable, invent.Rows[kinds](40, 9), WithRowsPerGroup(15))
	empty, _ := encode(f, kindsTable, []kinds{})
	f.Add(whole)
	f.Add(empty)
	f.Add([]byte("PAR1PAR1"))
	f.Fuzz(func(t *testing.T, b []byte) {
		file, err := OpenReaderAt(bytes.NewReader(b), int64(len(b)), "fuzz")
		if err != nil || file.Rows() > 1<<20 { // a row count is not proof of rows
			return
		}
		for _, c := range file.Columns() {
			nulls, errNulls := file.Nulls(c.Name)
			if errNulls == nil && int64(len(nulls)) != file.Rows() {
				t.Errorf("column %s: %d nulls for %d rows", c.Name, len(nulls), file.Rows())
			}
		}
		if d, err := file.Content(); err == nil && d.Rows != file.Rows() {
			t.Errorf("%d rows instead of %d", d.Rows, file.Rows())
		}
	})
}
