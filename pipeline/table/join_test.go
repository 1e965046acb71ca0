package table

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"reflect"
	"slices"
	"testing"

	"github.com/parquet-go/parquet-go"
	"pgregory.net/rapid"

	"lengthwise/pipeline/table/internal/invent"
	"lengthwise/schemas"
)

// pieces writes rows as one file up to each of the cuts.
func pieces[T any](t testing.TB, d schemas.Description, rows []T, perGroup int64, cuts ...int) []Piece {
	t.Helper()
	var out []Piece
	from := 0
	for _, to := range cuts {
		data, digest := encode(t, d, rows[from:to], WithRowsPerGroup(perGroup))
		out = append(out, Piece{digest, data})
		from = to
	}
	return out
}

func joined(t testing.TB, all []Piece) ([]byte, Digest) {
	t.Helper()
	var b bytes.Buffer
	digest, err := Join(&b, all...)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), digest
}

// Whatever the pieces, the joined file holds their rows in order, its digest is that
// of the file read back, and every page lies where the indexes say.
func TestJoin(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 400).Draw(rt, "rows")
		perGroup := int64(rapid.SampledFrom([]int{1 << 20, 1, 7, 64, 128}).Draw(rt, "rows per group"))
		cuts := append(rapid.SliceOfN(rapid.IntRange(0, n), 0, 5).Draw(rt, "cuts"), n)
		slices.Sort(cuts)
		rows := invent.Rows[kinds](n, uint64(n)+3)
		all := pieces(t, kindsTable, rows, perGroup, cuts...)
		data, digest := joined(t, all)
		f := openBytes(t, data)
		defer f.Close()
		got, err := RowsOf[kinds](f)
		if err != nil {
			rt.Fatal(err)
		}
		if len(got) != n || n > 0 && !reflect.DeepEqual(got, rows) {
			rt.Fatalf("%d rows became others", n)
		}
		content, err := f.Content()
		if err != nil {
			rt.Fatal(err)
		}
		if err := SameContent(content, digest); err != nil {
			rt.Fatal(err)
		}
		if sum := sha256.Sum256(data); digest.SHA256 != hex.EncodeToString(sum[:]) || digest.Bytes != int64(len(data)) {
			rt.Fatal("the digest is of other bytes")
		}
		if again := openBytes(t, data); again.Name() != kindsTable.Name {
			rt.Fatalf("it is called %q", again.Name())
		}
		seekEverywhere(rt, data, rows)
	})
}

// seekEverywhere reads single rows by way of the page indexes, which reading whole
// columns does not need.
func seekEverywhere(t *rapid.T, data []byte, rows []kinds) {
	file, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	first := int64(0)
	for _, group := range file.RowGroups() {
		if index, err := group.ColumnChunks()[3].OffsetIndex(); err != nil || index.NumPages() == 0 {
			t.Fatalf("no pages in the index of a column: %v", err)
		}
		reader := parquet.NewGenericRowGroupReader[kinds](group)
		for _, at := range []int64{0, group.NumRows() / 2, group.NumRows() - 1} {
			if err := reader.SeekToRow(at); err != nil {
				t.Fatal(err)
			}
			one := make([]kinds, 1)
			if n, _ := reader.Read(one); n != 1 || !reflect.DeepEqual(one[0], rows[first+at]) {
				t.Fatalf("row %d is another one", first+at)
			}
		}
		first += group.NumRows()
		if err := reader.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

func TestJoinRefuses(t *testing.T) {
	rows := invent.Rows[kinds](20, 1)
	good := pieces(t, kindsTable, rows, 8, 20)[0]
	type other struct {
		Text string `parquet:"text" about:"a text"`
	}
	strange, digest := encode(t, schemas.Description{Name: "other", About: "a text", Keys: []string{"text"}, Row: other{}}, []other{{"a"}})
	stripped := good
	stripped.Digest.Columns = slices.Clone(good.Digest.Columns)
	for i := range stripped.Digest.Columns {
		stripped.Digest.Columns[i].groups = nil // as from run.json
	}
	for name, all := range map[string][]Piece{
		"none":                {},
		"cut short":           {{good.Digest, good.Data[:len(good.Data)-9]}},
		"no file":             {{good.Digest, []byte("nothing")}},
		"another table":       {good, {digest, strange}},
		"digest of another":   {{digest, good.Data}},
		"a digest without it": {stripped},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Join(new(bytes.Buffer), all...)
			if !errors.Is(err, ErrPieces) {
				t.Fatal(err)
			}
		})
	}
}
