package table

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"lengthwise/pipeline/table/internal/invent"
	"lengthwise/schemas"
)

// TestNullZeroEmpty is about the silent exchange of null and zero: every
// nullable type with nothing, its zero and another value, among required ones.
func TestNullZeroEmpty(t *testing.T) {
	rows := []kinds{
		{},
		{TextP: ptr(""), PlainP: ptr(""), FlagP: ptr(false), SmallP: ptr(int32(0)), LargeP: ptr(int64(0)), StampP: ptr(int64(0)), NumberP: ptr(0.0)},
		{Text: "a", Plain: "b", Flag: true, Small: 1, Large: 2, Stamp: 3, Number: 4,
			TextP: ptr("a"), PlainP: ptr("b"), FlagP: ptr(true), SmallP: ptr(int32(5)), LargeP: ptr(int64(6)), StampP: ptr(int64(7)), NumberP: ptr(8.5)},
		{},
	}
	path, _ := save(t, "kinds.parquet", kindsTable, rows)
	got, err := ReadRows[kinds](path)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, rows) {
		t.Errorf("read back\n%+v\ninstead of\n%+v", got, rows)
	}
	f, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, c := range f.Columns() {
		nulls, err := f.Nulls(c.Name)
		if err != nil {
			t.Fatal(err)
		}
		want := []bool{c.Nullable, false, false, c.Nullable}
		if !reflect.DeepEqual(nulls, want) {
			t.Errorf("column %s: nulls %v, want %v", c.Name, nulls, want)
		}
	}
}

