package resample

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"math"
	"slices"
)

// A Part is one ingredient of a seed: [Number], [Text], [Floats], [Integers]
// or [Rows].
type Part interface {
	// appendTo appends the part to the bytes to be hashed, opened by a byte
	// for its kind and by its length, so that no two different lists of parts
	// give the same bytes.
	appendTo(b []byte) []byte
}

// Number is a whole number as an ingredient of a seed.
type Number uint64

// Text is a string as an ingredient of a seed.
type Text string

// Floats is a column of numbers as an ingredient of a seed. Order matters.
// Negative zero counts as zero and every NaN as the same NaN.
type Floats []float64

// Integers is a column of whole numbers as an ingredient of a seed. Order
// matters.
type Integers []int

// Rows is a table, column by column, as an ingredient of a seed. The order of
// its rows does not matter, the order of its columns does. Columns shorter
// than the longest are read as if filled up with NaN.
type Rows [][]float64

// Seed hashes the parts to 64 bits.
//
// The value is the first eight bytes, read as a big-endian number, of the
// SHA-256 digest (FIPS 180-4) of the parts. Each part is fed as a byte for
// its kind ('n', 't', 'f', 'i', 'r'), its length as eight little-endian
// bytes, and its content: numbers as eight little-endian bytes (IEEE 754
// binary64 bits for floats), text as its bytes, rows sorted bytewise after the
// number of columns. The value is therefore the same
// on every platform and in every release.
func Seed(parts ...Part) uint64 {
	var b []byte
	for _, p := range parts {
		b = p.appendTo(b)
	}
	sum := sha256.Sum256(b)
	return binary.BigEndian.Uint64(sum[:8])
}

// SeedOf derives the seed of one question about one set of data from the seed
// of the study, as [Seed] of Number(study), Text(question) and each column as
// [Floats].
//
// Columns are hashed in the order of their rows: give them in an order that
// means something (time), not in the order of labels. Where rows have no such
// order use [Seed] with [Rows].
func SeedOf(study uint64, question string, data ...[]float64) uint64 {
	parts := make([]Part, 0, 2+len(data))
	parts = append(parts, Number(study), Text(question))
	for _, column := range data {
		parts = append(parts, Floats(column))
	}
	return Seed(parts...)
}

func (n Number) appendTo(b []byte) []byte {
	return word(open(b, 'n', 1), uint64(n))
}

func (t Text) appendTo(b []byte) []byte {
	return append(open(b, 't', len(t)), t...)
}

func (f Floats) appendTo(b []byte) []byte {
	b = open(slices.Grow(b, 9+8*len(f)), 'f', len(f))
	for _, v := range f {
		b = word(b, canonicalBits(v))
	}
	return b
}

func (n Integers) appendTo(b []byte) []byte {
	b = open(slices.Grow(b, 9+8*len(n)), 'i', len(n))
	for _, v := range n {
		b = word(b, uint64(int64(v)))
	}
	return b
}

func (r Rows) appendTo(b []byte) []byte {
	longest := 0
	for _, column := range r {
		longest = max(longest, len(column))
	}
	rows := make([][]byte, longest)
	for i := range rows {
		row := make([]byte, 0, 8*len(r))
		for _, column := range r {
			v := math.NaN()
			if i < len(column) {
				v = column[i]
			}
			row = word(row, canonicalBits(v))
		}
		rows[i] = row
	}
	slices.SortFunc(rows, bytes.Compare)
	b = word(open(b, 'r', longest), uint64(len(r)))
	for _, row := range rows {
		b = append(b, row...)
	}
	return b
}

func open(b []byte, kind byte, length int) []byte {
	return word(append(b, kind), uint64(length))
}

func word(b []byte, v uint64) []byte {
	return binary.LittleEndian.AppendUint64(b, v)
}

// canonicalBits gives equal numbers equal bits.
func canonicalBits(v float64) uint64 {
	switch {
	case v == 0:
		return 0
	case v != v:
		return 0x7ff8000000000001 // math.NaN()
	}
	return math.Float64bits(v)
}
