package table

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"math"
)

// Digest says what a table holds and what its file is, for run.json.
type Digest struct {
	Rows    int64          `json:"rows"`
	Bytes   int64          `json:"bytes"`          // size of the file
	SHA256  string         `json:"sha256"`         // of the file's bytes, hexadecimal
	Content string         `json:"content_sha256"` // of the rows, see ColumnDigest
	Columns []ColumnDigest `json:"columns"`        // in the order on disk
}

// ColumnDigest is the canonical hash of one column. It is the SHA-256 of
//
//	"lengthwise column 1\n"
//	name, type           each as its length (uint32) and its bytes
//	nullable             one byte, 0 or 1
//	per row              one byte 0 for null, or one byte 1 and the value
//	rows                 uint64
//
// with all numbers little-endian: boolean one byte, int32 four, int64 and
// timestamp eight, double eight by its bits with -0 as +0 and every NaN as
// 0x7ff8000000000000, string its length (uint64) and its bytes. The table's
// Content is the SHA-256 of "lengthwise table 1\n", the row count (uint64) and
// the 32-byte hashes of its columns in order.
type ColumnDigest struct {
	Name     string `json:"name"`
	Type     Type   `json:"type"`
	Nullable bool   `json:"nullable"`
	Nulls    int64  `json:"nulls"`
	SHA256   string `json:"sha256"`
}

// SameContent compares two digests by what the tables hold, whatever their
// files look like. It returns nil, or an error that names the first row count,
// shape or column in which got departs from want.
func SameContent(got, want Digest) error {
	if got.Rows != want.Rows {
		return fmt.Errorf("%d rows instead of %d", got.Rows, want.Rows)
	}
	if len(got.Columns) != len(want.Columns) {
		return fmt.Errorf("%d columns instead of %d", len(got.Columns), len(want.Columns))
	}
	for i, w := range want.Columns {
		g := got.Columns[i]
		if g.Name != w.Name || g.Type != w.Type || g.Nullable != w.Nullable {
			return fmt.Errorf("column %d is %q (%s, nullable %t) instead of %q (%s, nullable %t)",
				i+1, g.Name, g.Type, g.Nullable, w.Name, w.Type, w.Nullable)
		}
		if g.Nulls != w.Nulls {
			return fmt.Errorf("column %q has %d nulls instead of %d", w.Name, g.Nulls, w.Nulls)
		}
		if g.SHA256 != w.SHA256 {
			return fmt.Errorf("column %q holds other values", w.Name)
		}
	}
	if got.Content != want.Content {
		return errors.New("the columns agree but the hashes of the tables do not: one of the digests has been altered")
	}
	return nil
}

const (
	columnHashLabel = "lengthwise column 1\n"
	tableHashLabel  = "lengthwise table 1\n"
	canonicalNaN    = 0x7ff8000000000000
)

// columnHash builds a ColumnDigest value by value.
type columnHash struct {
	column      Column
	sum         hash.Hash
	pending     []byte
	rows, nulls int64
}

func newColumnHash(c Column) *columnHash {
	h := &columnHash{column: c, sum: sha256.New(), pending: make([]byte, 0, 1<<14)}
	b := append(h.pending, columnHashLabel...)
	for _, s := range []string{c.Name, string(c.Type)} {
		b = binary.LittleEndian.AppendUint32(b, uint32(len(s)))
		b = append(b, s...)
	}
	h.pending = append(b, boolByte(c.Nullable))
	return h
}

// room empties the pending bytes into the sum before they outgrow the buffer.
func (h *columnHash) room() {
	if len(h.pending) > cap(h.pending)-16 {
		h.sum.Write(h.pending)
		h.pending = h.pending[:0]
	}
}

func (h *columnHash) null() {
	h.room()
	h.pending = append(h.pending, 0)
	h.rows++
	h.nulls++
}

func (h *columnHash) double(v float64) {
	h.room()
	bits := math.Float64bits(v)
	switch {
	case v == 0:
		bits = 0
	case v != v:
		bits = canonicalNaN
	}
	h.pending = binary.LittleEndian.AppendUint64(append(h.pending, 1), bits)
	h.rows++
}

func (h *columnHash) int64(v int64) {
	h.room()
	h.pending = binary.LittleEndian.AppendUint64(append(h.pending, 1), uint64(v))
	h.rows++
}

func (h *columnHash) int32(v int32) {
	h.room()
	h.pending = binary.LittleEndian.AppendUint32(append(h.pending, 1), uint32(v))
	h.rows++
}

func (h *columnHash) boolean(v bool) {
	h.room()
	h.pending = append(h.pending, 1, boolByte(v))
	h.rows++
}

func (h *columnHash) text(v string) {
	h.room()
	h.pending = binary.LittleEndian.AppendUint64(append(h.pending, 1), uint64(len(v)))
	if len(v) > cap(h.pending)-len(h.pending) {
		h.sum.Write(h.pending)
		h.pending = h.pending[:0]
	}
	if len(v) > cap(h.pending) {
		h.sum.Write([]byte(v))
	} else {
		h.pending = append(h.pending, v...)
	}
	h.rows++
}

// finish gives the digest and the raw hash; nothing may be added afterwards.
func (h *columnHash) finish() (ColumnDigest, []byte) {
	h.sum.Write(h.pending)
	h.sum.Write(binary.LittleEndian.AppendUint64(nil, uint64(h.rows)))
	raw := h.sum.Sum(nil)
	return ColumnDigest{
		Name: h.column.Name, Type: h.column.Type, Nullable: h.column.Nullable,
		Nulls: h.nulls, SHA256: hex.EncodeToString(raw),
	}, raw
}

// contentDigest closes the hashes of a table's columns into a digest without
// its file part.
func contentDigest(rows int64, hashes []*columnHash) Digest {
	d := Digest{Rows: rows, Columns: make([]ColumnDigest, len(hashes))}
	table := sha256.New()
	table.Write([]byte(tableHashLabel))
	table.Write(binary.LittleEndian.AppendUint64(nil, uint64(rows)))
	for i, h := range hashes {
		var raw []byte
		d.Columns[i], raw = h.finish()
		table.Write(raw)
	}
	d.Content = hex.EncodeToString(table.Sum(nil))
	return d
}

func boolByte(v bool) byte {
	if v {
		return 1
	}
	return 0
}
