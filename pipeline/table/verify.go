package table

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"

	"lengthwise/schemas"
)

// DigestFile reads a Parquet file whole and gives its digest: the file's size
// and hash, and the canonical hash of every column as its pages hold it.
func DigestFile(path string) (Digest, error) {
	f, err := Open(path)
	if err != nil {
		return Digest{}, err
	}
	defer f.Close()
	d, err := f.Content()
	if err != nil {
		return Digest{}, err
	}
	raw, err := os.Open(path)
	if err != nil {
		return Digest{}, fmt.Errorf("hashing a table: %w", err)
	}
	defer raw.Close()
	sum := sha256.New()
	if d.Bytes, err = io.Copy(sum, raw); err != nil {
		return Digest{}, fmt.Errorf("hashing a table: %s: %w", path, err)
	}
	d.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return d, nil
}

// Content reads every column and gives the digest of the rows; Bytes and
// SHA256 are empty.
func (f *File) Content() (Digest, error) {
	columns := make([]ColumnDigest, len(f.columns))
	for i, c := range f.columns {
		h := newColumnHash(c)
		for _, g := range f.groups {
			if err := hashGroup(h, g, c); err != nil {
				return Digest{}, err
			}
			h.endGroup()
		}
		columns[i] = h.finish()
	}
	var groups []int64
	for _, g := range f.groups {
		groups = append(groups, g.Rows())
	}
	return contentDigest(f.rows, groups, columns), nil
}

func hashGroup(h *columnHash, g *Group, c Column) error {
	switch c.Type {
	case Double:
		return hashValues(h, h.double)(g.Float64s(c.Name))
	case Int32:
		return hashValues(h, h.int32)(g.Int32s(c.Name))
	case Int64, Timestamp:
		return hashValues(h, h.int64)(g.Int64s(c.Name))
	case Boolean:
		return hashValues(h, h.boolean)(g.Bools(c.Name))
	case String:
		return hashValues(h, h.text)(g.Strings(c.Name))
	}
	return fmt.Errorf("column %q: no canonical hash for the type %q", c.Name, c.Type)
}

func hashValues[V Value](h *columnHash, add func(V)) func(Values[V], error) error {
	return func(values Values[V], err error) error {
		if err != nil {
			return err
		}
		for i, v := range values.V {
			if values.IsNull(i) {
				h.null()
			} else {
				add(v)
			}
		}
		return nil
	}
}

// Verify reads the file at path back, by column pages, and compares it with
// the rows that it was meant to hold, written with the same options: the table's
// schema, the row count and the canonical hash of every column. The error names
// what departs.
func Verify[T any](path string, d schemas.Description, rows []T, options ...WriterOption) error {
	want, err := ContentOf(d, rows, options...)
	if err != nil {
		return err
	}
	f, err := Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	columns, err := Describe(d)
	if err != nil {
		return err
	}
	if got, want := f.SchemaID(), SchemaID(d.Name, columns); got != want {
		return fmt.Errorf("%s: read back: schema %q instead of %q", path, got, want)
	}
	got, err := f.Content()
	if err != nil {
		return err
	}
	if err := SameContent(got, want); err != nil {
		return fmt.Errorf("%s: read back: %w", path, err)
	}
	return nil
}

// VerifyDigest reads the file at path back and compares it with the digest
// that its writer returned: every column, and the file's own bytes.
func VerifyDigest(path string, want Digest) error {
	got, err := DigestFile(path)
	if err != nil {
		return err
	}
	if err := SameContent(got, want); err != nil {
		return fmt.Errorf("%s: read back: %w", path, err)
	}
	if got.SHA256 != want.SHA256 || got.Bytes != want.Bytes {
		return fmt.Errorf("%s: read back: the same rows in other bytes (%d bytes, SHA-256 %s, instead of %d, %s)",
			path, got.Bytes, got.SHA256, want.Bytes, want.SHA256)
	}
	return nil
}
