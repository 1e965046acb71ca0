package table

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"lengthwise/schemas"
)

// kinds has a column of every type, required and nullable.
type kinds struct {
	Text    string   `parquet:"text,dict" about:"text with a dictionary"`
	Plain   string   `parquet:"plain" about:"text without"`
	Flag    bool     `parquet:"flag" about:"a truth value"`
	Small   int32    `parquet:"small" unit:"1" about:"a small whole number"`
	Large   int64    `parquet:"large,delta" about:"a large whole number"`
	Stamp   int64    `parquet:"stamp,timestamp(millisecond)" about:"a time"`
	Number  float64  `parquet:"number" unit:"m" about:"a number"`
	TextP   *string  `parquet:"text_p,optional,dict" about:"text with a dictionary, or none"`
	PlainP  *string  `parquet:"plain_p,optional" about:"text, or none"`
	FlagP   *bool    `parquet:"flag_p,optional" about:"a truth value, or none"`
	SmallP  *int32   `parquet:"small_p,optional" unit:"1" about:"a small whole number, or none"`
	LargeP  *int64   `parquet:"large_p,optional" about:"a large whole number, or none"`
	StampP  *int64   `parquet:"stamp_p,optional,timestamp(millisecond)" about:"a time, or none"`
	NumberP *float64 `parquet:"number_p,optional" unit:"s" about:"a number, or none"`
}

var kindsTable = schemas.Description{Name: "kinds", About: "one row a kind", Keys: []string{"text", "small"}, Row: kinds{}}

// encode writes rows into memory.
func encode[T any](t testing.TB, d schemas.Description, rows []T, options ...WriterOption) ([]byte, Digest) {
	t.Helper()
	var b bytes.Buffer
	digest, err := Write(&b, d, rows, options...)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), digest
}

func openBytes(t testing.TB, b []byte) *File {
	t.Helper()
	f, err := OpenReaderAt(bytes.NewReader(b), int64(len(b)), "memory")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// save writes rows into a file of a test's folder.
func save[T any](t testing.TB, name string, d schemas.Description, rows []T, options ...WriterOption) (string, Digest) {
	t.Helper()
	b, digest := encode(t, d, rows, options...)
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return path, digest
}

// wantError fails unless err is there and holds every piece.
func wantError(t testing.TB, err error, pieces ...string) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error; want one with %q", pieces)
	}
	for _, piece := range pieces {
		if !bytes.Contains([]byte(err.Error()), []byte(piece)) {
			t.Errorf("error %q lacks %q", err, piece)
		}
	}
}

func asError[E error](t testing.TB, err error) E {
	t.Helper()
	var e E
	if !errors.As(err, &e) {
		t.Fatalf("error %v (%T) is no %T", err, err, e)
	}
	return e
}

func ptr[V any](v V) *V { return &v }
