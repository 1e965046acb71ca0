package table

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"math"
	"slices"
)

// Digest says what a table holds and what its file is, for run.json.
type Digest struct {
	Rows    int64          `json:"rows"`
	Bytes   int64          `json:"bytes"`          // size of the file
	SHA256  string         `json:"sha256"`         // of the file's bytes, hexadecimal
	Content string         `json:"content_sha256"` // of the rows, see ColumnDigest
	Groups  []int64        `json:"row_groups"`     // rows of each row group
	Columns []ColumnDigest `json:"columns"`        // in the order on disk
}

// ColumnDigest is the canonical hash of one column. It is the SHA-256 of
//
//	"lengthwise column 2\n"
//	name, type           each as its length (uint32) and its bytes
//	nullable             one byte, 0 or 1
//	per row group        the 32-byte hash of its values
//	rows                 uint64
//
// and the hash of a row group's values the SHA-256 of
//
//	per row              one byte 0 for null, or one byte 1 and the value
//	rows                 uint64
//
// so that files can be joined by row groups (see [Join]) without hashing their
// values again. All numbers are little-endian: boolean one byte, int32 four, int64 and
// timestamp eight, double eight by its bits with -0 as +0 and every NaN as
// 0x7ff8000000000000, string its length (uint64) and its bytes. The table's
// Content is the SHA-256 of "lengthwise table 2\n", the row count (uint64) and
// the 32-byte hashes of its columns in order.
type ColumnDigest struct {
	Name     string `json:"name"`
	Type     Type   `json:"type"`
	Nullable bool   `json:"nullable"`
	Nulls    int64  `json:"nulls"`
	SHA256   string `json:"sha256"`

	groups [][sha256.Size]byte // of the digest of a writer: what Join needs
}

// SameContent compares two digests by what the tables hold, row group by row
// group, whatever else their files look like. It returns nil, or an error that names the first row count,
// shape or column in which got departs from want.
func SameContent(got, want Digest) error {
	if got.Rows != want.Rows {
		return fmt.Errorf("%d rows instead of %d", got.Rows, want.Rows)
	}
	if len(got.Columns) != len(want.Columns) {
		return fmt.Errorf("%d columns instead of %d", len(got.Columns), len(want.Columns))
	}
	if !slices.Equal(got.Groups, want.Groups) {
		return fmt.Errorf("%d row groups, cut otherwise than the %d that there should be", len(got.Groups), len(want.Groups))
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
	columnHashLabel = "lengthwise column 2\n"
	tableHashLabel  = "lengthwise table 2\n"
	canonicalNaN    = 0x7ff8000000000000
)

// columnHash builds a ColumnDigest value by value.
type columnHash struct {
	column      Column
	sum         hash.Hash // of the row group's values
	pending     []byte
	rows, nulls int64
	grouped     int64 // rows in groups that have ended
	groups      [][sha256.Size]byte
}

func newColumnHash(c Column) *columnHash {
	return &columnHash{column: c, sum: sha256.New(), pending: make([]byte, 0, 1<<14)}
}

// endGroup ends a row group; one without rows is none.
func (h *columnHash) endGroup() {
	rows := h.rows - h.grouped
	if rows == 0 {
		return
	}
	h.sum.Write(h.pending)
	h.sum.Write(binary.LittleEndian.AppendUint64(nil, uint64(rows)))
	h.groups = append(h.groups, [sha256.Size]byte(h.sum.Sum(nil)))
	h.sum.Reset()
	h.pending, h.grouped = h.pending[:0], h.rows
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

// finish ends the last group and gives the digest; nothing may be added afterwards.
func (h *columnHash) finish() ColumnDigest {
	h.endGroup()
	return columnDigest(h.column, h.rows, h.nulls, h.groups)
}

func columnDigest(c Column, rows, nulls int64, groups [][sha256.Size]byte) ColumnDigest {
	b := []byte(columnHashLabel)
	for _, s := range []string{c.Name, string(c.Type)} {
		b = binary.LittleEndian.AppendUint32(b, uint32(len(s)))
		b = append(b, s...)
	}
	b = append(b, boolByte(c.Nullable))
	for _, g := range groups {
		b = append(b, g[:]...)
	}
	sum := sha256.Sum256(binary.LittleEndian.AppendUint64(b, uint64(rows)))
	return ColumnDigest{Name: c.Name, Type: c.Type, Nullable: c.Nullable, Nulls: nulls, SHA256: hex.EncodeToString(sum[:]), groups: groups}
}

// contentDigest closes the digests of a table's columns into one without its file
// part.
func contentDigest(rows int64, groups []int64, columns []ColumnDigest) Digest {
	d := Digest{Rows: rows, Groups: groups, Columns: columns}
	table := sha256.New()
	table.Write([]byte(tableHashLabel))
	table.Write(binary.LittleEndian.AppendUint64(nil, uint64(rows)))
	for _, c := range columns {
		raw, _ := hex.DecodeString(c.SHA256) // it was made by EncodeToString
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