// TestSizes writes tables whose sizes lie around the edges of batches, pages
// and row groups.
func TestSizes(t *testing.T) {
	type small struct {
		N int32    `parquet:"n" about:"a number"`
		S string   `parquet:"s,dict" about:"a text"`
		X *float64 `parquet:"x,optional" about:"a number or none"`
	}
	d := schemas.Description{Name: "small", About: "few columns", Keys: []string{"n"}, Row: small{}}
	make := func(n int) []small {
		rows := make([]small, n)
		for i := range rows {
			rows[i] = small{N: int32(i), S: fmt.Sprint(i % 7)}
			if i%3 != 0 {
				rows[i].X = ptr(float64(i) / 3)
			}
		}
		return rows
	}
	for _, c := range []struct{ rows, perGroup, groups int }{
		{0, RowsPerGroup, 0}, {1, RowsPerGroup, 1}, {2, RowsPerGroup, 1},
		{63, 64, 1}, {64, 64, 1}, {65, 64, 2}, {128, 64, 2}, {129, 64, 3},
		{batchRows - 1, 100, 11}, {batchRows, 100, 11}, {batchRows + 1, 1000, 2}, {3, 1, 3},
		{RowsPerGroup - 1, RowsPerGroup, 1}, {RowsPerGroup, RowsPerGroup, 1}, {RowsPerGroup + 1, RowsPerGroup, 2},
	} {
		rows := make(c.rows)
		path, digest := save(t, "small.parquet", d, rows, WithRowsPerGroup(int64(c.perGroup)))
		f, err := Open(path)
		if err != nil {
			t.Fatalf("%+v: %v", c, err)
		}
		if f.Rows() != int64(c.rows) || len(f.Groups()) != c.groups || len(f.Columns()) != 3 {
			t.Errorf("%+v: %d rows in %d groups of %d columns", c, f.Rows(), len(f.Groups()), len(f.Columns()))
		}
		next := int64(0)
		for _, g := range f.Groups() {
			if g.First() != next || g.Rows() > int64(c.perGroup) {
				t.Errorf("%+v: a group of %d rows starts at %d instead of %d", c, g.Rows(), g.First(), next)
			}
			next += g.Rows()
		}
		f.Close()
		got, err := ReadRows[small](path)
		if err != nil || !reflect.DeepEqual(got, rows) {
			t.Errorf("%+v: rows differ (%v)", c, err)
		}
		if err := Verify(path, d, rows, WithRowsPerGroup(int64(c.perGroup))); err != nil {
			t.Errorf("%+v: %v", c, err)
		}
		if err := VerifyDigest(path, digest); err != nil {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// TestSameBytes writes the same rows again and again, whole and cut.
func TestSameBytes(t *testing.T) {
	rows := invent.Rows[kinds](5000, 7)
	want, digest := encode(t, kindsTable, rows, WithRowsPerGroup(3000))
	sum := sha256.Sum256(want)
	if digest.SHA256 != hex.EncodeToString(sum[:]) || digest.Bytes != int64(len(want)) || digest.Rows != 5000 {
		t.Errorf("the digest %+v is not that of the %d bytes", digest, len(want))
	}
	for _, cut := range []int{1, 7, 63, 64, 1000, batchRows, batchRows + 1, 5000} {
		var b bytes.Buffer
		w, err := NewWriter[kinds](&b, kindsTable, WithRowsPerGroup(3000))
		if err != nil {
			t.Fatal(err)
		}
		for at := 0; at < len(rows); at += cut {
			if err := w.Write(rows[at:min(at+cut, len(rows))]); err != nil {
				t.Fatal(err)
			}
		}
		got, err := w.Close()
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b.Bytes(), want) {
			t.Errorf("cut into %d rows: other bytes", cut)
		}
		if !reflect.DeepEqual(got, digest) {
			t.Errorf("cut into %d rows: another digest", cut)
		}
	}
	for range 20 { // pooled buffers of the library must not leak into a file
		encode(t, kindsTable, invent.Rows[kinds](300, 8))
		if again, _ := encode(t, kindsTable, rows, WithRowsPerGroup(3000)); !bytes.Equal(again, want) {
			t.Fatal("other bytes on another day")
		}
	}
}

// TestContentOnly shows that the canonical hashes do not depend on encodings and
// compression, and that they tell of other row groups as such.
func TestContentOnly(t *testing.T) {
	rows := invent.Rows[kinds](500, 3)
	_, want := encode(t, kindsTable, rows, WithRowsPerGroup(170))
	var b bytes.Buffer
	plain := parquet.NewGenericWriter[kinds](&b, parquet.Compression(&parquet.Snappy), parquet.DataPageVersion(1), parquet.MaxRowsPerRowGroup(170))
	if _, err := plain.Write(rows); err != nil {
		t.Fatal(err)
	}
	if err := plain.Close(); err != nil {
		t.Fatal(err)
	}
	got, err := openBytes(t, b.Bytes()).Content()
	if err != nil {
		t.Fatal(err)
	}
	if err := SameContent(got, want); err != nil {
		t.Error(err)
	}
	alone, err := ContentOf(kindsTable, rows, WithRowsPerGroup(170))
	if err != nil {
		t.Fatal(err)
	}
	if err := SameContent(alone, want); err != nil {
		t.Error(err)
	}
	otherwise, err := ContentOf(kindsTable, rows)
	if err != nil {
		t.Fatal(err)
	}
	wantError(t, SameContent(otherwise, want), "1 row groups, cut otherwise than the 3")
}

func TestRefusedValues(t *testing.T) {
	good := kinds{Text: "ann", Small: 3}
	for name, c := range map[string]struct {
		spoil  func(*kinds)
		column string
	}{
		"NaN":               {func(k *kinds) { k.Number = math.NaN() }, "number"},
		"+Inf":              {func(k *kinds) { k.Number = math.Inf(1) }, "number"},
		"-Inf":              {func(k *kinds) { k.NumberP = ptr(math.Inf(-1)) }, "number_p"},
		"NaN in a pointer":  {func(k *kinds) { k.NumberP = ptr(math.NaN()) }, "number_p"},
		"text":              {func(k *kinds) { k.Text = "\xff" }, "text"},
		"text in a pointer": {func(k *kinds) { k.PlainP = ptr("a\xc3") }, "plain_p"},
	} {
		for _, at := range []int{0, 5, batchRows + 10, 3 * batchRows} {
			rows := make([]kinds, at+1+at/2) // refused by Write, or by Close for what was still held
			for i := range rows {
				rows[i] = good
			}
			c.spoil(&rows[at])
			var b bytes.Buffer
			w, err := NewWriter[kinds](&b, kindsTable)
			if err != nil {
				t.Fatal(err)
			}
			err = w.Write(rows)
			_, closed := w.Close()
			if err == nil {
				err = closed
			}
			e := asError[*ValueError](t, err)
			if e.Table != "kinds" || e.Column != c.column || e.Row != int64(at)+1 || e.Key != "text "+rows[at].Text+", small 3" {
				t.Errorf("%s at %d: %+v", name, at, e)
			}
			if closed == nil {
				t.Errorf("%s at %d: closed as if nothing had happened", name, at)
			}
			if _, err := OpenReaderAt(bytes.NewReader(b.Bytes()), int64(b.Len()), "m"); err == nil {
				t.Errorf("%s at %d: left a valid file", name, at)
			}
			if _, err := ContentOf(kindsTable, rows); err == nil {
				t.Errorf("%s at %d: ContentOf took it", name, at)
			}
		}
	}
}

func TestWriterMisuse(t *testing.T) {
	if _, err := NewWriter[struct{}](&bytes.Buffer{}, kindsTable); err == nil {
		t.Error("rows of another struct taken")
	}
	if _, err := NewWriter[kinds](&bytes.Buffer{}, kindsTable, WithRowsPerGroup(0)); err == nil {
		t.Error("row groups of no rows taken")
	}
	w, err := NewWriter[kinds](&bytes.Buffer{}, kindsTable)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Close(); err != nil {
		t.Fatal(err)
	}
	wantError(t, w.Write(make([]kinds, 1)), "after it was closed")
	_, err = w.Close()
	wantError(t, err, "closed twice")
}

// TestFullDisk breaks the output after some bytes.
func TestFullDisk(t *testing.T) {
	rows := invent.Rows[kinds](3000, 1)
	whole, _ := encode(t, kindsTable, rows)
	for _, room := range []int{0, 3, 100, len(whole) / 2, len(whole) - 1} {
		_, err := Write(&fullDisk{room: room}, kindsTable, rows)
		if !errors.Is(err, errFull) {
			t.Errorf("with room for %d of %d bytes: %v", room, len(whole), err)
		}
	}
	if _, err := Write(&fullDisk{room: len(whole)}, kindsTable, rows); err != nil {
		t.Errorf("with room enough: %v", err)
	}
}

var errFull = errors.New("no space left")

type fullDisk struct{ room int }

func (d *fullDisk) Write(p []byte) (int, error) {
	n := min(len(p), d.room)
	d.room -= n
	if n < len(p) {
		return n, errFull
	}
	return n, nil
}

func TestMetadata(t *testing.T) {
	b, _ := encode(t, kindsTable, invent.Rows[kinds](10, 1))
	raw, err := parquet.OpenFile(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	if got := raw.Metadata().CreatedBy; got != "lengthwise version 1(build table)" {
		t.Errorf("created by %q", got)
	}
	if len(raw.Metadata().KeyValueMetadata) != 4 {
		t.Errorf("metadata %v", raw.Metadata().KeyValueMetadata)
	}
	for _, chunk := range raw.Metadata().RowGroups[0].Columns {
		if chunk.MetaData.Codec.String() != "ZSTD" {
			t.Errorf("column %v: codec %v", chunk.MetaData.PathInSchema, chunk.MetaData.Codec)
		}
	}
	f := openBytes(t, b)
	columns, err := Describe(kindsTable)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(f.Columns(), columns) {
		t.Errorf("columns read back as\n%+v\ninstead of\n%+v", f.Columns(), columns)
	}
	if f.Name() != "kinds" || f.About() != "one row a kind" || f.SchemaID() != SchemaID("kinds", columns) {
		t.Errorf("name %q, about %q, schema %q", f.Name(), f.About(), f.SchemaID())
	}
	if !strings.HasPrefix(f.SchemaID(), "lengthwise/kinds/") {
		t.Errorf("schema %q", f.SchemaID())
	}
}

func firstNull(rows []kinds) int {
	return slices.IndexFunc(rows, func(k kinds) bool { return k.NumberP == nil })
}

// TestVerifyNotices alters files and rows in ways that Verify must see.
func TestVerifyNotices(t *testing.T) {
	rows := invent.Rows[kinds](200, 5)
	path, digest := save(t, "kinds.parquet", kindsTable, rows)
	for name, spoil := range map[string]func([]kinds) []kinds{
		"a row less":       func(r []kinds) []kinds { return r[1:] },
		"rows exchanged":   func(r []kinds) []kinds { r[0].Large, r[1].Large = -77, -78; return r },
		"zero for null":    func(r []kinds) []kinds { r[firstNull(r)].NumberP = ptr(0.0); return r },
		"one bit":          func(r []kinds) []kinds { r[9].Number = math.Nextafter(r[9].Number, 1e9); return r },
		"a flag":           func(r []kinds) []kinds { r[9].Flag = !r[9].Flag; return r },
		"a letter of text": func(r []kinds) []kinds { r[9].Plain += "."; return r },
	} {
		if err := Verify(path, kindsTable, spoil(append([]kinds(nil), rows...))); err == nil {
			t.Errorf("%s: not noticed", name)
		}
	}
	other := kindsTable
	other.Name = "others"
	wantError(t, Verify(path, other, rows), "schema")

	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	missed := 0
	for at := 4; at < len(b); at += 97 { // a byte of the file turned over
		spoilt := bytes.Clone(b)
		spoilt[at] ^= 0x10
		if err := os.WriteFile(path, spoilt, 0o644); err != nil {
			t.Fatal(err)
		}
		if VerifyDigest(path, digest) == nil {
			missed++
		}
	}
	if missed > 0 {
		t.Errorf("%d damaged files passed", missed)
	}
}
